package calc

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
	"rambook/units/sorting"
)

// caseSpreads are of what may be wrong with the number of one quantity in every case
// of a sheet: with the reading where there is one, else with what is computed. Two
// cases have most of their inputs in common: the givens that neither replaces, the
// cells that both look up, the gauge that both were read with. What such an input
// is wrong by moves both.
//
// The given of a case's own is wrong by itself. If its error is correlated with
// that of a given that the cases share, then it is what that one says of it, and
// a rest of its own.
type caseSpreads struct {
	shared  [][]share // by case, in the order of the sources; spreads, SI
	own     []float64 // by case: the spread by all that no other case has a part in; infinite if a slope is
	sources int
}

// share is what one source of error, independent of all others, contributes: by how
// far the truth lies above the number if the source is above its own by its spread.
type share struct {
	source int
	part   float64
}

// cause is what may be the same in several cases: an input of the model, or
// the cell of a column that look-ups find by a key.
type cause struct {
	input  tape.Register
	column *tape.Details // which all look-ups of a column have in common
	key    float64
}

// caseSpreads runs a case sheet for the derivatives of one quantity. numbers are
// what was read and computed of it in each case.
func (m *Model) caseSpreads(cs *caseSheet, asked *judgedColumn, numbers []Judged, base []float64) *caseSpreads {
	q, t := asked.quantity, m.tape.Extend()
	s := tape.Differentiate(t, cs.caseSeeds(m.seeds()), []tape.Register{q.truth()})
	terms := s.Terms[q.truth()]
	var outputs []tape.Register
	replaced := make([]*givenColumn, len(terms)) // the column that replaces an input, nil for others
	inputs := make([]tape.Register, len(terms))
	for k, term := range terms {
		inputs[k] = term.Input
		outputs = append(outputs, term.Part)
		for _, g := range cs.given {
			if g.input() == term.Input {
				replaced[k] = g
			}
			if g.kept != nil && g.kept.own == term.Input { // what the notebook has is the same in every case
				inputs[k] = g.input()
			}
		}
	}
	lookups := map[int]int{} // by term: the output that has the key
	for k, r := range inputs {
		if o := &m.tape.Ops[r]; o.Code == tape.OpLookup {
			lookups[k] = len(outputs)
			outputs = append(outputs, o.A)
		}
	}
	n := len(cs.sheet.Cases)
	out := make([][]float64, len(outputs))
	for k := range out {
		out[k] = make([]float64, n)
	}
	program := tape.NewProgram(t, cs.inputs(), outputs, t.Continue(base))
	_ = program.Run(context.Background(), n, 0, func(b *tape.Block) { cs.fill(b, base) }, func(b *tape.Block) {
		for k := range outputs {
			copy(out[k][b.First:], b.Out[k])
		}
	})
	c := &caseSpreads{shared: make([][]share, n), own: make([]float64, n)}
	known := map[cause]int{}
	ties := newParting(m.tape.Ties, inputs)
	source := func(of cause) int {
		if _, ok := known[of]; !ok {
			known[of] = len(known)
		}
		return known[of]
	}
	parts, own := make([]float64, len(terms)), make([]bool, len(terms))
	gauge := asked.judgement().gauge
	for i := range n {
		if reading, spread, read := numbers[i].Subject(); read {
			c.own[i] = numbers[i].Unit.Difference().ToSI(spread)
			if gauge != nil {
				shared := gauge.sharedAt(numbers[i].Unit.ToSI(reading))
				c.own[i] = gauge.ownWithin(c.own[i], shared)
				c.shared[i] = []share{{source(cause{input: gauge.Gauge.offset.value}), -shared}}
			}
			if !Has(c.own[i]) { // a reading without a spread is taken for what it is
				c.own[i] = 0
			}
			continue
		}
		usable := true
		for k := range terms {
			parts[k] = out[k][i]
			usable = usable && tape.Usable(parts[k])
			// a blank cell leaves the model's
			own[k] = replaced[k] != nil && !tape.IsMissing(replaced[k].column.values[i])
		}
		if !usable {
			c.own[i] = math.Inf(1)
			continue
		}
		c.own[i] = ties.part(parts, own)
		sums := map[int]float64{}
		for k, part := range parts {
			from := cause{input: inputs[k]}
			if at, ok := lookups[k]; ok {
				from = cause{column: m.tape.More(&m.tape.Ops[inputs[k]]), key: out[at][i]}
			}
			if part == 0 {
				continue
			}
			sums[source(from)] += part
		}
		for from, part := range sums {
			c.shared[i] = append(c.shared[i], share{from, part})
		}
		sorting.Stable(c.shared[i], func(a, b share) int { return a.source - b.source })
	}
	c.sources = len(known)
	return c
}

// ofDifference is the spread of the difference between two cases, SI: the root of the
// sum of squares over all sources of error, those that the cases share counted
// once (JCGM 100, F.1.2.3). It is infinite if a slope is.
func (c *caseSpreads) ofDifference(a, b int) float64 {
	sharesA, sharesB := c.shared[a], c.shared[b]
	sum := math.Hypot(c.own[a], c.own[b])
	for len(sharesA) > 0 || len(sharesB) > 0 {
		partA, partB := 0.0, 0.0
		first := func(shares []share, others []share) bool {
			return len(shares) > 0 && (len(others) == 0 || shares[0].source <= others[0].source)
		}
		takeA, takeB := first(sharesA, sharesB), first(sharesB, sharesA)
		if takeA {
			partA, sharesA = sharesA[0].part, sharesA[1:]
		}
		if takeB {
			partB, sharesB = sharesB[0].part, sharesB[1:]
		}
		if joint := math.Abs(partA - partB); joint > limitSlack*math.Abs(partA) { // less is rounding
			sum = math.Hypot(sum, joint)
		}
	}
	return sum
}

// parting parts what inputs contribute to a case into what is shared and what is
// the case's own.
type parting struct {
	tied    []int         // the inputs with correlated errors
	between *mat.SymDense // their correlations
	root    *mat.TriDense // of those; nil if there are none
	said    map[string]*mat.Dense
}

func newParting(ties *tape.Correlations, inputs []tape.Register) *parting {
	p := &parting{said: map[string]*mat.Dense{}}
	var tied []tape.Register
	for k, a := range inputs {
		if slices.ContainsFunc(inputs, func(b tape.Register) bool { return a != b && ties.Of(a, b) != 0 }) {
			p.tied, tied = append(p.tied, k), append(tied, a)
		}
	}
	if p.root, _ = ties.Root(tied); p.root == nil {
		return p
	}
	p.between = mat.NewSymDense(len(tied), nil)
	for i := range tied {
		for k := range i + 1 {
			p.between.SetSym(i, k, ties.Of(tied[i], tied[k]))
		}
	}
	return p
}

// part leaves in parts what is shared, as the contributions of errors that are
// independent of each other, and returns the spread by the rest.
func (p *parting) part(parts []float64, own []bool) (rest float64) {
	if p.root != nil {
		rest = p.untie(parts, own)
	}
	for k := range parts {
		if own[k] && !slices.Contains(p.tied, k) {
			rest = math.Hypot(rest, parts[k])
			parts[k] = 0
		}
	}
	return rest
}

// untie is part for the inputs with correlated errors. The cases' own ones are
// on average what the shared ones say of them, R_os R_ss⁻¹ e_s, and vary about
// that from case to case (the conditional distribution of normal errors).
func (p *parting) untie(parts []float64, own []bool) (rest float64) {
	all, shared := make([]float64, len(p.tied)), make([]float64, len(p.tied))
	var owns, others []int // in tied
	pattern := make([]byte, len(p.tied))
	for i, k := range p.tied {
		all[i] = parts[k]
		if own[k] {
			owns, pattern[i] = append(owns, i), 1
			continue
		}
		others = append(others, i)
		shared[i] = parts[k]
	}
	if len(owns) > 0 && len(others) > 0 {
		said := p.said[string(pattern)]
		if said == nil {
			said = p.say(owns, others)
			p.said[string(pattern)] = said
		}
		for i, of := range others {
			for j, o := range owns {
				shared[of] += said.At(i, j) * parts[p.tied[o]]
			}
		}
	}
	tape.Mix(p.root, all)
	tape.Mix(p.root, shared)
	whole, common := norm(all), norm(shared)
	for i, k := range p.tied {
		parts[k] = shared[i]
	}
	if len(owns) == 0 || whole-common <= limitSlack*whole {
		return 0
	}
	return math.Sqrt((whole - common) * (whole + common))
}

// say is R_ss⁻¹ R_so: how far an error among others moves each of the owns.
func (p *parting) say(owns, others []int) *mat.Dense {
	within, across := mat.NewSymDense(len(others), nil), mat.NewDense(len(others), len(owns), nil)
	for i, a := range others {
		for k, b := range others[:i+1] {
			within.SetSym(i, k, p.between.At(a, b))
		}
		for j, o := range owns {
			across.Set(i, j, p.between.At(a, o))
		}
	}
	said := mat.NewDense(len(others), len(owns), nil)
	var svd mat.SVD // full correlations leave no inverse, but the least of all answers
	svd.Factorize(within, mat.SVDThin)
	svd.SolveTo(said, across, svd.Rank(limitSlack))
	return said
}

// norm is the length of a vector.
func norm(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum = math.Hypot(sum, v)
	}
	return sum
}
