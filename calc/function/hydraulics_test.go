package function

import (
	"encoding/csv"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rambook/calc/tape"
)

// call evaluates a function of numbers in SI units.
func call(t testing.TB, name string, x ...float64) float64 {
	t.Helper()
	f := Named(name)
	if f == nil {
		t.Fatalf("no function is named %s", name)
	}
	if f.Unary != nil {
		return f.Unary(x[0])
	}
	return f.Eval(x, nil)
}

func within(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance*math.Abs(want) }

// checkValue tells how a row of the published check values is computed: the
// figures in its inputs, and the result in the row's unit.
type checkValue struct {
	file, quantity string // the row's quantity starts so
	figures        *regexp.Regexp
	compute        func(t testing.TB, x []float64) float64
	rows           int // at least so many
}

var (
	assigned  = regexp.MustCompile(`=([-+0-9.e]+)`)
	gaugeText = regexp.MustCompile(`class ([0-9.]+); span 0-([0-9.]+) bar`)

	// Some rows have a figure of their inputs in the quantity.
	studentText = regexp.MustCompile(`two-sided ([0-9.]+) %|nu=([0-9]+)`)
	d341Text    = regexp.MustCompile(`at (-?[0-9.]+) degC|=([0-9.]+)`)
)

// checkValues are computed here straight from the table of functions; the
// notebook beside the rows computes them through sheets.
var checkValues = []checkValue{
	{"numerics", "Darcy friction factor, Colebrook-White", assigned, func(t testing.TB, x []float64) float64 {
		return call(t, "friction_factor", x...)
	}, 21},
	{"numerics", "laminar friction factor", assigned, func(t testing.TB, x []float64) float64 {
		return call(t, "friction_factor", x[0], 0)
	}, 5},
	{"numerics", "Student t, two-sided", studentText, func(t testing.TB, x []float64) float64 {
		return call(t, "student", x[0]/100, x[1])
	}, 11},
	{"numerics", "horizontal cylindrical reservoir: volume from level", assigned,
		func(t testing.TB, x []float64) float64 {
			return call(t, "lying_tank_volume", x[2], x[0], x[1]) * 1000
		}, 5},
	{"standards", "EN 837-1 maximum permissible error", gaugeText, func(t testing.TB, x []float64) float64 {
		return call(t, "gauge", x...) * math.Sqrt(3) / 2
	}, 6},
	{"standards", "viscosity by D341 at", d341Text, func(t testing.TB, x []float64) float64 {
		return call(t, "viscosity", x[0]+273.15, 313.15, x[1]*1e-6, 373.15, x[2]*1e-6) * 1e6
	}, 16},
}

func TestPublishedValues(t *testing.T) {
	for _, test := range checkValues {
		rows := 0
		for _, row := range referenceRows(t, test.file) {
			if !strings.HasPrefix(row.quantity, test.quantity) {
				continue
			}
			rows++
			got := test.compute(t, figures(t, test.figures, row.quantity+"; "+row.inputs))
			if !agrees(got, row.expected) {
				t.Errorf("%s: got %.12g, printed %s (%s)", row.id, got, row.expected, row.source)
			}
			if want, err := strconv.ParseFloat(row.recomputed, 64); err == nil && !within(got, want, 3e-9) {
				t.Errorf("%s: got %.15g, recomputed %s (%s)", row.id, got, row.recomputed, row.source)
			}
		}
		if rows < test.rows {
			t.Errorf("%s: %d rows, want %d", test.quantity, rows, test.rows)
		}
	}
}

type publishedRow struct{ id, quantity, inputs, expected, source, recomputed string }

// referenceRows reads a file of published check values.
func referenceRows(t testing.TB, file string) []publishedRow {
	t.Helper()
	f, err := os.Open("../../testdata/reference/" + file + ".csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []publishedRow
	for _, r := range records[1:] {
		rows = append(rows, publishedRow{r[0], r[1], r[2], r[3], r[5], r[7]})
	}
	return rows
}

// figures finds the numbers in a text, in the order in which they stand.
func figures(t testing.TB, pattern *regexp.Regexp, text string) []float64 {
	t.Helper()
	var found []float64
	for _, match := range pattern.FindAllStringSubmatch(text, -1) {
		for _, group := range match[1:] {
			if group == "" {
				continue
			}
			v, err := strconv.ParseFloat(group, 64)
			if err != nil {
				t.Fatal(err)
			}
			found = append(found, v)
		}
	}
	return found
}

// agrees reports whether a value rounds to the printed figure.
func agrees(got float64, printed string) bool {
	want, err := strconv.ParseFloat(printed, 64)
	if err != nil {
		return false
	}
	_, decimals, _ := strings.Cut(printed, ".")
	return math.Abs(got-want) <= 0.5*math.Pow10(-len(decimals))*(1+1e-9)+1e-12*math.Abs(want)
}

// TestStudentDigits: values by an independent program in 30 digits (mpmath).
// The smallest probabilities and the largest factors are where digits are lost.
func TestStudentDigits(t *testing.T) {
	for _, test := range []struct{ p, nu, want, tolerance float64 }{
		{0.9545, 1, 13.967811487502577, 1e-13},
		{0.9545, 3.5, 3.0453110127617819, 1e-13},
		{0.9545, 30, 2.0868470535366518, 1e-13},
		{0.9545, 1000, 2.0025055172186731, 1e-12},
		{0.95, 1e4, 1.9602012398906263, 1e-12},
		{0.001, 3.5, 0.0013449095991883093, 1e-12},
		{1e-6, 30, 1.263800113062027e-6, 1e-12},
		{0.5, 1, 1, 1e-13},
		{0.99999, 1, 63661.977231522147, 1e-10},
		{0.99999, 30, 5.299451342153792, 1e-12},
	} {
		if got := call(t, "student", test.p, test.nu); !within(got, test.want, test.tolerance) {
			t.Errorf("student(%v, %v): got %.17g, want %.17g", test.p, test.nu, got, test.want)
		}
	}
}

// TestReferenceOils holds the polynomials against ASTM D2270: the examples of
// the practice (read) and lines of its table (from memory). The practice
// interpolates in a table of four figures, the polynomials pass it within
// 0.1 %; where two of them meet they differ by up to 0.2 %.
func TestReferenceOils(t *testing.T) {
	for _, test := range []struct{ y, l, h float64 }{
		{8.86, 119.94, 69.48},     // 5.1.4, ST-074 and ST-076
		{5.05, math.NaN(), 28.97}, // 6.1.4, ST-078
		{100, math.NaN(), 2772},   // 5.1.2, ST-083: formula above 70 mm²/s
		{2, 7.994, 6.394},         // table, from memory, as are the next ones
		{4, 25.32, 19.56},
		{5, 40.23, 28.49},
		{8, 100.0, 59.60},
		{10, 147.7, 82.87},
		{12, 201.9, 108.0},
		{15, 296.5, 149.7},
		{20, 493.2, 229.5},
		{70, 4905, 1558},
	} {
		r := referenceOilsAt(test.y)
		l, _ := r.low(test.y)
		h, _ := r.high(test.y)
		if !math.IsNaN(test.l) && !within(l, test.l, 1e-3) || !within(h, test.h, 1e-3) {
			t.Errorf("Y = %v: got L = %.6g and H = %.6g, want %v and %v", test.y, l, h, test.l, test.h)
		}
	}
	for i := range len(referenceOilRanges) - 1 {
		below, above := &referenceOilRanges[i], &referenceOilRanges[i+1]
		y := below.top
		if referenceOilsAt(y) != below || referenceOilsAt(math.Nextafter(y, 1e3)) != above {
			t.Errorf("Y = %v does not end its range", y)
		}
		l1, _ := below.low(y)
		l2, _ := above.low(y)
		h1, _ := below.high(y)
		h2, _ := above.high(y)
		if !within(l2, l1, 1e-3) || !within(h2, h1, 2e-3) {
			t.Errorf("at Y = %v the ranges give L = %.6g, %.6g and H = %.6g, %.6g", y, l1, l2, h1, h2)
		}
	}
}

// TestViscosityIndex: the examples of ASTM D2270 (read). Reported is a whole
// number; the polynomials stay within a tenth of the practice's own figure.
func TestViscosityIndex(t *testing.T) {
	for _, test := range []struct{ nu40, nu100, want, reported float64 }{
		{73.30, 8.86, 92.43, 92},   // 5.1.4, ST-076
		{22.83, 5.05, 156.37, 156}, // 6.1.4, ST-079
	} {
		got := call(t, "viscosity_index", test.nu40*1e-6, test.nu100*1e-6)
		if math.Abs(got-test.want) > 0.1 || math.Round(got) != test.reported {
			t.Errorf("index of %v and %v mm2/s: got %v, want %v", test.nu40, test.nu100, got, test.want)
		}
	}
	// An oil on the line H has the index 100 by both procedures.
	h, _ := referenceOilsAt(6.9).high(6.9)
	for _, u := range []float64{h * (1 - 1e-12), h * (1 + 1e-12)} {
		if got := call(t, "viscosity_index", u*1e-6, 6.9e-6); math.Abs(got-100) > 1e-6 {
			t.Errorf("at U = H the index is %v, want 100", got)
		}
	}
}

func TestFrictionFactor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		re := math.Pow(10, rapid.Float64Range(0, 8).Draw(t, "log10 of Re"))
		rough := rapid.Float64Range(0, roughest).Draw(t, "roughness")
		f := frictionFactor(re, rough)
		switch {
		case re <= laminarEnd:
			if f != 64/re {
				t.Fatalf("laminar factor %v", f)
			}
		case re >= turbulentStart:
			x := 1 / math.Sqrt(f)
			if residual := x + 2*math.Log10(rough/3.7+2.51/re*x); math.Abs(residual) > 1e-14*x {
				t.Fatalf("1/√f = %v leaves %v of Colebrook-White", x, residual)
			}
			if more := frictionFactor(re*1.01, rough); more > f {
				t.Fatalf("the factor rises with the Reynolds number: %v, %v", f, more)
			}
		default:
			if more := frictionFactor(min(re+1, turbulentStart), rough); !(more > f) {
				t.Fatalf("the factor does not rise from laminar to turbulent: %v, %v", f, more)
			}
		}
	})
	for _, rough := range []float64{0, 1e-4, roughest} { // no step at either end of the straight line
		for _, re := range []float64{laminarEnd, turbulentStart} {
			if below, above := frictionFactor(re-1e-9, rough),
				frictionFactor(re+1e-9, rough); !within(below, above, 1e-10) {
				t.Errorf("at Re = %v, roughness %v the factor steps from %v to %v", re, rough, below, above)
			}
		}
	}
}

func TestLyingTank(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := rapid.Float64Range(0.1, 3).Draw(t, "diameter")
		l := rapid.Float64Range(0.1, 10).Draw(t, "length")
		h := d * rapid.Float64Range(0, 1).Draw(t, "share")
		whole := math.Pi / 4 * d * d * l
		if sum := lyingTankVolume(h, d, l) + lyingTankVolume(d-h, d, l); !within(sum, whole, 1e-13) {
			t.Fatalf("what is below and above the level is %v, the tank holds %v", sum, whole)
		}
	})
	if got := lyingTankVolume(0.6*(1+1e-15), 0.6, 1); !within(got, math.Pi*0.09, 1e-15) {
		t.Errorf("a tank full but for rounding holds %v", got)
	}
}

// TestViscosityLine: the two known points come out again, and where the line
// through log log Z over log T is extended both ways it is the same line.
func TestViscosityLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := drawOil(t)
		if back := viscosity([]float64{x[1], x[1], x[2], x[3], x[4]}, nil); !within(back, x[2], 1e-12) {
			t.Fatalf("at T1 the viscosity is %v, want %v", back, x[2])
		}
		if back := viscosity([]float64{x[3], x[1], x[2], x[3], x[4]}, nil); !within(back, x[4], 1e-12) {
			t.Fatalf("at T2 the viscosity is %v, want %v", back, x[4])
		}
		nu := viscosity(x, nil)
		if back := viscosity([]float64{x[1], x[0], nu, x[3], x[4]}, nil); tape.Usable(nu) && math.Abs(x[0]-x[3]) > 5 &&
			!within(back, x[2], 1e-9) {
			t.Fatalf("from the viscosity at T the one at T1 is %v, want %v", back, x[2])
		}
	})
}

// TestRepeatSpread works an example by hand: 10.0, 10.2 and 10.4 have the
// mean 10.2 and s = 0.2.
func TestRepeatSpread(t *testing.T) {
	want := call(t, "student", 0.9545, 2) * 0.2 / math.Sqrt(3)
	if got := call(t, "repeat_spread", 10.0, 10.2, 10.4); !within(got, want, 1e-12) {
		t.Errorf("got %v, want %v", got, want)
	}
	if got := call(t, "repeat_spread", 0.1, 0.1, 0.1); got != 0 {
		t.Errorf("readings that are all alike: got %v, want 0", got)
	}
	if got := call(t, "repeat_spread", 1e9+1, 1e9+2, 1e9+3); !within(got, want*5, 1e-12) {
		t.Errorf("large readings: got %v, want %v", got, want*5)
	}
}

// drawOil draws T, T1, nu1, T2, nu2 of an oil.
func drawOil(t *rapid.T) []float64 {
	nu1 := rapid.Float64Range(30, 700).Draw(t, "nu1")
	return []float64{
		rapid.Float64Range(260, 400).Draw(t, "T"),
		rapid.Float64Range(300, 320).Draw(t, "T1"), nu1 * 1e-6,
		rapid.Float64Range(360, 380).Draw(t, "T2"), nu1 / rapid.Float64Range(3, 15).Draw(t, "nu1/nu2") * 1e-6,
	}
}

// TestSlopes holds the derivatives of every function of several numbers
// against central differences.
func TestSlopes(t *testing.T) {
	draws := map[string]struct {
		draw func(t *rapid.T) []float64
		kink func(below, above []float64) bool // no derivative is asked for across one
	}{
		"friction_factor": {func(t *rapid.T) []float64 {
			return []float64{math.Pow(10, rapid.Float64Range(1, 8).Draw(t, "log10 of Re")),
				rapid.Float64Range(1e-5, 0.049).Draw(t, "roughness")}
		}, func(below, above []float64) bool {
			across := func(re float64) bool { return below[0] < re && re < above[0] }
			return across(laminarEnd) || across(turbulentStart)
		}},
		"lying_tank_volume": {func(t *rapid.T) []float64 {
			d := rapid.Float64Range(0.1, 3).Draw(t, "diameter")
			return []float64{d * rapid.Float64Range(0.01, 0.99).Draw(t, "share"), d,
				rapid.Float64Range(0.1, 10).Draw(t, "length")}
		}, nil},
		"viscosity": {drawOil, nil},
		"viscosity_index": {func(t *rapid.T) []float64 {
			y := rapid.Float64Range(2.1, 120).Draw(t, "Y")
			return []float64{y * rapid.Float64Range(2, 12).Draw(t, "U/Y") * 1e-6, y * 1e-6}
		}, func(below, above []float64) bool {
			r := referenceOilsAt(below[1] * 1e6)
			h, _ := r.high(below[1] * 1e6)
			h2, _ := r.high(above[1] * 1e6)
			return r != referenceOilsAt(above[1]*1e6) || (below[0]*1e6 >= h) != (above[0]*1e6 >= h2)
		}},
		"atan2": {func(t *rapid.T) []float64 {
			return []float64{rapid.Float64Range(0.1, 10).Draw(t, "y"), rapid.Float64Range(-10, -0.1).Draw(t, "x")}
		}, nil},
		"gauge": {func(t *rapid.T) []float64 {
			return []float64{rapid.Float64Range(0.1, 4).Draw(t, "class"), rapid.Float64Range(1e5, 1e8).Draw(t, "span")}
		}, nil},
		"repeat_spread": {func(t *rapid.T) []float64 {
			x := rapid.SliceOfN(rapid.Float64Range(90, 110), 2, 25).Draw(t, "readings")
			x[0] = 120 // they do scatter
			return x
		}, nil},
		"student": {func(t *rapid.T) []float64 {
			return []float64{rapid.Float64Range(0.05, 0.995).Draw(t, "p"),
				rapid.Float64Range(1.1, 200).Draw(t, "degrees")}
		}, nil},
	}
	for _, f := range Table {
		if f.slopes == nil || f.columns > 0 {
			continue // TestInterp has the slope of a curve
		}
		d, ok := draws[f.Name]
		if !ok {
			t.Errorf("%s has derivatives that are not tested", f.Name)
		}
		t.Run(f.Name, rapid.MakeCheck(func(t *rapid.T) {
			x := d.draw(t)
			y := f.Eval(x, nil)
			if !tape.Usable(y) {
				t.Skip("outside the range of the function")
			}
			slopes := make([]float64, len(x))
			f.slopes(x, y, nil, slopes)
			for i := range x {
				step := 2e-5 * x[i]
				moved := func(by float64) []float64 {
					z := append([]float64(nil), x...)
					z[i] += by
					return z
				}
				if d.kink != nil && d.kink(moved(-step), moved(step)) {
					continue
				}
				central := func(step float64) float64 {
					return (f.Eval(moved(step), nil) - f.Eval(moved(-step), nil)) / (2 * step)
				}
				// Richardson: the error of the difference falls with step².
				difference := (4*central(step/2) - central(step)) / 3
				scale := math.Abs(y/x[i]) + math.Abs(slopes[i])
				if tape.Usable(difference) && math.Abs(difference-slopes[i]) > 1e-7*scale {
					t.Fatalf("by argument %d of %v: derivative %v, difference %v", i, x, slopes[i], difference)
				}
			}
		}))
	}
}

// TestFunctionsBear throws any finite numbers at the functions: they may have
// no result, but they neither panic nor allocate.
func TestFunctionsBear(t *testing.T) {
	for _, f := range Table {
		if f.Eval == nil || f.columns > 0 {
			continue
		}
		t.Run(f.Name, rapid.MakeCheck(func(t *rapid.T) {
			n := f.least + f.columns
			if f.most < 0 {
				n += rapid.IntRange(0, 30).Draw(t, "more")
			}
			x, d := make([]float64, n), make([]float64, n)
			for i := range x {
				x[i] = rapid.OneOf(rapid.Float64(), rapid.Float64Range(0, 1), rapid.Float64Range(0, 400)).Draw(t, "x")
			}
			y := f.Eval(x, nil)
			f.slopes(x, y, nil, d)
			if !tape.Usable(y) {
				if f.Complaint(x, nil) == "" {
					t.Fatalf("%s of %v is %v without a reason", f.Name, x, y)
				}
			}
		}))
	}
	for name, x := range map[string][]float64{
		"friction_factor":   {3000, 0.001},
		"lying_tank_volume": {0.2, 0.6, 1},
		"viscosity":         {318.15, 313.15, 46e-6, 373.15, 6.9e-6},
		"viscosity_index":   {46e-6, 6.9e-6},
		"gauge":             {1.6, 4e7},
		"repeat_spread":     {1, 2, 4},
		"student":           {0.95, 9},
	} {
		f, d := Named(name), make([]float64, len(x))
		if n := testing.AllocsPerRun(10, func() { f.slopes(x, f.Eval(x, nil), nil, d) }); n != 0 {
			t.Errorf("%s allocates %v times", name, n)
		}
	}
}
