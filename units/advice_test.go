package units

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Everything that a hint tells people to write must be readable.
func TestAdviceIsReadable(t *testing.T) {
	for _, a := range advice {
		if s, ok := index()[a.word]; ok && !s.column {
			t.Errorf("%s is a unit; advice on it is never given", a.word)
		}
		for i, part := range strings.Split(a.hint, "`") {
			if i%2 == 0 {
				continue
			}
			if _, err := Parse(part); err != nil {
				t.Errorf("advice on %s: %s", a.word, err)
			}
		}
	}
	tests := []struct{ word, hint string }{
		{"gpm", "write `usgal/min` or `impgal/min`"},
		{"GPM", "write `usgal/min` or `impgal/min`"},
		{"hours", "write `h`"},
		{"Inches", "write `inch`"},
		{"pounds", "write `lb`"},
		{"HP", "write `hp_mech` or `hp_metric`"},
		{"tons", "write `uston`, `ukton`, `tonne`, `ustonf`, `uktonf` or `tonnef`"},
		{"degC", "temperature scales are for unit columns and cells; formulas work in `K`"},
		{"setting", ""},
		{"", ""},
	}
	for _, test := range tests {
		if hint, ok := Advice(test.word); hint != test.hint || ok != (hint != "") {
			t.Errorf("Advice(%q) = %q, %v; want %q", test.word, hint, ok, test.hint)
		}
	}
}

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
