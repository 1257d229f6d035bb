package calc

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// bestBook is a ram: what it weighs against what it bears, in closed form.
const bestBook = `name,entry,unit,spread,low,high
bore,120,mm,,50,200
pressure,20,MPa,,5,28
wall,8,mm,,,
kind,plain,text,,,
area,pi/4*bore^2,cm2,,,
force,pressure*area,kN,3 kN,300,
oil,area*1*m,L,,,
cost,oil/L + 2*pressure/MPa + (kind == 'plain' ? 0 : 5),,,,
waste,abs(bore - 120*mm)/mm,,,,
gap,measured_gap + bore/100,mm,,,10 mm
measured_gap,,mm,,,
`

const sizesSheet = `size,bore_size,wall_size,style
:unit,mm,in,
a,80,0.25,plain
b,125,0.25,plain
c,160,0.5,heavy
d,,0.5,heavy
`

func TestBest(t *testing.T) {
	m := compiled(t, "ram.csv", bestBook, "sizes.csv", sizesSheet)
	// bore as small as 300 kN at 28 MPa allow; then cost = area·1 m/L + 2·p/MPa with area = 300 kN/p has its
	// least where d/dp (300/p + 2p) = 0 with p in MPa (1 kN/MPa = 10 cm2 = 1 L of oil per m): p = √150.
	for _, c := range []struct {
		names string
		opt   BestOptions
		want  []float64
		value float64
		binds string
	}{
		{"pressure", BestOptions{Goal: "force", Most: true}, []float64{28}, 28e6 * math.Pi / 4 * 0.0144 / 1e3,
			"pressure high 28: 11.31"},
		{"bore", BestOptions{Goal: "oil"}, []float64{1e3 * math.Sqrt(4*300e3/20e6/math.Pi)}, 15, "force low 300: 0.05"},
		{"bore pressure", BestOptions{Goal: "cost"},
			[]float64{1e3 * math.Sqrt(4*300e3/(math.Sqrt(150)*1e6)/math.Pi), math.Sqrt(150)}, 2 * math.Sqrt(600),
			"force low 300: 0.08165"},
		{"bore", BestOptions{Goal: "oil", Within: []string{"bore = 100 to 160 mm"}},
			[]float64{1e3 * math.Sqrt(4*300e3/20e6/math.Pi)}, 15, "force low 300: 0.05"},
		{"bore", BestOptions{Goal: "oil", Within: []string{"bore = 15 to 30 cm"}}, []float64{150},
			10 * math.Pi / 4 * 2.25, "bore low 150: 0.2356"},
		{"bore", BestOptions{Goal: "oil", Within: []string{"force = 400 to 450 kN"}},
			[]float64{1e3 * math.Sqrt(4*400e3/20e6/math.Pi)}, 20, "force low 400: 0.05"},
		{"bore", BestOptions{Goal: "waste"}, []float64{120 /* force is not enough there */}, 18.197672,
			"force low 300: 0.2303"},
		{"bore", BestOptions{Goal: "oil", Within: []string{"bore = 100, 125, 160, 180 mm"}}, []float64{160},
			10 * math.Pi / 4 * 2.56, ""},
		{"bore", BestOptions{Goal: "oil", Within: []string{"bore = sizes.bore_size"}}, []float64{160},
			10 * math.Pi / 4 * 2.56, ""},
		{"bore pressure", BestOptions{Goal: "cost", Within: []string{"bore = sizes.bore_size"}},
			[]float64{160, 300e3 / (math.Pi / 4 * 0.0256) / 1e6}, 10*math.Pi/4*2.56 + 2*300e3/(math.Pi/4*0.0256)/1e6,
			"force low 300: 0.09947"},
		{"pressure kind", BestOptions{Goal: "cost", Within: []string{"kind = heavy, plain"}},
			[]float64{300e3 / (math.Pi / 4 * 0.0144) / 1e6}, 10*math.Pi/4*1.44 + 2*300e3/(math.Pi/4*0.0144)/1e6,
			"force low 300: 0.1768"},
		// a reading's spread is none of the value
		{"bore", BestOptions{Goal: "oil", Sure: true}, []float64{1e3 * math.Sqrt(4*300e3/20e6/math.Pi)}, 15,
			"force low 300: 0.05"},
	} {
		if strings.HasPrefix(c.binds, "force low 300: 0.2303") { // |bore - 120 mm| where force allows
			c.want[0] = 1e3 * math.Sqrt(4*300e3/20e6/math.Pi)
			c.value = c.want[0] - 120
		}
		got, problems := m.Best(strings.Fields(c.names), c.opt)
		if got == nil {
			t.Errorf("best %s %+v: %s", c.names, c.opt, told(problems))
			continue
		}
		if !(math.Abs(got.Value-c.value) <= 1e-6*math.Max(1, math.Abs(c.value))) {
			t.Errorf("best %s %+v: %.10g, want %.10g", c.names, c.opt, got.Value, c.value)
		}
		for i, want := range c.want {
			if !near(got.Choices[i].Value, want, 1e-5) {
				t.Errorf("best %s %+v: %s = %.9g, want %.9g", c.names, c.opt, got.Choices[i].Quantity.Name,
					got.Choices[i].Value, want)
			}
		}
		binds := ""
		if len(got.Binding) > 0 {
			b := &got.Binding[0]
			binds = fmt.Sprintf("%s %s %.6g: %.4g", b.Quantity.Name, map[bool]string{true: "low", false: "high"}[b.Low],
				b.Limit, b.Price)
		}
		if binds != c.binds {
			t.Errorf("best %s %+v binds at %q, want %q", c.names, c.opt, binds, c.binds)
		}
		if asked := strings.Contains(c.names, "kind"); asked && got.Choices[1].Text != "plain" {
			t.Errorf("best %s: kind is %q", c.names, got.Choices[1].Text)
		}
	}
	// The limit of gap is left out, since the gap is open; that of the force cannot be kept.
	small, _ := Compile(files(t, "ram.csv", bestBook), Options{Sets: []string{"bore = 100 mm"}})
	got, problems := small.Best([]string{"pressure"}, BestOptions{Goal: "force", Most: true})
	if got == nil {
		t.Fatal(told(problems))
	}
	if Has(got.Value) || len(got.Broken) != 1 || !near(got.Broken[0].Price, 300-28e3*math.Pi/4*0.01, 1e-6) {
		t.Errorf("limits that cannot be kept: value %g, broken %+v", got.Value, got.Broken)
	}
	got, _ = m.Best([]string{"bore"}, BestOptions{Goal: "oil"})
	if len(got.Unjudged) != 1 || got.Unjudged[0].Name != "gap" {
		t.Errorf("left out %v, want gap", got.Unjudged)
	}
}

func TestBestRefuses(t *testing.T) {
	m := compiled(t, "ram.csv", bestBook, "sizes.csv", sizesSheet)
	for _, c := range []struct {
		names string
		opt   BestOptions
		want  string
	}{
		{"bore", BestOptions{Goal: "pressure"}, "pressure is a given"},
		{"area", BestOptions{Goal: "force"}, "area is computed"},
		{"pressure", BestOptions{Goal: "oil"}, "oil does not depend on pressure"},
		{"wall", BestOptions{Goal: "force", Within: []string{"wall = 1 to 2 mm"}}, "force does not depend on wall"},
		{"kind", BestOptions{Goal: "cost"}, "kind is a text"},
		{"bore", BestOptions{Goal: "oil", Within: []string{"bore 100 mm"}}, "no `=`"},
		{"bore", BestOptions{Goal: "oil", Within: []string{"bore = 100 to 200 kN"}}, "a force"},
		{"bore", BestOptions{Goal: "oil", Within: []string{"bore = 300 to 400 mm"}}, "within the limits of bore"},
		{"bore", BestOptions{Goal: "oil", Within: []string{"pressure = 5 to 6 MPa"}}, "pressure is not chosen here"},
		{"bore", BestOptions{Goal: "oil", Within: []string{"bore = sizes.style"}}, "`plain` is not a number"},
		{"bore", BestOptions{Goal: "oil", Within: []string{"bore = sizes.nothing"}}, "nothing"},
		{"bore bore", BestOptions{Goal: "oil"}, "named twice"},
		{"bore", BestOptions{Goal: "nothing"}, "no quantity is named `nothing`"},
	} {
		got, problems := m.Best(strings.Fields(c.names), c.opt)
		if text := told(problems); got != nil || !strings.Contains(text, c.want) {
			t.Errorf("best %s %+v: %q, want %q", c.names, c.opt, text, c.want)
		}
	}
	if got, _ := m.Best([]string{"bore"}, BestOptions{Goal: "gap", Most: true}); got == nil || got.Failure == nil ||
		!strings.Contains(got.Failure.Message, "measured_gap") {
		t.Errorf("an open goal: %+v", got)
	}
}

// Against exhaustive sweeps of 100 random models: what Sweep finds on a fine
// grid is no better, where all limits are kept.
func TestBestAgainstSweeps(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 5))
	room := 0
	for trial := range 100 {
		number := func() string { return fmt.Sprintf("%.3f", random.NormFloat64()) }
		formula := func() string {
			return fmt.Sprintf("%s*x/m + %s*y/m + %s*x*y/m^2 + %s*(x/m)^2 + %s*(y/m)^2 + sin((%s*x/m + %s*y/m)*rad)",
				number(), number(), number(), number(), number(), number(), number())
		}
		book := "name,entry,unit,low,high\nx,1,m,0,2\ny,1,m,-1,2\ngoal," + formula() + ",,,\n"
		limits := trial % 3
		for i := range limits {
			side := ",-0.5,"
			if random.IntN(2) == 0 {
				side = ",,0.5"
			}
			book += fmt.Sprintf("keeps_%d,%s,%s\n", i, formula(), side)
		}
		m := compiled(t, "random.csv", book)
		names, over := []string{"x", "y"}, []string{"x = 0 to 2 in 400 steps", "y = -1 to 2 in 400 steps"}
		if trial%2 == 1 {
			names, over = names[:1], []string{"x = 0 to 2 in 20000 steps"}
		}
		show := []string{"goal"}
		for i := range limits {
			show = append(show, fmt.Sprintf("keeps_%d", i))
		}
		most := trial%4 < 2
		sweep, problems := m.Sweep(over, show)
		if sweep == nil {
			t.Fatal(told(problems))
		}
		best, low, high := math.Inf(1), math.Inf(1), math.Inf(-1)
		_, _ = sweep.Run(context.Background(), 0, func(*Rows) {}, func(r *Rows) error {
			for i := range r.N {
				v := r.Show[0][i]
				if most {
					v = -v
				}
				low, high = math.Min(low, v), math.Max(high, v)
				kept := true
				for k := range limits {
					q := m.Quantity(show[1+k])
					x := r.Show[1+k][i]
					kept = kept && (!q.hasLow() || x >= -0.5) && (!q.hasHigh() || x <= 0.5)
				}
				if kept {
					best = math.Min(best, v)
				}
			}
			return nil
		})
		got, problems := m.Best(names, BestOptions{Goal: "goal", Most: most})
		if got == nil {
			t.Fatalf("trial %d: %s\n%s", trial, told(problems), book)
		}
		if math.IsInf(best, 1) {
			continue
		}
		room++
		value := got.Value
		if most {
			value = -value
		}
		if !(value <= best+1e-6*(high-low)) {
			t.Errorf("trial %d: found %.9g, the sweep %.9g\n%s", trial, value, best, book)
		}
		if got.At.Verdict == Fail {
			t.Errorf("trial %d: what was found fails: %+v", trial, got.At.Values)
		}
	}
	if room < 70 {
		t.Errorf("only %d models have a choice that keeps all limits", room)
	}
}
