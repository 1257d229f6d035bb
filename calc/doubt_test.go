package calc

import (
	"strings"
	"testing"
)

// TestOpenDoubt keeps a value open while its spread is, and says what it
// waits for; a value whose doubt has no bound is unsure.
func TestOpenDoubt(t *testing.T) {
	r := checked(t, "a.csv", `name,entry,unit,reading,spread,low,high
wear,,,,,,
x,5,,,=0.1*wear,4.9,
y,=2*x,,,,,9.9
read,=3*5,,15,=wear,10,
steep,=sqrt(nought),,,,,1
nought,0,,,0.1,,
`, "jobs.csv", "job,wear,y\n:unit,,\nnone,,\nsome,0.02,\n")
	for _, test := range []struct {
		name, needs string
		verdict     Verdict
	}{{"x", "wear", Open}, {"y", "wear", Open}, {"read", "wear", Open}, {"steep", "", Unsure}} {
		j := r.find(t, test.name)
		needs := ""
		for _, n := range j.Needs {
			needs += n.Name
		}
		if j.Verdict != test.verdict || needs != test.needs || Has(j.Spread) || Has(j.Inside) && test.name != "steep" {
			t.Errorf("%s: %v, needs %q, spread %v, inside %v; expected %v, needs %q", test.name, j.Verdict, needs,
				j.Spread, j.Inside, test.verdict, test.needs)
		}
	}
	for i, want := range []Verdict{Open, Fail} {
		if got := r.Cases[0].Cases[i].Values[0].Verdict; got != want {
			t.Errorf("case %d: %v, expected %v", i, got, want)
		}
	}
}

// TestFailingSpreadInCase tells an error of a spread in the case that has it.
func TestFailingSpreadInCase(t *testing.T) {
	r := checked(t, "a.csv", "name,entry,unit,spread,high\nx,1,,=0.1/x,\ny,=2*x,,,9\n", "jobs.csv",
		"job,x,y\n:unit,,\nfine,2,\nzero,0,\n")
	v := r.Cases[0].Cases[1].Values[0]
	if v.Verdict != Open || v.Error != "division by zero" || len(r.Failures) != 1 ||
		!strings.HasPrefix(r.Failures[0].Message, "zero: y: ") {
		t.Errorf("got %v %q, failures %s", v.Verdict, v.Error, told(r.Failures))
	}
	if v := r.Cases[0].Cases[0].Values[0]; v.Verdict != Pass || !near(v.Spread, 0.1, 1e-12) {
		t.Errorf("the other case: %+v", v)
	}
}

// TestGivenBeyondItsLimits judges the givens that a case replaces, by the
// model's limits and by those of the sheet.
func TestGivenBeyondItsLimits(t *testing.T) {
	r := checked(t, "a.csv", "name,entry,unit,spread,low,high\n"+
		"setting,10,MPa,1 %,5,25\n"+
		"stroke,3,mm,,,\n"+
		"force,=setting*1*cm2*stroke/mm,kN,,,\n",
		"jobs.csv", "job,setting,stroke,force\n:unit,MPa,mm,kN\n:high,,9,\nfine,,,\nhigh,200,4,\nlong,20,12,\n")
	for i, want := range []string{"pass", "fail", "fail"} {
		if got := r.Cases[0].Cases[i].Verdict.String(); got != want {
			t.Errorf("case %d: %s, expected %s", i, got, want)
		}
	}
	var names []string
	for _, q := range r.Cases[0].Asked {
		names = append(names, q.Name)
	}
	if got := strings.Join(names, " "); got != "force setting stroke" {
		t.Errorf("judged are %s", got)
	}
}

// TestPointForDifference refuses a temperature point where the row holds a difference.
func TestPointForDifference(t *testing.T) {
	_, problems := Compile(files(t, "a.csv", "name,entry,unit,reading\n"+
		"t1,50,degC,\n"+
		"t2,10,degC,\n"+
		"y,=t1 - t2,K,40 degC\n"+
		"z,=t1,K,50 degC\n"), Options{})
	if got, want := told(problems), "a.csv:4:14: 40 degC is a temperature point, but y is a temperature "+
		"difference\n"; got != want {
		t.Errorf("got %q, expected %q", got, want)
	}
}

// TestTooSmall warns of a product that is too small to hold.
func TestTooSmall(t *testing.T) {
	r := checked(t, "a.csv", "name,entry\ntiny,=1e-200*1e-200\nsmall,1e-300\nless,=small/1e300\nnought,=0*small\n")
	if got := told(r.Warnings); strings.Count(got, "too small to hold") != 2 || !strings.HasPrefix(got, "a.csv:2:") {
		t.Errorf("got %s", got)
	}
}

// TestRenameSpares refuses a name that a let in a formula would capture.
func TestRenameSpares(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry\npp,5\nff,=let k = 2; k*pp\ngg,=pp + 1\n")
	if edits, problems := m.Rename("pp", "k"); edits != nil || len(problems) != 1 || problems[0].Line != 3 {
		t.Errorf("got %v %s", edits, told(problems))
	}
	edits, problems := m.Rename("pp", "pressing")
	if len(edits) != 3 || edits[1].Text != "=let k = 2; k*pressing" || edits[2].Text != "=pressing + 1" {
		t.Errorf("got %+v %s", edits, told(problems))
	}
}

// TestNearMissUnits: a header is a slip only if its unit is one that the
// quantity can be in, and the next of a numbered row of names is none.
func TestNearMissUnits(t *testing.T) {
	const model = "name,entry,unit\n" +
		"rate,10,mm/s\n" +
		"gap_2,3,mm\n" +
		"load_A,5,kN\n" +
		"Nr1B,6,kN\n" +
		"start,2026-05-04,date\n" +
		"grade,S235,text\n" +
		"share,0.5,\n" +
		"wait,3,s\n" +
		"twice,=2*rate,mm/s\n"
	for _, test := range []struct {
		header, unit string
		slip         bool
	}{
		{"date", "date", false},
		{"date", "mm/s", true},
		{"date", "m/min", true},
		{"date", "", true},
		{"RATE", "mm", false},
		{"RATE", "", true},
		{"gap_3", "mm", false},
		{"gap_3", "", false},
		{"gap_22", "mm", true},
		{"gab_2", "mm", true},
		{"gap_x", "mm", true},
		{"load_B", "kN", false},
		{"load_b", "kN", true}, // a small letter is no number
		{"lOad_A", "kN", true},
		{"Nr2B", "kN", false},
		{"Nr1C", "kN", false},
		{"Nx1B", "kN", true},
		{"stary", "date", true},
		{"stary", "s", false},
		{"wai", "date", false},
		{"wai", "min", true},
		{"grad", "text", true},
		{"grad", "mm", false},
		{"shar", "text", false},
		{"shar", "%", true},
	} {
		m := compiled(t, "a.csv", model, "visits.csv", "visit,"+test.header+",twice\n:unit,"+test.unit+",\na,,\n")
		if got := told(m.Warnings); strings.Contains(got, "taken for data") != test.slip {
			t.Errorf("%s in %q: a slip? expected %v: %s", test.header, test.unit, test.slip, got)
		}
	}
}

// TestNearMissColumns warns of the slips that a header is prone to.
func TestNearMissColumns(t *testing.T) {
	for _, header := range []string{"settign", "seting", "settings", "Setting", "sotting"} {
		m := compiled(t, "a.csv", "name,entry,unit\nsetting,10,MPa\ntwice,=2*setting,MPa\n", "jobs.csv",
			"job,"+header+",twice\n:unit,MPa,\na,20,\n")
		if got := told(m.Warnings); !strings.Contains(got, "taken for data") {
			t.Errorf("%s: no warning: %s", header, got)
		}
	}
}
