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
	// column lists, by input, the inputs that may be the same in different cases:
	// the look-ups of one column, else the input alone.
	column [][]int
}

// contributions runs a case sheet for the derivatives of one quantity.
func (m *Model) contributions(cs *caseSheet, q *Quantity, base []float64) *contributions {
	t := m.tape.Extend()
	terms := tape.Differentiate(t, m.caseSeeds(cs), []tape.Register{q.value}).Terms[q.value]
	var outputs []tape.Register
	replaced := make([]*givenColumn, len(terms)) // the column that replaces an input, nil for others
	alone := make([]int, len(terms))
	lookups := map[*tape.Details][]int{} // by the table that all look-ups of a column share
	for k, term := range terms {
		key := tape.None
		alone[k] = k
		if o := &m.tape.Ops[term.Input]; o.Code == tape.OpLookup {
			key = o.A // cells are the same where their keys are
			lookups[o.More] = append(lookups[o.More], k)
		}
		outputs = append(outputs, term.Part, key)
		for _, g := range cs.given {
			if g.quantity.value == term.Input {
				replaced[k] = g
			}
		}
	}
	n := len(cs.sheet.Cases)
	c := &contributions{parts: make([][]float64, len(terms)), source: make([][]float64, len(terms)), column: make([][]int, len(terms))}
	for k, term := range terms {
		c.column[k] = alone[k : k+1]
		if o := &m.tape.Ops[term.Input]; o.Code == tape.OpLookup {
			c.column[k] = lookups[o.More]
		}
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
		if partA != 0 {
			shared := 0.0
			if !readB {
				shared = c.same(k, a, b)
			}
			joint := math.Abs(partA - shared)
			if joint <= limitSlack*math.Abs(partA) {
				joint = 0 // rounding
			}
			sum = math.Hypot(sum, joint)
		}
		if partB != 0 && (readA || c.same(k, b, a) == 0) {
			sum = math.Hypot(sum, partB)
		}
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}

// same is what the source that an input has in one case contributes in another,
// by whichever look-up it comes in there; 0 if it does not.
func (c *contributions) same(k, from, to int) float64 {
	for _, j := range c.column[k] {
		if c.source[j][to] == c.source[k][from] && c.parts[j][to] != 0 {
			return c.parts[j][to]
		}
	}
	return 0
}
