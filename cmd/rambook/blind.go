package main

import (
	"fmt"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units"
)

// checkBlind shows a notebook to those who are to work it out: what is given, what
// is asked, and of each answer, which is a reading against a formula, whether it is right
// or which slip explains it. No computed value, spread or limit is shown.
func (c *checkCommand) checkBlind(s *session) error {
	if c.Watch || c.Sample != nil {
		return problem("--blind goes with neither --watch nor --sample", "")
	}
	model, report, err := c.check(c.sampleFlags)
	if err != nil {
		return err
	}
	if err := c.narrow(model.Book, report); err != nil {
		return err
	}
	view := newBlindView(model, report, s.screen())
	view.only = c.Only
	err = s.answer(&answer.Answer{
		Title:  c.title(model) + ", blind",
		Page:   view.page,
		Rows:   view.rows,
		Object: func() any { return view.object() },
	})
	if err != nil {
		return err
	}
	if view.wrong > 0 {
		return errFails
	}
	return nil
}

// blindView is a notebook without what it has computed.
type blindView struct {
	book    *sheets.Notebook
	report  *calc.Report
	marks   map[*calc.Judged]*calc.Mark
	only    []string                  // of --only, blank for all
	blank   bool                      // on paper: room for each answer
	answers func(*calc.Judged) string // how an answer is written; nil: as it was typed
	right   int
	wrong   int
	screen
}

func newBlindView(model *calc.Model, report *calc.Report, layout screen) blindView {
	v := blindView{book: model.Book, report: report, marks: map[*calc.Judged]*calc.Mark{}, screen: layout}
	take := func(marks []calc.Mark) {
		for i := range marks {
			v.marks[marks[i].Judged] = &marks[i]
			if marks[i].Right {
				v.right++
			} else {
				v.wrong++
			}
		}
	}
	take(model.Marks(report))
	for i := range report.Cases {
		for _, own := range model.CaseMarks(&report.Cases[i]) {
			take(own)
		}
	}
	return v
}

// word marks one value: right, wrong, or nothing where there is no answer.
func (v blindView) word(j *calc.Judged) string {
	mark := v.marks[j]
	switch {
	case mark == nil:
		return ""
	case mark.Right:
		return "right"
	}
	return "wrong"
}

// hint names the slips that explain a wrong answer.
func (v blindView) hint(j *calc.Judged) string {
	if mark := v.marks[j]; mark != nil && !mark.Right {
		return strings.Join(mark.Slips, ", or ")
	}
	return ""
}

// page is each sheet with what is given and what was answered, then the class.
func (v blindView) page() []table.Table {
	var tables []table.Table
	for _, sheet := range v.book.Sheets {
		var rows []*calc.Judged
		for i := range v.report.Quantities {
			if j := &v.report.Quantities[i]; j.Quantity.Sheet == sheet {
				rows = append(rows, j)
			}
		}
		if len(rows) > 0 {
			tables = append(tables, v.sheet(sheet, rows))
		}
		for i := range v.report.Cases {
			if result := &v.report.Cases[i]; result.Sheet == sheet {
				tables = append(tables, v.class(result))
			}
		}
	}
	if len(v.only) == 0 {
		tables = append(tables, v.tables()...)
	}
	line := "No answer yet: it goes into the column reading of its row, in a class into its cell."
	if n := v.right + v.wrong; n > 0 {
		line = fmt.Sprintf("%s, %d right.", counted(n, "answer"), v.right)
	}
	return append(tables, v.sentences(2, line))
}

// given is the number of a given as it is typed: how sure it is gives an answer away.
func (v blindView) given(j *calc.Judged) string {
	if j.Unit.Kind == units.Ordinary && calc.Has(j.Value) && j.Error == "" {
		return v.numbers.typedOn(j.Unit, j.Value, noSpread)
	}
	return v.value(j)
}

// tables are the sheets that ask for nothing, such as a maker's list, from which
// something may have to be looked up.
func (v blindView) tables() []table.Table {
	var tables []table.Table
	for _, sheet := range v.book.Sheets {
		asks := slices.ContainsFunc(v.report.Cases, func(r calc.CaseResult) bool { return r.Sheet == sheet })
		if sheet.Kind != sheets.Cases || asks || len(sheet.Cases) == 0 {
			continue
		}
		t := table.Table{Title: sheet.Name}
		n := v.cut(&t, len(sheet.Cases))
		t.Rows = make([]table.Row, n)
		column := func(head string, align table.Align, cell func(*sheets.CaseRow) string) {
			cells := make([]string, n)
			for i := range cells {
				cells[i] = printable(cell(&sheet.Cases[i]))
			}
			v.addColumn(&t, head, align, cells)
		}
		column(sheet.Key.Text, table.Left, func(c *sheets.CaseRow) string { return c.Name.Text })
		for k := range sheet.Columns {
			head := strings.TrimSuffix(sheet.Columns[k].Name.Text+"\n"+sheet.Columns[k].Unit.Text, "\n")
			column(head, table.Decimal, func(c *sheets.CaseRow) string { return c.Cells[k].Text })
		}
		tables = append(tables, t)
	}
	return tables
}

// sheet shows the rows of one sheet: the givens, and what is asked.
func (v blindView) sheet(sheet *sheets.Sheet, rows []*calc.Judged) table.Table {
	t := table.Table{Title: sheet.Name}
	t.Rows = make([]table.Row, len(rows))
	columns := make([][]string, 6)
	for i, j := range rows {
		t.Rows[i].Heading = printable(j.Quantity.Row.Heading)
		given, reading := "", ""
		if !j.Quantity.IsFormula() {
			given = v.given(j)
		} else {
			reading = v.reading(j)
			if reading == "" {
				reading = "?"
			}
		}
		for k, text := range []string{j.Quantity.Name, given, reading, shownUnit(j.Unit), v.word(j), v.hint(j)} {
			columns[k] = append(columns[k], text)
		}
	}
	for k, head := range []string{"quantity", "given", "answer", "unit", "mark", "slip"} {
		align := table.Left
		if k == 1 || k == 2 {
			align = table.Decimal
		}
		if k < 4 || strings.Join(columns[k], "") != "" {
			v.addColumn(&t, head, align, columns[k])
		}
	}
	return t
}

// class shows the cases of a sheet, each a student with numbers of their own.
func (v blindView) class(result *calc.CaseResult) table.Table {
	t := table.Table{Title: result.Sheet.Name}
	n := v.cut(&t, len(result.Cases))
	t.Rows = make([]table.Row, n)
	names := make([]string, n)
	for i := range names {
		t.Rows[i].Heading = printable(result.Cases[i].Row.Heading)
		names[i] = printable(result.Cases[i].Name)
	}
	v.addColumn(&t, result.Sheet.Key.Text, table.Left, names)
	for k := range result.Sheet.Columns {
		column := &result.Sheet.Columns[k]
		if v.asked(result, column.Name.Text) >= 0 {
			continue
		}
		cells, filled := make([]string, n), false
		for i := range cells {
			cells[i] = printable(result.Cases[i].Row.Cells[k].Text)
			filled = filled || cells[i] != ""
		}
		if filled {
			head := column.Name.Text
			if column.Unit.Text != "" {
				head += "\n" + column.Unit.Text
			}
			v.addColumn(&t, head, table.Decimal, cells)
		}
	}
	for k, q := range result.Asked {
		if !q.IsFormula() {
			continue
		}
		cells, marks := make([]string, n), make([]string, n)
		head := q.Name
		for i := range cells {
			j := &result.Cases[i].Values[k]
			head = headerBelow(q.Name, j.Unit)
			switch {
			case v.blank:
			case !calc.Has(j.Reading):
				cells[i] = "?"
			case v.answers != nil:
				cells[i] = v.answers(j)
			default:
				cells[i] = v.reading(j)
			}
			marks[i] = v.word(j)
		}
		v.addColumn(&t, head, table.Decimal, cells).ByHand = v.blank
		if strings.Join(marks, "") != "" {
			v.addColumn(&t, "mark", table.Left, marks).Joined = true
		}
	}
	for i := range result.Cases[:n] {
		for k := range result.Cases[i].Values {
			if j := &result.Cases[i].Values[k]; v.word(j) == "wrong" {
				hint := v.hint(j)
				if hint == "" {
					hint = "no slip that is known explains it"
				}
				v.addNote(&t, names[i]+": "+j.Quantity.Name+": "+hint)
			}
		}
	}
	return t
}

// asked is the number of a column among those that a sheet asks for, else -1.
func (v blindView) asked(result *calc.CaseResult, name string) int {
	for k, q := range result.Asked {
		if q.Name == name && q.IsFormula() {
			return k
		}
	}
	return -1
}

// blindAnswer is one thing that is asked.
type blindAnswer struct {
	Sheet  string   `json:"sheet"`
	Case   string   `json:"case,omitempty"`
	Name   string   `json:"name"`
	Answer any      `json:"answer,omitzero"`
	Unit   string   `json:"unit"`
	Mark   string   `json:"mark,omitempty"`
	Slips  []string `json:"slips,omitempty"`
}

type jsonBlind struct {
	Notebook string        `json:"notebook"`
	Answers  []blindAnswer `json:"answers"`
	Right    int           `json:"right"`
	Wrong    int           `json:"wrong"`
}

func (v blindView) object() jsonBlind {
	out := jsonBlind{Notebook: v.book.Path, Answers: []blindAnswer{}, Right: v.right, Wrong: v.wrong}
	add := func(j *calc.Judged, sheet, name string) {
		if !j.Quantity.IsFormula() {
			return
		}
		one := blindAnswer{sheet, name, j.Quantity.Name, jsonNumber(j.Unit, j.Reading), j.Unit.Symbol, v.word(j), nil}
		if mark := v.marks[j]; mark != nil && !mark.Right {
			one.Slips = mark.Slips
		}
		out.Answers = append(out.Answers, one)
	}
	for i := range v.report.Quantities {
		j := &v.report.Quantities[i]
		add(j, j.Quantity.Sheet.Name, "")
	}
	for i := range v.report.Cases {
		result := &v.report.Cases[i]
		for n := range result.Cases {
			for k := range result.Asked {
				add(&result.Cases[n].Values[k], result.Sheet.Name, result.Cases[n].Name)
			}
		}
	}
	return out
}

func (v blindView) rows() table.Table {
	t := table.Table{}
	for _, head := range []string{"sheet", "case", "name", "answer", "unit", "mark", "slips"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	o := v.object()
	for _, a := range o.Answers {
		text := ""
		if a.Answer != nil {
			text = strings.Trim(answer.JSON(a.Answer), `"`)
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{a.Sheet, a.Case, a.Name, text, a.Unit, a.Mark,
			strings.Join(a.Slips, "; ")}})
	}
	return t
}
