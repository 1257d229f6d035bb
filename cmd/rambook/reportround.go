package main

import (
	"rambook/calc"
	"rambook/sheets"
	"rambook/sheets/table"
)

// This file is about who read what with which gauge, as a report tells it.

// round lists the gauges, what was read with each, when and by whom, and what
// was changed to what.
func (s screen) round(how *paperOptions, model *calc.Model, r *calc.Report) chapter {
	c := chapter{Title: "Readings and gauges"}
	c.addTables(s.readTable(how, model, r), gaugeTable(model), changeTable(how.Changed))
	return c
}

// gaugeTable lists the gauges with their numbers and dates.
func gaugeTable(model *calc.Model) table.Table {
	t := table.Table{Title: "gauges", Columns: []table.Column{{Header: "gauge"}, {Header: "serial number"},
		{Header: "class"}, {Header: "span"},
		{Header: "step"}, {Header: "calibrated"}, {Header: "due"}}}
	for _, g := range model.Gauges {
		t.Rows = append(t.Rows, table.Row{Cells: []string{printable(g.Name), printable(g.Serial), printable(g.Class),
			printable(g.Span),
			printable(g.Step), printable(g.Calibrated), printable(g.Due)}})
	}
	return t
}

// readTable lists what was read, with the gauge, and when and by whom as far as
// the logbook tells.
func (s screen) readTable(how *paperOptions, model *calc.Model, r *calc.Report) table.Table {
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
		cells := []string{j.Quantity.Name, s.numbers.typedOn(j.Unit, number, spread),
			s.numbers.spreadOn(j.Unit, number, spread), shownUnit(j.Unit), printable(j.Quantity.With), "", ""}
		if line != nil {
			cells[5], cells[6] = minute(line.When.Text), printable(line.Who.Text)
		}
		t.Rows = append(t.Rows, table.Row{Heading: j.Quantity.Sheet.Name, Cells: cells})
	}
	for _, read := range how.Read {
		t.Rows = append(t.Rows, table.Row{Heading: read.Sheet,
			Cells: []string{printable(read.Cell), printable(read.Line.Is.Text), "", "",
				printable(read.Line.With.Text), minute(read.Line.When.Text), printable(read.Line.Who.Text)}})
	}
	return t
}

// minute is a moment of the logbook as people tell it.
func minute(when string) string {
	if len(when) > len("2006-01-02 15:04") {
		when = when[:len("2006-01-02 15:04")]
	}
	return printable(when)
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
		t.Note = counted(more, "earlier change") + " in the logbook."
	}
	for _, line := range lines {
		t.Rows = append(t.Rows, table.Row{Cells: []string{printable(line.What.Text), printable(line.Was.Text),
			printable(line.Is.Text),
			printable(line.With.Text), minute(line.When.Text), printable(line.Who.Text), printable(line.Note.Text)}})
	}
	return t
}
