package units

import (
	"fmt"
	"math"
	"strings"

	"rambook/units/problem"
)

// Convert reads a value with its unit, such as "2900 psi", and gives the
// number in another unit, such as "MPa". A span in its error counts in the
// text named by the error.
func Convert(value, to string) (float64, Unit, *problem.Problem) {
	v, err := ParseValue(value)
	if err != nil {
		return 0, Unit{}, err
	}
	u, err := Parse(to)
	if err != nil {
		return 0, Unit{}, err
	}
	from := v.Unit
	if from.Dim != u.Dim || (from.Kind == Date) != (u.Kind == Date) || u.Kind >= Text {
		start, end := trim(value)
		message := "cannot convert " + withArticle(from) + " to " + withArticle(u)
		return 0, Unit{}, problem.In(value, start, end, message, ConversionHint(v, u))
	}
	result := from.convert(v.Number, u)
	if math.IsInf(result, 0) {
		start, end := trim(value)
		return 0, Unit{}, outOfRange(value, start, end)
	}
	return result, u, nil
}

// convert moves v from one unit to another of the same dimension. Between
// plain scales it joins the two factors first, so that 1 in is 25.4 mm to the
// last bit.
func (u Unit) convert(v float64, to Unit) float64 {
	if u.zero != 0 || to.zero != 0 {
		return to.FromSI(u.ToSI(v))
	}
	if ratio, err := u.scale().div(to.scale()); err == nil {
		return v * ratio.num / ratio.den
	}
	return to.DiffFromSI(u.DiffToSI(v))
}

// scale is the factor of the unit as a term without a dimension.
func (u Unit) scale() term {
	if u.den == 0 {
		return term{num: 1, den: 1}
	}
	return term{num: u.num, den: u.den}
}

// dropNoise rounds a temperature to 1e-12 degrees. A float64 near 300 K
// resolves 6e-14 K, so the digits dropped are no part of the value, and a
// temperature such as 20.1 degC comes back from kelvin as it went in.
func dropNoise(v float64) float64 {
	const steps = 1e12
	if math.Abs(v) > 1e6 {
		return v
	}
	return math.Round(v*steps) / steps
}

// WithUnit writes a number with its unit for a sentence, to six digits; a date,
// which is in SI, as such.
func WithUnit(v float64, u Unit) string {
	if u.Kind == Date {
		return FormatDate(v)
	}
	return strings.TrimSpace(fmt.Sprintf("%.6g %s", v, u.Symbol))
}
