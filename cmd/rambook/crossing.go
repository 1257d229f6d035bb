package main

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/chart"
	"rambook/sheets"
	"rambook/sheets/table"
	told "rambook/units/problem"
)

// crossed loads the notebook with the sheet of all cases of one sheet in those of
// another.
func (f notebookFlags) crossed(model *calc.Model, first, second string) (*calc.Model, error) {
	sheet, problems := model.Cross(first, second)
	if sheet == nil {
		return nil, refused(model, problems)
	}
	return f.widened(model, sheet)
}

// runCrossed compares every case of one sheet in every case of another.
func (c *compareCommand) runCrossed(s *session, model *calc.Model, opt calc.CompareOptions) error {
	wider, err := c.crossed(model, c.Sheet, c.In)
	if err != nil {
		return err
	}
	x, problems := wider.CompareCrossed(c.Sheet, c.In, c.Weight, opt)
	if x == nil {
		return refused(wider, problems)
	}
	view := crossingView{x, s.screen()}
	if c.wantsFigure(s) {
		err = c.draw(s, model, view.comparisonFigure(x.Comparison))
	} else {
		err = s.answer(&answer.Answer{Title: c.title(model), Page: view.page, Rows: view.rows,
			Object: func() any { return view.object() }})
	}
	if err != nil {
		return err
	}
	return s.finishComparison(model, x.Comparison)
}

// crossingView puts a crossing into tables.
type crossingView struct {
	*calc.Crossing
	screen
}

func (v crossingView) first(a int) string  { return printable(v.First.Cases[a].Name.Text) }
func (v crossingView) second(b int) string { return printable(v.Second.Cases[b].Name.Text) }

// page is what is best in each case of the second sheet, then all of the first over
// all of them.
func (v crossingView) page() []table.Table {
	by := v.Shown[v.By]
	better := map[int]string{1: "more", -1: "less"}[v.Better[v.By]]
	var left []int // cases of the second sheet that --where leaves something of
	for b := range v.Best {
		if slices.ContainsFunc(v.Cells, func(row []*calc.ComparedCase) bool { return row[b] != nil }) {
			left = append(left, b)
		}
	}
	best := table.Table{Title: fmt.Sprintf("best of %s in each of %s by %s, %s is better", printable(v.First.Name),
		printable(v.Second.Name), by.Name, better), Rows: make([]table.Row, len(left))}
	over := table.Table{Title: fmt.Sprintf("%s over all of %s", printable(v.First.Name), printable(v.Second.Name)),
		Rows: make([]table.Row, len(v.Overall))}
	if len(v.Rows) == 0 {
		return []table.Table{v.sentences(2, "No case is left.")}
	}
	unit := v.Rows[0].Shown[v.By].Unit
	perCase := func(head string, align table.Align, text func(b int) string) {
		cells := make([]string, len(left))
		for i, b := range left {
			cells[i] = text(b)
		}
		v.addColumn(&best, head, align, cells)
	}
	perCase(v.Second.Key.Text, table.Left, v.second)
	perCase("best", table.Left, func(b int) string {
		if v.Best[b] < 0 {
			return "none passes"
		}
		return v.first(v.Best[b])
	})
	perCase(headerBelow(by.Name, unit), table.Decimal, func(b int) string {
		if v.Best[b] < 0 {
			return ""
		}
		return v.judgedWithSpread(&v.Cells[v.Best[b]][b].Shown[v.By])
	})
	if v.WeightName != "" {
		perCase(v.WeightName, table.Decimal, func(b int) string {
			return v.numbers.trimmed(v.Weights[b] / slices.Max(v.Weights) * 100)
		})
		best.Columns[len(best.Columns)-1].Header = v.WeightName + "\n% of the largest"
	}

	overall := func(head string, align table.Align, text func(t *calc.CrossTotal) string) {
		cells := make([]string, len(v.Overall))
		for i := range cells {
			cells[i] = text(&v.Overall[i])
		}
		v.addColumn(&over, head, align, cells)
	}
	overall(v.First.Key.Text, table.Left, func(t *calc.CrossTotal) string { return v.first(t.Case) })
	overall("rank", table.Decimal, func(t *calc.CrossTotal) string {
		if t.Rank == 0 {
			return ""
		}
		return strconv.Itoa(t.Rank)
	})
	overall(headerBelow("mean "+by.Name, unit), table.Decimal, func(t *calc.CrossTotal) string {
		if !calc.Has(t.Value) {
			return ""
		}
		return plusMinus(v.numbers.computed(t.Value, t.Spread), v.numbers.spread(t.Value, t.Spread))
	})
	marks := map[calc.Verdict]bool{}
	for _, b := range left {
		overall(v.second(b), table.Decimal, func(t *calc.CrossTotal) string {
			r := v.Cells[t.Case][b]
			if r == nil {
				return ""
			}
			marks[r.Verdict] = true
			return v.gridCell(&r.Shown[v.By], r.Verdict)
		})
	}
	over.Note = markNote(marks)
	tables := []table.Table{best, over}
	if lines := v.lines(); len(lines) > 0 {
		tables = append(tables, v.sentences(2, lines...))
	}
	return tables
}

// lines are how the mean is made, and what has no rank and why.
func (v crossingView) lines() []string {
	weighed := "alike"
	if v.WeightName != "" {
		weighed = "by " + v.WeightName
	}
	lines := []string{"The mean is over all of " + printable(v.Second.Name) + ", weighed " + weighed +
		"; what fails in one of them has none."}
	var without []string
	fails := false
	for i := range v.Overall {
		t := &v.Overall[i]
		if len(t.Lacks) == 0 {
			continue
		}
		r := v.Cells[t.Case][t.Lacks[0]]
		fails = fails || r.Verdict == calc.Fail
		remark := fmt.Sprintf("%s in %s", listed(v.concerns(&r.Case), 1), v.second(t.Lacks[0]))
		if n := len(t.Lacks) - 1; n > 0 {
			remark += fmt.Sprintf(" and %d more", n)
		}
		without = append(without, fmt.Sprintf("%s (%s)", v.first(t.Case), remark))
	}
	if len(without) > 0 {
		lines = append(lines, "Without a rank: "+listed(without, mostNames))
	}
	if fails {
		lines = append(lines, cautions)
	}
	return lines
}

// rows holds each case in each, for programs.
func (v crossingView) rows() table.Table {
	t := table.Table{Columns: []table.Column{{Header: v.First.Key.Text}, {Header: v.Second.Key.Text}}}
	for k, q := range v.Shown {
		unit := q.Unit
		if len(v.Rows) > 0 {
			unit = v.Rows[0].Shown[k].Unit
		}
		t.Columns = append(t.Columns, table.Column{Header: header(q.Name, unit)},
			table.Column{Header: header(q.Name+" spread", unit.Difference())})
	}
	for _, head := range []string{"weight", "best", "verdict"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	for a := range v.Cells {
		for b, r := range v.Cells[a] {
			if r == nil {
				continue
			}
			cells := []string{v.First.Cases[a].Name.Text, v.Second.Cases[b].Name.Text}
			for k := range r.Shown {
				x, spread, _ := r.Shown[k].Subject()
				cells = append(cells, exact(r.Shown[k].Unit, x), shortest(spread))
			}
			t.Rows = append(t.Rows, table.Row{Cells: append(cells, shortest(v.Weights[b]),
				strconv.FormatBool(v.Best[b] == a), r.Verdict.String())})
		}
	}
	return t
}

type jsonCrossed struct {
	Case     string               `json:"case"`
	In       string               `json:"in"`
	Values   map[string]jsonValue `json:"values"`
	Best     bool                 `json:"best"`
	Unbeaten bool                 `json:"unbeaten"`
	Verdict  string               `json:"verdict,omitempty"`
}

type jsonTotal struct {
	Case   string   `json:"case"`
	Rank   int      `json:"rank,omitempty"`
	Value  any      `json:"value,omitzero"`
	Spread any      `json:"spread,omitzero"`
	Lacks  []string `json:"lacks"` // in which it fails or is open
}

type jsonCrossing struct {
	Sheet   string        `json:"sheet"`
	In      string        `json:"in"`
	By      string        `json:"by"`
	Weight  string        `json:"weight,omitempty"`
	Rows    []jsonCrossed `json:"rows"`
	Overall []jsonTotal   `json:"overall"`
}

func (v crossingView) object() jsonCrossing {
	out := jsonCrossing{Sheet: v.First.Name, In: v.Second.Name, By: v.Shown[v.By].Name, Weight: v.WeightName,
		Rows: []jsonCrossed{}, Overall: []jsonTotal{}}
	for a := range v.Cells {
		for b, r := range v.Cells[a] {
			if r != nil {
				out.Rows = append(out.Rows, jsonCrossed{v.First.Cases[a].Name.Text, v.Second.Cases[b].Name.Text,
					newJSONValues(r.Shown), v.Best[b] == a, r.Unbeaten, r.Verdict.String()})
			}
		}
	}
	for i := range v.Overall {
		t := &v.Overall[i]
		one := jsonTotal{v.First.Cases[t.Case].Name.Text, t.Rank, plain(t.Value), plain(t.Spread), []string{}}
		for _, b := range t.Lacks {
			one.Lacks = append(one.Lacks, v.Second.Cases[b].Name.Text)
		}
		out.Overall = append(out.Overall, one)
	}
	return out
}

// wantsFigure reports whether a comparison is to be drawn.
func (c *compareCommand) wantsFigure(s *session) bool {
	return c.Plot || !s.chosen && pictureOf(s.output.Output) != nil
}

// draw shows a comparison as a figure: in the file of -o if that is a picture,
// else with characters.
func (c *compareCommand) draw(s *session, model *calc.Model, figure *chart.Figure) error {
	if figure == nil || figure.Empty() {
		return problem("there is nothing to draw: two numbers of each case are held against each other",
			"name both, as in --show price,energy")
	}
	return s.showFigure(c.title(model), figure)
}

// comparisonFigure holds the first two numbers of each case against each other: what
// the cases are ranked by along, the other one up. The unbeaten are named.
func (s screen) comparisonFigure(c *calc.Comparison) *chart.Figure {
	other := slices.IndexFunc(c.Shown, func(q *calc.Quantity) bool { return q != c.Shown[c.By] })
	if other < 0 || len(c.Rows) == 0 {
		return nil
	}
	x, y := c.Shown[c.By], c.Shown[other]
	unitX, unitY := c.Rows[0].Shown[c.By].Unit, c.Rows[0].Shown[other].Unit
	f := &chart.Figure{Title: y.Name + " against " + x.Name, X: axisOf(x.Name, unitX)}
	panel := chart.Panel{Y: axisOf(y.Name, unitY)}
	front := chart.Series{Kind: chart.Computed, Label: "unbeaten"}
	cases := chart.Series{Kind: chart.Case, Label: "cases"}
	out := chart.Series{Kind: chart.Reading, Label: "fails or open"}
	var named []string
	for i := range c.Rows {
		r := &c.Rows[i]
		px, _, _ := r.Shown[c.By].Subject()
		py, spread, _ := r.Shown[other].Subject()
		point := chart.Point{X: px, Y: py, Spread: spread}
		switch {
		case r.Unbeaten && len(named) < mostNamedCases:
			name := printable(r.Name)
			named = append(named, name)
			front.Points = append(front.Points, chart.Point{X: px, Y: py, Spread: noSpread})
			cases.Points = append(cases.Points, point)
			f.Names = append(f.Names, chart.Name{Point: point, Text: name})
		case r.Rank == 0:
			out.Points = append(out.Points, point)
		default:
			cases.Points = append(cases.Points, point)
		}
	}
	slices.SortStableFunc(front.Points, func(a, b chart.Point) int { return cmp.Compare(a.X, b.X) })
	for _, series := range []chart.Series{front, cases, out} {
		if len(series.Points) > 0 {
			panel.Series = append(panel.Series, series)
		}
	}
	f.Panels = []chart.Panel{panel}
	f.About = fmt.Sprintf("%s of %s: no other case is as good in both as %s.", f.Title,
		counted(len(c.Rows), "case"), listed(named, len(named)))
	if len(named) == 0 {
		f.About = fmt.Sprintf("%s of %s; none takes part.", f.Title, counted(len(c.Rows), "case"))
	}
	return f
}

// comparisons are the chapter of a report that the sheets of comparisons ask for.
func (s screen) comparisons(how *paperOptions, model *calc.Model) (chapter, error) {
	c := chapter{Title: "Comparisons"}
	for _, sheet := range model.Book.Sheets {
		for i := range sheet.Comparisons {
			row := &sheet.Comparisons[i]
			if row.Compare.Blank() {
				continue
			}
			if err := s.comparison1(how, &c, model, sheet, row); err != nil {
				return c, err
			}
		}
	}
	return c, nil
}

// comparison1 does what one row of a sheet of comparisons asks for.
func (s screen) comparison1(how *paperOptions, c *chapter, model *calc.Model, sheet *sheets.Sheet,
	row *sheets.CompareRow) error {
	opt := calc.CompareOptions{By: row.By.Text, Where: row.Where.Text}
	switch strings.ToLower(row.Better.Text) {
	case "more", "most":
		opt.Most = true
	case "less", "least":
		opt.Least = true
	case "":
	default:
		return told.Wrong(sheet.Problem(row.Better, 0, len([]rune(row.Better.Text)), "`better` is more or less, or blank",
			""))
	}
	for name := range strings.FieldsFuncSeq(row.Show.Text, func(r rune) bool { return r == ',' || r == ' ' }) {
		opt.Show = append(opt.Show, name)
	}
	var tables []table.Table
	var compared *calc.Comparison
	if row.In.Blank() {
		comparison, problems := model.Compare(row.Compare.Text, opt)
		if comparison == nil {
			return told.Wrong(placedAt(sheet, row.Compare, problems)...)
		}
		compared, tables = comparison, s.comparison(comparison)
	} else {
		wider, err := how.Crossed(model, row.Compare.Text, row.In.Text)
		if err != nil {
			return err
		}
		x, problems := wider.CompareCrossed(row.Compare.Text, row.In.Text, row.Weight.Text, opt)
		if x == nil {
			return told.Wrong(placedAt(sheet, row.Compare, problems)...)
		}
		compared, tables = x.Comparison, crossingView{x, s}.page()
	}
	if !row.Note.Blank() {
		c.Lead = append(c.Lead, printable(row.Note.Text))
	}
	for _, t := range tables {
		if len(t.Columns) == 0 {
			c.Lead = append(c.Lead, strings.Split(t.Note, "\n")...)
		}
	}
	c.addTables(tables...)
	if f := s.comparisonFigure(compared); f != nil && !f.Empty() && len(compared.Shown) > 1 {
		c.Parts = append(c.Parts, part{Figure: &figurePart{Figure: f, Caption: []string{f.About}}})
	}
	return nil
}

// placedAt puts problems of a row's words to where they stand.
func placedAt(sheet *sheets.Sheet, cell sheets.Cell, problems []sheets.Problem) []sheets.Problem {
	placed := make([]sheets.Problem, len(problems))
	for i, p := range problems {
		placed[i] = sheet.Problem(cell, 0, len([]rune(cell.Text)), p.Message, p.Hint)
	}
	return placed
}
