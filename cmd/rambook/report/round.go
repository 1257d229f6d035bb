package report

import (
	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units/words"
)

// This file is about who read what with which gauge, as a report has it.

// round lists the gauges, what was read with each, when and by whom, and what
// was changed to what.
func (s writer) round(how *Options, model *calc.Model, r *calc.Report) chapter {
	c := chapter{Title: "Readings and gauges"}
	c.addTables(s.readTable(how, model, r), gaugeTable(model), changeTable(how.Changed))
	return c
}

// gaugeTable lists the gauges with their numbers and dates.
func gaugeTable(model *calc.Model) table.Table {
	t := table.Table{Title: "gauges", Columns: []table.Column{{Header: "gauge"}, {Header: "serial number"},
		{Header: "class"}, {Header: "span"},
		{Header: "step"}, {Header: "±"}, {Header: "calibrated"}, {Header: "due"}}}
	for _, g := range model.Gauges {
		t.Rows = append(t.Rows, table.Row{Cells: []string{page.Printable(g.Name), page.Printable(g.Serial),
			page.Printable(g.Class),
			page.Printable(g.Span),
			page.Printable(g.Step), page.Printable(g.Spread), page.Printable(g.Calibrated), page.Printable(g.Due)}})
	}
	return t
}

// readTable lists what was read, with the gauge, and when and by whom as far as
// the logbook has.
func (s writer) readTable(how *Options, model *calc.Model, r *calc.Report) table.Table {
	t := table.Table{Title: "read", Columns: []table.Column{{Header: "quantity"},
		{Header: "read", Align: table.Decimal}, {Header: "±", Align: table.Decimal},
		{Header: "unit"}, {Header: "with"}, {Header: "when"}, {Header: "who"}}}
	for i := range r.Quantities {
		j := &r.Quantities[i]
		line := model.Entered(j.Quantity)
		read := calc.Has(j.Reading)
		if !read && (j.Quantity.IsFormula() || !calc.Has(j.Value) || j.Quantity.IsTick() || line == nil &&
			j.Quantity.With == "") {
			continue
		}
		number, spread, _ := j.Subject()
		cells := []string{j.Quantity.Name, s.Numbers.TypedOn(j.Unit, number, spread),
			s.Numbers.SpreadOn(j.Unit, number, spread), page.ShownUnit(j.Unit), page.Printable(j.Quantity.With), "", ""}
		if line != nil {
			cells[5], cells[6] = minute(line.When.Text), page.Printable(line.Who.Text)
		}
		t.Rows = append(t.Rows, table.Row{Heading: j.Quantity.Sheet.Name, Cells: cells})
	}
	for _, read := range how.Read {
		t.Rows = append(t.Rows, table.Row{Heading: read.Sheet,
			Cells: []string{page.Printable(read.Cell), page.Printable(read.Line.Is.Text), "", "",
				page.Printable(read.Line.With.Text), minute(read.Line.When.Text), page.Printable(read.Line.Who.Text)}})
	}
	return t
}

// minute is a moment of the logbook as people tell it.
func minute(when string) string {
	if len(when) > len("2006-01-02 15:04") {
		when = when[:len("2006-01-02 15:04")]
	}
	return page.Printable(when)
}

// mostChanges is how many changes a report lists, the last ones.
const mostChanges = 100

// changeTable lists what was changed from one number to another, such as the gap
// before a wedge was moved and after it, and was not taken back.
func changeTable(lines []sheets.EntryRow) table.Table {
	t := table.Table{Title: "before and after", Columns: []table.Column{{Header: "what"},
		{Header: "before", Align: table.Decimal},
		{Header: "after", Align: table.Decimal}, {Header: "with"}, {Header: "when"}, {Header: "who"}, {Header: "note"}}}
	if more := len(lines) - mostChanges; more > 0 {
		lines = lines[more:]
		t.Note = words.Counted(more, "earlier change") + " in the logbook."
	}
	for _, line := range lines {
		t.Rows = append(t.Rows, table.Row{Cells: []string{page.Printable(line.What.Text), page.Printable(line.Was.Text),
			page.Printable(line.Is.Text),
			page.Printable(line.With.Text), minute(line.When.Text), page.Printable(line.Who.Text),
			page.Printable(line.Note.Text)}})
	}
	return t
}
