package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"rambook/calc/coverage"
)

// TestRepeated cuts what people write as several runs, and leaves alone what is one number.
func TestRepeated(t *testing.T) {
	for _, test := range []struct {
		text  string
		runs  []string
		unit  string
		asOne bool // may be one number in groups of three digits
	}{
		{"4.36 4.41 4.38", []string{"4.36", "4.41", "4.38"}, "", false},
		{"4.36 4.41 s", []string{"4.36", "4.41"}, "s", false},
		{"4.36; 4.41;4.38", []string{"4.36", "4.41", "4.38"}, "", false},
		{"4.36, 4.41, 4.38", []string{"4.36", "4.41", "4.38"}, "", false},
		{"4.36\t4.41", []string{"4.36", "4.41"}, "", false},
		{"-0.3 -0.2 1e-3", []string{"-0.3", "-0.2", "1e-3"}, "", false},
		{"12 500", []string{"12", "500"}, "", true},
		{"1 234 567", []string{"1", "234", "567"}, "", true},
		{"12 500 kg", []string{"12", "500"}, "kg", true},
		{"12 13", []string{"12", "13"}, "", false},
		{"1234 567", []string{"1234", "567"}, "", false},
		{"12 -500", []string{"12", "-500"}, "", false},
		{"12.0 500", []string{"12.0", "500"}, "", false},
		{"25 MPa", []string{"25"}, "MPa", false},
		{"25", []string{"25"}, "", false},
		{"25 26 27 elephants", nil, "", false},
		{"25 MPa 26 MPa", nil, "", false}, // a unit stands behind the last
		{"yes", nil, "", false},
		{"", nil, "", false},
	} {
		runs, unit := Repeated(test.text)
		if !slices.Equal(runs, test.runs) || unit != test.unit {
			t.Errorf("%q is cut into %q and %q, want %q and %q", test.text, runs, unit, test.runs, test.unit)
		}
		if len(runs) > 1 {
			if got := MayBeOne(runs); got != test.asOne {
				t.Errorf("%q may be one number: %v", test.text, got)
			}
			again, unit := CutRuns(JoinRuns(runs, unit))
			if !slices.Equal(again, test.runs) || unit != test.unit {
				t.Errorf("%q written and read again is %q and %q", test.text, again, unit)
			}
		}
	}
	for _, text := range []string{"", "25", "4.36 4.41", "run 4.36 4.41", "runs"} {
		if runs, _ := CutRuns(text); runs != nil {
			t.Errorf("%q holds runs %q", text, runs)
		}
	}
}

// TestRunsRefused gives what is no list of runs its place and a way out.
func TestRunsRefused(t *testing.T) {
	for _, test := range []struct{ cell, message string }{
		{"runs 4.4", "repeated runs are two or more numbers"},
		{"runs s", "repeated runs are two or more numbers"},
		{"runs 4.4 4.5 MPa", "s"},
		{"4.36 4.41 4.38", "repeated runs of one thing are written `runs 4.36 4.41 4.38`"},
	} {
		_, problems := Compile(files(t, "a.csv", "name,entry,unit,reading\nx,"+test.cell+",s,\n"), Options{})
		if len(problems) == 0 || !strings.Contains(problems[0].Message+"; "+problems[0].Hint, test.message) {
			t.Errorf("%s: %s, want %q", test.cell, told(problems), test.message)
		}
	}
}

// The runs of three readings 0.1 apart: the spread of their mean is Student's factor
// for 95.45 % and 2 degrees of freedom, 4.53 (JCGM 100, table G.2), times 0.1/√3.
var ofRuns = 4.53 * 0.1 / math.Sqrt(3)

// TestFactorOfRuns holds the factor itself against the table.
func TestFactorOfRuns(t *testing.T) {
	for freedom, want := range map[int]float64{1: 13.97, 2: 4.53, 3: 3.31, 4: 2.87, 9: 2.32} {
		if got := coverage.Factor(freedom); !near(got, want, 0.002) {
			t.Errorf("with %d degrees of freedom the factor is %g, want %g", freedom, got, want)
		}
	}
}

// TestRunsInFit fits a given to readings that were repeated. The fit of one given
// that all readings show alike is their mean, weighted by 1/U², and U of it is
// 1/√Σ1/U² (JCGM 100, 5.1.2, by linear least squares); an error that all of them
// share by their gauge adds to it whole, and weighs nothing (5.2.2, correlation 1).
func TestRunsInFit(t *testing.T) {
	own := math.Hypot(0.2, ofRuns)
	step := math.Hypot(wideStep, ofRuns)
	mean := func(u1, u2 float64) float64 {
		return (20.2/(u1*u1) + 20.6/(u2*u2)) / (1/(u1*u1) + 1/(u2*u2))
	}
	sure := func(u1, u2 float64) float64 { return 1 / math.Sqrt(1/(u1*u1)+1/(u2*u2)) }
	for _, test := range []struct {
		name, rows    string
		cases, of     string
		value, spread float64
	}{
		{name: "one", rows: "a,setting,MPa,runs 20.1 20.3 20.2,0.2,\n", value: 20.2, spread: own},
		{name: "unit of its own", rows: "a,setting,MPa,runs 201 203 202 bar,2 bar,\n", value: 20.2, spread: own},
		{name: "two", rows: "a,setting,MPa,runs 20.1 20.3 20.2,0.2,\nb,setting,MPa,20.6,0.1,\n",
			value: mean(own, 0.1), spread: sure(own, 0.1)},
		{name: "of one gauge", rows: "a,setting,MPa,runs 20.1 20.3 20.2,,wide\nb,setting,MPa,20.6,,wide\n",
			value: mean(step, wideStep), spread: math.Hypot(sure(step, wideStep), wideClass)},
		{name: "in cases", rows: "a,setting,MPa,,0.2,\nb,setting,MPa,,0.1,\n", of: "visits",
			cases: "visit,a,b\n:unit,MPa,MPa\nfirst,runs 20.1 20.3 20.2,20.6\n", value: mean(own, 0.1),
			spread: sure(own, 0.1)},
	} {
		parts := []string{"press.csv", "name,entry,unit,reading,spread,with\nsetting,20,MPa,,,\n" + test.rows,
			"gauges.csv", twoGauges}
		if test.cases != "" {
			parts = append(parts, "visits.csv", test.cases)
		}
		f, problems := compiled(t, parts...).Fit([]string{"setting"}, FitOptions{Free: true, Sheet: test.of})
		if len(problems) > 0 {
			t.Errorf("%s: %s", test.name, told(problems))
			continue
		}
		if got := f.Givens[0]; !near(got.Value, test.value, 1e-4) || !near(got.Spread, test.spread, 1e-3) {
			t.Errorf("%s: fitted %.6g ± %.6g, want %.6g ± %.6g", test.name, got.Value, got.Spread, test.value,
				test.spread)
		}
	}
}

// TestRunsInCases gives a case whose cell holds runs the spread of their mean
// beside that of a single run, and a case with one number none.
func TestRunsInCases(t *testing.T) {
	r := checked(t, "press.csv", "name,entry,unit,spread\nsetting,20,MPa,0.2\ntwice,2*setting,MPa,0.2\n",
		"visits.csv", "visit,setting,twice\n"+
			":unit,MPa,MPa\n"+
			"runs,runs 20.1 20.3 20.2,runs 40.1 40.3 40.2\n"+
			"one,20.2,40.2\n")
	for name, want := range map[string]struct{ computed, reading float64 }{
		"runs": {2 * math.Hypot(0.2, ofRuns), math.Hypot(0.2, ofRuns)}, "one": {0.4, 0.2},
	} {
		if j := r.InCase("visits", name, "twice"); !near(j.Spread, want.computed, 1e-3) ||
			!near(j.ReadingSpread, want.reading, 1e-3) || !near(j.Reading, 40.2, 1e-12) {
			t.Errorf("%s: computed ± %g, read %g ± %g, want ± %g and 40.2 ± %g", name, j.Spread, j.Reading,
				j.ReadingSpread, want.computed, want.reading)
		}
	}
}

// TestStatedInCases replaces a given that was read with a gauge in the cases of a
// sheet that says itself how sure its numbers are. The gauge's error is not in
// them: a sum has the stated spread and no more, by derivatives, by samples, and in
// the cases whose cell is blank; the notebook and other sheets keep the gauge's.
func TestStatedInCases(t *testing.T) {
	class, step := wideClass, wideStep
	m := compiled(t, "press.csv", "name,entry,unit,with\np1,20,MPa,wide\np2,15,MPa,wide\nsum,p1+p2,MPa,\n",
		"gauges.csv", twoGauges,
		"stated.csv", "visit,p1,sum\n:unit,MPa,MPa\n:spread,0.3,\nfirst,22,\nsecond,,\n",
		"plain.csv", "visit,p1,sum\n:unit,MPa,MPa\nfirst,22,\n")
	for _, samples := range []int{0, 400_000} {
		r, problems := m.Check(CheckOptions{Samples: samples, Seed: 1})
		if len(problems) > 0 {
			t.Fatal(told(problems))
		}
		shared := math.Hypot(2*class, math.Sqrt2*step)
		for _, test := range []struct {
			where string
			j     *Judged
			want  float64
		}{
			{"the row", r.Of("sum"), shared},
			{"a case of a sheet that states nothing", r.InCase("plain", "first", "sum"), shared},
			// p2 keeps class and step of the gauge, p1 has 0.3.
			{"a case with its number", r.InCase("stated", "first", "sum"), math.Hypot(0.3, math.Hypot(class, step))},
			{"a case without", r.InCase("stated", "second", "sum"), math.Hypot(0.3, math.Hypot(class, step))},
		} {
			spread, tolerance := test.j.Spread, 1e-12
			if samples > 0 {
				spread, tolerance = (test.j.SampledHigh-test.j.SampledLow)/2, 0.01
			}
			if !near(spread, test.want, tolerance) {
				t.Errorf("%d samples, %s: ± %g, want ± %g", samples, test.where, spread, test.want)
			}
		}
	}
}

// shifted is a log of [strokeLog] with a pressure that is higher by some bar.
func shifted(log string, by float64) string {
	lines := strings.Split(strings.TrimSpace(log), "\n")
	for i, line := range lines[1:] {
		cells := strings.Split(line, ",")
		var p float64
		fmt.Sscan(cells[2], &p)
		cells[2] = fmt.Sprint(p + by)
		lines[i+1] = strings.Join(cells, ",")
	}
	return strings.Join(lines, "\n") + "\n"
}

// TestGaugedPhases reads two phases of a log with one gauge. What is read off the
// log has the gauge's class and step beside what the log itself leaves open, and
// two such readings share the class: of both one gauge is suspected, and by as much
// as both are off.
func TestGaugedPhases(t *testing.T) {
	const model = "name,entry,unit,reading,with\ndeep,100,mm,,\nhigh,10*MPa,MPa,max(down.pressure),wide\n" +
		"low,0.5*MPa,MPa,max(up.pressure),wide\nlift,high - low,MPa,,\n"
	m := compiled(t, "machine.csv", model, "strokes.csv", strokePhases, "log.csv", shifted(strokeLog(1, 0.01), 15),
		"gauges.csv", twoGauges)
	r, problems := m.Check(CheckOptions{})
	if r == nil {
		t.Fatal(told(problems))
	}
	for name, want := range map[string]float64{"high": 11.5, "low": 2} {
		j := r.find(t, name)
		if !near(j.Reading, want, 1e-9) || !near(j.ReadingSpread, math.Hypot(wideClass, wideStep), 1e-9) {
			t.Errorf("%s is read as %g ± %g, want %g ± %g", name, j.Reading, j.ReadingSpread, want,
				math.Hypot(wideClass, wideStep))
		}
	}
	f, problems := m.Fit([]string{"gauge wide"}, FitOptions{Free: true})
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	if got := f.Givens[0]; !near(got.Value, 1.5, 1e-6) || !near(got.Spread, wideStep/math.Sqrt2, 1e-6) {
		t.Errorf("the gauge is off by %g ± %g, want 1.5 ± %g", got.Value, got.Spread, wideStep/math.Sqrt2)
	}
}
