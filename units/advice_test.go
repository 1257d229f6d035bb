package units

import (
	"strings"
	"testing"
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
