package units

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// TestFindSlip takes numbers that were typed in a row of one unit and meant in
// another. The factors are exact by definition: 1 psi is 6894.757 Pa, 1 bar is
// 0.1 MPa, 1 in is 25.4 mm, 1 kgf is 9.80665 N (SI Brochure, NIST SP 811).
func TestFindSlip(t *testing.T) {
	for _, test := range []struct {
		number   float64
		unit     string // with that of the row behind a stroke, if it is another
		expected string
		want     string
	}{
		{1450, "MPa", "10 MPa", "1450 psi"}, {250, "MPa", "25 MPa", "25 MPa"}, {100, "MPa", "10 MPa", "10 MPa"},
		{170, "MPa", "1.2 MPa", "170 psi"}, {3600, "bar", "250 bar", "3600 psi"}, {25, "bar", "250 bar", "250 bar"},
		{6.7, "mm", "170 mm", "6.7 inch"}, {17, "mm", "170 mm", "170 mm"}, {1.7, "mm", "170 mm", "170 mm"},
		{102, "kN", "1 kN", "102 kgf"}, {102, "kN", "10.2 kN", "10.2 kN"}, {102, "N", "1000 N", "102 kgf"},
		{113, "degC", "45 degC", "113 degF"}, {4.6, "degC", "45 degC", "46 degC"}, {3, "degC", "30 degC", "30 degC"},
		{45, "degF", "45 degC", "45 degC"}, {7.4, "L/min", "28 L/min", "7.4 usgal/min"}, {0.94, "%", "94 %", "94 %"},
		{25, "MPa", "24 MPa", ""}, {15, "MPa", "25 MPa", ""}, {40, "MPa", "25 MPa", ""}, {46, "degC", "45 degC", ""},
		{0, "mm", "3 mm", ""}, {400, "MPa", "17 MPa", ""},
		{270, "psi|bar", "250 bar", "270 bar"}, {38, "MPa|bar", "40 bar", "38 bar"}, {18, "kN", "160 kN", "18 tonnef"},
		{18, "lbf|ustonf", "18 ustonf", "18 ustonf"}, {0.9, "h/d", "90 h/d", "90 h/d"},
		{0.42, "L/min", "25 L/min", "0.42 L/s"}, {24.3, "rev/min", "1459 rev/min", "24.3 rev/s"},
		{600, "mm/s", "10 mm/s", "600 mm/min"}, {4.7, "s", "280 s", "4.7 min"}, {0.63, "", "1.59", "1.587"},
		{238, "%", "42 %", "42.02 %"}, {0.1, "", "10", "10"}, {0.6, "1/min", "36 1/min", "0.6 1/s"},
	} {
		typed, own, other := strings.Cut(test.unit, "|")
		u, _ := Parse(typed)
		row := u
		if other {
			row, _ = Parse(own)
		}
		v, err := ParseValue(test.expected)
		if err != nil {
			t.Fatal(err)
		}
		slip, found := FindSlip(test.number, u, row, v.Unit.ToSI(v.Number), 0)
		if got := slip.Text; got != test.want || found != (test.want != "") {
			t.Errorf("%v %s where %s was expected: %q (%s), expected %q", test.number, test.unit, test.expected, got,
				slip.Why, test.want)
		}
		meant := slip.Value
		if found && u.Kind == Ordinary && math.Abs(meant.Unit.ToSI(meant.Number)/v.Unit.ToSI(v.Number)-1) > 0.15 {
			t.Errorf("%v %s: what was meant is not near %s", test.number, test.unit, test.expected)
		}
	}
}

// TestIsFar gives numbers beside those of another machine of the kind, and the
// scales on which they would be nearer, of the row's own world if any of it fits: 63 kN
// was 63 metric tons, 617.8 kN by g_n, and never 63 long tons, which lie nearer to the
// example by chance. Factors: SI Brochure and NIST SP 811.
func TestIsFar(t *testing.T) {
	for _, test := range []struct {
		number   float64
		unit     string
		expected float64 // in that unit
		far      bool
		nearer   []string
	}{
		{160, "kN", 1000, true, []string{"160 tonnef"}},
		{63, "kN", 1000, true, []string{"63 tonnef"}},
		{30, "kN", 1000, true, []string{"30 tonnef"}}, // of no other size, but told in tons
		{15, "kN", 1000, true, nil},
		{15, "ustonf", 120, true, nil},
		{150e3, "ustonf", 120, true, []string{"150000 lbf"}},
		{1000, "ustonf", 120, true, []string{"1000 kN"}},
		{270, "psi|bar", 5000, true, []string{"270 bar"}},
		{8, "mm", 170, true, []string{"8 inch"}},
		{140, "mm", 2400, true, []string{"140 cm"}}, // no inch, which would be 3.6 m
		{28, "mm", 150, true, []string{"28 cm"}},
		{30, "h/d", 6, true, nil}, // no per cent
		{0.95, "%", 96, true, nil},
		{400, "kN", 1000, false, nil},
		{860, "mm", 170, true, nil},
		{849, "mm", 170, false, nil},
		{0, "mm", 170, false, nil},
		{-8, "mm", 170, false, nil},
		{1, "degC", 90, false, nil},
		{2, "", 20, false, nil},
	} {
		typed, own, other := strings.Cut(test.unit, "|")
		u, err := Parse(typed)
		if err != nil {
			t.Fatal(err)
		}
		row := u
		if other {
			row, _ = Parse(own)
		}
		nearer, far := IsFar(test.number, u, row, u.ToSI(test.expected))
		if far != test.far || !slices.Equal(nearer, test.nearer) {
			t.Errorf("%g %s beside %g: %v, %v; want %v, %v", test.number, test.unit, test.expected, far, nearer,
				test.far, test.nearer)
		}
	}
}
