package units

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"rambook/units/problem"
)

var parseTests = []struct {
	text   string
	symbol string
	dim    Dimension
	si     float64 // the SI value of 1 of it
}{
	{"", "", Plain, 1},
	{" \t", "", Plain, 1},
	{"1", "1", Plain, 1},
	{"%", "%", Plain, 0.01},
	{"ppm", "ppm", Plain, 1e-6},
	{"MPa", "MPa", Pressure, 1e6},
	{"\u00a0MPa\u202f", "MPa", Pressure, 1e6}, // no-break blanks
	{"mPa", "mPa", Pressure, 1e-3},
	{"L/min", "L/min", Flow, 1.0 / 60000},
	{"L / min", "L / min", Flow, 1.0 / 60000},
	{"1/min", "1/min", Frequency, 1.0 / 60},
	{"1/K", "1/K", ThermalExpansion, 1},
	{"%/d", "%/d", Frequency, 0.01 / 86400},

	// Lengths, areas, volumes.
	{"mm^2", "mm^2", Area, 1e-6},
	{"mm²", "mm²", Area, 1e-6},
	{"mm2", "mm2", Area, 1e-6},
	{"mm**2", "mm**2", Area, 1e-6},
	{"µm", "µm", Length, 1e-6}, // micro sign
	{"μm", "μm", Length, 1e-6}, // Greek letter
	{"in", "in", Length, 0.0254},
	{"in^2", "in^2", Area, 0.00064516},
	{"in3", "in3", Volume, 1.6387064e-5},
	{"cm3/rev", "cm3/rev", Displacement, 1e-6 / (2 * math.Pi)},
	{"L/m", "L/m", Area, 1e-3},

	// Products, quotients, brackets: from left to right.
	{"N*m", "N*m", Energy, 1},
	{"N·m", "N·m", Energy, 1},
	{"N⋅m", "N⋅m", Energy, 1},
	{"N×m", "N×m", Energy, 1},
	{"lbf*in", "lbf*in", Energy, 0.1129848290276167},
	{"kg/m^3", "kg/m^3", Density, 1},
	{"kg·m⁻³", "kg·m⁻³", Density, 1},
	{"W/(m^2*K)", "W/(m^2*K)", HeatTransfer, 1},
	{"W/m^2/K", "W/m^2/K", HeatTransfer, 1},
	{"W/m*K", "W/m*K", Dimension{baseMass: one, baseLength: one, baseTime: -3 * one, baseTemperature: one}, 1},
	{"(kN)", "(kN)", Force, 1e3},
	{"((kN)/(mm)^2)", "((kN)/(mm)^2)", Pressure, 1e9},
	{"Btu_IT/(lb*degR)", "Btu_IT/(lb*degR)", SpecificHeat, 4186.8},
	{"kW/rpm", "kW/rpm", TorquePerAngle, 30000 / math.Pi},
	{"rev/rad", "rev/rad", Plain, 2 * math.Pi},

	// Powers.
	{"s^-1", "s^-1", Frequency, 1},
	{"s^+2", "s^+2", Dimension{baseTime: 2 * one}, 1},
	{"s^−1", "s^−1", Frequency, 1}, // U+2212
	{"mm⁴", "mm⁴", SecondMoment, 1e-12},
	{"m⁺¹⁰", "m⁺¹⁰", Dimension{baseLength: 10 * one}, 1},
	{"m⁵*m⁶/m⁷/m⁸*m⁹", "m⁵*m⁶/m⁷/m⁸*m⁹", Dimension{baseLength: 5 * one}, 1},
	{"m^ 2", "m^ 2", Area, 1},
	{"m^0", "m^0", Plain, 1},
	{"mm^0.5", "mm^0.5", Dimension{baseLength: 3}, math.Sqrt(1e-3)},
	{"mm^(1/2)", "mm^(1/2)", Dimension{baseLength: 3}, math.Sqrt(1e-3)},
	{"mm^( -1 / 2 )", "mm^( -1 / 2 )", Dimension{baseLength: -3}, math.Sqrt(1e3)},
	{"L^(1/3)", "L^(1/3)", Length, 0.1},
	{"L^(5/6)", "L^(5/6)", Dimension{baseLength: 15}, math.Pow(1e-3, 5.0/6)},
	{"m^21", "m^21", Dimension{baseLength: maxSixths}, 1},
	{"deg^(1/6)", "deg^(1/6)", Dimension{baseAngle: 1}, math.Pow(math.Pi/180, 1.0/6)},
	{"(rev/rad)^(1/6)", "(rev/rad)^(1/6)", Plain, math.Pow(2*math.Pi, 1.0/6)},
	{"bar^0.5*bar^0.5", "bar^0.5*bar^0.5", Pressure, 1e5},

	{"degC", "degC", Temperature, 274.15},
	{"°C", "°C", Temperature, 274.15},
	{"degF", "degF", Temperature, 460.67 * 5 / 9},
	{"°", "°", Angle, math.Pi / 180},
	{"date", "date", Time, 1},
	{"text", "text", Plain, 1},
}

func TestParse(t *testing.T) {
	for _, test := range parseTests {
		u, err := Parse(test.text)
		if err != nil {
			t.Errorf("Parse(%q): %v", test.text, err)
			continue
		}
		if u.Symbol != test.symbol || u.Dim != test.dim || !near(u.ToSI(1), test.si, 2e-15) {
			t.Errorf("Parse(%q) = %q, %s, %v; want %q, %s, %v", test.text, u.Symbol, u.Dim, u.ToSI(1), test.symbol,
				test.dim, test.si)
		}
	}
}

func TestParseKinds(t *testing.T) {
	kinds := map[string]Kind{"": Ordinary, "MPa": Ordinary, "K": Ordinary, "degC": Point, "°F": Point, "date": Date,
		"text": Text}
	for text, kind := range kinds {
		if u, err := Parse(text); err != nil || u.Kind != kind {
			t.Errorf("Parse(%q) has the kind %d, want %d; %v", text, u.Kind, kind, err)
		}
	}
	if u, _ := Parse(""); u != (Unit{}) {
		t.Errorf("the unit of plain numbers is %v, want the zero Unit", u)
	}
}

// A problem is a text that is refused. The part of it that the error points at
// stands between ‹ and ›.
type wanted struct{ marked, message, hint string }

func (p wanted) text() string { return strings.NewReplacer("‹", "", "›", "").Replace(p.marked) }

func (p wanted) check(t *testing.T, err *problem.Problem) {
	t.Helper()
	if err == nil {
		t.Errorf("%q is accepted", p.text())
		return
	}
	runes := []rune(p.text())
	if err.Text != p.text() || err.From > err.To || err.From < 0 || err.To > len(runes) {
		t.Errorf("%q: the span is %d to %d of %q", p.text(), err.From, err.To, err.Text)
		return
	}
	marked := string(runes[:err.From]) + "‹" + string(runes[err.From:err.To]) + "›" + string(runes[err.To:])
	if marked != p.marked || err.Message != p.message || err.Hint != p.hint {
		t.Errorf("got  {%q, %q, %q}\nwant {%q, %q, %q}", marked, err.Message, err.Hint, p.marked, p.message, p.hint)
	}
}

const (
	onlySymbols = "a unit holds symbols and no numbers but `1`, as in `1/min`"
	powerForms  = "write `m^2`, `m^-1` or `m^(1/2)`"
)

var parseProblems = []wanted{
	// Not in the table.
	{"‹stroke›", "unknown unit `stroke`", ""},
	{"‹Mpa›", "unknown unit `Mpa`", "did you mean `MPa` or `mPa`?"},
	{"N/‹MM›", "unknown unit `MM`", "did you mean `mm`?"},
	{"‹usgl›/min", "unknown unit `usgl`", "did you mean `usgal`?"},
	{"‹rmp›", "unknown unit `rmp`", "did you mean `rpm`?"},
	{"m/‹s2›", "unknown unit `s2`", "write `s^2`; only lengths take a bare 2 or 3"},
	{"‹mm23›", "unknown unit `mm23`", "did you mean `mm2`?"},
	{"µm*‹µµ›", "unknown unit `µµ`", ""},

	// Ambiguous in the trade.
	{"‹ton›", "the unit `ton` is ambiguous", "write `tonne`, `uston`, `ukton`, `tonnef`, `ustonf` or `uktonf`"},
	{"‹tonf›", "the unit `tonf` is ambiguous", "write `tonnef`, `ustonf` or `uktonf`"},
	{"‹gal›/min", "the unit `gal` is ambiguous", "write `usgal` or `impgal`"},
	{"‹hp›*h", "the unit `hp` is ambiguous", "write `hp_mech` or `hp_metric`"},
	{"‹Btu›/h", "the unit `Btu` is ambiguous", "write `Btu_IT`"},
	{"‹kcal›/h", "the unit `kcal` is ambiguous", "write `kcal_IT` or `kcal_th`"},
	{"‹BTU›", "unknown unit `BTU`", "write `Btu_IT`"},

	// Written otherwise elsewhere.
	{"‹gpm›", "unknown unit `gpm`", "write `usgal/min` or `impgal/min`"},
	{"‹l›/min", "unknown unit `l`", "the litre is `L`"},
	{"‹Nm›", "unknown unit `Nm`", "write `N*m`"},
	{"‹minutes›", "unknown unit `minutes`", "write `min`"},
	{"‹psig›", "unknown unit `psig`", "write `psi`; a pressure here is gauge pressure"},
	{"‹bar(g)›", "unknown unit `bar(g)`", "write `bar`; a pressure here is gauge pressure"},
	{" ‹ft-lbs› ", "unknown unit `ft-lbs`", "write `lbf*ft`"},
	{"‹deg C›", "unknown unit `deg C`", "write `degC`"},
	{"‹kΩ›", "unknown unit `kΩ`", "write `kohm`"},
	{"‹-›", "unknown unit `-`", "leave the unit of a plain number empty"},

	// Units that stand alone.
	{"W/‹degC›", "the temperature scale `degC` cannot be part of a larger unit", "write `W/K`"},
	{"W/(m²*‹°C›)", "the temperature scale `°C` cannot be part of a larger unit", "write `W/(m²*K)`"},
	{"‹degF›/h", "the temperature scale `degF` cannot be part of a larger unit", "write `degR/h`"},
	{"(‹degC›)", "the temperature scale `degC` cannot be part of a larger unit", "write `(K)`"},
	{"kPa*‹date›", "`date` cannot be part of a larger unit", ""},
	{"‹text›^2", "`text` cannot be part of a larger unit", ""},

	// Grammar.
	{"N ‹m›", "two units with no sign between them", joinHint},
	{"N‹(›m)", "two units with no sign between them", joinHint},
	{"mm ‹(drawing)›", "unexpected `(drawing)` after a unit", "remarks go in the note"},
	{"‹[›mm]", "unexpected `[` in a unit", "write the unit alone; only round brackets group"},
	{"MPa ‹abs at gauge 3›", "unexpected `abs at gauge 3` after a unit", "remarks go in the note"},
	{"lbf‹-›ft", "unexpected `-` in a unit", joinHint},
	{"N‹.›m", "unexpected `.` in a unit", joinHint},
	{"m/‹/›s", "unexpected `/` in a unit", ""},
	{"‹*›m", "unexpected `*` in a unit", ""},
	{"m‹)›", "unexpected `)` in a unit", ""},
	{"‹?›", "unexpected `?` in a unit", ""},
	{"‹kg/›", "the unit `kg/` is not complete", ""},
	{" ‹kg *› ", "the unit `kg *` is not complete", ""},
	{"‹(›m", "a bracket that is not closed", "add `)`"},
	{"(m‹,›s)", "unexpected `,` in a unit", ""},
	{"(‹)›", "unexpected `)` in a unit", ""},
	{"‹100› mm", "the number `100` in a unit", onlySymbols},
	{"‹10.5›", "the number `10.5` in a unit", onlySymbols},
	{"m/‹12›", "the number `12` in a unit", onlySymbols},
	{"m^1/‹2›", "the number `2` in a unit", "put a power that is a fraction in brackets, as in `m^(1/2)`"},
	{strings.Repeat("(", maxUnitDepth) + "‹(›m" + strings.Repeat(")", maxUnitDepth+1),
		"too many brackets within brackets", ""},
	{"‹" + strings.Repeat("µ", 150) + "›", "the unit has 300 bytes, at most 200 are read", ""},

	// Powers.
	{"‹m^›", "a power that is no number", powerForms},
	{"‹m^›x", "a power that is no number", powerForms},
	{"kg*‹m^(2›", "a power that is no number", powerForms},
	{"‹m^1.2.3›", "a power that is no number", powerForms},
	{"‹m⁻›", "a power that is no number", powerForms},
	{"‹m^(1/0)›", "a power that is not a finite number", ""},
	{"‹m^22›", "a power of m beyond 21", ""},
	{"‹m^20/m^-2›", "a power of m beyond 21", ""},
	{"‹m^20*m^2›", "a power of m beyond 21", ""},
	{"‹m^0.3›", "a power of m that is no multiple of 1/6", ""},
	{"‹(km/m)^0.3›", "a power of a unit beyond 21 or no multiple of 1/6", ""},
	{"‹(km/m)^22›", "a power of a unit beyond 21 or no multiple of 1/6", ""},
	{"‹(GPa/Pa)^18›", "a unit too large or too small to compute with", ""},
	{"‹(GPa/Pa)^16*(GPa/Pa)›", "a unit too large or too small to compute with", ""},
	{"‹(Pa/GPa)^16/GPa^1›", "a unit too large or too small to compute with", ""},
}

func TestParseProblems(t *testing.T) {
	for _, p := range parseProblems {
		_, err := Parse(p.text())
		p.check(t, err)
	}
}

// near reports whether got is want to a relative tolerance.
func near(got, want, tolerance float64) bool {
	return math.Abs(got-want) <= tolerance*math.Abs(want)
}

// drawUnit draws a unit made of table symbols in every way Parse allows. A
// few have a power too high to be accepted.
func drawUnit(t *rapid.T) string {
	var names []string
	for _, s := range symbols() {
		if s.kind == Ordinary {
			names = append(names, s.symbol)
		}
	}
	symbol := rapid.SampledFrom(names)
	ending := rapid.SampledFrom([]string{"", "", "", "^2", "²", "^-1", "^0.5", "⁻³", "^(1/3)"})
	join := rapid.SampledFrom([]string{"*", "/", " * ", "·"})
	text := symbol.Draw(t, "symbol") + ending.Draw(t, "ending")
	for range rapid.IntRange(0, 2).Draw(t, "factors") {
		text += join.Draw(t, "join") + symbol.Draw(t, "symbol") + ending.Draw(t, "ending")
	}
	return text
}

// The dimension that is printed is the dimension that is read.
func TestDimensionStringParses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDimension(t, "dimension")
		u, err := Parse(strings.ReplaceAll(d.String(), " ", "*"))
		if err != nil || u.Dim != d || u.ToSI(1) != 1 {
			t.Errorf("%s is read as %s, %v", d, u.Dim, err)
		}
	})
}

func TestParseJoinsUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawUnit(t), drawUnit(t)
		ua, errA := Parse(a)
		ub, errB := Parse(b)
		if errA != nil || errB != nil {
			return // a power beyond 21
		}
		for _, join := range []struct {
			sign  string
			dim   func(Dimension, Dimension) (Dimension, error)
			scale float64
		}{
			{"*", Dimension.Mul, ua.ToSI(1) * ub.ToSI(1)},
			{"/", Dimension.Div, ua.ToSI(1) / ub.ToSI(1)},
		} {
			text := "(" + a + ")" + join.sign + "(" + b + ")"
			u, err := Parse(text)
			dim, failed := join.dim(ua.Dim, ub.Dim)
			switch {
			case (failed == nil) != (err == nil):
				t.Errorf("%s: %v, but its dimension: %v", text, err, failed)
			case err == nil && (u.Dim != dim || !near(u.ToSI(1), join.scale, 1e-14)):
				t.Errorf("%s is %v %s, want %v %s", text, u.ToSI(1), u.Dim, join.scale, dim)
			}
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, test := range parseTests {
		f.Add(test.text)
	}
	for _, p := range parseProblems {
		f.Add(p.text())
	}
	for _, s := range symbols() {
		f.Add(s.symbol)
	}
	for _, a := range advice {
		f.Add(a.word)
	}
	f.Fuzz(func(t *testing.T, text string) {
		u, err := Parse(text)
		if err != nil {
			checkError(t, text, err)
			return
		}
		again, err := Parse(u.Symbol)
		if err != nil || again != u {
			t.Errorf("Parse(%q) = %v, but its symbol gives %v, %v", text, u, again, err)
		}
		if si := u.DiffToSI(1); !(si > 0) || math.IsInf(si, 0) || !near(u.DiffFromSI(si), 1, 1e-14) {
			t.Errorf("Parse(%q): 1 is %v in SI", text, si)
		}
	})
}

func checkError(t *testing.T, text string, err *problem.Problem) {
	t.Helper()
	if err.Text != text || err.From < 0 || err.From > err.To || err.To > utf8.RuneCountInString(text) {
		t.Errorf("%q: the span of %q is %d to %d of %q", text, err.Message, err.From, err.To, err.Text)
	}
	if err.Message == "" || strings.HasSuffix(err.Error(), ".") || strings.Contains(err.Error(), "\n") {
		t.Errorf("%q: the message is %q", text, err.Error())
	}
}

func BenchmarkParse(b *testing.B) {
	for _, text := range []string{"MPa", "L/min", "W/(m^2*K)"} {
		b.Run(text, func(b *testing.B) {
			for b.Loop() {
				if _, err := Parse(text); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
