package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// question is one cell to fill in.
type question struct {
	cell     cellName
	quantity *calc.Quantity
	unit     units.Unit
	place    string   // sheet, and the heading or case that it stands under
	what     string   // the name of the cell
	note     string   // what to do
	reading  bool     // of what is computed
	date     cellName // of a case without a date
	done     bool     // answered out of its turn
	gauge    bool     // asks for what is known of a gauge
	readBy   string   // the question that a gauge is asked for before, "" for none
	assumed  bool     // by common practice, until it is answered
}

// ask lists the questions: what is open, in the order of the sheets, each behind
// what has to be done before it, and behind the gauge that it is read with. So the
// plate comes first and gives a verdict before anybody has fetched a gauge.
func (w *walk) ask() []question {
	r := w.revision
	var list, gauges []question
	for _, sheet := range r.book.Sheets {
		wanted := w.command.Only == "" || sheet.Name == w.command.Only
		switch {
		case sheet.Kind == sheets.Cases && sheet.Name == calc.GaugeSheet:
			gauges = w.gauges(sheet)
		case !wanted:
		case sheet.Kind == sheets.Quantities:
			list = append(list, w.rows(sheet)...)
		case sheet.Kind == sheets.Cases:
			list = append(list, w.cases(sheet)...)
		}
	}
	all, others := withGauges(inOrder(list), gauges)
	if w.command.Only == "" || w.command.Only == calc.GaugeSheet {
		all = append(all, others...)
	}
	return all
}

// rows lists the questions of a quantity sheet.
func (w *walk) rows(sheet *sheets.Sheet) []question {
	var list []question
	for i := range sheet.Rows {
		row := &sheet.Rows[i]
		q := w.revision.model.Quantity(row.Name.Text)
		if q == nil || q.Row != row && q.Row.Name.Line != row.Name.Line {
			continue
		}
		one := question{quantity: q, unit: q.Unit, what: q.Name, note: row.Note.Text, place: sheet.Name}
		if row.Heading != "" {
			one.place += ": " + row.Heading
		} else if len(list) > 0 {
			one.place = list[len(list)-1].place
		}
		state := w.stateOf(q)
		switch {
		case state == calc.Absent && !w.command.Again, state == calc.ByCase, q.IsVerdict(),
			q.IsOpen() && w.revision.model.ListedIn(q) != nil:
			continue
		case q.IsOpen(), q.IsAssumed(), w.command.Again && !q.IsFormula():
			one.cell, one.assumed = rowCell{q.Name, "entry"}, q.IsAssumed()
		case q.IsPlanned(), w.command.Again && !row.Reading.Blank() && !calc.ReadsAsFormula(row.Reading.Text):
			one.cell, one.reading = rowCell{q.Name, "reading"}, true
		default:
			continue
		}
		list = append(list, one)
	}
	return list
}

func (w *walk) stateOf(q *calc.Quantity) calc.State {
	if j := w.revision.before.Of(q.Name); j != nil {
		return j.State
	}
	return calc.Given
}

// cases lists the questions of a case sheet, row by row: the givens that only
// cases have, and the readings that a spread of the column or of the row plans.
// What lies in the past cannot be read any more.
func (w *walk) cases(sheet *sheets.Sheet) []question {
	model := w.revision.model
	date := w.dateOf(sheet)
	today := w.now().Format(time.DateOnly)
	var list []question
	for i := range sheet.Cases {
		row := &sheet.Cases[i]
		if date >= 0 && !row.Cells[date].Blank() && row.Cells[date].Text < today {
			continue
		}
		for k, column := range sheet.Columns {
			q := model.Quantity(column.Name.Text)
			if q == nil || k == date || !row.Cells[k].Blank() && !w.command.Again {
				continue
			}
			switch {
			case q.IsFormula() && !isRead(q, column):
				continue
			case !q.IsFormula() && w.stateOf(q) != calc.ByCase && !q.IsOpen():
				continue
			}
			list = append(list, w.ofCase(sheet, row, k))
		}
	}
	return list
}

// isRead reports whether the cells of a column hold what was read of a formula,
// which its spread or its gauge plans.
func isRead(q *calc.Quantity, column sheets.Column) bool {
	return !q.Row.Spread.Blank() || !q.Row.With.Blank() || !column.Spread.Blank()
}

// dateOf finds the column of when the cases of a sheet were, -1 if none
// is. A date that formulas use is a given like any other.
func (w *walk) dateOf(sheet *sheets.Sheet) int {
	model := w.revision.model
	name := model.DateColumn(sheet)
	if model.Quantity(name) != nil {
		return -1
	}
	_, at := columnIn(sheet, name)
	return at
}

// ofCase is the question for a cell of a case.
func (w *walk) ofCase(sheet *sheets.Sheet, row *sheets.CaseRow, k int) question {
	column := sheet.Columns[k]
	unit, err := units.Parse(column.Unit.Text)
	q := w.revision.model.Quantity(column.Name.Text)
	switch {
	case q == nil:
		if err != nil || column.Unit.Blank() {
			unit, _ = units.Parse("text") // a remark
		}
		q = &calc.Quantity{Name: column.Name.Text, Row: &sheets.Row{}, Unit: unit}
	case err != nil || column.Unit.Blank():
		unit = q.Unit
	}
	one := question{cell: caseCell{sheet.Name, row.Name.Text, column.Name.Text}, quantity: q, unit: unit,
		place: sheet.Name + ": " + row.Name.Text, what: column.Name.Text, note: q.Row.Note.Text,
		reading: q.IsFormula()}
	if date := w.dateOf(sheet); date >= 0 && row.Cells[date].Blank() {
		one.date = caseCell{sheet.Name, row.Name.Text, sheet.Columns[date].Name.Text}
	}
	return one
}

// grows is the sheet that the walk gives new cases: the one of --only, if its
// cases are dated. nil for none.
func (w *walk) grows() *sheets.Sheet {
	sheet := w.revision.book.Sheet(w.command.Only)
	if sheet == nil || sheet.Kind != sheets.Cases || sheet.Name == calc.GaugeSheet || w.dateOf(sheet) < 0 {
		return nil
	}
	return sheet
}

// another asks for a new case of a sheet and lists the questions for its cells.
// It reports whether none is wanted.
func (w *walk) another(sheet *sheets.Sheet) (ended bool) {
	fmt.Fprintln(w.stdout)
	w.say(0, sheet.Name+": a new line, of today, by a name of its own. Enter: none.")
	name, err := w.prompt("new line of " + sheet.Name)
	if err != nil || name == "" || name == "q" {
		return true
	}
	if w.questions = nil; !w.begin(sheet, name) {
		return false
	}
	sheet = w.revision.book.Sheet(sheet.Name)
	row := &sheet.Cases[slices.IndexFunc(sheet.Cases, func(r sheets.CaseRow) bool { return r.Name.Text == name })]
	for k := range sheet.Columns {
		q := w.revision.model.Quantity(sheet.Columns[k].Name.Text)
		if k != w.dateOf(sheet) && (q == nil || !q.IsFormula() || isRead(q, sheet.Columns[k])) {
			w.questions = append(w.questions, w.ofCase(sheet, row, k))
		}
	}
	return false
}

// begin appends a case of today.
func (w *walk) begin(sheet *sheets.Sheet, name string) bool {
	r := w.revision
	var record []string
	r.enters(w.session, w.command.entryFlags, func() []sheets.Entry {
		return []sheets.Entry{{What: sheet.Name + "[" + name + "]", Is: recorded(sheet, record[1:])}}
	})
	err := r.change([]*sheets.Sheet{sheet}, func(now *sheets.Sheet, data []byte) ([]byte, error) {
		var err error
		if record, err = (&recordCommand{Case: name}).record(now, nil); err != nil {
			return nil, err
		}
		if date := r.dateColumn(now, nil); date >= 0 {
			record[1+date] = w.now().Format(time.DateOnly)
		}
		data, _, err = sheets.AppendRecord(data, record)
		return data, err
	})
	if err == nil {
		err = w.read()
	}
	if err != nil && w.refuse(nil, name, err) {
		w.over = true // what follows belongs to the case that there is not
	}
	return err == nil
}

// inOrder puts each question behind those about what has to be done before.
func inOrder(list []question) []question {
	of := map[string]int{}
	for i, q := range list {
		if q.quantity != nil {
			if _, known := of[q.quantity.Name]; !known {
				of[q.quantity.Name] = i
			}
		}
	}
	var ordered []question
	put := make([]bool, len(list))
	var visit func(int)
	visit = func(i int) {
		if put[i] {
			return
		}
		put[i] = true
		for _, before := range list[i].quantity.After() {
			if k, known := of[before.Name]; known {
				visit(k)
			}
		}
		ordered = append(ordered, list[i])
	}
	for i := range list {
		visit(i)
	}
	return ordered
}

// hints are what to read with, and what to expect.
func (w *walk) hints(q *question) string {
	if q.gauge {
		return w.hintsOfGauge(q)
	}
	var parts []string
	if early := w.notBefore(q); early != "" {
		parts = append(parts, "not before "+early)
	}
	if g := w.gauge(q); g != "" {
		parts = append(parts, "with "+g)
	}
	now, layout, j := w.stands(q), page.Layout{}, w.judged(w.revision.before, q)
	assumed := j != nil && !q.reading && j.Quantity.IsAssumed() // until it was answered
	switch {
	case q.reading && calc.ReadsAsFormula(now):
		parts = append(parts, "a number takes the place of what a log would give")
	case assumed:
		parts = append(parts, "assumed "+page.Beside(page.PlusMinus(layout.ValueText(j), layout.SpreadText(j)), j.Unit)+
			" by common practice")
	case now != "":
		parts = append(parts, "now "+now)
	}
	if e := w.example(q); e != "" && (now == "" || assumed) {
		parts = append(parts, "such as "+page.Beside(e, bare(e, q.unit)))
	}
	if q.reading && j != nil && calc.Has(j.Value) {
		parts = append(parts, "computed "+page.Beside(page.PlusMinus(layout.ComputedText(j), layout.SpreadText(j)),
			j.Unit))
	}
	return strings.Join(parts, "; ")
}

// example is what an invented machine has in the cell.
func (w *walk) example(q *question) string {
	if cell, isCase := q.cell.(caseCell); isCase {
		return w.revision.book.Sheet(cell.of).Example(cell.key, cell.column)
	}
	if q.reading {
		return ""
	}
	return q.quantity.Example
}

// bare is the unit that has to stand behind a text: none if it has one.
func bare(text string, u units.Unit) units.Unit {
	if v, err := units.ParseValue(text); err != nil || v.HasUnit || u.Kind > units.Point {
		return units.Unit{}
	}
	return u
}

// stands is what stands in the cell.
func (w *walk) stands(q *question) string {
	sheet, err := q.cell.sheet(w.revision.book)
	if err != nil {
		return ""
	}
	cell, _, err := restored{q.cell}.find(sheet, "")
	if err != nil {
		return ""
	}
	return cell.Text
}

// gauge names the gauge of a question, with its number.
func (w *walk) gauge(q *question) string {
	name := q.quantity.With
	if g := w.revision.model.Gauge(name); g != nil && g.Serial != "" {
		return name + " " + g.Serial
	}
	return name
}

// notBefore names what has to be done before and is not.
func (w *walk) notBefore(q *question) string {
	var early []string
	for _, before := range q.quantity.After() {
		if j := w.revision.before.Of(before.Name); j != nil && j.Verdict > calc.Pass {
			early = append(early, before.Name)
		}
	}
	return words.Listed(early, page.MostNames)
}

// judged is what a report has of a question's quantity.
func (w *walk) judged(r *calc.Report, q *question) *calc.Judged {
	if r == nil {
		return nil
	}
	if cell, ok := q.cell.(caseCell); ok {
		return r.InCase(cell.of, cell.key, cell.column)
	}
	return r.Of(q.quantity.Name)
}
