package calc

import (
	"context"
	"math"
	"slices"
	"strings"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// caseRun is a case sheet about to be run.
type caseRun struct {
	*differentiated // nil until it is known with whom it is shared
	sheet           *caseSheet
	seeds           map[tape.Register]tape.Register
	changed         []bool // by register of the model: it differs from case to case
	judged          []*judgedColumn
	judgements      []judgement
}

// caseRun prepares to run a case sheet.
func (m *Model) caseRun(cs *caseSheet, seeds map[tape.Register]tape.Register) *caseRun {
	run := &caseRun{sheet: cs, seeds: cs.caseSeeds(seeds), changed: m.changedBy(cs)}
	run.judged = append(cs.judged(), m.beside(cs, run.changed)...)
	for _, a := range run.judged {
		run.judgements = append(run.judgements, a.judgement())
	}
	return run
}

// runCases runs a case sheet: the model once for each case.
func (m *Model) runCases(cs *caseSheet, base []float64, opt CheckOptions) (CaseResult, []sheets.Problem) {
	run := m.caseRun(cs, m.seeds())
	return m.runOf(run, base, func() *probe { return m.caseProbe(run, base, false) }, opt)
}

// runOf is runCases of a sheet that is prepared, maybe with its derivatives. probed gives
// its probe.
func (m *Model) runOf(run *caseRun, base []float64, probed func() *probe,
	opt CheckOptions) (CaseResult, []sheets.Problem) {
	if run.differentiated == nil {
		run.differentiated = m.differentiate(run.seeds, known(base), run.judgements)
	}
	cs, judged, judgements, seeds := run.sheet, run.judged, run.judgements, run.seeds
	lacks := func(r tape.Register) bool { return r != tape.None && !tape.Usable(base[r]) }
	for _, a := range judged {
		if q := a.quantity; a.beside { // the others are the model's, which a run leaves as they are
			a.unknown = lacks(q.value) || lacks(q.lowAt) || lacks(q.highAt)
		}
	}
	t, values := run.Tape, run.values
	var outputs []tape.Register
	for i := range judgements {
		outputs = append(outputs, judgements[i].at[:]...)
	}
	var p *probe
	if opt.Samples == 0 {
		p = probed().across(run.differentiated)
	}
	atProbe := len(outputs)
	if p != nil {
		p.brief, p.quiet = opt.brief, opt.Quiet
		outputs = append(outputs, p.registers()...)
	}
	var samples *caseSampling
	if opt.Samples > 0 {
		samples = m.sampleCases(cs, judged, judgements, seeds, base, opt)
		outputs = samples.registers(outputs, seeds)
	}
	atInputs := len(outputs)
	if !opt.brief {
		for _, g := range cs.given {
			spread, doubted := seeds[g.input()]
			if !doubted {
				spread = tape.None
			}
			outputs = append(outputs, spread)
		}
	}

	n := len(cs.sheet.Cases)
	result := CaseResult{Sheet: cs.sheet, In: m.in, Cases: make([]Case, n)}
	for _, a := range cs.judged() {
		result.Asked = append(result.Asked, a.quantity)
	}
	program := tape.NewProgram(t, cs.inputs(), outputs, values)
	r := reach{changed: run.changed, unproven: m.unprovenIn(cs), traces: &caseTraces{inputs: cs.inputs(),
		differentiated: run.differentiated, reached: map[tape.Register]bool{}}}
	for i, at := range outputs[:atProbe] {
		r.traces.reached[at] = program.Varies(i)
	}
	if !opt.brief {
		r.lenders, result.Unread = m.lenders(cs, base), m.unread(cs.sheet)
	}
	unvisited := m.unvisited(cs)
	settle := func(i int) {
		if unvisited != nil && unvisited[i] {
			result.Cases[i].leaveOpen(cs, judged)
		}
		result.Cases[i].settle(cs, judged)
	}
	failures, warnings := make([][]sheets.Problem, n), make([][]sheets.Problem, n)
	_ = program.Run(context.Background(), n, opt.workers, func(b *tape.Block) { cs.fill(b, base) },
		func(b *tape.Block) {
			probed := p.look(b, atProbe)
			bent := probed.screen()
			for i := range b.N {
				at := b.First + i
				var subjects []subject
				result.Cases[at], subjects, failures[at],
					warnings[at] = m.judgeCase(cs, judged, judgements, r, b, i)
				if !opt.brief {
					result.Cases[at].Inputs = m.inputsOf(cs, b, atInputs, i)
				}
				warnings[at] = append(warnings[at], probed.judge(i, bent, subjects)...)
				if samples != nil {
					samples.take(b, i, subjects)
				} else {
					settle(at)
				}
			}
		})
	if samples != nil {
		for i := range result.Cases {
			warnings[i] = append(warnings[i], samples.judge(i)...)
			settle(i)
		}
	}
	for _, a := range judged {
		if a.beside && a.unknown && slices.ContainsFunc(result.Cases,
			func(c Case) bool { return c.lacks[a.quantity] }) {
			result.Unjudged = append(result.Unjudged, a.quantity)
		}
	}
	result.OfToday = m.ofToday(cs, base)
	result.Warnings = gather(result.Cases, warnings)
	return result, slices.Concat(failures...)
}

// caseProbe probes the cases of a sheet. Early is before it is run: then it looks what
// bends if the sheet has no more cases than a block.
func (m *Model) caseProbe(run *caseRun, base []float64, early bool) *probe {
	cs, n := run.sheet, len(run.sheet.sheet.Cases)
	p := m.probing(run.judgements, quantitiesOf(run.judged), run.seeds, cs.inputs(), base, n)
	if !early || n == 0 || n > tape.BlockSize || !slices.Contains(p.bends, true) {
		return p
	}
	doubts := tape.NewProgram(m.tape, cs.inputs(), p.doubts(), base).NewWorker(n)
	b := doubts.Run(0, n, func(b *tape.Block) { cs.fill(b, base) })
	p.screenEarly(b, b.Out)
	return p
}

// ofToday lists the givens that some dated case has from the notebook.
func (m *Model) ofToday(cs *caseSheet, base []float64) []*Quantity {
	if m.dates(cs.sheet) == nil {
		return nil
	}
	list := []*Quantity{}
	for _, g := range cs.given {
		if !g.quantity.IsFormula() && tape.Usable(base[g.input()]) &&
			slices.ContainsFunc(g.column.values, tape.IsMissing) {
			list = append(list, g.quantity)
		}
	}
	return list
}

// inputsOf are what a case of a block puts in place of givens. Their spreads stand
// behind the outputs before at.
func (m *Model) inputsOf(cs *caseSheet, b *tape.Block, at, i int) []Judged {
	var list []Judged
	for k, g := range cs.given {
		q, v := g.quantity, g.column.values[b.First+i]
		if tape.IsMissing(v) || q.IsFormula() || slices.ContainsFunc(cs.judged(),
			func(a *judgedColumn) bool { return a.quantity == q }) {
			continue
		}
		one := blank(q, g.unit)
		if q.IsText() {
			one.Text = m.texts[int(v)]
			list = append(list, one)
			continue
		}
		if tape.IsAbsent(v) {
			one.State = Absent
			list = append(list, one)
			continue
		}
		one.Value = g.column.exact(b.First+i, g.unit.FromSI(v))
		if spread := b.Out[at+k]; spread != nil && tape.Usable(spread[i]) {
			one.Spread = g.spread.exact(spreadIn(g.unit, spread[i]))
		}
		list = append(list, one)
	}
	return list
}

// gather makes one warning of those of several cases that are alike but for
// their numbers: that of the first case, with a count of the others.
func gather(cases []Case, warnings [][]sheets.Problem) []sheets.Problem {
	var list []sheets.Problem
	var others []int
	known := map[sheets.Problem]int{}
	for i, own := range warnings {
		for _, w := range own {
			kind := w
			kind.Message, _, _ = strings.Cut(w.Message, ":") // which starts with what it is about
			if k, found := known[kind]; found {
				others[k]++
				continue
			}
			known[kind] = len(list)
			w.Message = cases[i].Name + ": " + w.Message
			list, others = append(list, w), append(others, 0)
		}
	}
	for k, n := range others {
		if n > 0 {
			list[k].Message += "; likewise in " + words.Counted(n, "other case")
		}
	}
	return list
}

// inputs lists what varies from case to case.
//
//go:noinline
func (cs *caseSheet) inputs() []tape.Register {
	var inputs []tape.Register
	for _, g := range cs.given {
		inputs = append(inputs, g.input())
	}
	inputs = append(inputs, cs.row...)
	for _, s := range cs.scatters {
		inputs = append(inputs, s.input)
	}
	for _, g := range cs.given {
		if g.kept != nil {
			inputs = append(inputs, g.kept.replaced, g.kept.own)
		}
	}
	return inputs
}

// fill sets the inputs of a block of cases; a blank cell leaves the model's
// value, which base holds.
func (cs *caseSheet) fill(b *tape.Block, base []float64) {
	for i, g := range cs.given {
		copy(b.In[i], g.column.values[b.First:])
		for k, v := range b.In[i] {
			if tape.IsMissing(v) && !g.quantity.IsFormula() { // a reading of another case is none of this one
				b.In[i][k] = base[g.input()]
			}
		}
	}
	for i := range cs.row {
		for k := range b.In[len(cs.given)+i] {
			b.In[len(cs.given)+i][k] = float64(b.First + k)
		}
	}
	for i, s := range cs.scatters {
		copy(b.In[len(cs.given)+len(cs.row)+i], s.values[b.First:])
	}
	at := len(cs.given) + len(cs.row) + len(cs.scatters)
	for _, g := range cs.given {
		if g.kept != nil {
			g.kept.fill(b.In[at], b.In[at+1], g.column.values[b.First:], base[g.input()])
			at += 2
		}
	}
}

// reach is how far a case sheet reaches into the tape of a run.
type reach struct {
	changed []bool // by register of the model: it differs from case to case
	traces  *caseTraces
	lenders []lender

	unproven *unproven // numbers that its cases rest on; nil where there are none
}

// judgeCase judges one case of a block.
func (m *Model) judgeCase(cs *caseSheet, judged []*judgedColumn, judgements []judgement, r reach,
	b *tape.Block, i int) (result Case, subjects []subject, failures, warnings []sheets.Problem) {
	row := &cs.sheet.Cases[b.First+i]
	result = Case{Name: row.Name.Text, Row: row, Start: math.NaN(), Values: make([]Judged, len(judgements))}
	if cs.starts != nil {
		result.Start, result.Began, result.Dated = cs.starts.values[b.First+i], row.Cells[cs.starts.index].Text,
			cs.starts.unit.Kind == units.Date
	}
	var told []sheets.Problem
	var own *trace
	tr := func() *trace {
		if own == nil {
			own = r.traces.trace(b, i)
		}
		return own
	}
	defer func() {
		if own != nil {
			r.traces.spare.Put(own)
		}
	}()
	var a *judgedColumn
	tell := func(out *Judged, p sheets.Problem, failed tape.Register) {
		out.Error = p.Message
		if a.unknown || slices.Contains(told, p) {
			return // it is reported where it stands; or it keeps several columns from being computed
		}
		told = append(told, p)
		if failed != tape.None {
			p, _ = tr().failureIn(a.formulas(), failed)
		}
		p.Message = row.Name.Text + ": " + a.quantity.Name + ": " + p.Message
		failures = append(failures, p)
	}
	run := &judging{
		model: m,
		trace: tr,
		of: func(root tape.Register) *trace {
			if r.traces.reached[root] {
				return tr()
			}
			return r.traces.whole()
		},
		failed: func(out *Judged, failed tape.Register) {
			owner := tr().owner(failed)
			mine := owner == nil || r.changed[failed] || tape.Usable(r.traces.values[owner.value])
			switch {
			case !mine && !a.quantity.IsText() && owner == a.quantity:
				out.Error = tr().failure(failed).Message
			case !mine && !a.quantity.IsText(): // no fault of this case
				out.Needs = union(out.Needs, []Need{owner.need(true)})
			case out.Error == "":
				p, at := cs.blame(tr(), failed, row)
				tell(out, p, at)
			}
		},
		refused: func(out *Judged, p sheets.Problem) { tell(out, p, tape.None) },
		exact:   func(out *Judged) { a.exact(out, b.First+i) },
	}
	run.rest(r.unproven)
	run.differentiated = r.traces.differentiated
	for k := range judged {
		a = judged[k]
		out := &result.Values[k]
		*out = blank(a.quantity, a.unit)
		reading := a.column.values[b.First+i]
		if !tape.Usable(reading) {
			reading = math.NaN()
		}
		subjects = append(subjects, run.judge(out, judgements[k], reading,
			func(facet int, _ tape.Register) float64 { return b.Out[k*facets+facet][i] }))
		if k == 0 && out.State == Absent {
			if out.Needs = m.ledToNothing(cs, row, tr(), r.changed, judgements[k].at[theValue]); len(out.Needs) > 0 {
				out.Verdict = Open
			}
		}
	}
	result.borrow(r.lenders, judgements, tr, b.First+i)
	return result, subjects, failures, run.warnings
}

// blame reports a failure at the case's own cell where that cell gave the key
// of a look-up, else at the operation, which it returns then.
func (cs *caseSheet) blame(tr *trace, failed tape.Register, row *sheets.CaseRow) (sheets.Problem, tape.Register) {
	p := tr.failure(failed)
	o := &tr.tape.Ops[failed]
	if o.Code != tape.OpLookup {
		return p, failed
	}
	for _, g := range cs.given {
		if cell := row.Cells[g.column.index]; g.input() == o.A && !cell.Blank() {
			return placeIn(cs.sheet, cell).fault(p.Message, p.Hint), tape.None
		}
	}
	return p, failed
}

// formulas lists the expressions that a column is judged by, and then those of
// all it is computed from.
func (a *judgedColumn) formulas() []*formula {
	list := append(a.quantity.formulas(), a.spread.formula, a.low.formula, a.high.formula)
	known := map[*Quantity]bool{}
	for i := 0; i < len(list); i++ {
		for _, used := range list[i].uses() {
			if !known[used] {
				known[used] = true
				list = append(list, used.entry.formula)
			}
		}
	}
	return list
}

// settle finds the verdict of a case, the worst of its values. What no column is
// for stays among them only if it does not pass. A case in which something that it
// is asked for has a limit and cannot be judged, since only the cases of another
// sheet have what that needs, does not pass for what is left.
func (c *Case) settle(cs *caseSheet, judged []*judgedColumn) {
	c.Verdict = NoVerdict
	kept := c.Values[:0]
	for k, v := range c.Values {
		if a := judged[k]; a.beside {
			if v.Verdict == Open && a.unknown {
				if c.lacks == nil {
					c.lacks = map[*Quantity]bool{}
				}
				c.lacks[a.quantity] = true
				continue
			}
			if v.Verdict <= Pass {
				c.Verdict = max(c.Verdict, v.Verdict)
				continue
			}
		}
		c.Verdict = max(c.Verdict, v.Verdict)
		kept = append(kept, v)
	}
	c.Values = kept
	for k := 0; c.Verdict == Pass && k < len(cs.judged()); k++ {
		v := &c.Values[k]
		if v.Verdict != NoVerdict || !judged[k].limited() {
			continue
		}
		if needs := judged[k].needsOfOthers(cs); len(needs) > 0 {
			v.Needs, v.Verdict, c.Verdict = needs, Open, Open
		}
	}
}

// needsOfOthers lists the givens that a column is judged by and only the cases of
// other sheets have.
func (a *judgedColumn) needsOfOthers(cs *caseSheet) []Need {
	var needs []Need
	for _, f := range a.formulas() {
		for _, q := range f.uses() {
			own := slices.ContainsFunc(cs.given, func(g *givenColumn) bool { return g.quantity == q })
			if q.byCase && !own && !q.IsFormula() {
				needs = union(needs, []Need{q.need(false)})
			}
		}
	}
	return needs
}

func quantitiesOf(judged []*judgedColumn) []*Quantity {
	list := make([]*Quantity, len(judged))
	for i, a := range judged {
		list[i] = a.quantity
	}
	return list
}
