package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/sheets/table"
	"rambook/units"
)

type sweepCommand struct {
	notebookFlags
	Over []string `sep:"none" required:"" placeholder:"\"NAME = RANGE\"" help:"The given to change, and its values: A to B by STEP UNIT, A to B in N steps UNIT, or A, B, C UNIT. Twice for a grid."`
	Show []string `complete:"quantity" placeholder:"NAME" help:"What to show. Default: the formulas with a limit that depend on what is changed."`
	Plot bool     `help:"Draw with characters in place of a table. With -o FILE.svg or FILE.png a picture is drawn."`
	outputFlags
}

func (sweepCommand) Help() string {
	return "The end of a range counts. Without a unit the values are in the unit of the given's row. A value beyond its limits is shown, " +
		"with a verdict, and is no failure: exit status 1 means that a case could not be computed. CSV and JSON " +
		"hold the spread, the verdict, the error and the note of every case. Example:\n\n" +
		"  rambook sweep --over \"setting = 5 to 25 by 2.5 MPa\" --show force,reserve mypress\n" +
		"  rambook sweep --over \"bore = 150, 160, 170 mm\" --over \"setting = 15 to 25 in 4 steps MPa\" --show force\n" +
		"  rambook sweep --over \"setting = 5 to 25 in 100000 steps\" --show force -o force.csv\n" +
		"  rambook sweep --over \"setting = 5 to 25 by 2.5 MPa\" --show force,reserve --plot mypress\n" +
		"  rambook sweep --over \"setting = 5 to 25 in 40 steps MPa\" --show force,reserve -o force.svg mypress"
}

// Run computes the model for all values and shows a table, a grid, or a stream
// of rows.
func (c *sweepCommand) Run(s *session) error {
	var names []string
	for _, over := range c.Over {
		name, _, _ := strings.Cut(over, "=")
		names = append(names, strings.TrimSpace(name))
	}
	model, err := c.loadAround(names...)
	if err != nil {
		return err
	}
	sweep, problems := model.Sweep(c.Over, c.Show)
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
	form, streams := rowForms[s.form.Name]
	if s.form.Name == "xlsx" && !c.wantsFigure(s) {
		return s.sendBook(sweep)
	}
	if streams && !c.wantsFigure(s) {
		return s.stream(func(ctx context.Context, w io.Writer) error { return s.sendRows(ctx, w, sweep, form) })
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

// rowForm is how a stream of rows is written.
type rowForm struct {
	begin  func(*calc.Sweep) string // before the first row
	row    func(columns sweepCells, to []byte, r *calc.Rows, i int) []byte
	text   func(string) string // a text or a date as the form writes it
	absent string              // what stands for a number that is open or failed
	end    string              // behind the last row
}

// sweepCells write the cells of a row.
type sweepCells struct {
	over, show []rowColumn
	layout     screen // of the notes
}

// judged is what a row says besides its values: the spreads of what is shown, the
// verdict of the case, its errors, and what keeps it from passing.
type judgedRow struct {
	spreads              []float64
	verdict, fault, note string
}

func (c sweepCells) judged(r *calc.Rows, i int) judgedRow {
	one := &r.Cases[i]
	row := judgedRow{verdict: one.Verdict.String(), note: strings.Join(c.layout.caseRemark(one), "; ")}
	for k := range c.show {
		row.spreads = append(row.spreads, one.Values[k].Spread)
	}
	var faults []string
	for k := range one.Values {
		if j := &one.Values[k]; j.Error != "" {
			faults = append(faults, j.Quantity.Name+": "+j.Error)
		}
	}
	row.fault = strings.Join(faults, "; ")
	return row
}

var rowForms = map[string]rowForm{
	"csv": {
		begin: csvHeader,
		row: func(c sweepCells, to []byte, r *calc.Rows, i int) []byte {
			to = appendCells(to, c.over, r.Over, i)
			to = append(to, ',')
			to = appendCells(to, c.show, r.Show, i)
			judged := c.judged(r, i)
			for _, spread := range judged.spreads {
				to = append(append(to, ','), shortest(spread)...)
			}
			for _, text := range []string{judged.verdict, judged.fault, judged.note} {
				to = append(to, ',')
				if text != "" {
					to = append(to, csvText(text)...)
				}
			}
			return append(to, '\n')
		},
		text: csvText,
	},
	"json": {
		begin: jsonHead,
		row: func(c sweepCells, to []byte, r *calc.Rows, i int) []byte {
			if r.First+i > 0 {
				to = append(to, ",\n"...)
			}
			to = append(to, `{"over":[`...)
			to = appendCells(to, c.over, r.Over, i)
			to = append(to, `],"show":[`...)
			to = appendCells(to, c.show, r.Show, i)
			to = append(to, `],"spread":[`...)
			judged := c.judged(r, i)
			for k, spread := range judged.spreads {
				if k > 0 {
					to = append(to, ',')
				}
				to = append(to, cmp.Or(shortest(spread), "null")...)
			}
			to = append(to, ']')
			for _, field := range []struct{ name, text string }{{"verdict", judged.verdict}, {"error", judged.fault},
				{"note", judged.note}} {
				if field.text != "" {
					to = append(to, `,"`+field.name+`":`+jsonText(field.text)...)
				}
			}
			return append(to, '}')
		},
		text:   jsonText,
		absent: "null",
		end:    "\n]}\n",
	},
}

// sendRows writes the rows in their order while they are computed. They are
// judged and formatted where they are computed, so that this uses every core as well.
func (s *session) sendRows(ctx context.Context, w io.Writer, sweep *calc.Sweep, form rowForm) error {
	columns := form.columns(sweep)
	columns.layout = screen{numbers: s.output.numbers(), width: unbounded}
	sweep.Judges = true
	if _, err := io.WriteString(w, form.begin(sweep)); err != nil {
		return err
	}
	failures, err := s.runSweep(ctx, sweep, func(r *calc.Rows) {
		for i := range r.N {
			r.Text = form.row(columns, r.Text, r, i)
		}
	}, func(r *calc.Rows) error {
		_, err := w.Write(r.Text)
		return err
	})
	if err != nil {
		return err
	}
	if _, err := io.WriteString(w, form.end); err != nil {
		return err
	}
	return s.tellFailures(failures)
}

// sendBook writes the rows as the sheet of a workbook, which is made in one piece.
func (s *session) sendBook(sweep *calc.Sweep) error {
	ctx, stop := s.untilInterrupted()
	defer stop()
	var text bytes.Buffer
	failed := s.sendRows(ctx, &text, sweep, rowForms["csv"])
	if ctx.Err() != nil {
		return interrupted(s)
	}
	if failed != nil && !errors.Is(failed, errFails) {
		return failed
	}
	records, err := csv.NewReader(&text).ReadAll()
	if err != nil {
		return err
	}
	t := table.Table{Title: "sweep"}
	for _, head := range records[0] {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	for _, record := range records[1:] {
		t.Rows = append(t.Rows, table.Row{Cells: record})
	}
	if err := s.answer(&answer.Answer{Rows: func() table.Table { return t }}); err != nil {
		return err
	}
	return failed
}

// rowColumn appends one cell of a column.
type rowColumn func(to []byte, x float64) []byte

func appendCells(to []byte, columns []rowColumn, values [][]float64, i int) []byte {
	for k, column := range columns {
		if k > 0 {
			to = append(to, ',')
		}
		to = column(to, values[k][i])
	}
	return to
}

// columns prepares the columns of a sweep in this form.
func (f rowForm) columns(sweep *calc.Sweep) (c sweepCells) {
	for _, g := range sweep.Over {
		if !g.IsText() {
			c.over = append(c.over, f.column(g.Unit))
			continue
		}
		texts := make([]string, g.N)
		for i := range texts {
			texts[i] = f.text(g.Text(i))
		}
		c.over = append(c.over, func(to []byte, x float64) []byte { return append(to, texts[int(x)]...) })
	}
	for _, q := range sweep.Show {
		c.show = append(c.show, f.column(q.Unit))
	}
	return c
}

// column writes numbers with the shortest text that reads back as the same
// float64, and dates as dates.
func (f rowForm) column(u units.Unit) rowColumn {
	return func(to []byte, x float64) []byte {
		switch {
		case math.IsNaN(x):
			return append(to, f.absent...)
		case u.Kind == units.Date:
			return append(to, f.text(units.FormatDate(x))...)
		}
		return strconv.AppendFloat(to, x, 'g', -1, 64)
	}
}

// csvHeader names the columns with their units.
func csvHeader(sweep *calc.Sweep) string {
	var cells []string
	for _, g := range sweep.Over {
		cells = append(cells, header(g.Quantity.Name, g.Unit))
	}
	for _, q := range sweep.Show {
		cells = append(cells, header(q.Name, q.Unit))
	}
	for _, q := range sweep.Show {
		cells = append(cells, header(q.Name+" spread", q.Unit.Difference()))
	}
	return csvRecord(append(cells, "verdict", "error", "note"))
}

func csvText(text string) string {
	return strings.TrimSuffix(csvRecord([]string{table.Harmless(text)}), "\n")
}

func csvRecord(cells []string) string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	_ = w.Write(cells) // a strings.Builder takes everything
	w.Flush()
	return b.String()
}

// jsonNamed is a column in the head of a JSON sweep.
type jsonNamed struct {
	Name string `json:"name"`
	Unit string `json:"unit"`
}

// jsonHead opens the object and its list of rows.
func jsonHead(sweep *calc.Sweep) string {
	var over, show []jsonNamed
	for _, g := range sweep.Over {
		over = append(over, jsonNamed{g.Quantity.Name, g.Unit.Symbol})
	}
	for _, q := range sweep.Show {
		show = append(show, jsonNamed{q.Name, q.Unit.Symbol})
	}
	return fmt.Sprintf("{\"over\":%s,\n\"show\":%s,\n\"rows\":[\n", jsonValueText(over), jsonValueText(show))
}

func jsonText(text string) string { return jsonValueText(text) }

// jsonValueText writes a value of texts alone, which cannot fail.
func jsonValueText(v any) string {
	var b bytes.Buffer
	encoder := json.NewEncoder(&b)
	encoder.SetEscapeHTML(false)
	_ = encoder.Encode(v)
	return strings.TrimSuffix(b.String(), "\n")
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

// beyondLimits says where a swept given is beyond limits of its own, such as a
// rating, with the cautions that belong to it.
func (s screen) beyondLimits(sweep *calc.Sweep, cases []int, result calc.CaseResult) []table.Table {
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
				beyond = append(beyond, beside(s.rangeValue(over, n), over.Unit))
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
	return []table.Table{s.sentences(2, append(lines, cautions)...)}
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
