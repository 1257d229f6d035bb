package function

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"rambook/calc/tape"
	"rambook/units"
)

// types of the tests, by the letters that the tables use.
var types = map[string]Type{
	"1": Plain, "angle": {Dim: units.Angle}, "m": {Dim: units.Length}, "m2": {Dim: units.Area},
	"MPa": {Dim: units.Pressure}, "m3": {Dim: units.Volume},
	"mm2/s": {Dim: units.KinematicViscosity}, "K": {Dim: units.Temperature},
	"degC": {Dim: units.Temperature, Point: true},
	"h":    {Dim: units.Time}, "date": {Dim: units.Time, Point: true},
	"MPa/m": {Dim: must(units.Pressure.Div(units.Length))},
}

func must(d units.Dimension, err error) units.Dimension {
	if err != nil {
		panic(err)
	}
	return d
}

// TestTableIsWhole: every entry has what the lists print and what the tape
// needs.
func TestTableIsWhole(t *testing.T) {
	known := map[string]bool{}
	for _, f := range Table {
		if known[f.Name] || Named(f.Name) != f {
			t.Errorf("%s stands twice in the table", f.Name)
		}
		known[f.Name] = true
		if f.Doc == "" || f.Params == "" || f.Rule == nil || strings.HasSuffix(f.Doc, ".") {
			t.Errorf("%s has no documentation, parameters or rule, or a full stop", f.Name)
		}
		ways := 0
		for _, way := range []bool{f.Unary != nil, f.Eval != nil, f.Lower != nil || f.Fold != nil} {
			if way {
				ways++
			}
		}
		if ways != 1 {
			t.Errorf("%s is computed in %d ways", f.Name, ways)
		}
		if f.Unary != nil && f.slope == nil || f.Eval != nil && f.slopes == nil && f.most+f.least > 0 {
			t.Errorf("%s has no derivative", f.Name)
		}
	}
	if Named("sqr") != nil {
		t.Error("sqr is found")
	}
}

// TestRules gives the types of arguments and of the result, or what is said
// about them.
func TestRules(t *testing.T) {
	for _, test := range []struct{ call, want string }{
		{"abs(m)", "length"}, {"abs(degC)", "0: a temperature point has no size " +
			"(subtract another one first, to have a difference)"},
		{"sign(m)", "a plain number"}, {"sign(date)",
			"0: a date has no sign (subtract another one first, to have a difference)"},
		{"sqrt(m2)", "length"}, {"sqrt(1)", "a plain number"}, {"sqrt(m)", "m^(1/2)"},
		{"exp(1)", "a plain number"}, {"exp(m)", "0: needs a plain number, found a length"},
		{"ln(angle)", "0: needs a plain number, found an angle (divide by `rad`)"},
		{"log10(MPa)", "0: needs a plain number, found a pressure"},
		{"sin(angle)", "a plain number"}, {"cos(1)",
			"0: needs an angle, found a plain number (give it a unit of angle, as in sin(30*deg))"},
		{"tan(m)", "0: needs an angle, found a length (give it a unit of angle, as in sin(30*deg))"},
		{"asin(1)", "angle"}, {"acos(1)", "angle"}, {"atan(1)", "angle"},
		{"atan(m)", "0: needs a plain number, found a length"},
		{"atan2(m, m)", "angle"}, {"atan2(m, h)", "1: needs equal dimensions, found a time beside length"},
		{"atan2(degC, degC)", "0: cannot add up a temperature point " +
			"(subtract another one first, to have a difference)"},
		{"floor(1)", "a plain number"}, {"ceil(m)", "0: needs a plain number, found a length"},
		{"round(1)", "a plain number"},
		{"min(m, m, m)", "length"}, {"max(degC, degC)", "a temperature point"},
		{"min(m, m, MPa)", "2: needs equal dimensions, found pressure beside length"},
		{"max(degC, K)", "1: needs equal dimensions, found a temperature difference beside a temperature point"},
		{"sum(m, m)", "length"}, {"sum(K, K)", "a temperature difference"},
		{"sum(K, degC)", "1: cannot add up a temperature point (subtract another one first, to have a difference)"},
		{"mean(degC, degC)", "a temperature point"},
		{"mean(m, h)", "1: needs equal dimensions, found a time beside length"},
		{"count(m)", "a plain number"},
		{"interp(MPa, m, MPa)", "length"}, {"interp(MPa, m, m)", "2: needs pressure like the curve's x, found length"},
		{"slope(m, MPa)", "kg m^-2 s^-2"}, {"slope(degC, m)", "m K^-1"},
		{"intercept(m, MPa)", "pressure"}, {"intercept(date, m)",
			"0: a date is never 0 (make x a column of times, such as the days since the first visit)"},
		{"gauge(1, MPa)", "pressure"}, {"gauge(MPa, 1)",
			"0: the class is a plain number, found a pressure (write the class first, as in gauge(1.6, 40*MPa))"},
		{"gauge(1, degC)", "1: a span is a difference, found a temperature point (write the span in K)"},
		{"reading_step(K)", "a temperature difference"},
		{"reading_step(degC)", "0: a step is a difference, found a temperature point " +
			"(write the step in K, or for a date in h or d)"},
		{"repeat_spread(degC, degC)", "a temperature difference"},
		{"repeat_spread(m, h)", "1: needs equal dimensions, found a time beside length"},
		{"student(1, 1)", "a plain number"}, {"student(1, m)", "1: needs a plain number, found a length"},
		{"friction_factor(1, 1)", "a plain number"},
		{"friction_factor(1, m)", "1: needs a plain number, found a length (divide the roughness by the bore)"},
		{"lying_tank_volume(m, m, m)", "volume"}, {"lying_tank_volume(m, m3, m)", "1: needs a length, found a volume"},
		{"viscosity(degC, degC, mm2/s, degC, mm2/s)", "kinematic viscosity"},
		{"viscosity(K, degC, mm2/s, degC, mm2/s)",
			"0: needs a temperature point, found a temperature difference " +
				"(a quantity in K is a difference; give the temperature its own row in degC)"},
		{"viscosity(degC, mm2/s, degC, mm2/s, degC)", "1: needs a temperature point, found a kinematic viscosity"},
		{"viscosity(degC, degC, degC, mm2/s, mm2/s)",
			"2: needs a kinematic viscosity, found a temperature point (each temperature stands before its viscosity)"},
		{"viscosity_index(mm2/s, mm2/s)", "a plain number"},
		{"viscosity_index(mm2/s, m)", "1: needs a kinematic viscosity, found a length"},
	} {
		name, rest, _ := strings.Cut(strings.TrimSuffix(test.call, ")"), "(")
		var args []Type
		for _, a := range strings.Split(rest, ", ") {
			args = append(args, types[a])
		}
		result, wrong := Named(name).Rule(args)
		got := result.String()
		if wrong != nil {
			got = fmt.Sprintf("%d: %s", wrong.Arg, wrong.Message)
			if wrong.Hint != "" {
				got += " (" + wrong.Hint + ")"
			}
		}
		if got != test.want {
			t.Errorf("%s: got %s, want %s", test.call, got, test.want)
		}
	}
}

// TestFits gives calls by the kinds of their arguments, c for a whole column
// and n for a number, and what is said about those that do not fit.
func TestFits(t *testing.T) {
	for _, test := range []struct{ name, args, want string }{
		{"sqrt", "n", ""}, {"sqrt", "", "sqrt takes 1 argument, here are 0"},
		{"sqrt", "nn", "sqrt takes 1 argument, here are 2"},
		{"sqrt", "c", "sqrt needs whole columns and single values where its definition shows them"},
		{"atan2", "n", "atan2 takes 2 arguments, here is 1"},
		{"max", "n", ""}, {"max", "nnnnnnnn", ""}, {"max", "c", ""},
		{"max", "", "max needs at least 1 argument, here are 0"},
		{"max", "cc", "max takes single values, or one expression over the rows of a sheet"},
		{"max", "cn", "max takes single values, or one expression over the rows of a sheet"},
		{"repeat_spread", "n", "repeat_spread needs at least 2 arguments, here is 1"}, {"repeat_spread", "c", ""},
		{"repeat_spread", "nn", ""},
		{"count", "c", ""}, {"count", "n", "count takes 1 expression over the rows of one sheet"},
		{"count", "cc", "count takes 1 expression over the rows of one sheet"},
		{"interp", "ccn", ""}, {"interp", "ccnn", ""},
		{"interp", "cc", "interp takes 3 arguments and may have a condition, here are 2"},
		{"interp", "ncc", "interp needs whole columns and single values where its definition shows them"},
		{"interp", "ccc", "interp needs whole columns and single values where its definition shows them"},
		{"slope", "cc", ""}, {"slope", "ccn", ""},
		{"slope", "ccnn", "slope takes 2 expressions over the rows of one sheet and may have a weight, here are 4"},
		{"interp2", "cccnn", ""}, {"interp2", "cccnnn", ""},
		{"interp2", "cccn", "interp2 takes 5 arguments and may have a condition, here are 4"},
	} {
		f := Named(test.name)
		var whole []bool
		for _, a := range test.args {
			whole = append(whole, a == 'c')
		}
		got := ""
		if !f.Fits(whole) {
			got = f.Misfit(len(whole))
		}
		if got != test.want {
			t.Errorf("%s(%s): got %q, want %q", test.name, test.args, got, test.want)
		}
	}
}

// TestOfOneNumber computes the functions of one number where their values are
// known by definition, and where they have none.
func TestOfOneNumber(t *testing.T) {
	inf, none := math.Inf(1), math.NaN()
	for _, test := range []struct {
		name    string
		x, want float64
	}{
		{"abs", -3, 3}, {"abs", 3, 3}, {"sign", -3, -1}, {"sign", 0, 0}, {"sign", 0.1, 1},
		{"sqrt", 9, 3}, {"sqrt", 0, 0}, {"sqrt", -1e-300, none},
		{"exp", 0, 1}, {"exp", 1, math.E}, {"exp", 1000, none}, {"exp", -1000, 0}, {"exp", inf, none},
		{"exp", -inf, none},
		{"ln", 1, 0}, {"ln", math.E, 1}, {"ln", 0, none}, {"ln", -1, none}, {"ln", inf, none},
		{"log10", 1000, 3}, {"log10", 0, none}, {"log10", -1, none},
		{"sin", math.Pi / 6, 0.5}, {"sin", inf, none}, {"cos", math.Pi / 3, 0.5}, {"cos", 0, 1}, {"cos", inf, none},
		{"tan", math.Pi / 4, 1},
		{"asin", 1, math.Pi / 2}, {"asin", -0.5, -math.Pi / 6}, {"asin", 1.0001, none}, {"acos", 0.5, math.Pi / 3},
		{"acos", -1.0001, none},
		{"atan", 1, math.Pi / 4}, {"atan", -1e300, -math.Pi / 2}, {"atan", inf, none},
		{"floor", -0.5, -1}, {"floor", 2, 2}, {"ceil", -0.5, 0}, {"ceil", 2.1, 3},
		// halves away from 0: ISO 80000-1, annex B, rule B
		{"round", 0.5, 1}, {"round", -0.5, -1}, {"round", 2.5, 3}, {"round", 2.4999, 2},
		{"reading_step", math.Sqrt(3), 1}, {"reading_step", 0, 0}, {"reading_step", -1, none},
		{"reading_step", inf, none},
	} {
		got := Named(test.name).Unary(test.x)
		if math.IsNaN(test.want) {
			if tape.Usable(got) {
				t.Errorf("%s of %v is %v, want none", test.name, test.x, got)
			}
			continue
		}
		if math.Abs(got-test.want) > 1e-15*math.Max(1, math.Abs(test.want)) {
			t.Errorf("%s of %v is %v, want %v", test.name, test.x, got, test.want)
		}
	}
}

// TestSlopesOfOneNumber holds the derivatives of the functions of one number
// against central differences.
func TestSlopesOfOneNumber(t *testing.T) {
	for _, f := range Table {
		if f.Unary == nil {
			continue
		}
		compared := 0
		for _, x := range []float64{-3.3, -0.7, -0.2, 0.3, 0.6, 0.9, 2.2, 7.1} {
			const h = 1e-5
			y := f.Unary(x)
			if !tape.Usable(y) || !tape.Usable(f.Unary(x-h)) || !tape.Usable(f.Unary(x+h)) {
				continue
			}
			compared++
			want := (f.Unary(x+h) - f.Unary(x-h)) / (2 * h)
			if got := f.slope(x, y); math.Abs(got-want) > 1e-7*math.Max(1, math.Abs(want)) {
				t.Errorf("the derivative of %s at %v is %v, want %v", f.Name, x, got, want)
			}
		}
		if compared < 4 {
			t.Errorf("%s was compared %d times", f.Name, compared)
		}
	}
}

// TestMissingStays: on the tape, what is missing is missing behind every
// function, whichever of its arguments it is.
func TestMissingStays(t *testing.T) {
	columns := []Column{{Name: "x", Values: []float64{0, 2, 0, 2}}, {Name: "y", Values: []float64{1, 1, 3, 3}},
		{Name: "z", Values: []float64{1, 3, 5, 7}}}
	for _, f := range Table {
		n := f.least
		for missing := range n {
			on := tape.New()
			var args []tape.Register
			for i := range n {
				v := 1.5 - float64(i)/4
				if i == missing {
					v = tape.Missing
				}
				args = append(args, on.Input(v))
			}
			var r tape.Register
			switch {
			case f.Lower != nil:
				r = f.Lower(on, args)
			case f.Unary != nil:
				r = on.Unary(f.Bind(nil), args[0])
			default:
				r = on.Call(f.Bind(columns[:f.columns]), args)
			}
			if got := on.Once(nil)[r]; !tape.IsMissing(got) {
				t.Errorf("%s is %v where argument %d is missing", f.Name, got, missing)
			}
		}
	}
}

// TestComplaints: a function without a result says why, with the numbers.
func TestComplaints(t *testing.T) {
	curve := []Column{{Name: "p", Unit: unit("MPa"), Values: []float64{0, 1e6, 2e6}},
		{Name: "q", Unit: unit("L/min"), Values: []float64{3, 2, 1}}}
	single := []Column{{Name: "p", Values: []float64{1}}, {Name: "q", Values: []float64{1}}}
	for _, test := range []struct {
		name    string
		x       []float64
		columns []Column
		want    string
	}{
		{"sqrt", []float64{-1}, nil, "square root of a negative number"},
		{"exp", []float64{1000}, nil, "exp is too large to hold"},
		{"ln", []float64{0}, nil, "logarithm of a number that is not above 0"},
		{"log10", []float64{0}, nil, "logarithm of a number that is not above 0"},
		{"asin", []float64{2}, nil, "no angle has that sine: it must lie between -1 and 1"},
		{"acos", []float64{2}, nil, "no angle has that cosine: it must lie between -1 and 1"},
		{"tan", []float64{2}, nil, "tan has no result here"},
		{"interp", []float64{3e6}, curve, "3 MPa lies outside the curve, which runs from 0 MPa to 2 MPa"},
		{"interp", []float64{3e6}, single, "the curve has fewer than two points"},
		{"gauge", []float64{0, 4e7}, nil, "the class must be above 0, as in gauge(1.6, 40*MPa), here it is 0"},
		{"gauge", []float64{1.6, 0}, nil, "the span must be above 0"},
		{"reading_step", []float64{-1}, nil, "the step must not be below 0"},
		{"repeat_spread", []float64{1}, nil, "at least two readings are needed to see how they scatter"},
		{"student", []float64{95, 9}, nil, "the probability must lie between 0 and 1, as in student(0.95, 9), " +
			"here it is 95"},
		{"student", []float64{0.95, 0.5}, nil, "the degrees of freedom must be at least 1, here they are 0.5"},
		{"friction_factor", []float64{0, 0.01}, nil, "the Reynolds number must be above 0, here it is 0"},
		{"friction_factor", []float64{1e5, 0.06}, nil,
			"the relative roughness, roughness / bore, must lie between 0 and 0.05, here it is 0.06"},
		{"friction_factor", []float64{1e-310, 0.01}, nil, "the Reynolds number is too small"},
		{"lying_tank_volume", []float64{0.5, 0, 1}, nil, "the diameter must be above 0, here it is 0 mm"},
		{"lying_tank_volume", []float64{0.5, 1, -2}, nil, "the length must be above 0, here it is -2000 mm"},
		{"lying_tank_volume", []float64{1.5, 1, 2}, nil,
			"the level must lie between 0 and the diameter of 1000 mm, here it is 1500 mm"},
		{"viscosity", []float64{-1, 313.15, 46e-6, 373.15, 7e-6}, nil,
			"a temperature must be above absolute zero, here it is -1 K"},
		{"viscosity", []float64{300, 313.15, 1e-6, 373.15, 7e-6}, nil,
			"the equation holds from 2 mm2/s up, here the oil has 1 mm2/s"},
		{"viscosity", []float64{300, 313.15, 46e-6, 313.15, 7e-6}, nil,
			"the two known viscosities must belong to different temperatures, here both belong to 40 degC"},
		{"viscosity", []float64{300, 313.15, 7e-6, 373.15, 46e-6}, nil,
			"oil thins as it warms, here it has 7 mm2/s at 40 degC and 46 mm2/s at 100 degC"},
		{"viscosity", []float64{573.15, 313.15, 46e-6, 373.15, 7e-6}, nil,
			"at 300 degC the oil is thinner than the 2 mm2/s from which the equation holds"},
		{"viscosity", []float64{3.15, 313.15, 46e-6, 373.15, 7e-6}, nil,
			"at -270 degC the viscosity is too large to hold"},
		{"viscosity_index", []float64{46e-6, 1e-6}, nil,
			"the index is defined from 2 mm2/s at 100 degC up, here it is 1 mm2/s"},
		{"viscosity_index", []float64{7e-6, 46e-6}, nil,
			"the viscosity at 40 degC comes first and is the larger one, here they are 7 mm2/s and 46 mm2/s"},
	} {
		f := Named(test.name)
		c := f.Bind(test.columns)
		if test.name != "tan" { // which has a result everywhere
			var y float64
			if f.Unary != nil {
				y = c.Unary(test.x[0])
			} else {
				y = c.Eval(test.x)
			}
			if tape.Usable(y) {
				t.Errorf("%s of %v is %v, want none", test.name, test.x, y)
			}
		}
		if got := c.Complaint(test.x); got != test.want {
			t.Errorf("%s of %v: got %q, want %q", test.name, test.x, got, test.want)
		}
	}
}

func unit(text string) units.Unit {
	u, err := units.Parse(text)
	if err != nil {
		panic(err)
	}
	return u
}

// TestInterp follows a curve through its points and no further.
func TestInterp(t *testing.T) {
	curve := []Column{{Values: []float64{0, 1, 3, 4}}, {Values: []float64{10, 20, 0, 7}}}
	f := Named("interp")
	for _, test := range []struct{ x, y, slope float64 }{
		{0, 10, 10}, {0.25, 12.5, 10}, {1, 20, -10}, {2, 10, -10}, {3, 0, 7}, {4, 7, 7}, {3.5, 3.5, 7},
		{math.Nextafter(0, -1), math.NaN(), 0}, {math.Nextafter(4, 5), math.NaN(), 0},
	} {
		y := f.Eval([]float64{test.x}, curve)
		if y != test.y && !(math.IsNaN(y) && math.IsNaN(test.y)) {
			t.Errorf("the curve at %v is %v, want %v", test.x, y, test.y)
		}
		d := []float64{99}
		if f.slopes([]float64{test.x}, y, curve, d); d[0] != test.slope {
			t.Errorf("its slope at %v is %v, want %v", test.x, d[0], test.slope)
		}
	}
	for x, want := range map[float64]float64{0.25: 0.25, 0.75: 0.25, 2: 1, 3.9: 0.1, -2: 2} {
		if got := f.corner(x, curve); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v is %v from the next corner, want %v", x, got, want)
		}
	}
}

// TestCorners gives the distance of a number from the next jump of a slope.
func TestCorners(t *testing.T) {
	for _, test := range []struct {
		name    string
		x, want float64
	}{
		{"abs", -2, 2}, {"sign", 0.5, 0.5}, {"floor", 1.9, 0.1}, {"ceil", 2.2, 0.2}, {"round", 1.4, 0.1},
		{"round", 2, 0.5}, {"round", -0.3, 0.2},
		{"friction_factor", 2000, 300}, {"friction_factor", 3500, 500}, {"friction_factor", 1e4, 6000},
	} {
		if got := Named(test.name).Bind(nil).Corner(test.x); math.Abs(got-test.want) > 1e-9 {
			t.Errorf("%s: %v is %v from a corner, want %v", test.name, test.x, got, test.want)
		}
	}
	for _, name := range []string{"sqrt", "sin", "viscosity"} {
		if Named(name).Bind(nil).Corner != nil {
			t.Errorf("%s has a corner", name)
		}
	}
}

// TestLists: min, max, sum and mean are written in the tape's own operations.
func TestLists(t *testing.T) {
	for name, want := range map[string]float64{"min": -2, "max": 7, "sum": 8, "mean": 2} {
		on := tape.New()
		var args []tape.Register
		for _, v := range []float64{3, -2, 7, 0} {
			args = append(args, on.Input(v))
		}
		r := Named(name).Lower(on, args)
		if got := on.Once(nil)[r]; got != want {
			t.Errorf("%s is %v, want %v", name, got, want)
		}
		one := Named(name).Lower(on, args[:1])
		if got := on.Once(nil)[one]; got != 3 {
			t.Errorf("%s of 3 alone is %v", name, got)
		}
	}
}

// TestArticles names types as sentences need them.
func TestArticles(t *testing.T) {
	for _, test := range []struct {
		of              Type
		name, inArticle string
	}{
		{types["MPa"], "pressure", "a pressure"}, {types["angle"], "angle", "an angle"},
		{types["1"], "a plain number", "a plain number"},
		{types["MPa/m"], "kg m^-2 s^-2", "kg m^-2 s^-2"}, {types["date"], "a date", "a date"},
		{types["h"], "a time", "a time"},
		{Type{Sort: Truth}, "a truth value", "a truth value"}, {Type{Sort: Text}, "a text", "a text"},
	} {
		if got := test.of.String(); got != test.name {
			t.Errorf("%+v is called %s, want %s", test.of, got, test.name)
		}
		if got := WithArticle(test.of); got != test.inArticle {
			t.Errorf("%+v is called %s, want %s", test.of, got, test.inArticle)
		}
	}
}

// TestSegment finds the piece of a curve by halving, as a search from the
// start does.
func TestSegment(t *testing.T) {
	xs := []float64{-3, -1, 0, 0.5, 2, 7, 8}
	for x := -4.0; x < 9; x += 0.125 {
		want := -1
		for i := range len(xs) - 1 {
			if xs[i] <= x && x <= xs[i+1] {
				want = i
			}
		}
		if got := segment(xs, x); got != want {
			t.Errorf("%v lies in piece %d, want %d", x, got, want)
		}
	}
	if segment(xs, math.NaN()) != -1 || segment(nil, 0) != -1 || segment([]float64{1}, 1) != -1 {
		t.Error("there is no such piece")
	}
}
