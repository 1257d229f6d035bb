package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"rambook/calc/tape"
)

// rangeBook has a given of every kind that can be swept.
const rangeBook = `name,entry,unit,low,high
setting,25,MPa,5,
share,50,%
plain,2,,,=plain
bore,170,mm
oil,45,degC
rise,25,K
due,2026-05-04,date
mode,pump,text
open,,MPa
force,=setting*bore^2*share,kN
`

// ranges are what --over and --between may hold after the name: the values in
// the range's unit, or the problem.
var ranges = []struct {
	text string
	want string // values and unit
}{
	{"setting = 5 to 25 by 5 MPa", "5 10 15 20 25 MPa"},
	{"setting = 5 to 25 by 5", "5 10 15 20 25 MPa"},
	{"setting=5 to 24 by 5 MPa", "5 10 15 20 MPa"},
	{"setting = 50 to 100 by 25 bar", "50 75 100 bar"},
	{"setting = 1000 psi to 20 MPa by 5 MPa", "6.894757293168361 11.894757293168361 16.89475729316836 MPa"},
	{"setting = 5 MPa to 25 MPa by 10 MPa", "5 15 25 MPa"},
	{"setting = 5 MPa to 7 MPa by 10 bar", "5 6 7 MPa"},
	{"setting = 5 to 25 MPa by 10", "5 15 25 MPa"},
	{"setting = 25 to 5 by 10 MPa", "25 15 5 MPa"},
	{"setting = 25 to 5 by -10 MPa", "25 15 5 MPa"},
	{"setting = 5 to 5 by 1 MPa", "5 MPa"},
	{"setting = 5 to 6 by 10 MPa", "5 MPa"},
	{"setting = 5 to 25 in 4 steps MPa", "5 10 15 20 25 MPa"},
	{"setting = 5 to 25 in 4 steps", "5 10 15 20 25 MPa"},
	{"setting = 25 to 5 in 1 step", "25 5 MPa"},
	{"setting = 5, 10,20 MPa", "5 10 20 MPa"},
	{"setting = 5", "5 MPa"},
	{"setting = 5 MPa, 100 psi, 1 bar", "50 6.894757293168361 1 bar"},
	{"setting = -5 to 5 by 5", "-5 0 5 MPa"},
	{"setting = −5 to 5 by 5", "-5 0 5 MPa"},
	{"setting = 1e3 to 1.2e3 by 1e2 psi", "1000 1100 1200 psi"},
	{"open = 1 to 3 by 1", "1 2 3 MPa"},

	// A decimal step adds up to decimals, and the end counts.
	{"setting = 0.1 to 0.5 by 0.1 MPa", "0.1 0.2 0.3 0.4 0.5 MPa"},
	{"setting = 0 to 1 by 0.3333333333333 MPa", "0 0.3333333333333 0.6666666666666 1 MPa"},
	{"setting = 0 to 1 by 0.3333 MPa", "0 0.3333 0.6666 0.9999 MPa"},
	{"setting = 0 to 1 in 3 steps MPa", "0 0.3333333333333333 0.6666666666666666 1 MPa"},
	{"setting = 0.1 to 0.3 in 2 steps", "0.1 0.2 0.3 MPa"},
	{"plain = 1e300 to 3e300 by 1e300", "1e+300 2e+300 3e+300"},
	{"plain = 1e-300 to 3e-300 in 2 steps", "1e-300 2.0000000000000004e-300 3e-300"}, // too small to scale

	// Units that are words of a range, and others with a shape of their own.
	{"bore = 1 in to 3 in by 1 in", "1 2 3 in"},
	{"bore = 1 to 3 in 2 steps in", "1 2 3 in"},
	{"bore = 1, 2 in", "1 2 in"},
	{"share = 0 to 100 by 50", "0 50 100 %"},
	{"share = 0.5, 1", "0.5 1 %"},
	{"plain = 10 %, 20 %", "10 20 %"},
	{"oil = 20 to 40 by 10", "20 30 40 degC"},
	{"oil = 20 to 40 by 10 degC", "20 30 40 degC"},
	{"oil = 20 degC to 40 degC by 10 K", "20 30 40 degC"},
	{"oil = 68 degF to 86 degF by 9 degF", "68 77 86 degF"},
	{"oil = 300 K, 310 K", "26.85 36.85 degC"},
	{"rise = 10 to 30 by 10 K", "10 20 30 K"},
	{"due = 2026-01-30 to 2026-02-01 by 1 d", "2026-01-30 2026-01-31 2026-02-01 date"},
	{"due = 2026-01-01, 2026-02-01", "2026-01-01 2026-02-01 date"},
	{"due = 2026-01-01 to 2026-01-03 in 2 steps", "2026-01-01 2026-01-02 2026-01-03 date"},
	{"mode = pump, gravity", "pump|gravity text"},
	{`mode = "pump, slow", gravity`, "pump, slow|gravity text"},
	{"mode = 5 to 10", "5 to 10 text"},

	{"setting", "--over: no `=` in `setting`"},
	{"sett = 5", "--over: no quantity is named `sett`"},
	{"force = 5", "--over: force is computed and cannot be changed itself"},
	{"setting =", "--over: a value is missing"},
	{"setting = 5,", "--over: a value is missing"},
	{"setting = to 5", "--over: a first value is missing before `to`"},
	{"setting = 5 to", "--over: a last value is missing after `to`"},
	{"setting = 5 to 6 by", "--over: a step is missing after `by`"},
	{"setting = 5 to 6 MPa", "--over: a range needs a step"},
	{"setting = 5 to 6 by 0 MPa", "--over: a step of 0 leads nowhere"},
	{"setting = 5 to 6 by -1 MPa", "--over: a negative step leads away from 6"},
	{"setting = 5 to 6 by 1e-30 MPa", "--over: the range has 1e+30 values, more than 1000000000"},
	{"setting = 5 to 6 by 1e-320", "--over: the range has countless values, more than 1000000000"},
	{"setting = 5 to 6 in 0 steps MPa", "--over: `0` is no number of steps"},
	{"setting = 5 to 6 in 2.5 steps MPa", "--over: `2.5` is no number of steps"},
	{"setting = 5 to 6 in 2 steps MPaa", "--over: unknown unit `MPaa`"},
	{"setting = 5 to 6 by 1 mm", "--over: 5 mm is a length, but setting is in MPa"},
	{"setting = 5 MPa to 6 MPa by 1 mm", "--over: a step of 1 mm does not lead from one setting to another"},
	{"setting = 5, 6 bar, 7 MPa", "--over: this value has no unit, and the others have several"},
	{"setting = 5 to 25 MPa by 10 bar", "--over: this value has no unit, and the others have several"},
	{"setting = 5 x", "--over: unknown unit `x`"},
	{"setting = five", "--over: `five` is not a number"},
	{"setting = 1,5", "1 5 MPa"}, // a list, as the comma says
	{"setting = 1e400", "--over: the number `1e400` is out of range"},
	{"plain = -1e308 to 1e308 by 1e300", "--over: number is out of range"},
	{"oil = 20 to 40 by 10 K", "--over: `K` would make `40` a number of kelvin from absolute zero"},
	{"rise = 20 degC", "--over: 20 degC is a temperature point, but rise is a difference"},
	{"due = 5", "--over: due is a date, `5` is none"},
	{"due = 2026-01-01 to 2026-02-01 by 7", "--over: the step between dates needs a unit of time"},
	{"due = 2026-01-01 to 2026-02-01 by 7 mm", "--over: a step of 7 mm does not lead from one due to another"},
	{"setting = 2026-01-01", "--over: 2026-01-01 is a date, but setting is in MPa"},
	{"mode =", "--over: cannot read the list of texts"},
	{"mode = a,,b", "--over: a text of the list is empty"},
	{`mode = "a`, "--over: cannot read the list of texts"},
}

// TestRangeHints: a range that is written as elsewhere is shown as it is
// written here.
func TestRangeHints(t *testing.T) {
	m := compiled(t, "base.csv", rangeBook)
	for _, test := range []struct{ text, hint string }{
		{"setting = 5..25 by 5", "a range is written `5 to 25 by 5`"},
		{"setting = 5 ... 25 MPa by 5 MPa", "a range is written `5 to 25 MPa by 5 MPa`"},
		{"setting = 5-25 in 4 steps MPa", "a range is written `5 to 25 in 4 steps MPa`"},
		{"setting = 5:25", "a range is written `5 to 25`, with a step behind it, as in `by 2.5`"},
		{"oil = 20 to 60 by 5 C", "`C` is the coulomb; degrees Celsius are `degC`"},
	} {
		g, problems := m.readOver(test.text)
		if g != nil || len(problems) != 1 || problems[0].Hint != test.hint {
			t.Errorf("%s: got %s, expected the hint %s", test.text, withHints(problems), test.hint)
		}
	}
}

func TestRanges(t *testing.T) {
	for _, tc := range ranges {
		m := compiled(t, "base.csv", rangeBook)
		g, problems := m.readOver(tc.text)
		got := ""
		if g == nil {
			got = problems[0].Error()
			for _, p := range problems {
				if p.From < 0 || p.To > len([]rune(p.Text)) && p.To > p.From+1 {
					t.Errorf("%s: the place %d to %d is outside of the argument", tc.text, p.From, p.To)
				}
			}
		} else {
			got = rangeText(g)
		}
		if got != tc.want {
			t.Errorf("%s\n got %s\nwant %s", tc.text, got, tc.want)
		}
	}
}

// rangeText lists the values of a range and its unit.
func rangeText(g *Range) string {
	if g.IsText() {
		return strings.Join(g.texts, "|") + " text"
	}
	s := &Sweep{Over: []*Range{g}}
	var values []string
	for i := range g.N {
		_, value, _ := strings.Cut(s.name(i), " = ")
		values = append(values, strings.TrimSuffix(value, " "+g.Unit.Symbol))
	}
	return strings.TrimSpace(strings.Join(values, " ") + " " + g.Unit.Symbol)
}

// TestLongRange checks that a long range neither drifts nor misses its ends.
func TestLongRange(t *testing.T) {
	m := compiled(t, "base.csv", rangeBook)
	g, _ := m.readOver("setting = 0 to 100 by 0.00001 MPa")
	if g.N != 10_000_001 || g.Value(g.N-1) != 100 {
		t.Fatalf("%d values up to %v", g.N, g.Value(g.N-1))
	}
	for _, i := range []int{1, 3, 7_777_777, 9_999_999} {
		want := fmt.Sprintf("%.5f", float64(i)/1e5)
		if got := fmt.Sprint(g.Value(i)); strings.TrimRight(want, "0") != strings.TrimSuffix(got, "e-05") &&
			got != "1e-05" && got != "3e-05" {
			t.Errorf("value %d is %s, want %s", i, got, want)
		}
	}
}

func TestIntervals(t *testing.T) {
	for _, tc := range []struct {
		name, text, want string
	}{
		{"setting", "5 to 30 MPa", "5e+06 3e+07"},
		{"setting", "30 MPa to 50 bar", "5e+06 3e+07"},
		{"oil", "0 to 100", "273.15 373.15"},
		{"setting", "", "5e+06 2.5e+08"}, // its low limit, and a decade above its value
		{"bore", "", "0.017 1.7"},
		{"oil", "", "277.65 723.15"}, // decades of the number in degC
		{"plain", "", "0.2 2"},
		{"open", "", "open has no range to look in"},
		{"due", "", "due has no range to look in"},
		{"setting", "5", "--between: a search goes from one value to another"},
		{"setting", "5 to 6 by 1", "--between: a search goes from one value to another"},
		{"setting", "5 to 5", "--between: there is nothing between these ends"},
		{"setting", "5 to 6 mm", "--between: 5 mm is a length, but setting is in MPa"},
		{"setting", "to 6 MPa", "--between: a first value is missing before `to`"},
	} {
		m := compiled(t, "base.csv", rangeBook)
		lo, hi, problems := m.readBetween(m.Quantity(tc.name), tc.text, m.tape.Once(nil))
		got := fmt.Sprint(lo, " ", hi)
		if len(problems) > 0 {
			got = problems[0].Error()
		}
		if got != tc.want {
			t.Errorf("%s: got %s, want %s", tc.text, got, tc.want)
		}
	}
}

// FuzzRange looks for texts that panic, and for ranges with values that are
// not in order, not finite, or outside of their ends.
func FuzzRange(f *testing.F) {
	for _, tc := range ranges {
		f.Add(tc.text)
	}
	m := compiled(f, "base.csv", rangeBook)
	f.Fuzz(func(t *testing.T, text string) {
		g, problems := m.readOver(text)
		if (g == nil) != (len(problems) > 0) {
			t.Fatalf("%q: range %v, problems %v", text, g, problems)
		}
		if g == nil || g.IsText() || g.list != nil {
			return
		}
		if g.N < 1 || g.N > MaxCases {
			t.Fatalf("%q: %d values", text, g.N)
		}
		first, last := g.Value(0), g.Value(g.N-1)
		for _, i := range []int{0, 1, g.N / 3, g.N / 2, g.N - 2, g.N - 1} {
			if i < 0 || i >= g.N {
				continue
			}
			v := g.Value(i)
			if !tape.Usable(g.si(i)) || v < math.Min(first, last) || v > math.Max(first, last) {
				t.Fatalf("%q: value %d is %v, from %v to %v", text, i, v, first, last)
			}
		}
	})
}
