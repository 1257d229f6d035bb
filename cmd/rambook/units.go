package main

import (
	"fmt"
	"strings"

	"rambook/calc"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units"
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
	if s.output.Format == "json" {
		list := make([]jsonUnit, 0, len(found))
		for _, u := range found {
			list = append(list, jsonUnit{u.Name, u.Meaning, u.Quantity, u.Definition, u.Source, u.InFormulas})
		}
		return writeJSON(&s.out, list)
	}
	t := unitTable(found)
	if s.output.Format == "csv" {
		// CSV has no headings, so what a unit measures gets a column.
		t.Columns = append(t.Columns, table.Column{Header: "measures"})
		for i := range t.Rows {
			t.Rows[i].Cells = append(t.Rows[i].Cells, t.Rows[i].Heading)
		}
	}
	if s.output.Format == "table" && t.Width() > s.width() {
		t.Columns = t.Columns[:3] // the sources are for wide screens and other formats
	}
	if choices, ok := units.Ambiguous(c.Word); ok {
		t.Note = "`" + c.Word + "` alone is ambiguous and refused; write " + listed(choices, len(choices)) + "."
	}
	if err := s.print(t); err != nil {
		return err
	}
	if c.Word == "" && s.output.Format == "table" {
		fmt.Fprintln(&s.out)
		fmt.Fprintln(&s.out, wrapped("No quantity can have one of these names: "+
			strings.Join(append(units.ReservedNames(), calc.ReservedWords()...), ", ")+".", s.width(), 0))
	}
	return nil
}

func (c *unitsCommand) fits(symbol units.Symbol) bool {
	word := strings.ToLower(c.Word)
	return c.Word == symbol.Name || len(word) > 2 &&
		(strings.Contains(strings.ToLower(symbol.Meaning), word) || strings.Contains(symbol.Quantity, word)) || word == ""
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
		return argumentProblem(err)
	}
	if s.output.Format == "json" {
		return writeJSON(&s.out, []jsonUnit{{Symbol: u.Symbol, Measures: u.Dim.Name(), Definition: c.inSI(u), InFormulas: true}})
	}
	return s.print(unitTable([]units.Symbol{{Name: u.Symbol, Quantity: u.Dim.Name(), Definition: c.inSI(u)}}))
}

func (c *unitsCommand) inSI(u units.Unit) string {
	return shortest(u.DiffToSI(1)) + " " + u.Dim.String()
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

// argumentProblem shows what is wrong inside an argument.
func argumentProblem(err *units.Error) error {
	return wrong(sheets.Problem{
		Text: err.Text, From: err.From, To: err.To, Message: err.Message, Hint: err.Hint,
	})
}
