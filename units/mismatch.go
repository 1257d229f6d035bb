package units

import (
	"strconv"
	"strings"
)

// ConversionHint is what is probably meant where a value cannot be converted
// to a unit, or "" if nothing comes to mind.
func ConversionHint(v Value, to Unit) string {
	from := v.Unit
	switch {
	case from.Kind == Date || to.Kind == Date || to.Kind >= Text:
		return ""
	case !v.HasUnit:
		return "write the unit after the number, as in `20 " + to.Symbol + "`"
	case to.Dim == Temperature && (from.Symbol == "C" || from.Symbol == "F"):
		return "the temperature scale is `deg" + from.Symbol + "`: write `" +
			strconv.FormatFloat(v.Number, 'g', -1, 64) + " deg" + from.Symbol + "`"
	case from.Dim == Temperature && (to.Symbol == "C" || to.Symbol == "F"):
		return "the temperature scale is `deg" + to.Symbol + "`"
	}
	number := strconv.FormatFloat(v.Number, 'g', -1, 64)
	for _, pair := range weights {
		switch {
		case from.Symbol == pair.mass && to.Dim == Force:
			return "as a force: write `" + number + " " + pair.force + "`" + inForce(pair.force)
		case from.Symbol == pair.force && to.Dim == Mass:
			return "as a mass: write `" + number + " " + pair.mass + "`"
		}
	}
	return MismatchHint(from.Dim, to.Dim)
}

// weights are the masses that plates and load cells give for the force with which
// they press down at g_n.
var weights = []struct{ mass, force string }{
	{"t", "tonnef"}, {"tonne", "tonnef"}, {"kg", "kgf"}, {"lb", "lbf"}, {"uston", "ustonf"}, {"ukton", "uktonf"},
}

// inForce tells, of the choices of a hint, what a metric ton is as a force, since that
// is no round number of kN: exact, by the definition of g_n.
func inForce(choices ...string) string {
	for _, choice := range choices {
		if strings.HasSuffix(choice, "tonnef") {
			return "; 1 tonnef is 9.80665 kN"
		}
	}
	return ""
}

// withArticle names what a unit measures as a sentence needs it.
func withArticle(u Unit) string {
	if u.Dim == Plain && u.Kind != Text || u.Kind == Date {
		return "a " + u.quantity()
	}
	return u.quantity()
}

// MismatchHint is what is probably missing where one dimension was found
// and another was wanted, or "" if nothing comes to mind. It has the slips of
// the trade: an angle too many or too few, mass for force, and the letter of a
// temperature scale for the scale.
func MismatchHint(found, wanted Dimension) string {
	quotient, err := wanted.Div(found)
	if err != nil {
		return ""
	}
	perAngle, _ := Plain.Div(Angle)
	perAcceleration, _ := Plain.Div(Acceleration)
	for _, scale := range temperatureSlips {
		slip, _ := Temperature.Div(scale.taken)
		back, _ := scale.taken.Div(Temperature)
		if quotient == slip || quotient == back {
			return scale.hint
		}
	}
	switch quotient {
	case Angle:
		switch wanted {
		case AngularVelocity:
			return "write a rotational speed in `rev/min`"
		case Flow, Velocity, Power, Frequency:
			return "a speed in `1/min` or `Hz` counts no turns; write it in `rev/min`"
		}
		return "multiply by `rad`"
	case perAngle:
		switch wanted {
		case Flow:
			return "write a displacement per turn, in `cm3/rev` or `in3/rev`"
		case Frequency:
			return "divide by `rev` to count turns"
		case Displacement: // a volume divided by rad would be 2 pi times too large
			return "write a displacement per turn, in `cm3/rev` or `in3/rev`"
		}
		return "divide by `rad`"
	case Acceleration, perAcceleration:
		if wanted[baseMass] != 0 {
			return "`kg` and `lb` are masses; the forces are `kgf` and `lbf`"
		}
	}
	return ""
}

// temperatureSlips are the units that the letters of temperature scales stand
// for.
var temperatureSlips = []struct {
	taken Dimension
	hint  string
}{
	{Charge, "`C` is the coulomb; degrees Celsius are `degC`"},
	{Capacitance, "`F` is the farad; degrees Fahrenheit are `degF`"},
}
