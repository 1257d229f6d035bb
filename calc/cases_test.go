package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

const caseModel = `name,entry,unit,spread,low,high
setting,25,MPa,1 %,,
area,400,cm2,,,
grade,S235,text,,,
force,=setting*area,kN,5,900,1200
`

// TestCaseFaults gives case sheets that cannot be read, with all that is said
// about each.
func TestCaseFaults(t *testing.T) {
	for _, test := range []struct{ sheet, want string }{
		{"job,setting,force\n:unit,bar,kN\na,200,\na,210,\n",
			"jobs.csv:4:1: a stands already in line 3 (a case's name is used once in its sheet; " +
				"rename one of the two)"},
		{"job,setting,force\n:unit,zz,kN\na,200,\n", "jobs.csv:2:7: unknown unit `zz`"},
		{"job,setting,force\n:unit,mm,kN\na,200,\n",
			"jobs.csv:2:7: column setting is a length, but the quantity of that name is in MPa " +
				"(correct the unit, or give the column another name)"},
		{"job,grade,force\n:unit,mm,kN\na,200,\n",
			"jobs.csv:2:7: column grade is a length, but the quantity of that name is a text " +
				"(correct the unit, or give the column another name)"},
		{"job,setting,force\n:unit,text,kN\na,200,\n",
			"jobs.csv:2:7: column setting is a text, but the quantity of that name is in MPa " +
				"(correct the unit, or give the column another name)"},
		{"job,setting,force\n:unit,MPa,kN\na,=200,\nb,few,\nc,3 mm,",
			"jobs.csv:3:3: a formula stands where a number is needed (write a number, with or without a unit)\n" +
				"jobs.csv:4:3: `few` is not a number (write a number such as `25`, `-12.5e3` or `2900 psi`)\n" +
				"jobs.csv:5:3: 3 mm is a length, but the column is in MPa"},
		{"job,setting,force\n:unit,MPa,kN\n:spread,-1,-2\n:low,,3 mm\n:high,,=1 > 2\na,20,\n",
			"jobs.csv:3:9: a spread cannot be negative (write the half-width of the interval, as in 0.5 for ± 0.5)\n" +
				"jobs.csv:3:12: a spread cannot be negative " +
				"(write the half-width of the interval, as in 0.5 for ± 0.5)\n" +
				"jobs.csv:4:7: 3 mm is a length, but the column is in kN\n" +
				"jobs.csv:5:9: a truth value is no result (write condition ? 1 : 0)"},
		{"job,setting,force\n:unit,MPa,kN\n:low,,900\n:high,,800\na,20,\n",
			"jobs.csv:3:7: low 900 is above high 800 (correct one)"},
		{"job,setting,force\n:unit,MPa,kN\n:spread,,=setting\na,20,\n",
			"jobs.csv:3:11: the formula yields a pressure, but the spread is in kN (setting is in MPa)"},
	} {
		_, problems := Compile(files(t, "model.csv", caseModel, "jobs.csv", test.sheet), Options{})
		if got := withHints(problems); got != test.want {
			t.Errorf("%s: got\n%s\nexpected\n%s\n", test.sheet, got, test.want)
		}
	}
}

// TestCaseWarnings gives case sheets with rows that are of no use.
func TestCaseWarnings(t *testing.T) {
	for _, test := range []struct{ sheet, want string }{
		{"job,setting,force,width\n:unit,MPa,kN,mm\n:low,,,3\n:high,,,5\na,20,,4\n",
			"jobs.csv:3:8: column `width` is not named like a quantity, so this is not used " +
				"(name the column like the quantity it belongs to)\n" +
				"jobs.csv:4:9: column `width` is not named like a quantity, so this is not used " +
				"(name the column like the quantity it belongs to)"},
		{"job,setting,force,width\n:unit,MPa,kN,mm\n:spread,,,3\na,20,,4\n",
			""}, // it may be there for a trend
		{"job,seting,force\n:unit,MPa,kN\na,20,\n",
			"jobs.csv:1:5: column `seting` is taken for data, since no quantity has that name " +
				"(did you mean `setting`?)"},
		{"job,aera,force\n:unit,cm2,kN\na,20,\n",
			"jobs.csv:1:5: column `aera` is taken for data, since no quantity has that name (did you mean `area`?)"},
		{"job,eara_,force\n:unit,cm2,kN\na,20,\n", ""}, // two slips
		{"job,ar,force\n:unit,cm2,kN\na,20,\n", ""},    // too short to tell

		// A header with the unit in it, in all ways that people write it.
		{"job,setting (MPa),force\n:unit,,kN\na,20,\n",
			nearMiss("setting (MPa)", "name the column `setting`, and write MPa below it in the row :unit")},
		{"job,Setting [bar],force\n:unit,bar,kN\na,20,\n",
			nearMiss("Setting [bar]", "name the column `setting`, and write bar below it in the row :unit")},
		{"job,setting_psi,force\n:unit,,kN\na,20,\n",
			nearMiss("setting_psi", "name the column `setting`, and write psi below it in the row :unit")},
		{"job,area mm2,force\n:unit,,kN\na,20,\n",
			nearMiss("area mm2", "name the column `area`, and write mm2 below it in the row :unit")},
		{"job,area in in2,force\n:unit,,kN\na,20,\n",
			nearMiss("area in in2", "name the column `area`, and write in2 below it in the row :unit")},
		{"job,area / mm^2,force\n:unit,,kN\na,20,\n",
			nearMiss("area / mm^2", "name the column `area`, and write mm^2 below it in the row :unit")},
		{"job,\"area, cm2\",force\n:unit,,kN\na,20,\n",
			strings.Replace(nearMiss("area, cm2", "name the column `area`, and write cm2 below it in the row :unit"),
				":1:5:", ":1:6:", 1)},
		{"job,SET-TING,force\n:unit,,kN\na,20,\n", nearMiss("SET-TING", "did you mean `setting`?")},
		{"job,Grade,force\n:unit,text,kN\na,S235,\n", nearMiss("Grade", "did you mean `grade`?")},

		// Remarks, and what is measured in another unit than the quantity.
		{"job,force note,force\n:unit,,kN\na,ok,\n", ""},
		{"job,setting (V),force\n:unit,V,kN\na,2,\n", ""},
		{"job,setting date,force\n:unit,date,kN\na,2026-05-04,\n", ""},
		{"job,area of the ram,force\n:unit,,kN\na,2,\n", ""},
	} {
		m := compiled(t, "model.csv", caseModel, "jobs.csv", test.sheet)
		if got := withHints(m.Warnings); got != test.want {
			t.Errorf("%s: got\n%s\nexpected\n%s\n", test.sheet, got, test.want)
		}
	}
}

// nearMiss is the warning of a header that was meant to be a quantity's name.
func nearMiss(header, hint string) string {
	return "jobs.csv:1:5: column `" + header + "` is taken for data, since no quantity has that name (" + hint + ")"
}

// TestSpreadsOfCases: the spread over a column of a given replaces the
// model's, a % follows the replaced value, and a spread over a column that
// asks is the readings'.
func TestSpreadsOfCases(t *testing.T) {
	for _, test := range []struct {
		spread string
		want   []string // computed ± spread, reading ± spread of each case
	}{
		{"", []string{"1000 ± 10, NaN ± NaN", "800 ± 8, NaN ± NaN", "800 ± 8, 790 ± 5"}},
		{":spread,2 %,\n", []string{"1000 ± 20, NaN ± NaN", "800 ± 16, NaN ± NaN", "800 ± 16, 790 ± 5"}},
		{":spread,0.5,\n", []string{"1000 ± 20, NaN ± NaN", "800 ± 20, NaN ± NaN", "800 ± 20, 790 ± 5"}},
		{":spread,5 bar,20\n", []string{"1000 ± 20, NaN ± NaN", "800 ± 20, NaN ± NaN", "800 ± 20, 790 ± 20"}},
		{":spread,=setting/50,1 %\n", []string{"1000 ± 20, NaN ± NaN", "800 ± 16, NaN ± NaN", "800 ± 16, 790 ± 7.9"}},
		{":spread,0,=force/100\n", []string{"1000 ± NaN, NaN ± NaN", "800 ± NaN, NaN ± NaN", "800 ± NaN, 790 ± 8"}},
	} {
		r := checked(t, "model.csv", caseModel, "jobs.csv",
			"job,setting,force\n:unit,MPa,kN\n"+test.spread+"as it is,,\nlower,20,\nread,200 bar,790\n")
		var got []string
		for _, c := range r.Cases[0].Cases {
			j := c.Values[0]
			got = append(got, fmt.Sprintf("%.6g ± %.6g, %.6g ± %.6g", j.Value, j.Spread, j.Reading, j.ReadingSpread))
		}
		if !slices.Equal(got, test.want) {
			t.Errorf("%q: got\n%s\nexpected\n%s", test.spread, strings.Join(got, "\n"), strings.Join(test.want, "\n"))
		}
	}
}

// TestLimitsOfCases: a limit over a column replaces the model's, a blank one
// leaves it, and an expression is evaluated case by case.
func TestLimitsOfCases(t *testing.T) {
	r := checked(t, "model.csv", caseModel, "jobs.csv", `job,setting,area,force
:unit,MPa,cm2,kN
:low,,,"=max(950*kN, setting*300*cm2)"
as it is,,,
lower,23,,
wide,40,200,
`)
	want := []string{"950 to 1200: pass", "950 to 1200: fail", "1200 to 1200: fail"}
	for i, c := range r.Cases[0].Cases {
		j := c.Values[0]
		if got := fmt.Sprintf("%.6g to %.6g: %v", j.Low, j.High, j.Verdict); got != want[i] {
			t.Errorf("%s: %s, expected %s", c.Name, got, want[i])
		}
	}
}

// TestBlankCells: a blank cell of a given leaves the model's value, and what
// is open in the model is open in the case; a blank key is the model's.
func TestBlankCells(t *testing.T) {
	r := checked(t, "model.csv", `name,entry,unit
setting,25,MPa
area,,cm2
grade,S355,text
kind,,text
force,=setting*area,kN
of_grade,=materials[grade].strength,MPa
by_kind,=materials[kind].strength,MPa
`, "materials.csv", materials, "jobs.csv", `job,setting,area,grade,kind,force,of_grade,by_kind
:unit,,,,,,,
all,20,300,S235,S235,,,
none,,,,,,,
area,,200,,,,,
`)
	for i, want := range [][3]string{
		{"600 ", "400 ", "400 "},
		{"NaN area", "510 ", "NaN kind"},
		{"500 ", "510 ", "NaN kind"},
	} {
		c := r.Cases[0].Cases[i]
		for k, w := range want {
			j := c.Values[k]
			var needs []string
			for _, n := range j.Needs {
				needs = append(needs, n.Name)
			}
			if got := fmt.Sprintf("%.6g %s", j.Value, strings.Join(needs, " ")); got != w {
				t.Errorf("%s: %s is %q, expected %q", c.Name, j.Quantity.Name, got, w)
			}
		}
	}
	if kind := r.find(t, "kind"); kind.Verdict != Open || len(kind.Needs) != 1 || kind.Needs[0].Name != "kind" ||
		kind.Needs[0].Line != 5 {
		t.Errorf("a text that is not given is %v, needs %v", kind.Verdict, kind.Needs)
	}
	if grade := r.find(t, "grade"); grade.Text != "S355" || grade.Verdict != NoVerdict || Has(grade.Value) {
		t.Errorf("the text grade is %+v", grade)
	}
}

// TestMissingKeyOfTheModel: a key that the case does not give is blamed on the
// formula, one that it gives on the case's own cell.
func TestMissingKeyOfTheModel(t *testing.T) {
	model := `name,entry,unit
grade,S999,text
allowed,"=grade == ""x"" ? 1*MPa : materials[grade].strength",MPa
`
	m := compiled(t, "model.csv", strings.Replace(model, "S999", "S235", 1), "materials.csv", materials,
		"jobs.csv", "job,grade,allowed\n:unit,,\ngood,,\nbad,S998,\n")
	r, _ := m.Check(CheckOptions{})
	if got, want := withHints(r.Failures), "jobs.csv:4:5: bad: allowed: sheet materials has no row `S998` "+
		"(its rows are `S235` and `S355`)"; got != want {
		t.Errorf("got\n%s\nexpected\n%s", got, want)
	}
	if j := r.Cases[0].Cases[1].Values[0]; j.Error != "sheet materials has no row `S998`" || j.Verdict != Open {
		t.Errorf("the case says %q, %v", j.Error, j.Verdict)
	}
	m = compiled(t, "model.csv", model, "materials.csv", materials)
	_, problems := m.Check(CheckOptions{})
	if got, want := withHints(problems), "model.csv:3:36: sheet materials has no row `S999` "+
		"(its rows are `S235` and `S355`)"; got != want {
		t.Errorf("got\n%s\nexpected\n%s", got, want)
	}
}

// TestSpreadsOfWholeColumns: max and min carry the spread of the cell they
// pick, shared with a look-up of it, and what reads all cells the spreads of all;
// counting needs none.
func TestSpreadsOfWholeColumns(t *testing.T) {
	const table = "point,x,y\n:unit,mm,N\n:spread,5 %,\na,10,1\nb,,\nc,30,3\n"
	for _, test := range []struct {
		formula       string
		value, spread float64
	}{
		{"max(t.x)", 30, 1.5},
		{"min(t.x)", 10, 0.5},
		{"max(t.x) - t[\"\"c\"\"].x", 0, 0},
		{"max(t.x) + single", 40, math.Hypot(1.5, 0.5)},
		{"count(t.x)*mm", 2, math.NaN()},
		{"mean(t.x)", 20, math.Hypot(0.25, 0.75)},
		{"interp(t.y, t.x, 2*N)", 20, math.Hypot(0.25, 0.75)},
	} {
		r := checked(t, "t.csv", table, "a.csv", "name,entry,unit\n"+
			"single,\"=t[\"\"a\"\"].x\",mm\n"+
			"r,\"="+test.formula+"\",mm\n")
		got := r.find(t, "r")
		if math.Abs(got.Value-test.value) > 1e-12 || !(math.Abs(got.Spread-test.spread) < 1e-12) &&
			(Has(got.Spread) || Has(test.spread)) {
			t.Errorf("%s is %v ± %v, expected %v ± %v", test.formula, got.Value, got.Spread, test.value, test.spread)
		}
		if len(r.Warnings) > 0 {
			t.Errorf("%s: warned\n%s", test.formula, withHints(r.Warnings))
		}
	}
}

// TestCloseCellsContend: where other cells come within the spreads of the one
// that max or min picks, that is told like any other corner, and sampling draws
// them all.
func TestCloseCellsContend(t *testing.T) {
	const head = "key,p\n:unit,MPa\n:spread,1\n"
	const corner = "a.csv:2:4: r: sampling gives "
	for _, test := range []struct {
		formula, cells    string
		value, mean, half float64 // the last two of sampling
		warning           string
	}{
		// The largest of two normal numbers with mean 0 and deviation 1 has the
		// mean 1/sqrt(pi) and the deviation sqrt(1 - 1/pi) (Clark 1961, from
		// memory); the coverage of the skewed result is the one of sampling.
		{"max", "a,20\nb,20\n", 20, 20 + 0.5/math.Sqrt(math.Pi), math.Sqrt(1 - 1/math.Pi), corner},
		{"min", "a,20\nb,20\n", 20, 20 - 0.5/math.Sqrt(math.Pi), math.Sqrt(1 - 1/math.Pi), corner},
		// the lower ones have a corner of their own that does not matter
		{"max", "a,20\nb,17\nc,\nd,17\n", 20, 20, 1, ""},
		{"max", "a,2\nb,20\nc,3\n", 20, 20, 1, ""},
		// Six near cells, by a draw of all of them: 26.91 to 28.21.
		{"max", "a,26.9\nb,26.8\nc,26.9\nd,26.9\ne,26.8\nf,26.9\n", 26.9, 27.5, 0.65, corner},
	} {
		m := compiled(t, "t.csv", head+test.cells, "a.csv", "name,entry,unit\nr,="+test.formula+"(t.p),MPa\n")
		r, problems := m.Check(CheckOptions{Samples: 200_000, Seed: 1})
		if r == nil {
			t.Fatal(told(problems))
		}
		got := r.find(t, "r")
		half := (got.SampledHigh - got.SampledLow) / 2
		if got.Value != test.value || got.Spread != 1 || math.Abs(got.SampledMean-test.mean) > 0.02 ||
			math.Abs(half-test.half) > 0.02 {
			t.Errorf("%s of %q is %v ± %v, sampled %v ± %v, expected %v ± 1, sampled %v ± %v", test.formula, test.cells,
				got.Value, got.Spread, got.SampledMean, half, test.value, test.mean, test.half)
		}
		if told := withHints(r.Warnings); len(r.Warnings) > 1 || (test.warning == "") != (told == "") ||
			!strings.HasPrefix(told, test.warning) {
			t.Errorf("%s of %q: warned\n%s\nexpected\n%s", test.formula, test.cells, told, test.warning)
		}
	}
}

// TestOneCellByTwoKeys: a cell counts once, whichever keys lead to it, also where
// they are equal in some cases only. A key that is open does not matter to the
// others.
func TestOneCellByTwoKeys(t *testing.T) {
	const table = "key,p\n:unit,MPa\n:spread,1\nA,20\nB,10\n"
	const model = `name,entry,unit
first,A,text
second,%s,text
one,"=tab[first].p/tab[""A""].p",
two,=tab[first].p/tab[second].p,
three,"=tab[second].p/tab[first].p*tab[""A""].p",MPa
top,=max(tab.p)/tab[first].p,
`
	const cases = "case,first,second,one,two,three,top\n" +
		":unit,text,text,,,MPa,\n" +
		"aa,A,A,,,,\n" +
		"ab,A,B,,,,\n" +
		"ba,B,A,,,,\n" +
		"bb,B,B,,,,\n" +
		"left,,,,,,\n"
	differ := math.Hypot(1.0/20, 1.0/10) // relative, of a quotient of both cells
	alone := []float64{1.0 / 20, 1.0 / 10}
	want := map[string][4]float64{
		"aa":   {0, 0, 1, 0},
		"ab":   {0, 2 * differ, 10 * alone[1], 0},
		"ba":   {0.5 * differ, 0.5 * differ, 40 * math.Hypot(2*alone[0], alone[1]), 2 * differ},
		"bb":   {0.5 * differ, 0, 1, 2 * differ},
		"left": {0, 2 * differ, 10 * alone[1], 0},
	}
	spread := func(j *Judged) float64 {
		if !Has(j.Spread) {
			return 0
		}
		return j.Spread
	}
	for _, second := range []string{"B", ""} {
		m := compiled(t, "tab.csv", table, "a.csv", fmt.Sprintf(model, second), "runs.csv", cases)
		r, problems := m.Check(CheckOptions{Samples: 20_000, Seed: 1})
		if r == nil {
			t.Fatal(told(problems))
		}
		if one := r.find(t, "one"); one.Value != 1 || spread(one) != 0 {
			t.Errorf("with second %q, one is %v ± %v, expected exactly 1", second, one.Value, one.Spread)
		}
		for _, c := range r.Cases[0].Cases {
			for k := range c.Values {
				j := &c.Values[k]
				if second == "" && c.Name == "left" && k > 0 && k < 3 {
					if Has(j.Value) || len(j.Needs) != 1 || j.Needs[0].Name != "second" {
						t.Errorf("%s without second is %v and needs %v", j.Quantity.Name, j.Value, j.Needs)
					}
					continue
				}
				if got := spread(j); math.Abs(got-want[c.Name][k]) > 1e-12 {
					t.Errorf("%s: %s is %v ± %v, expected ± %v", c.Name, j.Quantity.Name, j.Value, got, want[c.Name][k])
				}
				if half := (j.SampledHigh - j.SampledLow) / 2; Has(half) &&
					math.Abs(half-want[c.Name][k]) > 0.03*want[c.Name][k]+1e-12 {
					t.Errorf("%s: %s is sampled ± %v, expected ± %v", c.Name, j.Quantity.Name, half, want[c.Name][k])
				}
			}
		}
	}
}

// TestManyContenders: however many cells may be the largest one, its max has
// the spread of the one that is.
func TestManyContenders(t *testing.T) {
	for _, n := range []int{2, 1000, 10_000} {
		var cells strings.Builder
		for i := range n {
			fmt.Fprintf(&cells, "k%d,20\n", i)
		}
		r := checked(t, "t.csv", "key,p\n:unit,MPa\n:spread,1\n"+cells.String(), "a.csv",
			"name,entry,unit\nr,=max(t.p),MPa\n")
		if got := r.find(t, "r"); got.Value != 20 || got.Spread != 1 {
			t.Errorf("the max of %d cells is %v ± %v", n, got.Value, got.Spread)
		}
	}
}

// TestTypedNumbersStay: what stands in the cells of a case comes back to the
// last digit, though 29.9 L/min in SI and back is 29.899999999999995.
func TestTypedNumbersStay(t *testing.T) {
	r := checked(t, "model.csv", "name,entry,unit,spread,low,high\n"+
		"flow,29.9,L/min,0.3,29.9,59.9\n"+
		"double,=2*flow,L/min,0.7,,59.9\n",
		"jobs.csv", "job,flow,double\n:unit,L/min,L/min\n:low,,29.9\na,29.9,29.9\nb,,\nc,0.03 m3/min,\n",
		"own.csv", "job,flow,double\n:unit,L/min,L/min\n:spread,0.7,0.3\n:high,59.9,\na,29.9,29.9\n")
	for i, want := range []string{
		"29.9 ± 0.3, 29.9 to 59.9; 29.9 ± 0.7, 29.9 to 59.9",
		"29.9 ± 0.3, 29.9 to 59.9; NaN ± NaN, 29.9 to 59.9",
		"30 ± 0.3, 29.9 to 59.9; NaN ± NaN, 29.9 to 59.9",
		"29.9 ± 0.7, 29.9 to 59.9; 29.9 ± 0.3, NaN to 59.9",
	} {
		c := slices.Concat(r.Cases[0].Cases, r.Cases[1].Cases)[i]
		double, flow := c.Values[0], c.Values[1]
		got := fmt.Sprintf("%v ± %v, %v to %v; %v ± %v, %v to %v", flow.Value, flow.Spread, flow.Low, flow.High,
			double.Reading, double.ReadingSpread, double.Low, double.High)
		if got != want {
			t.Errorf("case %s: %s, expected %s", c.Name, got, want)
		}
	}
}

// TestKeysAreTrimmed: a key or a text in quotes means what it does without the
// blanks around it, as in a cell.
func TestKeysAreTrimmed(t *testing.T) {
	r := checked(t, "a.csv", "name,entry,unit\n"+
		"grade, S2 ,text\n"+
		"z,\"=t[\"\" S2 \"\"].x\",\n"+
		"y,\"=grade == \"\"S2 \"\" ? 1 : 0\",\n", "t.csv", "key,x\n"+
		":unit,\n"+
		"S2,5\n")
	if z, y := r.find(t, "z").Value, r.find(t, "y").Value; z != 5 || y != 1 || len(r.Warnings) > 0 {
		t.Errorf("got %v and %v, warnings %s", z, y, withHints(r.Warnings))
	}
}

// TestWholeColumns: blank cells are left out, of all columns of a call
// together, and a column without a value is open.
func TestWholeColumns(t *testing.T) {
	const table = "point,x,y,none,label\n:unit,mm,N,mm,text\na,1,10,,p\nb,2,,,q\nc,,30,,\nd,4,40,,r\n"
	r := checked(t, "t.csv", table, "a.csv", `name,entry,unit
x_sum,=sum(t.x),mm
y_mean,=mean(t.y),N
x_count,=count(t.x),
labels,=count(t.label),
nothing,=count(t.none),
line,"=slope(t.x, t.y)",N/mm
curve,"=interp(t.x, t.y, 2.5*mm)",N
`)
	for name, want := range map[string]float64{"x_sum": 7, "y_mean": 80. / 3, "x_count": 3, "labels": 3, "nothing": 0,
		"line": 10, "curve": 25} {
		if got := r.find(t, name).Value; math.Abs(got-want) > 1e-12*want {
			t.Errorf("%s is %v, expected %v", name, got, want)
		}
	}
	for _, open := range []string{"max(t.none)", "slope(t.none, t.y)*mm^2/N", "slope(t.x, t.none)*mm",
		"interp(t.none, t.x, 1*mm)", "repeat_spread(t.none)", "rms(t.none)", "first(t.none)"} {
		got := checked(t, "a.csv", "name,entry,unit\nr,\"="+open+"\",mm\n", "t.csv", table).find(t, "r")
		if got.Verdict != Open || len(got.Needs) != 1 || got.Needs[0].Name != "t[a].none" {
			t.Errorf("%s of blank cells: verdict %v, needs %v", open, got.Verdict, got.Needs)
		}
	}
	for _, test := range []struct{ formula, unit, want string }{
		{"interp(t.y, t.x, 50*N)", "mm", "a.csv:2:5: interp: 50 N lies outside the curve, which runs from 10 N to 40 " +
			"N (its points are the rows of t.csv)"},
	} {
		m, problems := Compile(files(t, "a.csv", "name,entry,unit\nr,\"="+test.formula+"\","+test.unit+"\n", "t.csv",
			table), Options{})
		if m != nil {
			_, problems = m.Check(CheckOptions{})
		}
		if got := withHints(problems); got != test.want {
			t.Errorf("%s: got\n%s\nexpected\n%s", test.formula, got, test.want)
		}
	}
	_, problems := Compile(files(t, "a.csv", "name,entry,unit\nr,\"=interp(t.x, t.y, 2*mm)\",N\n",
		"t.csv", "point,x,y\n:unit,mm,N\na,1,10\nb,,15\nc,3,20\nd,3,30\n"), Options{})
	if got, want := withHints(problems), "t.csv:6:3: x does not increase here, and a curve needs it to "+
		"(sort the rows, and drop doubles)"; got != want {
		t.Errorf("got\n%s\nexpected\n%s", got, want)
	}
	_, problems = Compile(files(t, "a.csv", "name,entry,unit\nr,=sum(t.y),N\n", "t.csv",
		"point,y\n:unit,N\na,1\nb,about 2\n"), Options{})
	if got, want := withHints(problems), "t.csv:4:3: `about 2` is not a number "+
		"(write a number such as `25`, `-12.5e3` or `2900 psi`; column y is read as numbers by the formula in a.csv, "+
		"line 2)"; got != want {
		t.Errorf("got\n%s\nexpected\n%s", got, want)
	}
}

// TestNamesInCapitals takes names that differ in capitals only for what a reader
// takes them for: one name. Single letters are two, as D and d of a ram are.
func TestNamesInCapitals(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry\nForce,1\nD,2\nforces,3\nrod,2\n", "b.csv",
		"name,entry\nforce,Force\nROD,2\nRod,D\n")
	const want = "b.csv:2:1: `force` differs from `Force` in a.csv, line 2, in capitals only " +
		"(rename one, so that no formula means the other: rambook rename force NEW)\n" +
		"b.csv:3:1: `ROD` differs from `rod` in a.csv, line 5, in capitals only " +
		"(rename one, so that no formula means the other: rambook rename ROD NEW)\n" +
		"b.csv:4:1: `Rod` differs from `rod` in a.csv, line 5, in capitals only " +
		"(rename one, so that no formula means the other: rambook rename Rod NEW)"
	if got := withHints(m.Warnings); got != want {
		t.Errorf("got\n%s\nexpected\n%s", got, want)
	}
}
