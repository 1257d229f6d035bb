package units

import (
	"math"
	"strconv"
	"testing"
)

// TestIn takes the units of a press from one system into another.
func TestIn(t *testing.T) {
	for _, test := range []struct{ unit, si, bar, us string }{
		{"MPa", "MPa", "bar", "psi"}, {"bar", "MPa", "bar", "psi"}, {"psi", "MPa", "bar", "psi"},
		{"kPa", "kPa", "bar", "psi"},
		{"mm", "mm", "mm", "inch"}, {"in", "mm", "mm", "in"}, {"inch", "mm", "mm", "inch"},
		{"cm2", "cm2", "cm2", "in2"}, {"in2", "mm2", "mm2", "in2"},
		{"L/min", "L/min", "L/min", "usgal/min"}, {"usgal/min", "L/min", "L/min", "usgal/min"},
		{"kN", "kN", "kN", "ustonf"}, {"N*m", "N*m", "N*m", "lbf*ft"}, {"lbf*ft", "N*m", "N*m", "lbf*ft"},
		{"J", "J", "J", "ft*lbf"}, {"ft*lbf", "J", "J", "ft*lbf"},
		{"degC", "degC", "degC", "degF"}, {"degF", "degC", "degC", "degF"}, {"kW", "kW", "kW", "hp_mech"},
		{"kN/m", "kN/m", "kN/m", "ustonf/ft"},
		{"mm/m", "mm/m", "mm/m", "inch/ft"}, {"cm3/rev", "cm3/rev", "cm3/rev", "in3/rev"},
		{"L/h/MPa", "L/h/MPa", "L/h/bar", "usgal/h/psi"},
		{"W/K", "W/K", "W/K", "Btu_IT/h/degR"}, {"Btu_IT/h/degR", "W/K", "W/K", "Btu_IT/h/degR"},
		{"kg/m3", "kg/m3", "kg/m3", "lb/ft3"},
		{"1/K", "1/K", "1/K", "1/degR"}, {"mm2/s", "mm2/s", "mm2/s", "mm2/s"},
		{"rev/min", "rev/min", "rev/min", "rev/min"},
		{"s", "s", "s", "s"}, {"%", "%", "%", "%"}, {"", "", "", ""}, {"text", "text", "text", "text"},
		{"tick", "tick", "tick", "tick"}, {"date", "date", "date", "date"},
	} {
		u, err := Parse(test.unit)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range Systems() {
			want := map[System]string{SI: test.si, Bar: test.bar, US: test.us}[s]
			if got := u.In(s); got.Symbol != want || got.Dim != u.Dim {
				t.Errorf("%s in %s is %s, expected %s", test.unit, s, got.Symbol, want)
			}
		}
	}
}

// TestRestate writes numbers in other units and back: the same value. 25.4 mm
// are 1 inch and 1 lbf is 4.4482216152605 N by definition; 20 MPa are 2900.75 psi
// (NIST SP 811, Appendix B).
func TestRestate(t *testing.T) {
	for _, test := range []struct {
		number     float64
		from       string
		to         string
		difference bool
		digits     int
		want       string
	}{
		{25.4, "mm", "inch", false, 0, "1"}, {20, "MPa", "psi", false, 4, "2901"},
		{170, "mm", "inch", false, 4, "6.693"},
		{45, "degC", "degF", false, 0, "113"}, {1, "degC", "degF", true, 0, "1.8"}, {0, "mm", "inch", false, 0, "0"},
		{0, "degC", "degF", false, 0, "32"},
		{220.632233381388, "bar", "psi", false, 0, "3200"}, {20.8701204803984, "in3/rev", "cm3/rev", false, 0, "342"},
		{4.4482216152605, "N", "lbf", false, 0, "1"}, {-0.1, "mm/m", "in/ft", false, 4, "-0.0012"},
	} {
		from, _ := Parse(test.from)
		to, _ := Parse(test.to)
		if got := Restate(test.number, from, to, test.difference, test.digits); got != test.want {
			t.Errorf("%v %s is %s %s, expected %s", test.number, test.from, got, test.to, test.want)
		}
	}
	for _, pair := range [][2]string{{"mm", "inch"}, {"MPa", "psi"}, {"MPa", "bar"}, {"kN", "ustonf"},
		{"L/min", "usgal/min"}, {"kW", "hp_mech"}, {"W/m2/K", "Btu_IT/h/ft2/degR"}} {
		a, _ := Parse(pair[0])
		b, _ := Parse(pair[1])
		for _, x := range []float64{0.01, 0.3, 1, 7.77, 28, 170, 1234.5, 99999, 1e-7} {
			there, _ := strconv.ParseFloat(Restate(x, a, b, false, 0), 64)
			back, _ := strconv.ParseFloat(Restate(there, b, a, false, 0), 64)
			if math.Abs(back/x-1) > 1e-14 {
				t.Errorf("%v %s comes back from %s as %v", x, pair[0], pair[1], back)
			}
		}
	}
}
