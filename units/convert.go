package units

import "math"

// Convert reads a value with its unit and gives the number in another unit.
func Convert(value, to string) (float64, Unit, *Error) {
	v, err := ParseValue(value)
	if err != nil {
		return 0, Unit{}, err
	}
	u, err := Parse(to)
	if err != nil {
		return 0, Unit{}, err
	}
	if v.Unit.Dim != u.Dim || (v.Unit.Kind == Date) != (u.Kind == Date) || u.Kind == Text {
		return 0, Unit{}, errorAt(value, 0, len(value), "cannot convert "+v.Unit.quantity()+" to "+u.quantity(), "")
	}
	return u.FromSI(v.Unit.ToSI(v.Number)), u, nil
}

// quantity names what a unit measures.
func (u Unit) quantity() string {
	switch u.Kind {
	case Date:
		return "a date"
	case Text:
		return "text"
	}
	return u.Dim.Name()
}

// dropNoise rounds a temperature to 1e-12 degrees. A float64 near 300 K
// resolves 6e-14 K, so the digits dropped are no part of the value, and a
// temperature such as 20.1 degC comes back from kelvin as it went in.
func dropNoise(v float64) float64 {
	const steps = 1e12
	if r := math.Round(v*steps) / steps; !math.IsInf(r, 0) {
		return r
	}
	return v
}
