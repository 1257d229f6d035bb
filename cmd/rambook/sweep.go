package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/sheets/table"
	"rambook/units"
)

type sweepCommand struct {
	caseFlags
	Over []string `sep:"none" required:"" placeholder:"\"NAME = RANGE\"" help:"The given to change, and its values: A to B by STEP UNIT, A to B in N steps UNIT, or A, B, C UNIT. Twice for a grid."`
	Show []string `complete:"quantity" placeholder:"NAME" help:"What to show: quantities, one in another unit as \"heat in hp_mech\", or an expression as \"specific = heat/flow in kJ/L\". Default: the formulas with a limit that depend on what is changed."`
	Plot bool     `help:"Draw with characters in place of a table. With -o FILE.svg or FILE.png a picture is drawn."`
	watchFlags
	outputFlags
}

func (sweepCommand) Help() string {
	return "The end of a range counts. Without a unit the values are in the unit of the given's row. A value beyond its limits is shown, " +
		"with a verdict, and is no failure: exit status 1 means that a case could not be computed. CSV and JSON " +
		"hold the spread, the verdict, the error and the note of every case. Example:\n\n" +
		"  rambook sweep --over \"setting = 5 to 25 by 2.5 MPa\" --show force,reserve mypress\n" +
		"  rambook sweep --over \"bore = 150, 160, 170 mm\" --over \"setting = 15 to 25 in 4 steps MPa\" --show force\n" +
		"  rambook sweep --over \"setting = 15 to 25 in 4 steps MPa\" --show \"force in ustonf,share = force/gross_force in %\" mypress\n" +
		"  rambook sweep --over \"setting = 5 to 25 in 10000 steps\" --show force -o force.csv\n" +
		"  rambook sweep --over \"setting = 5 to 25 by 2.5 MPa\" --show force,reserve --plot mypress\n" +
		"  rambook sweep --over \"setting = 5 to 25 in 40 steps MPa\" --show force,reserve -o force.svg mypress"
}

// Run computes the model for all values and shows a table, a grid, or a stream
// of rows.
func (c *sweepCommand) Run(s *session) error {
	if c.Watch {
		return s.watch(c.Path, func() error { return c.once(s) })
	}
	return c.once(s)
}

func (c *sweepCommand) once(s *session) error {
	var names []string
	for _, over := range c.Over {
		name, _, _ := strings.Cut(over, "=")
		names = append(names, strings.TrimSpace(name))
	}
	model, err := c.loadAround(names...)
	if err != nil {
		return err
	}
	model, show, err := c.showing(model, c.Show, names...)
	if err != nil {
		return err
	}
	sweep, problems := model.Sweep(c.Over, show)
	if len(problems) > 0 {
		return refused(model, problems)
	}
	printWarnings(s.stderr, append(model.Warnings, sweep.Warnings...))
	if sweep.NoLimit {
		fmt.Fprintf(s.stderr, "no formula that depends on %s has a limit, so all of them are shown; --show chooses\n",
			overNames(sweep))
	}
	if len(sweep.LeftOut) > 0 {
		fmt.Fprintf(s.stderr, "left out, being open: %s; --show shows them\n", listed(quantityNames(sweep.LeftOut), 4))
	}
	switch {
	case c.wantsFigure(s):
	case s.form.Stream != nil:
		return s.stream(func(ctx context.Context, w io.Writer) error { return s.sendRows(ctx, w, sweep) })
	case s.form.Exact:
		return s.sendWhole(sweep)
	}
	ctx, stop := s.untilInterrupted()
	defer stop()
	failures, err := s.runSweep(ctx, sweep, func(*calc.Rows) {}, func(*calc.Rows) error { return nil })
	if ctx.Err() != nil {
		return interrupted(s)
	}
	if err != nil {
		return err
	}
	layout := s.screen()
	tables := layout.sweepGrids
	if len(sweep.Over) == 1 {
		tables = layout.sweepTable
	}
	if c.wantsFigure(s) {
		err = c.draw(s, model, sweep, &failures)
	} else {
		err = s.answer(&answer.Answer{
			Title: c.title(model),
			Page:  func() []table.Table { return tables(sweep, &failures) },
		})
	}
	if err != nil {
		return err
	}
	return s.tellFailures(failures)
}

func overNames(sweep *calc.Sweep) string {
	var names []string
	for _, over := range sweep.Over {
		names = append(names, over.Quantity.Name)
	}
	return listed(names, len(names))
}

// runSweep computes all cases, and shows how far it is if that takes long.
func (s *session) runSweep(ctx context.Context, sweep *calc.Sweep, format func(*calc.Rows),
	emit func(*calc.Rows) error) (calc.Failures, error) {
	progress := s.newProgress(sweep.Cases())
	defer progress.end()
	return sweep.Run(ctx, 0, format, func(r *calc.Rows) error {
		progress.add(r.N)
		return emit(r)
	})
}

// tellFailures tells about the errors of single cases, the first few in full.
func (s *session) tellFailures(failures calc.Failures) error {
	if failures.Cases == 0 {
		return nil
	}
	printProblems(s.stderr, "", failures.First)
	fmt.Fprintf(s.stderr, "%s could not be computed\n", counted(failures.Cases, "case"))
	return errFails
}

// rowHead is the head of the rows of a sweep.
func rowHead(sweep *calc.Sweep) *answer.Head {
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

// sendRows writes the rows in their order while they are computed. They are
// judged and formatted where they are computed, so that this uses every core as well.
func (s *session) sendRows(ctx context.Context, w io.Writer, sweep *calc.Sweep) error {
	rows := s.form.Stream(rowHead(sweep))
	layout := screen{numbers: s.output.numbers(), width: unbounded}
	sweep.Judges = true
	if _, err := io.WriteString(w, rows.Begin); err != nil {
		return err
	}
	failures, err := s.runSweep(ctx, sweep, func(r *calc.Rows) {
		row := newRow()
		for i := range r.N {
			layout.fillRow(row, r, i)
			r.Text = rows.Row(r.Text, r.First+i == 0, row)
		}
	}, func(r *calc.Rows) error {
		_, err := w.Write(r.Text)
		return err
	})
	if err != nil {
		return err
	}
	if _, err := io.WriteString(w, rows.End); err != nil {
		return err
	}
	return s.tellFailures(failures)
}

// sendWhole gives the rows to a format that is written in one piece.
func (s *session) sendWhole(sweep *calc.Sweep) error {
	ctx, stop := s.untilInterrupted()
	defer stop()
	head := rowHead(sweep)
	t := head.Table("sweep")
	row, layout := newRow(), screen{numbers: s.output.numbers(), width: unbounded}
	sweep.Judges = true
	failures, err := s.runSweep(ctx, sweep, func(*calc.Rows) {}, func(r *calc.Rows) error {
		for i := range r.N {
			layout.fillRow(row, r, i)
			t.Rows = append(t.Rows, table.Row{Cells: head.Cells(row)})
		}
		return nil
	})
	switch {
	case ctx.Err() != nil:
		return interrupted(s)
	case err != nil:
		return err
	}
	if err := s.answer(&answer.Answer{Rows: func() table.Table { return t }}); err != nil {
		return err
	}
	return s.tellFailures(failures)
}

// newRow is a row under a head of rowHead.
func newRow() *answer.Row { return &answer.Row{Lists: make([][]float64, 3), Texts: make([]string, 3)} }

// fillRow puts row i of a block into one that rowHead heads: the values, their
// spreads, the verdict of the case, its errors, and what keeps it from passing.
func (s screen) fillRow(row *answer.Row, r *calc.Rows, i int) {
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
func (s screen) sweepTable(sweep *calc.Sweep, failures *calc.Failures) []table.Table {
	over := sweep.Over[0]
	cases := make([]int, min(over.N, mostRows))
	for i := range cases {
		cases[i] = i
	}
	result := sweep.JudgeRun(cases, failures)
	result.Sheet.Key.Text = headerBelow(over.Quantity.Name, over.Unit)
	for i := range result.Cases {
		result.Cases[i].Name = s.rangeValue(over, i)
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
func (s screen) beyondLimits(sweep *calc.Sweep, cases []int, result calc.CaseResult) []table.Table {
	if lines := s.beyondLines(sweep, cases, result); len(lines) > 0 {
		return []table.Table{s.sentences(2, lines...)}
	}
	return nil
}

// beyondLines are the sentences of beyondLimits.
func (s screen) beyondLines(sweep *calc.Sweep, cases []int, result calc.CaseResult) []string {
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
				beyond = append(beyond, s.rangeText(over, n))
			}
		}
		value++
		if len(beyond) > 0 {
			lines = append(lines, fmt.Sprintf("%s itself is beyond its limits at %s.", over.Quantity.Name,
				listed(beyond, mostNames)))
		}
	}
	if len(lines) == 0 {
		return nil
	}
	return append(lines, cautions)
}

// besides names what is not shown and yet makes cases of a grid fail or unsure,
// "" if nothing does.
func (s screen) besides(sweep *calc.Sweep, result calc.CaseResult) string {
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
	return "judged as well: " + listed(names, mostNames)
}

// rangeValue prints one value of a range.
func (s screen) rangeValue(g *calc.Range, i int) string {
	if g.IsText() {
		return printable(g.Text(i))
	}
	return s.numbers.typedOn(g.Unit, g.Value(i), noSpread)
}

// rangeText is rangeValue with its unit.
func (s screen) rangeText(g *calc.Range, i int) string {
	if g.IsText() {
		return s.rangeValue(g, i)
	}
	return beside(s.rangeValue(g, i), g.Unit)
}

// mostAcross is how many columns of a grid are shown.
const mostAcross = 100

// sweepGrids lays out a sweep over two givens: a grid for each shown quantity,
// the first given down and the second across.
func (s screen) sweepGrids(sweep *calc.Sweep, failures *calc.Failures) []table.Table {
	down, across := sweep.Over[0], sweep.Over[1]
	rows, columns := min(down.N, mostRows), min(across.N, mostAcross)
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
			t.Columns = append(t.Columns, table.Column{Header: s.rangeValue(across, j), Align: table.Decimal})
		}
		marks := map[calc.Verdict]bool{}
		for i := range rows {
			cells := []string{s.rangeValue(down, i)}
			for j := range columns {
				values := result.Cases[i*columns+j].Values
				v := &values[k]
				mark := v.Verdict
				for _, given := range values[len(sweep.Show):] { // beyond a limit of its own nothing passes
					mark = max(mark, given.Verdict)
				}
				marks[mark] = true
				cells = append(cells, s.gridCell(v, mark))
			}
			t.Rows = append(t.Rows, table.Row{Cells: cells})
		}
		t.Note = markNote(marks)
		if rows < down.N || columns < across.N {
			t.Note = strings.TrimPrefix(t.Note+"\n"+fmt.Sprintf("%d of %d rows and %d of %d columns; --format csv or json gives all",
				rows, down.N, columns, across.N), "\n")
		}
		tables = append(tables, t)
	}
	if line := s.besides(sweep, result); line != "" {
		s.addNote(&tables[len(tables)-1], line)
	}
	return append(tables, s.beyondLimits(sweep, cases, result)...)
}

// verdictMarks stand behind a number in a grid, where there is no room for the
// word.
var verdictMarks = map[calc.Verdict]string{calc.Fail: " x", calc.Unsure: " ?"}

func (s screen) gridCell(v *calc.Judged, mark calc.Verdict) string {
	switch {
	case v.Error != "":
		return "error" + verdictMarks[mark]
	case v.Verdict == calc.Open:
		return v.Verdict.String()
	}
	return s.value(v) + verdictMarks[mark]
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
