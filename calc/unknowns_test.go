package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"

	"rambook/units"
)

// heatBook is a heat balance: the oil's temperature feeds on its own heat.
const heatBook = `name,entry,unit,reading,spread
air,25,degC,,2
power,5,kW,,0.2
loss,0.5,kW,,0.05
area,3,m2,,0.1
coefficient,15,W/m2/K,,1
oil,,degC,60,0.5
hot,=oil - air,K,,
heat_in,=0.2*power + loss*exp(hot/(90*K)),kW,,
heat_out,=area*coefficient*hot,kW,,
`

// oilOf is the oil's temperature of heatBook in degC, by bisection.
func oilOf(air, power, loss, area, coefficient float64) float64 {
	lo, hi := air, air+60
	for range 200 {
		mid := (lo + hi) / 2
		if 0.2*power+loss*math.Exp((mid-air)/90) > area*coefficient*(mid-air) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// TestHeatBalance finds the oil's temperature and holds it to a bisection of
// the balance and to central differences of that.
func TestHeatBalance(t *testing.T) {
	at := []float64{25, 5000, 500, 3, 15}
	spreads := []float64{2, 200, 50, 0.1, 1}
	of := func() float64 { return oilOf(at[0], at[1], at[2], at[3], at[4]) }
	want, variance := of(), 0.0
	for k, s := range spreads {
		h, keep := s*1e-4, at[k]
		at[k] = keep + h
		up := of()
		at[k] = keep - h
		variance += math.Pow((up-of())/(2*h)*s, 2)
		at[k] = keep
	}
	m := compiled(t, "a.csv", heatBook, "u.csv", "unknown,from,to,unit,until\noil,20,90,degC,heat_in = heat_out\n",
		"days.csv", "day,air,oil,hot\n:unit,degC,degC,K\ncool,10,,\nsame,,61,\nhot,40,,\n")
	r, problems := m.Check(CheckOptions{Samples: 50_000, Seed: 5})
	if r == nil {
		t.Fatal(told(problems))
	}
	oil := r.find(t, "oil")
	if !near(oil.Value, want, 1e-12) || !near(oil.Spread, math.Sqrt(variance), 1e-6) {
		t.Errorf("oil is %v ± %v, expected %v ± %v", oil.Value, oil.Spread, want, math.Sqrt(variance))
	}
	if half := (oil.SampledHigh - oil.SampledLow) / 2; !near(half, oil.Spread, 0.03) {
		t.Errorf("sampled ± %v, derivatives ± %v", half, oil.Spread)
	}
	if oil.Reading != 60 || !near(oil.Agreement, (60-want)/math.Hypot(0.5, oil.Spread), 1e-9) &&
		!near(oil.Agreement, (want-60)/math.Hypot(0.5, oil.Spread), 1e-9) {
		t.Errorf("reading %v, E_n %v", oil.Reading, oil.Agreement)
	}
	for i, air := range []float64{10, 25, 40} {
		c := r.Cases[0].Cases[i]
		if got := c.Values[0]; !near(got.Value, oilOf(air, 5000, 500, 3, 15), 1e-12) {
			t.Errorf("%s: oil is %v, expected %v", c.Name, got.Value, oilOf(air, 5000, 500, 3, 15))
		}
	}
	if c := r.Cases[0].Cases[1].Values[0]; c.Reading != 61 {
		t.Errorf("the case's reading is %v", c.Reading)
	}
	// the heat depends on how much hotter the oil is than the air
	for name, inputs := range map[string]int{"oil": 5, "heat_in": 4} {
		d, problems := m.Explain(name, func(v float64, _ units.Unit, _ bool) string { return fmt.Sprint(v) })
		if d == nil {
			t.Fatal(told(problems))
		}
		total := 0.0
		for _, s := range d.Shares {
			total += s.Share
		}
		if !near(total, 1, 1e-9) || len(d.Shares) != inputs {
			t.Errorf("%s: shares %+v", name, d.Shares)
		}
	}
}

// TestUnknownSwept holds the unknown to the bisection over a sweep of more cases
// than are looked over, in which neighbours start from each other, on any number
// of cores; and in what solve finds. Swept or set itself, it is no unknown.
func TestUnknownSwept(t *testing.T) {
	sheet := []string{"a.csv", heatBook, "u.csv", "unknown,from,to,unit,until\noil,20,90,degC,heat_in = heat_out\n"}
	m := compiled(t, sheet...)
	for _, workers := range []int{1, 3} {
		rows, failures := swept(t, m, workers, []string{"air = 0 to 50 in 2000 steps degC"},
			[]string{"oil", "heat_out"})
		if len(rows) != 2001 || failures.Cases > 0 {
			t.Fatalf("%d rows, %+v", len(rows), failures)
		}
		for i, row := range rows {
			var oil, heat float64
			if _, err := fmt.Sscan(row[strings.Index(row, "degC")+len("degC"):], &oil, &heat); err != nil {
				t.Fatal(row, err)
			}
			want := oilOf(float64(i)/40, 5000, 500, 3, 15)
			if !near(oil, want, 1e-5) || !near(heat, 3*15*(want-float64(i)/40)/1000, 1e-5) {
				t.Fatalf("%s: oil is %v, expected %v", row, oil, want)
			}
		}
	}
	solved, problems := m.Solve("coefficient", "oil = 60 degC", "")
	if solved == nil || len(solved.Solutions) != 1 ||
		!near(oilOf(25, 5000, 500, 3, solved.Solutions[0].Value), 60, 1e-9) {
		t.Errorf("solve: %+v %s", solved, told(problems))
	}
	given, problems := Compile(files(t, sheet...), Options{Sets: []string{"oil = 50 degC"}})
	if given == nil {
		t.Fatal(told(problems))
	}
	if rows, _ := swept(t, given, 1, []string{"air = 20, 30 degC"}, []string{"heat_out"}); len(rows) != 2 ||
		!strings.HasSuffix(rows[0], " 1.35") || !strings.HasSuffix(rows[1], " 0.9") {
		t.Errorf("oil set to 50 degC: %q", rows)
	}
}

// TestUnknownInRows: computed columns find the unknown anew in every row.
func TestUnknownInRows(t *testing.T) {
	r := checked(t, "a.csv", heatBook+"hottest,=max(days.oil),degC,,\n", "u.csv",
		"unknown,from,to,unit,until\noil,20,120,degC,heat_in = heat_out\n",
		"days.csv", "day,air,oil\n:unit,degC,degC\ncool,10,\nsame,,\nhot,40,\n")
	worst := 0.0
	for _, c := range r.Cases[0].Cases {
		worst = math.Max(worst, c.Values[0].Value)
	}
	if got := r.find(t, "hottest").Value; !near(got, worst, 1e-12) || !(worst > r.find(t, "oil").Value+10) {
		t.Errorf("hottest is %v, the cases' is %v", got, worst)
	}
}

// TestRandomSystems solves 200 random systems of one to four unknowns: linear
// ones against gonum's solver, bent ones against the values that they were made
// from, and spreads against gonum's inverse; of one system in fifty against
// sampling too, and of all with RAMBOOK_LONG=1.
func TestRandomSystems(t *testing.T) {
	g := rand.New(rand.NewPCG(21, 22))
	for k := range 200 {
		n := 1 + k%4
		a := mat.NewDense(n, n, nil)
		x := make([]float64, n)
		for i := range n {
			x[i] = 2 + 6*g.Float64()
			for j := range n {
				a.Set(i, j, 2*g.Float64()-1)
			}
			a.Set(i, i, 3+g.Float64())
		}
		bent := k%2 == 1
		f := func(v float64) float64 {
			if bent {
				return v * v
			}
			return v
		}
		right, slopes := make([]float64, n), mat.NewDense(n, n, nil)
		model, rows := "name,entry,spread\n", "unknown,from,to,until\n"
		for i := range n {
			var terms []string
			for j := range n {
				right[i] += a.At(i, j) * f(x[j])
				slope := a.At(i, j)
				power := ""
				if bent {
					slope *= 2 * x[j]
					power = "^2"
				}
				slopes.Set(i, j, slope)
				terms = append(terms, fmt.Sprintf("%v*x_%d%s", a.At(i, j), j+1, power))
			}
			model += fmt.Sprintf("x_%d,,\nb_%d,%v,0.01\nleft_%d,=%s,\n", i+1, i+1, right[i], i+1,
				strings.Join(terms, " + "))
			rows += fmt.Sprintf("x_%d,1,10,left_%d = b_%d\n", i+1, i+1, i+1)
		}
		opt := CheckOptions{}
		if k/4%50 == 0 || os.Getenv("RAMBOOK_LONG") != "" {
			opt.Samples, opt.Seed = 10_000, uint64(k)
		}
		r, problems := compiled(t, "a.csv", model, "u.csv", rows).Check(opt)
		if r == nil {
			t.Fatal(told(problems))
		}
		var inverse mat.Dense
		if err := inverse.Inverse(slopes); err != nil {
			t.Fatal(err)
		}
		for i := range n {
			got := r.find(t, fmt.Sprintf("x_%d", i+1))
			variance := 0.0
			for j := range n {
				variance += math.Pow(inverse.At(i, j)*0.01, 2)
			}
			if !near(got.Value, x[i], 1e-10) || !near(got.Spread, math.Sqrt(variance), 1e-8) {
				t.Errorf("system %d: x_%d is %v ± %v, expected %v ± %v", k, i+1, got.Value, got.Spread, x[i],
					math.Sqrt(variance))
			}
			// Half a spread's quantile of 10,000 samples is itself off by about 1 %.
			if half := (got.SampledHigh - got.SampledLow) / 2; opt.Samples > 0 &&
				!near(half, math.Sqrt(variance), 0.06) {
				t.Errorf("system %d: x_%d is sampled ± %v, expected ± %v", k, i+1, half, math.Sqrt(variance))
			}
		}
	}
}

// TestUnknownFaults: what cannot be found says why, and where.
func TestUnknownFaults(t *testing.T) {
	const model = "name,entry,unit\nx,,mm\ny,=x^2,mm^2\ngap,3,mm\nkind,a,text\nz,=x + 1*mm,mm\n"
	for _, test := range []struct{ row, want string }{
		{"x,-5,5,mm,y = 4*mm^2", "x: from -5 mm to 5 mm finds several solutions: x -2 mm, or x 2 mm; narrow its range"},
		{"x,-5,5,mm,y = 40*mm^2", "x: from -5 mm to 5 mm no value makes both sides equal; " +
			"nearest at x -5 mm, where `y` is 25 mm^2 and `40*mm^2` is 40 mm^2"},
		{"nix,0,5,mm,y = 4*mm^2", "no quantity is named `nix`"},
		{"gap,0,5,mm,y = 4*mm^2", "gap has the entry `3`, and an unknown is blank"},
		{"kind,0,5,mm,y = 4*mm^2", "kind is not a number, so it cannot be an unknown"},
		{"x,5,0,mm,y = 4*mm^2", "from 5 is not below to 0"},
		{"x,0,,mm,y = 4*mm^2", "unknown x has no `to`"},
		{"x,0,5,MPa,y = 4*mm^2", "x is in mm, which cannot be given in MPa"},
		{"x,0,5,mm,", "unknown x has no `until`"},
		{"x,0,5,mm,y", "two sides with `=` between them are needed"},
		{"x,0,5,mm,y = gap", "the left side is an area, the right side a length"},
		{"x,0,5,mm,y = nix", "`nix` is neither a number nor the name of a row"},
		{"x,0,5,mm,y = 4*mm^2\nx,0,5,mm,z = 4*mm", "x is an unknown already in u.csv, line 2"},
	} {
		m, problems := Compile(files(t, "a.csv", model, "u.csv", "unknown,from,to,unit,until\n"+test.row+"\n"),
			Options{})
		if m != nil {
			_, problems = m.Check(CheckOptions{})
		}
		if got := told(problems); !strings.Contains(got, test.want) {
			t.Errorf("%s: got\n%s\nexpected\n%s", test.row, got, test.want)
		}
	}
}
