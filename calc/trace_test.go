package calc

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// TestFailures gives formulas that have no result, and what is said about it.
func TestFailures(t *testing.T) {
	const more = base + "low_end,140,mm\nhigh_end,150,mm\nt_cold,12,degC\n"
	for _, test := range []struct{ formula, want string }{
		{"1/0", "2:5: division by zero"}, // which is seen without being told
		{"1/-0", "2:5: division by zero"},
		{"sqrt(-4)", "2:5: square root of a negative number"},
		{"sqrt(1 - 5)", "2:5: square root of a negative number (`1 - 5` is -4 here)"},
		{"1/zero", "2:5: division by zero (`zero` is 0 here)"},
		{"1/(ratio - 0.5)^2", "2:5: division by zero (`(ratio - 0.5)^2` is 0 here; ratio is 0.5)"},
		{"1/((ratio - 0.5)*(2 + ratio))", "2:5: division by zero (`(ratio - 0.5)*(2 + ratio)` is 0 here; " +
			"ratio is 0.5)"},
		{"1/(2*(ratio - 0.5))", "2:5: division by zero (`2*(ratio - 0.5)` is 0 here; ratio is 0.5)"},
		{"2/mean(ratio, -ratio)", "2:5: division by zero (`mean(ratio, -ratio)` is 0 here; ratio is 0.5)"},
		{"mean(ratio, ratio)/(ratio - ratio)", "2:5: division by zero (`ratio - ratio` is 0 here; ratio is 0.5)"},
		{"(ratio - 1)^1.5", "2:6: a negative number has no such power (`ratio - 1` is -0.5 here; ratio is 0.5)"},
		{"(-ratio)^ratio", "2:6: a negative number has no such power (`-ratio` is -0.5 here; ratio is 0.5)"},
		{"zero^-1*mm", "2:5: division by zero (`zero` is 0 here)"},
		{"zero^-2*mm^2", "2:5: 0 has no negative power (`zero` is 0 here)"},
		{"(zero/mm)^-ratio", "2:6: 0 has no negative power (`zero/mm` is 0 here; zero is 0)"},
		{"(-1e200)^2.5", "2:6: a negative number has no such power"},
		{"(1e200*ratio)^2", "2:6: the result is too large to hold (look for a unit that is missing or wrong)"},
		{"sqrt(ratio - 1)", "2:5: square root of a negative number (`ratio - 1` is -0.5 here; ratio is 0.5)"},
		{"atan2(ratio, 1) > 0*rad ? student(2, ratio) : 1",
			"2:31: student: the probability must lie between 0 and 1, as in student(0.95, 9), here it is 2"},
		{"sqrt(low_end - high_end)/mm^1.5", "2:5: square root of a negative number " +
			"(`low_end - high_end` is -0.01 m here; low_end is 140 mm and high_end is 150 mm)"},
		{"ln(low_end/mm - 150)", "2:5: logarithm of a number that is not above 0 " +
			"(`low_end/mm - 150` is -10 here; low_end is 140 mm)"},
		{"asin(high_end/low_end)/rad", "2:5: no angle has that sine: it must lie between -1 and 1 " +
			"(`high_end/low_end` is 1.07143 here; high_end is 150 mm and low_end is 140 mm)"},
		{"1/(t_cold - t_cold)*K/mm", "2:5: division by zero (`t_cold - t_cold` is 0 here; t_cold is 12 degC)"},
		{"ratio > 1 ? 5/mm : 1/zero", "2:24: division by zero (`zero` is 0 here)"},
		{"ratio < 1 ? 1/zero : 5/mm", "2:17: division by zero (`zero` is 0 here)"},
		{"ratio < 1 ? 5/mm : 1/zero", ""},
		{"1/zero > 2/mm ? 1 : 2", "2:5: division by zero (`zero` is 0 here)"},
		{"1/(nothing - nothing)", ""}, // open, and not in error
		{"1/zero + nothing/MPa/mm", "2:5: division by zero (`zero` is 0 here)"},
	} {
		m, problems := Compile(files(t, "base.csv", more, "x.csv", "name,entry,unit\nx,\"="+test.formula+"\",1/mm\n"),
			Options{})
		if m == nil { // the row's unit is beside the point
			m, problems = Compile(files(t, "base.csv", more, "x.csv", "name,entry,unit\nx,\"="+test.formula+"\",\n"),
				Options{})
		}
		if m == nil {
			m, problems = Compile(files(t, "base.csv", more, "x.csv",
				"name,entry,unit\nx,\"="+test.formula+"\",1/MPa\n"), Options{})
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

// TestPlacesOfLookups: a row that is missing is told at the look-up in the
// formula that is told about, though equal look-ups are one operation.
func TestPlacesOfLookups(t *testing.T) {
	const oils = "oil,thin,thick\n:unit,,\n:spread,%s,\nHM46,1,2\n"
	const model = "name,entry,unit,low\n" +
		"both,=last + twice,,\n" +
		"first,=2*oils[oil].thin,,\n" +
		"twice,=first + first,,\n" +
		"last,=oils[other].thin + oils[oil].thin,,\n" +
		"limited,1,,=0.1*oils[oil].thin\n" +
		"oil,%s,text,\n" +
		"other,HM46,text,\n"
	for _, spread := range []string{"", "0.1"} { // with a spread each key has an operation
		m := compiled(t, "oils.csv", fmt.Sprintf(oils, spread), "a.csv", fmt.Sprintf(model, "HM99"))
		_, problems := m.Check(CheckOptions{})
		var at []string
		for _, p := range problems {
			at = append(at, fmt.Sprintf("%d:%d", p.Line, p.Column))
			if p.Message != "sheet oils has no row `HM99`" {
				t.Errorf("unexpected: %v", p)
			}
		}
		if got, want := strings.Join(at, " "), "3:10 5:26 6:17"; got != want {
			t.Errorf("spread %q: told at %s, expected %s", spread, got, want)
		}
		m = compiled(t, "oils.csv", fmt.Sprintf(oils, spread), "a.csv", fmt.Sprintf(model, "HM46"))
		for show, want := range map[string]string{
			"first": "a.csv:3:10: oil = HM99: first: sheet oils has no row `HM99`",
			"twice": "a.csv:3:10: oil = HM99: twice: sheet oils has no row `HM99`",
			"last":  "a.csv:5:26: oil = HM99: last: sheet oils has no row `HM99`",
			"both":  "a.csv:5:26: oil = HM99: both: sheet oils has no row `HM99`",
		} {
			_, failures := swept(t, m, 1, []string{"oil = HM46,HM99"}, []string{show})
			if got := strings.TrimSpace(told(failures.First)); got != want {
				t.Errorf("spread %q: told\n%s\nexpected\n%s", spread, got, want)
			}
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

// TestUnion: what is new comes behind, nothing comes twice, and where nothing is new the
// list stays the one that it was.
func TestUnion(t *testing.T) {
	need := func(name string, line int32) Need { return Need{Name: name, Sheet: "s", File: "s.csv", Line: line} }
	a, b, c, other := need("a", 1), need("b", 2), need("c", 3), need("other", 2)
	for _, test := range []struct{ a, b, want []Need }{
		{nil, nil, nil},
		{nil, []Need{a}, []Need{a}},
		{[]Need{a}, nil, []Need{a}},
		{[]Need{b, a}, []Need{a, b}, []Need{b, a}},
		{[]Need{b, a}, []Need{c, a, other}, []Need{b, a, c, other}},
	} {
		got := union(test.a, test.b)
		if !slices.Equal(got, test.want) {
			t.Errorf("%v with %v: got %v, expected %v", test.a, test.b, got, test.want)
		}
		if len(test.a) > 0 && len(got) == len(test.a) && &got[0] != &test.a[0] {
			t.Errorf("%v with %v: made anew", test.a, test.b)
		}
		if len(got) > len(test.a) && len(test.a) > 0 && &got[0] == &test.a[0] {
			t.Errorf("%v with %v: written into the first list", test.a, test.b)
		}
	}
}

// TestJoin: what several operands lack is told of each row, and of each case anew.
func TestJoin(t *testing.T) {
	r := checked(t, "a.csv", "name,entry\na,\nb,\nc,\nk,4\np,=a+b\nq,=b+a\nr,=p+q\nz,=c+p+k\ny,=k+k\n",
		"cases.csv", "case,a,b,r,z\n:unit,,,,\nfirst,1,,,\nsecond,,2,,\nthird,1,2,,\nfourth,,,,\n")
	told := func(j *Judged) string {
		var names []string
		for _, n := range j.Needs {
			names = append(names, n.Name)
		}
		return strings.Join(names, " ")
	}
	for name, want := range map[string]string{"p": "a b", "q": "b a", "r": "a b", "z": "c a b", "y": ""} {
		if got := told(r.find(t, name)); got != want {
			t.Errorf("%s needs %q, expected %q", name, got, want)
		}
	}
	for _, test := range []struct{ name, r, s string }{
		{"first", "b", "c b"}, {"second", "a", "c a"}, {"third", "", "c"}, {"fourth", "a b", "c a b"},
	} {
		c := r.Case("cases", test.name)
		if got := [2]string{told(&c.Values[0]), told(&c.Values[1])}; got != [2]string{test.r, test.s} {
			t.Errorf("%s needs %q, expected %q and %q", test.name, got, test.r, test.s)
		}
	}
}
