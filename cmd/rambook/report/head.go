package report

import (
	"cmp"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
	"rambook/units/words"
)

// machineTexts are the givens that a page is headed with, where a notebook has
// them: which machine it is, where it stands and who answers for the readings.
var machineTexts = []struct{ quantity, label string }{
	{"machine", "Machine"},
	{"serial_number", "Serial number"},
	{"place", "Place"},
	{"person", "Person"},
}

// facts are the head of a page. What a notebook has a row for and nobody has
// entered shows as such.
func facts(how *Options, model *calc.Model, r *calc.Report) []Fact {
	var list []Fact
	for _, text := range machineTexts {
		if q := model.Quantity(text.quantity); q != nil {
			list = append(list, Fact{text.label, cmp.Or(page.Printable(page.JudgedOf(r, q).Text), "not entered")})
		}
	}
	return append(list,
		Fact{"Notebook", strings.TrimPrefix(how.Title, "notebook ")},
		Fact{"Date", how.Date.Format(time.DateOnly)},
		Fact{"Made with", how.Program})
}

// machineName is what the notebook is about: the text given `machine`, else
// the name of the notebook.
func machineName(model *calc.Model, r *calc.Report) string {
	if q := model.Quantity(machineTexts[0].quantity); q != nil {
		if text := page.JudgedOf(r, q).Text; text != "" {
			return table.Visible(text)
		}
	}
	path := model.Book.Path
	if whole, err := filepath.Abs(path); err == nil { // nobody reads a point as a name
		path = whole
	}
	return filepath.Base(path)
}

// Marked puts the mark on the page where it belongs.
func (p *Page) Marked(model *calc.Model) *Page {
	if model.Book.Invented() {
		p.Mark = answer.InventedMark
	}
	return p
}

// safety finds the rows that a row with the unit verdict blames: they come
// first in an answer. Such a row itself comes before them.
func safety(r *calc.Report) map[string]bool {
	rows := map[string]bool{}
	for i := range r.Quantities {
		for _, blame := range r.Quantities[i].Blames {
			rows[blame.Name] = true
		}
	}
	return rows
}

// notOnThisMachine lists what the machine has none of and why, and what is
// therefore not computed.
func notOnThisMachine(model *calc.Model, r *calc.Report) chapter {
	c := chapter{Title: "Not on this machine"}
	t := table.Table{Columns: []table.Column{{Header: "quantity"}, {Header: "why"}}}
	var follows []string
	for i := range r.Quantities {
		j := &r.Quantities[i]
		switch q := j.Quantity; {
		case j.State != calc.Absent:
		case calc.IsAbsent(q.Row.Entry.Text):
			t.Rows = append(t.Rows, table.Row{Heading: q.Sheet.Name,
				Cells: []string{q.Name, cmp.Or(page.Printable(q.Row.Note.Text), "no reason entered")}})
		default:
			follows = append(follows, q.Name)
		}
	}
	for _, sheet := range model.Book.Aside {
		c.Lead = append(c.Lead, fmt.Sprintf("The sheet %s is set aside.", page.Printable(sheet.Name)))
	}
	if len(follows) > 0 {
		c.Lead = append(c.Lead, "Not computed, since something of it is not there: "+words.Listed(follows,
			len(follows))+".")
	}
	c.addTables(t)
	return c
}
