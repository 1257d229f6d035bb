package calc

import (
	"math"
	"slices"
	"strings"
	"testing"

	"rambook/sheets"
)

// TestConstantAlone checks a notebook in which no operation comes from a given.
func TestConstantAlone(t *testing.T) {
	if got := checked(t, "x.csv", "name,entry,unit\nx,=2*3*mm,mm\n").find(t, "x").Value; got != 6 {
		t.Errorf("got %v, expected 6", got)
	}
}

// TestOutOfUnit checks values that float64 holds in SI and not in the unit of
// their row or column: they are errors, never infinite.
func TestOutOfUnit(t *testing.T) {
	const message = "the value is too large to hold in um"
	_, problems := compiled(t, "x.csv", "name,entry,unit\nx,1e305,m\ny,=x,um\n").Check(CheckOptions{})
	if len(problems) != 1 || problems[0].Message != message {
		t.Errorf("got %s", told(problems))
	}
	r := checked(t, "x.csv", "name,entry,unit\nx,1,m\ny,=x,um\n", "jobs.csv",
		"job,x,y\n:unit,m,um\nfine,2,\nlarge,1e305,\n")
	if len(r.Failures) != 1 || r.Failures[0].Message != "large: y: "+message {
		t.Errorf("got %s", told(r.Failures))
	}
	if v := r.Cases[0].Cases[1].Values[0]; v.Error != message || v.Verdict != Open || Has(v.Value) {
		t.Errorf("got %+v", v)
	}
	if v := r.Cases[0].Cases[0].Values[0]; v.Error != "" || v.Value != 2e6 {
		t.Errorf("the other case: got %+v", v)
	}
}

// TestNegativeSpread checks spreads that are computed and come out negative: a
// value never loses its doubt silently.
func TestNegativeSpread(t *testing.T) {
	const message = "a spread cannot be negative, and here it is"
	const model = "name,entry,unit,spread\nwear,1,mm,\ngap,5,mm,=2*mm - wear\nstroke,=2*gap,mm,\n"
	r := checked(t, "x.csv", model, "jobs.csv", "job,wear,stroke\n:unit,mm,mm\nnew,0.5,\nworn,3,\n")
	if got := r.find(t, "stroke").Spread; !near(got, 2, 1e-12) {
		t.Errorf("spread is %v, expected 2", got)
	}
	if len(r.Failures) != 1 || r.Failures[0].Message != "worn: stroke: "+message || r.Failures[0].Line != 3 {
		t.Errorf("got %s", told(r.Failures))
	}
	if v := r.Cases[0].Cases[0].Values[0]; v.Error != "" || !near(v.Spread, 3, 1e-12) {
		t.Errorf("the case that is fine: got %+v", v)
	}
	_, problems := compiled(t, "x.csv", strings.Replace(model, "wear,1", "wear,3", 1)).Check(CheckOptions{})
	if len(problems) != 1 || problems[0].Message != message {
		t.Errorf("got %s", told(problems))
	}
}

// TestCrossingLimits checks limits that leave no room: stated they are an
// error, computed they fail the value and are warned of.
func TestCrossingLimits(t *testing.T) {
	r := checked(t, "x.csv", "name,entry,unit,low,high\nneed,7,kN,,\nforce,5,kN,=need,6\n")
	warned := slices.ContainsFunc(r.Warnings, func(p sheets.Problem) bool {
		return p.Message == "low 7 kN is above high 6 kN, so no value passes" && p.Line == 3
	})
	if v := r.find(t, "force"); v.Verdict != Fail || !warned {
		t.Errorf("verdict %v, warnings %s", v.Verdict, told(r.Warnings))
	}
}

// TestSteep checks that a value whose spread cannot be told is warned of, and
// never passes.
func TestSteep(t *testing.T) {
	r := checked(t, "x.csv", "name,entry,unit,spread,high\nx,0,,0.5,\ny,=sqrt(x),,,0.1\n")
	if v := r.find(t, "y"); v.Verdict != Unsure || Has(v.Spread) || len(r.Warnings) != 1 || r.Warnings[0].Line != 3 {
		t.Errorf("verdict %v, spread %v, warnings %s", v.Verdict, v.Spread, told(r.Warnings))
	}
}

// TestUnderflow checks that what is too small for float64 becomes 0, as in
// IEEE 754, and that a cell which would be lost so is refused.
func TestUnderflow(t *testing.T) {
	if got := checked(t, "x.csv", "name,entry\nx,1e-200\ny,=x*x\n").find(t, "y").Value; got != 0 {
		t.Errorf("got %v, expected 0", got)
	}
	if got := checked(t, "x.csv", "name,entry,unit\nx,5e-324,m\n").find(t,
		"x").Value; got != math.SmallestNonzeroFloat64 {
		t.Errorf("got %v, expected the smallest number", got)
	}
	_, problems := Compile(files(t, "x.csv", "name,entry,unit\nx,1e-322,um\n"), Options{})
	if len(problems) != 1 || !strings.HasPrefix(problems[0].Message, "1e-322 is out of range") {
		t.Errorf("got %s", told(problems))
	}
}
