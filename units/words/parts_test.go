package words

import (
	"slices"
	"strings"
	"testing"
)

var partsTests = []struct {
	text string
	want []string
}{
	{"", nil},
	{"  ", nil},
	{"force", []string{"force"}},
	{"force,reserve", []string{"force", "reserve"}},
	{" force , reserve ", []string{"force", "reserve"}},
	{"max(a, b) in bar, c", []string{"max(a, b) in bar", "c"}},
	{"interp(m.p, m.q, max(a, b)),jobs[\"a, b\"].load", []string{"interp(m.p, m.q, max(a, b))", "jobs[\"a, b\"].load"}},
	{`"Ben, junior", Cleo`, []string{`"Ben, junior"`, "Cleo"}},
	{"O'Brien, D'Arcy", []string{"O'Brien", "D'Arcy"}}, // an apostrophe opens nothing
	{"a,,b", []string{"a", "", "b"}},
	{"a,", []string{"a", ""}},
	{"max(a, b", []string{"max(a, b"}},
	{"a), b", []string{"a)", "b"}},
	{"größe, höhe", []string{"größe", "höhe"}},
}

func TestParts(t *testing.T) {
	for _, test := range partsTests {
		if got := Parts(test.text); !slices.Equal(got, test.want) {
			t.Errorf("%q: %q, want %q", test.text, got, test.want)
		}
	}
	for text, want := range map[string]string{`"Ben, junior"`: "Ben, junior", `Ben "jr"`: `Ben "jr"`,
		`"a" + "b"`: `"a" + "b"`,
		`"`:         `"`, `""`: "", "Ben": "Ben"} {
		if got := Unquoted(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}

// FuzzParts holds that nothing but blanks is lost, and that parts put together again
// are parted alike.
func FuzzParts(f *testing.F) {
	for _, test := range partsTests {
		f.Add(test.text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		parts := Parts(text)
		bare := func(text string) string { return strings.Join(strings.Fields(text), "") }
		if joined := strings.Join(parts, ","); bare(joined) != bare(text) {
			t.Errorf("%q: parts %q", text, parts)
		} else if again := Parts(joined); len(parts) > 0 && joined != "" && !slices.Equal(again, parts) {
			t.Errorf("%q: parts %q, again %q", text, parts, again)
		}
	})
}
