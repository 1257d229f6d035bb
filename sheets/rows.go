package sheets

import (
	"fmt"
	"reflect"
	"strings"

	"rambook/units/words"
)

func (r *reader) readQuantities() {
	at := bind(r, quantityLayout())
	if !at.has("entry") {
		r.addAt(r.sheet.header[0], "sheet has no column `entry`",
			"the columns of a quantity sheet are "+strings.Join(quantityLayout().names, ","))
	}
	r.sheet.Rows = make([]Row, 0, r.rowsAhead())
	for r.nextRow() {
		name := r.record[0]
		if !r.named("name") {
			continue
		}
		if strings.HasPrefix(name.Text, ":") {
			r.addAt(name, "row "+words.Quoted(name.Text)+" belongs in a case sheet, "+
				"and the header `name` makes this a quantity sheet",
				"give the first column of a case sheet another header")
			continue
		}
		r.sheet.Rows = append(r.sheet.Rows, Row{Heading: r.heading, Overlong: r.overlong})
		at.fill(&r.sheet.Rows[len(r.sheet.Rows)-1], r.record, name)
	}
}

// readRecords reads the rows of a kind of sheet whose first column names what
// each is about, into the list that it is given the address of. A sheet without a needed
// column is a problem.
func readRecords(r *reader, l *layout, rows any, needed ...string) {
	list := reflect.ValueOf(rows).Elem()
	at := bind(r, l)
	for _, name := range needed {
		if !at.has(name) {
			r.addAt(r.sheet.header[0], "sheet has no column "+words.Quoted(name),
				"the columns of such a sheet are "+strings.Join(l.names, ","))
		}
	}
	for r.nextRow() {
		if r.named(l.names[0]) {
			list.Set(reflect.Append(list, reflect.Zero(list.Type().Elem())))
			at.fill(list.Index(list.Len()-1).Addr().Interface(), r.record, r.record[0])
		}
	}
}

// columnRows are the rows of a case sheet that speak of its columns.
var columnRows = []struct {
	name string
	cell func(*Column) *Cell
}{
	{":unit", func(c *Column) *Cell { return &c.Unit }},
	{":spread", func(c *Column) *Cell { return &c.Spread }},
	{":low", func(c *Column) *Cell { return &c.Low }},
	{":high", func(c *Column) *Cell { return &c.High }},
	{":note", func(c *Column) *Cell { return &c.Note }},
}

// readCases reads a case sheet whose second record is read already.
func (r *reader) readCases() {
	s := r.sheet
	s.Key = s.header[0]
	seen := map[string]bool{s.Key.Text: true}
	for _, h := range s.header[1:] {
		if seen[h.Text] && !h.Blank() {
			r.addAt(h, fmt.Sprintf("column %s stands twice in the header", words.Quoted(h.Text)), "")
		}
		seen[h.Text] = true
		blank := h.blank()
		s.Columns = append(s.Columns, Column{Name: h, Unit: blank, Spread: blank, Low: blank, High: blank,
			Note: blank})
	}
	if first := r.record[0]; first.Text != ":unit" {
		r.addAt(first, fmt.Sprintf("found %s below the header, expected `:unit`", words.Quoted(first.Text)), "")
	}

	given := make([]bool, len(columnRows))
	var room []Cell
	s.Cases = make([]CaseRow, 0, r.rowsAhead())
	for ok := r.fit(); ok; ok = r.nextRow() {
		name := r.record[0]
		if strings.HasPrefix(name.Text, ":") {
			r.readColumnRow(given)
			continue
		}
		if !r.named("name") {
			continue
		}
		// Cells of many cases share one allocation.
		width := len(s.Columns)
		if len(room) < width {
			room = make([]Cell, min(256, max(1, cap(s.Cases)-len(s.Cases)))*width)
		}
		cells := room[:width:width]
		room = room[width:]
		for i := range cells {
			cells[i] = columnIndex(i+2).of(r.record, name)
		}
		s.Cases = append(s.Cases, CaseRow{Heading: r.heading, Name: name, Cells: cells})
		if len(s.Cases)*len(s.header) > maxCells {
			r.addAt(name, fmt.Sprintf("sheet has more than %d cells, blank ones included", maxCells), "split the sheet")
			return
		}
	}
}

// readColumnRow reads one of the columnRows; given marks which of them came
// already.
func (r *reader) readColumnRow(given []bool) {
	name := r.record[0]
	for i, row := range columnRows {
		if row.name != name.Text {
			continue
		}
		if given[i] {
			r.addAt(name, fmt.Sprintf("row %s stands twice in this sheet", words.Quoted(name.Text)), "")
			return
		}
		given[i] = true
		for j := range r.sheet.Columns {
			c := &r.sheet.Columns[j]
			*row.cell(c) = columnIndex(j+2).of(r.record, c.Name)
		}
		return
	}
	r.addAt(name, fmt.Sprintf("row %s is not known", words.Quoted(name.Text)),
		"rows that begin with a colon are :unit, :spread, :low, :high and :note; "+
			"the name of a case cannot begin with one")
}

// named reports whether the record has a first cell, and the problem if not.
func (r *reader) named(what string) bool {
	if !r.record[0].Blank() {
		return true
	}
	for _, c := range r.record {
		if !c.Blank() {
			r.addAt(c, "row has no "+what, "a line that starts with # is a comment")
			break
		}
	}
	return false
}
