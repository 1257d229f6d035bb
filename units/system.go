package units

import (
	"math"
	"slices"
	"strconv"

	"rambook/units/words"
)

// System is a set of units that a shop writes its numbers in.
type System string

// The systems. Bar differs from SI in the pressures only.
const (
	SI  System = "si"
	Bar System = "bar"
	US  System = "us"
)

// Systems lists them in the order in which they are offered.
func Systems() []System { return []System{SI, Bar, US} }

// inSystems is which unit stands for which. A unit is looked for in the
// column of US units first, since those stand for one unit only; what is in no
// column stays. Whole units come before the symbols they are made of.
var inSystems = []struct{ si, bar, us string }{
	{"MPa", "bar", "psi"},
	{"kPa", "bar", "psi"},
	{"Pa", "bar", "psi"},
	{"kPa", "mbar", "inHg"},
	{"kgf/cm2", "bar", "psi"},
	{"mm", "mm", "inch"},
	{"mm", "mm", "in"},
	{"cm", "cm", "inch"},
	{"m", "m", "ft"},
	{"um", "um", "mil"},
	{"mm2", "mm2", "in2"},
	{"cm2", "cm2", "in2"},
	{"m2", "m2", "ft2"},
	{"cm3", "cm3", "in3"},
	{"mm3", "mm3", "in3"},
	{"m3", "m3", "ft3"},
	{"L", "L", "usgal"},
	{"kN", "kN", "ustonf"},
	{"tonnef", "tonnef", "ustonf"},
	{"N", "N", "lbf"},
	{"daN", "daN", "lbf"},
	{"kgf", "kgf", "lbf"},
	{"kg", "kg", "lb"},
	{"kW", "kW", "hp_mech"},
	{"kJ", "kJ", "Btu_IT"},
	{"J", "J", "ft*lbf"}, // an energy; a torque is lbf*ft
	{"degC", "degC", "degF"},
	{"K", "K", "degR"},
	{"W/K", "W/K", "Btu_IT/h/degR"},
	{"W/m2/K", "W/m2/K", "Btu_IT/h/ft2/degR"},
	{"W/(m2*K)", "W/(m2*K)", "Btu_IT/h/ft2/degR"},
}

// asIs are units that every shop writes in one way.
var asIs = []string{"mm2/s", "cSt", "cP", "mPa*s"}

// symbolIn finds the single symbols in the text of a unit.
var symbolIn = words.Pattern(`[\pLµ°%][\pL\pN_µ]*`)

// In gives the unit that stands for u in a system of units, with its symbol: the
// same unit where the system has no other. Plain numbers, texts and dates stay.
func (u Unit) In(s System) Unit {
	if u.Symbol == "" || u.Kind > Point || slices.Contains(asIs, u.Symbol) {
		return u
	}
	text := inSystem(u.Symbol, s)
	if text == u.Symbol {
		text = symbolIn().ReplaceAllStringFunc(u.Symbol, func(symbol string) string { return inSystem(symbol, s) })
	}
	if other, err := Parse(text); err == nil && other.Dim == u.Dim && text != u.Symbol {
		return other
	}
	return u
}

// inSystem gives the text that stands for a unit or a symbol in a system.
func inSystem(text string, s System) string {
	for _, row := range inSystems {
		columns := map[System]string{SI: row.si, Bar: row.bar, US: row.us}
		if columns[s] == text {
			return text
		}
	}
	for _, from := range []System{US, Bar, SI} {
		for _, row := range inSystems {
			columns := map[System]string{SI: row.si, Bar: row.bar, US: row.us}
			if columns[from] == text && from != s {
				return columns[s]
			}
		}
	}
	return text
}

// Restate gives a number in another unit of the same dimension, written with as
// few digits as give the same value again; difference says that it is one, as a
// spread is. Of digits > 0 it is rounded to so many.
func Restate(number float64, from, to Unit, difference bool, digits int) string {
	convert := func(x float64, a, b Unit) float64 {
		if difference || a.Kind == Ordinary && b.Kind == Ordinary {
			a, b = a.asDifference(), b.asDifference()
		}
		return a.convert(x, b)
	}
	x := convert(number, from, to)
	if x == 0 || digits > 0 {
		return strconv.FormatFloat(rounded(x, max(1, digits)), 'f', -1, 64)
	}
	for n := 4; n < 17; n++ {
		short := rounded(x, n)
		near := sameValue
		if n <= typedDigits {
			near *= 2
		}
		if back := convert(short, to, from); math.Abs(back-number) <= near*math.Abs(number) {
			return plainNumber(short)
		}
	}
	return plainNumber(x)
}

// sameValue is how near two numbers are that are one and the same value, written
// in two units. A number as short as people type it may be as far off again: it was
// restated once before, and comes back as it was typed.
const (
	sameValue   = 2e-15
	typedDigits = 9
)

// asDifference takes the shift of the zero away.
func (u Unit) asDifference() Unit {
	u.zero = 0
	return u
}

// rounded rounds to significant digits.
func rounded(x float64, digits int) float64 {
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', digits, 64), 64)
	return y
}

// plainNumber writes a number without an exponent where that is readable.
func plainNumber(x float64) string {
	if size := math.Abs(x); size >= 1e-4 && size < 1e9 {
		return strconv.FormatFloat(x, 'f', -1, 64)
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}
