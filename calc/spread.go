package calc

import (
	"maps"
	"math"
	"slices"

	"rambook/calc/fit"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// A spread is the half-width of the interval that holds a value with about
// 95 %, coverage factor 2. Inputs have one of their own: givens, cells that are
// looked up, readings. Every other spread follows from those of the inputs by
// the derivatives of the tape, an input that is used twice counting once.

// seeds lists the spreads of the givens and of the cells looked up.
func (m *Model) seeds() map[tape.Register]tape.Register {
	seeds := map[tape.Register]tape.Register{}
	for _, q := range m.Quantities {
		if q.doubtAt != tape.None {
			seeds[q.offset] = q.doubtAt
		}
		switch {
		case q.spreadAt == tape.None:
		case !q.IsFormula(), q.use:
			seeds[q.input()] = q.spreadAt
		}
	}
	for _, cut := range m.cuttings {
		for _, v := range cut.values {
			if v.value.spreadAt != tape.None {
				seeds[v.value.value] = v.value.spreadAt
			}
		}
	}
	for _, q := range m.Quantities {
		if q.cycles != nil && q.cycles.rest.spreadAt != tape.None {
			seeds[q.cycles.rest.value] = q.cycles.rest.spreadAt
		}
	}
	for _, e := range m.gaugeErrors() {
		seeds[e.value] = e.spreadAt
	}
	for _, cell := range m.cells {
		seeds[cell.value] = cell.spread
	}
	return seeds
}

// caseSeeds lists the spreads of the inputs in the cases of a sheet, which may
// state its own for the givens that it replaces. seeds are those of the model.
func (cs *caseSheet) caseSeeds(seeds map[tape.Register]tape.Register) map[tape.Register]tape.Register {
	if !cs.hasSpreads() {
		return seeds
	}
	seeds = maps.Clone(seeds)
	for _, g := range cs.given {
		if g.spreadAt != tape.None {
			seeds[g.input()] = g.spreadAt
		}
		if g.kept != nil && g.kept.spreadAt != tape.None {
			seeds[g.kept.own] = g.kept.spreadAt
		}
	}
	return seeds
}

// hasSpreads reports whether a sheet states spreads of givens.
func (cs *caseSheet) hasSpreads() bool {
	return slices.ContainsFunc(cs.given, func(g *givenColumn) bool {
		return g.spreadAt != tape.None || g.kept != nil && g.kept.spreadAt != tape.None
	})
}

// doubts lists the inputs that have a spread, in the order of the tape. base
// holds the values of the model's operations.
func (m *Model) doubts(base []float64) []fit.Doubted {
	var list []fit.Doubted
	seeds := m.seeds()
	for _, r := range slices.Sorted(maps.Keys(seeds)) {
		if u := base[seeds[r]] / 2; tape.Usable(u) && u > 0 && tape.Usable(base[r]) {
			list = append(list, fit.Doubted{Input: r, U: u})
		}
	}
	return list
}

// ownSpread is the spread of a reading of q beside what it shares with others,
// SI, NaN without one.
func (q *Quantity) ownSpread(values []float64, reading float64) float64 {
	switch {
	case q.readsCyclesGauged():
		return values[q.cycles.misfit]
	case q.isGauged():
		return hypot(q.leastOwn(reading), q.reading.scatter)
	case q.spread.kind == percentEntry:
		return q.spread.value * math.Abs(reading)
	case q.spreadAt != tape.None:
		return values[q.spreadAt]
	}
	return math.NaN()
}

// spreadIn gives a spread in the unit that differences of u have.
func spreadIn(u units.Unit, si float64) float64 { return u.Difference().FromSI(si) }

// agreement is E_n (ISO 13528): the difference of reading and computed value
// over their joint spread. They agree up to 1. NaN without any spread.
func agreement(reading, readingSpread, computed, spread float64) float64 {
	joint := hypot(readingSpread, spread)
	if !Has(joint) || joint == 0 {
		return math.NaN()
	}
	return math.Abs(reading-computed) / joint
}

// hypot joins two independent spreads; an absent one counts as none.
func hypot(a, b float64) float64 {
	switch {
	case !Has(a):
		return b
	case !Has(b):
		return a
	}
	return math.Hypot(a, b)
}

// boundless reports whether a value is there whose spread has no bound, since
// a derivative has none.
func (j *judgement) boundless(out *Judged, v *measured, tr func() *trace) bool {
	at := j.at[theSpread]
	if at == tape.None || !Has(out.Value) || tape.Usable(v[theSpread]) {
		return false
	}
	why := tr().explain(at)
	return !why.waits() && int(why.failed) >= len(tr().model.tape.Ops)
}

// steep is the warning of a spread without bound.
func (q *Quantity) steep() sheets.Problem {
	what := "the spread of " + q.Name + " cannot be computed: "
	if q.unknown != nil {
		return placeIn(q.unknown.sheet, q.unknown.row.Until).fault(what+"the two sides touch here and do not cross", "")
	}
	return q.entry.fault(what+"the formula is infinitely steep here", "")
}

// spreadOf is the spread of a quantity as the notebook stands, SI, 0 where it has none.
func (m *Model) spreadOf(q *Quantity, base []float64) float64 {
	t := m.tape.Extend()
	s := tape.Differentiate(t, m.seeds(), []tape.Register{q.truth()})
	at := s.Spread(q.truth())
	if at == tape.None {
		return 0
	}
	return t.Continue(base[:len(m.tape.Ops)])[at]
}

// noise is how small the spread of a difference is, beside the numbers that it is
// taken between, where it is nothing but their rounding: what they have in common
// cancels but for the last digits.
const noise = 1e-14

// withoutNoise makes 0 of the spread of a register where it is noise.
func withoutNoise(s *tape.Spreads, r, spread tape.Register) tape.Register {
	if spread == tape.None {
		return spread
	}
	scale := scaling{s, mostLooked}
	if !scale.subtracts(r, deep) {
		return spread
	}
	scale.left = mostLooked
	least := s.Mul(s.Constant(noise), scale.of(r, deep))
	return s.Choose(s.Binary(tape.OpLessEq, spread, least), s.Constant(0), spread)
}

// deep is how many operations back from a result are looked at: what cancels further back
// is rarely shown. Of several sums one of which is chosen, as the largest of a column or
// the sum up to a row, each is looked at; in all no more than mostLooked operations, since
// every one of them is run again in each case.
const (
	deep       = 4
	mostLooked = 64
)

// scaling finds how large the numbers are that a result is made of.
type scaling struct {
	*tape.Spreads
	left int // operations that may still be looked at
}

// chosen lists the results one of which an operation passes on, if these are summed up: the
// largest of several sums, or what a sum up to a row has of a row, which is 0 beyond it.
func (s *scaling) chosen(o *tape.Op) []tape.Register {
	sums := func(r tape.Register) bool {
		c := s.Ops[r].Code
		return c == tape.OpAdd || c == tape.OpSub || c == o.Code
	}
	switch {
	case o.Code == tape.OpSelect && s.IsConstant(o.C):
		return []tape.Register{o.B, o.C}
	case (o.Code == tape.OpMin || o.Code == tape.OpMax) && sums(o.A) && sums(o.B):
		return []tape.Register{o.A, o.B}
	}
	return nil
}

// subtracts reports whether a difference is among the last operations of a result.
func (s *scaling) subtracts(r tape.Register, deep int) bool {
	o := s.Ops[r]
	if s.left--; deep == 0 || s.left < 0 {
		return false
	}
	if list := s.chosen(&o); list != nil {
		return s.subtracts(list[0], deep) || s.subtracts(list[1], deep)
	}
	switch o.Code {
	case tape.OpSub:
		return true
	case tape.OpAdd, tape.OpMul:
		return s.subtracts(o.A, deep-1) || s.subtracts(o.B, deep-1)
	case tape.OpNeg, tape.OpDiv:
		return s.subtracts(o.A, deep-1)
	}
	return false
}

// of appends how large a result would be if nothing in it cancelled.
func (s *scaling) of(r tape.Register, deep int) tape.Register {
	o := s.Ops[r]
	s.left--
	list := s.chosen(&o)
	switch {
	case deep == 0 || s.left < 0:
	case list != nil && o.Code == tape.OpSelect:
		return s.Choose(o.A, s.of(list[0], deep), s.of(list[1], deep))
	case list != nil:
		return s.Binary(tape.OpMax, s.of(list[0], deep), s.of(list[1], deep))
	case o.Code == tape.OpAdd, o.Code == tape.OpSub:
		return s.Binary(tape.OpAdd, s.of(o.A, deep-1), s.of(o.B, deep-1))
	case o.Code == tape.OpMul:
		return s.Mul(s.of(o.A, deep-1), s.of(o.B, deep-1))
	case o.Code == tape.OpDiv:
		return s.Binary(tape.OpDiv, s.of(o.A, deep-1), s.Tape.Unary(tape.Absolute, o.B))
	case o.Code == tape.OpNeg:
		return s.of(o.A, deep-1)
	case o.Code == tape.OpMin, o.Code == tape.OpMax:
		return s.Binary(tape.OpMax, s.of(o.A, deep-1), s.of(o.B, deep-1))
	}
	return s.Tape.Unary(tape.Absolute, r)
}
