package coverage

import (
	"math"
	"testing"
)

// TestFactor: those that are kept are the same as those that are not. Its digits
// are tested where the function student is.
func TestFactor(t *testing.T) {
	for nu := 1; nu < 40; nu++ {
		if Factor(nu) != Student(Probability, float64(nu)) {
			t.Errorf("the factor for %d degrees of freedom is not Student's", nu)
		}
	}
}

func TestNear(t *testing.T) {
	for _, nu := range []int{1, 5, 19, 20, 21, 30, 100, 1000, 1_000_000} {
		if got, want := Near(nu), Student(Probability, float64(nu)); math.Abs(got-want) > 1e-4 {
			t.Errorf("%d degrees of freedom: %v, want %v", nu, got, want)
		}
	}
}
