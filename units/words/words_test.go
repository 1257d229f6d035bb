package words

import (
	"strings"
	"testing"
)

func TestCounted(t *testing.T) {
	for n, want := range map[int]string{0: "0 cases", 1: "1 case", 13: "13 cases"} {
		if got := Counted(n, "case"); got != want {
			t.Errorf("%d cases are %q, expected %q", n, got, want)
		}
	}
	for noun, want := range map[string]string{"quantity": "3 quantities", "more quantity": "3 more quantities",
		"day": "3 days"} {
		if got := Counted(3, noun); got != want {
			t.Errorf("3 of %s are %q, expected %q", noun, got, want)
		}
	}
}

func TestListed(t *testing.T) {
	for _, test := range []struct{ words, want string }{
		{"", ""},
		{"a", "a"},
		{"a b", "a and b"},
		{"a b c", "a, b and c"},
		{"a b c d", "a, b, c and d"}, // one more takes no more room than "1 more"
		{"a b c d e", "a, b, c and 2 more"},
	} {
		list := strings.Fields(test.words)
		if got := Listed(list, 3); got != test.want {
			t.Errorf("%q is listed as %q, expected %q", test.words, got, test.want)
		}
		if got := strings.Join(list, " "); got != test.words {
			t.Errorf("listing %q turns it into %q", test.words, got)
		}
	}
}
