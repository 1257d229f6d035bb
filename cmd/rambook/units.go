package main

import (
	"strings"

	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
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
	return s.answer(answer.Of("", false, &page.UnitsView{Found: found, Word: c.Word, OnScreen: s.form.Screen,
		Layout: s.screen()}))
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
		return problem(words.Quoted(c.Word)+" has several meanings", "write "+strings.Join(choices, ", "))
	}
	u, err := units.Parse(c.Word)
	if err != nil {
		if err.Hint == "" {
			err.Hint = "rambook units lists all"
		}
		return wrong(*err)
	}
	return s.answer(answer.Of("", false, &page.UnitView{Symbol: units.Symbol{Name: u.Symbol, Quantity: u.Dim.Name(),
		Definition: page.Shortest(u.DiffToSI(1)) + " " + u.Dim.String(), InFormulas: true}}))
}
