package calc

import (
	"fmt"
	"math"

	"rambook/calc/tape"
	"rambook/units"
)

// sameNumber is how far two values may differ that are the same but for the
// rounding of the numbers they are computed from.
const sameNumber = 1e-12

// unseen is which part of its unit a number is nothing of, where all that it is
// computed from is as small: a value that is 0 but for rounding.
const unseen = 1e-3

// Different finds the first answer in which two reports of one notebook differ
// by more than the rounding of numbers that were written in other units: a
// value, a reading, a limit, a verdict, in the model or in a case; and a spread
// that was typed. One that is computed follows from these, and may be that of
// either side where a value stands on a corner. It is "" if there is none.
func (m *Model) Different(before, after *Report) string {
	sizes := m.uncancelled()
	differs := func(a, b *Judged) string { return differsBeside(sizes[a.Quantity], a, b) }
	if len(before.Quantities) != len(after.Quantities) || len(before.Cases) != len(after.Cases) {
		return "the notebook has other rows or sheets"
	}
	for i := range before.Quantities {
		if what := differs(&before.Quantities[i], &after.Quantities[i]); what != "" {
			return before.Quantities[i].Quantity.Name + what
		}
	}
	for i := range before.Cases {
		a, b := before.Cases[i].Cases, after.Cases[i].Cases
		name := before.Cases[i].Sheet.Name
		if len(a) != len(b) {
			return fmt.Sprintf("%s has %d cases in place of %d", name, len(b), len(a))
		}
		for k := range a {
			where := fmt.Sprintf("%s[%s]", name, a[k].Name)
			if a[k].Verdict != b[k].Verdict || len(a[k].Values) != len(b[k].Values) {
				return fmt.Sprintf("%s is %v in place of %v", where, b[k].Verdict, a[k].Verdict)
			}
			for v := range a[k].Values {
				if what := differs(&a[k].Values[v], &b[k].Values[v]); what != "" {
					return where + "." + a[k].Values[v].Quantity.Name + what
				}
			}
		}
	}
	return ""
}

// uncancelled is how large each quantity would be if nothing in it cancelled, SI:
// the difference of two numbers is only as good as these are.
func (m *Model) uncancelled() map[*Quantity]float64 {
	const deep, most = 8, 1024 // operations from the result back
	t := m.tape.Extend()
	s := tape.Differentiate(t, nil, nil)
	at := map[*Quantity]tape.Register{}
	for _, q := range m.Quantities {
		if r := q.truth(); r != tape.None && q.IsFormula() {
			scale := scaling{s, most}
			at[q] = scale.of(r, deep)
		}
	}
	values := t.Continue(m.tape.Once(nil))
	sizes := map[*Quantity]float64{}
	for q, r := range at {
		if tape.Usable(values[r]) {
			sizes[q] = values[r]
		}
	}
	return sizes
}

// differsBeside compares two answers about a quantity that are computed from
// numbers of a size, SI.
func differsBeside(size float64, a, b *Judged) string {
	if a.Verdict != b.Verdict || a.State != b.State || a.Text != b.Text || (a.Error == "") != (b.Error == "") {
		return fmt.Sprintf(" is %v, %v, in place of %v, %v", b.State, b.Verdict, a.State, a.Verdict)
	}
	size = math.Max(size, math.Abs(a.Unit.DiffToSI(1))*unseen)
	if Has(a.Spread) && !a.Quantity.IsFormula() {
		size = math.Max(size, math.Abs(a.Unit.DiffToSI(a.Spread)))
	}
	for _, x := range []float64{a.Value, a.Reading, a.Low, a.High} {
		if Has(x) {
			size = math.Max(size, math.Abs(a.Unit.ToSI(x)))
		}
	}
	for _, number := range []struct {
		what string
		of   func(*Judged) float64
		inSI func(units.Unit, float64) float64
	}{
		{"it", func(j *Judged) float64 { return j.Value }, units.Unit.ToSI},
		{"its reading", func(j *Judged) float64 { return j.Reading }, units.Unit.ToSI},
		{"its low limit", func(j *Judged) float64 { return j.Low }, units.Unit.ToSI},
		{"its high limit", func(j *Judged) float64 { return j.High }, units.Unit.ToSI},
		{"its spread", func(j *Judged) float64 { return j.Spread }, units.Unit.DiffToSI},
		{"the spread of its reading", func(j *Judged) float64 { return j.ReadingSpread }, units.Unit.DiffToSI},
	} {
		x, y := number.inSI(a.Unit, number.of(a)), number.inSI(b.Unit, number.of(b))
		if number.what == "its spread" && a.Quantity.IsFormula() {
			continue
		}
		if Has(x) == Has(y) && (!Has(x) || math.Abs(x-y) <= sameNumber*size) {
			continue
		}
		return fmt.Sprintf(": %s is %v %s in place of %v %s", number.what, number.of(b), b.Unit.Symbol, number.of(a),
			a.Unit.Symbol)
	}
	return ""
}
