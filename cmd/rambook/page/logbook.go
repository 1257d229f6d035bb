package page

import (
	"rambook/sheets"
	"rambook/sheets/table"
)

// LogbookTable shows lines of a logbook.
func LogbookTable(entries []sheets.EntryRow) table.Table {
	var t table.Table
	for _, name := range []string{"when", "who", "what", "was", "is", "with", "note"} {
		t.Columns = append(t.Columns, table.Column{Header: name})
	}
	for _, r := range entries {
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

// JSONLogbook is what `logbook --format json` promises.
func JSONLogbook(entries []sheets.EntryRow) any {
	list := []jsonEntry{}
	for _, r := range entries {
		list = append(list, jsonEntry{r.When.Text, r.Who.Text, r.What.Text, r.Was.Text, r.Is.Text, r.With.Text,
			r.Note.Text})
	}
	return map[string]any{"entries": list}
}
