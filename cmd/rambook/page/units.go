package page

import (
	"strings"

	"rambook/calc"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

type jsonUnit struct {
	Symbol     string `json:"symbol"`
	Unit       string `json:"unit"`
	Measures   string `json:"measures"`
	Definition string `json:"definition"`
	Source     string `json:"source"`
	InFormulas bool   `json:"in_formulas"`
}

// Units lists the units that fit a word; on a screen the other names that a quantity
// cannot have stand below all of them.
func (s Layout) Units(found []units.Symbol, word string, screen bool) []table.Table {
	t := UnitTable(found)
	if t.Width() > s.Width {
		t.Columns = t.Columns[:3] // the sources are for wide screens and other formats
	}
	if choices, ok := units.Ambiguous(word); ok {
		t.Note = words.Quoted(word) + " alone is ambiguous and refused; write " + words.Listed(choices, len(choices)) +
			"."
	}
	tables := []table.Table{t}
	if word == "" && screen {
		tables = append(tables, s.Sentences(0, "No quantity can have one of these names: "+
			strings.Join(append(units.ReservedNames(), calc.ReservedWords()...), ", ")+"."))
	}
	return tables
}

// UnitRows are units for programs. They have no headings, so what a unit
// measures gets a column.
func UnitRows(found []units.Symbol) table.Table {
	t := UnitTable(found)
	t.Columns = append(t.Columns, table.Column{Header: "measures"})
	for i := range t.Rows {
		t.Rows[i].Cells = append(t.Rows[i].Cells, t.Rows[i].Heading)
	}
	return t
}

// JSONUnits is what `units --format json` promises.
func JSONUnits(found []units.Symbol) any {
	list := make([]jsonUnit, 0, len(found))
	for _, u := range found {
		list = append(list, jsonUnit{u.Name, u.Meaning, u.Quantity, u.Definition, u.Source, u.InFormulas})
	}
	return list
}

// UnitTable lists units under what they measure.
func UnitTable(found []units.Symbol) table.Table {
	t := table.Table{Columns: []table.Column{
		{Header: "symbol"}, {Header: "unit"}, {Header: "is"}, {Header: "source"},
	}}
	for _, u := range found {
		t.Rows = append(t.Rows, table.Row{
			Heading: u.Quantity, Cells: []string{u.Name, u.Meaning, u.Definition, u.Source},
		})
	}
	return t
}
