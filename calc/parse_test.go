package calc

import "testing"

// TestParsedAgain compiles notebooks that share the texts of formulas and not what
// the names in them mean: a tree that is kept must be nobody's.
func TestParsedAgain(t *testing.T) {
	for _, test := range []struct {
		givens string
		want   float64
	}{
		{"name,entry,unit\nsize,2,mm\nother,3,mm\n", 36},
		{"name,entry,unit\nsize,5,mm\nother,7,mm\nmore,1,mm\n", 210},
		{"name,entry,unit\nmore,1,mm\nother,1,cm\nsize,4,mm\n", 240},
		{"name,entry,unit\nsize,2,mm\nother,3,mm\n", 36},
	} {
		m := compiled(t, "a.csv", test.givens, "x.csv", "name,entry,unit\n"+
			"x,\"let s = size; max(s*other, 0*mm^2)*6\",mm^2\nagain,\"let s = size; max(s*other, 0*mm^2)*6\",mm^2\n")
		r, problems := m.Check(CheckOptions{})
		if len(problems) > 0 {
			t.Fatal(told(problems))
		}
		for _, name := range []string{"x", "again"} {
			if got := r.Of(name).Value; got < test.want-1e-9 || got > test.want+1e-9 {
				t.Errorf("%s is %g, expected %g", name, got, test.want)
			}
		}
	}
}
