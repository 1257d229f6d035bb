package calc

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
)

// TestFunctionsInSheets runs the functions on columns and on temperature
// points, as a notebook does.
func TestFunctionsInSheets(t *testing.T) {
	const visits = "visit,when,oil,level,remark\n" +
		":unit,date,degC,mm,\n" +
		"a,2026-01-05,40,100,\n" +
		"b,2026-01-06,42,,level not read\n" +
		"c,2026-01-07,44,96,\n" +
		"d,2026-01-09,47,92,\n"
	r := checked(t, "visits.csv", visits, "sums.csv", "name,entry,unit,spread\n"+
		"daily,\"=slope(visits.when, visits.level)\",mm/d,\n"+
		"per_kelvin,\"=slope(visits.oil, visits.level)\",mm/K,\n"+
		"at_zero,\"=intercept(visits.level, visits.oil)\",degC,\n"+
		"warming,\"=slope(visits.when, visits.oil)\",K/d,\n"+
		"scatter,\"=repeat_spread(visits.oil)\",K,\n"+
		"warm,45,degC,=reading_step(2*K)\n"+
		"cold,20,degC,\n"+
		"few,\"=repeat_spread(warm, cold)\",K,\n"+
		"pressure,20,MPa,\"=gauge(1, 40*MPa)\"\n")
	t1, _, _ := Evaluate("student(0.9545, 1)")
	t3, _, _ := Evaluate("student(0.9545, 3)")
	for _, test := range []struct {
		name, why    string
		want, spread float64
	}{
		{"daily", "row b has no level; days 0, 2 and 4", -2, math.NaN()},
		{"per_kelvin", "at 40, 44 and 47 degC", -42. / 37, math.NaN()},
		{"warming", "days 0, 1, 2 and 4", 61. / 35, math.NaN()},
		{"at_zero", "the mean, 131/3 degC at 96 mm, and 7/8 K/mm back", 131./3 + 84, math.NaN()},
		{"scatter", "of four temperatures, s² = 26.75/3 K²", t3 * math.Sqrt(26.75/3/4), math.NaN()},
		{"few", "two readings 25 K apart, of which one may be 2/√3 K off", t1 * 12.5, t1 / math.Sqrt(3)},
		{"warm", "a step of 2 K", 45, 2 / math.Sqrt(3)},
		{"pressure", "class 1 of 40 MPa", 20, 0.8 / math.Sqrt(3)},
	} {
		got := r.find(t, test.name)
		if !near(got.Value, test.want, 1e-12) || Has(test.spread) && !near(got.Spread, test.spread, 1e-12) {
			t.Errorf("%s (%s): got %v ± %v, expected %v ± %v", test.name, test.why, got.Value, got.Spread, test.want,
				test.spread)
		}
	}
}

// TestNorris fits the data set Norris of NIST StRD to the certified line
// (NU-041 and NU-043, read).
func TestNorris(t *testing.T) {
	data, err := os.ReadFile("../testdata/reference/notebook/norris.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := checked(t, "norris.csv", string(data), "fit.csv", "name,entry\n"+
		"b0,\"=intercept(norris.x, norris.y)\"\n"+
		"b1,\"=slope(norris.x, norris.y)\"\n")
	for name, want := range map[string]float64{"b0": -0.262323073774029, "b1": 1.00211681802045} {
		if got := r.find(t, name).Value; !near(got, want, 1e-12) {
			t.Errorf("%s: got %.16g, certified %.16g", name, got, want)
		}
	}
}

// TestFunctionRefusals gives calls that have no result, with what the user is
// told.
func TestFunctionRefusals(t *testing.T) {
	const givens = "name,entry,unit\n" +
		"warm,45,degC\nt1,40,degC\nt2,100,degC\nnu1,46,mm2/s\nnu2,6.9,mm2/s\nthin,1.5,mm2/s\n" +
		"today,2026-05-04,date\nlevel,650,mm\nwidth,600,mm\nlength,900,mm\n"
	const points = "point,x,y,same,when,alone\n:unit,mm,MPa,,date,\na,1,2,5,2026-01-01,7\nb,2,3,5,2026-01-03,\n"
	for _, test := range []struct{ formula, unit, want string }{
		{"friction_factor(0, 0.001)", "", "friction_factor: the Reynolds number must be above 0, here it is 0"},
		{"friction_factor(1e5, 0.2)", "", "must lie between 0 and 0.05, here it is 0.2"},
		{"friction_factor(1e5, -0.01)", "", "here it is -0.01"},
		{"friction_factor(1e5, 0.03*mm)", "", "needs a plain number, found a length " +
			"(hint: divide the roughness by the bore)"},
		{"lying_tank_volume(level, width, length)", "L",
			"the level must lie between 0 and the diameter of 600 mm, here it is 650 mm"},
		{"lying_tank_volume(level, 0*width, length)", "L", "the diameter must be above 0, here it is 0 mm"},
		{"lying_tank_volume(0*mm, width, -length)", "L", "the length must be above 0, here it is -900 mm"},
		{"lying_tank_volume(level, width, 3)", "L", "needs a length, found a plain number"},
		{"viscosity(warm, t1, nu1, t1, nu2)", "mm2/s",
			"must belong to different temperatures, here both belong to 40 degC"},
		{"viscosity(warm, t1, nu2, t2, nu1)", "mm2/s",
			"oil thins as it warms, here it has 6.9 mm2/s at 40 degC and 46 mm2/s at 100 degC"},
		{"viscosity(warm, t1, nu1, t2, thin)", "mm2/s",
			"the equation holds from 2 mm2/s up, here the oil has 1.5 mm2/s"},
		{"viscosity(t2 + 300*K, t1, nu1, t2, nu2)", "mm2/s", "at 400 degC the oil is thinner than the 2 mm2/s"},
		{"viscosity(warm - 317*K, t1, nu1, t2, nu2)", "mm2/s", "is too large to hold"},
		{"viscosity(warm - 400*K, t1, nu1, t2, nu2)", "mm2/s", "above absolute zero, here it is -81.85 K"},
		{"viscosity(45*K, t1, nu1, t2, nu2)", "mm2/s",
			"needs a temperature point, found a temperature difference " +
				"(hint: a quantity in K is a difference; give the temperature its own row in degC)"},
		{"viscosity(warm, t1, 40*mPa*s, t2, nu2)", "mm2/s",
			"needs a kinematic viscosity, found a dynamic viscosity (hint: divide it by the density)"},
		{"viscosity(warm, nu1, t1, nu2, t2)", "mm2/s", "needs a temperature point, found a kinematic viscosity"},
		{"viscosity_index(nu2, nu1)", "", "the viscosity at 40 degC comes first and is the larger one, " +
			"here they are 6.9 mm2/s and 46 mm2/s"},
		{"viscosity_index(nu1, thin)", "", "from 2 mm2/s at 100 degC up, here it is 1.5 mm2/s"},
		{"gauge(0, 40*MPa)", "MPa", "the class must be above 0, as in gauge(1.6, 40*MPa), here it is 0"},
		{"gauge(1.6, -40*MPa)", "MPa", "the span must be above 0"},
		{"gauge(40*MPa, 1.6)", "MPa", "the class is a plain number, found a pressure (hint: write the class first"},
		{"gauge(1, warm)", "K", "a span is a difference, found a temperature point"},
		{"reading_step(warm)", "K", "a step is a difference, found a temperature point"},
		{"reading_step(-0.5*MPa)", "MPa", "the step must not be below 0"},
		{"repeat_spread(3*mm)", "mm", "needs at least 2 arguments, here is 1"},
		{"repeat_spread(3*mm, 4*MPa)", "mm", "needs equal dimensions, found pressure beside length"},
		{"student(95, 9)", "", "the probability must lie between 0 and 1, as in student(0.95, 9), here it is 95"},
		{"student(0.95, 0.5)", "", "the degrees of freedom must be at least 1, here they are 0.5"},
		{"slope(points.same, points.y)", "MPa", "a line needs two different values of x, here all are alike"},
		{"intercept(points.when, points.y)", "MPa", "a date is never 0 (hint: make x a column of times"},
		{"slope(3, 4)", "", "slope takes 2 expressions over the rows of one sheet"},
	} {
		m, problems := Compile(files(t, "points.csv", points, "givens.csv", givens,
			"sums.csv", fmt.Sprintf("name,entry,unit\nresult,\"=%s\",%s\n", test.formula, test.unit)), Options{})
		if m != nil {
			_, problems = m.Check(CheckOptions{})
		}
		said := ""
		for _, p := range problems {
			said += p.Message
			if p.Hint != "" {
				said += " (hint: " + p.Hint + ")"
			}
		}
		if len(problems) != 1 || !strings.Contains(said, test.want) {
			t.Errorf("%s: got %q, expected %q", test.formula, said, test.want)
		}
	}
}
