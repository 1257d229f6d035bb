package calc

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rambook/calc/tape"
	"rambook/units"
	"rambook/units/words"
)

// Mark is what is made of one answer: a reading against a formula, typed by
// somebody who has worked it out. It is whether that is right and, if not, which slip
// explains it, and never what is right.
type Mark struct {
	Judged *Judged // its Reading is the answer
	Right  bool
	Slips  []string // that explain a wrong answer, the likeliest first; none if none does
	Sure   bool     // there is one, and it gives the answer to the digits it was typed with
}

// usualTolerance is how far off an answer may be if its row states no spread: a
// number worked out to three digits (common practice, no source).
const usualTolerance = 0.01

// usualDigits is how many digits are within that of any number.
const usualDigits = 3

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
	for _, read := range units.Misreadings(j.Reading/j.Value, j.Unit, within) {
		s.try(read.Times*j.Unit.ToSI(j.Value), read.Why)
	}
	// What explains itself is likelier than what takes the model to explain.
	for _, find := range []func(){s.turned, s.mistaken, s.parted, s.halved, s.otherUnit, s.around} {
		if len(s.exact) > 0 {
			break
		}
		find()
	}
	if len(s.exact)+len(s.near) == 0 && len(s.used()) > 0 {
		s.rounded()
	}
	list := s.exact
	if mark.Sure = len(list) == 1; len(list) == 0 {
		list = s.near
	}
	mark.Slips = list[:min(len(list), mostSlips)]
	return mark
}

// mostSlips is how many slips are named: one number may come about in two ways.
const mostSlips = 2

// slips looks for slips by making them: it runs the model with each and compares
// what comes out with the answer. By chance something of all that is tried comes near
// to any number, so what gives the answer to its last digit is kept apart.
type slips struct {
	model  *Model
	j      *Judged
	set    map[tape.Register]float64
	values []float64
	answer float64 // SI
	within float64 // how near it must come, as a share

	exact, near []string // what has been found
}

// typedDigits is how near to a number of at least three digits a slip comes at worst
// that gives it and was rounded once.
const typedDigits = 0.005

// try notes a slip if what it gives comes near to the answer.
func (s *slips) try(gives float64, why string) bool {
	off := math.Abs(gives - s.answer)
	if !tape.Usable(gives) || off > s.within*math.Abs(s.answer) {
		return false
	}
	last := s.j.Unit.DiffToSI(halfDigit(s.j.Reading))
	if off <= math.Min(last, typedDigits*math.Abs(s.answer))+1e-9*math.Abs(s.answer) {
		if !slices.Contains(s.exact, why) {
			s.exact = append(s.exact, why)
		}
	} else if !slices.Contains(s.near, why) {
		s.near = append(s.near, why)
	}
	return true
}

// halfDigit is half of the last digit that a number was typed with; zeros at its end
// may be none.
func halfDigit(x float64) float64 {
	digits, exponent, _ := strings.Cut(strconv.FormatFloat(x, 'e', -1, 64), "e")
	_, decimals, _ := strings.Cut(digits, ".")
	power, _ := strconv.Atoi(exponent) // which was just written
	return 0.5 * math.Pow10(power-len(decimals))
}

// gives is the answer that comes out if a quantity has another value.
func (s *slips) gives(q *Quantity, x float64) float64 {
	if !tape.Usable(x) {
		return tape.Failed
	}
	set := map[tape.Register]float64{}
	for r, v := range s.set {
		set[r] = v
	}
	set[q.value], set[q.passed] = x, x
	return s.model.tape.Once(set)[s.j.Quantity.value]
}

// used lists what the answer is computed from and moves with, the nearest first. A size
// that is chosen from a list stays the same over a stretch of what it is chosen by, and
// many slips lead to one of the few others.
func (s *slips) used() []*Quantity {
	const little = 1e-6
	var list []*Quantity
	for _, q := range s.j.Quantity.ancestry()[1:] {
		if x := s.values[q.value]; !q.IsText() && tape.Usable(x) &&
			(x == 0 || s.gives(q, x*(1+little)) != s.values[s.j.Quantity.value]) {
			list = append(list, q)
		}
	}
	return list
}

// turned finds an efficiency or another ratio that was divided by where it
// multiplies, or left out, and an answer that is itself a ratio upside down.
func (s *slips) turned() {
	if s.j.Unit.Dim == units.Plain && s.try(1/s.j.Unit.ToSI(s.j.Value), s.j.Quantity.Name+" is upside down") {
		return
	}
	for _, q := range s.used() {
		if x := s.values[q.value]; q.typ.Dim == units.Plain && x > 0 && x != 1 && s.isRatio(q) {
			if s.try(s.gives(q, 1/x), q.Name+" is upside down") || s.try(s.gives(q, 1), q.Name+" is left out") {
				return
			}
		}
	}
}

// isRatio reports whether a plain number is a share or a quotient, and not a count such
// as that of rams.
func (s *slips) isRatio(q *Quantity) bool {
	x := s.values[q.value]
	return x < 1 || q.IsFormula() && x != math.Trunc(x)
}

// mistaken finds a quantity that another of its kind was taken for, such as the
// annulus for the bore.
func (s *slips) mistaken() {
	for _, other := range s.model.Quantities {
		if other != s.j.Quantity && other.typ == s.j.Quantity.typ && other.typ.Dim != units.Plain &&
			s.try(s.values[other.value], other.Name+" is taken for "+s.j.Quantity.Name) {
			return
		}
	}
	for _, q := range s.used() {
		for _, other := range s.model.Quantities {
			if other != q && other != s.j.Quantity && other.typ == q.typ && q.typ.Dim != units.Plain &&
				!other.IsText() &&
				!slices.Contains(other.ancestry(), s.j.Quantity) &&
				s.try(s.gives(q, s.values[other.value]), other.Name+" is taken for "+q.Name) {
				return
			}
		}
	}
}

// parted finds a difference of which a part was taken for what is left, such as the
// area of the rod for the annulus, or that was added up.
func (s *slips) parted() {
	for _, q := range append([]*Quantity{s.j.Quantity}, s.used()...) {
		o := &s.model.tape.Ops[q.value]
		if q.entry.formula == nil || o.Code != tape.OpSub {
			continue
		}
		root := q.entry.formula.tree()
		if root == nil || root.kind != binaryNode || root.name != "-" {
			continue
		}
		var names []string
		root.args[1].walk(func(n *node) {
			if n.kind == quantityNode && !slices.Contains(names, n.quantity.Name) {
				names = append(names, n.quantity.Name)
			}
		})
		if len(names) == 0 {
			continue
		}
		part := "what " + words.Listed(names, mostNames) + " takes off"
		for _, slip := range []struct {
			x   float64
			why string
		}{
			{s.values[o.B], q.Name + ": " + part + " is taken for what is left"},
			{s.values[o.A], q.Name + ": " + part + " is left on"},
			{s.values[o.A] + s.values[o.B], q.Name + ": " + part + " is added"},
		} {
			gives := slip.x
			if q != s.j.Quantity {
				gives = s.gives(q, slip.x)
			}
			if s.try(gives, slip.why) {
				return
			}
		}
	}
}

// halved finds a radius that was taken for a diameter, or the other way round.
func (s *slips) halved() {
	for _, q := range s.used() {
		x := s.values[q.value]
		why := q.Name + ": radius and diameter are mixed up"
		if q.typ.Dim == units.Length && !q.IsFormula() && (s.try(s.gives(q, 2*x), why) || s.try(s.gives(q, x/2), why)) {
			return
		}
	}
}

// otherUnit finds a given whose number was taken in another unit of its scale, or read
// on one of two scales and taken for the other.
func (s *slips) otherUnit() {
	for _, q := range s.used() {
		if q.IsFormula() || q.Unit.Kind != units.Ordinary {
			continue
		}
		x := s.values[q.value]
		for _, other := range units.Alike(q.Unit) {
			if s.try(s.gives(q, other.ToSI(q.Unit.FromSI(x))), q.Name+" is taken in "+other.Symbol) {
				return
			}
		}
		for _, swap := range units.Swapped(q.Unit) {
			if swap.From.Symbol != q.Unit.Symbol &&
				s.try(s.gives(q, swap.To.ToSI(swap.From.FromSI(x))),
					q.Name+": "+swap.From.Symbol+" is taken for "+swap.To.Symbol) {
				return
			}
		}
	}
}

// rounded finds an answer that is right as far as it goes, and does not go far enough.
func (s *slips) rounded() {
	digits, _, _ := strings.Cut(strconv.FormatFloat(math.Abs(s.j.Reading), 'e', -1, 64), "e")
	n := len(strings.Replace(digits, ".", "", 1))
	short, _ := strconv.ParseFloat(strconv.FormatFloat(s.j.Value, 'g', n, 64), 64)
	if n < usualDigits && short == s.j.Reading {
		s.exact = append(s.exact, fmt.Sprintf("rounded to %s: %d are asked for", words.Counted(n, "digit"),
			usualDigits))
	}
}

// around finds a circumference that was taken for an area.
func (s *slips) around() {
	if s.j.Unit.Dim != units.Area {
		return
	}
	for _, q := range s.used() {
		round := math.Pi * s.values[q.value] / math.Sqrt(s.j.Unit.DiffToSI(1))
		if q.typ.Dim == units.Length && s.try(s.j.Unit.ToSI(round), "the circumference is taken for the area") {
			return
		}
	}
}
