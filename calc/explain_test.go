package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"rambook/units"
)

// plainly shows a number with its unit, and marks the ones that are typed.
func plainly(v float64, u units.Unit, typed bool) string {
	mark := ""
	if typed {
		mark = "'"
	}
	return strings.TrimSpace(fmt.Sprintf("%.6g%s %s", v, mark, u.Symbol))
}

// TestFilled puts the values into formulas.
func TestFilled(t *testing.T) {
	for _, test := range []struct{ formula, unit, want string }{
		{"setting*area", "kN", "25' MPa * 226' cm2"},
		{"pi/4*bore^2", "cm2", "pi / 4 * (170' mm)^2"},
		{"pi/4*bore**2", "cm2", "pi / 4 * (170' mm)^2"},
		{"ratio^2", "", "0.5'^2"},
		{"0.5*below", "mm", "0.5 * (-3' mm)"},
		{"half + half*2", "cm2", "113 cm2 + 113 cm2 * 2"}, // computed ones have no mark
		{"t_oil - t_room", "K", "45' degC - 20' degC"},
		{`mode == "gravity" ? 1 : 2`, "", `"gravity" == "gravity" ? 1 : 2`},
		{`unknown == "gravity" ? 1 : 2`, "", `? == "gravity" ? 1 : 2`},
		{"nothing + setting", "MPa", "? + 25' MPa"},
		{"0 < ratio < 3 ? 1 : 0", "", "0 < 0.5' < 3 ? 1 : 0"},
		{"materials[grade].strength*2", "MPa", "400' MPa * 2"},
		{`materials["S355"].spring + 1`, "", "? + 1"},
		{"max(curve.pressure)/setting", "", "max(curve.pressure) / 25' MPa"},
		{"let p = setting; p*2", "MPa", "let p = 25' MPa; p * 2"},
		{"setting   *  2", "MPa", "25' MPa * 2"},
		{"bore/2+1*mm", "mm", "170' mm / 2 + 1 * mm"},
		{"bore-2*mm+1*mm", "mm", "170' mm - 2 * mm + 1 * mm"},
		{"max(bore,-bore)-(bore)−1e-3*m", "mm", "max(170' mm,-170' mm) - (170' mm) - 1e-3 * m"},
		{"-bore-(-bore)- -bore", "mm", "-170' mm - (-170' mm) - -170' mm"},
		{"(bore/mm)**2*(1-ratio)**-1", "", "(170' mm / mm)^2 * (1 - 0.5')^-1"},
		{`mode == "a*b" ? 1 : 2`, "", `"gravity" == "a*b" ? 1 : 2`},
		{"0<ratio-1<3-1 ? 1 : 0", "", "0<0.5' - 1<3 - 1 ? 1 : 0"},
	} {
		m, problems := Compile(files(t, "base.csv", base+"below,-3,mm\nhalf,=area/2,cm2\nunknown,,text\n", "curve.csv",
			curves, "materials.csv", materials,
			"x.csv", "name,entry,unit\nx,\"="+strings.ReplaceAll(test.formula, `"`, `""`)+"\","+test.unit+"\n"),
			Options{})
		if m == nil {
			t.Errorf("%s: %s", test.formula, told(problems))
			continue
		}
		d, problems := m.Explain("x", plainly)
		if d == nil {
			t.Errorf("%s: %s", test.formula, told(problems))
			continue
		}
		if got := d.Steps[0].Filled; got != test.want {
			t.Errorf("%s: got %s, expected %s", test.formula, got, test.want)
		}
	}
}

// TestDerivation lists the steps down to the givens, each once, and says what
// part each given's doubt has.
func TestDerivation(t *testing.T) {
	m := compiled(t, "a.csv", `name,entry,unit,spread,note
total,=left + right + left,N,,the sum
left,=a*b,N,,
right,=2*a*c,N,,
a,3,mm,0.3,first
b,4,N/mm,0.2,
c,5,N/mm,,
apart,7,N,1,
`)
	d, problems := m.Explain("total", plainly)
	if d == nil {
		t.Fatal(told(problems))
	}
	var steps []string
	for _, s := range d.Steps {
		steps = append(steps, fmt.Sprintf("%s = %s = %s from %s (%s)", s.Quantity.Name, s.Formula, s.Filled,
			strings.Join(s.From, " "), s.Note))
	}
	want := `total = left + right + left = 12 N + 30 N + 12 N from left right (the sum)
left = a*b = 3' mm * 4' N/mm from a b ()
right = 2*a*c = 2 * 3' mm * 5' N/mm from a c ()
a =  =  from  (first)
b =  =  from  ()
c =  =  from  ()`
	if got := strings.Join(steps, "\n"); got != want {
		t.Errorf("got\n%s\nexpected\n%s", got, want)
	}
	// total = 2ab + 2ac: ∂/∂a = 2(b + c) = 18, ∂/∂b = 2a = 6.
	byA, byB := math.Pow(18*0.3, 2), math.Pow(6*0.2, 2)
	if len(d.Shares) != 2 || d.Shares[0].Name != "a" || !near(d.Shares[0].Share, byA/(byA+byB), 1e-12) ||
		!near(d.Shares[1].Share, byB/(byA+byB), 1e-12) {
		t.Fatalf("the shares are %+v", d.Shares)
	}
	if d.Shares[0].Spread != 0.3 || d.Shares[0].Unit.Symbol != "mm" {
		t.Errorf("the spread of a is %v %s", d.Shares[0].Spread, d.Shares[0].Unit.Symbol)
	}
	r, _ := m.Check(CheckOptions{})
	all := m.Steps(r, plainly)
	if len(all) != len(r.Quantities) || all[0].Filled != d.Steps[0].Filled || all[6].Quantity.Name != "apart" ||
		all[6].Filled != "" {
		t.Errorf("the steps of all quantities are %+v", all)
	}
	for _, test := range []struct{ name, want string }{
		{"totl", "NAME: no quantity is named `totl` (did you mean `total`?)"},
		{"stuff", "NAME: no quantity is named `stuff` (`rambook check` lists the names)"},
	} {
		if d, problems := m.Explain(test.name, plainly); d != nil || withHints(problems) != test.want {
			t.Errorf("got\n%s\nexpected\n%s", withHints(problems), test.want)
		}
	}
	broken := compiled(t, "a.csv", "name,entry\na,0\nb,=1/a\nc,3\n")
	if d, problems := broken.Explain("b", plainly); d != nil ||
		withHints(problems) != "a.csv:3:4: division by zero (`a` is 0 here)" {
		t.Errorf("a row that fails is explained: %s", withHints(problems))
	}
	if d, problems := broken.Explain("c", plainly); d == nil {
		t.Errorf("an error elsewhere keeps a row from being explained: %s", withHints(problems))
	}
}

// TestHalve: with the spreads that are wanted of the fewest inputs, the spread
// of the result is half as wide.
func TestHalve(t *testing.T) {
	for _, test := range []struct {
		shares []float64
		wanted int // so many inputs have to be improved
	}{
		{[]float64{1}, 1},
		{[]float64{0.9, 0.1}, 1},
		{[]float64{0.7, 0.3}, 2}, // 0.3 is more than a quarter
		{[]float64{0.76, 0.24}, 2},
		{[]float64{0.78, 0.22}, 1},
		{[]float64{0.25, 0.25, 0.25, 0.25}, 4},
		{[]float64{0.4, 0.3, 0.2, 0.1}, 3},
		{nil, 0},
	} {
		shares := make([]Share, len(test.shares))
		for i, s := range test.shares {
			shares[i] = Share{Share: s, Spread: 10, Wanted: math.NaN()}
		}
		halve(shares)
		improved, left := 0, 0.0
		for i, s := range shares {
			if !Has(s.Wanted) {
				left += s.Share
				continue
			}
			if i != improved {
				t.Errorf("%v: number %d is to be improved, but not the ones before", test.shares, i)
			}
			improved++
			left += s.Share * math.Pow(s.Wanted/s.Spread, 2)
		}
		if improved != test.wanted || len(shares) > 0 && !near(left, 0.25, 1e-12) {
			t.Errorf("%v: %d are improved and %v of the variance is left, expected %d and a quarter", test.shares,
				improved, left, test.wanted)
		}
	}
}
