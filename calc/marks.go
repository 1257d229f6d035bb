package calc

import (
	"math"
	"slices"

	"rambook/calc/tape"
	"rambook/units"
)

// Mark is what is made of one answer: a reading against a formula, typed by
// somebody who has worked it out. It is whether that is right and, if not, which slip
// explains it, and never what is right.
type Mark struct {
	Judged *Judged // its Reading is the answer
	Right  bool
	Slips  []string // that explain a wrong answer, the likeliest first; none if none does
}

// usualTolerance is how far off an answer may be if its row states no spread: a
// number worked out to three digits (common practice, no source).
const usualTolerance = 0.01

// Marks marks the answers in the rows of the notebook. It holds an answer to the
// spread that its row states for a reading; how sure the computed value is does not count.
func (m *Model) Marks(r *Report) []Mark {
	base := m.tape.Once(nil)
	var marks []Mark
	for i := range r.Quantities {
		if j := &r.Quantities[i]; j.isAnswer() {
			marks = append(marks, m.mark(j, nil, base))
		}
	}
	return marks
}

// CaseMarks marks the answers in the cases of a sheet, by case: each case is a
// student, who may have numbers of their own.
func (m *Model) CaseMarks(result *CaseResult) [][]Mark {
	at := slices.IndexFunc(m.caseSheets, func(cs *caseSheet) bool { return cs.sheet == result.Sheet })
	marks := make([][]Mark, len(result.Cases))
	if at < 0 {
		return marks
	}
	cs, base := m.caseSheets[at], m.tape.Once(nil)
	for i := range result.Cases {
		set := m.caseInputs(cs, base, i)
		for k := range result.Cases[i].Values {
			if j := &result.Cases[i].Values[k]; j.isAnswer() {
				marks[i] = append(marks[i], m.mark(j, set, m.tape.Once(set)))
			}
		}
	}
	return marks
}

// caseInputs gives what varies from case to case, in one of them.
func (m *Model) caseInputs(cs *caseSheet, base []float64, i int) map[tape.Register]float64 {
	inputs := cs.inputs()
	b := &tape.Block{First: i, N: 1}
	for range inputs {
		b.In = append(b.In, make([]float64, 1))
	}
	cs.fill(b, base)
	set := map[tape.Register]float64{}
	for k, r := range inputs {
		set[r] = b.In[k][0]
	}
	return set
}

// isAnswer reports whether a value has been worked out by somebody, and can be
// by the notebook.
func (j *Judged) isAnswer() bool {
	return j.Quantity.IsFormula() && Has(j.Reading) && Has(j.Value)
}

// Tolerance is how far from the computed value an answer is right, in its unit.
func (j *Judged) Tolerance() float64 {
	if Has(j.ReadingSpread) && j.ReadingSpread > 0 {
		return j.ReadingSpread
	}
	return usualTolerance * math.Abs(j.Value)
}

// mark marks one answer. values are those of the run that it belongs to, set what
// was put into that run.
func (m *Model) mark(j *Judged, set map[tape.Register]float64, values []float64) Mark {
	off := math.Abs(j.Reading - j.Value)
	// What was typed has been rounded, to three digits or more.
	mark := Mark{Judged: j, Right: off <= math.Max(j.Tolerance(), 1e-9*math.Abs(j.Value))}
	if mark.Right || j.Unit.Kind != units.Ordinary || j.Value == 0 || j.Reading == 0 {
		return mark
	}
	if j.Reading == -j.Value {
		mark.Slips = []string{"the sign"}
		return mark
	}
	within := math.Min(math.Max(j.Tolerance()/math.Abs(j.Value), 0.002), usualTolerance)
	s := &slips{model: m, j: j, set: set, values: values, answer: j.Unit.ToSI(j.Reading), within: within}
	mark.Slips = units.Misreadings(j.Reading/j.Value, j.Unit, within)
	for _, find := range []func() string{s.turned, s.mistaken, s.halved, s.otherUnit, s.around} {
		if len(mark.Slips) > 0 {
			break // what explains itself is likelier than what takes the model to explain
		}
		if why := find(); why != "" {
			mark.Slips = append(mark.Slips, why)
		}
	}
	mark.Slips = mark.Slips[:min(len(mark.Slips), mostSlips)]
	return mark
}

// mostSlips is how many slips are named: one number may come about in two ways.
const mostSlips = 2

// slips looks for slips by making them: it runs the model with each and compares
// what comes out with the answer.
type slips struct {
	model  *Model
	j      *Judged
	set    map[tape.Register]float64
	values []float64
	answer float64 // SI
	within float64 // how near it must come, as a share
}

// gives reports whether the answer comes out if a quantity had another value.
func (s *slips) gives(q *Quantity, x float64) bool {
	if !tape.Usable(x) {
		return false
	}
	set := map[tape.Register]float64{}
	for r, v := range s.set {
		set[r] = v
	}
	set[q.value], set[q.passed] = x, x
	v := s.model.tape.Once(set)[s.j.Quantity.value]
	return tape.Usable(v) && math.Abs(v-s.answer) <= s.within*math.Abs(s.answer)
}

// used lists what the answer is computed from, the nearest first.
func (s *slips) used() []*Quantity {
	var list []*Quantity
	for _, q := range s.j.Quantity.ancestry()[1:] {
		if !q.IsText() && tape.Usable(s.values[q.value]) {
			list = append(list, q)
		}
	}
	return list
}

// turned finds an efficiency or another ratio that was divided by where it
// multiplies, or left out.
func (s *slips) turned() string {
	for _, q := range s.used() {
		if x := s.values[q.value]; q.typ.Dim == units.Plain && x > 0 && x < 1 {
			if s.gives(q, 1/x) {
				return q.Name + " is upside down"
			}
			if s.gives(q, 1) {
				return q.Name + " is left out"
			}
		}
	}
	return ""
}

// mistaken finds a quantity that another of its kind was taken for, such as the
// annulus for the bore.
func (s *slips) mistaken() string {
	for _, other := range s.model.Quantities {
		x := s.values[other.value]
		if other != s.j.Quantity && other.typ == s.j.Quantity.typ && other.typ.Dim != units.Plain &&
			math.Abs(x-s.answer) <= s.within*math.Abs(x) {
			return other.Name + " is taken for " + s.j.Quantity.Name
		}
	}
	for _, q := range s.used() {
		for _, other := range s.model.Quantities {
			if other != q && other != s.j.Quantity && other.typ == q.typ && q.typ.Dim != units.Plain &&
				!other.IsText() &&
				!slices.Contains(other.ancestry(), s.j.Quantity) && s.gives(q, s.values[other.value]) {
				return other.Name + " is taken for " + q.Name
			}
		}
	}
	return ""
}

// halved finds a radius that was taken for a diameter, or the other way round.
func (s *slips) halved() string {
	for _, q := range s.used() {
		x := s.values[q.value]
		if q.typ.Dim == units.Length && !q.IsFormula() && (s.gives(q, 2*x) || s.gives(q, x/2)) {
			return q.Name + ": radius and diameter are mixed up"
		}
	}
	return ""
}

// otherUnit finds a given whose number was taken in another unit of its scale.
func (s *slips) otherUnit() string {
	for _, q := range s.used() {
		if q.IsFormula() || q.Unit.Kind != units.Ordinary {
			continue
		}
		number := q.Unit.FromSI(s.values[q.value])
		for _, other := range units.Alike(q.Unit) {
			if s.gives(q, other.ToSI(number)) {
				return q.Name + " is taken in " + other.Symbol
			}
		}
	}
	return ""
}

// around finds a circumference that was taken for an area.
func (s *slips) around() string {
	if s.j.Unit.Dim != units.Area {
		return ""
	}
	for _, q := range s.used() {
		round := math.Pi * s.values[q.value] / math.Sqrt(s.j.Unit.DiffToSI(1))
		if q.typ.Dim == units.Length && math.Abs(round-s.j.Reading) <= s.within*round {
			return "the circumference is taken for the area"
		}
	}
	return ""
}
