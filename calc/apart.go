package calc

import (
	"context"
	"math"

	"rambook/calc/tape"
)

// contributions is how far the spread of each input moves one quantity, case
// by case. Two cases have most of their inputs in common, and what moves both
// alike is no doubt about their difference.
type contributions struct {
	parts  [][]float64 // by input and case: ∂quantity/∂input × spread of the input, SI
	source [][]float64 // by input and case: equal where the input is the same; NaN where it is the case's own
}

// contributions runs a case sheet for the derivatives of one quantity.
func (m *Model) contributions(cs *caseSheet, q *Quantity, base []float64) *contributions {
	t := m.tape.Extend()
	terms := tape.Differentiate(t, m.caseSeeds(cs), []tape.Register{q.value}).Terms[q.value]
	var outputs []tape.Register
	replaced := make([]*givenColumn, len(terms)) // the column that replaces an input, nil for others
	for k, term := range terms {
		key := tape.None
		if o := &m.tape.Ops[term.Input]; o.Code == tape.OpLookup {
			key = o.A // cells are the same where their keys are
		}
		outputs = append(outputs, term.Part, key)
		for _, g := range cs.given {
			if g.quantity.value == term.Input {
				replaced[k] = g
			}
		}
	}
	n := len(cs.sheet.Cases)
	c := &contributions{parts: make([][]float64, len(terms)), source: make([][]float64, len(terms))}
	for k := range terms {
		c.parts[k], c.source[k] = make([]float64, n), make([]float64, n)
	}
	program := tape.NewProgram(t, cs.inputs(), outputs, t.Continue(base))
	_ = program.Run(context.Background(), n, 0, func(b *tape.Block) { cs.fill(b, base) }, func(b *tape.Block) {
		for k := range terms {
			copy(c.parts[k][b.First:], b.Out[2*k])
			copy(c.source[k][b.First:], b.Out[2*k+1])
			if replaced[k] == nil {
				continue
			}
			for i := range b.N { // a blank cell leaves the model's own given
				if at := b.First + i; !tape.IsMissing(replaced[k].column.values[at]) {
					c.source[k][at] = math.NaN()
				}
			}
		}
	})
	return c
}

// apart is the spread of the difference between two cases, SI: the root of the
// sum of squares over all inputs, those that they share counted once (JCGM 100,
// F.1.2.3). Of a case whose quantity is read instead of computed, no input
// counts. It is infinite if a slope is.
func (c *contributions) apart(a, b int, readA, readB bool) float64 {
	sum := 0.0
	for k, parts := range c.parts {
		partA, partB := parts[a], parts[b]
		if readA {
			partA = 0
		}
		if readB {
			partB = 0
		}
		joint := math.Hypot(partA, partB)
		if c.source[k][a] == c.source[k][b] {
			if joint = math.Abs(partA - partB); joint <= limitSlack*math.Abs(partA) {
				joint = 0 // rounding
			}
		}
		sum = math.Hypot(sum, joint)
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}
