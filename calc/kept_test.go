package calc

import (
	"math"
	"testing"
)

// keptSteps is a cycle of three steps; the second leaves the stroke to the notebook.
const (
	keptModel = "name,entry,unit,spread,low,high\n" +
		"stroke,30,mm,3,,\n" +
		"speed,10,mm/s,,,\n" +
		"step_time,stroke/speed,s,,,\n" +
		"cycle,sum(steps.step_time),s,,,11\n" +
		"share,step_time/cycle,,,,\n"
	keptSteps = "step,stroke,step_time,share,cycle\n" +
		":unit,mm,s,,s\n" +
		"long,50,,,\n" +
		"left,,,,\n" +
		"short,20,,,\n"
)

// TestBlankCellIsNoneOfAnotherCase: a step of 50 mm takes 5 s, one of 30 mm, which the
// notebook has, 3 s, one of 20 mm 2 s, and all of them 10 s whichever is looked at. What
// is expected follows by hand.
func TestBlankCellIsNoneOfAnotherCase(t *testing.T) {
	r := checked(t, "1.csv", keptModel, "steps.csv", keptSteps)
	for name, share := range map[string]float64{"long": 0.5, "left": 0.3, "short": 0.2} {
		if j := r.in(t, "steps", name, "share"); !near(j.Value, share, 1e-12) {
			t.Errorf("%s has %v of the time, expected %v", name, j.Value, share)
		}
		j := r.in(t, "steps", name, "cycle")
		if !near(j.Value, 10, 1e-12) || !near(j.Spread, 0.3*math.Sqrt(3), 1e-12) || j.Verdict != Pass {
			t.Errorf("in %s all steps take %v ± %v s, %v, expected 10 ± 0.52 s and pass", name, j.Value, j.Spread, j.Verdict)
		}
	}
	// What another sheet replaces the given with is what the blank cell leaves.
	r = checked(t, "1.csv", keptModel, "steps.csv", keptSteps, "machines.csv",
		"machine,stroke,cycle\n:unit,mm,s\nslow,60,\n")
	if j := r.in(t, "machines", "slow", "cycle"); !near(j.Value, 13, 1e-12) || j.Verdict != Fail {
		t.Errorf("a machine with 60 mm takes %v s, %v, expected 13 s and fail", j.Value, j.Verdict)
	}
	// A text that is left blank is treated alike.
	r = checked(t, "1.csv", "name,entry,unit\nkind,up,text\ntime,\"kind == \"\"up\"\" ? 4*s : 1*s\",s\n"+
		"all,sum(steps.time),s\n", "steps.csv", "step,kind,time,all\n:unit,text,s,s\na,down,,\nb,,,\n")
	if j := r.in(t, "steps", "a", "all"); !near(j.Value, 5, 1e-12) {
		t.Errorf("down and up take %v s, expected 5 s", j.Value)
	}
}

// TestBlankCellThatNobodyKnows: what the notebook does not have is missing in the cell
// itself, and in no other case.
func TestBlankCellThatNobodyKnows(t *testing.T) {
	const open = "name,entry,unit,spread,low,high\nstroke,,mm,3,,\n"
	r := checked(t, "1.csv", open+keptModel[len("name,entry,unit,spread,low,high\nstroke,30,mm,3,,\n"):],
		"steps.csv", keptSteps)
	if j := r.find(t, "cycle"); len(j.Needs) != 1 || j.Needs[0].Name != "steps[left].stroke" || j.Needs[0].Line != 4 {
		t.Errorf("the cycle needs %v, expected steps[left].stroke in line 4", j.Needs)
	}
	for _, name := range []string{"long", "short"} {
		if j := r.in(t, "steps", name, "step_time"); !Has(j.Value) {
			t.Errorf("%s takes no time", name)
		}
		if j := r.in(t, "steps", name, "cycle"); j.Verdict != Open || len(j.Needs) != 1 ||
			j.Needs[0].Name != "steps[left].stroke" {
			t.Errorf("in %s the cycle is %v and needs %v", name, j.Verdict, j.Needs)
		}
	}
}
