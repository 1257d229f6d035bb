package units

import (
	"testing"

	"pgregory.net/rapid"
)

func TestOneSlip(t *testing.T) {
	tests := []struct {
		a, b string
		want bool
	}{
		{"usgal", "usgl", true},
		{"rpm", "rmp", true},
		{"rpm", "rpn", true},
		{"bar", "mbar", true},
		{"kPa", "kPas", true},
		{"lbf", "lfb", true},
		{"inHg", "inHg", false},
		{"inHg", "mmHg", false},
		{"psi", "ksix", false},
		{"abcd", "badc", false},
		{"", "a", true},
		{"", "", false},
	}
	for _, test := range tests {
		a, b := []rune(test.a), []rune(test.b)
		if got := oneSlip(a, b); got != test.want {
			t.Errorf("oneSlip(%q, %q) = %v", test.a, test.b, got)
		}
		if got := oneSlip(b, a); got != test.want {
			t.Errorf("oneSlip(%q, %q) = %v", test.b, test.a, got)
		}
	}
}

// Whatever single slip is made in a symbol, oneSlip sees it.
func TestOneSlipSeesEverySlip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := []rune(rapid.StringMatching(`[a-c]{3,6}`).Draw(t, "word"))
		i := rapid.IntRange(0, len(a)-1).Draw(t, "place")
		left, right := a[:i:i], a[i+1:]
		if b := append(left, right...); !oneSlip(a, b) {
			t.Errorf("%q without a letter is not %q", string(a), string(b))
		}
		if b := append(append(left, 'x'), right...); !oneSlip(a, b) {
			t.Errorf("%q with a wrong letter is not %q", string(a), string(b))
		}
		if i+1 < len(a) && a[i] != a[i+1] {
			b := append(append(left, a[i+1], a[i]), a[i+2:]...)
			if !oneSlip(a, b) {
				t.Errorf("%q with two letters swapped is not %q", string(a), string(b))
			}
		}
	})
}
