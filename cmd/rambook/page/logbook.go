package page

import (
	"cmp"
	"strings"

	"rambook/sheets"
	"rambook/sheets/table"
)

// LogbookView shows lines of a logbook.
type LogbookView []sheets.EntryRow

// Page is a line for each change that fits a narrow screen: below the day and who
// it was, what was changed and to what; with which gauge and why stand behind that.
func (v LogbookView) Page() []table.Table {
	t := table.Table{Columns: []table.Column{{Header: "at"}, {Header: "what"}, {Header: "change"}}}
	for i, r := range v {
		day, at, _ := strings.Cut(r.When.Text, " ")
		at, _, _ = strings.Cut(at, ".")
		change := orBlank(r.Was.Text) + " -> " + orBlank(r.Is.Text)
		if r.Was.Blank() && strings.HasSuffix(r.What.Text, "]") {
			change = "new: " + r.Is.Text // a whole case
		}
		if !r.With.Blank() {
			change += "; with " + r.With.Text
		}
		if !r.Note.Blank() && (i == 0 || v[i-1].Note.Text != r.Note.Text || v[i-1].When.Text != r.When.Text) {
			change += "; " + r.Note.Text
		}
		t.Rows = append(t.Rows, table.Row{Heading: Printable(strings.TrimSuffix(day+", "+r.Who.Text, ", ")),
			Cells: []string{at, Printable(r.What.Text), Printable(change)}})
	}
	return []table.Table{t}
}

func orBlank(text string) string { return cmp.Or(text, "(blank)") }

// Book is a column for each kind of entry.
func (v LogbookView) Book() []table.Table { return []table.Table{v.Rows()} }

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
