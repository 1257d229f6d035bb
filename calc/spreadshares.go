package calc

import (
	"cmp"
	"fmt"
	"math"

	"rambook/calc/tape"
	"rambook/units"
	"rambook/units/sorting"
)

// Share is the part that one input's doubt has in a result's.
type Share struct {
	Name   string     // of the given, or of the cell, as in `materials[S3].strength`
	Unit   units.Unit // that Spread and Wanted are in
	Share  float64    // of the variance, 0 to 1; below 0 where correlated errors cancel
	Spread float64    // the input's own
	// Wanted is the input's spread with which the result's would be half as
	// wide, the others being left as they are or improved likewise. NaN for
	// an input that need not be improved.
	Wanted float64
	Tied   []string // what its error is correlated with; half of what two contribute jointly is each one's
}

// shares finds what part each input's spread has in the spread of q.
func (m *Model) shares(q *Quantity, base []float64) []Share {
	t := m.tape.Extend()
	seeds := m.seeds()
	s := tape.Differentiate(t, seeds, []tape.Register{q.truth()})
	values := t.Continue(base)
	var shares []Share
	total, tied := 0.0, false
	for _, part := range s.Terms[q.truth()] {
		v := values[part.Part]
		if !tape.Usable(v) || v == 0 {
			continue
		}
		name, unit := m.source(part.Input, values)
		spread := values[seeds[part.Input]]
		share := Share{Name: name, Unit: unit, Share: v * v, Spread: spreadIn(unit, spread), Wanted: math.NaN()}
		for _, other := range s.Terms[q.truth()] {
			r := m.tape.Ties.Of(part.Input, other.Input)
			if w := values[other.Part]; other.Input != part.Input && r != 0 && tape.Usable(w) && w != 0 {
				share.Share += v * r * w
				name, _ := m.source(other.Input, values)
				share.Tied = append(share.Tied, name)
				tied = true
			}
		}
		shares = append(shares, share)
		total += share.Share
	}
	for i := range shares {
		shares[i].Share /= total
	}
	sorting.Stable(shares, func(a, b Share) int { return cmp.Compare(b.Share, a.Share) })
	if !tied { // else no input's spread can be halved by itself
		halve(shares)
	}
	return shares
}

// halve finds the fewest inputs whose improvement halves the spread of the
// result, and the spread that each of them needs. A quarter of the variance
// may be left, and what the other inputs contribute stays.
func halve(shares []Share) {
	const left = 0.25
	rest := 1.0
	for i := range shares {
		rest -= shares[i].Share
		if rest >= left*0.9 { // leave the improved ones something to be
			continue
		}
		factor := math.Sqrt((left - math.Max(rest, 0)) / (1 - math.Max(rest, 0)))
		for k := range shares[:i+1] {
			shares[k].Wanted = shares[k].Spread * factor
		}
		return
	}
}

// source names what a term comes from.
func (m *Model) source(r tape.Register, values []float64) (string, units.Unit) {
	for _, q := range m.Quantities {
		if q.input() == r && (!q.IsFormula() || q.use) {
			return q.Name, q.Unit
		}
		if q.offset == r {
			return q.Name + ".doubt", q.Unit
		}
	}
	for _, cut := range m.cuttings {
		for _, v := range cut.values {
			if v.value.value == r {
				return v.text, v.value.Unit
			}
		}
	}
	for _, q := range m.Quantities {
		if q.cycles != nil && q.cycles.rest.value == r {
			return q.cycles.rest.Name, q.Unit
		}
	}
	for _, e := range m.gaugeErrors() {
		if e.value == r {
			return e.Name, e.Unit
		}
	}
	for _, cell := range m.cells {
		if cell.value == r {
			key := m.texts[int(values[m.tape.Ops[r].A])]
			return fmt.Sprintf("%s[%s].%s", cell.column.sheet.Name, key, cell.column.name), cell.column.unit
		}
	}
	panic(fmt.Sprintf("calc: register %d has no spread of its own", r))
}
