package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// TestSolveTogether asks for several givens. The wanted values are closed forms,
// worked out here; spreads by hand from them.
func TestSolveTogether(t *testing.T) {
	bore := 1e3 * math.Sqrt(2*0.09/math.Pi) // mm: two rams of together 900 cm2
	for _, tc := range []struct {
		names, untils, between []string
		want                   string
	}{
		{[]string{"setting", "bore"}, []string{"force = 900 kN", "area = 900 cm2"}, nil,
			fmt.Sprintf("setting %.7g, bore %.7g", 10.0, bore)},
		{[]string{"bore", "setting"}, []string{"area = 900 cm2", "force = 900"}, nil,
			fmt.Sprintf("bore %.7g, setting %.7g", bore, 10.0)},
		{[]string{"setting", "bore", "level"}, []string{"force = 900 kN", "area = 900 cm2", "level + bore = 300 mm"},
			nil,
			fmt.Sprintf("setting %.7g, bore %.7g, level %.7g", 10.0, bore, 300-bore)},
		// A sum and a product: the two roots of x² - 400 x + 30000, in both orders.
		{[]string{"bore", "level"}, []string{"bore + level = 400 mm", "bore*level = 300 cm2"},
			[]string{"bore = 10 to 1000 mm", "level = 1 to 100 cm"}, "bore 100, level 300; bore 300, level 100"},
		{[]string{"bore", "level"}, []string{"bore + level = 400 mm", "bore*level = 300 cm2"},
			[]string{"bore = 200 to 1000 mm"}, "bore 300, level 100"},
		{[]string{"setting", "bore"}, []string{"force = 900 kN", "area = 100 m2"}, nil, "none, closest"},
		{[]string{"setting", "bore"}, []string{"force = 900 kN", "reserve = -10 %"}, nil,
			"`force = 900 kN` and `reserve = -10 %` move together, so they are one condition on setting and bore and " +
				"cannot fix both"},
		{[]string{"setting", "bore"}, []string{"force = 900 kN", "force = 900 kN"}, nil,
			"`force = 900 kN` and `force = 900 kN` move together, so they are one condition on setting and bore and " +
				"cannot fix both"},
		{[]string{"setting", "level"}, []string{"force = 900 kN", "setting = 10 MPa"}, nil,
			"no condition depends on level"},
		{[]string{"setting", "bore"}, []string{"force = 900 kN", "warm = 50 degC"}, nil,
			"`warm = 50 degC` depends on none of setting and bore"},
		{[]string{"setting", "wait"}, []string{"force = 900 kN", "stroke_time*0 + nowhere*1*s = 1 s"},
			[]string{"wait = 1 to 2 s"},
			"cannot: square root of a negative number"},
		{[]string{"setting", "setting"}, []string{"force = 900 kN", "area = 900 cm2"}, nil, "setting is named twice"},
		{[]string{"setting", "mode"}, []string{"force = 900 kN", "area = 900 cm2"}, nil, "mode is a text"},
		{[]string{"setting", "force"}, []string{"force = 900 kN", "area = 900 cm2"}, nil,
			"GIVEN: force is computed and cannot be changed itself"},
		{[]string{"setting", "bore"}, []string{"force = 900 kN"}, nil, "2 givens for 1 condition"},
		{[]string{"setting"}, []string{"force = 900 kN", "area = 900 cm2"}, nil, "1 given for 2 conditions"},
		{[]string{"setting", "unset"}, []string{"force = 900 kN", "unset = 9 mm"}, nil,
			"unset has no range to look in"},
		{[]string{"setting", "bore"}, []string{"force = 900 kN", "area = 900 mm"}, nil,
			"--until: the left side is an area, the right side a length"},
		{[]string{"setting", "bore"}, []string{"force = 900 kN", "area = 900 cm2"}, []string{"5 to 30 MPa"},
			"--between: a range needs the name of its given here"},
		{[]string{"setting", "bore"}, []string{"force = 900 kN", "area = 900 cm2"}, []string{"level = 5 to 30 mm"},
			"--between: `level` is not looked for"},
		{[]string{"setting", "bore"}, []string{"force = 900 kN", "area = 900 cm2"},
			[]string{"setting = 5 to 30 MPa", "setting = 1 to 2 MPa"}, "--between: setting has two ranges"},
		{[]string{"level", "bore"}, []string{"bore + level = 400 mm", "bore*level = 300 cm2"},
			[]string{"bore = 10 to 1000 mm", "level = 1 to 100 cm"}, "level 100, bore 300; level 300, bore 100"},
	} {
		m := compiled(t, "base.csv", solveBook)
		solved, problems := m.SolveTogether(tc.names, tc.untils, tc.between)
		got := ""
		if solved == nil {
			got = problems[0].Error()
		} else {
			got = togetherText(solved)
		}
		if got != tc.want {
			t.Errorf("solve %s until %s\n got %s\nwant %s", tc.names, tc.untils, got, tc.want)
		}
	}
}

func togetherText(s *Together) string {
	var list []string
	for _, one := range s.Solutions {
		var parts []string
		for k, x := range one.Values {
			parts = append(parts, fmt.Sprintf("%s %.7g", s.Givens[k].Quantity.Name, x))
		}
		list = append(list, strings.Join(parts, ", "))
	}
	switch {
	case len(list) > 0:
		return strings.Join(list, "; ")
	case s.Failure != nil:
		return "cannot: " + s.Failure.Message
	case s.Closest != nil:
		return "none, closest"
	}
	return fmt.Sprint("cannot: ", s.Needs)
}

// TestTogetherSpreads holds the spreads of both givens to how far they move when
// another given moves by its own spread, the model solved again: with a single
// doubtful given that is the spread, and two of them add as squares (JCGM 100).
func TestTogetherSpreads(t *testing.T) {
	const book = `name,entry,unit,spread,low,high
setting,25,MPa,1,1,100
bore,170,mm,0.1,10,500
rams,2,,%s,,
friction,0.05,,%s,,
force,rams*pi/4*bore^2*setting*(1 - friction),kN,,,
speed,20*L/min/(rams*pi/4*bore^2),mm/s,,,
`
	ask := func(rams, friction string, set ...string) []float64 {
		text := fmt.Sprintf(book, rams, friction)
		for i := 0; i < len(set); i += 2 {
			text = strings.Replace(text, set[i], set[i+1], 1)
		}
		s, problems := compiled(t, "base.csv", text).SolveTogether([]string{"setting", "bore"},
			[]string{"force = 900 kN", "speed = 8 mm/s"}, nil)
		if s == nil || len(s.Solutions) != 1 {
			t.Fatal(told(problems), s)
		}
		one := s.Solutions[0]
		return append(append([]float64{}, one.Values...), one.Spreads...)
	}
	// The annulus is fixed by the speed, so the setting does not depend on the number
	// of rams, and the bore not on the friction.
	const step = 1e-5
	base := ask("0.02", "0.01")
	rams := ask("0.02", "0.01", "rams,2,", fmt.Sprintf("rams,%v,", 2+step))
	friction := ask("0.02", "0.01", "friction,0.05,", fmt.Sprintf("friction,%v,", 0.05+step))
	for k, name := range []string{"setting", "bore"} {
		byRams, byFriction := (rams[k]-base[k])/step*0.02, (friction[k]-base[k])/step*0.01
		want := math.Hypot(byRams, byFriction)
		if math.Abs(base[2+k]-want) > 1e-4*want {
			t.Errorf("spread of %s is %v, moving the others makes %v", name, base[2+k], want)
		}
	}
	if closed := base[1] / 2 * 0.02 / 2; math.Abs(base[3]-closed) > 1e-9*closed { // bore ~ rams^(-1/2)
		t.Errorf("spread of bore is %v, the closed form is %v", base[3], closed)
	}
	if closed := base[0] * 0.01 / 0.95; math.Abs(base[2]-closed) > 1e-9*closed { // setting ~ 1/(1 - friction)
		t.Errorf("spread of setting is %v, the closed form is %v", base[2], closed)
	}
}

// TestTogetherFindsAll draws pairs of equations whose solutions are known: sums
// and products of powers, built round a solution, have one or the two of a
// quadratic equation.
func TestTogetherFindsAll(t *testing.T) {
	r := rand.New(rand.NewPCG(28, 11))
	missed := 0
	for range 200 {
		a, b := math.Exp(2*r.Float64()-1), math.Exp(2*r.Float64()-1)
		p, q := 0.5+2*r.Float64(), 0.5+2*r.Float64()
		text := "name,entry,unit,low,high\nx,1,,0.01,20\ny,1,,0.01,20\n" +
			"one," + literal(p) + "*x + y,,,\ntwo,x^" + literal(q) + "*y,,,\n"
		m := compiled(t, "base.csv", text)
		s, problems := m.SolveTogether([]string{"x", "y"}, []string{"one = " + literal(p*a+b),
			"two = " + literal(math.Pow(a, q)*b)}, nil)
		if s == nil {
			t.Fatal(told(problems))
		}
		found := false
		for _, one := range s.Solutions {
			x, y := one.Values[0], one.Values[1]
			found = found || math.Abs(x-a) < 1e-6*a && math.Abs(y-b) < 1e-6*b
			if math.Abs(p*x+y-p*a-b) > 1e-9*(p*a+b) || math.Abs(math.Pow(x, q)*y/math.Pow(a, q)/b-1) > 1e-9 {
				t.Errorf("%v, %v is no solution of %s", x, y, text)
			}
		}
		if !found {
			missed++
			t.Logf("p %v, q %v: (%v, %v) is not among %s", p, q, a, b, togetherText(s))
		}
	}
	if missed > 0 {
		t.Errorf("%d of 200 were missed", missed)
	}
}

// TestSolutionsRise finds solutions of a wave one after the other from the left: sin x
// is a half at pi/6 and 5 pi/6, and again after each whole turn.
func TestSolutionsRise(t *testing.T) {
	m := compiled(t, "base.csv", solveBook)
	solved, problems := m.SolveTogether([]string{"bore", "level"},
		[]string{"sin(bore/(20*mm)*rad) = 0.5", "bore + level = 700 mm"},
		[]string{"bore = 0 to 600 mm", "level = 1 to 1000 mm"})
	if solved == nil {
		t.Fatal(problems)
	}
	var got, want []float64
	for i := range solved.Solutions {
		got = append(got, solved.Solutions[i].Values[0])
	}
	for turn := 0.0; turn < 600; turn += 2 * math.Pi * 20 {
		want = append(want, turn+math.Pi/6*20, turn+5*math.Pi/6*20)
	}
	for len(want) > 0 && want[len(want)-1] > 600 {
		want = want[:len(want)-1]
	}
	if len(got) != len(want) {
		t.Fatalf("%d solutions %v, want %d %v", len(got), got, len(want), want)
	}
	for i := range want {
		if math.Abs(got[i]/got[0]-want[i]/want[0]) > 1e-6 {
			t.Errorf("solution %d is %v, want %v (in mm)", i, got, want)
			break
		}
	}
}
