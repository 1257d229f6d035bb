package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"rambook/units"
)

// base is the notebook that expressions are tried in.
const base = `name,entry,unit
setting,25,MPa
bore,170,mm
area,226,cm2
flow,30,L/min
speed,1450,rev/min
disp,16,cm3/rev
t_oil,45,degC
t_room,20,degC
rise,25,K
eff,94,%
mode,gravity,text
grade,S235,text
today,2026-05-04,date
interval,2000,h
nothing,,MPa
zero,0,mm
ratio,0.5,
`

const curves = `point,pressure,flow,label
:unit,MPa,L/min,text
a,0,40,idle
b,10,38,
c,20,30,full
`

const materials = `grade,strength,spring,remark
:unit,MPa,,
S235,400,1.5,common
S355,510,,"what you like: 1,5"
`

func expressionBook(t testing.TB, expression, unit string) (*Report, string) {
	t.Helper()
	row := fmt.Sprintf("x,\"=%s\",%s\n", strings.ReplaceAll(expression, `"`, `""`), unit)
	m, problems := Compile(files(t, "base.csv", base, "curve.csv", curves, "materials.csv", materials, "x.csv",
		"name,entry,unit\n"+row), Options{})
	if m == nil {
		return nil, told(problems)
	}
	r, problems := m.Check(CheckOptions{})
	if len(problems) > 0 {
		return nil, told(problems)
	}
	return r, ""
}

// TestExpressions computes expressions in their unit.
func TestExpressions(t *testing.T) {
	tests := []struct {
		expression, unit string
		want             float64
	}{
		{"7/2", "", 3.5},
		{"-2^2", "", -4},
		{"2^-1", "", 0.5},
		{"2^3^2", "", 512},
		{"2**3", "", 8},
		{"1/2/4", "", 0.125},
		{"20*MPa", "bar", 200},
		{"30*L/min", "L/min", 30},
		{"9.81*m/s^2", "m/s^2", 9.81},
		{"setting*area", "kN", 565},
		{"pi/4*bore^2", "cm2", math.Pi / 4 * 17 * 17},
		{"disp*speed", "L/min", 16 * 1450 / 1000.0},
		{"setting*disp*rad", "N*m", 25e6 * 16e-6 / (2 * math.Pi)},
		{"(bore^2)^0.5", "mm", 170},
		{"sqrt(bore^2)", "mm", 170},
		{"bore^(1/2)*bore^0.5", "mm", 170},
		{"eff*100*mm", "mm", 94},
		{"t_oil - t_room", "K", 25},
		{"t_oil + rise", "degC", 70},
		{"rise + t_oil", "degC", 70},
		{"t_oil", "K", 318.15},
		{"t_oil", "degF", 113},
		{"t_room + (t_oil - t_room)/2", "degC", 32.5},
		{"max(t_oil, t_room)", "degC", 45},
		{"t_oil > t_room ? 1 : 0", "", 1},
		{"setting/t_oil*t_room", "MPa", 25 * 293.15 / 318.15},
		{"setting > 20*MPa ? area : 2*area", "cm2", 226},
		{`mode == "gravity" ? 1 : 2`, "", 1},
		{`mode != "gravity" ? 1 : 2`, "", 2},
		{`not (mode == "pump") and true ? 1 : 2`, "", 1},
		{"let p = 2*setting; p*area", "kN", 1130},
		{"let a = 2; let b = a*a; b + a", "", 6},
		{"let mm = 3; mm", "", 3},
		{"1 < ratio < 3 ? 1 : 0", "", 0},
		{"0 < ratio < 3 ? 1 : 0", "", 1},
		{"min(3, 1, 2)", "", 1},
		{"sum(1, 2, 3)", "", 6},
		{"mean(1*mm, 3*mm)", "mm", 2},
		{"max(curve.pressure)", "MPa", 20},
		{"mean(curve.flow)", "L/min", 36},
		{"count(curve.flow)", "", 3},
		{"interp(curve.pressure, curve.flow, 15*MPa)", "L/min", 34},
		{"interp(curve.pressure, curve.flow, 20*MPa)", "L/min", 30},
		{"interp(curve.pressure, curve.flow, 0*MPa)", "L/min", 40},
		{"materials[grade].strength", "MPa", 400},
		{`materials["S355"].strength`, "MPa", 510},
		{"abs(-3*mm)", "mm", 3},
		{"sin(30*deg)", "", 0.5},
		{"asin(0.5)", "deg", 30},
		{"atan2(1*mm, 1*mm)", "deg", 45},
		{"ln(exp(2))", "", 2},
		{"log10(1000)", "", 3},
		{"round(2.5) + floor(-0.5) + ceil(0.5) + sign(-3)", "", 2},
		{"ratio > 1 ? 1/zero*mm : 5", "", 5},           // only the taken arm counts
		{"ratio > 0 ? setting : nothing", "MPa", 25},   // an open quantity in the other arm too
		{"ratio > 1 and 1/zero > 2/mm ? 1 : 0", "", 0}, // and stops early
		{"ratio < 1 or 1/zero > 2/mm ? 1 : 0", "", 1},  // or too
		{"today - today + 5*d", "d", 5},
		{"1e300*1e-300", "", 1},
		{"−3 + 5", "", 2}, // the Unicode minus
		{"atm", "kPa", 101.325},
	}
	for _, test := range tests {
		r, problems := expressionBook(t, test.expression, test.unit)
		if r == nil {
			t.Errorf("%s: %s", test.expression, problems)
			continue
		}
		got := r.find(t, "x").Value
		if math.Abs(got-test.want) > 1e-12*math.Max(math.Abs(test.want), 1) {
			t.Errorf("%s in %s: got %v, expected %v", test.expression, test.unit, got, test.want)
		}
	}
}

// TestRefusals gives expressions that are wrong, with the message and the
// column of the sheet where it has to point.
func TestRefusals(t *testing.T) {
	tests := []struct {
		expression, unit string
		column           int // in a line `x,"=` + expression
		message          string
	}{
		{"5//2", "", 6, "`//` is not an operator"},
		{"5/* two */2", "", 6, "`/*` is not an operator"},
		{"a=b", "", 6, "`=` inside a formula"},
		{"1e400", "", 5, "out of range"},
		{"9223372036854775808", "", 5, "out of range"},
		{"5 % 2", "", 7, "`%` is not in the language"},
		{"16*cm3*1450*rev/min", "L/min", 5, "but the row is in L/min"},
		{"3*ton", "kN", 7, "`ton` is ambiguous"},
		{"3*degC", "K", 7, "`degC` stands only in unit columns and cells"},
		{"bore + setting", "mm", 5, "cannot add length to pressure"},
		{"bore - setting", "mm", 5, "cannot subtract pressure from length"},
		{"seting*area", "kN", 5, "no quantity, unit or constant is named `seting`"},
		{"sqr(4)", "", 5, "no function is named `sqr`"},
		{"setting(3)", "", 5, "`setting` is no function"},
		{"sin(30)", "", 9, "sin: needs an angle, found a plain number"},
		{"sin(30*deg, 2)", "", 5, "sin takes 1 argument, here are 2"},
		{"atan2(1)", "", 5, "atan2 takes 2 arguments, here is 1"},
		{"ln(bore)", "", 8, "ln: needs a plain number, found a length"},
		{"max(bore, setting)", "mm", 15, "max: needs equal dimensions"},
		{"setting > bore ? 1 : 2", "", 5, "cannot compare pressure with length"},
		{"setting ? 1 : 2", "", 5, "a condition is needed here"},
		{"setting > 20*MPa", "", 5, "a truth value is no result"},
		{"setting > 20*MPa ? 1 : 1*mm", "", 24, "the two arms of ? : are a plain number and a length"},
		{`mode`, "", 5, "a text is no result"},
		{`mode + 1`, "", 5, "a number is needed here, not a text"},
		{"t_oil + t_room", "degC", 5, "cannot add a temperature point to a temperature point"},
		{"rise - t_room", "K", 5, "cannot subtract a temperature point from a temperature difference"},
		{"-t_oil", "K", 5, "cannot change the sign of a temperature point"},
		{"t_oil - t_room", "degC", 5, "a temperature difference cannot stand in degC"},
		{"t_oil > rise ? 1 : 0", "", 5, "cannot compare a temperature point with a temperature difference"},
		{"today*2", "date", 5, "a date cannot be multiplied or divided"},
		{"today + interval", "h", 5, "the formula yields a date, but the row is in h"},
		{"interval", "date", 5, "a time is no date"},
		{"bore^setting", "", 10, "an exponent is a plain number, here stands a pressure"},
		{"bore^ratio", "", 10, "the exponent of length must be a literal number"},
		{"curve.flow", "L/min", 5, "a whole column stands where one value is needed"},
		{"curve.presure", "MPa", 11, "sheet curve has no column `presure`"},
		{"curves.pressure", "MPa", 5, "no sheet is named `curves`"},
		{"base.setting", "MPa", 10, "`base` is a sheet of quantities"},
		{"materials[bore].strength", "MPa", 15, "the key of a look-up is a text"},
		{"sum(curve.label)", "", 9, "a number is needed here, not a text"},
		{"interp(curve.pressure, curve.flow, bore)", "L/min", 40,
			"interp: needs pressure like the curve's x, found length"},
		{"[1, 2]", "", 5, "lists and maps are not in the language"},
		{"nil", "", 5, "nil is not in the language"},
		{"1; 2", "", 5, "`;` ends a let only"},
		{"setting | f(2)", "", 13, "`|` is not in the language"},
		{"3 in 4", "", 7, "`in` is not in the language"},
		{"20 MPa", "MPa", 8, "did not expect `MPa` here"},
		{"20MPa", "MPa", 5, "cannot read the number `20MPa`"},
		{"mm²", "mm^2", 7, "raised digits are not read in a formula"},
		{"2*(3", "", 7, "`(` is not closed"},
		{"2*3 +", "", 9, "the formula ends too early"},
		{"", "", 0, "nothing stands after `=`"},
		{"x", "", 5, "x is computed from itself"},
		{"1/zero", "1/mm", 5, "division by zero"},
		{"sqrt(0 - 1)", "", 5, "square root of a negative number"},
		{"(0 - ratio)^0.5", "", 6, "square root of a negative number"},
		{"1e300*1e300*ratio", "", 5, "too large to hold"},
		{"min(1e300*1e300, 3)", "", 9, "too large to hold"},
		{"ln(0)", "", 5, "logarithm of a number that is not above 0"},
		{"asin(2)", "rad", 5, "no angle has that sine"},
		{"interp(curve.pressure, curve.flow, setting)", "L/min", 5,
			"25 MPa lies outside the curve, which runs from 0 MPa to 20 MPa"},
		{`materials["S253"].strength`, "MPa", 15, "sheet materials has no row `S253`"},
		{"materials[mode].strength", "MPa", 5, "sheet materials has no row `gravity`"},
		{strings.Repeat("1+", 3000) + "1", "", 5, "at most 4096 are read"},
		{strings.Repeat("(", 3000), "", 0, ""},
		{strings.Repeat("1+", 900) + "1", "", 0, "more than 1000 parts"},
	}
	for _, test := range tests {
		r, problems := expressionBook(t, test.expression, test.unit)
		short := test.expression[:min(len(test.expression), 40)]
		if r != nil {
			t.Errorf("%s: was not refused, is %v", short, r.find(t, "x").Value)
			continue
		}
		first, rest, _ := strings.Cut(problems, "\n")
		if rest != "" {
			t.Errorf("%s: more than one problem:\n%s", short, problems)
		}
		place := fmt.Sprintf("x.csv:2:%d: ", test.column)
		if !strings.Contains(first, test.message) || test.column > 0 && !strings.HasPrefix(first, place) {
			t.Errorf("%s: got\n\t%s\nexpected\n\t%s%s", short, first, place, test.message)
		}
	}
}

// TestOpen follows an open quantity to all that waits for it.
func TestOpen(t *testing.T) {
	r := checked(t, "a.csv", base, "b.csv", `name,entry,unit,low
sum,=nothing + setting,MPa,
twice,=2*sum,MPa,30
cell,"=materials[""S355""].spring",,
both,=sum/setting + cell,,
`, "materials.csv", materials)
	for _, test := range []struct{ name, needs string }{
		{"nothing", "nothing"}, {"sum", "nothing"}, {"twice", "nothing"},
		{"cell", "materials[S355].spring"}, {"both", "nothing materials[S355].spring"},
	} {
		j := r.find(t, test.name)
		var names []string
		for _, n := range j.Needs {
			names = append(names, n.Name)
		}
		if got := strings.Join(names, " "); j.Verdict != Open || got != test.needs || Has(j.Value) {
			t.Errorf("%s: %v, value %v, needs %s; expected open, needs %s", test.name, j.Verdict, j.Value, got,
				test.needs)
		}
	}
	if need := r.find(t, "twice").Needs[0]; need.File != "a.csv" || need.Line != 16 || need.Sheet != "a" {
		t.Errorf("nothing is said to stand in %+v", need)
	}
}

// TestLoops prints each loop once, from its first row.
func TestLoops(t *testing.T) {
	_, problems := Compile(files(t, "loop.csv", `name,entry
a,=b + 1
b,=c
c,=2*a
user,=a
p,=q
q,=p
`), Options{})
	want := "loop.csv:2:4: the formulas go round in a loop: a <- b <- c <- a\n" +
		"loop.csv:6:4: the formulas go round in a loop: p <- q <- p\n"
	if got := told(problems); got != want {
		t.Errorf("got\n%sexpected\n%s", got, want)
	}
}

// TestCases runs a job list: replaced givens, blank cells, readings, limits
// of the sheet, an error in one case.
func TestCases(t *testing.T) {
	r := checked(t, "model.csv", `name,entry,unit,spread,low,high
setting,25,MPa,1 %,,
area,400,cm2,,,
grade,S235,text,,,
thickness,3,mm,,,
force,=setting*area,kN,5,900,
needed,=materials[grade].strength*thickness*100*mm/2,kN,,,
reserve,=force/needed - 1,%,,10,
`, "materials.csv", materials, "jobs.csv", `job,setting,grade,thickness,force,needed,reserve,remark
:unit,bar,,mm,kN,N,%,
:low,,,,950,,=0.2,
:high,,,,,80e3,,
plain,,,,,,,"anything, 1,5"
weak,200,,,,,,
other,,S355,,,,,
read,,,,930,,,
typo,,S25,,,,,
nought,,,0,,,,
`)
	want := []struct {
		name                   string
		force, needed, reserve float64
		verdict                string
		verdicts               string
	}{
		{"plain", 1000, 60e3, 1000e3/60e3*100 - 100, "pass", "pass pass pass"},
		{"weak", 800, 60e3, 800e3/60e3*100 - 100, "fail", "fail pass pass"},
		{"other", 1000, 76.5e3, 1000e3/76.5e3*100 - 100, "pass", "pass pass pass"},
		{"read", 1000, 60e3, 1000e3/60e3*100 - 100, "fail", "fail pass pass"},
		{"typo", 1000, math.NaN(), math.NaN(), "open", "pass open open"},
		{"nought", 1000, 0, math.NaN(), "open", "pass pass open"},
	}
	cases := r.Cases[0].Cases
	for i, w := range want {
		c := cases[i]
		var verdicts []string
		for k, x := range []float64{w.force, w.needed, w.reserve} {
			if got := c.Values[k].Value; math.Abs(got-x) > 1e-9*math.Abs(x) || Has(got) != Has(x) {
				t.Errorf("%s: %s is %v, expected %v", w.name, c.Values[k].Quantity.Name, got, x)
			}
			verdicts = append(verdicts, c.Values[k].Verdict.String())
		}
		if got := strings.Join(verdicts, " "); c.Name != w.name || c.Verdict.String() != w.verdict ||
			got != w.verdicts {
			t.Errorf("%s: verdict %v of %s, expected %s of %s", c.Name, c.Verdict, got, w.verdict, w.verdicts)
		}
	}
	if got := cases[1].Values[0].Spread; math.Abs(got-8) > 1e-9 { // 1 % follows the replaced value
		t.Errorf("spread of the force at 200 bar is %v, expected 8", got)
	}
	if got := cases[3].Values[0]; got.Reading != 930 || got.ReadingSpread != 5 ||
		math.Abs(got.Agreement-70/math.Hypot(5, 10)) > 1e-9 {
		t.Errorf("reading %v ± %v, agreement %v", got.Reading, got.ReadingSpread, got.Agreement)
	}
	wantFailures := `jobs.csv:9:7: typo: needed: sheet materials has no row ` + "`S25`" + `
model.csv:8:10: nought: reserve: division by zero
`
	if got := told(r.Failures); got != wantFailures {
		t.Errorf("got failures\n%sexpected\n%s", got, wantFailures)
	}
}

// TestSets replaces givens for one run.
func TestSets(t *testing.T) {
	book := files(t, "base.csv", base, "x.csv", "name,entry,unit\nforce,=setting*area,kN\n")
	m, problems := Compile(book, Options{Sets: []string{"setting = 2900 psi", "mode=pump"}})
	if m == nil {
		t.Fatal(told(problems))
	}
	r, _ := m.Check(CheckOptions{})
	psi, _ := units.Parse("psi")
	if got, want := r.find(t, "force").Value, psi.ToSI(2900)*226e-4/1e3; math.Abs(got-want) > 1e-9 {
		t.Errorf("force is %v, expected %v", got, want)
	}
	_, problems = Compile(book, Options{Sets: []string{"seting = 3", "bore = 3 MPa", "area", "setting = 1,5",
		"speed = =3"}})
	want := []string{"no quantity is named `seting`", "3 MPa is a pressure, but the row is in mm",
		"no `=` in `area`", "1,5", "a run can only replace a given"}
	all := told(problems)
	for _, w := range want {
		if !strings.Contains(all, w) {
			t.Errorf("no problem says %q:\n%s", w, all)
		}
	}
}

// TestComparedCells gives texts in the cells of cases that no formula knows, which
// would only leave its condition empty. Another text is no slip in a column that
// formulas look for one text in.
func TestComparedCells(t *testing.T) {
	m := compiled(t, "a.csv", `name,entry,unit
kind,wait,text
speed,"kind == ""down"" ? 1 : kind == ""wait"" ? 2 : 3",
fastest,"max(duty.where == ""pinch"" ? duty.rate : 0*mm/s)",mm/s
ways,"count(duty.way == ""in"" or duty.way == ""out"")",
`, "duty.csv", "step,kind,where,rate,way,speed\n:unit,text,text,mm/s,text,\n"+
		"a,dow,pinche,3,in,\nb,dwon,near the pinch,3,across,\nc,down,bay 2,3,out,\nd,down,bay 2,3,Across,\n")
	got := ""
	for _, p := range m.Warnings {
		got += strings.TrimSuffix(p.File+": "+p.Message+" - "+p.Hint, " - ") + "\n"
	}
	want := "duty.csv: kind is compared with `down` and `wait`, never with `dow` - did you mean `down`?\n" +
		"duty.csv: duty.where is compared with `pinch`, never with `pinche` - did you mean `pinch`?\n" +
		"duty.csv: kind is compared with `down` and `wait`, never with `dwon` - did you mean `down`?\n" +
		"duty.csv: duty.where is compared with `pinch`, never with `near the pinch` - did you mean `pinch`?\n" +
		"duty.csv: duty.way is compared with `in` and `out`, never with `across`\n" +
		"duty.csv: duty.way is compared with `in` and `out`, never with `Across`\n"
	if got != want {
		t.Errorf("got\n%sexpected\n%s", got, want)
	}
}

// TestCapitals gives texts that differ from a choice in capitals only: a formula would
// go on with what is left where no choice fits, so they are refused.
func TestCapitals(t *testing.T) {
	const rows = `name,entry,unit
kind,%s,text
speed,"kind == ""down"" ? 1 : 3",
fastest,"max(duty.where == ""pinch"" ? duty.rate : 0*mm/s)",mm/s
`
	const duty = "step,where,rate\n:unit,text,mm/s\na,%s,3\n"
	for _, tc := range []struct{ kind, where, want string }{
		{"down", "pinch", ""},
		{"Down", "pinch", "a.csv:2:6: kind is compared with `down`, never with `Down`\n"},
		{"down", "PINCH", "duty.csv:3:3: duty.where is compared with `pinch`, never with `PINCH`\n"},
	} {
		_, problems := Compile(files(t, "a.csv", fmt.Sprintf(rows, tc.kind), "duty.csv", fmt.Sprintf(duty, tc.where)),
			Options{})
		if got := told(problems); got != tc.want {
			t.Errorf("kind %s, where %s: got\n%swant\n%s", tc.kind, tc.where, got, tc.want)
		}
	}
}

// TestWarnings gives slips that leave a notebook usable.
func TestWarnings(t *testing.T) {
	m := compiled(t, "a.csv", `name,entry,unit
mode,gravty,text
setting,25,MPa
x,"=mode == ""gravity"" ? 1 : mode == ""pump"" ? 2 : 3",
`, "jobs.csv", "job,seting,x\n:unit,MPa,\none,3,\n")
	got := told(m.Warnings)
	want := "a.csv:2:6: mode is compared with `gravity` and `pump`, never with `gravty`\n" +
		"jobs.csv:1:5: column `seting` is taken for data, since no quantity has that name\n"
	if got != want {
		t.Errorf("got\n%sexpected\n%s", got, want)
	}
}
