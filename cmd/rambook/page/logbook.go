package page

import (
	"rambook/sheets"
	"rambook/sheets/table"
)

// LogbookView shows lines of a logbook.
type LogbookView []sheets.EntryRow

// Page is the lines as a table.
func (v LogbookView) Page() []table.Table { return []table.Table{v.Rows()} }

// Rows are the lines.
func (v LogbookView) Rows() table.Table {
	var t table.Table
	for _, name := range []string{"when", "who", "what", "was", "is", "with", "note"} {
		t.Columns = append(t.Columns, table.Column{Header: name})
	}
	for _, r := range v {
		var cells []string
		for _, cell := range []sheets.Cell{r.When, r.Who, r.What, r.Was, r.Is, r.With, r.Note} {
			cells = append(cells, Printable(cell.Text))
		}
		t.Rows = append(t.Rows, table.Row{Cells: cells})
	}
	return t
}

type jsonEntry struct {
	When string `json:"when"`
	Who  string `json:"who"`
	What string `json:"what"`
	Was  string `json:"was"`
	Is   string `json:"is"`
	With string `json:"with"`
	Note string `json:"note"`
}

// Object is what `logbook --format json` promises.
func (v LogbookView) Object() any {
	list := []jsonEntry{}
	for _, r := range v {
		list = append(list, jsonEntry{r.When.Text, r.Who.Text, r.What.Text, r.Was.Text, r.Is.Text, r.With.Text,
			r.Note.Text})
	}
	return map[string]any{"entries": list}
}
