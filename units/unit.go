// Package units holds the units of measurement of a hydraulic notebook: which
// symbols exist, what they are worth in SI units, and what kind of quantity
// they measure.
//
// Three ideas carry it. A [Dimension] is a small comparable value for
// what kind of quantity a number is, so that a sum of a length and a pressure
// is found before anything is computed. A [Unit] joins a dimension to a scale:
// [Unit.ToSI] and [Unit.FromSI] move numbers between what the user writes and
// the plain SI values that calculations run on. And every symbol is one line
// of a table, with its exact definition and where that comes from; nothing
// about a particular unit is written in code.
//
// Start with [Parse] for the text of a unit ("L/min"), [ParseValue] for a
// number with a unit ("2900 psi"), [Lookup] for a single symbol inside a
// formula, and [Convert] to see all of it work together. Names that mean
// different things in different countries, such as ton, are refused with the
// choices ([Ambiguous]).
//
// The package imports the standard library only, never prints, and is safe
// for concurrent use.
package units

// Kind parts units that are a mere scale from those that are more than that.
type Kind uint8

const (
	// Ordinary units are a scale through zero: a value is number × unit.
	Ordinary Kind = iota
	// Point units are the temperature scales degC and degF, whose zero lies
	// elsewhere. In SI their values are kelvin.
	Point
	// Date is the unit of calendar days. In SI a date is the number of seconds
	// since 1970-01-01 UTC.
	Date
	// Text marks a quantity that is no number at all.
	Text
	// Tick is the unit of what is done or not: yes and no, 1 and 0 in formulas.
	Tick
	// Verdict marks a row that judges other rows and has no number itself.
	Verdict
)

// A Unit is the scale on which a user writes a quantity. The zero Unit is the
// unit of plain numbers.
type Unit struct {
	Symbol string // as the user wrote it, "" for a plain number
	Dim    Dimension
	Kind   Kind

	// A value v in this unit is (v + zero) × num / den in SI units. Numerator
	// and denominator are kept apart because most are whole numbers: 3 mm is
	// then the float64 nearest to 0.003, which 3 × 0.001 is not. Zero in den
	// stands for the factor 1.
	num, den float64
	zero     float64
}

// ToSI gives the SI value of v in this unit. A temperature point becomes
// kelvin; a date is in SI already.
//
//go:noinline
func (u Unit) ToSI(v float64) float64 {
	return u.DiffToSI(v + u.zero)
}

// FromSI is the inverse of ToSI.
func (u Unit) FromSI(v float64) float64 {
	v = u.DiffFromSI(v)
	if u.zero != 0 {
		v = dropNoise(v - u.zero)
	}
	return v
}

// SliceToSI sets each number of to to the ToSI of the one in from. The two may
// be the same slice. For long slices it is many times faster than a loop.
func (u Unit) SliceToSI(to, from []float64) {
	if u.den == 0 {
		copy(to, from)
		return
	}
	num, den, zero := u.num, u.den, u.zero
	switch { // one operation less gives the same number to the last bit
	case den == 1:
		for i, v := range from {
			to[i] = (v + zero) * num
		}
	case num == 1:
		for i, v := range from {
			to[i] = (v + zero) / den
		}
	default:
		for i, v := range from {
			to[i] = (v + zero) * num / den
		}
	}
}

// SliceFromSI is the inverse of SliceToSI.
func (u Unit) SliceFromSI(to, from []float64) {
	switch {
	case u.zero != 0:
		for i, v := range from {
			to[i] = u.FromSI(v)
		}
	case u.den == 0:
		copy(to, from)
	default:
		num, den := u.num, u.den
		for i, v := range from {
			to[i] = v * den / num
		}
	}
}

// DiffToSI gives the SI value of a difference or a spread: it leaves out the
// shift of the zero that ToSI applies to temperature points.
//
//go:noinline
func (u Unit) DiffToSI(v float64) float64 {
	if u.den == 0 {
		return v
	}
	return v * u.num / u.den
}

// Difference is the unit in which a difference between two values of u is given,
// and so a spread: K for degC, degR for degF, d for a date, else u itself.
func (u Unit) Difference() Unit {
	symbol := ""
	switch {
	case u.Kind == Date:
		symbol = "d"
	case u.Kind == Point && u.DiffToSI(1) == 1:
		symbol = "K"
	case u.Kind == Point:
		symbol = "degR"
	default:
		return u
	}
	difference, _ := Lookup(symbol)
	return difference
}

// DiffFromSI is the inverse of DiffToSI.
func (u Unit) DiffFromSI(v float64) float64 {
	if u.den == 0 {
		return v
	}
	return v * u.den / u.num
}

// quantity names what the unit measures.
func (u Unit) quantity() string {
	switch u.Kind {
	case Date:
		return "date"
	case Text:
		return "text"
	case Tick:
		return "tick"
	case Verdict:
		return "verdict"
	}
	return u.Dim.Name()
}
