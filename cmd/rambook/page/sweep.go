package page

import (
	"fmt"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// OwnValue is the SI value that a given has in the notebook, NaN if it is open.
func OwnValue(report *calc.Report, q *calc.Quantity) float64 {
	j := JudgedOf(report, q)
	return j.Unit.ToSI(j.Value)
}

// OverNames names the givens that are swept.
func OverNames(sweep *calc.Sweep) string {
	var names []string
	for _, over := range sweep.Over {
		names = append(names, over.Quantity.Name)
	}
	return words.Listed(names, len(names))
}

// SweepView puts a sweep into tables for people and rows for programs.
type SweepView struct {
	Layout   Layout
	Sweep    *calc.Sweep
	Failures calc.Failures // of its cases; the page adds those of its limits and spreads
	rows     []*answer.Row // that were kept
}

// NewSweepView is the view of a sweep that has yet to run.
func NewSweepView(layout Layout, sweep *calc.Sweep) *SweepView {
	return &SweepView{Layout: layout, Sweep: sweep}
}

// Keep keeps the rows of a block, for a format that is written in one piece.
func (v *SweepView) Keep(r *calc.Rows) {
	for i := range r.N {
		row := NewRow()
		v.Layout.FillRow(row, r, i)
		v.rows = append(v.rows, row)
	}
}

// Page is a table over one given, grids over two.
func (v *SweepView) Page() []table.Table {
	if len(v.Sweep.Over) == 1 {
		return v.Layout.sweepTable(v.Sweep, &v.Failures)
	}
	return v.Layout.sweepGrids(v.Sweep, &v.Failures)
}

// Rows are the rows that were kept.
func (v *SweepView) Rows() table.Table { return v.Head().Table("sweep", v.rows) }

// Object holds the same rows.
func (v *SweepView) Object() any { return v.Head().Object(v.rows) }

// Head is the head of the rows.
func (v *SweepView) Head() *answer.Head {
	sweep := v.Sweep
	over, show, spread := answer.List{Name: "over"}, answer.List{Name: "show"}, answer.List{Name: "spread", Again: true}
	for _, g := range sweep.Over {
		c := numberColumn(g.Quantity.Name, g.Unit)
		if g.IsText() {
			c.Text = func(x float64) string { return g.Text(int(x)) }
		}
		over.Columns = append(over.Columns, c)
	}
	for _, q := range sweep.Show {
		show.Columns = append(show.Columns, numberColumn(q.Name, q.Unit))
		spread.Columns = append(spread.Columns, numberColumn(q.Name+" spread", q.Unit.Difference()))
	}
	return &answer.Head{Lists: []answer.List{over, show, spread}, Texts: []string{"verdict", "error", "note"}}
}

func numberColumn(name string, u units.Unit) answer.Column {
	c := answer.Column{Name: name, Unit: u.Symbol, Header: header(name, u)}
	if u.Kind == units.Date {
		c.Text = units.FormatDate
	}
	return c
}

// NewRow is a row under the head of a sweep.
func NewRow() *answer.Row { return &answer.Row{Lists: make([][]float64, 3), Texts: make([]string, 3)} }

// FillRow puts row i of a block into one of NewRow: the values, their spreads, the
// verdict of the case, its errors, and what keeps it from passing.
func (s Layout) FillRow(row *answer.Row, r *calc.Rows, i int) {
	for k := range row.Lists {
		row.Lists[k] = row.Lists[k][:0]
	}
	for _, values := range r.Over {
		row.Lists[0] = append(row.Lists[0], values[i])
	}
	one := &r.Cases[i]
	for k, values := range r.Show {
		row.Lists[1] = append(row.Lists[1], values[i])
		row.Lists[2] = append(row.Lists[2], one.Values[k].Spread)
	}
	var faults []string
	for k := range one.Values {
		if j := &one.Values[k]; j.Error != "" {
			faults = append(faults, j.Quantity.Name+": "+j.Error)
		}
	}
	row.Texts[0], row.Texts[1] = one.Verdict.String(), strings.Join(faults, "; ")
	row.Texts[2] = strings.Join(s.caseRemark(one), "; ")
}

// sweepTable lays out a sweep over one given: a row for each of its values.
// Errors of the limits and spreads of these go to the failures.
func (s Layout) sweepTable(sweep *calc.Sweep, failures *calc.Failures) []table.Table {
	over := sweep.Over[0]
	cases := make([]int, min(over.N, MostRows))
	for i := range cases {
		cases[i] = i
	}
	result := sweep.JudgeRun(cases, failures)
	result.Sheet.Key.Text = HeaderBelow(over.Quantity.Name, over.Unit)
	for i := range result.Cases {
		result.Cases[i].Name = s.RangeValue(over, i)
	}
	t := s.caseTable(result)
	t.Title = "over " + over.Quantity.Name
	if !over.IsText() {
		t.Columns[0].Align = table.Decimal
	}
	if over.N > len(cases) {
		t.Note = cutNote(len(cases), over.N)
	}
	return append([]table.Table{t}, s.beyondLimits(sweep, cases, result)...)
}

// beyondLimits is where a swept given is beyond limits of its own, such as a
// rating, with the cautions that belong to it.
func (s Layout) beyondLimits(sweep *calc.Sweep, cases []int, result calc.CaseResult) []table.Table {
	if lines := s.BeyondLines(sweep, cases, result); len(lines) > 0 {
		return []table.Table{s.Sentences(2, lines...)}
	}
	return nil
}

// BeyondLines are the sentences of beyondLimits.
func (s Layout) BeyondLines(sweep *calc.Sweep, cases []int, result calc.CaseResult) []string {
	var lines []string
	value := len(sweep.Show)
	for k, over := range sweep.Over {
		if over.IsText() {
			continue
		}
		var beyond []string
		told := make(map[int]bool)
		for i, c := range cases {
			n := sweep.Index(k, c)
			if result.Cases[i].Values[value].Verdict == calc.Fail && !told[n] {
				told[n] = true
				beyond = append(beyond, s.RangeText(over, n))
			}
		}
		value++
		if len(beyond) > 0 {
			lines = append(lines, fmt.Sprintf("%s itself is beyond its limits at %s.", over.Quantity.Name,
				words.Listed(beyond, MostNames)))
		}
	}
	if len(lines) == 0 {
		return nil
	}
	return append(lines, Cautions)
}

// Besides names what is not shown and yet makes cases of a grid fail or unsure,
// "" if nothing does.
func (s Layout) Besides(sweep *calc.Sweep, result calc.CaseResult) string {
	var names []string
	counts := map[string]map[calc.Verdict]int{}
	for _, c := range result.Cases {
		for i := len(sweep.Show); i < len(c.Values); i++ {
			j := &c.Values[i]
			name := j.Quantity.Name
			if j.Verdict < calc.Unsure || sweep.IsOver(j.Quantity) {
				continue
			}
			if counts[name] == nil {
				counts[name] = map[calc.Verdict]int{}
				names = append(names, name)
			}
			counts[name][j.Verdict]++
		}
	}
	for i, name := range names {
		var parts []string
		for _, v := range []calc.Verdict{calc.Fail, calc.Unsure} {
			if n := counts[name][v]; n > 0 {
				parts = append(parts, fmt.Sprintf("%s in %d", v, n))
			}
		}
		names[i] = name + " (" + strings.Join(parts, ", ") + ")"
	}
	if len(names) == 0 {
		return ""
	}
	return "judged as well: " + words.Listed(names, MostNames)
}

// RangeValue prints one value of a range.
func (s Layout) RangeValue(g *calc.Range, i int) string {
	if g.IsText() {
		return Printable(g.Text(i))
	}
	return s.Numbers.TypedOn(g.Unit, g.Value(i), NoSpread)
}

// RangeText is RangeValue with its unit.
func (s Layout) RangeText(g *calc.Range, i int) string {
	if g.IsText() {
		return s.RangeValue(g, i)
	}
	return Beside(s.RangeValue(g, i), g.Unit)
}

// mostAcross is how many columns of a grid are shown.
const mostAcross = 100

// sweepGrids lays out a sweep over two givens: a grid for each shown quantity,
// the first given down and the second across.
func (s Layout) sweepGrids(sweep *calc.Sweep, failures *calc.Failures) []table.Table {
	down, across := sweep.Over[0], sweep.Over[1]
	rows, columns := min(down.N, MostRows), min(across.N, mostAcross)
	var cases []int
	for i := range rows {
		for j := range columns {
			cases = append(cases, i*across.N+j)
		}
	}
	result := sweep.JudgeRun(cases, failures)
	var tables []table.Table
	for k, q := range sweep.Show {
		t := table.Table{Title: header(q.Name, q.Unit) + " over " + down.Quantity.Name + " and " +
			header(across.Quantity.Name, across.Unit)}
		t.Columns = append(t.Columns, table.Column{Header: header(down.Quantity.Name, down.Unit), Align: table.Decimal})
		for j := range columns {
			t.Columns = append(t.Columns, table.Column{Header: s.RangeValue(across, j), Align: table.Decimal})
		}
		marks := map[calc.Verdict]bool{}
		for i := range rows {
			cells := []string{s.RangeValue(down, i)}
			for j := range columns {
				values := result.Cases[i*columns+j].Values
				v := &values[k]
				mark, besides := v.Verdict, values[len(sweep.Show):]
				if mark == calc.NoVerdict { // the mark of a limit that is shown would stand in its own table only
					besides = values
				}
				for b := range besides { // beyond any limit nothing passes
					mark = max(mark, besides[b].Verdict)
				}
				marks[mark] = true
				cells = append(cells, s.gridCell(v, mark))
			}
			t.Rows = append(t.Rows, table.Row{Cells: cells})
		}
		t.Note = markNote(marks)
		if rows < down.N || columns < across.N {
			t.Note = strings.TrimPrefix(
				t.Note+"\n"+fmt.Sprintf("%d of %d rows and %d of %d columns; --format csv or json gives all",
					rows, down.N, columns, across.N), "\n")
		}
		tables = append(tables, t)
	}
	if line := s.Besides(sweep, result); line != "" {
		s.addNote(&tables[len(tables)-1], line)
	}
	return append(tables, s.beyondLimits(sweep, cases, result)...)
}

// verdictMarks stand behind a number in a grid, where there is no room for the
// word.
var verdictMarks = map[calc.Verdict]string{calc.Fail: " x", calc.Unsure: " ?"}

func (s Layout) gridCell(v *calc.Judged, mark calc.Verdict) string {
	switch {
	case v.Error != "":
		return "error" + verdictMarks[mark]
	case v.Verdict == calc.Open:
		return v.Verdict.String()
	}
	return s.ValueText(v) + verdictMarks[mark]
}

// markNote explains the marks that occur.
func markNote(marks map[calc.Verdict]bool) string {
	var parts []string
	for _, v := range []calc.Verdict{calc.Fail, calc.Unsure} {
		if marks[v] {
			parts = append(parts, strings.TrimSpace(verdictMarks[v])+" "+v.String())
		}
	}
	return strings.Join(parts, ", ")
}
