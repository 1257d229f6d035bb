package calc

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// tie is the stated correlation of the errors of two givens.
type tie struct {
	place
	a, b *Quantity
	r    float64
}

// correlationRole is a cell of a correlation sheet, which holds before anything
// is computed.
var correlationRole = role{what: "correlation", literal: true}

// readCorrelations reads the correlations of one sheet. The quantities of the
// whole notebook are known by then.
func (c *compiler) readCorrelations(s *sheets.Sheet) {
	for i := range s.Correlations {
		row := &s.Correlations[i]
		a, b := c.tied(placeIn(s, row.Given)), c.tied(placeIn(s, row.With))
		at := placeIn(s, row.Correlation)
		before := len(c.problems)
		e := c.read(at, units.Unit{}, correlationRole)
		switch {
		case len(c.problems) > before:
		case e.kind == blankEntry:
			c.report(at.fault("the correlation is missing", "write a number between -1 and 1"))
		case math.Abs(e.value) > 1:
			c.report(at.fault("a correlation lies between -1 and 1, found "+row.Correlation.Text, ""))
		case a == nil || b == nil:
		case a == b:
			c.report(placeIn(s, row.With).fault(a.Name+" cannot be correlated with itself", "drop the row"))
		default:
			c.addTie(&tie{at, a, b, e.value})
		}
	}
}

// tied finds a given that a correlation names.
func (c *compiler) tied(p place) *Quantity {
	name := p.cell.Text
	q := c.model.byName[name]
	switch {
	case q == nil:
		c.report(p.fault("no quantity is named "+words.Quoted(name),
			words.DidYouMean(name, c.givenNames(), "a correlation is between the errors of two givens")))
	case q.IsText() || q.IsFormula():
		c.report(p.fault(name+" is no given that is a number, and a correlation is between the errors of two givens",
			"name the givens it is computed from"))
		return nil
	case q.spread.kind == blankEntry:
		c.warn(p.fault(name+" has no spread, so its correlation means nothing", "give it its spread, or drop the row"))
	}
	return q
}

// addTie keeps a correlation, unless the two have one already.
func (c *compiler) addTie(t *tie) {
	for _, other := range c.model.ties {
		if other.a == t.a && other.b == t.b || other.a == t.b && other.b == t.a {
			c.report(t.fault(fmt.Sprintf("%s and %s have a correlation already, in line %d", words.Quoted(t.a.Name),
				words.Quoted(t.b.Name), other.place.cell.Line),
				"drop one of the two"))
			return
		}
	}
	c.model.ties = append(c.model.ties, t)
}

// lowerTies puts the correlations onto the tape, and refuses those that no
// errors can have together.
func (c *compiler) lowerTies() {
	if len(c.model.ties) == 0 {
		return
	}
	ties := &tape.Correlations{}
	var inputs []tape.Register
	for _, t := range c.model.ties {
		ties.Set(t.a.input(), t.b.input(), t.r)
		for _, q := range []*Quantity{t.a, t.b} {
			if !slices.Contains(inputs, q.input()) {
				inputs = append(inputs, q.input())
			}
		}
	}
	if worst := ties.Impossible(inputs); worst != nil {
		c.refuseTies(worst)
		return
	}
	c.model.tape.Ties = ties
}

// refuseTies names the rows between givens whose errors cannot be correlated as
// they say.
func (c *compiler) refuseTies(worst []tape.Register) {
	var rows []*tie
	for _, t := range c.model.ties {
		if slices.Contains(worst, t.a.passed) && slices.Contains(worst, t.b.passed) {
			rows = append(rows, t)
		}
	}
	last := rows[len(rows)-1]
	message := "these correlations contradict each other: they form no positive matrix"
	var others []string
	for _, t := range rows[:len(rows)-1] {
		others = append(others, strconv.Itoa(int(t.cell.Line)))
	}
	if len(others) > 0 {
		message += " together with line " + words.Listed(others, mostNames)
	}
	c.report(last.fault(message, "two errors that both go with a third go with each other; correct one of the rows"))
}
