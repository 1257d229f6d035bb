package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/sheets/table"
	"rambook/units"
)

type compareCommand struct {
	Sheet string `arg:"" complete:"cases" help:"The case sheet, such as pumps."`
	notebookFlags
	By     string   `complete:"quantity" placeholder:"NAME" help:"What to rank by. Default: the first with a limit that says whether more or less is better."`
	Most   bool     `help:"More of --by is better, whatever its limits."`
	Least  bool     `help:"Less of --by is better, whatever its limits."`
	In     string   `complete:"cases" placeholder:"SHEET" help:"Another case sheet: every case is put into every one of its cases, and the best of each and over all are told."`
	Weight string   `placeholder:"COLUMN" help:"With --in: the column of that sheet that its cases weigh by. Default: alike."`
	Where  string   `placeholder:"CONDITION" help:"Only cases that meet a condition over their columns and the notebook, such as \"price < 2500\"."`
	Plot   bool     `help:"Hold two numbers against each other, drawn with characters; the unbeaten are named. With -o FILE.svg or FILE.png a picture is drawn."`
	Show   []string `complete:"quantity" placeholder:"NAME" help:"What to show: formulas, givens or number columns of the sheet, a quantity in another unit as \"heat in hp_mech\", or an expression. Default: all that the sheet asks for."`
	watchFlags
	outputFlags
}

func (compareCommand) Help() string {
	return "A low limit means that more is better, a high limit that less is; without one a note that says `less is better` or `more is better`. A case is unbeaten if no other one is as good in all that is shown " +
		"and has such a direction, and better in one. " +
		"A case gets the verdict that check gives it, whatever is shown; one that fails or is open comes last, " +
		"without a rank. The spread of a difference to the best counts what both cases have in common once. Exit status 1: a case fails or could not be computed. Example:\n\n" +
		"  rambook compare pumps --by cost mypumps\n" +
		"  rambook compare pumps --by flow --most --show flow,rms_power,heat mypumps\n" +
		"  rambook compare pumps --in duty --by shaft_energy --least mypumps"
}

// Run ranks the cases.
func (c *compareCommand) Run(s *session) error {
	if c.Watch {
		return s.watch(c.Path, func() error { return c.once(s) })
	}
	return c.once(s)
}

func (c *compareCommand) once(s *session) error {
	model, err := c.load()
	if err != nil {
		return err
	}
	model, show, err := c.showing(model, c.Show)
	if err != nil {
		return err
	}
	opt := calc.CompareOptions{By: c.By, Show: show, Most: c.Most, Least: c.Least}
	if c.Path != "" && c.Path != "." {
		opt.Path = quoteArgument(c.Path)
	}
	opt.Where = c.Where
	switch {
	case c.In != "":
		return c.runCrossed(s, model, opt)
	case c.Weight != "":
		return problem("--weight goes with --in", "the cases of another sheet are weighed")
	}
	comparison, problems := model.Compare(c.Sheet, opt)
	if len(problems) > 0 {
		return refused(model, problems)
	}
	layout := s.screen()
	if c.wantsFigure(s) {
		err = c.draw(s, model, layout.comparisonFigure(comparison))
	} else {
		err = s.answer(&answer.Answer{
			Title:  c.title(model),
			Page:   func() []table.Table { return layout.comparison(comparison) },
			Rows:   func() table.Table { return rankingTable(comparison) },
			Object: func() any { return newJSONComparison(comparison) },
		})
	}
	if err != nil {
		return err
	}
	return s.finishComparison(model, comparison)
}

// finishComparison tells what went wrong beside the ranking, and whether a case
// fails.
func (s *session) finishComparison(model *calc.Model, comparison *calc.Comparison) error {
	printWarnings(s.stderr, model.Warnings)
	printProblems(s.stderr, "", comparison.Failures)
	if len(comparison.Failures) > 0 || slices.ContainsFunc(comparison.Rows,
		func(r calc.ComparedCase) bool { return r.Verdict == calc.Fail }) {
		return errFails
	}
	return nil
}

// comparison lays the cases out side by side: the rank, what they are ranked
// by and how far from the best they are, and whatever else is shown.
func (s screen) comparison(c *calc.Comparison) []table.Table {
	by := c.Shown[c.By]
	t := table.Table{Title: fmt.Sprintf("%s by %s, %s is better", c.Sheet.Name, by.Name,
		map[int]string{1: "more", -1: "less"}[c.Better[c.By]])}
	rows := c.Rows[:s.cut(&t, len(c.Rows))]
	t.Rows = make([]table.Row, len(rows))
	column := func(head string, align table.Align, text func(*calc.ComparedCase) string) {
		cells := make([]string, len(rows))
		for i := range rows {
			cells[i] = text(&rows[i])
		}
		s.addColumn(&t, head, align, cells)
	}
	value := func(k int) {
		head := c.Shown[k].Name
		if len(rows) > 0 {
			head = headerBelow(head, rows[0].Shown[k].Unit)
		}
		column(head, table.Decimal, func(r *calc.ComparedCase) string { return s.judgedWithSpread(&r.Shown[k]) })
	}
	column(c.Sheet.Key.Text, table.Left, func(r *calc.ComparedCase) string { return printable(r.Name) })
	column("rank", table.Decimal, func(r *calc.ComparedCase) string { return rankText(r) })
	value(c.By)
	column(strings.TrimSuffix("to best\n"+differenceUnit(c), "\n"), table.Decimal,
		func(r *calc.ComparedCase) string { return s.toBest(c, r) })
	column("to best\n%", table.Decimal, func(r *calc.ComparedCase) string { return percentText(r) })
	for k := range c.Shown {
		if k != c.By {
			value(k)
		}
	}
	column("unbeaten", table.Left, func(r *calc.ComparedCase) string { return map[bool]string{true: "yes"}[r.Unbeaten] })
	column(verdictHeader, table.Left, func(r *calc.ComparedCase) string { return r.Verdict.String() })
	tables := []table.Table{t}
	if lines := s.comparisonLines(c); len(lines) > 0 {
		tables = append(tables, s.sentences(2, lines...))
	}
	return tables
}

// comparisonLines is which cases may be as good as the best, which ranked
// ones are unsure and why others have no rank, for what makes it so need not be
// shown.
func (s screen) comparisonLines(c *calc.Comparison) []string {
	var near, unsure, last []string
	fails := false
	for i := range c.Rows {
		r := &c.Rows[i]
		remark := fmt.Sprintf("%s (%s)", printable(r.Name), listed(s.concerns(&r.Case), 2))
		switch {
		case r.Rank == 0:
			last = append(last, remark)
			fails = fails || r.Verdict == calc.Fail
		case r.Verdict == calc.Unsure:
			unsure = append(unsure, remark)
		}
		if r.MayBeBest {
			near = append(near, printable(r.Name))
		}
	}
	var lines []string
	if len(near) > 0 {
		lines = append(lines, "Not told apart from the best: "+listed(near, mostNames))
	}
	if len(unsure) > 0 {
		lines = append(lines, "Ranked, though not sure to pass: "+listed(unsure, mostNames))
	}
	if len(last) > 0 {
		lines = append(lines, "Without a rank: "+listed(last, mostNames))
	}
	if fails {
		lines = append(lines, cautions)
	}
	return lines
}

func rankText(r *calc.ComparedCase) string {
	if r.Rank == 0 {
		return ""
	}
	return strconv.Itoa(r.Rank)
}

// concerns is which values keep a case from passing, worst first.
func (s screen) concerns(c *calc.Case) []string {
	n := 0
	for i := range c.Values {
		if c.Values[i].Verdict > calc.Pass {
			n++
		}
	}
	return s.caseRemark(c)[:n] // what follows does not bear on the verdict
}

// differenceUnit is the unit of the differences to the best.
func differenceUnit(c *calc.Comparison) string {
	if len(c.Rows) == 0 {
		return ""
	}
	return stepUnit(c.Rows[0].Shown[c.By].Unit)
}

// toBest prints how far a case is from the best in what they are ranked by: to
// the digits of the spread of that, or to those of the values.
func (s screen) toBest(c *calc.Comparison, r *calc.ComparedCase) string {
	spread := s.numbers.spread(r.Difference, r.Spread)
	if !calc.Has(r.Difference) || r.Difference == 0 && spread == "" {
		return ""
	}
	j, size := &r.Shown[c.By], math.Abs(r.Difference)
	text := s.numbers.computed(size, r.Spread)
	switch {
	case spread != "":
	case j.Unit.Kind == units.Date:
		text = s.numbers.trimmed(size)
	default:
		text = s.size(j, size)
	}
	return plusMinus(map[int]string{1: "+", -1: "-"}[cmp.Compare(r.Difference, 0)]+text, spread)
}

func percentText(r *calc.ComparedCase) string {
	if !calc.Has(r.Percent) || r.Rank == 1 {
		return ""
	}
	return strconv.FormatFloat(r.Percent, 'f', 1, 64)
}

// rankingTable holds the comparison for CSV, with exact numbers.
func rankingTable(c *calc.Comparison) table.Table {
	t := table.Table{Columns: []table.Column{{Header: "rank"}, {Header: c.Sheet.Key.Text}}}
	for k, q := range c.Shown {
		unit := q.Unit
		if len(c.Rows) > 0 {
			unit = c.Rows[0].Shown[k].Unit
		}
		t.Columns = append(t.Columns, table.Column{Header: header(q.Name, unit)})
	}
	for _, head := range []string{"difference", "difference_spread", "percent", "unbeaten", "verdict"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	for i := range c.Rows {
		r := &c.Rows[i]
		cells := []string{rankText(r), r.Name}
		for k := range r.Shown {
			x, _, _ := r.Shown[k].Subject()
			cells = append(cells, exact(r.Shown[k].Unit, x))
		}
		t.Rows = append(t.Rows, table.Row{Cells: append(cells, shortest(r.Difference), shortest(r.Spread),
			shortest(r.Percent),
			strconv.FormatBool(r.Unbeaten), r.Verdict.String())})
	}
	return t
}

type jsonCompared struct {
	Case       string               `json:"case"`
	Rank       int                  `json:"rank,omitempty"`
	Difference any                  `json:"difference,omitzero"`
	Spread     any                  `json:"difference_spread,omitzero"`
	Percent    any                  `json:"percent,omitzero"`
	Values     map[string]jsonValue `json:"values"`
	Unbeaten   bool                 `json:"unbeaten"`
	Verdict    string               `json:"verdict,omitempty"`
}

type jsonComparison struct {
	Sheet string         `json:"sheet"`
	By    string         `json:"by"`
	Rows  []jsonCompared `json:"rows"`
}

func newJSONComparison(c *calc.Comparison) jsonComparison {
	out := jsonComparison{Sheet: c.Sheet.Name, By: c.Shown[c.By].Name, Rows: []jsonCompared{}}
	for i := range c.Rows {
		r := &c.Rows[i]
		out.Rows = append(out.Rows, jsonCompared{r.Name, r.Rank, plain(r.Difference), plain(r.Spread), plain(r.Percent),
			newJSONValues(r.Shown), r.Unbeaten, r.Verdict.String()})
	}
	return out
}
