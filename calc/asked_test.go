package calc

import (
	"fmt"
	"reflect"
	"sync"
	"testing"

	"rambook/units"
)

// TestAskingChangesNothing asks a model everything that compiles more, twice
// and at the same time: the answers are equal, and the model stays as it is.
func TestAskingChangesNothing(t *testing.T) {
	m := compiled(t, "model.csv", `name,entry,unit,low,high
load,100,kN,,
oil,VG 46,text,,
grade,"=oil == ""VG 46"" ? 1 : 2",,,
limit,120,kN,,
force,=load*grade,kN,,=limit
`, "jobs.csv", "job,load,force,wear,remark\n:unit,kN,kN,mm,\n:spread,1,,0.1,\na,10,,1,\nb,20,,2,\nc,30,,3,\n")
	ask := func() string {
		solved, p1 := m.Solve("load", "force = 2*max(jobs.wear)*10*kN/mm + 0*kN", "1 to 1000 kN")
		swept, p2 := m.Sweep([]string{"oil = VG 46, VG 32, VG 68"}, []string{"force"})
		wear, p3 := m.Trend("jobs", "wear", TrendOptions{Against: "load"})
		ranked, p4 := m.Compare("jobs", CompareOptions{By: "wear", Most: true})
		explained, p5 := m.Explain("force", func(v float64, u units.Unit, typed bool) string { return fmt.Sprint(v) })
		if len(p1)+len(p2)+len(p3)+len(p4)+len(p5) > 0 {
			return fmt.Sprint(p1, p2, p3, p4, p5)
		}
		return fmt.Sprint(solved.Solutions[0].Value, len(swept.Warnings), swept.Over[0].N, wear.Line, ranked.By,
			len(ranked.Rows), len(explained.Steps))
	}
	state := func() string {
		return fmt.Sprint(len(m.texts), len(m.text), len(m.origins), len(m.formulas), len(m.cells), len(m.Warnings),
			len(m.tape.Ops),
			reflect.ValueOf(m.tables["jobs"].columns[2]).Elem())
	}
	before := state()
	first := ask()
	var wait sync.WaitGroup
	for range 4 {
		wait.Go(func() {
			if again := ask(); again != first {
				t.Errorf("asked again the model says %s, before %s", again, first)
			}
		})
	}
	wait.Wait()
	if after := state(); after != before {
		t.Errorf("asking changes the model from %s to %s", before, after)
	}
}

// TestLimitsThatCasesState: a case sheet that states limits of its own names them, and
// warns of limits that no value can keep, as the quantities do.
func TestLimitsThatCasesState(t *testing.T) {
	r := checked(t, "model.csv", `name,entry,unit,low,high
load,100,kN,,
rated,90,kN,,
small,20,kN,,
force,=2*load,kN,=rated,
crossed,=3*load,kN,,
`, "jobs.csv", "job,force,crossed\n:unit,kN,kN\n:low,=small,=rated\n:high,,=small\na,,\n")
	if j := r.find(t, "force"); j.LowName != "rated" || j.HighName != "" {
		t.Errorf("the row's limits are named %q and %q", j.LowName, j.HighName)
	}
	if j := &r.Cases[0].Cases[0].Values[0]; j.LowName != "small" {
		t.Errorf("the case's limit is named %q", j.LowName)
	}
	if len(r.Warnings) != 1 || r.Warnings[0].Message != "a: low 90 kN is above high 20 kN, so no value passes" {
		t.Errorf("warnings: %v", r.Warnings)
	}
}
