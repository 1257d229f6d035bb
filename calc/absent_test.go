package calc

import (
	"fmt"
	"strings"
	"testing"

	"rambook/sheets"
)

// state sums up what a report says of a quantity: its number, its state, its
// verdict and what it waits for.
func (r *Report) state(t *testing.T, name string) string {
	t.Helper()
	j := r.find(t, name)
	text := j.State.String()
	if Has(j.Value) {
		text = fmt.Sprintf("%.6g ", j.Value) + text
	}
	if j.Verdict != NoVerdict {
		text += " " + j.Verdict.String()
	}
	for _, n := range j.Needs {
		text += " needs " + n.Name
	}
	for _, b := range j.Blames {
		text += " " + b.Name + " " + b.Verdict.String()
	}
	return text
}

// TestFormulasWithoutMark takes entries with and without the sign in front.
func TestFormulasWithoutMark(t *testing.T) {
	for _, test := range []struct{ entry, want string }{
		{"b", "3 computed"}, {"=b", "3 computed"}, {"'=b", "3 computed"}, {"b - 1*mm", "2 computed"},
		{"-b", "-3 computed"},
		{"(b)", "3 computed"}, {"2*b", "6 computed"}, {"20*mm", "20 computed"}, {"min(b, 2*mm)", "2 computed"},
		{"-2", "-2 given"}, {"2 cm", "20 given"}, {"1e1", "10 given"}, {"", "open open needs a"}, {"n/a", "n/a"},
		{"N/A", "n/a"},
		{"assumed 4 ± 1", "4 given"}, {"assumed  4 cm +/- 3 mm", "40 given"},
	} {
		r := checked(t, "a.csv", "name,entry,unit\na,"+`"`+test.entry+`"`+",mm\nb,3,mm\n")
		if got := r.state(t, "a"); got != test.want {
			t.Errorf("%s: got %s, expected %s", test.entry, got, test.want)
		}
		if got, want := r.find(t, "a").Quantity.IsAssumed(), strings.HasPrefix(test.entry, "assumed"); got != want {
			t.Errorf("%s: assumed %v", test.entry, got)
		}
	}
}

// TestAbsent follows n/a through formulas: what needs it is n/a, and functions
// of a list leave it out.
func TestAbsent(t *testing.T) {
	const book = `name,entry,unit,spread,low,high
a,n/a,mm,,,
b,3,mm,0.1,,
c,,mm,,,
one,2,,,,
none,a + b,mm,,1,
open,c + b,mm,,1,
both,a + c,mm,,1,
least,"min(a, b, 9*mm)",mm,,1,
all,"max(a, none)",mm,,1,
floor,"max(a, 0*mm)",mm,,1,
middle,"mean(b, a, 5*mm)",mm,,,
added,"sum(a, b, b)",mm,,,
taken,one > 1 ? b : a,mm,,1,
untaken,one < 1 ? b : a,mm,,1,
picked,"min(untaken, b, taken)",mm,,1,
rest,"mean(untaken, taken, 5*mm)",mm,,1,
limited,b,mm,,a,4
waits,b,mm,,c,4
`
	r := checked(t, "a.csv", book)
	for name, want := range map[string]string{
		"a": "n/a", "none": "n/a", "both": "n/a", "all": "n/a", "floor": "n/a", "untaken": "n/a",
		"open": "open open needs c", "least": "3 computed pass", "middle": "4 computed", "added": "6 computed",
		"taken": "3 computed pass", "picked": "3 computed pass", "rest": "4 computed pass",
		"limited": "3 computed pass",
		"waits":   "3 computed open needs c",
	} {
		if got := r.state(t, name); got != want {
			t.Errorf("%s: got %s, expected %s", name, got, want)
		}
	}
	for name, want := range map[string]float64{"least": 0.1, "added": 0.2, "picked": 0.1, "rest": 0.05} {
		if got := r.find(t, name).Spread; !near(got, want, 1e-12) {
			t.Errorf("%s: spread %v, expected %v", name, got, want)
		}
	}
	if r.Counts.Open != 3 {
		t.Errorf("%d open, expected c, open and waits", r.Counts.Open)
	}
}

// TestAbsentByCase lets a choice turn from case to case between what is there
// and what is not.
func TestAbsentByCase(t *testing.T) {
	r := checked(t, "a.csv", `name,entry,unit
mode,pump,text
a,n/a,mm
b,3,mm
way,"mode == ""pump"" ? b : a",mm
c,5,mm
least,"min(way, c)",mm
count,"mean(way, c)",mm
bounded,"max(way, 0*mm)",mm
`, "c.csv", "case,mode,way,least,count,bounded\n:unit,,,,,\nup,pump,,,,\ndown,weight,,,,\n")
	want := map[string][2]string{"way": {"3 computed", "n/a"}, "least": {"3 computed", "5 computed"},
		"count": {"4 computed", "5 computed"}, "bounded": {"3 computed", "n/a"}}
	for i, c := range r.Cases[0].Cases {
		for k := range c.Values {
			j := &c.Values[k]
			got := j.State.String()
			if Has(j.Value) {
				got = fmt.Sprintf("%.6g %s", j.Value, got)
			}
			if got != want[j.Quantity.Name][i] {
				t.Errorf("%s in %s: got %s, expected %s", j.Quantity.Name, c.Name, got, want[j.Quantity.Name][i])
			}
		}
	}
}

// TestAside sets a sheet of quantities and a table aside.
func TestAside(t *testing.T) {
	book := files(t, "a.csv", `name,entry,unit,low
oil,HM46,text,
b,3,mm,
need,gone + b,mm,1
look,oils[oil].growth*b,mm,
least,"min(gone, b)",mm,1
most,max(oils.growth),,
ready,"worst(least, delivery, gone, visits)",verdict,
`, "v.csv", "visit,gone,least\n:unit,mm,mm\nfirst,1,\n")
	for _, text := range []struct{ file, data string }{
		{"delivery.csv", "name,entry,unit\ngone,2,mm\nother,gone*2,mm\n"},
		{"oils.csv", "oil,growth\n:unit,\nHM46,0.1\n"},
		{"visits.csv", "visit,gone\n:unit,mm\nfirst,1\n"},
	} {
		s, problems := sheets.Read(text.file, []byte(text.data))
		if len(problems) > 0 {
			t.Fatal(told(problems))
		}
		book.Aside = append(book.Aside, s)
	}
	m, problems := Compile(book, Options{})
	if m == nil {
		t.Fatal(told(problems))
	}
	r, problems := m.Check(CheckOptions{})
	if r == nil {
		t.Fatal(told(problems))
	}
	for name, want := range map[string]string{"need": "n/a", "look": "n/a", "most": "n/a", "least": "3 computed pass",
		"ready": "computed pass"} {
		if got := r.state(t, name); got != want {
			t.Errorf("%s: got %s, expected %s", name, got, want)
		}
	}
	if r.Cases[0].Cases[0].Verdict != Pass {
		t.Error("the case of a sheet that is not set aside is judged")
	}
}

// TestByCase leaves blank givens to the cases that fill them in.
func TestByCase(t *testing.T) {
	r := checked(t, "a.csv", `name,entry,unit,low,high
load,,kN,,
part,,text,
force,10,kN,,
reserve,force - load,kN,1,
named,"part == ""bush"" ? 1 : 2",,
limited,force,kN,load,
partly,,kN,,
late,force - partly,kN,,
`, "jobs.csv", "job,load,part,partly,reserve,named\n:unit,kN,,kN,kN,\nbush,4,bush,,,\nplate,9.5,plate,3,,\n")
	for name, want := range map[string]string{"load": "by case", "part": "by case", "reserve": "by case",
		"named":   "by case",
		"limited": "10 computed", "partly": "open open needs partly", "late": "open open needs partly"} {
		if got := r.state(t, name); got != want {
			t.Errorf("%s: got %s, expected %s", name, got, want)
		}
	}
	if got := fmt.Sprint(r.Cases[0].Cases[0].Verdict, r.Cases[0].Cases[1].Verdict); got != "pass fail" {
		t.Errorf("the cases are judged %s", got)
	}
}

// TestUseReading goes on with what was measured, with its spread, in the model
// and in each case.
func TestUseReading(t *testing.T) {
	const head = "name,entry,unit,reading,use,spread\n"
	r := checked(t, "a.csv", head+"a,2,mm,,,0.5\n"+
		"b,3*a,mm,7,reading,0.1\n"+
		"c,2*b,mm,,,\n"+
		"x,3*a,mm,,reading,\n"+
		"e,x + b,mm,,,\n",
		"v.csv", "visit,b,c\n:unit,mm,mm\nfirst,8,\nsecond,,\n")
	for name, want := range map[string]string{"b": "6 reading", "c": "14 computed", "x": "6 computed",
		"e": "open open needs x.reading"} {
		if got := r.state(t, name); got != want {
			t.Errorf("%s: got %s, expected %s", name, got, want)
		}
	}
	if got := r.find(t, "c").Spread; !near(got, 0.2, 1e-12) {
		t.Errorf("the spread of c is %v, and that of the reading is 0.1", got)
	}
	first, second := r.Cases[0].Cases[0].Values, r.Cases[0].Cases[1].Values
	if !near(first[1].Value, 16, 1e-12) {
		t.Errorf("c is %v in the first visit, whose reading is 8", first[1].Value)
	}
	if second[1].Verdict != Open || len(second[1].Needs) != 1 || second[1].Needs[0].Name != "b.reading" {
		t.Errorf("c is %v in the second visit, which has no reading: %v", second[1].Value, second[1].Needs)
	}
	for row, want := range map[string]string{
		"a,2,mm,,reading,": "a.csv:2:9: only a formula has a reading to use in its place (leave the cell blank)",
		"a,1*mm,mm,,always,": "a.csv:2:12: `use` holds `reading` or nothing, found `always` " +
			"(leave it blank to go on with the computed value)",
	} {
		_, problems := Compile(files(t, "a.csv", head+row+"\n"), Options{})
		if got := withHints(problems); got != want {
			t.Errorf("%s: got\n%s\nexpected\n%s", row, got, want)
		}
	}
}

// TestTicks judges ticks, their order, and the rows that sum them up.
func TestTicks(t *testing.T) {
	const book = `name,entry,unit,low,after
lifted,yes,tick,,
levelled,no,tick,,lifted
anchored,yes,tick,,"lifted, levelled,force"
tested,,tick,,
half,lifted and 1 > 2 ? 1 : 0,tick,,
done,lifted + levelled + anchored,,,
force,3,kN,4,
ready,"worst(lifted, levelled, tested, jobs)",verdict,,
start,"worst(ready, lifted)",verdict,,
sheet,worst(rest),verdict,,
`
	r := checked(t, "a.csv", strings.ReplaceAll(book, "half,lifted and 1 > 2 ? 1 : 0",
		"half,lifted > 0.5 and 1 > 2 ? 1 : 0"),
		"rest.csv", "name,entry,unit\nwashed,yes,tick\nempty,n/a,tick\n",
		"jobs.csv", "job,force,done\n:unit,kN,\nbush,5,\nplate,3,\n")
	for name, want := range map[string]string{
		"lifted": "1 given pass", "levelled": "0 given fail", "tested": "open open needs tested",
		"half": "0 computed fail", "done": "2 computed",
		"ready": "computed fail needs tested levelled fail jobs[plate] fail tested open",
		"start": "computed fail needs tested ready fail", "sheet": "computed pass",
	} {
		if got := r.state(t, name); got != want {
			t.Errorf("%s: got %s, expected %s", name, got, want)
		}
	}
	want := "a.csv:4:10: anchored is ticked, but comes after levelled (fail) and force (fail)"
	if len(r.Warnings) != 1 || r.Warnings[0].Error() != want {
		t.Errorf("warned of\n%sexpected\n%s", told(r.Warnings), want)
	}
	for row, want := range map[string]string{
		"a,force,verdict,,": "a.csv:2:3: a verdict is the worst of other rows, " +
			"here stands something else (write worst(NAME or SHEET, ...), as in worst(force, delivery, jobs))",
		"a,worst(2*b),verdict,,": "a.csv:2:9: a name of a row or of a sheet is needed here " +
			"(write worst(NAME or SHEET, ...), as in worst(force, delivery, jobs))",
		"a,worst(bb),verdict,,": "a.csv:2:9: no quantity, unit or constant is named `bb` " +
			"(add a row with that name, or take it out)",
		"a,worst(c),verdict,,\n" +
			"c,worst(a),verdict,,": "a.csv:2:3: a is judged by itself " +
			"(take it out, or what leads back to it)\n" +
			"a.csv:3:3: c is judged by itself (take it out, or what leads back to it)",
		"a,worst(c),verdict,,\n" +
			"c,yes,tick,,\n" +
			"x,a + 1,,,": "a.csv:4:3: a number is needed here, not a verdict " +
			"(only worst(...) in a row with the unit verdict reads verdicts)",
		"a,2,mm,,b": "a.csv:2:9: `after` is for ticks, and a is in mm " +
			"(leave the cell blank, or give the row the unit tick)",
		"a,yes,tick,,a": "a.csv:2:13: a cannot come after itself (take it out)",
		"a,yes,tick,,bcd": "a.csv:2:13: no quantity, unit or constant is named `bcd` " +
			"(name ticks or quantities that must pass before)",
	} {
		_, problems := Compile(files(t, "a.csv", "name,entry,unit,low,after\n"+row+"\n"), Options{})
		if got := withHints(problems); got != want {
			t.Errorf("%s: got\n%s\nexpected\n%s", row, got, want)
		}
	}
}

// TestLedToNothing: a case whose own choice leads what its sheet asks for first to
// what is n/a is open, whatever else of it passes; what the machine does not have in
// any case is n/a and no more.
func TestLedToNothing(t *testing.T) {
	const model = `name,entry,unit,high
kind,bend,text,
bend_force,100,kN,
area,n/a,cm2,
known_force,n/a,kN,
spare,n/a,kN,
plate,2,m,
force,"kind == ""bend"" ? bend_force : kind == ""known"" ? known_force : area*(1*MPa)",kN,
line_load,"kind == ""bend"" ? force/plate : 0*kN/m",kN/m,100
spare_force,"kind == ""bend"" ? spare : 2*spare",kN,
`
	const jobs = "job,kind,known_force,force,line_load\n:unit,,,,\n" +
		"a,bend,,,\nb,bending,,,\nc,known,,,\nd,known,40,,\ne,,,,\n"
	r := checked(t, "1-model.csv", model, "jobs.csv", jobs)
	for name, want := range map[string]string{"a": "pass", "b": "open jobs[b].kind", "c": "open jobs[c].known_force",
		"d": "pass", "e": "pass"} {
		c := r.Case("jobs", name)
		got := c.Verdict.String()
		for _, n := range c.Values[0].Needs {
			got += " " + n.Name
		}
		if got != want {
			t.Errorf("%s: got %s, expected %s", name, got, want)
		}
	}
	r = checked(t, "1-model.csv", model,
		"parts.csv", "part,bend_force,spare_force,line_load\n:unit,,,\na,90,,\n")
	if c := r.Case("parts", "a"); c.Verdict != Pass || c.Values[0].State != Absent {
		t.Errorf("what is n/a in every case: %s, %s", c.Verdict, c.Values[0].State)
	}
}

// TestAbsentInCases: a given may be n/a in one case as in its row. What needs it is n/a
// there, what takes the least or the sum leaves it out, and a reading of that case is
// judged without anything to compare it with. No number of another case or of the
// notebook takes its place.
func TestAbsentInCases(t *testing.T) {
	const model = "name,entry,unit,low,high,spread\npump_rating,28,MPa,,,0.1\nhose_rating,%s,MPa,,,0.2\n" +
		"weakest,\"min(pump_rating, hose_rating)\",MPa,,,\nsetting,20,MPa,,weakest,\n" +
		"double,2*hose_rating,MPa,,60,\nfirst,list[`a`].hose_rating,MPa,,,\nsecond,list[`b`].hose_rating,MPa,,,\n" +
		"most,max(list.hose_rating),MPa,,,\nall,sum(list.double),MPa,,,\nloads,mean(list.load),kN,,,\n"
	const list = "case,hose_rating,weakest,double,setting,load\n:unit,,,,,kN\n" +
		"a,19,,,,3\nb,n/a,,,,n/a\nc,,,,,\nd,N/A,,50,22,5\n"
	for entry, want := range map[string]map[string]string{
		"25": {"a": "fail 19 38", "b": "pass 28 n/a", "c": "pass 25 50", "d": "pass 28 reading",
			"first": "19", "second": "n/a", "most": "25", "all": "88", "loads": "4"},
		"n/a": {"a": "fail 19 38", "b": "pass 28 n/a", "c": "pass 28 n/a", "d": "pass 28 reading",
			"first": "19", "second": "n/a", "most": "19", "all": "38", "loads": "4"},
	} {
		for _, samples := range []int{0, 1000} {
			m := compiled(t, "p.csv", fmt.Sprintf(model, entry), "list.csv", list)
			r, problems := m.Check(CheckOptions{Samples: samples})
			if len(problems) > 0 {
				t.Fatal(told(problems))
			}
			text := func(j *Judged) string {
				if j.State == Absent || j.State == Read {
					return j.State.String()
				}
				return fmt.Sprint(j.Value)
			}
			for _, c := range r.Cases[0].Cases {
				got := c.Verdict.String() + " " + text(&c.Values[0]) + " " + text(&c.Values[1])
				if got != want[c.Name] {
					t.Errorf("hose_rating %s, case %s: got %s, expected %s", entry, c.Name, got, want[c.Name])
				}
			}
			for _, name := range []string{"first", "second", "most", "all", "loads"} {
				if got := text(r.find(t, name)); got != want[name] {
					t.Errorf("hose_rating %s: %s is %s, expected %s", entry, name, got, want[name])
				}
			}
		}
	}
	for cells, want := range map[string]string{
		"x,19,n/a,,,": "list.csv:3:6: n/a stands where a case has a given, and here it has a reading (leave the cell blank)",
		"x,n/a no offer,,,,": "list.csv:3:7: n/a stands alone in its cell " +
			"(write why there is none into the note of the row, or into a column for remarks)",
	} {
		_, problems := Compile(files(t, "p.csv", fmt.Sprintf(model, "25"), "list.csv",
			"case,hose_rating,weakest,double,setting,load\n:unit,,,,,kN\n"+cells+"\na,19,,,,3\nb,19,,,,3\n"), Options{})
		if got := withHints(problems); got != want {
			t.Errorf("%s: got\n%s\nexpected\n%s", cells, got, want)
		}
	}
}
