package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"rambook/calc/function"
	"rambook/units"
)

// twoGauges lists gauges whose spreads are round: the class part of `wide` is
// 2·(1 % of 40 MPa)/√3, its step's 2·0.5 MPa/√12.
const twoGauges = "gauge,class,span,step,spread,serial,calibrated,due\n:unit,,,,,,,\n" +
	"wide,1.0,40 MPa,0.5 MPa,,A-17,2026-01-10,2027-01-10\n" +
	"other,1.0,40 MPa,0.5 MPa,,,,\n" +
	"clamp,,,,2 %,,,\n" +
	"ruler,,,1 mm,,,,\n"

// The two parts of the spread of `wide`, MPa: an error within ± a is rectangular,
// u = a/√3 (JCGM 100, 4.3.7), a reading to a step u = step/√12 (F.2.2.1), and k = 2.
var wideClass, wideStep = 2 * 0.4 / math.Sqrt(3), 2 * 0.5 / math.Sqrt(12)

// With one error for all that a gauge reads, the difference of two readings
// keeps only the steps and the sum has the class part twice (JCGM 100, 5.2.2,
// correlation 1 of that part; F.1.2.3).
func TestSharedGauge(t *testing.T) {
	step, class := wideStep, wideClass
	const rows = "name,entry,unit,with,spread\n" +
		"p1,20,MPa,wide,\n" +
		"p2,15,MPa,wide,\n" +
		"p3,15,MPa,other,\n" +
		"p4,15,MPa,wide,0.3\n" +
		"one,p1,MPa,,\ndifference,p1-p2,MPa,,\nsum,p1+p2,MPa,,\napart,p1-p3,MPa,,\nown,p1-p4,MPa,,\n"
	want := map[string]float64{
		"p1": math.Hypot(class, step), "one": math.Hypot(class, step),
		"difference": math.Sqrt2 * step, "sum": math.Hypot(2*class, math.Sqrt2*step),
		"apart": math.Sqrt2 * math.Hypot(class, step),
		"own":   math.Hypot(math.Hypot(class, step), 0.3), // a spread of its own is independent
	}
	const cases = "visit,p1,p2,one,difference,sum\n:unit,MPa,MPa,MPa,MPa,MPa\nfirst,22,12,,,\nsecond,,13,,,\n"
	m := compiled(t, "press.csv", rows, "gauges.csv", twoGauges, "visits.csv", cases)
	for _, samples := range []int{0, 400_000} {
		r, problems := m.Check(CheckOptions{Samples: samples, Seed: 1})
		if len(problems) > 0 {
			t.Fatal(told(problems))
		}
		look := func(where string, j *Judged) {
			spread, tolerance := j.Spread, 1e-12
			if samples > 0 && Has(j.SampledLow) {
				spread, tolerance = (j.SampledHigh-j.SampledLow)/2, 0.01
			}
			if w := want[j.Quantity.Name]; !near(spread, w, tolerance) {
				t.Errorf("%d samples, %s: spread of %s is %g, want %g", samples, where, j.Quantity.Name, spread, w)
			}
		}
		for name := range want {
			look("rows", r.find(t, name))
		}
		for _, c := range r.Cases[0].Cases {
			for i := range c.Values {
				look(c.Name, &c.Values[i])
			}
		}
	}
}

// Cells of a table are read with the gauge of the row they replace: the mean of
// n of them keeps the class part whole and the steps by √n; a span has no class part.
func TestSharedGaugeInTables(t *testing.T) {
	r := checked(t, "press.csv", "name,entry,unit,with\n"+
		"gap,,MPa,wide\n"+
		"average,mean(stations.gap),MPa,\n"+
		"lift,stations[`a`].gap - stations[`b`].gap,MPa,\n"+
		"same,stations[`a`].gap - stations[`a`].gap,MPa,\nhigher,2*gap,MPa,\nall,sum(stations.higher),MPa,\n",
		"gauges.csv", twoGauges, "stations.csv", "station,gap,higher\n:unit,MPa,MPa\na,20,\nb,18,\nc,17,\nd,16,\n")
	for name, want := range map[string]float64{"average": math.Hypot(wideClass, wideStep/2),
		"lift": math.Sqrt2 * wideStep,
		"all":  2 * math.Hypot(4*wideClass, 2*wideStep)} {
		if j := r.find(t, name); !near(j.Spread, want, 1e-12) {
			t.Errorf("%s ± %g, want ± %g", name, j.Spread, want)
		}
	}
	if j := r.find(t, "same"); Has(j.Spread) && j.Spread > 1e-12 {
		t.Errorf("a cell less itself ± %g", j.Spread)
	}
}

// A reading of what is computed from a number of the same gauge differs from it
// by the steps alone, and so does its verdict against such a limit.
func TestReadingsOfOneGauge(t *testing.T) {
	const rows = "name,entry,unit,reading,use,with,low\n" +
		"p1,20,MPa,,,wide,\n" +
		"here,p1,MPa,20.5,,wide,\n" +
		"there,p1,MPa,20.5,,other,\n" +
		"held,p1,MPa,20.5,,wide,p1\nfar,p1,MPa,20.5,,other,p1\n" +
		"top,18*MPa,MPa,19,reading,wide,\n" +
		"foot,10*MPa,MPa,11,reading,wide,\n" +
		"drop,top-foot,MPa,,,,\n" +
		"clamped,100*MPa,MPa,104,,clamp,\n"
	for _, samples := range []int{0, 100_000} {
		m := compiled(t, "press.csv", rows, "gauges.csv", twoGauges)
		r, problems := m.Check(CheckOptions{Samples: samples})
		if len(problems) > 0 {
			t.Fatal(told(problems))
		}
		whole := math.Hypot(wideClass, wideStep)
		for _, want := range []struct {
			name          string
			spread, agree float64
			verdict       Verdict
		}{
			{"here", whole, 0.5 / (math.Sqrt2 * wideStep), NoVerdict},
			{"there", whole, 0.5 / (math.Sqrt2 * whole), NoVerdict},
			{"held", whole, 0.5 / (math.Sqrt2 * wideStep), Pass}, // 0.5 > √2·0.289
			{"far", whole, 0.5 / (math.Sqrt2 * whole), Unsure},   // 0.5 < √2·0.545
			{"clamped", 2.08, 4.0 / 2, NoVerdict},                // 2 % of the 100 computed, as far as it goes
		} {
			j := r.find(t, want.name)
			if !near(j.ReadingSpread, want.spread, 1e-12) || !near(j.Agreement, want.agree, 1e-12) ||
				j.Verdict != want.verdict {
				t.Errorf("%d samples: %s: reading ± %g, E_n %g, %q; want ± %g, %g, %q", samples, want.name,
					j.ReadingSpread, j.Agreement, j.Verdict, want.spread, want.agree, want.verdict)
			}
		}
		if j := r.find(t, "drop"); !near(j.Value, 8, 1e-12) || !near(j.Spread, math.Sqrt2*wideStep, 1e-12) {
			t.Errorf("drop of two readings that are used: %g ± %g", j.Value, j.Spread)
		}
	}
}

func TestShareOfAGauge(t *testing.T) {
	m := compiled(t, "press.csv", "name,entry,unit,with\np1,20,MPa,wide\np2,15,MPa,wide\nsum,p1+p2,MPa,\n",
		"gauges.csv", twoGauges)
	d, problems := m.Explain("sum", func(float64, units.Unit, bool) string { return "" })
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	whole := 4*wideClass*wideClass + 2*wideStep*wideStep
	if s := d.Shares[0]; s.Name != "gauge wide" || !near(s.Share, 4*wideClass*wideClass/whole, 1e-12) ||
		!near(s.Spread, wideClass, 1e-12) {
		t.Errorf("first share is %+v", s)
	}
}

// press3 has three pressures read with one gauge, which all depend on the
// setting, and a temperature that does not.
func press3(readings [3]string, gauge string) []string {
	return []string{"press.csv", "name,entry,unit,reading,with,spread\nsetting,25,MPa,,,0.2\nloss,1,MPa,,,0.2\n" +
		"at_valve,setting,MPa," + readings[0] + "," + gauge + ",\nat_ram,setting-loss,MPa," + readings[1] + "," +
		gauge + ",\n" +
		"idle,2*MPa+loss,MPa," + readings[2] + "," + gauge + ",\n",
		"suspects.csv", "suspect,from,to,unit,prior,next_check,note\nsetting,15,30,MPa,,,\nloss,0,10,MPa,,,\n",
		"gauges.csv", twoGauges}
}

func TestAGaugeIsFound(t *testing.T) {
	m := compiled(t, press3([3]string{"27", "26", "5"}, "wide")...) // all 2 MPa high
	d, problems := m.Diagnose(DiagnoseOptions{Pairs: true})
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	best := d.Suspects[0]
	if d.Finding != Explained || best.Suspect.Quantity.Name != "gauge wide" || !near(best.Value, 2, 0.02) ||
		d.Suspects[1].Leads {
		t.Errorf("%v: %s at %g ± %g", d.Finding, best.Suspect.Quantity.Name, best.Value, best.Spread)
	}
	f, problems := m.Fit([]string{"gauge wide"}, FitOptions{Free: true})
	if len(problems) > 0 || !near(f.Givens[0].Value, 2, 0.1) {
		t.Error(f, told(problems))
	}
	// What is off by the setting alone is the setting's.
	m = compiled(t, press3([3]string{"20", "19", "3"}, "wide")...)
	if d, _ := m.Diagnose(DiagnoseOptions{}); d.Suspects[0].Suspect.Quantity.Name != "setting" || d.Suspects[1].Leads {
		t.Errorf("found %s", d.Suspects[0].Suspect.Quantity.Name)
	}
	// What a gauge may be off by its class is nobody's fault.
	m = compiled(t, press3([3]string{"25.4", "24.4", "3.4"}, "wide")...)
	if d, _ := m.Diagnose(DiagnoseOptions{}); d.Finding != NothingWrong {
		t.Errorf("within its class: %v, misfit %g", d.Finding, d.Misfit)
	}
	// In the cases of a sheet.
	parts := press3([3]string{"", "", ""}, "wide")
	parts = append(parts, "visits.csv", "visit,at_valve,at_ram,idle\n"+
		":unit,MPa,MPa,MPa\n"+
		"1,25,24,3\n"+
		"2,27,26,5\n"+
		"3,20,19,3\n")
	all, problems := compiled(t, parts...).DiagnoseCases("visits")
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	for i, want := range []string{"", "gauge wide", "setting"} {
		got := ""
		for _, f := range all.Cases[i].Found {
			got += f.Suspect.Quantity.Name
		}
		if got != want {
			t.Errorf("case %d: found %q, want %q", i+1, got, want)
		}
	}
}

// The misfit of readings with a common error is that of their covariance (JCGM
// 100, 5.2): n readings that are all off by x have x²/(u_s²+u²/n), and not
// n·x²/(u_s²+u²).
func TestMisfitOfOneGauge(t *testing.T) {
	m := compiled(t, "press.csv", "name,entry,unit,reading,with\n"+
		"a,20*MPa,MPa,21,wide\n"+
		"b,15*MPa,MPa,16,wide\n"+
		"c,10*MPa,MPa,11,wide\n", "gauges.csv", twoGauges)
	d, problems := m.Diagnose(DiagnoseOptions{})
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	want := 1 / (wideClass*wideClass/4 + wideStep*wideStep/4/3)
	if !near(d.Misfit, want, 1e-9) {
		t.Errorf("misfit %g, want %g", d.Misfit, want)
	}
	f, problems := m.Fit([]string{"gauge wide"}, FitOptions{Free: true})
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	if g := f.Givens[0]; !near(g.Value, 1, 1e-9) || !near(g.Spread, wideStep/math.Sqrt(3), 1e-9) {
		t.Errorf("fitted %g ± %g", g.Value, g.Spread)
	}
}

func TestGaugesRefused(t *testing.T) {
	const head = "gauge,class,span,step,due\n:unit,,,,\n"
	for _, test := range []struct{ rows, gauges, want string }{
		{"p,20,MPa,wied", head + "wide,1,40 MPa,,\n", "no gauge is named `wied`"},
		{"p,20,mm,wide", head + "wide,1,40 MPa,,\n", "wide measures pressure, but p is in mm"},
		{"p,20,MPa,wide", head + "wide,1,,,\n", "wide has no span"},
		{"p,20,MPa,wide", head + "wide,one,40 MPa,,\n", "`one`"},
		{"p,20,MPa,wide", head + "wide,1,40 MPa,1 mm,\n", "the step of wide is a length"},
		{"p,20,MPa,wide", head + "wide,-1,40 MPa,,\n", "cannot be negative"},
		{"p,20,MPa,wide", head + "wide,1,40 MPa,,tomorrow\n", "tomorrow"},
	} {
		_, problems := Compile(files(t, "press.csv", "name,entry,unit,with\n"+test.rows+"\n", "gauges.csv",
			test.gauges), Options{})
		if !strings.Contains(told(problems), test.want) {
			t.Errorf("%s: %s", test.rows, told(problems))
		}
	}
	m := compiled(t, "press.csv", "name,entry,unit,with\np,20,MPa,wide\n")
	if len(m.Warnings) != 1 || !strings.Contains(m.Warnings[0].Message, "there is no sheet gauges") {
		t.Errorf("without a sheet: %s", told(m.Warnings))
	}
}

// A gauge past its date gives a warning where it read something after it: at a time
// that the logbook or the case notes, else today.
func TestOverdueGauges(t *testing.T) {
	const gauges = "gauge,class,span,step,due\n:unit,,,,date\nwide,1,40 MPa,,2026-05-04\n"
	const visits = "visit,date,here\n:unit,date,MPa\none,2026-05-04,20\ntwo,2026-05-05,20\nthree,,20\n"
	for _, test := range []struct{ line, sheet, today, want string }{
		{"2026-05-04 23:59:59,Ada,here.reading,,20,wide,", "", "2027-01-01", ""},
		{"2026-05-05 00:01:00,Ada,here.reading,,20,wide,", "", "2026-01-01",
			"wide was due for calibration before it read here (2026-05-05)"},
		{"2026-05-05 00:01:00,Ada,here.reading,,19,wide,", "", "2026-01-01", ""}, // of another number
		{"", "", "2026-05-04", ""},
		{"", "", "2026-05-05", "wide was due for calibration before it read here (nobody noted when)"},
		{"2026-05-01,Ada,here.reading,,20,wide,", visits, "2026-01-01",
			"wide was due for calibration before it read here of two (2026-05-05)" +
				"one has readings of 2026-05-04, which is still to come: today is 2026-01-01" +
				"two has readings of 2026-05-05, which is still to come: today is 2026-01-01"},
	} {
		parts := []string{"press.csv", "name,entry,unit,reading,with\nhere,20*MPa,MPa,20,wide\n", "gauges.csv", gauges,
			"logbook.csv", "when,who,what,was,is,with,note\n" + test.line + "\n"}
		if test.sheet != "" {
			parts = append(parts, "visits.csv", test.sheet)
		}
		today, err := time.Parse(time.DateOnly, test.today)
		if err != nil {
			t.Fatal(err)
		}
		m, problems := Compile(files(t, parts...), Options{Today: today})
		if m == nil {
			t.Fatal(told(problems))
		}
		got := ""
		for _, w := range m.Warnings {
			got += w.Message
		}
		if got != test.want {
			t.Errorf("%q, today %s: %q, want %q", test.line, test.today, got, test.want)
		}
	}
}

// What is read over phases with a gauge has the gauge's error in each cycle and,
// once, in the mean. The step is in both as a whole: what is read to a step is no
// surer for having been read often (JCGM 100, F.2.2.1). In the difference of two
// cycles the error is none.
func TestGaugeOverPhases(t *testing.T) {
	peaks := []float64{10, 10.5, 11, 11.2}
	log := "time,position [mm],pressure [MPa]\n"
	dated := log
	for i := range 4*80 + 2 {
		at := float64(i) * 0.05
		within := math.Mod(at, 4)
		p := 0.5
		if within >= 1 && within < 2 && i < 4*80 {
			p = peaks[i/80]
		}
		rest := fmt.Sprintf("%.1f,%.2f\n", math.Abs(within-2)*200, p)
		log += fmt.Sprintf("%.2f,", at) + rest
		dated += fmt.Sprintf("2026-05-04 08:30:%05.2f,", at) + rest
	}
	const rows = "name,entry,unit,reading,with\n" +
		"peak,10.2*MPa,MPa,max(down.pressure),wide\nshare,10.2*MPa,MPa,max(down.pressure),clamp\n" +
		"hand,10.2*MPa,MPa,10.5,wide\n"
	const phases = "phase,log,from,to\n" +
		"down,log,position < 300*mm,position < 30*mm\n" +
		"up,log,position < 30*mm,position > 300*mm\n"
	parts := []string{"press.csv", rows, "strokes.csv", phases, "gauges.csv", twoGauges, "log.csv", log}
	m := compiled(t, parts...)
	r, problems := m.Check(CheckOptions{})
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	mean, scatter := 10.675, function.RepeatSpread(peaks)
	one := math.Hypot(wideClass, wideStep)
	for name, want := range map[string]struct{ spread, shown float64 }{ // shown: what the gauge would show of 10.2 MPa
		"peak":  {math.Hypot(one, scatter), math.Hypot(one, scatter)},
		"share": {math.Hypot(0.02*mean, scatter), math.Hypot(0.02*10.2, scatter)},
	} {
		if j := r.find(t, name); !near(j.Reading, mean, 1e-12) || !near(j.ReadingSpread, want.spread, 1e-9) ||
			!near(j.Agreement, (mean-10.2)/want.shown, 1e-9) {
			t.Errorf("%s %v ± %v, E_n %v; want ± %v", name, j.Reading, j.ReadingSpread, j.Agreement, want.spread)
		}
	}
	for i, c := range r.Cases[0].Cases {
		if peak, share := c.Values[0], c.Values[1]; !near(peak.Reading, peaks[i], 1e-12) ||
			!near(peak.ReadingSpread, one, 1e-9) || !near(share.ReadingSpread, 0.02*peaks[i], 1e-9) {
			t.Errorf("cycle %d: %v ± %v, ± %v", i+1, peak.Reading, peak.ReadingSpread, share.ReadingSpread)
		}
	}
	for by, want := range map[string]float64{"peak": math.Sqrt2 * wideStep, "share": 0.02 * (11.2 - 10)} {
		c, problems := m.Compare("strokes", CompareOptions{By: by, Most: true})
		if len(problems) > 0 {
			t.Fatal(told(problems))
		}
		for _, one := range c.Rows {
			if one.Name == "1" && !near(one.Spread, want, 1e-6) {
				t.Errorf("%s: 10 and 11.2 MPa differ by ± %v, want %v", by, one.Spread, want)
			}
		}
	}
	// The mean of the cycles and the reading by hand have one error of the gauge in
	// common: it is their mean, each weighted by what is its own.
	d, problems := m.Diagnose(DiagnoseOptions{})
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	for _, f := range d.Readings {
		if j := r.find(t, f.Quantity.Name); !near(f.ReadingSpread, j.ReadingSpread, 1e-9) ||
			f.Quantity.Name == "peak" && !near(f.Agreement, j.Agreement, 1e-9) {
			t.Errorf("diagnosis: %s ± %v, E_n %v; check ± %v, E_n %v", f.Quantity.Name, f.ReadingSpread, f.Agreement,
				j.ReadingSpread, j.Agreement)
		}
	}
	f, problems := m.Fit([]string{"gauge wide"}, FitOptions{Free: true})
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	a, b := 1/(wideStep*wideStep+scatter*scatter), 1/(wideStep*wideStep)
	if g := f.Givens[0]; !near(g.Value, ((mean-10.2)*a+0.3*b)/(a+b), 1e-6) || !near(g.Spread, 1/math.Sqrt(a+b), 1e-6) {
		t.Errorf("the gauge shows %v ± %v too much, want %v ± %v", g.Value, g.Spread,
			((mean-10.2)*a+0.3*b)/(a+b), 1/math.Sqrt(a+b))
	}
	// When a cycle was read stands in the log.
	parts[5], parts[7] = "gauge,class,span,step,due\n"+
		":unit,,,,date\n"+
		"wide,1,40 MPa,,2026-05-03\n"+
		"clamp,1,40 MPa,,2026-05-04\n",
		dated
	for _, w := range compiled(t, parts...).Warnings {
		if got := w.Message; strings.Contains(got, "due for") &&
			!strings.HasPrefix(got, "wide was due for calibration "+
				"before it read peak of 1 (2026-05-04), peak of 2 (2026-05-04)") {
			t.Error(got)
		} else if strings.Contains(got, "due for") {
			return
		}
	}
	t.Error("a gauge that was due before the log was written is not told of")
}
