package units

import (
	"encoding/csv"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestConversionsOfTheBooks converts every row of testdata/conversions.csv.
// The columns from and to hold the row in our symbols; its source stands
// beside it in the file.
func TestConversionsOfTheBooks(t *testing.T) {
	file, err := os.Open("../testdata/conversions.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	records, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range records[0] {
		column[name] = i
	}
	for _, r := range records[1:] {
		cell := func(name string) string { return r[column[name]] }
		t.Run(cell("id"), func(t *testing.T) {
			if cell("source") == "" {
				t.Error("the row names no source")
			}
			want, err := strconv.ParseFloat(cell("expected"), 64)
			if err != nil {
				t.Fatal(err)
			}
			tolerance := 1e-12 * math.Abs(want)
			switch {
			case want == 0:
				tolerance = 1e-10
			case strings.Contains(cell("quantity"), "AS PRINTED"):
				// A printed figure is right to half a unit of its last digit.
				_, decimals, _ := strings.Cut(cell("expected"), ".")
				tolerance = 0.5 * math.Pow10(-len(decimals))
			}
			got, unit := convertOrConstant(t, cell("from"), cell("to"))
			if math.Abs(got-want) > tolerance || unit.Symbol != cell("to") {
				t.Errorf("%s = %v %s, want %v (%s)", cell("from"), got, unit.Symbol, want, cell("source"))
			}
		})
	}
}

func convertOrConstant(t *testing.T, from, to string) (float64, Unit) {
	for _, c := range Constants {
		if c.Name == from {
			return c.Value, c.Unit
		}
	}
	got, unit, err := Convert(from, to)
	if err != nil {
		t.Fatal(err)
	}
	return got, unit
}

// Conversions people know by heart come out to the last digit.
func TestConvertExactly(t *testing.T) {
	tests := []struct {
		value, to string
		want      float64
	}{
		{"1 in", "mm", 25.4},
		{"1 ft", "in", 12},
		{"1 mile", "m", 1609.344},
		{"3 mm", "m", 0.003},
		{"1 bar", "kPa", 100},
		{"7 ksi", "psi", 7000},
		{"360 deg", "rev", 1},
		{"1 rev", "deg", 360},
		{"1450 rpm", "rev/min", 1450},
		{"1450 rev/min", "rpm", 1450},
		{"2.1 L/min", "cm3/min", 2100},
		{"1 kWh", "kJ", 3600},
		{"5 %", "ppm", 50000},
		{"5 %", "", 0.05},
		{"0.25", "%", 25},
		{"20 degC", "degF", 68},
		{"20.1 degC", "°C", 20.1},
		{"-40 degF", "degC", -40},
		{"32 degF", "degC", 0},
		{"20 degC", "K", 293.15},
		{"1e7 K", "degC", 9999726.85},
		{"2026-05-04", "date", 1777852800},
		{"1 m^0.5", "mm^0.5", math.Sqrt(1000)},
	}
	for _, test := range tests {
		got, unit, err := Convert(test.value, test.to)
		if err != nil || got != test.want || unit.Symbol != test.to {
			t.Errorf("Convert(%q, %q) = %v %s, %v; want %v", test.value, test.to, got, unit.Symbol, err, test.want)
		}
	}
}

func TestConvertProblems(t *testing.T) {
	tests := []struct {
		to string
		wanted
	}{
		{"psi", wanted{"‹20›", "cannot convert a plain number to pressure",
			"write the unit after the number, as in `20 psi`"}},
		{"degC", wanted{" ‹20 MPa›", "cannot convert pressure to temperature", ""}},
		{"K", wanted{"‹20 C›", "cannot convert electric charge to temperature",
			"the temperature scale is `degC`: write `20 degC`"}},
		{"F", wanted{"‹20 degC›", "cannot convert temperature to capacitance", "the temperature scale is `degF`"}},
		{"bar", wanted{"‹5 kg/cm2›", "cannot convert mass per area to pressure",
			"`kg` and `lb` are masses; the forces are `kgf` and `lbf`"}},
		{"lbf", wanted{"‹1 lb›", "cannot convert mass to force", "as a force: write `1 lbf`"}},
		{"kN", wanted{"‹63 t›", "cannot convert mass to force",
			"as a force: write `63 tonnef`; 1 tonnef is 9.80665 kN"}},
		{"kg", wanted{"‹63 kgf›", "cannot convert force to mass", "as a mass: write `63 kg`"}},
		{"kg", wanted{"‹1 kN›", "cannot convert force to mass",
			"`kg` and `lb` are masses; the forces are `kgf` and `lbf`"}},
		{"N*m", wanted{"‹10 N*m/rad›", "cannot convert torque per angle to energy or torque", "multiply by `rad`"}},
		{"rpm", wanted{"‹1450 1/min›", "cannot convert frequency to rotational speed",
			"write a rotational speed in `rev/min`"}},
		{"Hz", wanted{"‹1450 rpm›", "cannot convert rotational speed to frequency", "divide by `rev` to count turns"}},
		{"d", wanted{"‹2026-05-04›", "cannot convert a date to time", ""}},
		{"date", wanted{"‹5 d›", "cannot convert time to a date", ""}},
		{"text", wanted{"‹5›", "cannot convert a plain number to text", ""}},
		{"m^9", wanted{"‹5 m›", "cannot convert length to m^9", ""}},
		{"um", wanted{"‹1e304 m›", "the number `1e304 m` is out of range", ""}},
		{"m", wanted{"5 ‹furlong›", "unknown unit `furlong`", ""}},
	}
	for _, test := range tests {
		_, _, err := Convert(test.text(), test.to)
		test.check(t, err)
	}
	// Where the second text is wrong, the error is about that.
	_, _, err := Convert("20 MPa", "PSI")
	wanted{"‹PSI›", "unknown unit `PSI`", "did you mean `psi`?"}.check(t, err)
}

func TestMismatchHint(t *testing.T) {
	perTurn, _ := Flow.Mul(Angle)        // cm3 × rev/min
	flowPerAngle, _ := Flow.Div(Angle)   // cm3/rev × 1/min
	powerPerAngle, _ := Power.Div(Angle) // N*m/rad × 1/min
	tests := []struct {
		found, wanted Dimension
		hint          string
	}{
		{TorquePerAngle, Energy, "multiply by `rad`"},
		{flowPerAngle, Flow, "a speed in `1/min` or `Hz` counts no turns; write it in `rev/min`"},
		{powerPerAngle, Power, "a speed in `1/min` or `Hz` counts no turns; write it in `rev/min`"},
		{Frequency, AngularVelocity, "write a rotational speed in `rev/min`"},
		{AngularVelocity, Frequency, "divide by `rev` to count turns"},
		{perTurn, Flow, "write a displacement per turn, in `cm3/rev` or `in3/rev`"},
		{Energy, TorquePerAngle, "divide by `rad`"},
		{Mass, Force, "`kg` and `lb` are masses; the forces are `kgf` and `lbf`"},
		{Charge, Temperature, "`C` is the coulomb; degrees Celsius are `degC`"},
		{Temperature, Charge, "`C` is the coulomb; degrees Celsius are `degC`"},
		{Capacitance, Temperature, "`F` is the farad; degrees Fahrenheit are `degF`"},
		{Pressure, Length, ""},
		{Length, Acceleration, ""},
		{Dimension{baseTime: 2 * one}, Length, ""},
		{Dimension{baseTime: maxSixths}, Dimension{baseTime: -maxSixths}, ""},
	}
	for _, test := range tests {
		if got := MismatchHint(test.found, test.wanted); got != test.hint {
			t.Errorf("MismatchHint(%s, %s) = %q, want %q", test.found.Name(), test.wanted.Name(), got, test.hint)
		}
	}
}

// Points are shifted, their differences are not.
func TestPoints(t *testing.T) {
	// SI Brochure, 9th ed., 2.3.1 and NIST SP 811 (2008), B.8: the ice point
	// is 0 degC, 32 degF, 273.15 K; a degree Fahrenheit is 5/9 K.
	tests := []struct {
		unit             string
		v, si, spread    float64
		spreadInSI, zero float64
	}{
		{"degC", 0, 273.15, 1, 1, -273.15},
		{"degF", 32, 273.15, 9, 5, -459.67},
		{"degR", 491.67, 273.15, 9, 5, 0},
		{"K", 273.15, 273.15, 1, 1, 0},
	}
	for _, test := range tests {
		u, err := Parse(test.unit)
		if err != nil {
			t.Fatal(err)
		}
		if got := u.ToSI(test.v); !near(got, test.si, 1e-15) {
			t.Errorf("%v %s is %v K", test.v, test.unit, got)
		}
		if got := u.DiffToSI(test.spread); got != test.spreadInSI {
			t.Errorf("a difference of %v %s is %v K", test.spread, test.unit, got)
		}
		if got := u.DiffFromSI(test.spreadInSI); got != test.spread {
			t.Errorf("a difference of %v K is %v %s", test.spreadInSI, got, test.unit)
		}
		if got := u.FromSI(0); got != test.zero {
			t.Errorf("absolute zero is %v %s", got, test.unit)
		}
	}
}

func TestZeroUnitIsPlain(t *testing.T) {
	var u Unit
	for _, f := range []func(float64) float64{u.ToSI, u.FromSI, u.DiffToSI, u.DiffFromSI} {
		if got := f(0.3); got != 0.3 {
			t.Errorf("0.3 becomes %v", got)
		}
	}
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := drawUnit(t)
		u, err := Parse(text)
		if err != nil {
			return // a power beyond 21
		}
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "value")
		if math.Abs(v) < 1e-6 {
			return // a value near the smallest float64 loses digits in any unit
		}
		if back := u.FromSI(u.ToSI(v)); !near(back, v, 1e-15) {
			t.Errorf("%v %s comes back as %v", v, text, back)
		}
		if back := u.DiffFromSI(u.DiffToSI(v)); !near(back, v, 1e-15) {
			t.Errorf("a difference of %v %s comes back as %v", v, text, back)
		}
	})
}

// A temperature as people write it, to some decimals, survives kelvin.
func TestTemperatureRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		decimals := rapid.IntRange(0, 6).Draw(t, "decimals")
		v := float64(rapid.IntRange(-200_000_000, 900_000_000).Draw(t, "millionths")) / 1e6
		v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'f', decimals, 64), 64)
		for _, scale := range []string{"degC", "degF"} {
			u, _ := Parse(scale)
			if back := u.FromSI(u.ToSI(v)); back != v {
				t.Errorf("%v %s comes back as %v", v, scale, back)
			}
		}
	})
}

// Any two ways between units of one quantity agree.
func TestConvertByWayOfAThird(t *testing.T) {
	bySame := map[Dimension][]string{}
	for _, s := range symbols() {
		if s.kind == Ordinary {
			bySame[s.dim] = append(bySame[s.dim], s.symbol)
		}
	}
	dims := slices.SortedFunc(maps.Keys(bySame), func(a,
		b Dimension) int {
		return strings.Compare(a.String(), b.String())
	})
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom(bySame[rapid.SampledFrom(dims).Draw(t, "dimension")])
		a, b, c := unit.Draw(t, "a"), unit.Draw(t, "b"), unit.Draw(t, "c")
		direct, _, err := Convert("3 "+a, c)
		if err != nil {
			t.Fatal(err)
		}
		first, _, _ := Convert("3 "+a, b)
		second, _, _ := Convert(strconv.FormatFloat(first, 'g', -1, 64)+" "+b, c)
		if !near(second, direct, 2e-15) {
			t.Errorf("3 %s = %v %s, but %v by way of %s", a, direct, c, second, b)
		}
	})
}

// TestSlices holds the conversion of many numbers against that of one.
func TestSlices(t *testing.T) {
	from := []float64{0, 1, -17.25, 20.1, 1e300, 3e-9, math.NaN(), math.Inf(1)}
	for _, symbol := range []string{"", "MPa", "%", "degC", "degF", "date", "usgal/min"} {
		u, err := Parse(symbol)
		if err != nil {
			t.Fatal(err)
		}
		to, back := make([]float64, len(from)), make([]float64, len(from))
		u.SliceToSI(to, from)
		u.SliceFromSI(back, to)
		for i, v := range from {
			same := func(a, b float64) bool { return a == b || a != a && b != b }
			if want := u.ToSI(v); !same(to[i], want) {
				t.Errorf("%v %s is %v in SI, want %v", v, symbol, to[i], want)
			}
			if want := u.FromSI(to[i]); !same(back[i], want) {
				t.Errorf("%v is %v %s, want %v", to[i], back[i], symbol, want)
			}
		}
	}
}

func TestWithUnit(t *testing.T) {
	for _, test := range []struct {
		v          float64
		unit, want string
	}{
		{25, "MPa", "25 MPa"}, {1.0 / 3, "", "0.333333"}, {86400, "date", "1970-01-02"},
	} {
		u, err := Parse(test.unit)
		if err != nil {
			t.Fatal(err)
		}
		if got := WithUnit(test.v, u); got != test.want {
			t.Errorf("%v in %q is written %q, expected %q", test.v, test.unit, got, test.want)
		}
	}
}
