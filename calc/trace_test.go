package calc

import (
	"strings"
	"testing"
)

// TestFailures gives formulas that have no result, and what is said about it.
func TestFailures(t *testing.T) {
	for _, test := range []struct{ formula, want string }{
		{"1/zero", "2:5: division by zero (`zero` is 0 here)"},
		{"1/(ratio - 0.5)^2", "2:5: division by zero (`(ratio - 0.5)^2` is 0 here)"},
		{"1/((ratio - 0.5)*(2 + ratio))", "2:5: division by zero (`(ratio - 0.5)*(2 + ratio)` is 0 here)"},
		{"1/(2*(ratio - 0.5))", "2:5: division by zero (`2*(ratio - 0.5)` is 0 here)"},
		{"2/mean(ratio, -ratio)", "2:5: division by zero (`mean(ratio, -ratio)` is 0 here)"},
		{"mean(ratio, ratio)/(ratio - ratio)", "2:5: division by zero (`ratio - ratio` is 0 here)"},
		{"(ratio - 1)^1.5", "2:6: a negative number has no such power (`ratio - 1` is negative here)"},
		{"(-ratio)^ratio", "2:6: a negative number has no such power (`-ratio` is negative here)"},
		{"zero^-1*mm", "2:5: division by zero (`zero` is 0 here)"},
		{"zero^-2*mm^2", "2:5: 0 has no negative power (`zero` is 0 here)"},
		{"(zero/mm)^-ratio", "2:6: 0 has no negative power (`zero/mm` is 0 here)"},
		{"(-1e200)^2.5", "2:6: a negative number has no such power (`-1e200` is negative here)"},
		{"(1e200*ratio)^2", "2:6: the result is too large to hold (look for a unit that is missing or wrong)"},
		{"sqrt(ratio - 1)", "2:5: square root of a negative number"},
		{"atan2(ratio, 1) > 0*rad ? student(2, ratio) : 1", "2:31: student: the probability must lie between 0 and 1, as in student(0.95, 9), here it is 2"},
		{"ratio > 1 ? 5/mm : 1/zero", "2:24: division by zero (`zero` is 0 here)"},
		{"ratio < 1 ? 1/zero : 5/mm", "2:17: division by zero (`zero` is 0 here)"},
		{"ratio < 1 ? 5/mm : 1/zero", ""},
		{"1/zero > 2/mm ? 1 : 2", "2:5: division by zero (`zero` is 0 here)"},
		{"1/(nothing - nothing)", ""}, // open, and not in error
		{"1/zero + nothing/MPa/mm", "2:5: division by zero (`zero` is 0 here)"},
	} {
		m, problems := Compile(files(t, "base.csv", base, "x.csv", "name,entry,unit\nx,\"="+test.formula+"\",1/mm\n"), Options{})
		if m == nil { // the row's unit is beside the point
			m, problems = Compile(files(t, "base.csv", base, "x.csv", "name,entry,unit\nx,\"="+test.formula+"\",\n"), Options{})
		}
		if m == nil {
			m, problems = Compile(files(t, "base.csv", base, "x.csv", "name,entry,unit\nx,\"="+test.formula+"\",1/MPa\n"), Options{})
		}
		if m != nil {
			_, problems = m.Check(CheckOptions{})
		}
		want := test.want
		if want != "" {
			want = "x.csv:" + want
		}
		if got := withHints(problems); got != want {
			t.Errorf("%s: got\n%s\nexpected\n%s", test.formula, got, want)
		}
	}
}

// TestNeedsOnce: what is open is named once, in the order in which a formula
// meets it, whichever ways lead to it.
func TestNeedsOnce(t *testing.T) {
	r := checked(t, "a.csv", "name,entry\no1,\no2,\no3,\nleft,=o1 + o2\nright,=o2 + o3\nboth,=left + right + left\n")
	var names []string
	for _, n := range r.find(t, "both").Needs {
		names = append(names, n.Name)
	}
	if got, want := strings.Join(names, " "), "o1 o2 o3"; got != want {
		t.Errorf("both needs %s, expected %s", got, want)
	}
}
