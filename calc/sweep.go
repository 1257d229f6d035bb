package calc

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// Sweep is the model over all values of one given, or over all pairs of values
// of two. Cases count from 0, and the values of the last given change fastest.
type Sweep struct {
	Over    []*Range
	Show    []*Quantity
	NoLimit bool // Show was not named, and as no formula that depends on Over has a limit it holds all of them

	Judges bool // whether a run judges every case, which takes several times as long

	LeftOut []*Quantity // formulas that Show would hold, but for being open whatever is swept

	Warnings []sheets.Problem // what is probably a slip in the ranges

	model   *Model
	base    []float64 // of the model's tape, with the notebook's own values
	program *tape.Program
}

// Sweep plans a sweep. Each text of over is `NAME = RANGE`; show names the
// quantities to compute. Without a name they are the formulas that have a
// limit and depend on what is swept, or failing such all that depend on it.
func (m *Model) Sweep(over, show []string) (*Sweep, []sheets.Problem) {
	m = m.extended() // by the texts that are swept
	s := &Sweep{model: m}
	var problems []sheets.Problem
	for _, argument := range over {
		g, faults := m.readOver(argument)
		problems = append(problems, faults...)
		if g == nil {
			continue
		}
		s.Warnings = append(s.Warnings, m.warnTexts(g, argument)...)
		for _, other := range s.Over {
			if other.Quantity == g.Quantity {
				problems = append(problems, inArgument("--over", argument).problem(
					span{0, len([]rune(g.Quantity.Name))}, g.Quantity.Name+" is swept twice",
					"name another given, or leave one --over out"))
			}
		}
		s.Over = append(s.Over, g)
	}
	switch {
	case len(over) == 0:
		problems = append(problems, sheets.Problem{Message: "a sweep needs to know what to change",
			Hint: `write --over "setting = 5 to 25 by 2.5 MPa"`})
	case len(over) > 2:
		problems = append(problems, sheets.Problem{Message: fmt.Sprintf("a sweep changes one given or two, not %d",
			len(over)),
			Hint: "fix the others with --set"})
	}
	for _, name := range show {
		q, faults := m.numeric("--show", name)
		problems = append(problems, faults...)
		s.Show = append(s.Show, q)
	}
	if len(problems) > 0 {
		return nil, problems
	}
	if total := float64(s.Over[0].N) * float64(s.Over[len(s.Over)-1].N); len(s.Over) == 2 && total > MaxCases {
		return nil, []sheets.Problem{{Message: fmt.Sprintf("the sweep has %.3g cases, more than %d", total, MaxCases),
			Hint: "write larger steps"}}
	}
	if len(show) == 0 {
		if problem := s.choose(); problem != nil {
			return nil, []sheets.Problem{*problem}
		}
	}
	s.plan()
	return s, nil
}

// readOver reads one `NAME = RANGE`.
func (m *Model) readOver(argument string) (*Range, []sheets.Problem) {
	p := inArgument("--over", argument)
	name, text, found := strings.Cut(argument, "=")
	if !found {
		return nil, []sheets.Problem{p.fault("no `=` in "+words.Quoted(argument),
			`write --over "setting = 5 to 25 by 2.5 MPa"`)}
	}
	q, problems := m.given(p, name)
	if q == nil {
		return nil, problems
	}
	p.skip = len([]rune(name)) + 1
	r := &rangeReader{place: p, quantity: q}
	g := r.readRange(text)
	if g != nil {
		for _, t := range g.texts {
			g.indexes = append(g.indexes, m.textIndex(t))
		}
	}
	return g, r.problems
}

// warnTexts warns of swept texts that no formula has.
func (m *Model) warnTexts(g *Range, argument string) []sheets.Problem {
	var warnings []sheets.Problem
	for _, text := range g.texts {
		if message, hint := m.neverCompared(g.Quantity, text); message != "" {
			p := inArgument("--over", argument)
			where := p.whole()
			if at := strings.LastIndex(argument, text); at >= 0 { // unless it is written with doubled quotes
				where = span{len([]rune(argument[:at])), len([]rune(argument[:at+len(text)]))}
			}
			warnings = append(warnings, p.problem(where, message, hint))
		}
	}
	return warnings
}

// choose picks what to show. What stays open whatever is swept is left out.
func (s *Sweep) choose() *sheets.Problem {
	reached := s.model.tape.Reached(s.inputs())
	first := map[tape.Register]float64{}
	for _, g := range s.Over {
		first[g.Quantity.value] = g.si(0)
	}
	values := s.model.tape.Once(first)
	var all []*Quantity
	for _, q := range s.model.Quantities {
		if !q.IsFormula() || q.IsText() || !reached[q.value] {
			continue
		}
		if tape.IsMissing(values[q.value]) {
			if q.hasLow() || q.hasHigh() {
				s.LeftOut = append(s.LeftOut, q)
			}
			continue
		}
		all = append(all, q)
		if q.hasLow() || q.hasHigh() {
			s.Show = append(s.Show, q)
		}
	}
	if s.NoLimit = len(s.Show) == 0; s.NoLimit {
		s.Show = all
	}
	if len(all) == 0 {
		return &sheets.Problem{Message: "no formula that can be computed depends on " + s.overNames(),
			Hint: "sweep a given that the formulas use"}
	}
	return nil
}

func (s *Sweep) overNames() string {
	var names []string
	for _, g := range s.Over {
		names = append(names, g.Quantity.Name)
	}
	return words.OneOf(names)
}

func (s *Sweep) inputs() []tape.Register {
	var inputs []tape.Register
	for _, g := range s.Over {
		inputs = append(inputs, g.Quantity.value)
	}
	return inputs
}

// plan makes the program of the run.
func (s *Sweep) plan() {
	s.base = s.model.tape.Once(nil)
	var outputs []tape.Register
	for _, q := range s.Show {
		outputs = append(outputs, q.value)
	}
	s.program = tape.NewProgram(s.model.tape, s.inputs(), outputs, s.base)
}

// IsOver reports whether a quantity is one that is swept.
func (s *Sweep) IsOver(q *Quantity) bool {
	return slices.ContainsFunc(s.Over, func(g *Range) bool { return g.Quantity == q })
}

// Cases returns the number of cases.
func (s *Sweep) Cases() int {
	n := 1
	for _, g := range s.Over {
		n *= g.N
	}
	return n
}

// Index returns the number of the value that Over[k] has in a case.
func (s *Sweep) Index(k, c int) int {
	if k+1 < len(s.Over) {
		return c / s.Over[k+1].N
	}
	return c % s.Over[k].N
}

// name is what a case is, as in `setting = 12.5 MPa`.
func (s *Sweep) name(c int) string {
	var parts []string
	for k, g := range s.Over {
		i := s.Index(k, c)
		value := ""
		switch {
		case g.IsText():
			value = g.Text(i)
		case g.Unit.Kind == units.Date:
			value = units.FormatDate(g.Value(i))
		default:
			value = strings.TrimSpace(strconv.FormatFloat(g.Value(i), 'g', -1, 64) + " " + g.Unit.Symbol)
		}
		parts = append(parts, g.Quantity.Name+" = "+value)
	}
	return strings.Join(parts, ", ")
}

// Rows is a run of consecutive cases of a sweep, in the units of its columns.
// What is open or failed is NaN. The memory is used again for other rows.
type Rows struct {
	First, N int
	Over     [][]float64 // one slice per range, N long; of a text the number of the value
	Show     [][]float64 // one slice per quantity, N long
	Text     []byte      // the caller's, to write the rows into; empty at first
	Cases    []Case      // as [Sweep.Judge] has them, of a run that judges

	failed []int // cases with an error
}

func (s *Sweep) newRows() *Rows {
	columns := func(n int) [][]float64 {
		list := make([][]float64, n)
		for k := range list {
			list[k] = make([]float64, tape.BatchSize)
		}
		return list
	}
	return &Rows{Over: columns(len(s.Over)), Show: columns(len(s.Show))}
}

// fill sets the swept givens of a block, and the rows' own columns of them. The
// first block of a batch clears the rows.
func (s *Sweep) fill(b *tape.Block, r *Rows) {
	if b.First%tape.BatchSize == 0 {
		r.First, r.N, r.Text, r.failed = b.First, 0, r.Text[:0], r.failed[:0]
	}
	for k, g := range s.Over {
		r.Over[k] = r.Over[k][:r.N+b.N]
		own, in := r.Over[k][r.N:], b.In[k]
		if g.IsText() {
			for i := range own {
				n := s.Index(k, b.First+i)
				own[i], in[i] = float64(n), g.indexes[n]
			}
			continue
		}
		for i := range own {
			own[i] = g.Value(s.Index(k, b.First+i))
		}
		g.Unit.SliceToSI(in, own)
	}
}

// take appends the results of a block, in the units of the quantities.
func (s *Sweep) take(b *tape.Block, r *Rows) {
	for k, q := range s.Show {
		r.Show[k] = r.Show[k][:r.N+b.N]
		own, results := r.Show[k][r.N:], b.Out[k]
		q.Unit.SliceFromSI(own, results)
		for i, x := range own {
			if tape.Usable(x) {
				continue
			}
			own[i] = math.NaN()
			if !tape.IsMissing(results[i]) {
				r.failed = append(r.failed, b.First+i)
			}
		}
	}
	r.N += b.N
}

// Failures are the errors of single cases; the other cases ran.
type Failures struct {
	Cases int              // how many cases have an error
	First []sheets.Problem // all about the first few of them

	told int // how many cases First is about
}

// fullFailures is how many cases with an error are explained in full.
const fullFailures = 3

// Run computes all cases. It calls format for each run of rows in any
// goroutine, and then emit in the calling one, in the order of the cases.
// workers is the number of goroutines that compute, 0 for one per core. The
// error is that of emit or of the context.
func (s *Sweep) Run(ctx context.Context, workers int, format func(*Rows), emit func(*Rows) error) (Failures, error) {
	var failures Failures
	var failed []int
	err := tape.RunOrdered(ctx, s.program, s.Cases(), workers, s.newRows, s.fill,
		s.take, func(r *Rows) {
			if s.Judges {
				s.judgeRows(r)
			}
			slices.Sort(r.failed) // a case is in it once for each quantity that failed
			r.failed = slices.Compact(r.failed)
			format(r)
		},
		func(r *Rows) error {
			failures.Cases += len(r.failed)
			if room := fullFailures - len(failed); room > 0 {
				failed = append(failed, r.failed[:min(room, len(r.failed))]...)
			}
			return emit(r)
		})
	if len(failed) > 0 {
		_, failures.First = s.Judge(failed)
		failures.told = len(failed)
	}
	return failures, err
}

// judgeRows judges the cases of a run of rows, and counts those among the failed
// whose values are sound, but whose limits or spreads have an error.
func (s *Sweep) judgeRows(r *Rows) {
	cases := make([]int, r.N)
	for i := range cases {
		cases[i] = r.First + i
	}
	result, _ := s.judge(cases, CheckOptions{workers: 1, brief: true})
	r.Cases = result.Cases
	for i := range r.Cases {
		if r.Cases[i].failsInJudgement() {
			r.failed = append(r.failed, r.First+i)
		}
	}
}

// JudgeRun is Judge for cases of a run. It adds to the failures of that run the
// cases whose values are sound, but whose limits or spreads have an error.
func (s *Sweep) JudgeRun(cases []int, failures *Failures) CaseResult {
	result, _ := s.Judge(cases)
	var more []int
	for i := range result.Cases {
		if result.Cases[i].failsInJudgement() {
			more = append(more, cases[i])
		}
	}
	failures.Cases += len(more)
	if n := min(fullFailures-failures.told, len(more)); n > 0 {
		_, first := s.Judge(more[:n])
		failures.First = append(failures.First, first...)
		failures.told += n
	}
	return result
}

// failsInJudgement reports whether a case has an error, and its values have none.
func (c *Case) failsInJudgement() bool {
	fails := false
	for i := range c.Values {
		if j := &c.Values[i]; j.Error != "" {
			if !Has(j.Value) {
				return false
			}
			fails = true
		}
	}
	return fails
}

// Judge runs some of the cases again, with spreads and verdicts, as if they
// stood in a case sheet that asks for Show. The values of a case are those of
// Show, and behind them those of the swept numbers, which may be beyond limits
// of their own. The problems are the errors of the cases.
func (s *Sweep) Judge(cases []int) (CaseResult, []sheets.Problem) {
	return s.judge(cases, CheckOptions{})
}

func (s *Sweep) judge(cases []int, opt CheckOptions) (CaseResult, []sheets.Problem) {
	sheet := &sheets.Sheet{Kind: sheets.Cases, Cases: make([]sheets.CaseRow, len(cases))}
	for i, c := range cases {
		sheet.Cases[i] = sheets.CaseRow{Name: sheets.Cell{Text: s.name(c)}, Cells: make([]sheets.Cell, len(s.Over))}
	}
	cs := &caseSheet{sheet: sheet}
	for _, q := range s.Show {
		cs.asked = append(cs.asked, cs.asking(q, nil))
	}
	for k, g := range s.Over {
		sheet.Columns = append(sheet.Columns, sheets.Column{Name: sheets.Cell{Text: g.Quantity.Name}})
		col := &column{sheet: sheet, index: k, unit: g.Unit, values: make([]float64, len(cases)),
			typed: make([]float64, len(cases))}
		for i, c := range cases {
			n := s.Index(k, c)
			col.values[i], col.typed[i] = g.si(n), g.Value(n)
		}
		cs.given = append(cs.given, &givenColumn{quantity: g.Quantity, unit: g.Unit, column: col, spreadAt: tape.None})
		if !g.IsText() {
			cs.asked = append(cs.asked, cs.asking(g.Quantity, col))
		}
	}
	result, problems := s.model.runCases(cs, s.base, opt)
	result.Asked = result.Asked[:len(s.Show)]
	return result, problems
}
