package calc

import "testing"

// TestImprove holds what is advised against the sum of squares by hand: y = a + b + c
// with ± 3, 4 and 1, so that the whole is ± 5.099 and the shares are 9, 16 and 1
// of 26 (JCGM 100, 5.1.2).
func TestImprove(t *testing.T) {
	const head = "name,entry,unit,spread,low,high\na,assumed 10 ± 3,mm,,,\nb,assumed 20 ± 4,mm,,,\nc,30,mm,1,,\n"
	for _, test := range []struct {
		limits string
		want   []SettlingStep
	}{
		// 60 ± sqrt(10) = ± 3.162 still reaches over 58, and ± 1 does not.
		{"58,", []SettlingStep{{"b", 16. / 26, 3.1622776601683795, Unsure}, {"a", 9. / 26, 1, Pass}}},
		{",56", []SettlingStep{{"b", 16. / 26, 3.1622776601683795, Fail}}},
		{"64,", []SettlingStep{{"b", 16. / 26, 3.1622776601683795, Fail}}},
		{"60.5,", []SettlingStep{{"b", 16. / 26, 3.1622776601683795, Unsure}, {"a", 9. / 26, 1, Unsure}}},
		{"50,", nil}, // passes as it is
		{"70,", nil}, // fails as it is
	} {
		m := compiled(t, "a.csv", head+"y,a + b + c,mm,,"+test.limits+"\n")
		r, problems := m.Check(CheckOptions{})
		if r == nil {
			t.Fatal(told(problems))
		}
		got := m.Doubt(r.Of("y"))
		if got == nil {
			got = &Doubt{}
		}
		if len(got.Steps) != len(test.want) {
			t.Errorf("limits %s: got %v, expected %v", test.limits, got.Steps, test.want)
			continue
		}
		for i, want := range test.want {
			step := got.Steps[i]
			if step.Name != want.Name || step.Verdict != want.Verdict || !near(step.Share, want.Share, 1e-12) ||
				!near(step.Left, want.Left, 1e-12) {
				t.Errorf("limits %s: got %v, expected %v", test.limits, step, want)
			}
		}
	}
	m := compiled(t, "a.csv", "name,entry,unit,spread,low,reading\n"+
		"a,10,mm,3,,\n"+
		"y,2*a,mm,,19,\n"+
		"b,assumed 10 ± 3,mm,,,\n"+
		"z,2*b,mm,1,19,19.5\n")
	r, _ := m.Check(CheckOptions{})
	for _, name := range []string{"y", "z", "a"} { // nothing is assumed, a reading is judged, a given
		if got := m.Doubt(r.Of(name)); got != nil && len(got.Steps) > 0 {
			t.Errorf("%s: advised %v", name, got.Steps)
		}
	}
	if d := m.Doubt(r.Of("y")); d == nil || d.Read || len(d.Causes) != 1 || d.Causes[0].Name != "a" ||
		d.Causes[0].Share != 1 {
		t.Errorf("y is in doubt by %+v, expected by all of a", d)
	}
	if d := m.Doubt(r.Of("z")); d == nil || !d.Read || d.Causes != nil {
		t.Errorf("z is in doubt by %+v, expected by its reading", d)
	}
}
