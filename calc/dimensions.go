package calc

import (
	"fmt"
	"slices"

	"rambook/calc/function"
	"rambook/calc/words"
	"rambook/units"
)

// inferAll checks the dimensions of every expression of the notebook: first
// the formulas of the quantities in their order, so that each knows what the
// ones it uses are, then spreads and limits.
func (c *compiler) inferAll() {
	sorted := make([]bool, len(c.model.Quantities))
	for _, q := range c.model.order {
		sorted[q.index] = true
		c.checkFormula(q)
	}
	for _, q := range c.model.Quantities { // those in a loop
		if !sorted[q.index] {
			c.checkFormula(q)
		}
	}
	for _, q := range c.model.Quantities {
		c.checkPoints(q)
		c.checkEntry(&q.spread, q.Unit, q.typ, spreadRole)
		c.checkBounds(&q.bounds, q.Unit, q.typ)
	}
	for _, cs := range c.model.caseSheets {
		for _, a := range cs.judged() {
			c.checkEntry(&a.spread, a.unit, a.quantity.typ, spreadRole)
			c.checkBounds(&a.bounds, a.unit, a.quantity.typ)
		}
		for _, g := range cs.given {
			c.checkEntry(&g.spread, g.unit, g.quantity.typ, spreadRole)
		}
	}
	c.warnTexts()
	c.warnData()
}

// checkFormula checks a quantity's own formula.
func (c *compiler) checkFormula(q *Quantity) {
	f := q.entry.formula
	if f == nil || f.root == nil {
		return
	}
	t := c.inferFormula(f)
	if t.Sort == function.Unknown || q.typ.Sort == function.Unknown {
		return
	}
	c.checkResult(f, t, q.Unit, q.typ, "row")
	// A row in K takes points and differences alike; it is what its formula is.
	if t.Sort == function.Number && q.Unit.Kind == units.Ordinary && q.Unit.Dim == units.Temperature {
		q.typ.Point = t.Point
	}
}

// checkPoints refuses numbers that are temperature points where the row holds
// a difference. What a row in K holds is known only from its formula.
func (c *compiler) checkPoints(q *Quantity) {
	if q.Unit.Kind != units.Ordinary || q.Unit.Dim != units.Temperature || q.typ.Point {
		return
	}
	for _, e := range []*entry{&q.reading, &q.low, &q.high} {
		if e.kind == numberEntry && e.typ.Point {
			c.report(e.fault(e.cell.Text+" is a temperature point, but "+q.Name+" is a temperature difference", "write the difference in K"))
		}
	}
}

func (c *compiler) checkBounds(b *bounds, u units.Unit, wanted function.Type) {
	c.checkEntry(&b.low, u, wanted, lowRole)
	c.checkEntry(&b.high, u, wanted, highRole)
}

// checkEntry checks a spread or a limit that is an expression.
func (c *compiler) checkEntry(e *entry, u units.Unit, wanted function.Type, r role) {
	if e.kind != formulaEntry || e.formula.root == nil || wanted.Sort == function.Unknown {
		return
	}
	t := c.inferFormula(e.formula)
	if t.Sort == function.Unknown {
		return
	}
	if r.difference {
		if t.Point {
			c.report(e.problem(e.formula.root.span(), "a spread is a difference, found "+t.String(), ""))
			return
		}
		u.Kind = units.Ordinary
		wanted.Point = false
	}
	c.checkResult(e.formula, t, u, wanted, r.what)
}

// checkResult compares what a formula yields with what its row is.
func (c *compiler) checkResult(f *formula, t function.Type, u units.Unit, wanted function.Type, what string) {
	refuse := func(message, hint string) { c.report(f.problem(f.root.span(), message, hint)) }
	switch {
	case t.Sort == function.Truth:
		refuse("a truth value is no result", "write condition ? 1 : 0")
	case t.Sort == function.Text:
		refuse("a text is no result", "texts can only be compared, with == or !=")
	case t.Dim != wanted.Dim:
		hint := units.MismatchHint(t.Dim, wanted.Dim)
		if hint == "" {
			hint = f.ingredients()
		}
		refuse(fmt.Sprintf("the formula yields %s, but the %s %s", function.WithArticle(t), what, isIn(u)), hint)
	case u.Kind == units.Point && !t.Point:
		refuse("a temperature difference cannot stand in "+u.Symbol, "write the unit K")
	case u.Kind == units.Date && !t.Point:
		refuse("a time is no date", "add it to a date, or give the row a unit of time")
	case u.Kind == units.Ordinary && t.Point && t.Dim == units.Time && what == "row":
		refuse("the formula yields a date, but the row "+isIn(u), "write the unit date")
	}
}

// ingredients lists the quantities of a formula with their units, for a reader
// who has to find the one that does not fit.
func (f *formula) ingredients() string {
	var list []string
	for _, q := range f.uses() {
		if part := q.Name + " " + isIn(q.Unit); !slices.Contains(list, part) {
			list = append(list, part)
		}
	}
	return words.Listed(list, 5)
}
