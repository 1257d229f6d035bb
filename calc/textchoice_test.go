package calc

import (
	"math"
	"strings"
	"testing"
)

// TestTextChosenByNumbers: numbers choose a text, and what is looked up by it. The
// choice may turn within their spread, and each cell keeps its own.
func TestTextChosenByNumbers(t *testing.T) {
	normal := func(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }
	const seals = "seal,drag,kind of\n:unit,kN,text\n:spread,0.1,\nlight,2,plain\nmid,4,plain\nlarge,8,lip\n"
	const rows = "name,entry,unit,spread,low,high\np,4.3,MPa,0.5,,\nbore,80,mm,,,\n" +
		"size,\"bore < 100*mm ? \"\"light\"\" : \"\"large\"\"\",text,,,\n" + // without a mark
		"grade,\"=p < 4.5*MPa ? size : \"\"mid\"\"\",text,,,\n" +
		"friction,seals[grade].drag,kN,,,3\n" +
		"once,\"seals[p < 4.5*MPa ? \"\"light\"\" : \"\"mid\"\"].drag\",kN,,,3\n" +
		"same,friction - once,kN,,-0.01,0.01\n" +
		"named,\"grade == \"\"light\"\" ? 1 : 9\",,,,3\n" +
		"kind,seals[grade].kind of,text,,,\n" +
		"sure,seals[size].drag,kN,,,3\n"
	r := checked(t, "a.csv", strings.Replace(strings.Replace(rows, "kind of", "kind_of", 1), "kind of", "kind_of", 1),
		"seals.csv", strings.Replace(seals, "kind of", "kind_of", 1),
		"jobs.csv", "job,p,bore,grade,friction\n:unit,MPa,mm,text,kN\nlow,3,,,\nhigh,7,,,\nwide,3,120,,\n")
	for _, name := range []string{"friction", "once", "named"} {
		if j := r.find(t, name); j.Verdict != Unsure || math.Abs(j.Inside-normal(0.8)) > 0.02 {
			t.Errorf("%s: %v, inside %v", name, j.Verdict, j.Inside)
		}
	}
	if j := r.find(t, "sure"); j.Verdict != Pass || !near(j.Spread, 0.1, 1e-12) {
		t.Errorf("sure: %v ± %v", j.Verdict, j.Spread)
	}
	if j := r.find(t, "same"); j.Verdict != Pass { // the cell is one input, whichever way it is found
		t.Errorf("same: %v, %v ± %v", j.Verdict, j.Value, j.Spread)
	}
	if j := r.find(t, "kind"); j.Text != "plain" {
		t.Errorf("a text looked up by a chosen one: %q", j.Text)
	}
	for i, want := range []struct {
		grade    string
		friction float64
		verdict  Verdict
	}{{"light", 2, Pass}, {"mid", 4, Fail}, {"large", 8, Fail}} {
		v := r.Cases[0].Cases[i].Values
		if v[0].Text != want.grade || v[1].Value != want.friction || v[1].Verdict != want.verdict ||
			!near(v[1].Spread, 0.1, 1e-12) {
			t.Errorf("%s: %q, %v ± %v, %v", r.Cases[0].Cases[i].Name, v[0].Text, v[1].Value, v[1].Spread, v[1].Verdict)
		}
	}
}

// TestTextChosenByUnknown: a text may hang on what is found, and so may what is
// looked up by it. x = 4·x - 3·k has the root k = 4, beyond 3, where "high" holds 4.
func TestTextChosenByUnknown(t *testing.T) {
	r := checked(t, "a.csv", "name,entry,unit\n"+
		"x,,\n"+
		"step,\"=x < 3 ? \"\"low\"\" : \"\"high\"\"\",text\n"+
		"k,steps[step].size,\n",
		"steps.csv", "step of,size\n:unit,\nlow,1\nhigh,4\n",
		"unknowns.csv", "unknown,from,to,unit,until,note\nx,3.1,9,,4*x - 3*k = x,\n")
	if x, step := r.find(t, "x"), r.find(t, "step"); !near(x.Value, 4, 1e-9) || step.Text != "high" {
		t.Errorf("x is %v, step %q", x.Value, step.Text)
	}
}

// TestMissingKeyOfAChoice: a text without a row is told where it is needed, in the
// row and in each case that comes to it, and nowhere else.
func TestMissingKeyOfAChoice(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry,unit\n"+
		"p,3,\n"+
		"kind,\"p < 5 ? \"\"known\"\" : \"\"other\"\"\",text\n"+
		"v,things[kind].size,\n",
		"things.csv", "thing,size\n:unit,\nknown,2\n", "jobs.csv", "job,p,v\n:unit,,\none,3,\ntwo,7,\n")
	r, _ := m.Check(CheckOptions{})
	if p := r.Failures; len(p) != 1 || !strings.Contains(p[0].Message, "two: v: sheet things has no row `other`") {
		t.Errorf("failures %s", told(p))
	}
	if c := r.Cases[0].Cases; c[0].Values[0].Value != 2 || c[1].Values[0].Error == "" {
		t.Errorf("cases %+v", c)
	}
}

// TestArmsOfTextAndNumber: both arms are texts, or none is.
func TestArmsOfTextAndNumber(t *testing.T) {
	for _, test := range []struct{ row, want string }{
		{"x,\"=p < 5 ? \"\"a\"\" : 3\",", "a number is needed here, not a text"},
		{"x,\"=p < 5 ? \"\"a\"\" : \"\"b\"\"\",", "a text is no result"},
		{"x,\"=p ? \"\"a\"\" : \"\"b\"\"\",text", "a condition is needed here"},
	} {
		_, problems := Compile(files(t, "a.csv", "name,entry,unit\np,3,\n"+test.row+"\n"), Options{})
		if len(problems) != 1 || !strings.Contains(problems[0].Message, test.want) {
			t.Errorf("%s: %s", test.row, told(problems))
		}
	}
	for _, text := range []string{"is it ? yes : no", "what? \"so\": he said", "a ? b"} { // remarks stay what they are
		m := compiled(t, "a.csv", "name,entry,unit\nx,\""+strings.ReplaceAll(text, `"`, `""`)+"\",text\n")
		r, _ := m.Check(CheckOptions{})
		if j := r.find(t, "x"); j.Text != text {
			t.Errorf("the text %q became %q", text, j.Text)
		}
	}
}
