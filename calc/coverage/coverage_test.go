package coverage

import "testing"

// TestFactor: those that are kept are the same as those that are not. Its digits
// are tested where the function student is.
func TestFactor(t *testing.T) {
	for nu := 1; nu < 40; nu++ {
		if Factor(nu) != Student(Probability, float64(nu)) {
			t.Errorf("the factor for %d degrees of freedom is not Student's", nu)
		}
	}
}
