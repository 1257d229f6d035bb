package calc

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// solveBook is a small press for the forms of the question.
const solveBook = `name,entry,unit,spread,low,high
setting,25,MPa,0.5,5,28
bore,170,mm,0.1,,
count,2,,,,
level,300,mm,,,
oil,45,degC,,,
oil_limit,60,degC,,,
due,2026-05-04,date,,,
mode,pump,text,,,
wait,,s,,,
unset,,mm,,,
area,=count*pi/4*bore^2,cm2,,,
force,=setting*area,kN,,900,
reserve,=force/(1000*kN) - 1,%,,,
valve,"=min(setting, 21*MPa)",MPa,,,21
loss,=(bore - 100*mm)^2,cm2,,,
warm,=oil + 5*K,degC,,,
ready,=due + wait,date,,,
stroke_time,=wait + 1*s,s,,,
step,=setting < 15*MPa ? 1 : 3,,,,
inverse,=1*mm/(bore - 100*mm),,,,
root_of,=sqrt(bore/mm - 200),,,,
nowhere,=sqrt(0 - bore/mm),,,,
`

// TestSolve asks in all forms. Solutions are in the given's unit, with the
// spread that follows by hand.
func TestSolve(t *testing.T) {
	area := 2 * math.Pi / 4 * 0.17 * 0.17
	at900 := 900e3 / area / 1e6
	for _, tc := range []struct {
		name, until, between string
		want                 string // values, or what is said
	}{
		{"setting", "force = 900 kN", "", fmt.Sprintf("%.9g ± %.3g", at900, at900*2*0.1/170)},
		{"setting", "900*kN = force", "", fmt.Sprintf("%.9g ± %.3g", at900, at900*2*0.1/170)},
		{"setting", "force = 900", "", fmt.Sprintf("%.9g ± %.3g", at900, at900*2*0.1/170)},
		{"setting", "force - 900*kN = 0", "", fmt.Sprintf("%.9g ± %.3g", at900, at900*2*0.1/170)},
		{"setting", "force/area = 150 bar", "", "15"}, // the bore cancels out
		{"setting", "reserve = 10 %", "", "24.2312024 ± 0.0285"},
		{"setting", "reserve = 10", "", "24.2312024 ± 0.0285"},
		{"setting", "reserve = 0.1*1", "", "24.2312024 ± 0.0285"},
		{"setting", "setting = 1000 psi", "", "6.89475729"},
		{"bore", "force = 900 kN", "", fmt.Sprintf("%.9g ± %.3g", 1e3*math.Sqrt(900e3/25e6*2/math.Pi),
			1e3*math.Sqrt(900e3/25e6*2/math.Pi)/2*0.5/25)},
		{"bore", "loss = 16 cm2", "", "60 140"},
		{"bore", "loss = 0", "", "100 touch"},
		{"bore", "loss + 1*cm2 = 0", "", "none; closest 100: 0.0001 0"},
		{"bore", "loss = 1e-9 m2", "90 to 99 mm", "none; closest 99: 0.01 1e-09"},
		{"count", "area = 1000 cm2", "1 to 10", "4.40567317 ± 0.00518"},
		{"oil", "warm = 60 degC", "", "55"},
		{"oil", "warm = 140 degF", "", "55"},
		{"oil", "warm = 333.15 K", "", "55"},
		{"oil", "warm = oil_limit", "", "55"},
		{"oil_limit", "oil = oil_limit", "0 to 100", "45"},
		{"due", "ready - wait = 2026-06-01", "2026-01-01 to 2026-12-31", "cannot: wait"},
		{"wait", "stroke_time = 2.5 s", "0 to 10 s", "1.5"},
		{"level", "level = 200 mm", "", "200"},
		{"setting", "valve = 21 MPa", "", "21..28 touch"},
		{"setting", "valve = 22 MPa", "", "none; closest 21.0034: 21 22"},
		{"setting", "step = 2", "", "none; jump 15; closest 5: 1 2"},
		{"bore", "inverse = 0", "", "none; closest 1700: 0.000625 0"},
		{"bore", "root_of = 0", "", "200"},
		{"bore", "nowhere = 1", "", "cannot: square root of a negative number"},
		{"setting", "stroke_time*0 + setting/setting*1*s = 2 s", "", "cannot: wait"},
		{"setting", `(mode == "pump" ? setting : 0*MPa) = 10 MPa`, "", "10"},

		{"force", "force = 900 kN", "", "NAME: force is computed and cannot be changed itself"},
		{"sett", "force = 900 kN", "", "NAME: no quantity is named `sett`"},
		{"mode", "force = 900 kN", "", "mode is a text"},
		{"level", "force = 900 kN", "", "nothing in `force = 900 kN` depends on level"},
		{"unset", "unset = 9 mm", "", "unset has no range to look in"},
		{"due", "due = 2026-06-01", "", "due has no range to look in"},
		{"setting", "force", "", "--until: two sides with `=` between them are needed"},
		{"setting", "force >= 900 kN", "", "--until: two sides with `=` between them are needed"},
		{"setting", "force = 900 kN = 1", "", "--until: there are several `=`"},
		{"setting", "force =", "", "--until: a side of the equation is missing"},
		{"setting", "force = 900 kNN", "", "--until: unknown unit `kNN`"},
		{"setting", "force = 900 mm", "", "--until: the left side is a force, the right side a length"},
		{"setting", "force*2 = 900", "", "--until: the left side is a force, the right side a plain number"},
		{"setting", "forse = 900 kN", "", "--until: no quantity, unit or constant is named `forse`"},
		{"setting", "mode = 900 kN", "", "--until: a text is no number"},
		{"setting", "force > 1*kN = 900 kN", "", "--until: a truth value is no number"},
		{"oil", "warm = 5 K - 1*K", "", "--until: did not expect `K` here"},
		{"oil", "warm - oil = oil_limit", "", "--until: the left side is a temperature difference, " +
			"the right side a temperature point"},
		{"oil", "warm = 0", "", "none; closest 4.5: 9.5 0"},
		{"setting", "force = 900 kN", "5 mm to 6 mm", "--between: 5 mm is a length, but setting is in MPa"},
		{"due", "ready = 5", "", "--until: a date is needed here, found a number"},
	} {
		m := compiled(t, "base.csv", solveBook)
		solved, problems := m.Solve(tc.name, tc.until, tc.between)
		got := ""
		if solved == nil {
			got = problems[0].Error()
		} else {
			got = solvedText(solved)
		}
		if got != tc.want {
			t.Errorf("solve %s until %s\n got %s\nwant %s", tc.name, tc.until, got, tc.want)
		}
	}
}

func solvedText(s *Solved) string {
	var parts []string
	for _, one := range s.Solutions {
		text := fmt.Sprintf("%.9g", one.Value)
		if one.To != one.Value {
			text += fmt.Sprintf("..%.9g", one.To)
		}
		if Has(one.Spread) && one.Spread > 1e-12*one.Value {
			text += fmt.Sprintf(" ± %.3g", one.Spread)
		}
		if one.Touch || one.To != one.Value {
			text += " touch"
		}
		parts = append(parts, text)
	}
	if len(parts) > 0 {
		return strings.Join(parts, " ")
	}
	for _, n := range s.Needs {
		return "cannot: " + n.Name
	}
	if s.Failure != nil {
		return "cannot: " + s.Failure.Message
	}
	text := "none"
	for _, x := range s.Jumps {
		text += fmt.Sprintf("; jump %.9g", x)
	}
	return text + fmt.Sprintf("; closest %.6g: %.3g %.3g", s.Closest, s.Left.Value, s.Right.Value)
}

// TestSolutionsAreJudged checks that a solution tells what it breaks.
func TestSolutionsAreJudged(t *testing.T) {
	m := compiled(t, "base.csv", solveBook)
	s, problems := m.Solve("setting", "force = 1400 kN", "5 to 60 MPa")
	if s == nil {
		t.Fatal(told(problems))
	}
	verdicts := map[string]Verdict{}
	for _, j := range s.Solutions[0].At.Values {
		verdicts[j.Quantity.Name] = j.Verdict
	}
	want := map[string]Verdict{"force": Pass, "valve": Pass, "setting": Fail}
	for name, v := range want {
		if verdicts[name] != v {
			t.Errorf("%s: %v, want %v", name, verdicts[name], v)
		}
	}
}

// reference is a random model with its roots as they are known from elsewhere.
type reference struct {
	formula string // of x
	target  string // what it shall be
	lo, hi  float64
	roots   []float64
	touch   bool
	loosely bool                // the reference itself is no better than 1e-7
	exact   func(x float64) int // the sign of formula - target at x, computed beyond doubt; nil if there is none
}

func literal(x float64) string {
	return "(" + strconv.FormatFloat(x, 'g', -1, 64) + ")"
}

// families build random models.
var families = []struct {
	name  string
	build func(r *rand.Rand) reference
}{
	// A monotone model is built around its root.
	{"power law", func(r *rand.Rand) reference {
		x, c, p := math.Exp(r.Float64()*8-4), math.Exp(r.Float64()*20-10), 0.3+3*r.Float64()
		f := func(x float64) float64 { return c * math.Pow(x, p) }
		return reference{formula: literal(c) + "*x^" + literal(p), target: literal(f(x)), lo: x / 7, hi: x * 5,
			roots: []float64{x}}
	}},
	{"over decades", func(r *rand.Rand) reference {
		x := math.Exp(r.Float64()*20 - 10)
		return reference{formula: "ln(x)*3 + x/(1 + x)", target: literal(math.Log(x)*3 + x/(1+x)), lo: 1e-6, hi: 1e6,
			roots: []float64{x}}
	}},
	{"saturation", func(r *rand.Rand) reference {
		x, k := 1+9*r.Float64(), 0.2+r.Float64()
		f := func(x float64) float64 { return 100 * (1 - math.Exp(-x/k/10)) }
		return reference{formula: "100*(1 - exp(0 - x/" + literal(k) + "/10))", target: literal(f(x)), lo: 0.5, hi: 20,
			roots: []float64{x}}
	}},
	// A polynomial in factors has the roots it is made of.
	{"factors", func(r *rand.Rand) reference {
		n := 2 + r.IntN(4)
		ref := reference{lo: -10, hi: 10, target: "0", formula: literal(1 + r.Float64())}
		for range n {
			root := 24*r.Float64() - 12
			ref.formula += "*(x - " + literal(root) + ")"
			if root > -10 && root < 10 {
				ref.roots = append(ref.roots, root)
			}
		}
		return ref
	}},
	// An expanded polynomial has the real eigenvalues of its companion matrix;
	// each is confirmed by its sign on both sides, in 200 bits.
	{"polynomial", func(r *rand.Rand) reference {
		n := 3 + r.IntN(3)
		c := make([]float64, n) // of x^0 to x^(n-1); that of x^n is 1
		for i := range c {
			c[i] = 10*r.Float64() - 5
		}
		ref := reference{lo: -4, hi: 4, target: "0", loosely: true, formula: "x^" + fmt.Sprint(n)}
		companion := mat.NewDense(n, n, nil)
		for i := range c {
			ref.formula += fmt.Sprintf(" + %s*x^%d", literal(c[i]), i)
			companion.Set(i, n-1, -c[i])
			if i > 0 {
				companion.Set(i, i-1, 1)
			}
		}
		var eigen mat.Eigen
		if !eigen.Factorize(companion, mat.EigenNone) {
			panic("no eigenvalues")
		}
		for _, v := range eigen.Values(nil) {
			if x := real(v); math.Abs(imag(v)) < 1e-9 && x > -4 && x < 4 {
				ref.roots = append(ref.roots, x)
			}
		}
		ref.exact = func(x float64) int {
			sum, power, at := new(big.Float).SetPrec(200), big.NewFloat(1).SetPrec(200), big.NewFloat(x).SetPrec(200)
			for i := range n + 1 {
				coefficient := 1.0
				if i < n {
					coefficient = c[i]
				}
				sum.Add(sum, new(big.Float).SetPrec(200).Mul(power, big.NewFloat(coefficient)))
				power.Mul(power, at)
			}
			return sum.Sign()
		}
		return ref
	}},
	// A wave on a slope is searched by brute force.
	{"wave", func(r *rand.Rand) reference {
		a, b, c, d := 1+4*r.Float64(), 0.5+6*r.Float64(), r.Float64()-0.5, 3*r.Float64()-1.5
		f := func(x float64) float64 { return a*math.Sin(b*x) + c*x - d }
		return reference{formula: fmt.Sprintf("%s*sin(%s*x*rad) + %s*x", literal(a), literal(b), literal(c)),
			target: literal(d),
			lo:     0.1, hi: 15, roots: bruteRoots(f, 0.1, 15)}
	}},
	// Two branches that jump: only the roots within their own branch count.
	{"branches", func(r *rand.Rand) reference {
		at, a, b := 2+6*r.Float64(), 10*r.Float64(), 10*r.Float64()
		ref := reference{lo: 0, hi: 10, target: "0",
			formula: fmt.Sprintf("x < %s ? x - %s : 2*(%s - x)", literal(at), literal(a), literal(b))}
		if a < at {
			ref.roots = append(ref.roots, a)
		}
		if b >= at {
			ref.roots = append(ref.roots, b)
		}
		return ref
	}},
	// Stairs on a slope reach a value on the one tread that it lies on, or pass
	// it where they rise.
	{"stairs", func(r *rand.Rand) reference {
		k, slope, target := 3+20*r.Float64(), 0.3*r.Float64(), 10*r.Float64()
		ref := reference{lo: 0, hi: 10, target: literal(target),
			formula: fmt.Sprintf("floor(x*%s)/%s + %s*x", literal(k), literal(k), literal(slope))}
		for tread := range int(10*k) + 1 {
			from, to := float64(tread)/k, float64(tread+1)/k
			if x := (target - from) / slope; x > from && x < min(to, 10) {
				ref.roots = append(ref.roots, x)
			}
		}
		return ref
	}},
	{"pole", func(r *rand.Rand) reference {
		at, a := 2+6*r.Float64(), 10*r.Float64()
		return reference{lo: 0, hi: 10, target: "0", roots: []float64{a},
			formula: fmt.Sprintf("(x - %s)/(x - %s)", literal(a), literal(at))}
	}},
	{"odd pole alone", func(r *rand.Rand) reference {
		return reference{lo: 0, hi: 10, target: "0", formula: fmt.Sprintf("1/(x - %s)^3", literal(2+6*r.Float64()))}
	}},
	{"smallest of lines", func(r *rand.Rand) reference {
		a, b := 1+4*r.Float64(), 6+3*r.Float64()
		return reference{lo: 0, hi: 10, target: "0", roots: []float64{a, b},
			formula: fmt.Sprintf("min(x - %s, %s - x)", literal(a), literal(b))}
	}},
	// Where the sides touch, the root is known to the square root of the
	// precision only.
	{"touch", func(r *rand.Rand) reference {
		a := 1 + 8*r.Float64()
		return reference{lo: 0, hi: 10, target: "0", roots: []float64{a}, touch: true,
			formula: fmt.Sprintf("(x - %s)^2*(x + %s)", literal(a), literal(r.Float64()+0.1))}
	}},
	{"touch, expanded", func(r *rand.Rand) reference {
		a, c := 1+8*r.Float64(), 10*r.Float64()
		return reference{lo: 0.5, hi: 10, target: literal(c - a*a), roots: []float64{a}, touch: true,
			formula: fmt.Sprintf("x^2 - 2*%s*x + %s", literal(a), literal(c))}
	}},
	{"near miss", func(r *rand.Rand) reference {
		return reference{lo: 0, hi: 10, target: literal(-math.Exp(-10 * r.Float64())),
			formula: fmt.Sprintf("(x - %s)^2", literal(1+8*r.Float64()))}
	}},
}

// bruteRoots finds the roots of a smooth function by a scan that is a hundred
// times finer than the one under test, and bisection.
func bruteRoots(f func(float64) float64, lo, hi float64) []float64 {
	const cells = 400_000
	var roots []float64
	a := lo
	for i := 1; i <= cells; i++ {
		b := lo + (hi-lo)*float64(i)/cells
		if fa := f(a); fa > 0 != (f(b) > 0) {
			l, h := a, b
			for l < h {
				m := l + (h-l)/2
				if m == l || m == h {
					break
				}
				if f(m) > 0 == (fa > 0) {
					l = m
				} else {
					h = m
				}
			}
			roots = append(roots, l)
		}
		a = b
	}
	return roots
}

// TestSolveRandomModels holds 280 random models against roots that are known
// by construction, from gonum's eigenvalues, or by brute force: every one is
// found, and nothing else is.
func TestSolveRandomModels(t *testing.T) {
	const models = 20 // of each family
	for _, family := range families {
		t.Run(family.name, func(t *testing.T) {
			found := 0
			for seed := range uint64(models) {
				ref := family.build(rand.New(rand.NewPCG(seed, 3)))
				slices.Sort(ref.roots)
				m := compiled(t, "model.csv", fmt.Sprintf("name,entry\nx,%v\ny,\"=%s\"\n", ref.lo+(ref.hi-ref.lo)/3,
					ref.formula))
				s, problems := m.Solve("x", "y = "+ref.target, fmt.Sprintf("%v to %v", ref.lo, ref.hi))
				if s == nil {
					t.Fatal(told(problems))
				}
				tolerance := 1e-10
				if ref.touch || ref.loosely {
					tolerance = 1e-7
				}
				if len(s.Solutions) != len(ref.roots) {
					t.Errorf("seed %d: %s = %s has %v, found %s", seed, ref.formula, ref.target, ref.roots,
						solvedText(s))
					continue
				}
				for i, one := range s.Solutions {
					x := ref.roots[i]
					found++
					if math.Abs(one.Value-x) > tolerance*math.Max(math.Abs(x), 1e-3) || one.To != one.Value ||
						one.Touch != ref.touch {
						t.Errorf("seed %d: %s = %s has %v, found %v (touch %v)", seed, ref.formula, ref.target, x,
							one.Value, one.Touch)
					}
					by := 1e-10 * math.Abs(x)
					if ref.exact != nil && ref.exact(one.Value-by) == ref.exact(one.Value+by) {
						t.Errorf("seed %d: %s changes no sign within 1e-10 of %v", seed, ref.formula, one.Value)
					}
				}
			}
			t.Logf("%d models, %d roots", models, found)
		})
	}
}

// BenchmarkSolve times one question to the model of the press.
func BenchmarkSolve(b *testing.B) {
	m := compiled(b, "press.csv", pressModel)
	for b.Loop() {
		if s, _ := m.Solve("setting", "force = 900 kN", ""); len(s.Solutions) != 1 {
			b.Fatal("no solution")
		}
	}
}
