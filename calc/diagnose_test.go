package calc

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"rambook/sheets"
)

// diagnosed runs Diagnose on a notebook that has to be sound.
func diagnosed(t testing.TB, opt DiagnoseOptions, parts ...string) *Diagnosis {
	t.Helper()
	d, problems := compiled(t, parts...).Diagnose(opt)
	if d == nil {
		t.Fatal(told(problems))
	}
	return d
}

func (d *Diagnosis) of(t testing.TB, name string) SuspectFit {
	t.Helper()
	for _, f := range d.Suspects {
		if f.Suspect.Quantity.Name == name {
			return f
		}
	}
	t.Fatalf("%s is no suspect", name)
	return SuspectFit{}
}

func wantNear(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !near(got, want, tolerance) && math.Abs(got-want) > 1e-300 && !(math.IsNaN(got) && math.IsNaN(want)) {
		t.Errorf("%s: got %.15g, expected %.15g", what, got, want)
	}
}

// TestOneReading is computed by hand: y = a·b with a = 10 ± 1, b = 2 suspected,
// and the reading 26 ± 2. As it stands r = 6 and V = 1² + (2·0.5)² = 2.
func TestOneReading(t *testing.T) {
	d := diagnosed(t, DiagnoseOptions{},
		"m.csv", "name,entry,reading,spread\na,10,,1\nb,2,,\ny,=a*b,26,2\n",
		"s.csv", "suspect,from,to,prior\nb,0,5,2\n")
	wantNear(t, "misfit", d.Misfit, 18, 1e-14)
	wantNear(t, "p", d.P, math.Erfc(3), 1e-12) // chi-square of one degree: |z| > √18 = 3·√2
	wantNear(t, "agreement", d.Readings[0].Agreement, 6/math.Sqrt(8), 1e-14)
	b := d.of(t, "b")
	u := math.Sqrt(1+1.3*1.3) / 10 // V at b = 2.6, and dy/db = 10
	wantNear(t, "fitted", b.Value, 2.6, 1e-12)
	// Possible are the b with (26 - 10 b)² up to 4 V(b), which is 99 b² - 520 b + 672 = 0.
	wantNear(t, "from", b.From, (520-math.Sqrt(4288))/198, 1e-8)
	wantNear(t, "to", b.To, (520+math.Sqrt(4288))/198, 1e-8)
	wantNear(t, "its spread", b.Spread, b.To-b.Value, 1e-12)
	wantNear(t, "explains", b.Explains, 1, 1e-12)
	// Weights by Bayes' rule, with u/5·√(2π) of the range left possible and all
	// priors against nothing being wrong.
	free := math.Exp(0) / math.Sqrt(1+1.3*1.3) * u / 5 * math.Sqrt(2*math.Pi)
	sound := math.Exp(-18./2) / math.Sqrt(2)
	wantNear(t, "weight", b.Weight, free/(free+sound), 1e-12)
	wantNear(t, "weight of nothing wrong", d.Sound, sound/(free+sound), 1e-12)
	if d.Finding != Explained {
		t.Errorf("finding: %v", d.Finding)
	}
}

// TestSharedDoubt has two readings whose computed values err together: V is
// [2 1; 1 2], so r = (3, 3) has a misfit of 6, and (3, -3) one of 18.
func TestSharedDoubt(t *testing.T) {
	const model = "name,entry,reading,spread\na,5,,2\ny,=a+0,8,2\nz,=a*1,Z,2\n"
	for z, want := range map[string]float64{"8": 6, "2": 18} {
		d := diagnosed(t, DiagnoseOptions{}, "m.csv", strings.ReplaceAll(model, "Z", z))
		wantNear(t, "misfit with z "+z, d.Misfit, want, 1e-13)
	}
	// The suspect's own spread stays out when it is freed: V is then 1.
	d := diagnosed(t, DiagnoseOptions{}, "m.csv", strings.ReplaceAll(model, "Z", "2"), "s.csv",
		"suspect,from,to\na,0,10\n")
	a := d.of(t, "a")
	wantNear(t, "fitted", a.Value, 5, 1e-12)
	wantNear(t, "its spread", a.Spread, 2/math.Sqrt(2), 1e-8)
	wantNear(t, "misfit", a.Misfit, 18, 1e-12)
	if d.Finding != Unexplained {
		t.Errorf("finding: %v", d.Finding)
	}
}

// TestWhatReadingsLeavePossible has a leak that empties a ram: 20 MPa fall to
// 20·exp(-leak) MPa in the minute that is waited. The gauge is good for ± 0.5 MPa,
// so a leak is possible while what it leaves is within that of the reading
// (closed form); a reading near 0 leaves every larger leak possible.
func TestWhatReadingsLeavePossible(t *testing.T) {
	for _, test := range []struct{ reading, from, to float64 }{
		{12, math.Log(20 / 12.5), math.Log(20 / 11.5)},
		{2, math.Log(20 / 2.5), math.Log(20 / 1.5)},
		{0.7, math.Log(20 / 1.2), math.Log(20 / 0.2)},
		{0.4, math.Log(20 / 0.9), 30},
		{0, math.Log(20 / 0.5), 30},
		{19.8, 0, math.Log(20 / 19.3)},
	} {
		d := diagnosed(t, DiagnoseOptions{}, "m.csv", "name,entry,unit,reading,spread\nleak,0.1,1,,\nstart,20,MPa,,\n"+
			fmt.Sprintf("left,start*exp(-leak),MPa,%v,0.5\n", test.reading), "s.csv", "suspect,from,to\nleak,0,30\n")
		f := d.of(t, "leak")
		what := fmt.Sprintf("reading %v: ", test.reading)
		wantNear(t, what+"from", f.From, test.from, 1e-7)
		wantNear(t, what+"to", f.To, test.to, 1e-7)
		wantNear(t, what+"spread", f.Spread, math.Max(f.To-f.Value, f.Value-f.From), 1e-9)
		if f.OpenTo != (test.to == 30) || f.OpenFrom != (test.from == 0) {
			t.Errorf("%sopen from %v, open to %v", what, f.OpenFrom, f.OpenTo)
		}
	}
}

// TestDoubtOfTables takes the spread of a looked-up cell into account as check
// does: its computed value is 40 ± 8, and 44 ± 6 lies 4 from it.
func TestDoubtOfTables(t *testing.T) {
	parts := []string{"m.csv", "name,entry,unit,reading,spread\ngrade,S1,text,,\ny,=steels[grade].strength/10,,44,6\n",
		"steels.csv", "grade,strength\n:unit,\n:spread,20 %\nS1,400\n"}
	d := diagnosed(t, DiagnoseOptions{}, parts...)
	wantNear(t, "spread of the computed value", d.Readings[0].Spread, checked(t, parts...).find(t, "y").Spread, 1e-12)
	wantNear(t, "misfit", d.Misfit, 16./(4*4+3*3), 1e-12)
}

// TestUnitsOfSuspects fits a temperature and a pressure, in units of their own.
func TestUnitsOfSuspects(t *testing.T) {
	d := diagnosed(t, DiagnoseOptions{},
		"m.csv", "name,entry,unit,reading,spread\nwarm,40,degC,,\npressure,20,MPa,,\narea,100,cm2,,\n"+
			"force,=pressure*area,kN,250,1 %\nrise,=warm - cold,K,30,2\ncold,20,degC,,1\n",
		"s.csv", "suspect,from,to,unit,next_check\nwarm,300,330,K,thermometer\npressure,200,300 bar,bar,gauge\n")
	p := d.of(t, "pressure")
	wantNear(t, "pressure", p.Value, 25, 1e-12)
	wantNear(t, "its spread", p.Spread, 0.25, 1e-12)
	wantNear(t, "as it stands", p.Nominal, 20, 1e-12)
	w := d.of(t, "warm")
	wantNear(t, "warm", w.Value, 50, 1e-12)
	wantNear(t, "its spread", w.Spread, math.Sqrt(5), 1e-12) // 2·√(1² + 0.5²)
	if d.Suspects[0].Suspect.Row.NextCheck.Text != "gauge" {
		t.Errorf("first comes %s", d.Suspects[0].Suspect.Quantity.Name)
	}
}

// TestHardShapes are models that mislead a search or a linear spread.
func TestHardShapes(t *testing.T) {
	for _, test := range []struct {
		name, model, suspects string
		suspect               string
		least, most           float64 // of the fitted value
		misfit                [2]float64
	}{
		{"two hollows, and the deeper one is far from the notebook's value",
			"x,1,,\ny,=x^2,9,0.1\nz,=x+0,-3,1\n", "x,-5,5\n", "x", -3.01, -2.99, [2]float64{0, 0.1}},
		{"a narrow hollow in a wide range",
			"x,0.001,,\ny,=x*1e6,1300,2\n", "x,0,1e4\n", "x", 0.00129999, 0.00130001, [2]float64{0, 1e-6}},
		{"nothing changes beyond a kink: the value that changes the notebook least",
			"x,2,,\ny,\"=min(x, 3)\",5,1\n", "x,0,10\n", "x", 2.99, 3.2, [2]float64{15.9, 16.1}},
		{"the best lies beyond the range",
			"x,2,,\ny,=x*1,9,1\n", "x,0,4\n", "x", 4, 4, [2]float64{99, 101}},
		{"a pole explains nothing: the time can only grow, but is short",
			"leak,1,,\nfast,10,,1\ntook,=40/(fast - leak),3,0.2\n", "leak,0.5,9.99\n", "leak", 0.5, 0.5,
			[2]float64{5, 300}},
		{"no answer in part of the range",
			"x,5,,\ny,=sqrt(x - 1),1,0.02\n", "x,-10,10\n", "x", 1.99, 2.01, [2]float64{0, 1e-6}},
		{"a jump",
			"x,1,,\ny,=x < 3 ? x : x + 4,5,1\n", "x,0,10\n", "x", 2.9, 3.1, [2]float64{0, 17}},
		{"nothing depends on it", "x,1,,\nv,3,,\ny,=v+0,5,1\n", "x,0,10\n", "x", 1, 1, [2]float64{15.9, 16.1}},
	} {
		d := diagnosed(t, DiagnoseOptions{}, "m.csv", "name,entry,reading,spread\n"+test.model, "s.csv",
			"suspect,from,to\n"+test.suspects)
		f := d.of(t, test.suspect)
		if !(test.least <= f.Value && f.Value <= test.most) ||
			!(test.misfit[0] <= f.Misfit && f.Misfit <= test.misfit[1]) {
			t.Errorf("%s: %s is %v ± %v, misfit %v of %v", test.name, test.suspect, f.Value, f.Spread, f.Misfit,
				d.Misfit)
		}
		if end := f.Value == 4 || f.Value == 0.5; f.AtEnd != end {
			t.Errorf("%s: at the end of its range: %v", test.name, f.AtEnd)
		}
	}
}

func TestWhatTakesPart(t *testing.T) {
	d := diagnosed(t, DiagnoseOptions{},
		"m.csv", `name,entry,unit,reading,spread
a,1,,,
b,,,,
c,2,,,1
y,=a+c,,3,1
bare,=a*2,,2,
open,=b+1,,3,1
other,=c*1,,2,1
arm,=a < 100 ? c : a,,2,1
planned,=a*1*mm,mm,,1
plain,=a*1,,,1
`, "s.csv", "suspect,from,to\na,0,3\nb,0,3\n")
	names := func(list []Reason) string {
		var out []string
		for _, r := range list {
			out = append(out, r.Quantity.Name+" "+r.Why)
		}
		return strings.Join(out, "; ")
	}
	if got, want := names(d.LeftOut), "bare its reading has no spread; open its computed value is open"; got != want {
		t.Errorf("left out: %s, expected %s", got, want)
	}
	if got, want := names(d.Unfreed), "b is open"; got != want {
		t.Errorf("not freed: %s, expected %s", got, want)
	}
	var untouched, planned []string
	for _, q := range d.Untouched {
		untouched = append(untouched, q.Name)
	}
	for _, q := range d.Planned {
		planned = append(planned, q.Name)
	}
	if got := strings.Join(untouched, " "); got != "other arm" {
		t.Errorf("no suspect changes %s", got)
	}
	if got := strings.Join(planned, " "); got != "planned plain" {
		t.Errorf("planned: %s", got)
	}
	if d.Finding != NothingWrong || d.Next != nil {
		t.Errorf("finding %v, next %v", d.Finding, d.Next)
	}
	none := diagnosed(t, DiagnoseOptions{}, "m.csv", "name,entry,unit,spread\na,1,mm,\ny,=a*1,mm,1\n", "s.csv",
		"suspect,from,to\na,0,3\n")
	if none.Finding != NoReadings || len(none.Planned) != 1 || Has(none.Misfit) {
		t.Errorf("without a reading: %+v", none)
	}
	corner := diagnosed(t, DiagnoseOptions{}, "m.csv",
		"name,entry,reading,spread\nx,0,,1\nz,1,,1\ny,=sqrt(x),3,1\nv,=z*1,1,1\n", "s.csv", "suspect,from,to\nx,0,3\n")
	if got, want := names(corner.LeftOut), "y the spread of its computed value cannot be computed here"; got != want ||
		len(corner.Readings) != 1 {
		t.Errorf("left out: %s, expected %s", got, want)
	}
	_, problems := compiled(t, "m.csv", "name,entry,reading,spread\na,0,,\ny,=1/a,3,1\n").Diagnose(DiagnoseOptions{})
	if len(problems) != 1 || !strings.Contains(problems[0].Message, "division by zero") {
		t.Errorf("division by zero: %v", problems)
	}
}

// TestNextReading is computed by hand. Both a and b explain y = a + b = 3; a is
// then 2 and z = a - b is 1, or b is 2 and z is -1, each ± 2·√(0.5² + 0.25²).
func TestNextReading(t *testing.T) {
	d := diagnosed(t, DiagnoseOptions{},
		"m.csv", "name,entry,unit,reading,spread\n"+
			"a,1,mm,,\n"+
			"b,1,mm,,\n"+
			"y,=a+b,mm,3,0.4\n"+
			"z,=a-b,mm,,0.5\n"+
			"w,=a+2*b,mm,,0.5\n",
		"s.csv", "suspect,from,to\na,0,5\nb,0,5\n")
	n := d.Next
	if n == nil || n.Quantity.Name != "z" {
		t.Fatalf("next reading: %+v", n)
	}
	spread := math.Hypot(0.4, 0.5)
	for i, want := range map[string]float64{"a": 1, "b": -1} {
		for _, p := range n.Predicts {
			if p.Suspect.Quantity.Name == i {
				wantNear(t, i+" predicts", p.Value, want, 1e-12)
				wantNear(t, "±", p.Spread, spread, 1e-12)
			}
		}
	}
	wantNear(t, "separates", n.Separates, 2/math.Hypot(spread, spread), 1e-12)
	if !d.Suspects[0].Leads || !d.Suspects[1].Leads {
		t.Error("the two are told apart")
	}
	// Where all hangs on the same difference, only rounding parts the predictions.
	d = diagnosed(t, DiagnoseOptions{},
		"m.csv", "name,entry,unit,reading,spread\n"+
			"flow,25,L/min,,\n"+
			"leak,2,L/min,,0.1\n"+
			"area,10,cm2,,\n"+
			"net,=flow - leak,L/min,20,0.3\n"+
			"speed,=net/area,mm/s,,0.5\n",
		"s.csv", "suspect,from,to\nflow,10,30\nleak,0,10\n")
	if d.Next != nil || len(d.Planned) != 1 || !d.Suspects[1].Leads {
		t.Errorf("of two that act alike the next reading is %+v", d.Next)
	}
	// A reading that is not sure enough to tell the two apart is none to take: here
	// the predictions are 2 mm apart, and each is ± 5 mm. Were it read with a gauge that
	// is as sure as the first, it would be.
	for _, test := range []struct {
		spread, next string
	}{{"5", ""}, {"0.5", "sample"}} {
		d = diagnosed(t, DiagnoseOptions{},
			"m.csv", "name,entry,unit,reading,spread\n"+
				"a,1,mm,,\n"+
				"b,1,mm,,\n"+
				"y,=a+b,mm,3,0.4\n"+
				"sample,=a-b,mm,,"+test.spread+"\n",
			"s.csv", "suspect,from,to\na,0,5\nb,0,5\n")
		got := ""
		if d.Next != nil {
			got = d.Next.Quantity.Name
		}
		if got != test.next {
			t.Errorf("with a sample that is sure to %s mm the next reading is %q, want %q", test.spread, got, test.next)
		}
	}
	// What is read with the gauge that is suspected cannot tell it from what it
	// reads: another gauge can.
	for _, test := range []struct {
		planned, next string
	}{{"again,setting,MPa,,,wide\n", ""}, {"beside,setting,MPa,,,other\n", "beside"}} {
		d = diagnosed(t, DiagnoseOptions{},
			"m.csv", "name,entry,unit,reading,spread,with\n"+
				"setting,20,MPa,,,\n"+
				"valve,setting*1,MPa,24,,wide\n"+
				"ram,setting*1,MPa,24,,wide\n"+
				test.planned, "gauges.csv", twoGauges, "s.csv", "suspect,from,to,unit\nsetting,10,30,MPa\n")
		got := ""
		if d.Next != nil {
			got = d.Next.Quantity.Name
		}
		if got != test.next || !d.Suspects[0].Leads || !d.Suspects[1].Leads {
			t.Errorf("%s: the next reading is %q, want %q", test.planned, got, test.next)
		}
	}
	// A doubt that a reading has settled already moves the next one with it: c is
	// 10 ± 4, and the reading says 12, so that twice c is near 24.
	d = diagnosed(t, DiagnoseOptions{},
		"m.csv", "name,entry,unit,reading,spread\n"+
			"c,10,mm,,4\n"+
			"a,1,mm,,\n"+
			"b,1,mm,,\n"+
			"read,=c*1,mm,12,0.001\n"+
			"y,=a+b,mm,3,0.4\n"+
			"twice,=2*c+a-b,mm,,0.5\n",
		"s.csv", "suspect,from,to\na,0,5\nb,0,5\n")
	for _, p := range d.Next.Predicts {
		if !near(math.Abs(p.Value-24), 1, 1e-5) || !near(p.Spread, spread, 1e-5) {
			t.Errorf("%s predicts %v ± %v", p.Suspect.Quantity.Name, p.Value, p.Spread)
		}
	}
}

// TestLinearModels holds fits of random linear models against generalised
// least squares in closed form, worked out with the inverse of V.
func TestLinearModels(t *testing.T) {
	rapid.Check(t, func(chance *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(chance, "readings")
		givens := rapid.IntRange(0, 4).Draw(chance, "givens")
		number := rapid.Map(rapid.IntRange(-30, 30), func(i int) float64 { return float64(i) / 10 })
		model := "name,entry,reading,spread\nx,1,,\n"
		doubts := make([]float64, givens) // standard uncertainties
		for i := range doubts {
			doubts[i] = rapid.Float64Range(0.1, 2).Draw(chance, "u")
			model += fmt.Sprintf("g%d_,2,,%v\n", i, 2*doubts[i])
		}
		v, jx, r := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
		slopes := mat.NewDense(n, givens+1, nil)
		for j := range n {
			jx.SetVec(j, number.Draw(chance, "by x"))
			formula := fmt.Sprintf("=%v*x", jx.AtVec(j))
			computed := jx.AtVec(j)
			for i := range givens {
				slope := number.Draw(chance, "by g")
				formula += fmt.Sprintf(" + %v*g%d_", slope, i)
				computed += slope * 2
				slopes.Set(j, i, slope*doubts[i])
			}
			u := rapid.Float64Range(0.1, 2).Draw(chance, "u of the reading")
			reading := number.Draw(chance, "reading")
			r.SetVec(j, reading-computed)
			v.Set(j, j, u*u)
			model += fmt.Sprintf("y%d_,%s,%v,%v\n", j, formula, reading, 2*u)
		}
		if mat.Norm(jx, 1) == 0 {
			chance.Skip("no reading depends on x")
		}
		var shared, inverse mat.Dense
		shared.Mul(slopes, slopes.T())
		v.Add(v, &shared)
		if err := inverse.Inverse(v); err != nil {
			chance.Fatal(err)
		}
		m, problems := Compile(files(t, "m.csv", model, "s.csv", "suspect,from,to\nx,-1e4,1e4\n"), Options{})
		if m == nil {
			chance.Fatal(told(problems))
		}
		d, problems := m.Diagnose(DiagnoseOptions{})
		if d == nil {
			chance.Fatal(told(problems))
		}
		info := mat.Inner(jx, &inverse, jx)
		x := 1 + mat.Inner(jx, &inverse, r)/info
		nominal := mat.Inner(r, &inverse, r)
		r.AddScaledVec(r, 1-x, jx)
		left := mat.Inner(r, &inverse, r)
		f := d.Suspects[0]
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"misfit", d.Misfit, nominal}, {"fitted", f.Value, x}, {"spread", f.Spread, 2 / math.Sqrt(info)},
			{"misfit left", f.Misfit, left},
		} {
			if math.Abs(c.got-c.want) > 1e-8*(1+math.Abs(c.want)+nominal) {
				chance.Fatalf("%s: got %v, expected %v\n%s", c.what, c.got, c.want, model)
			}
		}
	})
}

func TestPairs(t *testing.T) {
	d := diagnosed(t, DiagnoseOptions{Pairs: true},
		"m.csv", "name,entry,reading,spread\na,1,,\nb,1,,\nc,1,,\ny,=a*b,12,0.2\nz,=a-b,1,0.2\nv,=c^2,1.1,0.2\n",
		"s.csv", "suspect,from,to\na,0,9\nb,0,9\nc,0,9\n")
	if len(d.Pairs) != 3 {
		t.Fatalf("%d pairs", len(d.Pairs))
	}
	best := d.Pairs[0]
	if best.Suspects[0].Quantity.Name != "a" || best.Suspects[1].Quantity.Name != "b" {
		t.Errorf("the best pair is %s and %s", best.Suspects[0].Quantity.Name, best.Suspects[1].Quantity.Name)
	}
	wantNear(t, "a", best.Values[0], 4, 1e-9)
	wantNear(t, "b", best.Values[1], 3, 1e-9)
	wantNear(t, "misfit", best.Misfit, 1, 1e-9) // of v, which neither changes
	// J = [b a; 1 -1]/0.1 at (4, 3), so the variances are 0.01·(1² + 4²)/7² and 0.01·(1² + 3²)/7².
	wantNear(t, "spread of a", best.Spreads[0], 0.2*math.Sqrt(17)/7, 1e-9)
	wantNear(t, "spread of b", best.Spreads[1], 0.2*math.Sqrt(10)/7, 1e-9)
	alike := diagnosed(t, DiagnoseOptions{Pairs: true},
		"m.csv", "name,entry,reading,spread\na,1,,\nb,1,,\ny,=a+b,5,0.2\n", "s.csv",
		"suspect,from,to\na,0,4\nb,0,4\n").Pairs[0]
	wantNear(t, "sum of two that act alike", alike.Values[0]+alike.Values[1], 5, 1e-9)
	if Has(alike.Spreads[0]) || alike.Misfit > 1e-9 {
		t.Errorf("two that act alike: %+v", alike)
	}
}

// TestWorkedFaultsFound opens the worked examples, whose folders name the
// fault.
func TestWorkedFaultsFound(t *testing.T) {
	for _, test := range []struct {
		folder, given string
		worth         float64
	}{
		{"worn-pump", "pump_efficiency", 79},
		{"relief-drift", "setting", 21.7},
		{"ram-seal", "piston_leakage", 150},
	} {
		book, problems := sheets.Open(filepath.Join("..", "testdata", "faults", test.folder))
		if len(problems) > 0 {
			t.Fatal(told(problems))
		}
		m, problems := Compile(book, Options{})
		if m == nil {
			t.Fatal(told(problems))
		}
		d, problems := m.Diagnose(DiagnoseOptions{Pairs: true})
		if d == nil {
			t.Fatal(told(problems))
		}
		found := d.of(t, test.given)
		if !found.Leads || d.Finding != Explained {
			t.Errorf("%s: %s explains it best, finding %v", test.folder, d.Suspects[0].Suspect.Quantity.Name, d.Finding)
		}
		if math.Abs(found.Value-test.worth) > 1.5*found.Spread {
			t.Errorf("%s: fitted %v ± %v, made with %v", test.folder, found.Value, found.Spread, test.worth)
		}
		for _, p := range d.Pairs {
			for _, s := range p.Suspects {
				if f := d.of(t, s.Quantity.Name); p.Misfit > 1.01*f.Misfit+1 {
					t.Errorf("%s: %s and %s leave a misfit of %v, %s alone %v", test.folder,
						p.Suspects[0].Quantity.Name, p.Suspects[1].Quantity.Name, p.Misfit, s.Quantity.Name, f.Misfit)
				}
			}
		}
	}
}

// TestRangesOfTheMachine: a range in percent of the value is right for a machine of
// any size: the valve of each has drifted to 80 %, and the gauge shows 5 % of its span
// too much.
func TestRangesOfTheMachine(t *testing.T) {
	for _, setting := range []float64{3, 12, 25, 32, 300} {
		model := fmt.Sprintf("name,entry,unit,reading,spread,with\n"+
			"setting,%[1]v,MPa,,,\n"+
			"force,setting*100*cm2,kN,%[2]v,1 %%,\n"+
			"valve,setting*1,MPa,READ,,wide\nram,setting*0.9,MPa,RAM,,wide\n", setting, 8*setting)
		gauges := fmt.Sprintf("gauge,class,span,step\n:unit,,,\nwide,1.6,%v MPa,%v MPa\n", 1.6*setting, setting/50)
		const suspects = "suspect,from,to\n" +
			"setting,60 % of value,125 % of value\n" +
			"gauge wide,-7.5 % of span,7.5 % of span\n"
		drifted := strings.NewReplacer("READ", fmt.Sprint(0.8*setting), "RAM", fmt.Sprint(0.72*setting)).Replace(model)
		d := diagnosed(t, DiagnoseOptions{}, "m.csv", drifted, "gauges.csv", gauges, "s.csv", suspects)
		f := d.Suspects[0]
		if f.Suspect.Quantity.Name != "setting" || f.AtEnd || !near(f.Value, 0.8*setting, 0.01) ||
			d.Finding != Explained {
			t.Errorf("set at %v MPa: %s %v", setting, f.Suspect.Quantity.Name, f.Value)
		}
		off := 0.05 * 1.6 * setting
		shown := strings.NewReplacer("READ", fmt.Sprint(setting+off), "RAM", fmt.Sprint(0.9*setting+off),
			fmt.Sprint(8*setting), fmt.Sprint(10*setting)).Replace(model)
		d = diagnosed(t, DiagnoseOptions{}, "m.csv", shown, "gauges.csv", gauges, "s.csv", suspects)
		f = d.Suspects[0]
		if f.Suspect.Quantity.Name != "gauge wide" || f.AtEnd || !near(f.Value, off, 0.02) {
			t.Errorf("gauge of a press set at %v MPa: %s %v, expected %v", setting, f.Suspect.Quantity.Name, f.Value,
				off)
		}
	}
	none := diagnosed(t, DiagnoseOptions{}, "m.csv", "name,entry,reading,spread\nslip,0,,\ny,slip+1,2,0.1\n", "s.csv",
		"suspect,from,to\nslip,0,400 % of value\n")
	if len(none.Suspects) != 0 || len(none.Unfreed) != 1 || none.Finding != Unexplained {
		t.Errorf("a part of nothing: %+v", none)
	}
	// A given that every case states has a range from the least to the largest of them.
	m := compiled(t, "m.csv", "name,entry,unit,spread\nsetting,,MPa,\nforce,setting*100*cm2,kN,1 % of value\n", "s.csv",
		"suspect,from,to\nsetting,60 % of value,125 % of value\n",
		"visits.csv", "visit,setting,force\n:unit,MPa,kN\nsmall,10,80\nlarge,30,240\n")
	d, problems := m.DiagnoseCases("visits")
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	for i, want := range []float64{8, 24} {
		if found := d.Cases[i].Found; len(found) != 1 || !near(found[0].Value, want, 1e-6) {
			t.Errorf("case %d: %+v, expected %v", i, found, want)
		}
	}
}

func TestSuspectSheet(t *testing.T) {
	const model = "name,entry,unit\nsetting,25,MPa\nleak,3,L/min\nword,oil,text\nforce,=setting*2*cm2,kN\nopen,,MPa\n"
	for _, test := range []struct{ rows, want string }{
		{"setting,20,30,MPa,1", ""},
		{"setting,200,300 bar,bar,", ""},
		{"setting,20,30,,", ""},
		{"open,20,30,,", ""},
		{"seting,20,30,MPa,1", "s.csv:2:1: no quantity is named `seting` (did you mean `setting`?)"},
		{"force,20,30,kN,1", "s.csv:2:1: force is a formula, and a suspect is a given that may be off " +
			"(name one of the givens it is computed from)"},
		{"word,20,30,,1", "s.csv:2:1: word is a text, and a suspect is a number that may be off"},
		{"setting,30,20,MPa,1", "s.csv:2:9: from 30 is not below to 20 (swap them, or widen the range)"},
		{"setting,20,20,MPa,1", "s.csv:2:9: from 20 is not below to 20"},
		{"setting,20,30,L/min,1", "s.csv:2:15: the range is a flow, but setting is in MPa " +
			"(correct the unit, or leave it blank for that of the quantity)"},
		{"setting,20,30 L,MPa,1", "s.csv:2:12: 30 L is a volume, but the row is in MPa"},
		{"setting,,30,MPa,1", "suspect setting has no `from`"},
		{"setting,20,,MPa,1", "suspect setting has no `to`"},
		{"setting,=20,30,MPa,1", "a formula stands where a number is needed"},
		{"setting,20,30,MPA,1", "s.csv:2:15"},
		{"setting,60 % of value,30,MPa,1", ""},
		{"open,60 % of value,125 % of value,MPa,1", ""},
		{"setting,125 % of value,60 % of value,MPa,1", "from 125 % of value is not below to 60 % of value"},
		{"setting,60 of value,30,MPa,1", "s.csv:2:9: `60 of value` is no part of a value (write it as 60 % of value)"},
		{"setting,60 bar of value,30,MPa,1", "`60 bar of value` is no part of a value"},
		{"setting,60 % of span,30,MPa,1", "s.csv:2:14: unexpected `of span`"},
		{"setting,20,30,MPa,0", "s.csv:2:19: a prior is relative odds above 0, found 0"},
		{"setting,20,30,MPa,-1", "a prior is relative odds above 0, found -1"},
		{"setting,20,30,MPa,much", "`much` is not a number"},
		{"setting,20,30,MPa,1\nsetting,10,30,MPa,1", "s.csv:3:1: setting is a suspect already in s.csv, line 2"},
	} {
		m, problems := Compile(files(t, "m.csv", model, "s.csv", "suspect,from,to,unit,prior\n"+test.rows+"\n"),
			Options{})
		got := ""
		for _, p := range problems {
			got += p.Error()
			if p.Hint != "" {
				got += " (" + p.Hint + ")"
			}
		}
		if (test.want == "") != (got == "") || !strings.Contains(got, test.want) {
			t.Errorf("%s: got %q, expected %q", test.rows, got, test.want)
		}
		if test.want == "" && len(m.Suspects) != 1 {
			t.Errorf("%s: %d suspects", test.rows, len(m.Suspects))
		}
	}
	// All of them are told in one run.
	_, problems := Compile(files(t, "m.csv", model, "s.csv",
		"suspect,from,to,unit,prior\nseting,20,30,MPa,1\nforce,1,2,kN,0\nleak,3,2,L/min,x\n"), Options{})
	if len(problems) != 5 {
		t.Errorf("%d problems, expected 5:\n%s", len(problems), told(problems))
	}
	// A value outside its range is worth a warning, unless it was only put in for the run.
	for set, want := range map[string]int{"": 1, "setting = 33 MPa": 0} {
		var sets []string
		if set != "" {
			sets = []string{set}
		}
		m, problems := Compile(files(t, "m.csv", model, "s.csv", "suspect,from,to\nsetting,10,20\n"),
			Options{Sets: sets})
		if m == nil {
			t.Fatal(told(problems))
		}
		if len(m.Warnings) != want {
			t.Errorf("with %q: %d warnings, expected %d", set, len(m.Warnings), want)
		}
	}
}
