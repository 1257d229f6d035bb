package units

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestDimensionText(t *testing.T) {
	tests := []struct {
		dim        Dimension
		text, name string
	}{
		{Plain, "1", "plain number"},
		{Length, "m", "length"},
		{Pressure, "kg m^-1 s^-2", "pressure"},
		{Energy, "kg m^2 s^-2", "energy or torque"},
		{Flow, "m^3 s^-1", "flow"},
		{AngularVelocity, "rad s^-1", "rotational speed"},
		{Displacement, "m^3 rad^-1", "displacement per turn"},
		{Frequency, "s^-1", "frequency"},
		{Voltage, "kg m^2 s^-3 A^-1", "voltage"},
		{Capacitance, "s^4 A^2 kg^-1 m^-2", "capacitance"},
		{Dimension{baseAmount: one, baseLuminosity: -one}, "mol cd^-1", "mol cd^-1"},
		{Dimension{baseLength: 3}, "m^(1/2)", "m^(1/2)"},
		{Dimension{baseLength: 2, baseTime: -1}, "m^(1/3) s^(-1/6)", "m^(1/3) s^(-1/6)"},
		{Dimension{baseMass: 4, baseTemperature: -9}, "kg^(2/3) K^(-3/2)", "kg^(2/3) K^(-3/2)"},
	}
	for _, test := range tests {
		if got := test.dim.String(); got != test.text {
			t.Errorf("String() = %q, want %q", got, test.text)
		}
		if got := test.dim.Name(); got != test.name {
			t.Errorf("%s: Name() = %q, want %q", test.text, got, test.name)
		}
	}
}

func TestDimensionNamesAreUnique(t *testing.T) {
	names, dims := map[string]bool{}, map[Dimension]bool{}
	for _, n := range dimensionNames {
		if names[n.name] || dims[n.dim] {
			t.Errorf("%s (%s) is listed twice", n.name, n.dim)
		}
		names[n.name], dims[n.dim] = true, true
	}
}

func TestDimensionRange(t *testing.T) {
	edge := Dimension{baseLength: maxSixths, baseTime: -maxSixths}
	tests := []struct {
		name string
		err  string
		do   func() (Dimension, error)
	}{
		{"m^21 × m", "a power of m beyond 21", func() (Dimension, error) { return edge.Mul(Length) }},
		{"s^-21 / s", "a power of s beyond 21", func() (Dimension, error) { return edge.Div(Time) }},
		{"m^22", "a power of m beyond 21", func() (Dimension, error) { return Length.Pow(22) }},
		{"Pa^-1e300", "a power of m beyond 21", func() (Dimension, error) { return Pressure.Pow(-1e300) }},
		{"m^0.1", "a power of m that is no multiple of 1/6", func() (Dimension, error) { return Length.Pow(0.1) }},
		{"m^0.3333", "a power of m that is no multiple of 1/6",
			func() (Dimension, error) { return Length.Pow(0.3333) }},
		{"m^NaN", "a power that is not a finite number", func() (Dimension, error) { return Length.Pow(math.NaN()) }},
		{"1^Inf", "a power that is not a finite number", func() (Dimension, error) { return Plain.Pow(math.Inf(1)) }},
	}
	for _, test := range tests {
		d, err := test.do()
		if err == nil || err.Error() != test.err {
			t.Errorf("%s = %v, %v; want the error %q", test.name, d, err, test.err)
		}
		if d != Plain {
			t.Errorf("%s: an error comes with the dimension %v", test.name, d)
		}
	}
	if d, err := edge.Mul(Plain); err != nil || d != edge {
		t.Errorf("m^21 × 1 = %v, %v", d, err)
	}
	if d, err := Plain.Pow(0.1); err != nil || d != Plain {
		t.Errorf("1^0.1 = %v, %v; a plain number may have any power", d, err)
	}
}

// drawDimension draws dimensions small enough for three to be multiplied.
func drawDimension(t *rapid.T, label string) Dimension {
	var d Dimension
	for i := range d {
		d[i] = rapid.Int8Range(-maxSixths/3, maxSixths/3).Draw(t, label)
	}
	return d
}

func TestDimensionLaws(t *testing.T) {
	must := func(t *rapid.T) func(Dimension, error) Dimension {
		return func(d Dimension, err error) Dimension {
			if err != nil {
				t.Fatal(err)
			}
			return d
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := drawDimension(t, "a"), drawDimension(t, "b"), drawDimension(t, "c")
		ok := must(t)
		ab := ok(a.Mul(b))
		equal := func(law string, x, y Dimension) {
			if x != y {
				t.Errorf("%s: %v is not %v", law, x, y)
			}
		}
		equal("ab = ba", ab, ok(b.Mul(a)))
		equal("(ab)c = a(bc)", ok(ab.Mul(c)), ok(a.Mul(ok(b.Mul(c)))))
		equal("a·1 = a", ok(a.Mul(Plain)), a)
		equal("ab/b = a", ok(ab.Div(b)), a)
		equal("a/a = 1", ok(a.Div(a)), Plain)
		equal("a^2 = aa", ok(a.Pow(2)), ok(a.Mul(a)))
		equal("a^-1 = 1/a", ok(a.Pow(-1)), ok(Plain.Div(a)))
		equal("a^0 = 1", ok(a.Pow(0)), Plain)
		equal("(a^3)^(1/3) = a", ok(ok(a.Pow(3)).Pow(1.0/3)), a)
		equal("(a^2)^0.5 = a", ok(ok(a.Pow(2)).Pow(0.5)), a)
	})
}
