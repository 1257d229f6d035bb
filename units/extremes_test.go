package units

import (
	"math"
	"testing"
)

// TestScalesFarApart converts between units whose factors are each within
// bounds and their quotient is not, and takes roots of roots.
func TestScalesFarApart(t *testing.T) {
	for _, test := range []struct {
		value, to string
		want      float64
	}{
		{"1 km^21", "mm^21", 1e126},
		{"3 mm^21", "km^21", 3e-126},
		{"2 km^21/kg", "um^21/kg", 2e189},
		{"5 um^21/kg", "km^21/kg", 5e-189},
		{"1 ((deg/rad)^0.5)^0.5", "", math.Pow(math.Pi/180, 0.25)},
		{"1 ((rev/rad)^0.5)^0.5", "(rev/rad)^0.5", math.Pow(2*math.Pi, -0.25)},
		{"1 (deg^3)^(1/3)", "deg", 1},
		{"90 deg^0.5", "rad^0.5", 90 * math.Sqrt(math.Pi/180)},
	} {
		got, _, err := Convert(test.value, test.to)
		if err != nil || math.Abs(got-test.want) > 1e-14*test.want {
			t.Errorf("%s in %s is %v (%v), want %v", test.value, test.to, got, err, test.want)
		}
	}
	for _, text := range []string{"(km^21)^(1/2)*km^21", "1/(um^21*um^5)", "(deg^0.5)^0.5"} {
		if u, err := Parse(text); err == nil {
			t.Errorf("%s is read as %v", text, u)
		}
	}
}
