package calc

import (
	"fmt"
	"testing"
)

// TestDoubtfulLimits: against a limit that has a spread of its own, a reading
// is judged with both spreads joined, since it was taken independently, and a
// computed value with the inputs that the two share counted once; so is a
// limit that a case sheet states.
func TestDoubtfulLimits(t *testing.T) {
	const model = `name,entry,unit,reading,spread,low,high
limit,100,kN,,3,,
load,100,kN,,3,,
read_low,=load,kN,107,4,=limit,
read_clear,=load,kN,105.1,4,=limit,
read_high,=load,kN,93,4,,=limit
read_over,=load,kN,105,4,,=limit
shared,=1.01*limit,kN,,,=limit,
apart,=1.01*load,kN,,,=limit,
shared_high,=0.99*limit,kN,,,,=limit
apart_high,=0.99*load,kN,,,,=limit
plain,=1.01*limit,kN,,,,
plain_apart,=1.01*load,kN,,,,
`
	r := checked(t, "model.csv", model, "jobs.csv", "job,plain,plain_apart\n:unit,kN,kN\n:low,=limit,=limit\na,,\n",
		"tops.csv", "top,shared_high,apart_high,shared\n"+
			":unit,kN,kN,kN\n"+
			":low,=0.98*limit,=0.98*limit,\n"+
			":high,=limit,=limit,=1.02*limit\n"+
			"b,,,\n")
	// Joined, 3 and 4 are 5.
	for name, want := range map[string]Verdict{"read_low": Pass, "read_clear": Pass, "read_high": Pass,
		"read_over": Unsure,
		"shared":    Pass, "apart": Unsure, "shared_high": Pass, "apart_high": Unsure} {
		if got := r.find(t, name).Verdict; got != want {
			t.Errorf("%s: %v, expected %v", name, got, want)
		}
	}
	if got := r.find(t, "read_low").Inside; !near(got, 0.9974448696695721, 1e-9) { // Φ(7/2.5)
		t.Errorf("read_low is inside with the probability %v", got)
	}
	for _, test := range []struct {
		sheet int
		want  string
	}{{0, "[pass unsure]"}, {1, "[pass unsure pass]"}} {
		var got []Verdict
		for _, j := range r.Cases[test.sheet].Cases[0].Values {
			got = append(got, j.Verdict)
		}
		if fmt.Sprint(got) != test.want {
			t.Errorf("the cases are judged %v, expected %s", got, test.want)
		}
	}
}
