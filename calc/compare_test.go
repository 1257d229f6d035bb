package calc

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

const compareModel = `name,entry,unit,spread,low,high
size,10,cm3/rev,,,
price,5,,,,
kind,fixed,text,,,
flow,=size*1500*rev/min,L/min,,20,
heat,=flow*2*MPa*price/100,kW,,,0.5
weight,=price*3*kg,kg,,,
span,=size*2,cm3/rev,,1,100
inverse,=1/(price - 7),,,,
`

const compareCases = `pump,size,price,flow,heat,year,mass,remark
:unit,cm3/rev,,L/min,kW,date,kg,
A,16,2,,,2024-01-01,30,cheap
B,18,4,,,2023-01-01,25,
C,20,5,,,2025-01-01,,
D,12,9,,,2022-01-01,20,small
E,18,4,,,2021-01-01,40,as B
F,18,,31,,2021-01-01,40,read
G,60,20,,,2021-01-01,40,hot
`

func compared(t testing.TB, opt CompareOptions, parts ...string) (*Comparison, string) {
	t.Helper()
	m := compiled(t, append([]string{"model.csv", compareModel, "pumps.csv", compareCases}, parts...)...)
	c, problems := m.Compare("pumps", opt)
	if c == nil {
		return nil, strings.TrimSpace(told(problems))
	}
	var rows []string
	for _, r := range c.Rows {
		text := fmt.Sprintf("%d %s", r.Rank, r.Name)
		if Has(r.Difference) {
			text += fmt.Sprintf(" %.4g", r.Difference)
		}
		if Has(r.Percent) {
			text += fmt.Sprintf(" %.3g%%", r.Percent)
		}
		if r.Unbeaten {
			text += " unbeaten"
		}
		rows = append(rows, text)
	}
	return c, strings.Join(rows, "; ")
}

func TestCompare(t *testing.T) {
	for _, tc := range []struct {
		name string
		opt  CompareOptions
		want string
	}{
		// D is short of flow and G too hot, so they come last, shown or not. B and E are
		// equal. F reads 31, which with its heat beats C; A is cooler than all.
		{"default", CompareOptions{},
			"1 F 0 0% unbeaten; 2 C -1 -3.23%; 3 B -4 -12.9% unbeaten; 3 E -4 -12.9% unbeaten; " +
				"5 A -7 -22.6% unbeaten; 0 D -13 -41.9%; 0 G 59 190%"},
		{"by a high limit", CompareOptions{By: "heat"},
			"1 A 0 0% unbeaten; 2 B 0.02 125% unbeaten; 2 E 0.02 125% unbeaten; 4 F 0.029 181% unbeaten; " +
				"5 C 0.034 213%; 0 D 0.038 237%; 0 G 0.584 3.65e+03%"},
		{"least", CompareOptions{By: "flow", Least: true, Show: []string{"flow"}},
			"1 A 0 0% unbeaten; 2 B 3 12.5%; 2 E 3 12.5%; 4 C 6 25%; 5 F 7 29.2%; 0 D -6 -25%; 0 G 66 275%"},
		{"a given, of which F has the model's", CompareOptions{By: "price", Most: true},
			"1 C 0 0%; 1 F 0 0% unbeaten; 3 B -1 -20% unbeaten; 3 E -1 -20% unbeaten; 5 A -3 -60% unbeaten; " +
				"0 D 4 80%; 0 G 15 300%"},
		{"a data column", CompareOptions{By: "mass", Least: true, Show: []string{"mass"}},
			"1 B 0 0% unbeaten; 2 A 5 20%; 3 E 15 60%; 3 F 15 60%; 0 C; 0 D -5 -20%; 0 G 15 60%"},
		{"dates are days apart, and have no percentage",
			CompareOptions{By: "year", Least: true, Show: []string{"year"}},
			"1 E 0 unbeaten; 1 F 0 unbeaten; 3 B 730; 4 A 1095; 5 C 1461; 0 D 365; 0 G 0"},
		{"a formula that is not asked for", CompareOptions{By: "weight", Least: true, Show: []string{"weight"}},
			"1 A 0 0% unbeaten; 2 B 6 100%; 2 E 6 100%; 4 C 9 150%; 4 F 9 150%; 0 D 21 350%; 0 G 54 900%"},
		{"two limits", CompareOptions{By: "span", Show: []string{"span"}},
			"span has a low and a high limit, so neither more nor less is better"},
		{"two limits, told", CompareOptions{By: "span", Show: []string{"span"}, Most: true},
			"1 C 0 0% unbeaten; 2 B -4 -10%; 2 E -4 -10%; 2 F -4 -10%; 5 A -8 -20%; 0 D -16 -40%; 0 G 80 200%"},
		{"no limit", CompareOptions{By: "weight"}, "weight has no limit, so neither more nor less is better"},
		{"no limit shown", CompareOptions{Show: []string{"weight", "mass"}},
			"no shown quantity has a limit on one side, so neither more nor less is better"},
		{"the first with a limit, told", CompareOptions{Show: []string{"weight", "heat"}, Least: true},
			"1 A 0 0% unbeaten; 2 B 0.02 125%; 2 E 0.02 125%; 4 F 0.029 181%; 5 C 0.034 213%; 0 D 0.038 237%; " +
				"0 G 0.584 3.65e+03%"},
		{"both", CompareOptions{Most: true, Least: true}, "--most and --least contradict each other"},
		{"unknown", CompareOptions{Show: []string{"flwo"}},
			"--show: no quantity and no column of sheet pumps is named `flwo`"},
		{"unknown by", CompareOptions{By: "flwo"}, "--by: no quantity and no column of sheet pumps is named `flwo`"},
		{"a text", CompareOptions{Show: []string{"kind"}}, "--show: kind is a text, not a number"},
		{"a remark", CompareOptions{By: "remark", Most: true}, "pumps.csv:3:24: `cheap` is not a number"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			_, got := compared(t, tc.opt)
			if first, _, _ := strings.Cut(got, "\n"); first != tc.want {
				t.Errorf("got  %s\nwant %s", got, tc.want)
			}
		})
	}
}

// TestDifferenceSpread holds the spread of each difference to the best against
// central differences of the same formula, written again in Go, over all that
// may vary: once where both cases have an input in common, else for each.
func TestDifferenceSpread(t *testing.T) {
	m := compiled(t, "model.csv", `name,entry,unit,spread,low
bore,100,mm,0.5,
pressure,20,MPa,1 %,
efficiency,0.9,,0.02,
friction,5,kN,0.4,
material,soft,text,,
force,=efficiency*pressure*pi/4*bore^2 - friction - materials[material].strength*20*mm^2,kN,,0
`, "materials.csv", "material,strength\n"+
		":unit,MPa\n"+
		":spread,4 %\n"+
		"soft,400\n"+
		"hard,500\n", "presses.csv", `press,pressure,efficiency,material,force
:unit,MPa,,,kN
:spread,,0.01,,2
a,20,0.9,soft,
b,21,,soft,
c,,,hard,
d,,,soft,
e,22,0.85,hard,
f,20,0.9,hard,
g,,,,125.5
h,,,,
`)
	type inputs struct {
		pressure, efficiency float64 // 0: the model's
		material             string
		reading              float64
	}
	presses := map[string]inputs{"a": {20, 0.9, "soft", 0}, "b": {21, 0, "soft", 0}, "c": {0, 0, "hard", 0},
		"d": {0, 0, "soft", 0},
		"e": {22, 0.85, "hard", 0}, "f": {20, 0.9, "hard", 0}, "g": {0, 0, "soft", 125.5}, "h": {0, 0, "soft", 0}}
	// force is in kN, of a case whose inputs are off by so many of their spreads.
	force := func(name string, off map[string]float64) float64 {
		p := presses[name]
		own := func(input string, mine bool) float64 {
			if mine {
				input += " of " + name
			}
			return off[input]
		}
		if p.reading > 0 {
			return p.reading + 2*own("reading", true)
		}
		pressure, efficiency := cmp.Or(p.pressure, 20), cmp.Or(p.efficiency, 0.9)
		pressure *= 1 + 0.01*own("pressure", p.pressure > 0)
		efficiency += 0.01 * own("efficiency", p.efficiency > 0)
		strength := map[string]float64{"soft": 400, "hard": 500}[p.material] * (1 + 0.04*off[p.material])
		bore := 100 + 0.5*off["bore"]
		return efficiency*pressure*math.Pi/4*bore*bore/1e3 - (5 + 0.4*off["friction"]) - strength*20/1e3
	}
	apart := map[bool]int{}
	for _, opt := range []CompareOptions{{By: "force", Most: true}, {By: "force", Least: true}} {
		c, problems := m.Compare("presses", opt)
		if c == nil {
			t.Fatal(told(problems))
		}
		best := c.Rows[0].Name
		for i, r := range c.Rows {
			if i == 0 {
				if r.Difference != 0 || Has(r.Spread) || r.MayBeBest {
					t.Errorf("the best is %v ± %v from itself", r.Difference, r.Spread)
				}
				continue
			}
			difference := func(off map[string]float64) float64 { return force(r.Name, off) - force(best, off) }
			want := 0.0
			for _, input := range []string{"bore", "friction", "soft", "hard", "pressure", "efficiency",
				"pressure of " + best, "efficiency of " + best, "reading of " + best,
				"pressure of " + r.Name, "efficiency of " + r.Name, "reading of " + r.Name} {
				const step = 1e-4
				slope := (difference(map[string]float64{input: step}) - difference(map[string]float64{input: -step})) /
					(2 * step)
				want = math.Hypot(want, slope)
			}
			if math.Abs(r.Difference-difference(nil)) > 1e-9 || math.Abs(r.Spread-want) > 1e-6*want+1e-9 {
				t.Errorf("%s to %s: %v ± %v, want %v ± %v", r.Name, best, r.Difference, r.Spread, difference(nil), want)
			}
			if near := math.Abs(difference(nil)) <= want && want > 1e-9; r.MayBeBest != near {
				t.Errorf("%s may be the best: %v, want %v", r.Name, r.MayBeBest, near)
			}
			apart[r.MayBeBest]++
		}
	}
	if apart[true] == 0 || apart[false] == 0 {
		t.Errorf("only one answer was tried: %v", apart)
	}
}

// TestDifferenceSpreadOf takes the cases apart by hand.
func TestDifferenceSpreadOf(t *testing.T) {
	m := compiled(t, "model.csv", `name,entry,spread,low
a,10,1,
b,2,0.5,
sum,=a + b,,0
product,=a*b,,0
root,=sqrt(a - 10)*sqrt(b - 1),,
`, "cases.csv", `case,b,exact,sum,product
:unit,,,,
:spread,,,3,
first,4,7,,
second,3,7,,
third,2,6,9,
fourth,,5,,
`)
	for _, tc := range []struct{ by, want string }{
		// √(0.5² + 0.5²); √(3² + 0.5² + 1²), of which the reading's is 3
		{"sum", "second -1 ± 0.7071; fourth -2 ± 0.7071; third -5 ± 3.202"},
		{"product", "second -10 ± 7.141; third -20 ± 7.348; fourth -20 ± 7.348"}, // √(2·5² + 1²), √(2·5² + 2²)
		{"a", "second 0 ± 0; third 0 ± 0; fourth 0 ± 0"},                         // the same given in all
		{"b", "second -1 ± 0.7071; third -2 ± 0.7071; fourth -2 ± 0.7071"},
		{"exact", "second 0; third -1; fourth -2"},
		{"root", "second 0; third 0; fourth 0"}, // infinitely steep
	} {
		c, problems := m.Compare("cases", CompareOptions{By: tc.by, Most: true})
		if c == nil {
			t.Fatal(told(problems))
		}
		var got []string
		for _, r := range c.Rows[1:] {
			text := fmt.Sprintf("%s %.4g", r.Name, r.Difference)
			if Has(r.Spread) {
				text += fmt.Sprintf(" ± %.4g", r.Spread)
			}
			got = append(got, text)
			if r.MayBeBest != (tc.by == "root") {
				t.Errorf("by %s %s may be the best: %v", tc.by, r.Name, r.MayBeBest)
			}
		}
		if text := strings.Join(got, "; "); text != tc.want {
			t.Errorf("by %s: %s\nwant %s", tc.by, text, tc.want)
		}
	}
}

// TestDirectionOfLimits: a limit says what is better wherever it stands, in the
// model or over the sheet's column, and two of them say nothing.
func TestDirectionOfLimits(t *testing.T) {
	const neither = " has a low and a high limit, so neither more nor less is better"
	for _, tc := range []struct {
		by, model, rows, want string
	}{
		{"f", "", "", "f has no limit, so neither more nor less is better"},
		{"f", ",1,", "", "two one"},
		{"f", ",,9", "", "one two"},
		{"f", ",1,9", "", "f" + neither},
		{"f", ",1,", ":high,,9\n", "f" + neither},
		{"f", ",,9", ":low,,1\n", "f" + neither},
		{"f", "", ":low,,1\n:high,,9\n", "f" + neither},
		{"f", "", ":low,,1\n", "two one"},
		{"f", "", ":high,,9\n", "one two"},
		{"", "", ":high,,9\n", "one two"},
		{"f", "", ":high,,=a + 1\n", "one two"},
		{"a", "", ":high,9,\n", "one two"},
		{"a", "", ":low,1,\n", "two one"},
		{"a", "", ":low,1,\n:high,9,\n", "a" + neither},
	} {
		m := compiled(t, "model.csv", "name,entry,low,high\na,1,,\nf,=a"+tc.model+"\n", "cases.csv",
			"case,a,f\n:unit,,\n"+tc.rows+"two,3,\none,2,\n")
		c, problems := m.Compare("cases", CompareOptions{By: tc.by})
		got := strings.TrimSpace(told(problems))
		if c != nil {
			got = c.Rows[0].Name + " " + c.Rows[1].Name
		}
		if got != tc.want {
			t.Errorf("by %q, model %q, sheet %q: %s, want %s", tc.by, tc.model, tc.rows, got, tc.want)
		}
	}
}

// TestDataSpread: each cell of a column of data is as doubtful as the column's
// spread says, by itself.
func TestDataSpread(t *testing.T) {
	m := compiled(t, "model.csv", "name,entry\na,1\nb,=a\n", "cases.csv", `case,mass,bought,ratio,bare,b
:unit,kg,date,,,
:spread,0.5,3 d,10 %,,
x,12,2026-01-05,3,3,
y,12.4,2026-01-07,,4,
z,14,2026-01-20,4,4,
`)
	for _, tc := range []struct{ by, want string }{
		{"mass", "x ± 0.5: 0 ± NaN; y ± 0.5: 0.4 ± 0.7071 near; z ± 0.5: 2 ± 0.7071"}, // √2 × 0.5
		{"bought", "x ± 3: 0 ± NaN; y ± 3: 2 ± 4.243 near; z ± 3: 15 ± 4.243"},        // in days
		{"ratio", "x ± 0.3: 0 ± NaN; z ± 0.4: 1 ± 0.5; y ± NaN: NaN ± NaN"},           // √(0.3² + 0.4²)
		{"bare", "x ± NaN: 0 ± NaN; y ± NaN: 1 ± NaN; z ± NaN: 1 ± NaN"},
	} {
		c, problems := m.Compare("cases", CompareOptions{By: tc.by, Show: []string{tc.by}, Least: true})
		if c == nil {
			t.Fatal(told(problems))
		}
		var got []string
		for _, r := range c.Rows {
			text := fmt.Sprintf("%s ± %.4g: %.4g ± %.4g", r.Name, r.Shown[0].Spread, r.Difference, r.Spread)
			if r.MayBeBest {
				text += " near"
			}
			got = append(got, text)
		}
		if text := strings.Join(got, "; "); text != tc.want {
			t.Errorf("by %s: %s\nwant %s", tc.by, text, tc.want)
		}
	}
	m = compiled(t, "model.csv", "name,entry\na,1\nb,=a\n", "cases.csv", "case,mass,b\n:unit,kg,\n:spread,3 m,\nx,2,\n")
	if c, problems := m.Compare("cases", CompareOptions{By: "mass", Least: true}); c != nil ||
		!strings.Contains(told(problems), "cases.csv:3:9: ") {
		t.Errorf("a spread of another dimension: %s", told(problems))
	}
}

// TestDifferenceOfLookups: a cell that two cases reach by different keys moves
// both alike.
func TestDifferenceOfLookups(t *testing.T) {
	m := compiled(t, "tab.csv", "key,p\n:unit,MPa\n:spread,1\nA,20\nB,17\n",
		"a.csv", `name,entry,unit,spread
pick,A,text,
step,1,MPa,0.5
fixed,"=tab[""A""].p + step",MPa,
mixed,"=tab[""A""].p + 2*tab[pick].p",MPa,
`, "runs.csv", "case,pick,step,fixed,mixed\n:unit,text,MPa,MPa,MPa\none,A,3,,\ntwo,B,2,,\nthree,A,1,,\n")
	for by, want := range map[string]string{
		"fixed": "two -1 ± 0.7071; three -2 ± 0.7071", // the spreads of the two steps
		"mixed": "three 0 ± 0; two -6 ± 2.828",        // 3·A against A + 2·B
	} {
		c, problems := m.Compare("runs", CompareOptions{By: by, Most: true})
		if c == nil {
			t.Fatal(told(problems))
		}
		var got []string
		for _, r := range c.Rows[1:] {
			got = append(got, fmt.Sprintf("%s %.4g ± %.4g", r.Name, r.Difference, r.Spread))
		}
		if text := strings.Join(got, "; "); text != want {
			t.Errorf("by %s: %s\nwant %s", by, text, want)
		}
	}
}

// TestUnbeaten holds the marks against every pair of cases.
func TestUnbeaten(t *testing.T) {
	const cases = 80
	r := rand.New(rand.NewPCG(5, 6))
	for round := range 20 {
		model := "name,entry,low,high\nx,1,,\ny,1,,\nz,1,,\na,=x,0,\nb,=y,,1000\nc,=z,0,\n"
		sheet := "case,x,y,z,a,b,c\n:unit,,,,,,\n"
		for i := range cases {
			sheet += fmt.Sprintf("n%d,%d,%d,%d,,,\n", i, r.IntN(4+round), r.IntN(4+round), r.IntN(3))
		}
		c, problems := compiled(t, "m.csv", model, "cases.csv", sheet).Compare("cases", CompareOptions{})
		if c == nil {
			t.Fatal(told(problems))
		}
		value := func(r *ComparedCase, k int) float64 { return r.Shown[k].Value * []float64{1, -1, 1}[k] }
		for i := range c.Rows {
			beaten := slices.ContainsFunc(c.Rows, func(other ComparedCase) bool {
				better := false
				for k := range 3 {
					if value(&other, k) < value(&c.Rows[i], k) {
						return false
					}
					better = better || value(&other, k) > value(&c.Rows[i], k)
				}
				return better
			})
			if c.Rows[i].Unbeaten == beaten {
				t.Fatalf("round %d: case %s is beaten: %v, marked unbeaten: %v", round, c.Rows[i].Name, beaten,
					c.Rows[i].Unbeaten)
			}
		}
	}
}

// absentModel has cases that lack what is ranked by, what has a limit, and what has none.
const absentModel = "name,entry,unit,low,high,note\nflow,30,L/min,,,\ndrain,1,L/min,,,\nmass,10,kg,,,less is better\n" +
	"speed,=flow/(100*cm2),mm/s,40,,\nlost,=drain*2,L/min,,5,\n"

// TestCompareAbsent: what a case has none of keeps it from no rank but that by it, and
// where there has to be some of it.
func TestCompareAbsent(t *testing.T) {
	for _, test := range []struct{ by, want string }{
		{"speed", "1 undrained unbeaten without lost; 2 light; 3 first unbeaten; 0 still; 0 slow"},
		{"mass", "1 first unbeaten; 2 undrained unbeaten without lost; 0 light; 0 still; 0 slow"},
		{"lost", "1 first unbeaten; 2 light; 0 undrained; 0 still; 0 slow"},
		{"price", "1 undrained unbeaten without lost; 2 first; 0 light; 0 still; 0 slow"},
	} {
		m := compiled(t, "m.csv", absentModel, "pumps.csv", "pump,flow,drain,mass,price,speed,lost\n:unit,L/min,L/min,kg,,,\n"+
			"first,25,1,10,2,,\nundrained,45,n/a,14,1,,\nlight,34,2,n/a,n/a,,\nstill,n/a,1,9,,,\nslow,20,n/a,9,3,,\n")
		show := []string{"speed", "mass"}
		if test.by == "lost" || test.by == "price" {
			show = []string{test.by}
		}
		c, problems := m.Compare("pumps", CompareOptions{By: test.by, Show: show, Least: test.by == "price"})
		if c == nil {
			t.Fatal(told(problems))
		}
		var rows []string
		for _, r := range c.Rows {
			text := fmt.Sprintf("%d %s", r.Rank, r.Name)
			if r.Unbeaten {
				text += " unbeaten"
			}
			if r.Rank > 0 && len(r.NotTooMuch) > 0 {
				text += " without " + r.NotTooMuch[0].Name
			}
			rows = append(rows, text)
		}
		if got := strings.Join(rows, "; "); got != test.want {
			t.Errorf("by %s: %s\nwant %s", test.by, got, test.want)
		}
	}
}

// TestCompareFailures checks that an error in one case leaves the others
// running, and that a blank data cell counts as open.
func TestCompareFailures(t *testing.T) {
	m := compiled(t, "model.csv", compareModel, "pumps.csv", strings.Replace(compareCases, "C,20,5", "C,20,7", 1))
	c, problems := m.Compare("pumps", CompareOptions{By: "inverse", Most: true, Show: []string{"inverse", "mass"}})
	if c == nil {
		t.Fatal(told(problems))
	}
	if got, want := told(c.Failures), "model.csv:9:10: C: inverse: division by zero\n"; got != want {
		t.Errorf("failures %swant %s", got, want)
	}
	last := c.Rows[slices.IndexFunc(c.Rows, func(r ComparedCase) bool { return r.Name == "C" })]
	if last.Rank != 0 || last.Verdict != Open || last.Shown[0].Error != "division by zero" ||
		last.Shown[1].Needs[0].Name != "pumps[C].mass" {
		t.Errorf("the case in error is %+v", last)
	}
	// What was read is judged and ranked, though it cannot be computed.
	m = compiled(t, "model.csv", "name,entry,low\na,1,\nb,=1/a,2\n", "cases.csv",
		"case,a,b\n:unit,,\nread,0,3\ncomputed,0.4,\n")
	c, problems = m.Compare("cases", CompareOptions{})
	if c == nil {
		t.Fatal(told(problems))
	}
	if r := c.Rows[0]; r.Name != "read" || r.Rank != 1 || r.Verdict != Pass || len(c.Failures) != 1 ||
		c.Rows[1].Difference != -0.5 {
		t.Errorf("a case that is read is %+v; %s", r, told(c.Failures))
	}
}

// TestCompareJudgesAsCheck: whatever a comparison shows, a case has the verdict
// that check gives it, joined with that of what is shown beside; one that
// fails or is open takes no part, and what keeps it out is told.
func TestCompareJudgesAsCheck(t *testing.T) {
	m := compiled(t, "model.csv", `name,entry,unit,spread,low,high
size,10,cm3/rev,1 %,5,50
price,5,,,,
drag,,N*m,,,
flow,=size*1500*rev/min,L/min,,20,
loss,=drag*1500*rev/min/rad,kW,,,1
weight,=price*3*kg,kg,,,40
`, "pumps.csv", `pump,size,price,drag,flow,loss,mass
:unit,cm3/rev,,N*m,L/min,kW,kg
:high,,12,,,,
good,20,4,3,,,10
too big,60,4,3,,,10
short,12,4,3,,,10
open,20,4,,,,10
dear,20,13,3,,,10
doubtful,13.4,4,3,,,10
no mass,20,4,3,,,
`)
	report, problems := m.Check(CheckOptions{})
	if report == nil {
		t.Fatal(told(problems))
	}
	for _, tc := range []struct {
		show string
		out  string // the cases that take no part, and which values keep them out
	}{
		{"flow,loss", "dear: price; open: loss; short: flow; too big: size"},
		{"loss", "dear: price; open: loss; short: flow; too big: size"},
		{"flow", "dear: price; open: loss; short: flow; too big: size"},
		{"size", "dear: price; open: loss; short: flow; too big: size"},
		{"mass", "dear: price; no mass: mass; open: loss; short: flow; too big: size"},
		{"price", "dear: price; open: loss; short: flow; too big: size"},
		{"drag", "dear: price; open: loss drag; short: flow; too big: size"},
	} {
		show := strings.Split(tc.show, ",")
		c, problems := m.Compare("pumps", CompareOptions{By: show[0], Most: true, Show: show})
		if c == nil {
			t.Fatal(told(problems))
		}
		var out []string
		for _, r := range c.Rows {
			want := report.Cases[0].Cases[slices.IndexFunc(report.Cases[0].Cases,
				func(c Case) bool { return c.Name == r.Name })].Verdict
			if tc.show == "mass" && r.Name == "no mass" {
				want = Open
			}
			if r.Verdict != want {
				t.Errorf("showing %s: %s is %v, and check says %v", tc.show, r.Name, r.Verdict, want)
			}
			if len(r.Shown) != len(show) || r.Shown[0].Quantity.Name != show[0] {
				t.Errorf("showing %s: %+v", tc.show, r.Shown)
			}
			if (r.Rank == 0) != (want == Fail || want == Open) {
				t.Errorf("showing %s: %s is %v and has rank %d", tc.show, r.Name, r.Verdict, r.Rank)
			}
			if r.Rank == 0 {
				var why []string
				for _, j := range r.Values {
					if j.Verdict == Fail || j.Verdict == Open {
						why = append(why, j.Quantity.Name)
					}
				}
				out = append(out, r.Name+": "+strings.Join(why, " "))
			}
		}
		slices.Sort(out)
		if got := strings.Join(out, "; "); got != tc.out {
			t.Errorf("showing %s: out are %s\nwant %s", tc.show, got, tc.out)
		}
	}
	for _, want := range []struct {
		name    string
		verdict Verdict
	}{{"good", Pass}, {"too big", Fail}, {"short", Fail}, {"open", Open}, {"dear", Fail}, {"doubtful", Unsure},
		{"no mass", Pass}} {
		if c := report.Cases[0].Cases[slices.IndexFunc(report.Cases[0].Cases,
			func(c Case) bool { return c.Name == want.name })]; c.Verdict != want.verdict {
			t.Errorf("check says of %s %v, want %v", want.name, c.Verdict, want.verdict)
		}
	}
}

func TestCompareSheets(t *testing.T) {
	for _, tc := range []struct{ sheet, want string }{
		{"pump", "no sheet is named `pump`"},
		{"model", "`model` is a sheet of quantities, and only the cases of a case sheet can be compared"},
		{"data", "sheet data asks for no formula"},
	} {
		m := compiled(t, "model.csv", compareModel, "pumps.csv", compareCases, "data.csv",
			"grade,strength\n:unit,MPa\nS235,400\nS355,510\n")
		if _, problems := m.Compare(tc.sheet, CompareOptions{}); len(problems) != 1 || problems[0].Error() != tc.want {
			t.Errorf("%s: got %swant %s", tc.sheet, told(problems), tc.want)
		}
		c, problems := m.Compare("data", CompareOptions{By: "strength", Most: true})
		if c == nil || c.Rows[0].Name != "S355" {
			t.Errorf("a sheet that asks for nothing: %s", told(problems))
		}
	}
	// A column named like a given is no more than data there, and formulas are not computed.
	m := compiled(t, "model.csv", compareModel, "sizes.csv", "series,size\n:unit,cm3/rev\nsmall,8\nlarge,80\n")
	if c, problems := m.Compare("sizes", CompareOptions{By: "size", Most: true}); c == nil ||
		c.Rows[0].Name != "large" || c.Rows[1].Difference != -72 {
		t.Errorf("a column named like a given: %+v %s", c, told(problems))
	}
	if c, problems := m.Compare("sizes", CompareOptions{By: "flow"}); c != nil ||
		told(problems) != "sheet sizes asks for no formula, so the model is not run for its cases\n" {
		t.Errorf("a formula that is not asked for: %s", told(problems))
	}
}
