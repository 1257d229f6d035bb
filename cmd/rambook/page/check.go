package page

import (
	"fmt"
	"strings"

	"rambook/calc"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// ReportView is the answer to a check.
type ReportView struct {
	Model  *calc.Model
	Report *calc.Report
	Only   []string // the sheets that were asked for, none for all
	Logs   []LoggedSheet
	Layout Layout
}

// Page is the answer first, then the tables of the sheets, and the logs and the lists
// to look things up in that were asked for.
func (v *ReportView) Page() []table.Table {
	var summary []string
	tables := v.Layout.sheetTables(v.Model.Book, v.Report,
		func() { summary = v.Layout.Summary(v.Model, v.Report) })
	var lists []table.Table
	if len(v.Only) > 0 {
		lists = v.Layout.LookedUp(among(v.Model.Book.Sheets, v.Only), v.Report)
	}
	judged := len(tables) > 0 || len(v.Logs)+len(lists) == 0
	tables = append(tables, lists...)
	for _, l := range v.Logs {
		tables = append(tables, v.Layout.LogTable(l))
	}
	if judged { // else there is nothing to sum up
		tables = append([]table.Table{v.Layout.Sentences(2, summary...)}, tables...)
	}
	return tables
}

// Short is the answer without its tables.
func (v *ReportView) Short() []table.Table {
	return []table.Table{v.Layout.short(v.Model, v.Report, v.Only)}
}

// Book is the sheets of a workbook.
func (v *ReportView) Book() []table.Table { return bookTables(v.Report) }

// Rows are all values, one a row, or the columns of logs where nothing else is shown.
func (v *ReportView) Rows() table.Table {
	if len(v.Logs) > 0 && len(v.Report.Quantities)+len(v.Report.Cases) == 0 {
		return logRows(v.Logs)
	}
	return longTable(v.Report)
}

// Object is nothing: there may be too much of it, so that WriteJSON writes it.
func (v *ReportView) Object() any { return nil }

// short is the answer for someone in a hurry: the summary, and what only the
// whole model shows, namely whose spread leaves a value unsure and what falls
// due; then where the rest is.
func (s Layout) short(m *calc.Model, r *calc.Report, only []string) table.Table {
	lines := s.Summary(m, r)
	at := len(lines) - 1 // the counts come last but for the cautions
	if r.Counts.Fail > 0 {
		at--
	}
	more := s.doubts(m, r)
	if list := s.outcomes(m, r); len(list) > 0 && len(list) <= MostNames { // of more none is what one looks for
		more = append(more, "Without a limit: "+words.Listed(list, MostNames))
	}
	glance := m.Glance(r)
	if due := glance.Due; due != nil {
		name := due.Name
		if due.Case != "" {
			name = Printable(due.Case)
		}
		more = append(more, "Due next: "+name+" on "+units.FormatDate(glance.DueOn))
	}
	if meets := glance.Meets; meets != nil {
		side := "high"
		if meets.Meets.Low {
			side = "low"
		}
		more = append(more, fmt.Sprintf("Trend: %s meets its %s limit about %s", meets.Name, side,
			units.FormatDate(meets.On)))
	}
	lines = append(lines[:at], append(more, lines[at:]...)...)
	if len(only) == 0 {
		lines = append(lines, "Left out: the tables of "+words.Listed(shownSheets(r),
			MostNames)+". --all shows all, --only SHEET some.")
	}
	return s.Sentences(2, lines...)
}

// outcomes are what the notebook ends with and judges by nothing, each with the
// note that tells what to do about it.
func (s Layout) outcomes(m *calc.Model, r *calc.Report) []string {
	var list []string
	for _, j := range m.Outcomes(r) {
		text := j.Quantity.Name + " " + Beside(s.judgedWithSpread(j), j.Unit)
		if note := j.Quantity.Row.Note.Text; note != "" {
			text += " (" + Printable(note) + ")"
		}
		list = append(list, text)
	}
	return list
}

// doubts are the values that are unsure, and whose spread leaves them so.
func (s Layout) doubts(m *calc.Model, r *calc.Report) []string {
	var lines []string
	for i := range r.Quantities {
		if len(lines) == mostSentences {
			break
		}
		d := m.Doubt(&r.Quantities[i])
		switch {
		case d == nil:
		case d.Read:
			lines = append(lines, d.Judged.Quantity.Name+
				" is unsure because of the spread of its reading: read it with a finer gauge, or more often")
		default:
			lines = append(lines, fmt.Sprintf("%s is unsure mostly by %s (%s %% of its spread): measure that better",
				d.Judged.Quantity.Name, Printable(d.Causes[0].Name),
				NumberStyle{Digits: 2}.Computed(100*d.Causes[0].Share, NoSpread)))
		}
	}
	return lines
}

// shownSheets names the sheets that have tables, in their order.
func shownSheets(r *calc.Report) []string {
	var list []string
	add := func(name string) {
		if name = strings.TrimSpace(name); len(list) == 0 || list[len(list)-1] != name {
			list = append(list, name)
		}
	}
	for i := range r.Quantities {
		add(r.Quantities[i].Quantity.Sheet.Name)
	}
	for _, result := range r.Cases {
		add(result.Sheet.Name)
	}
	return list
}
