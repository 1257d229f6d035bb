package calc

import (
	"context"
	"math"
	"slices"

	"rambook/calc/tape"
	"rambook/sheets"
)

// judgement is all that is asked of one quantity in one run: the registers
// of its value and spread, of its limits, and of their distances from it.
type judgement struct {
	value, spread         tape.Register
	reading               entry         // the row's own; a case has its own instead
	readingSpread         tape.Register // of an absolute spread; none
	readingShare          float64       // of a spread that is a share of the reading; NaN
	low, high             tape.Register
	lowMargin, highMargin tape.Register // none unless the limit is a formula
	lowSpread, highSpread tape.Register // of the limits themselves
	marginLow, marginHigh tape.Register // spreads of the margins
}

// registers lists the judgement's outputs in the order that at reads them.
func (j *judgement) registers() []tape.Register {
	return []tape.Register{j.value, j.spread, j.readingSpread, j.low, j.high, j.lowSpread, j.highSpread, j.marginLow, j.marginHigh}
}

const judgementSize = 9

// measured is a judgement's outputs in one case, SI, NaN where absent.
type measured struct {
	value, spread, readingSpread, low, high, lowSpread, highSpread, marginLow, marginHigh float64
}

// judge fills in what a run says of one quantity. reading is SI or NaN.
func (j *judgement) judge(out *Judged, v measured, reading float64) {
	u := out.Unit
	point := func(x float64) float64 {
		if !tape.Usable(x) {
			return math.NaN()
		}
		return u.FromSI(x)
	}
	spread := func(x float64) float64 {
		if !tape.Usable(x) {
			return math.NaN()
		}
		return u.DiffFromSI(x)
	}
	readingSpread := v.readingSpread
	if Has(j.readingShare) && Has(reading) {
		readingSpread = j.readingShare * math.Abs(reading)
	}
	if !Has(reading) {
		readingSpread = math.NaN()
	}
	limits := interval{value: v.value, low: v.low, high: v.high, lowSpread: v.spread, highSpread: v.spread}
	switch {
	case Has(reading):
		limits.value = reading
		limits.lowSpread, limits.highSpread = hypot(readingSpread, v.lowSpread), hypot(readingSpread, v.highSpread)
	default:
		if j.lowMargin != tape.None {
			limits.lowSpread = v.marginLow
		}
		if j.highMargin != tape.None {
			limits.highSpread = v.marginHigh
		}
	}
	out.Value, out.Spread = point(v.value), spread(v.spread)
	if !Has(out.Value) {
		out.Spread = math.NaN()
	}
	out.Reading, out.ReadingSpread = point(reading), spread(readingSpread)
	out.Low, out.High = point(v.low), point(v.high)
	out.Agreement, out.Inside = math.NaN(), math.NaN()
	if Has(reading) && Has(out.Value) {
		out.Agreement = agreement(reading, readingSpread, v.value, v.spread)
	}
	open := len(out.Needs) > 0 || out.Error != ""
	limitMissing := j.low != tape.None && !Has(out.Low) || j.high != tape.None && !Has(out.High)
	switch {
	case open && !Has(reading) || limitMissing:
		out.Verdict = Open
	default:
		if tape.Usable(limits.value) {
			out.Verdict = limits.verdict()
			out.Inside = limits.inside()
		}
	}
}

// judgementOf prepares the judgement of a quantity with the model's own
// spread and limits.
func (q *Quantity) judgement() judgement {
	j := judgement{value: q.value, spread: tape.None, reading: q.reading, readingSpread: tape.None, readingShare: math.NaN(),
		low: q.lowAt, high: q.highAt, lowMargin: q.lowMargin, highMargin: q.highMargin}
	j.readingSpreadFrom(q.spread, q.spreadAt, q.IsFormula())
	return j
}

// readingSpreadFrom takes the spread cell of a formula as its reading's.
func (j *judgement) readingSpreadFrom(e entry, at tape.Register, formula bool) {
	if !formula || e.kind == blankEntry {
		return
	}
	j.readingSpread, j.readingShare = at, math.NaN()
	if e.kind == percentEntry {
		j.readingShare = e.value
	}
}

// roots lists the registers whose derivatives the judgement needs.
func (j *judgement) roots() []tape.Register {
	return []tape.Register{j.value, j.low, j.high, j.lowMargin, j.highMargin}
}

// addSpreads appends the spreads that the judgement needs.
func (j *judgement) addSpreads(s *tape.Spreads) {
	j.spread = s.Spread(j.value)
	j.lowSpread, j.highSpread = s.Spread(j.low), s.Spread(j.high)
	j.marginLow, j.marginHigh = s.Spread(j.lowMargin), s.Spread(j.highMargin)
}

// seeds lists the spreads of the givens and of the cells looked up.
func (m *Model) seeds() map[tape.Register]tape.Register {
	seeds := map[tape.Register]tape.Register{}
	for _, q := range m.Quantities {
		if !q.IsFormula() && q.spreadAt != tape.None {
			seeds[q.value] = q.spreadAt
		}
	}
	for _, cell := range m.cells {
		seeds[cell.value] = cell.spread
	}
	return seeds
}

// Check recalculates the whole notebook and judges it. Problems are errors of
// the model itself, such as a division by zero; errors of single cases are in
// the report.
func (m *Model) Check(opt CheckOptions) (*Report, []sheets.Problem) {
	t := m.tape.Extend()
	judgements := make([]judgement, len(m.Quantities))
	var roots []tape.Register
	for i, q := range m.Quantities {
		judgements[i] = q.judgement()
		roots = append(roots, judgements[i].roots()...)
	}
	s := tape.Differentiate(t, m.seeds(), roots)
	for i := range judgements {
		judgements[i].addSpreads(s)
	}
	kinks := s.Kinks()
	values := t.Once(nil)
	r := &Report{Warnings: slices.Clone(m.Warnings)}
	problems := m.judgeAll(r, t, judgements, values)
	if len(problems) > 0 {
		m.sort(problems)
		return nil, problems
	}
	r.Warnings = append(r.Warnings, m.warnKinks(t, kinks, values)...)
	r.Warnings = append(r.Warnings, m.warnCancellation(values)...)
	if opt.Samples > 0 {
		r.Warnings = append(r.Warnings, m.sampled(r, opt)...)
	}
	m.sort(r.Warnings)
	for _, cs := range m.CaseSheets {
		result, failures := m.runCases(cs, values[:len(m.tape.Ops)], opt)
		r.Cases = append(r.Cases, result)
		r.Failures = append(r.Failures, failures...)
	}
	r.count()
	return r, nil
}

// judgeAll judges the quantities in the base case.
func (m *Model) judgeAll(r *Report, t *tape.Tape, judgements []judgement, values []float64) []sheets.Problem {
	var problems []sheets.Problem
	tr := m.newTrace(t, values)
	told := map[tape.Register]bool{}
	r.Quantities = make([]Judged, len(m.Quantities))
	get := func(r tape.Register) float64 {
		if r == tape.None {
			return math.NaN()
		}
		return values[r]
	}
	for i, q := range m.Quantities {
		out, j := &r.Quantities[i], &judgements[i]
		*out = Judged{Quantity: q, Unit: q.Unit, SampledMean: math.NaN(), SampledLow: math.NaN(), SampledHigh: math.NaN()}
		if q.IsText() {
			m.judgeText(out)
			continue
		}
		for _, root := range []tape.Register{j.value, j.low, j.high, q.spreadAt} {
			why := tr.explain(root)
			if why.failed != tape.None && !told[why.failed] {
				told[why.failed] = true
				problems = append(problems, tr.failure(why.failed))
			}
			if root != q.spreadAt || root == j.value {
				out.Needs = union(out.Needs, why.needs)
			}
		}
		reading := math.NaN()
		if q.HasReading() {
			reading = q.reading.value
		}
		j.judge(out, measured{get(j.value), get(j.spread), get(j.readingSpread), get(j.low), get(j.high),
			get(j.lowSpread), get(j.highSpread), get(j.marginLow), get(j.marginHigh)}, reading)
		if q.spreadAt != tape.None && !q.IsFormula() { // a spread stands beside its given even if it is 0
			if s := get(q.spreadAt); tape.Usable(s) {
				out.Spread = q.spread.exact(q.Unit.DiffFromSI(s))
			}
		}
		if q.IsFormula() {
			out.ReadingSpread = q.spread.exact(out.ReadingSpread)
		}
		out.Value, out.Reading = q.entry.exact(out.Value), q.reading.exact(out.Reading)
		out.Low, out.High = q.low.exact(out.Low), q.high.exact(out.High)
	}
	return problems
}

// judgeText fills in a text quantity, which is only ever there or open.
func (m *Model) judgeText(out *Judged) {
	q := out.Quantity
	nan := math.NaN()
	out.Value, out.Spread, out.Reading, out.ReadingSpread, out.Agreement = nan, nan, nan, nan, nan
	out.Low, out.High, out.Inside = nan, nan, nan
	if q.entry.kind == textEntry {
		out.Text = m.texts[int(q.entry.value)]
		return
	}
	out.Verdict = Open
	out.Needs = []Need{{Name: q.Name, Sheet: q.Sheet.Name, File: q.Sheet.File, Line: q.Row.Name.Line}}
}

// count counts the verdicts of quantities and case values.
func (r *Report) count() {
	add := func(v Verdict) {
		switch v {
		case Pass:
			r.Counts.Pass++
		case Fail:
			r.Counts.Fail++
		case Unsure:
			r.Counts.Unsure++
		case Open:
			r.Counts.Open++
		}
	}
	for i := range r.Quantities {
		add(r.Quantities[i].Verdict)
	}
	for _, cr := range r.Cases {
		for _, cs := range cr.Cases {
			for i := range cs.Values {
				add(cs.Values[i].Verdict)
			}
		}
	}
}

// runCases runs a case sheet: the model once for each case.
func (m *Model) runCases(cs *CaseSheet, base []float64, opt CheckOptions) (CaseResult, []sheets.Problem) {
	t := m.tape.Extend()
	seeds := m.seeds()
	for _, g := range cs.Given {
		if g.spreadAt != tape.None {
			seeds[g.Quantity.value] = g.spreadAt
		}
	}
	judgements := make([]judgement, len(cs.Asked))
	var roots, inputs []tape.Register
	for i, a := range cs.Asked {
		judgements[i] = a.judgement()
		roots = append(roots, judgements[i].roots()...)
	}
	s := tape.Differentiate(t, seeds, roots)
	var outputs []tape.Register
	for i := range judgements {
		judgements[i].addSpreads(s)
		outputs = append(outputs, judgements[i].registers()...)
	}
	for _, g := range cs.Given {
		inputs = append(inputs, g.Quantity.value)
	}
	// The base values of what was appended are not known yet.
	values := append(append(make([]float64, 0, len(t.Ops)), base...), make([]float64, len(t.Ops)-len(base))...)
	t.Rerun(values, len(base), nil)

	n := len(cs.Sheet.Cases)
	result := CaseResult{Sheet: cs.Sheet, Cases: make([]Case, n)}
	for _, a := range cs.Asked {
		result.Asked = append(result.Asked, a.Quantity)
	}
	failures := make([][]sheets.Problem, n)
	program := tape.NewProgram(t, inputs, outputs, values)
	_ = program.Run(context.Background(), n, opt.Workers, func(b *tape.Block) {
		for i, g := range cs.Given {
			g.fill(b.In[i], b.First, base[g.Quantity.value])
		}
	}, func(b *tape.Block) {
		for i := range b.N {
			at := b.First + i
			result.Cases[at], failures[at] = m.judgeCase(cs, t, judgements, b, i)
		}
	})
	var all []sheets.Problem
	for _, f := range failures {
		all = append(all, f...)
	}
	return result, all
}

// judgement prepares the judgement of a case column: the sheet's own limits
// and spread where it states them, else the model's.
func (a *Asked) judgement() judgement {
	j := a.Quantity.judgement()
	if a.low.kind != blankEntry {
		j.low, j.lowMargin = a.lowAt, a.lowMargin
	}
	if a.high.kind != blankEntry {
		j.high, j.highMargin = a.highAt, a.highMargin
	}
	j.readingSpreadFrom(a.spread, a.spreadAt, true)
	return j
}

// fill copies a column's values for the cases from first on; a blank cell
// leaves the model's value.
func (g *Given) fill(to []float64, first int, model float64) {
	copy(to, g.column.values[first:])
	for i, v := range to {
		if tape.IsMissing(v) {
			to[i] = model
		}
	}
}

// judgeCase judges one case of a block.
func (m *Model) judgeCase(cs *CaseSheet, t *tape.Tape, judgements []judgement, b *tape.Block, i int) (Case, []sheets.Problem) {
	row := &cs.Sheet.Cases[b.First+i]
	result := Case{Name: row.Name.Text, Row: row, Values: make([]Judged, len(cs.Asked))}
	var failures []sheets.Problem
	var tr *trace
	for k, a := range cs.Asked {
		out, j := &result.Values[k], &judgements[k]
		*out = Judged{Quantity: a.Quantity, Unit: a.Unit, SampledMean: math.NaN(), SampledLow: math.NaN(), SampledHigh: math.NaN()}
		var v [judgementSize]float64
		for o := range v {
			v[o] = math.NaN()
			if column := b.Out[k*judgementSize+o]; column != nil {
				v[o] = column[i]
			}
		}
		for _, root := range []tape.Register{j.value, j.low, j.high} {
			at := root
			if at == tape.None {
				continue
			}
			if tr == nil {
				if tape.Usable(v[0]) && (j.low == tape.None || tape.Usable(v[3])) && (j.high == tape.None || tape.Usable(v[4])) {
					break
				}
				tr = m.traceCase(cs, t, b, i)
			}
			why := tr.explain(at)
			out.Needs = union(out.Needs, why.needs)
			if why.failed != tape.None && out.Error == "" {
				p := cs.blame(tr, why.failed, row)
				out.Error = p.Message
				p.Message = row.Name.Text + ": " + a.Quantity.Name + ": " + p.Message
				failures = append(failures, p)
			}
		}
		reading := a.column.values[b.First+i]
		if !tape.Usable(reading) {
			reading = math.NaN()
		}
		j.judge(out, measured{v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7], v[8]}, reading)
		result.Verdict = max(result.Verdict, out.Verdict)
	}
	return result, failures
}

// traceCase runs the tape again for one case, to explain what went wrong.
func (m *Model) traceCase(cs *CaseSheet, t *tape.Tape, b *tape.Block, i int) *trace {
	set := map[tape.Register]float64{}
	for k, g := range cs.Given {
		set[g.Quantity.value] = b.In[k][i]
	}
	return m.newTrace(t, t.Once(set))
}

// blame reports a failure at the case's own cell where that cell gave the key
// of a look-up, else at the formula.
func (cs *CaseSheet) blame(tr *trace, failed tape.Register, row *sheets.CaseRow) sheets.Problem {
	p := tr.failure(failed)
	o := &tr.tape.Ops[failed]
	if o.Code != tape.OpLookup {
		return p
	}
	for _, g := range cs.Given {
		if cell := row.Cells[g.column.index]; g.Quantity.value == o.A && !cell.Blank() {
			return cs.Sheet.Problem(cell, 0, len([]rune(cell.Text)), p.Message, p.Hint)
		}
	}
	return p
}
