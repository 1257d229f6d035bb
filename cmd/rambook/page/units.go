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

// UnitsView lists the units that fit a word, "" for all.
type UnitsView struct {
	Found    []units.Symbol
	Word     string
	OnScreen bool
	Layout   Layout
}

// Page lists them; on a screen the other names that a quantity cannot have stand
// below all of them.
func (v *UnitsView) Page() []table.Table {
	t := unitTable(v.Found)
	if t.Width() > v.Layout.Width {
		t.Columns = t.Columns[:3] // the sources are for wide screens and other formats
	}
	if choices, ok := units.Ambiguous(v.Word); ok {
		t.Note = words.Quoted(v.Word) + " alone is ambiguous and refused; write " +
			words.Listed(choices, len(choices)) +
			"."
	}
	tables := []table.Table{t}
	if v.Word == "" && v.OnScreen {
		tables = append(tables, v.Layout.Sentences(0, "No quantity can have one of these names: "+
			strings.Join(append(units.ReservedNames(), calc.ReservedWords()...), ", ")+"."))
	}
	return tables
}

// Rows are units for programs. They have no headings, so what a unit measures gets
// a column.
func (v *UnitsView) Rows() table.Table {
	t := unitTable(v.Found)
	t.Columns = append(t.Columns, table.Column{Header: "measures"})
	for i := range t.Rows {
		t.Rows[i].Cells = append(t.Rows[i].Cells, t.Rows[i].Heading)
	}
	return t
}

// Object is what `units --format json` promises.
func (v *UnitsView) Object() any {
	list := make([]jsonUnit, 0, len(v.Found))
	for _, u := range v.Found {
		list = append(list, jsonUnit{u.Name, u.Meaning, u.Quantity, u.Definition, u.Source, u.InFormulas})
	}
	return list
}

// UnitView is a unit that no table has, made of several.
type UnitView struct{ Symbol units.Symbol }

// Page is its definition.
func (v *UnitView) Page() []table.Table { return []table.Table{v.Rows()} }

// Rows is the same.
func (v *UnitView) Rows() table.Table { return unitTable([]units.Symbol{v.Symbol}) }

// Object is a list of one, as of other units.
func (v *UnitView) Object() any { return (&UnitsView{Found: []units.Symbol{v.Symbol}}).Object() }

// unitTable lists units under what they measure.
func unitTable(found []units.Symbol) table.Table {
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
