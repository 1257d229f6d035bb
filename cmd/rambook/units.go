package main

import (
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

type unitsCommand struct {
	Word string `arg:"" optional:"" help:"A symbol, a unit such as kN/m, or a word such as pressure."`
	outputFlags
}

func (unitsCommand) Help() string {
	return "Example:\n\n  rambook units pressure\n  rambook units ton"
}

type jsonUnit struct {
	Symbol     string `json:"symbol"`
	Unit       string `json:"unit"`
	Measures   string `json:"measures"`
	Definition string `json:"definition"`
	Source     string `json:"source"`
	InFormulas bool   `json:"in_formulas"`
}

// Run lists the units that fit the word; without a word all of them, and then
// the other names that a quantity cannot have.
func (c *unitsCommand) Run(s *session) error {
	var found []units.Symbol
	for _, symbol := range units.Symbols() {
		if c.fits(symbol) {
			found = append(found, symbol)
		}
	}
	if len(found) == 0 {
		return c.explain(s)
	}
	return s.answer(&answer.Answer{
		Page:   func() []table.Table { return c.page(s, found) },
		Rows:   func() table.Table { return unitRows(found) },
		Object: func() any { return newJSONUnits(found) },
	})
}

// page lists units; on a screen the other names that a quantity cannot have
// stand below all of them.
func (c *unitsCommand) page(s *session, found []units.Symbol) []table.Table {
	t := unitTable(found)
	if t.Width() > s.screen().Width {
		t.Columns = t.Columns[:3] // the sources are for wide screens and other formats
	}
	if choices, ok := units.Ambiguous(c.Word); ok {
		t.Note = "`" + c.Word + "` alone is ambiguous and refused; write " + words.Listed(choices, len(choices)) + "."
	}
	tables := []table.Table{t}
	if c.Word == "" && s.form.Screen {
		tables = append(tables, s.screen().Sentences(0, "No quantity can have one of these names: "+
			strings.Join(append(units.ReservedNames(), calc.ReservedWords()...), ", ")+"."))
	}
	return tables
}

// unitRows are units for programs. They have no headings, so what a unit
// measures gets a column.
func unitRows(found []units.Symbol) table.Table {
	t := unitTable(found)
	t.Columns = append(t.Columns, table.Column{Header: "measures"})
	for i := range t.Rows {
		t.Rows[i].Cells = append(t.Rows[i].Cells, t.Rows[i].Heading)
	}
	return t
}

func newJSONUnits(found []units.Symbol) []jsonUnit {
	list := make([]jsonUnit, 0, len(found))
	for _, u := range found {
		list = append(list, jsonUnit{u.Name, u.Meaning, u.Quantity, u.Definition, u.Source, u.InFormulas})
	}
	return list
}

func (c *unitsCommand) fits(symbol units.Symbol) bool {
	word := strings.ToLower(c.Word)
	return c.Word == symbol.Name || len(word) > 2 &&
		(strings.Contains(strings.ToLower(symbol.Meaning), word) || strings.Contains(symbol.Quantity, word)) ||
		word == ""
}

// explain answers for a word that no line of the table has: a compound unit, a
// name with several meanings, or nothing that is known.
func (c *unitsCommand) explain(s *session) error {
	if choices, ok := units.Ambiguous(c.Word); ok {
		return problem("`"+c.Word+"` has several meanings", "write "+strings.Join(choices, ", "))
	}
	u, err := units.Parse(c.Word)
	if err != nil {
		if err.Hint == "" {
			err.Hint = "rambook units lists all"
		}
		return wrong(*err)
	}
	found := []units.Symbol{{Name: u.Symbol, Quantity: u.Dim.Name(), Definition: c.inSI(u), InFormulas: true}}
	return s.answer(&answer.Answer{
		Page:   func() []table.Table { return []table.Table{unitTable(found)} },
		Object: func() any { return newJSONUnits(found) },
	})
}

func (c *unitsCommand) inSI(u units.Unit) string {
	return page.Shortest(u.DiffToSI(1)) + " " + u.Dim.String()
}

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
