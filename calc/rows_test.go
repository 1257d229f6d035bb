package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
)

// dutyBook is a duty cycle of three steps: a given with a spread in every row,
// one that a row leaves to the model, a formula that the sheet asks for.
const (
	dutyModel = "name,entry,unit,spread\n" +
		"pressure,10,MPa,0.2\n" +
		"flow,20,L/min,\n" +
		"ratio,2,,\n" +
		"power,=pressure*flow,kW,\n" +
		"after,=power*ratio,kW,\n"
	dutySheet = "step,pressure,flow,share,kind,power,level\n" +
		":unit,MPa,L/min,,text,kW,L\n" +
		":spread,0.5,,,,,\n" +
		"a,6,30,2,fast,,\n" +
		"b,12,,3,press,,\n" +
		"c,24,10,5,press,,\n"
)

// TestRows gives expressions over rows, with values and spreads that follow by
// hand from dutyBook: powers of 3, 4 and 4 kW.
func TestRows(t *testing.T) {
	const levels = "level,=total(duty.flow*3*s),L,\n"
	for _, test := range []struct {
		formula, unit string
		value, spread float64
	}{
		{"sum(duty.share)", "", 10, 0},
		{"sum(duty.pressure*duty.share)/sum(duty.share)", "MPa", 16.8, math.Hypot(math.Hypot(0.1, 0.15), 0.25)},
		{"sum(duty.power*duty.share)/10", "kW", 3.8, math.Hypot(math.Hypot(0.05, 0.05), 0.25/6)},
		{"max(duty.power)", "kW", 4, 0.5 / 3},
		{"ratio*max(duty.power)", "kW", 8, 1. / 3},
		{"sum(duty.pressure - pressure)", "MPa", 12, math.Hypot(0.5*math.Sqrt(3), 0.6)},
		{"mean(duty.pressure)", "MPa", 14, 0.5 / math.Sqrt(3)},
		{"rms(duty.pressure)", "MPa", math.Sqrt(252), 0.5 / math.Sqrt(3)},
		{"first(duty.pressure) + last(duty.pressure)", "MPa", 30, 0.5 * math.Sqrt2},
		{"max(abs(duty.pressure - mean(duty.pressure)))", "MPa", 10, 0.5 * math.Sqrt(4./9+2./9)},
		{"count(duty.pressure > 10*MPa)", "", 2, 0},
		{"count(duty.kind)", "", 3, 0},
		{`sum(duty.kind == "press" ? duty.share : 0)`, "", 8, 0},
		{`max(duty.kind == "fast" ? duty.flow : 0*L/min)`, "L/min", 30, 0},
		{"sum(max(duty.pressure, 10*MPa))", "MPa", 46, 0.5 * math.Sqrt2},
		{"sum(max(duty.pressure, duty.share*MPa))", "MPa", 42, 0.5 * math.Sqrt(3)},
		{"integral(duty.share, duty.pressure)", "MPa", 45, 0.5 * math.Sqrt(0.25+2.25+1)},
		{"slope(duty.share, duty.pressure)", "MPa", 42. / 7, 0.5 * math.Sqrt(14./3) / (14. / 3)},
		{"intercept(duty.share, 6*duty.share + 1)", "", 1, 0},
		{"sum(interp(curve.p, curve.eta, duty.pressure, curve.kind == \"gear\"))", "%", 94 + 88 + 76, math.NaN()},
		{"sum(interp(curve.p, curve.eta, duty.pressure, curve.kind == (duty.share > 4 ? \"gear\" : \"piston\")))", "%",
			94.8 + 93.6 + 76, math.NaN()},
		{"interp(curve.p, curve.eta, 15*MPa, curve.kind == \"piston\")", "%", 93, math.NaN()},
		{"sum(duty.share*sum(weights.w*duty.share))", "", 38 * 3, 0},
		{"max(duty.level)", "L", 3, 0},
		{"last(duty.level)", "L", 3, 0},
	} {
		book := files(t, "1.csv", dutyModel+levels+"r,\"="+strings.ReplaceAll(test.formula, `"`,
			`""`)+"\","+test.unit+",\n", "duty.csv", dutySheet,
			"curve.csv", "point,kind,p,eta\n"+
				":unit,text,MPa,%\n"+
				"g1,gear,0,100\n"+
				"g2,gear,25,75\n"+
				"p1,piston,0,96\n"+
				"p2,piston,25,91\n",
			"weights.csv", "key,w\n:unit,\nA,1\nB,2\n")
		m, problems := Compile(book, Options{})
		if m == nil {
			t.Errorf("%s: %s", test.formula, withHints(problems))
			continue
		}
		r, problems := m.Check(CheckOptions{})
		if r == nil {
			t.Errorf("%s: %s", test.formula, told(problems))
			continue
		}
		got := r.find(t, "r")
		if !near(got.Value, test.value, 1e-12) {
			t.Errorf("%s is %v, expected %v", test.formula, got.Value, test.value)
		}
		if s := got.Spread; Has(test.spread) && !(math.Abs(s-test.spread) < 1e-12) && (Has(s) || test.spread != 0) {
			t.Errorf("%s: spread %v, expected %v", test.formula, s, test.spread)
		}
	}
}

// TestRowFaults: what cannot run over rows is refused, and where.
func TestRowFaults(t *testing.T) {
	for _, test := range []struct{ formula, unit, want string }{
		{"duty.pressure*2", "MPa", "1.csv:7:5: a whole column stands where one value is needed"},
		{"sum(duty.pressure*weights.w)", "MPa", "1.csv:7:23: sum runs over the rows of one sheet, " +
			"here of duty and weights"},
		{"sum(duty.pressure*duty.kind)", "MPa", "1.csv:7:23: a number is needed here, not a text"},
		{"sum(duty.pressure + duty.share)", "MPa", "1.csv:7:9: cannot add pressure to a plain number"},
		{"sum(duty.pressure > 1*MPa)", "", "1.csv:7:9: a number is needed here, not a truth value"},
		{"sum(duty.again)", "kW", "1.csv:7:5: r is computed from itself"},
		{"interp(duty.share, duty.power, 2)", "kW", "1.csv:7:24: duty.power is computed row by row"},
		{"interp(duty.share, duty.pressure, 3, duty.share*2)", "MPa",
			"1.csv:7:42: a condition is needed here, not a plain number"},
		{"total(duty.share, 1)", "", "1.csv:7:5: total takes 1 expression over the rows of one sheet"},
	} {
		sheet := strings.Replace(dutySheet, "level", "r", 1)
		if strings.Contains(test.formula, "again") {
			sheet = strings.Replace(strings.Replace(dutySheet, "level", "again", 1), ",kW,L\n", ",kW,kW\n", 1)
		}
		model := dutyModel + "r,\"=" + strings.ReplaceAll(test.formula, `"`, `""`) + "\"," + test.unit + ",\n"
		if strings.Contains(test.formula, "again") {
			model += "again,=r*2,kW,\n"
		}
		_, problems := Compile(files(t, "1.csv", model, "duty.csv", strings.Replace(sheet, ",r\n", ",rest\n", 1),
			"weights.csv", "key,w\n:unit,\nA,1\nB,2\n"), Options{})
		if got := told(problems); !strings.Contains(got, test.want) &&
			!(strings.Contains(test.formula, "again") && strings.Contains(got, "loop: r <- again <- r")) {
			t.Errorf("%s: got\n%s\nexpected\n%s", test.formula, got, test.want)
		}
	}
}

// TestRunningSum: a sum up to the case's own row, in the cases, as a computed
// column, and with a given whose doubt all rows share.
func TestRunningSum(t *testing.T) {
	r := checked(t, "1.csv", "name,entry,unit,spread\n"+
		"rate,2,L/min,0.1\n"+
		"time,1,min,\n"+
		"level,=total(rate*duty.time),L,\n"+
		"most,=max(duty.level),L,\n",
		"duty.csv", "step,time,level\n:unit,min,L\na,1,\nb,3,\nc,6,\n")
	for i, want := range []float64{1, 4, 10} {
		got := r.Cases[0].Cases[i].Values[0]
		if !near(got.Value, 2*want, 1e-12) || !near(got.Spread, 0.1*want, 1e-12) {
			t.Errorf("row %d: level %v ± %v, expected %v ± %v", i, got.Value, got.Spread, 2*want, 0.1*want)
		}
	}
	if most := r.find(t, "most"); !near(most.Value, 20, 1e-12) || !near(most.Spread, 1, 1e-12) {
		t.Errorf("most is %v ± %v, expected 20 ± 1", most.Value, most.Spread)
	}
}

// TestOwnGiven: a case's own given is the cell that aggregates read in its row,
// so that its difference from the mean counts it once.
func TestOwnGiven(t *testing.T) {
	r := checked(t, "1.csv", "name,entry,unit,spread\ngap,0,mm,\nfrom_mean,=gap - mean(stations.gap),mm,\n",
		"stations.csv", "station,gap,from_mean\n:unit,mm,mm\n:spread,0.3,\na,1,\nb,2,\nc,6,\n")
	want := 0.3 * math.Sqrt(4./9+1./9+1./9)
	for i, c := range r.Cases[0].Cases {
		if got := c.Values[0]; !near(got.Value, []float64{-2, -1, 3}[i], 1e-12) || !near(got.Spread, want, 1e-12) {
			t.Errorf("%s: %v ± %v, expected ± %v", c.Name, got.Value, got.Spread, want)
		}
	}
}

// TestGrid: interp2 gives a bilinear surface back exactly, whatever the order of
// its rows, with the spreads of the four corners, and says what it lacks.
func TestGrid(t *testing.T) {
	z := func(x, y float64) float64 { return 3 + 2*x - y + 0.5*x*y }
	var rows []string
	for _, x := range []float64{0, 1, 4} {
		for _, y := range []float64{-1, 0, 2} {
			rows = append(rows, fmt.Sprintf("%v/%v,%v,%v,%v", x, y, x, y, z(x, y)))
		}
	}
	g := rand.New(rand.NewPCG(1, 2))
	g.Shuffle(len(rows), func(i, j int) { rows[i], rows[j] = rows[j], rows[i] })
	table := "point,x,y,z\n:unit,,,\n:spread,,,0.2\n" + strings.Join(rows, "\n") + "\n"
	for range 100 {
		x, y := 4*g.Float64(), 3*g.Float64()-1
		r := checked(t, "1.csv", fmt.Sprintf("name,entry\nr,\"=interp2(grid.x, grid.y, grid.z, %v, %v)\"\n", x, y),
			"grid.csv", table)
		if got := r.find(t, "r"); !near(got.Value, z(x, y), 1e-12) ||
			!(got.Spread <= 0.2+1e-12 && got.Spread >= 0.1-1e-12) {
			t.Errorf("at %v, %v: %v ± %v, expected %v", x, y, got.Value, got.Spread, z(x, y))
		}
	}
	for formula, want := range map[string]string{
		"interp2(grid.x, grid.y, grid.z, 5, 0)": "interp2: 5 lies outside the grid, whose x runs from " +
			"0 to 4",
		"interp2(grid.x, grid.y, grid.z, 1, 3)": "interp2: 3 lies outside the grid, whose y runs from " +
			"-1 to 2",
		"interp2(grid.x, grid.y, grid.z, 1, 0, grid.x == 1)":  "interp2: the grid has only one value of x",
		"interp2(grid.x, grid.y, grid.z, 1, 0, grid.z > 100)": "interp2: no row keeps to the condition",
		"interp2(grid.x, grid.y, grid.z, 0.5, 1, grid.z > 2)": "interp2: the grid has a hole or two rows for one " +
			"point around x 0.5 and y 1; each x needs a row for each y",
	} {
		_, problems := compiled(t, "1.csv", "name,entry\nr,\"="+formula+"\"\n", "grid.csv", table).Check(CheckOptions{})
		if len(problems) != 1 || problems[0].Message != want {
			t.Errorf("%s: got %s, expected %s", formula, told(problems), want)
		}
	}
}

// rowExpression is a random expression over the rows of a sheet: its text and
// what it comes to, computed in another way than the tape's.
type rowExpression struct {
	text string
	of   func(cells [][]float64, row int) float64
}

// randomRows makes expressions of columns x, y, z, which lie between 1 and 3.
func randomRows(g *rand.Rand, depth int) rowExpression {
	if depth == 0 || g.IntN(5) == 0 {
		if g.IntN(4) == 0 {
			v := math.Round(10+20*g.Float64()) / 10
			return rowExpression{fmt.Sprint(v), func([][]float64, int) float64 { return v }}
		}
		k := g.IntN(3)
		return rowExpression{"t." + string("xyz"[k]), func(cells [][]float64, row int) float64 { return cells[k][row] }}
	}
	a, b := randomRows(g, depth-1), randomRows(g, depth-1)
	switch g.IntN(6) {
	case 0:
		return rowExpression{"(" + a.text + " + " + b.text + ")",
			func(c [][]float64, i int) float64 { return a.of(c, i) + b.of(c, i) }}
	case 1:
		return rowExpression{"(" + a.text + " - " + b.text + ")",
			func(c [][]float64, i int) float64 { return a.of(c, i) - b.of(c, i) }}
	case 2:
		return rowExpression{a.text + "*" + b.text,
			func(c [][]float64, i int) float64 { return a.of(c, i) * b.of(c, i) }}
	case 3:
		return rowExpression{a.text + "/(1 + (" + b.text + ")^2)",
			func(c [][]float64, i int) float64 { return a.of(c, i) / (1 + b.of(c, i)*b.of(c, i)) }}
	case 4:
		return rowExpression{"sin(" + a.text + "*rad)",
			func(c [][]float64, i int) float64 { return math.Sin(a.of(c, i)) }}
	}
	if !strings.Contains(a.text, "t.") {
		return a
	}
	return rowExpression{"mean(" + a.text + ")", func(c [][]float64, _ int) float64 {
		sum := 0.0
		for i := range c[0] {
			sum += a.of(c, i)
		}
		return sum / float64(len(c[0]))
	}}
}

// TestRandomRows compares 1,000 random aggregates with a plain loop: the value,
// and the spread with central differences by each cell, one in twenty with
// sampling too; with RAMBOOK_LONG=1 all of them.
func TestRandomRows(t *testing.T) {
	g := rand.New(rand.NewPCG(11, 12))
	const n, u = 5, 0.002
	folds := map[string]func(v []float64) float64{
		"sum":  func(v []float64) float64 { return v[0] + v[1] + v[2] + v[3] + v[4] },
		"mean": func(v []float64) float64 { return (v[0] + v[1] + v[2] + v[3] + v[4]) / n },
		"rms": func(v []float64) float64 {
			return math.Sqrt((v[0]*v[0] + v[1]*v[1] + v[2]*v[2] + v[3]*v[3] + v[4]*v[4]) / n)
		},
		"first": func(v []float64) float64 { return v[0] },
		"last":  func(v []float64) float64 { return v[4] },
	}
	names := []string{"sum", "mean", "rms", "first", "last"}
	sampled, long := 0, os.Getenv("RAMBOOK_LONG") != ""
	for k := range 1000 {
		cells := [][]float64{make([]float64, n), make([]float64, n), make([]float64, n)}
		sheet := "key,x,y,z\n:unit,,,\n:spread,0.004,0.004,0.004\n"
		for i := range n {
			for j := range cells {
				cells[j][i] = 1 + 2*g.Float64()
			}
			sheet += fmt.Sprintf("k%d,%v,%v,%v\n", i, cells[0][i], cells[1][i], cells[2][i])
		}
		some := randomRows(g, 3)
		e := rowExpression{some.text + " + 0.1*t.x",
			func(c [][]float64, i int) float64 { return some.of(c, i) + 0.1*c[0][i] }}
		name := names[g.IntN(len(names))]
		value := func() float64 {
			v := make([]float64, n)
			for i := range v {
				v[i] = e.of(cells, i)
			}
			return folds[name](v)
		}
		m := compiled(t, "1.csv", "name,entry\nr,\"="+name+"("+e.text+")\"\n", "t.csv", sheet)
		opt := CheckOptions{}
		if k%20 == 0 || long {
			opt.Samples, opt.Seed = 20_000, uint64(k)
		}
		r, problems := m.Check(opt)
		if r == nil {
			t.Fatalf("%s(%s): %s", name, e.text, told(problems))
		}
		want, variance := value(), 0.0
		for j := range cells {
			for i := range n {
				const h = 1e-5
				at := cells[j][i]
				cells[j][i] = at + h
				up := value()
				cells[j][i] = at - h
				variance += math.Pow((up-value())/(2*h)*2*u, 2)
				cells[j][i] = at
			}
		}
		got := r.find(t, "r")
		spread := got.Spread
		if !Has(spread) {
			spread = 0
		}
		size := math.Max(1, math.Abs(want))
		if math.Abs(got.Value-want) > 1e-12*size ||
			math.Abs(spread-math.Sqrt(variance)) > 1e-6*math.Sqrt(variance)+1e-10*size {
			t.Errorf("%s(%s) is %v ± %v, expected %v ± %v", name, e.text, got.Value, spread, want, math.Sqrt(variance))
		}
		if half := (got.SampledHigh - got.SampledLow) / 2; Has(half) && spread > 1e-6*size {
			sampled++
			if math.Abs(half-spread) > 0.05*spread {
				t.Errorf("%s(%s): sampled ± %v, derivatives ± %v", name, e.text, half, spread)
			}
		}
	}
	if sampled < 20 {
		t.Errorf("only %d expressions were sampled", sampled)
	}
}
