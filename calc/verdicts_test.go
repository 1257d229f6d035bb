package calc

import (
	"math"
	"strings"
	"testing"

	"rambook/sheets"
	"rambook/units"
)

// TestVerdictAcrossCorner: where the spread reaches over a branch or a corner
// and the other side would be judged otherwise, the verdict is unsure, with how
// likely it is; where it would not, nothing is said.
func TestVerdictAcrossCorner(t *testing.T) {
	normal := func(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }
	for _, test := range []struct {
		name, rows string
		of         string // the quantity that is judged
		verdict    Verdict
		inside     float64 // closed form; NaN for any
		warnings   int
	}{
		{"a branch that flips", "p,4.3,,0.5,,\nunload,4.5,,0.3,,\ny,\"=p < unload ? 10 : 16\",,,,12\n",
			"y", Unsure, normal(0.2 / math.Hypot(0.25, 0.15)), 1},
		{"and fails on the likely side", "p,4.7,,0.5,,\nunload,4.5,,0.3,,\ny,\"=p < unload ? 10 : 16\",,,,12\n",
			"y", Unsure, 1 - normal(0.2/math.Hypot(0.25, 0.15)), 1},
		{"both sides pass", "p,4.3,,0.5,,\nunload,4.5,,0.3,,\ny,\"=p < unload ? 10 : 16\",,,,18\n", "y", Pass,
			math.NaN(), 0},
		{"a branch out of reach", "p,4.3,,0.1,,\ny,\"=p < 4.5 ? 10 : 16\",,,,12\n", "y", Pass, math.NaN(), 0},
		{"max", "p,3,,2,,\ny,\"=max(p, 4)\",,,,4.5\n", "y", Unsure, normal(1.5), 1},
		{"max within the limit", "p,3,,2,,\ny,\"=max(p, 4)\",,,,7\n", "y", Pass, math.NaN(), 0},
		{"min", "p,5,,2,,\ny,\"=min(p, 4)\",,,3.5,\n", "y", Unsure, normal(1.5), 1},
		{"abs", "p,0,,2,,\ny,=abs(p),,,,1.5\n", "y", Unsure, 2*normal(1.5) - 1, 1},
		{"floor", "p,2.95,,0.2,,\ny,=floor(p),,,,2\n", "y", Unsure, normal(0.5), 1},
		{"round", "p,2.45,,0.2,,\ny,=round(p),,,,2\n", "y", Unsure, normal(0.5), 1},
		{"equality", "p,3,,0.2,,\ny,=p == 3 ? 1 : 9,,,,2\n", "y", Unsure, 0, 1},
		{"a limit that flips", "p,4.3,,0.5,,\ny,10,,,,=p < 4.5 ? 12 : 8\n", "y", Unsure, normal(0.8), 0},
		{"the top of a hill", "p,1,,0.4,,\ny,=p*(2 - p),,,0.95,\n", "y", Unsure, 2*normal(math.Sqrt(0.05)/0.2) - 1, 1},
		{"the root of nothing", "p,0.1,,0.2,,\ny,=sqrt(p) + 5,,,4,\n", "y", Unsure, normal(1), 1},
	} {
		r := checked(t, "a.csv", "name,entry,unit,spread,low,high\n"+test.rows)
		j := r.find(t, test.of)
		if j.Verdict != test.verdict || Has(test.inside) && math.Abs(j.Inside-test.inside) > 0.02 {
			t.Errorf("%s: %v, inside %.3f; expected %v, %.3f", test.name, j.Verdict, j.Inside, test.verdict,
				test.inside)
		}
		if got := len(r.Warnings); got != test.warnings && test.name != "a limit that flips" {
			t.Errorf("%s: %d warnings, expected %d: %s", test.name, got, test.warnings, told(r.Warnings))
		}
	}
}

// TestVerdictAcrossCurve: the next piece of a curve may be judged otherwise.
func TestVerdictAcrossCurve(t *testing.T) {
	r := checked(t, "a.csv", "name,entry,unit,spread,low,high\n"+
		"x,0.9,,0.4,,\n"+
		"y,\"=interp(curve.cx, curve.cy, x)\",,,,12\n",
		"curve.csv", "point,cx,cy\n:unit,,\n1,0,10\n2,1,10\n3,2,40\n")
	j := r.find(t, "y")
	if j.Verdict != Unsure || len(r.Warnings) != 1 || math.Abs(j.Inside-0.798) > 0.02 { // beyond 1 + 2/30
		t.Errorf("%v, inside %v, %s", j.Verdict, j.Inside, told(r.Warnings))
	}
}

// TestCaseAcrossCorner judges a case as the model.
func TestCaseAcrossCorner(t *testing.T) {
	r := checked(t, "a.csv", "name,entry,unit,spread,low,high\np,4.3,,0.5,,\nk,1,,,,\ny,=p < 4.5 ? 10*k : 16*k,,,,12\n",
		"jobs.csv", "job,p,y\n:unit,,\nlow,3,\nnear,4.4,\nfar,6,\n")
	for i, want := range []Verdict{Pass, Unsure, Fail} {
		c := r.Cases[0].Cases[i]
		if c.Verdict != want || c.Values[0].Verdict != want {
			t.Errorf("%s: %v, expected %v", c.Name, c.Verdict, want)
		}
	}
	if got := told(r.Warnings); len(r.Warnings) != 2 || !strings.Contains(got, "near: y: ") {
		t.Errorf("warnings %s", got)
	}
}

// TestSampledVerdict: with sampling, verdict and probability are those of the samples.
func TestSampledVerdict(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry,unit,spread,low,high\n"+
		"p,4.3,,0.5,,\n"+
		"unload,4.5,,0.3,,\n"+
		"y,\"=p < unload ? 10 : 16\",,,,12\n"+
		"square,=(p - 4.3)^2,,,,0.05\n"+
		"line,=2*p,,,,9.8\n",
		"jobs.csv", "job,p,y,line\n:unit,,,\nlow,3,,\nnear,4.4,,\n")
	r, _ := m.Check(CheckOptions{Samples: 100000, Seed: 1})
	for _, test := range []struct {
		name    string
		verdict Verdict
		inside  float64
	}{{"y", Unsure, 0.7536}, {"square", Unsure, 0.6289}, {"line", Unsure, 0.9918 - 0.0000}} {
		j := r.find(t, test.name)
		if math.Abs(j.Inside-test.inside) > 0.005 {
			t.Errorf("%s: %v, inside %v, expected %v", test.name, j.Verdict, j.Inside, test.inside)
		}
	}
	if v := r.Cases[0].Cases[1].Values[0]; v.Verdict != Unsure || math.Abs(v.Inside-0.634) > 0.01 { // Φ(0.1/0.29)
		t.Errorf("near: %v %v", v.Verdict, v.Inside)
	}
}

// TestFailsBeyondKnownLimit: beyond one limit a value fails, though the other
// limit is open; within it nothing is known.
func TestFailsBeyondKnownLimit(t *testing.T) {
	r := checked(t, "a.csv", "name,entry,unit,reading,spread,low,high\n"+
		"open,,,,,,\n"+
		"x,5,,,0.1,=open,4\n"+
		"z,5,,,0.1,6,=open\n"+
		"f,=5*1,,5,0.1,=open,4\n"+
		"w,5,,,0.1,=open,9\n"+
		"b,5,,,=open,=open,4\n")
	for name, want := range map[string]Verdict{"x": Fail, "z": Fail, "f": Fail, "w": Open, "b": Open} {
		if got := r.find(t, name); got.Verdict != want || len(got.Needs) != 1 {
			t.Errorf("%s: %v, expected %v; needs %v", name, got.Verdict, want, got.Needs)
		}
	}
}

// TestOneBadValue: an error of evaluation stays at its row, what needs it is
// open with that reason, and the rest is computed; in the cases too.
func TestOneBadValue(t *testing.T) {
	m := compiled(t, "valves.csv", "name,entry,unit,low,high\n"+
		"bore,10,mm,,\n"+
		"drop,-2,MPa,,\n"+
		"valve_speed,=sqrt(drop/(870*kg/m^3)),m/s,,9\n"+
		"valve_flow,=valve_speed*bore^2,L/min,,9\n",
		"force.csv", "name,entry,unit,low,high\n"+
			"pressure,20,MPa,,\n"+
			"force,=pressure*bore^2,kN,1,\n"+
			"needs_flow,=2*valve_flow,L/min,,\n",
		"jobs.csv", "job,pressure,force,valve_flow\n:unit,MPa,kN,L/min\none,10,,\ntwo,30,,\n")
	r, problems := m.Check(CheckOptions{})
	if len(problems) != 1 || len(r.Failures) != 1 || r.Failures[0].File != "valves.csv" || r.Failures[0].Line != 4 {
		t.Errorf("problems %s, failures %s", told(problems), told(r.Failures))
	}
	if j := r.find(t, "valve_speed"); j.Error != "square root of a negative number" || j.Verdict != Open ||
		Has(j.Value) {
		t.Errorf("the row itself: %+v", j)
	}
	for _, name := range []string{"valve_flow", "needs_flow"} {
		if j := r.find(t, name); j.Error != "" || j.Verdict != Open || len(j.Needs) != 1 ||
			j.Needs[0].Name != "valve_speed" || !j.Needs[0].Fails {
			t.Errorf("%s: %v, error %q, needs %v", name, j.Verdict, j.Error, j.Needs)
		}
	}
	if j := r.find(t, "force"); !near(j.Value, 2, 1e-12) || j.Verdict != Pass {
		t.Errorf("the rest: %+v", j)
	}
	for i, want := range []float64{1, 3} {
		c := r.Cases[0].Cases[i]
		if v := c.Values[0]; !near(v.Value, want, 1e-12) || c.Values[1].Verdict != Open ||
			c.Values[1].Needs[0].Name != "valve_speed" {
			t.Errorf("case %d: %+v", i, c.Values)
		}
	}
	r.Narrow([]*sheets.Sheet{m.Book.Sheet("force")})
	if len(r.Failures) != 1 { // needs_flow waits for it
		t.Errorf("with the sheet that needs it: %s", told(r.Failures))
	}
}

// TestCaseByAllLimits: a limit that no column lists judges a case where it
// depends on what the case changes, and is among the case's values if it does
// not pass; a limit that it does not change has no part, nor has what is open.
func TestCaseByAllLimits(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry,unit,low,high\n"+
		"pressure,20,MPa,,25\n"+
		"bore,100,mm,,\n"+
		"force,=pressure*bore^2,kN,100,\n"+
		"hose,=1.2*pressure,MPa,,28\n"+
		"other,=2*bore,mm,,100\n"+
		"rating,,MPa,,\n"+
		"seal,=pressure,MPa,,=rating\n",
		"jobs.csv", "job,pressure,force\n:unit,MPa,kN\nfine,20,\nhose fails,24,\n")
	r, _ := m.Check(CheckOptions{})
	result := r.Cases[0]
	for i, want := range []string{"pass", "fail"} {
		if got := result.Cases[i].Verdict.String(); got != want {
			t.Errorf("%s: %s, expected %s", result.Cases[i].Name, got, want)
		}
	}
	if v := result.Cases[1].Values; len(v) != 3 || v[2].Quantity.Name != "hose" || v[2].Verdict != Fail {
		t.Errorf("the failing limit is not named: %+v", v)
	}
	if len(result.Unjudged) != 1 || result.Unjudged[0].Name != "seal" {
		t.Errorf("unjudged: %v", result.Unjudged)
	}
	c, problems := m.Compare("jobs", CompareOptions{})
	if c == nil {
		t.Fatal(told(problems))
	}
	if c.Rows[0].Name != "fine" || c.Rows[1].Verdict != Fail || c.Rows[1].Rank != 0 {
		t.Errorf("compared: %s first, the other is %v with rank %d", c.Rows[0].Name, c.Rows[1].Verdict, c.Rows[1].Rank)
	}
	s, problems := m.Sweep([]string{"pressure = 20, 24 MPa"}, []string{"force"})
	if s == nil {
		t.Fatal(told(problems))
	}
	swept, _ := s.Judge([]int{0, 1})
	if swept.Cases[0].Verdict != Pass || swept.Cases[1].Verdict != Fail {
		t.Errorf("swept: %v and %v", swept.Cases[0].Verdict, swept.Cases[1].Verdict)
	}
}

// TestDoubtOfAFormula: the model's own ± is one more independent input: it is in
// the spread of the row and of all that follows, once, in samples and in shares.
func TestDoubtOfAFormula(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry,unit,reading,spread,doubt,high\n"+
		"a,10,mm,,0.6,,\n"+
		"empirical,=2*a,mm,21,0.3,1.6,30\n"+
		"twice,=2*empirical,mm,,,,44.1\n"+
		"zero,=empirical - empirical,mm,,,,\n"+
		"percent,=a,mm,,,8 %,\n"+
		"worse,=a,mm,,,=0.08*a,\n",
		"jobs.csv", "job,a,empirical\n:unit,mm,mm\none,20,\n")
	r, problems := m.Check(CheckOptions{})
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	for name, want := range map[string]float64{"empirical": 2, "twice": 4, "zero": 0, "percent": 1, "worse": 1} {
		if got := r.find(t, name).Spread; math.Abs(got-want) > 1e-12 && !(want == 0 && !Has(got)) {
			t.Errorf("the spread of %s is %v, expected %v", name, got, want)
		}
	}
	if j := r.find(t, "empirical"); !near(j.Agreement, 1/math.Hypot(2, 0.3), 1e-12) || j.Value != 20 {
		t.Errorf("E_n is %v", j.Agreement)
	}
	if c := r.Cases[0].Cases[0].Values[0]; !near(c.Spread, 2, 1e-12) {
		t.Errorf("in a case ± %v", c.Spread)
	}
	d, _ := m.Explain("twice", func(v float64, u units.Unit, typed bool) string { return u.Symbol })
	if len(d.Shares) != 2 || d.Shares[0].Name != "empirical.doubt" || !near(d.Shares[0].Share, 0.64, 1e-9) ||
		!near(d.Shares[0].Spread, 1.6, 1e-12) {
		t.Errorf("shares %+v", d.Shares)
	}
	r, _ = m.Check(CheckOptions{Samples: 100000, Seed: 1})
	if j := r.find(t, "twice"); math.Abs((j.SampledHigh-j.SampledLow)/2-4) > 0.05 {
		t.Errorf("sampled %v to %v", j.SampledLow, j.SampledHigh)
	}
	if _, problems := Compile(files(t, "a.csv", "name,entry,doubt\na,10,1\n"), Options{}); len(problems) != 1 ||
		!strings.Contains(problems[0].Message, "the column doubt is for formulas") {
		t.Errorf("a given with a doubt: %s", told(problems))
	}
}

// TestNoSpreadOfRounding: what is computed twice and subtracted has no spread but
// rounding, which is none; what differs by ever so little has one.
func TestNoSpreadOfRounding(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry,unit,spread\na,5.3,L/min,0.7\nnothing,=a*0.7 + a*0.3 - a,L/min,\n"+
		"twin,=3*a - 3*a*(1+1e-9),L/min,\n", "jobs.csv", "job,a,nothing\n:unit,L/min,L/min\none,5.1,\n")
	r, _ := m.Check(CheckOptions{})
	if got := r.find(t, "nothing").Spread; Has(got) && got != 0 {
		t.Errorf("the spread of nothing is %v", got)
	}
	if got := r.Cases[0].Cases[0].Values[0].Spread; Has(got) && got != 0 {
		t.Errorf("the spread of nothing in a case is %v", got)
	}
	if got := r.find(t, "twin").Spread; !near(got, 2.1e-9, 1e-6) {
		t.Errorf("the spread of the twin is %v", got)
	}
}
