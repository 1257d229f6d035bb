package words

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestNearest(t *testing.T) {
	for _, test := range []struct {
		word, candidates, want string
	}{
		{"hgih", "low high note", "high"}, // two neighbours swapped
		{"Force", "force", "force"},
		{"settign", "setting settling", "setting"},
		{"pressure", "presure measure", "presure"},
		{"flow", "force slow", "slow"},
		{"load", "road lead stroke", "road"}, // of equals the first
		{"force", "reserve level", ""},
		{"ram", "rod", ""},
		{"x", "y", ""},
		{"", "a", ""},
		{"setting", "setting", ""},
		{"timed_pressing", "timed_approach", ""},
		{"timed_presing", "timed_pressing", "timed_pressing"},
	} {
		got, ok := Nearest(test.word, strings.Fields(test.candidates))
		if got != test.want || ok != (got != "") {
			t.Errorf("near %q of %s is %q, expected %q", test.word, test.candidates, got, test.want)
		}
	}
}

// The distances are those of the optimal string alignment; the textbook's
// example, from memory: CA and ABC are 3 apart, since no part is edited twice.
func TestSlips(t *testing.T) {
	for _, test := range []struct {
		a, b string
		most int
		want int
	}{
		{"CA", "ABC", 5, 3}, {"kitten", "sitting", 5, 3}, {"saturday", "sunday", 5, 3}, {"ab", "ba", 5, 1},
		{"kitten", "sitting", 2, 3}, {"", "abc", 5, 3}, {"", "abc", 1, 2}, {"Öl", "öl", 3, 1}, {"same", "same", 0, 0},
	} {
		for _, s := range [][2]string{{test.a, test.b}, {test.b, test.a}} {
			if got := Slips(s[0], s[1], test.most); got != test.want {
				t.Errorf("%q and %q are %d slips apart, expected %d", s[0], s[1], got, test.want)
			}
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
		a, b := test.a, test.b
		if got := OneSlip(a, b); got != test.want {
			t.Errorf("OneSlip(%q, %q) = %v", test.a, test.b, got)
		}
		if got := OneSlip(b, a); got != test.want {
			t.Errorf("OneSlip(%q, %q) = %v", test.b, test.a, got)
		}
	}
}

// Whatever single slip is made in a symbol, OneSlip sees it.
func TestOneSlipSeesEverySlip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := []rune(rapid.StringMatching(`[a-c]{3,6}`).Draw(t, "word"))
		i := rapid.IntRange(0, len(a)-1).Draw(t, "place")
		left, right := a[:i:i], a[i+1:]
		if b := append(left, right...); !OneSlip(string(a), string(b)) {
			t.Errorf("%q without a letter is not %q", string(a), string(b))
		}
		if b := append(append(left, 'x'), right...); !OneSlip(string(a), string(b)) {
			t.Errorf("%q with a wrong letter is not %q", string(a), string(b))
		}
		if i+1 < len(a) && a[i] != a[i+1] {
			b := append(append(left, a[i+1], a[i]), a[i+2:]...)
			if !OneSlip(string(a), string(b)) {
				t.Errorf("%q with two letters swapped is not %q", string(a), string(b))
			}
		}
	})
}
