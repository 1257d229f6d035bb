package calc

import (
	"math"
	"strings"
	"testing"
)

// blankGauge lists one gauge of which nothing is stated, and one that is known.
const blankGauge = "gauge,class,span,step,spread\n:unit,,,,\nblank,,,,\nknown,1,40 MPa,,\n"

// An item is accepted where value ± U lies within the limits (JCGM 106:2012, 8.3.2, from
// memory): without U nothing can be accepted. Nor is E_n defined without U (ISO 13528, from memory).
func TestUnprovenReadings(t *testing.T) {
	for _, test := range []struct {
		name, row, quantity string
		want                Verdict
		unproven            string
	}{
		{"reading within", "y,x,MPa,21,,15,25,blank\n", "y", Unsure, "y"},
		{"reading on its limit", "y,x,MPa,25,,15,25,blank\n", "y", Unsure, "y"},
		{"reading beyond stays a fail", "y,x,MPa,26,,15,25,blank\n", "y", Fail, "y"},
		{"spread of its own", "y,x,MPa,21,1,15,25,blank\n", "y", Pass, ""},
		{"spread of 0 that is stated", "y,x,MPa,21,0,15,25,blank\n", "y", Pass, ""},
		{"known gauge", "y,x,MPa,21,,15,25,known\n", "y", Pass, ""},
		{"no gauge", "y,x,MPa,21,,15,25,\n", "y", Pass, ""},
		{"runs show the scatter and not the gauge", "y,x,MPa,runs 20 21 22,,15,25,blank\n", "y", Unsure, "y"},
		{"planned", "y,x,MPa,,,15,25,blank\n", "y", Pass, ""},
		{"without limits", "y,x,MPa,21,,,,blank\n", "y", NoVerdict, "y"},
		{"given", "y,21,MPa,,,15,25,blank\n", "y", Unsure, "y"},
		{"given beyond", "y,26,MPa,,,15,25,blank\n", "y", Fail, "y"},
		{"computed from it", "y,21,MPa,,,,,blank\nz,2*y,MPa,,,,50,\n", "z", Unsure, "y"},
		{"computed from its computed value", "y,x,MPa,21,,,,blank\nz,2*y,MPa,,,,50,\n", "z", Pass, ""},
		{"limit from it", "y,21,MPa,,,,,blank\nz,x,MPa,,,,y,\n", "z", Unsure, "y"},
		{"limit of a reading from it", "y,21,MPa,,,,,blank\nz,x,MPa,20.5,,,y,\n", "z", Unsure, "y"},
		{"arm of a choice that is taken", "y,21,MPa,,,,,blank\nz,x > 1*MPa ? y : x,MPa,,,,50,\n", "z", Unsure, "y"},
		{"arm that is not", "y,21,MPa,,,,,blank\nz,x < 1*MPa ? y : x,MPa,,,,50,\n", "z", Pass, ""},
		{"open", "w,,MPa,,,15,25,blank\n", "w", Open, ""},
		{"cells of a column", "y,,MPa,,,,,blank\nz,mean(list.y),MPa,,,,50,\n", "z", Unsure, "y"},
		{"cells with a spread of their own", "y,,MPa,,,,,blank\nz,mean(sure.y),MPa,,,,50,\n", "z", Pass, ""},
	} {
		for _, samples := range []int{0, 1000} {
			m := compiled(t, "p.csv", "name,entry,unit,reading,spread,low,high,with\nx,20,MPa,,0.1,,,\n"+test.row,
				"gauges.csv", blankGauge, "list.csv", "a,y\n:unit,MPa\n1,20\n2,21\n",
				"sure.csv", "a,y\n:unit,MPa\n:spread,1\n1,20\n2,21\n")
			r, problems := m.Check(CheckOptions{Samples: samples, Seed: 1})
			if len(problems) > 0 {
				t.Fatal(told(problems))
			}
			j := r.find(t, test.quantity)
			got := ""
			if j.Unproven != nil {
				got = j.Unproven.Name
			}
			if j.Verdict != test.want || got != test.unproven {
				t.Errorf("%s, %d samples: %s for %q, want %s for %q", test.name, samples, j.Verdict, got, test.want,
					test.unproven)
			}
			if got != "" && (Has(j.Inside) || Has(j.Agreement)) {
				t.Errorf("%s: inside %g, E_n %g, want neither", test.name, j.Inside, j.Agreement)
			}
		}
	}
}

// E_n of a sure reading against a value that rests on an unproven number proves nothing:
// the error that nobody has stated may be as large as any difference. The verdict is that
// of the reading, which is sure.
func TestUnprovenValues(t *testing.T) {
	for _, test := range []struct {
		name, row, unproven string
		agreement           float64 // NaN for none
	}{
		{"far from it", "y,2*p,MPa,45,,15,50,known\n", "p", math.NaN()},
		{"near it", "y,2*p,MPa,40.1,,15,50,known\n", "p", math.NaN()},
		{"equal", "y,2*p,MPa,40,,15,50,known\n", "p", math.NaN()},
		{"spread of its own", "y,2*p,MPa,45,1,15,50,\n", "p", math.NaN()},
		{"neither has a spread", "y,2*p,MPa,45,,15,50,\n", "p", math.NaN()},
		{"through another value", "a,2*p,MPa,,,,,\ny,a+1*MPa,MPa,45,1,15,50,\n", "p", math.NaN()},
		{"arm that is not taken", "y,x < 1*MPa ? p : 2*x,MPa,42,1,15,50,\n", "", 2},
		{"a sure value", "y,2*x,MPa,42,1,15,50,\n", "", 2},
		{"open value", "b,,MPa,,,,,\ny,b+p,MPa,42,1,15,50,\n", "", math.NaN()},
	} {
		r := checked(t, "p.csv", "name,entry,unit,reading,spread,low,high,with\nx,20,MPa,,,,,\np,20,MPa,,,,,blank\n"+
			test.row, "gauges.csv", blankGauge)
		j, got := r.find(t, "y"), ""
		if j.UnprovenValue != nil {
			got = j.UnprovenValue.Name
		}
		if got != test.unproven || Has(j.Agreement) != Has(test.agreement) ||
			Has(j.Agreement) && !near(j.Agreement, test.agreement, 1e-12) || j.Verdict != Pass || j.Unproven != nil {
			t.Errorf("%s: %s, E_n %g for %q, want E_n %g for %q", test.name, j.Verdict, j.Agreement, got,
				test.agreement, test.unproven)
		}
	}
}

// A diagnosis and a case take no such difference for a fault either.
func TestUnprovenDiagnosis(t *testing.T) {
	const rows = "name,entry,unit,reading,spread,with\np,20,MPa,,,blank\nbore,100,mm,,,\n" +
		"y,p*bore/(100*mm),MPa,25,1,\nz,bore*2,mm,200.5,1,\n"
	m := compiled(t, "p.csv", rows, "gauges.csv", blankGauge, "suspects.csv", "suspect,from,to,unit\nbore,90,130,mm\n",
		"visits.csv", "visit,p,y,z\n:unit,,,\na,21,25,200.5\n")
	names := func(list []Reason) (text string) {
		for _, r := range list {
			text += r.Quantity.Name + " " + r.Why
		}
		return text
	}
	const why = "y its computed value rests on p, which was read with blank, whose error is not known"
	d, problems := m.Diagnose(DiagnoseOptions{})
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	if got := names(d.LeftOut); got != why || d.Finding != NothingWrong {
		t.Errorf("left out %q, %s", got, d.Finding)
	}
	cases, problems := m.DiagnoseCases("visits")
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	if got := names(cases.LeftOut); got != why || len(cases.Cases[0].Found) > 0 {
		t.Errorf("cases: left out %q, found %v", got, cases.Cases[0].Found)
	}
}

// Cases are judged alike, with the spread that their column states.
func TestUnprovenCases(t *testing.T) {
	const rows = "name,entry,unit,reading,use,low,high,with\nx,20,MPa,,,,30,blank\n" +
		"y,2*x,MPa,,reading,,50,blank\nz,y+1*MPa,MPa,,,,60,\n"
	for _, test := range []struct{ name, sheet, want string }{
		{"readings", "visit,y\n:unit,MPa\na,40\nb,\n", "a unsure, b unsure"},
		{"readings with a spread", "visit,y\n:unit,MPa\n:spread,1\na,40\nb,60\n", "a pass, b fail"}, // x has no part in them
		{"givens", "visit,x,y\n:unit,,\na,20,\nb,30,\n", "a unsure, b fail"},
		{"givens and readings with spreads", "visit,x,y\n:unit,MPa,MPa\n:spread,1,1\na,20,40\nb,21,\n", "a pass, b pass"},
	} {
		r := checked(t, "p.csv", rows, "gauges.csv", blankGauge, "visits.csv", test.sheet)
		var got []string
		for _, c := range r.Cases[0].Cases {
			got = append(got, c.Name+" "+c.Verdict.String())
		}
		if text := strings.Join(got, ", "); text != test.want {
			t.Errorf("%s: %s, want %s", test.name, text, test.want)
		}
	}
}

// A gauge that no sheet lists is as unknown; where the sheet is set aside the rows are
// like those without a gauge.
func TestUnprovenWithoutGauges(t *testing.T) {
	const rows = "name,entry,unit,high,with\nx,20,MPa,30,blank\n"
	book := files(t, "p.csv", rows)
	if r := checked(t, "p.csv", rows); r.find(t, "x").Verdict != Unsure {
		t.Errorf("no sheet: %s, want unsure", r.find(t, "x").Verdict)
	}
	aside := files(t, "gauges.csv", blankGauge)
	book.Aside = aside.Sheets
	m, problems := Compile(book, Options{})
	if m == nil {
		t.Fatal(told(problems))
	}
	if r, _ := m.Check(CheckOptions{}); r.find(t, "x").Verdict != Pass {
		t.Errorf("set aside: %s, want pass", r.find(t, "x").Verdict)
	}
}
