package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"rambook/calc/tape"
	"rambook/units"
)

// TestSpread gives small models and the spread of x.
func TestSpread(t *testing.T) {
	tests := []struct {
		rows string
		unit string
		want float64
	}{
		{"a,3,mm,0.4\nx,=a,mm,", "mm", 0.4},
		{"a,3,mm,0.4\nx,=a + a,mm,", "mm", 0.8}, // a shared input counts once
		{"a,3,mm,0.4\nx,=a*a,mm^2,", "mm^2", 2 * 3 * 0.4},
		{"a,3,mm,0.4\nx,=a^2,mm^2,", "mm^2", 2 * 3 * 0.4},
		{"a,3,mm,0.4\nx,=a - a,mm,", "mm", 0}, // exactly
		{"a,3,mm,0.4\nx,=a/a,,", "", 0},
		{"a,3,mm,0.3\nb,4,mm,0.4\nx,=a + b,mm,", "mm", 0.5},
		{"a,3,mm,0.3\nb,4,mm,0.4\nx,=a - b,mm,", "mm", 0.5},
		{"a,3,mm,10 %\nx,=2*a,mm,", "mm", 0.6},
		{"a,-3,mm,10 %\nx,=2*a,mm,", "mm", 0.6},
		{"a,50,%,2\nx,=a,,", "", 0.02},         // points of percent
		{"a,50,degC,2\nx,=a,degC,", "degC", 2}, // a spread of a temperature is a difference
		{"a,50,degC,1 K\nx,=a,degF,", "degF", 1.8},
		{"a,3,mm,=b/10\nb,4,mm,\nx,=a,mm,", "mm", 0.4},
		{"a,3,mm,100 um\nx,=a,mm,", "mm", 0.1},
		{"a,3,mm,0.3\nb,4,mm,0.4\nx,\"=min(a, b)\",mm,", "mm", 0.3},
		{"a,3,mm,0.3\nb,4,mm,0.4\nx,\"=max(a, b)\",mm,", "mm", 0.4},
		{"a,3,mm,0.3\nb,4,mm,0.4\nx,=a > b ? a : 2*b,mm,", "mm", 0.8},
		{"a,-3,mm,0.3\nx,=abs(a),mm,", "mm", 0.3},
		{"a,4,mm^2,0.4\nx,=sqrt(a),mm,", "mm", 0.1},
		{"a,4,mm^2,0.4\nx,=a^0.5,mm,", "mm", 0.1},
		{"a,2,mm,0.1\nx,=a^3,mm^3,", "mm^3", 1.2},
		{"a,0,,0.1\nx,=a^0,,", "", 0}, // 1 whatever a is
		{"a,0,,0.1\nx,=a^(1 - 1),,", "", 0},
		{"a,2,,0.1\nb,3,,0.2\nx,=a^b,,", "", math.Hypot(3*4*0.1, 8*math.Ln2*0.2)},
		{"a,2,,0.1\nb,4,,0.1\nx,=a/b,,", "", math.Hypot(0.1/4, 2*0.1/16)},
		{"a,2,mm,0.1\nb,4,mm,0.1\nx,\"=atan2(a, b)/rad\",,", "", math.Hypot(4*0.1/20, 2*0.1/20)},
	}
	for _, test := range tests {
		r := checked(t, "a.csv", "name,entry,unit,spread\n"+test.rows+"\n")
		j := r.find(t, "x")
		if got := j.Spread; math.Abs(got-test.want) > 1e-12*math.Max(1, test.want) && !(test.want == 0 && !Has(got)) {
			t.Errorf("%s: spread %v, expected %v", strings.ReplaceAll(test.rows, "\n", "; "), got, test.want)
		}
		if got := told(r.Warnings); strings.Contains(got, "cannot be told") {
			t.Errorf("%s: %s", strings.ReplaceAll(test.rows, "\n", "; "), got)
		}
	}
}

// TestLookUpSpread carries the spread of a table's column through look-ups: by
// derivatives, by sampling, case by case, and into the shares.
func TestLookUpSpread(t *testing.T) {
	m := compiled(t, "a.csv", `name,entry,unit
grade,S235,text
area,10,mm^2
of_grade,=materials[grade].strength,MPa
twice,=materials[grade].strength + materials[grade].strength,MPa
gone,=materials[grade].strength - of_grade,MPa
force,=of_grade*area,N
other,"=materials[""S355""].strength",MPa
hardest,=max(materials.hardness),
average,=mean(materials.hardness),
`, "materials.csv", "grade,strength,hardness\n:unit,MPa,\n:spread,5 %,3\nS235,400,120\nS355,500,160\n",
		"jobs.csv", "job,grade,force\n:unit,,N\none,S235,\ntwo,S355,\n")
	r, problems := m.Check(CheckOptions{Samples: 100_000, Seed: 3})
	if r == nil {
		t.Fatal(told(problems))
	}
	for name, want := range map[string]float64{"of_grade": 20, "twice": 40, "force": 200, "other": 25, "hardest": 3} {
		j := r.find(t, name)
		if math.Abs(j.Spread-want) > 1e-12*want {
			t.Errorf("%s: spread %v, expected %v", name, j.Spread, want)
		}
		if half := (j.SampledHigh - j.SampledLow) / 2; math.Abs(half-want) > 0.03*want {
			t.Errorf("%s: sampled spread %v, expected about %v", name, half, want)
		}
	}
	if s := r.find(t, "gone").Spread; s != 0 && Has(s) {
		t.Errorf("a difference of one cell with itself has spread %v", s)
	}
	for i, want := range []float64{200, 250} {
		if got := r.Cases[0].Cases[i].Values[0].Spread; math.Abs(got-want) > 1e-9 {
			t.Errorf("case %d: spread %v, expected %v", i, got, want)
		}
	}
	d, _ := m.Explain("force", func(v float64, u units.Unit, typed bool) string { return fmt.Sprint(v) })
	if len(d.Shares) != 1 || d.Shares[0].Name != "materials[S235].strength" || d.Shares[0].Spread != 20 {
		t.Errorf("shares %+v", d.Shares)
	}
	if len(m.Warnings) > 0 {
		t.Errorf("warnings %s", told(m.Warnings))
	}
}

// TestDerivatives compares the derivatives on the tape with central
// differences, on 10,000 random expressions.
func TestDerivatives(t *testing.T) {
	g := generator{rand.New(rand.NewPCG(3, 4)), true}
	rows := "name,entry,unit,spread\n"
	for _, v := range variables {
		rows += fmt.Sprintf("%s,%v,%s,1\n", v.name, v.value, v.unit)
	}
	const count = 10_000
	var sheet strings.Builder
	sheet.WriteString("name,entry,unit\n")
	for i := range count {
		d := pick(g, variables...)
		fmt.Fprintf(&sheet, "e%d,\"=%s\",%s\n", i, g.number(d.dim, 4), d.unit)
	}
	m := compiled(t, "v.csv", rows, "e.csv", sheet.String())
	var roots, inputs []tape.Register
	for i := range count {
		roots = append(roots, m.Quantity(fmt.Sprintf("e%d", i)).value)
	}
	for _, v := range variables {
		inputs = append(inputs, m.Quantity(v.name).value)
	}
	ext := m.tape.Extend()
	s := tape.Differentiate(ext, m.seeds(), roots)
	values := ext.Once(nil)
	// Central differences of two steps, extrapolated, for every input.
	numeric := make([]map[tape.Register]float64, count)
	doubt := make([]map[tape.Register]float64, count)
	for i := range numeric {
		numeric[i], doubt[i] = map[tape.Register]float64{}, map[tape.Register]float64{}
	}
	for k, in := range inputs {
		at := func(h float64) []float64 { return m.tape.Once(map[tape.Register]float64{in: variables[k].value + h}) }
		const h = 1e-3
		near, far := [2][]float64{at(h), at(-h)}, [2][]float64{at(2 * h), at(-2 * h)}
		for i, r := range roots {
			d1, d2 := (near[0][r]-near[1][r])/(2*h), (far[0][r]-far[1][r])/(4*h)
			numeric[i][in] = (4*d1 - d2) / 3
			doubt[i][in] = math.Abs(d1-d2)*0.05 + 1e-8*(math.Abs(values[r])+math.Abs(d1)) + 1e-9
		}
	}
	compared := 0
	for i, r := range roots {
		exact := map[tape.Register]float64{}
		for _, term := range s.Terms[r] {
			exact[term.Input] = values[term.Part]
		}
		for _, in := range inputs {
			if !tape.Usable(numeric[i][in]) || doubt[i][in] > 1e-2*math.Abs(numeric[i][in])+1e-6 {
				continue // too curved or too large for differences to tell
			}
			compared++
			if math.Abs(exact[in]-numeric[i][in]) > doubt[i][in] {
				t.Errorf("%s: derivative %v, by differences %v", m.Quantity(fmt.Sprintf("e%d", i)).Formula, exact[in],
					numeric[i][in])
			}
		}
	}
	if compared < 6*count {
		t.Errorf("only %d derivatives could be compared", compared)
	}
}

// TestSampling compares twice the sampled standard deviation with the spread
// by derivatives on linear models, where both must agree, and checks that the
// answer does not depend on the number of workers.
func TestSampling(t *testing.T) {
	g := rand.New(rand.NewPCG(5, 6))
	var rows strings.Builder
	rows.WriteString("name,entry,unit,spread\n")
	terms := make([]string, 8)
	for i := range terms {
		fmt.Fprintf(&rows, "a%d,%.3f,,%.3f\n", i, 10*g.Float64(), g.Float64())
		terms[i] = fmt.Sprintf("%.2f*a%d", 4*g.Float64()-2, i)
	}
	for i := range 6 {
		g.Shuffle(len(terms), func(a, b int) { terms[a], terms[b] = terms[b], terms[a] })
		fmt.Fprintf(&rows, "x%d,=%s,,\n", i, strings.Join(terms[:2+i], " + "))
	}
	m := compiled(t, "a.csv", rows.String())
	const samples = 200_000
	var first *Report
	for _, workers := range []int{1, 2, 3} {
		r, problems := m.Check(CheckOptions{Samples: samples, Seed: 7, workers: workers})
		if r == nil {
			t.Fatal(told(problems))
		}
		if first == nil {
			first = r
		}
		for i := range 6 {
			name := fmt.Sprintf("x%d", i)
			j, same := r.find(t, name), first.find(t, name)
			if !Has(j.SampledMean) || j.SampledMean != same.SampledMean || j.SampledLow != same.SampledLow ||
				j.SampledHigh != same.SampledHigh {
				t.Errorf("%s on %d workers: %v to %v, on one %v to %v", name, workers, j.SampledLow, j.SampledHigh,
					same.SampledLow, same.SampledHigh)
			}
			// Standard error of a quantile at ±2σ: sqrt(p(1-p)/n)/density = 2.76 σ/√n; of half the
			// distance of two nearly independent ones, 1.96 σ/√n. σ is half the spread.
			half, bound := (j.SampledHigh-j.SampledLow)/2, 3*1.96*j.Spread/2/math.Sqrt(samples)+j.Spread/2/512
			if math.Abs(half-j.Spread) > bound {
				t.Errorf("%s: sampled half-width %v, spread %v, at most %v apart", name, half, j.Spread, bound)
			}
			if bound := 3 * j.Spread / 2 / math.Sqrt(samples); math.Abs(j.SampledMean-j.Value) > bound {
				t.Errorf("%s: sampled mean %v, value %v, at most %v apart", name, j.SampledMean, j.Value, bound)
			}
		}
		if len(r.Warnings) > 0 {
			t.Errorf("linear models are warned of:\n%s", told(r.Warnings))
		}
	}
}

// TestSamplingTells gives models whose sampled interval differs from the
// derivatives' one, and one in which samples have no result.
func TestSamplingTells(t *testing.T) {
	m := compiled(t, "a.csv", `name,entry,unit,spread
a,0.1,,1
square,=a^2,,
root,=sqrt(a),,
larger,"=max(a, 0.2)",,
`)
	r, problems := m.Check(CheckOptions{Samples: 100_000, Seed: 1})
	if r == nil {
		t.Fatal(told(problems))
	}
	all := withHints(r.Warnings)
	for _, want := range []string{"a.csv:3:9: square: sampling gives", "a.csv:4:7: root: ", "samples have no result",
		"a.csv:5:10: larger: sampling gives"} {
		if !strings.Contains(all, want) {
			t.Errorf("no warning says %q:\n%s", want, all)
		}
	}
}

// TestKinks warns where a corner lies within the spread, and not elsewhere.
func TestKinks(t *testing.T) {
	tests := []struct {
		rows   string
		warned string
	}{
		{"a,3,mm,0.4\nx,\"=max(a, 3.1*mm)\",mm,", "max"},
		{"a,3,mm,0.4\nx,\"=max(a, 3.5*mm)\",mm,", ""},
		{"a,3,mm,0.4\nx,=a > 3.1*mm ? a : 2*a,mm,", "this comparison"},
		{"a,3,mm,0.4\nx,=a > 4*mm ? a : 2*a,mm,", ""},
		{"a,0.1,mm,0.4\nx,=abs(a),mm,", "abs"},
		{"a,1.4,,0.2\nx,=round(a),,", "round"},
		{"a,1.2,,0.2\nx,=round(a),,", ""},
		{"a,1.9,,0.2\nx,=floor(a),,", "floor"},
		{"a,3,mm,\nx,\"=max(a, 3*mm)\",mm,", ""}, // no spread
	}
	for _, test := range tests {
		r := checked(t, "a.csv", "name,entry,unit,spread\n"+test.rows+"\n")
		got := told(r.Warnings)
		if (got == "") != (test.warned == "") || !strings.Contains(got, "corner of "+test.warned) && test.warned != "" {
			t.Errorf("%s: warnings %q, expected one of %q", strings.ReplaceAll(test.rows, "\n", "; "), got, test.warned)
		}
	}
}

// TestCancellation warns where a difference loses its digits, and not where it
// is 0, held to limits or sound.
func TestCancellation(t *testing.T) {
	r := checked(t, "a.csv", `name,entry,unit,low,high
a,1,m,,
b,=a + 1e-14*m,m,,
lost,=b - a,m,,
again,=2*(b - a)/m,,,
balance,=b - a,m,-1,1
nought,=a - a,m,,
sound,=a - 0.99*m,m,,
`)
	want := "a.csv:4:7: nearly equal numbers cancel here: of 16 digits about 2 are left\n" +
		"a.csv:5:11: nearly equal numbers cancel here: of 16 digits about 2 are left\n"
	if got := told(r.Warnings); got != want {
		t.Errorf("got\n%sexpected\n%s", got, want)
	}
}

// TestVerdicts judges values by the rules of JCGM 106:2012, 8.3.
func TestVerdicts(t *testing.T) {
	nan := math.NaN()
	tests := []struct {
		value, spread, low, high float64
		want                     Verdict
	}{
		{10, nan, nan, nan, NoVerdict},
		{10, nan, 9, nan, Pass},
		{10, nan, 11, nan, Fail},
		{10, nan, 10, nan, Pass}, // a limit counts as inside
		{10, nan, 10 * (1 + 1e-13), nan, Pass},
		{10, nan, 10 * (1 + 1e-11), nan, Fail},
		{10, 1, 9, nan, Pass},
		{10, 1, 9.5, nan, Unsure},
		{10, 1, 10.5, nan, Unsure},
		{10, 1, 11, nan, Unsure}, // value + spread is on the limit, so not wholly below
		{10, 1, 11.1, nan, Fail},
		{10, 1, nan, 11, Pass},
		{10, 1, nan, 9.5, Unsure},
		{10, 1, nan, 8.9, Fail},
		{10, 1, 8, 12, Pass},
		{10, 3, 8, 12, Unsure},
		{10, 0, 8, 9, Fail},
		{-10, 1, -12, -8, Pass},
		{0, 0, 0, 0, Pass},
	}
	for _, test := range tests {
		v := interval{test.value, test.low, test.high, test.spread, test.spread}
		if got := v.verdict(); got != test.want {
			t.Errorf("%v ± %v in %v to %v: got %q, expected %q", test.value, test.spread, test.low, test.high, got,
				test.want)
		}
	}
}

// TestLimitsWithSpread judges value - limit, with shared inputs counted once.
func TestLimitsWithSpread(t *testing.T) {
	r := checked(t, "a.csv", `name,entry,unit,spread,low,high
a,100,kN,10,,
shared,=1.05*a,kN,,=a,
apart,=1.05*a,kN,,=b,
b,100,kN,10,,
above,=0.95*a,kN,,,=a
`)
	for _, test := range []struct {
		name string
		want Verdict
	}{{"shared", Pass}, {"apart", Unsure}, {"above", Pass}} {
		if got := r.find(t, test.name).Verdict; got != test.want {
			t.Errorf("%s: got %v, expected %v", test.name, got, test.want)
		}
	}
}

// TestReadings judges the reading where there is one, and compares it.
func TestReadings(t *testing.T) {
	r := checked(t, "a.csv", `name,entry,unit,reading,spread,low,high
a,100,kN,,4,,
agrees,=a,kN,104,3,100,
differs,=a,kN,106,3,100,
bare,=b,kN,95,,100,
b,100,kN,,,,
share,=a,kN,110,10 %,100,
missing,,kN,,,,
waits,=missing,kN,110,5,100,
`)
	tests := []struct {
		name      string
		agreement float64
		verdict   Verdict
	}{
		{"agrees", 0.8, Pass}, {"differs", 1.2, Pass}, {"bare", math.NaN(), Fail},
		{"share", 10 / math.Hypot(11, 4), Unsure}, {"waits", math.NaN(), Pass},
	}
	for _, test := range tests {
		j := r.find(t, test.name)
		if j.Verdict != test.verdict || Has(j.Agreement) != Has(test.agreement) ||
			math.Abs(j.Agreement-test.agreement) > 1e-12 {
			t.Errorf("%s: %v, agreement %v; expected %v, %v", test.name, j.Verdict, j.Agreement, test.verdict,
				test.agreement)
		}
	}
}

// TestSubject: what a verdict is about comes with its own spread, and the two
// are never mixed.
func TestSubject(t *testing.T) {
	r := checked(t, "a.csv", "name,entry,unit,reading,spread\n"+
		"a,100,kN,,4\n"+
		"read,=a,kN,104,3\n"+
		"bare,=a,kN,104,\n"+
		"computed,=a,kN,,3\n"+
		"missing,,kN,,\n")
	for _, tc := range []struct {
		name           string
		number, spread float64
		read           bool
	}{
		{"a", 100, 4, false}, {"read", 104, 3, true}, {"bare", 104, math.NaN(), true}, {"computed", 100, 4, false},
		{"missing", math.NaN(), math.NaN(), false},
	} {
		same := func(a, b float64) bool { return a == b || !Has(a) && !Has(b) }
		if number, spread, read := r.find(t, tc.name).Subject(); !same(number, tc.number) || !same(spread, tc.spread) ||
			read != tc.read {
			t.Errorf("%s: %v ± %v, read: %v", tc.name, number, spread, read)
		}
	}
}

// TestNoAllocations holds the engine to its promise: nothing is allocated per case.
func TestNoAllocations(t *testing.T) {
	for _, spread := range []bool{false, true} {
		_, p := pressProgram(t, spread)
		w, fill := p.NewWorker(tape.BlockSize), fillPress(pressColumns(inputCases))
		if n := testing.AllocsPerRun(100, func() { w.Run(0, tape.BlockSize, fill) }); n > 0 {
			t.Errorf("spread %v: %v allocations in a block", spread, n)
		}
	}
}

// What cancels in a sum over a whole cycle leaves no spread but that of rounding, which
// is none: the sum is 0 by its definition, whatever each part of it is sure to (JCGM 100,
// 5.2.2 with correlation 1). A sum up to a row before the last keeps its own.
func TestCancelledSums(t *testing.T) {
	r := checked(t, "1-a.csv", "name,entry,unit,spread\nflow,,L/min,\nstep,1,s,\nuse,0,L/min,\n"+
		"level,total((flow - list.use)*list.step),L,\nnet,(flow - use)*step,L,\nleft,sum(list.net),L,\n"+
		"most,max(list.level),L,\nleast,min(list.level),L,\n",
		"2-u.csv", "unknown,from,to,unit,until\nflow,0,100,L/min,left = 0*L\n",
		"list.csv", "row,step,use,net,level\n:unit,s,L/min,L,L\n:spread,0.05,3 %,,\na,1.2,38,,\nb,3,26,,\nc,4.5,2,,\n"+
			"d,0.8,55,,\ne,5,0,,\n")
	for _, name := range []string{"left", "most"} {
		if j := r.find(t, name); j.Spread != 0 || math.Abs(j.Value) > 1e-12 {
			t.Errorf("%s: %g ± %g, want 0 without a spread", name, j.Value, j.Spread)
		}
	}
	x := []float64{1.2, 3, 4.5, 0.8, 5, 38, 26, 2, 55, 0} // times, s, and uses, L/min
	least := func() float64 {                             // L, after the second row
		var taken, time float64
		for i := range 5 {
			taken, time = taken+x[i]*x[5+i]/60, time+x[i]
		}
		return taken/time*(x[0]+x[1]) - x[0]*x[5]/60 - x[1]*x[6]/60
	}
	squares, at := 0.0, least()
	for i := range x {
		spread := 0.05
		if i >= 5 {
			spread = 0.03 * x[i]
		}
		const step = 1e-6
		x[i] += step
		squares += math.Pow((least()-at)/step*spread, 2)
		x[i] -= step
	}
	if j := r.find(t, "least"); !near(j.Spread, math.Sqrt(squares), 1e-5) || !near(j.Value, at, 1e-12) {
		t.Errorf("least: %g ± %g, want %g ± %g", j.Value, j.Spread, at, math.Sqrt(squares))
	}
	cases := r.Cases[0].Cases
	for i, want := range []bool{true, true, true, true, false} {
		if level := &cases[i].Values[1]; (level.Spread > 0.02) != want {
			t.Errorf("%s: level %g ± %g", cases[i].Name, level.Value, level.Spread)
		}
	}
	// A row that is open keeps only the sums open that it is in.
	r = checked(t, "1-a.csv", "name,entry,unit,spread\nuse,,L/min,\nlevel,total(list.use*1*s - 1*L),L,\n",
		"list.csv", "row,use,level\n:unit,L/min,L\n:spread,1,\na,60,\nb,,\n")
	if got, want := r.Cases[0].Cases[0].Values[0].Spread, 1.0/60; !near(got, want, 1e-9) {
		t.Errorf("before an open row: ± %g, want %g", got, want)
	}
}
