package calc

import (
	"fmt"
	"strings"
	"testing"

	"rambook/sheets"
)

// TestJudgedAlike: a case that replaces nothing by other numbers is judged as the
// notebook itself, and what is told and warned of is the same: limits that no value
// keeps, a doubt without a bound, a reading's spread that cannot be computed whether
// or not it has been read, what is open and what is too large for its unit.
func TestJudgedAlike(t *testing.T) {
	for _, test := range []struct{ name, row string }{
		{"passes", "x,=2*given,kN,,,,250"},
		{"crossed limits", "x,=2*given,kN,,,=given + 300*kN,=given"},
		{"no bound", "x,=sqrt(given - 100*kN),N^0.5,,,0,10"},
		{"planned, spread not computed", "x,=2*given,kN,,=1*kN*kN/(given - 100*kN),,250"},
		{"read, spread not computed", "x,=2*given,kN,201,=1*kN*kN/(given - 100*kN),,250"},
		{"open", "x,=2*given + missing,kN,,,,250"},
		{"limit open", "x,=2*given,kN,,,,=missing"},
		{"limit not computed", "x,=2*given,kN,,,,=given*given/(given - 100*kN)"},
		{"too large", "x,=given*1e305,µm*N/m,,,,1"},
		{"not computed", "x,=given*given/(given - 100*kN),kN,,,,250"},
		{"reading differs", "x,=2*given,kN,240,2,,250"},
		{"a text of a text", "x,='a',text,,,,"},
	} {
		reading := ""
		if cells := strings.Split(test.row, ","); len(cells) > 3 {
			reading = cells[3]
		}
		r := checked(t, "model.csv", "name,entry,unit,reading,spread,low,high\n"+
			"given,100,kN,,1,,\n"+
			"missing,,kN,,,,\n"+test.row+"\n",
			"jobs.csv", "job,given,x\n:unit,kN,"+strings.Split(test.row, ",")[2]+"\na,100,"+reading+"\n")
		base, one := r.find(t, "x"), &r.Cases[0].Cases[0].Values[0]
		for _, j := range r.Cases[0].Cases[0].Values {
			if j.Quantity.Name == "x" {
				one = &j
			}
		}
		if reading == "" && test.name != "a text of a text" && base.State != one.State {
			t.Errorf("%s: %v as the notebook has it, %v as a case", test.name, base.State, one.State)
		}
		say := func(j *Judged) string {
			return fmt.Sprint(j.Verdict, j.Error, j.Needs, j.Value, j.Reading, j.Low, j.High, j.LowName, j.HighName)
		}
		if a, b := say(base), say(one); a != b {
			t.Errorf("%s:\n as the notebook has it %s\n as a case            %s", test.name, a, b)
		}
		var own, ofCase []string
		for _, p := range r.Warnings {
			if text, found := strings.CutPrefix(p.Message, "a: "); found {
				ofCase = append(ofCase, text)
			} else {
				own = append(own, p.Message)
			}
		}
		if a, b := judgedOnly(own), judgedOnly(ofCase); a != b {
			t.Errorf("%s: warned of\n as the notebook has it %q\n as a case            %q", test.name, a, b)
		}
		if a, b := len(faultsOf(r.Failures, "a: ")), len(r.Failures)-len(faultsOf(r.Failures, "a: ")); a != b {
			t.Errorf("%s: %d faults as the notebook has it, %d as a case: %s", test.name, b, a, told(r.Failures))
		}
	}
}

// judgedOnly joins warnings of judgements; what a sheet as a whole is warned of is
// none of them.
func judgedOnly(list []string) string {
	var kept []string
	for _, text := range list {
		if !strings.Contains(text, "cancel") {
			kept = append(kept, text)
		}
	}
	return strings.Join(kept, "\n")
}

func faultsOf(list []sheets.Problem, start string) (of []sheets.Problem) {
	for _, p := range list {
		if strings.HasPrefix(p.Message, start) {
			of = append(of, p)
		}
	}
	return of
}
