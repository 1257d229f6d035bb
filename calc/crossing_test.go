package calc

import (
	"math"
	"testing"
)

// TestCrossedSpread holds the mean over all cases of another sheet, and its spread,
// to closed forms: what all cases share is added up before it is squared (JCGM 100,
// 5.2.2), so that a factor of all of them does not average out.
func TestCrossedSpread(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry,spread,high\nfactor,2,0.2,\nsize,1,,\nload,1,,\nheat,factor*size*load,,100\n",
		"b.csv", "pump,size,heat\n:unit,,\none,1,\ntwo,2,\n", "c.csv",
		"duty,load,share\n:unit,,\nlight,1,1\nheavy,3,3\n")
	sheet, problems := m.Cross("b", "c")
	if sheet == nil {
		t.Fatal(told(problems))
	}
	book := *m.Book
	book.Sheets = append(book.Sheets[:len(book.Sheets):len(book.Sheets)], sheet)
	wider, problems := Compile(&book, Options{})
	if wider == nil {
		t.Fatal(told(problems))
	}
	for _, test := range []struct {
		weight        string
		value, spread float64 // of pump one; those of pump two are twice as large
	}{
		{"", 4, 0.4},
		{"share", 2 * (1*1 + 3*3) / 4.0, 0.2 * (1*1 + 3*3) / 4.0},
	} {
		x, problems := wider.CompareCrossed("b", "c", test.weight, CompareOptions{})
		if x == nil {
			t.Fatal(told(problems))
		}
		for i, total := range x.Overall {
			times := float64(total.Case + 1)
			if math.Abs(total.Value-times*test.value) > 1e-12 || math.Abs(total.Spread-times*test.spread) > 1e-12 {
				t.Errorf("weighed by %q, %s: %g ± %g, expected %g ± %g", test.weight,
					x.First.Cases[total.Case].Name.Text,
					total.Value, total.Spread, times*test.value, times*test.spread)
			}
			if total.Rank != i+1 || x.Best[0] != 0 || x.Best[1] != 0 {
				t.Errorf("ranks %+v, best %v", x.Overall, x.Best)
			}
		}
	}
}
