package page

import (
	"fmt"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// BlindView is a notebook without what it has computed.
type BlindView struct {
	book    *sheets.Notebook
	Report  *calc.Report
	Marks   map[*calc.Judged]*calc.Mark
	Only    []string                  // of --only, blank for all
	Blank   bool                      // on paper: room for each answer
	Answers func(*calc.Judged) string // how an answer is written; nil: as it was typed
	right   int
	Wrong   int
	Layout  Layout
}

// NewBlindView marks the answers of a notebook, those of its cases among them.
func NewBlindView(model *calc.Model, report *calc.Report, layout Layout) BlindView {
	v := BlindView{book: model.Book, Report: report, Marks: map[*calc.Judged]*calc.Mark{}, Layout: layout}
	take := func(marks []calc.Mark) {
		for i := range marks {
			v.Marks[marks[i].Judged] = &marks[i]
			if marks[i].Right {
				v.right++
			} else {
				v.Wrong++
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
func (v *BlindView) word(j *calc.Judged) string {
	mark := v.Marks[j]
	switch {
	case mark == nil:
		return ""
	case mark.Right:
		return "right"
	}
	return "wrong"
}

// hint names the slips that explain a wrong answer. Of several, and of one that gives
// the answer only nearly, it is said that they would.
func (v *BlindView) hint(j *calc.Judged) string {
	mark := v.Marks[j]
	switch {
	case mark == nil || mark.Right || len(mark.Slips) == 0:
		return ""
	case mark.Sure:
		return mark.Slips[0]
	}
	return "would fit: " + strings.Join(mark.Slips, ", or ")
}

// Page is each sheet with what is given and what was answered, then the class.
func (v *BlindView) Page() []table.Table {
	var tables []table.Table
	for _, sheet := range v.book.Sheets {
		var rows []*calc.Judged
		for i := range v.Report.Quantities {
			if j := &v.Report.Quantities[i]; j.Quantity.Sheet == sheet {
				rows = append(rows, j)
			}
		}
		if len(rows) > 0 {
			tables = append(tables, v.sheet(sheet, rows))
		}
		for i := range v.Report.Cases {
			if result := &v.Report.Cases[i]; result.Sheet == sheet {
				tables = append(tables, v.Class(result))
			}
		}
	}
	tables = append(tables, v.Tables()...)
	line := "No answer yet: it goes into the column reading of its row, in a class into its cell."
	if n := v.right + v.Wrong; n > 0 {
		line = fmt.Sprintf("%s, %d right.", words.Counted(n, "answer"), v.right)
	}
	return append(tables, v.Layout.Sentences(2, line))
}

// Given is the number of a given as it is typed: how sure it is gives an answer away.
func (v *BlindView) Given(j *calc.Judged) string {
	if j.Unit.Kind == units.Ordinary && calc.Has(j.Value) && j.Error == "" {
		return v.Layout.Numbers.TypedOn(j.Unit, j.Value, NoSpread)
	}
	return v.Layout.ValueText(j)
}

// Tables are the sheets that ask for nothing, such as a maker's list, from which
// something may have to be looked up.
func (v *BlindView) Tables() []table.Table {
	return v.Layout.LookedUp(among(v.book.Sheets, v.Only), v.Report)
}

// among are the sheets of some names, all of them where no name is given.
func among(list []*sheets.Sheet, names []string) []*sheets.Sheet {
	if len(names) == 0 {
		return list
	}
	return slices.DeleteFunc(slices.Clone(list), func(s *sheets.Sheet) bool {
		return !slices.ContainsFunc(names, func(name string) bool { return strings.EqualFold(name, s.Name) })
	})
}

// LookedUp are those of some sheets that hold cases and ask for nothing: there is
// something to look up in them, and nothing is judged.
func (s Layout) LookedUp(list []*sheets.Sheet, r *calc.Report) []table.Table {
	var tables []table.Table
	for _, sheet := range list {
		asks := slices.ContainsFunc(r.Cases, func(r calc.CaseResult) bool { return r.Sheet == sheet })
		if sheet.Kind != sheets.Cases || asks || len(sheet.Cases) == 0 {
			continue
		}
		t := table.Table{Title: sheet.Name}
		n := s.Cut(&t, len(sheet.Cases))
		t.Rows = make([]table.Row, n)
		addColumn := func(head string, align table.Align, cell func(*sheets.CaseRow) string) {
			cells := make([]string, n)
			for i := range cells {
				cells[i] = s.cellText(cell(&sheet.Cases[i]))
			}
			s.AddColumn(&t, head, align, cells)
		}
		addColumn(sheet.Key.Text, table.Left, func(c *sheets.CaseRow) string { return c.Name.Text })
		for k := range sheet.Columns {
			head := strings.TrimSuffix(sheet.Columns[k].Name.Text+"\n"+sheet.Columns[k].Unit.Text, "\n")
			align := table.Decimal
			if sheet.Columns[k].Unit.Text == "text" {
				align = table.Left
			}
			addColumn(head, align, func(c *sheets.CaseRow) string { return c.Cells[k].Text })
		}
		tables = append(tables, t)
	}
	return tables
}

// cellText is a cell as it was typed, but for a number that its conversion made long.
func (s Layout) cellText(text string) string {
	if number, err := units.ParseValue(text); err == nil && !number.HasUnit && significant(text) > typedDigits {
		return s.Numbers.Typed(number.Number, NoSpread)
	}
	return Printable(text)
}

// sheet shows the rows of one sheet: the givens, and what is asked.
func (v *BlindView) sheet(sheet *sheets.Sheet, rows []*calc.Judged) table.Table {
	t := table.Table{Title: sheet.Name}
	t.Rows = make([]table.Row, len(rows))
	columns := make([][]string, 6)
	for i, j := range rows {
		t.Rows[i].Heading = Printable(j.Quantity.Row.Heading)
		given, reading := "", ""
		if !j.Quantity.IsFormula() {
			given = v.Given(j)
		} else {
			reading = v.Layout.ReadingText(j)
			if reading == "" {
				reading = "?"
			}
		}
		for k, text := range []string{j.Quantity.Name, given, reading, ShownUnit(j.Unit), v.word(j), v.hint(j)} {
			columns[k] = append(columns[k], text)
		}
	}
	for k, head := range []string{"quantity", "given", "answer", "unit", "mark", "slip"} {
		align := table.Left
		if k == 1 || k == 2 {
			align = table.Decimal
		}
		if k < 4 || strings.Join(columns[k], "") != "" {
			v.Layout.AddColumn(&t, head, align, columns[k])
		}
	}
	return t
}

// Class shows the cases of a sheet, each a student with numbers of their own.
func (v *BlindView) Class(result *calc.CaseResult) table.Table {
	t := table.Table{Title: result.Sheet.Name}
	n := v.Layout.Cut(&t, len(result.Cases))
	t.Rows = make([]table.Row, n)
	names := make([]string, n)
	for i := range names {
		t.Rows[i].Heading = Printable(result.Cases[i].Row.Heading)
		names[i] = Printable(result.Cases[i].Name)
	}
	v.Layout.AddColumn(&t, result.Sheet.Key.Text, table.Left, names)
	for k := range result.Sheet.Columns {
		column := &result.Sheet.Columns[k]
		if v.asked(result, column.Name.Text) >= 0 {
			continue
		}
		cells, some := make([]string, n), false
		for i := range cells {
			cells[i] = v.Layout.cellText(result.Cases[i].Row.Cells[k].Text)
			some = some || cells[i] != ""
		}
		if some {
			head := column.Name.Text
			if column.Unit.Text != "" {
				head += "\n" + column.Unit.Text
			}
			v.Layout.AddColumn(&t, head, table.Decimal, cells)
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
			head = HeaderBelow(q.Name, j.Unit)
			switch {
			case v.Blank:
			case !calc.Has(j.Reading):
				cells[i] = "?"
			case v.Answers != nil:
				cells[i] = v.Answers(j)
			default:
				cells[i] = v.Layout.ReadingText(j)
			}
			marks[i] = v.word(j)
		}
		v.Layout.AddColumn(&t, head, table.Decimal, cells).ByHand = v.Blank
		if strings.Join(marks, "") != "" {
			v.Layout.AddColumn(&t, "mark", table.Left, marks).Joined = true
		}
	}
	if scores := v.scores(result, n); strings.Join(scores, "") != "" {
		v.Layout.AddColumn(&t, "right", table.Right, scores)
	}
	for i := range result.Cases[:n] {
		for k := range result.Cases[i].Values {
			if j := &result.Cases[i].Values[k]; v.word(j) == "wrong" {
				hint := v.hint(j)
				if hint == "" {
					hint = "no slip that is known explains it"
				}
				v.Layout.addNote(&t, names[i]+": "+j.Quantity.Name+": "+hint)
			}
		}
	}
	return t
}

// scores is how many answers of each of the first n students are right, of all that
// are asked for; blank for one who has not answered.
func (v *BlindView) scores(result *calc.CaseResult, n int) []string {
	scores := make([]string, n)
	for i := range scores {
		asked, answered, right := 0, 0, 0
		for k := range result.Asked {
			if !result.Asked[k].IsFormula() {
				continue
			}
			asked++
			if mark := v.Marks[&result.Cases[i].Values[k]]; mark != nil {
				answered++
				if mark.Right {
					right++
				}
			}
		}
		if answered > 0 {
			scores[i] = fmt.Sprintf("%d of %d", right, asked)
		}
	}
	return scores
}

// asked is the number of a column among those that a sheet asks for, else -1.
func (v *BlindView) asked(result *calc.CaseResult, name string) int {
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
	Sure   bool     `json:"sure,omitempty"` // one slip, which gives the answer to its last digit
}

type jsonBlind struct {
	Notebook string        `json:"notebook"`
	Answers  []blindAnswer `json:"answers"`
	Right    int           `json:"right"`
	Wrong    int           `json:"wrong"`
}

// Object is the notebook with its answers as other programs read it.
func (v *BlindView) Object() any { return v.answers() }

func (v *BlindView) answers() jsonBlind {
	out := jsonBlind{Notebook: v.book.Path, Answers: []blindAnswer{}, Right: v.right, Wrong: v.Wrong}
	add := func(j *calc.Judged, sheet, name string) {
		if !j.Quantity.IsFormula() {
			return
		}
		one := blindAnswer{sheet, name, j.Quantity.Name, JSONNumber(j.Unit, j.Reading), j.Unit.Symbol, v.word(j), nil,
			false}
		if mark := v.Marks[j]; mark != nil && !mark.Right {
			one.Slips, one.Sure = mark.Slips, mark.Sure
		}
		out.Answers = append(out.Answers, one)
	}
	for i := range v.Report.Quantities {
		j := &v.Report.Quantities[i]
		add(j, j.Quantity.Sheet.Name, "")
	}
	for i := range v.Report.Cases {
		result := &v.Report.Cases[i]
		for n := range result.Cases {
			for k := range result.Asked {
				add(&result.Cases[n].Values[k], result.Sheet.Name, result.Cases[n].Name)
			}
		}
	}
	return out
}

// Rows has a row for each thing that is asked.
func (v *BlindView) Rows() table.Table {
	t := table.Table{}
	for _, head := range []string{"sheet", "case", "name", "answer", "unit", "mark", "slips"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	for _, a := range v.answers().Answers {
		text := ""
		if a.Answer != nil {
			text = strings.Trim(answer.JSON(a.Answer), `"`)
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{a.Sheet, a.Case, a.Name, text, a.Unit, a.Mark,
			strings.Join(a.Slips, "; ")}})
	}
	return t
}
