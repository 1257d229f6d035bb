package calc

import (
	"context"
	"fmt"
	"strings"
	"testing"
)

// TestSweepOfOpen: what is open in every case of a sweep is open and not in
// error, whatever it is put through.
func TestSweepOfOpen(t *testing.T) {
	m := compiled(t, "a.csv", `name,entry,unit
x,1,
open,,
angle,,deg
negative,=x - -open,
sine,=x + cos(angle),
power,=x + open^2.5,
larger,"=max(x, open)",
zero,=x/(x - 2),
`)
	for _, test := range []struct {
		show   string
		failed int
	}{{"negative", 0}, {"sine", 0}, {"power", 0}, {"larger", 0}, {"zero", 1}} {
		s, problems := m.Sweep([]string{"x = 1, 2, 3"}, []string{test.show})
		if s == nil {
			t.Fatal(told(problems))
		}
		rows := 0
		failures, err := s.Run(context.Background(), 1, func(*Rows) {}, func(r *Rows) error { rows += r.N; return nil })
		if err != nil || rows != 3 || failures.Cases != test.failed {
			t.Errorf("%s: %d of %d cases failed, expected %d: %s", test.show, failures.Cases, rows, test.failed,
				told(failures.First))
		}
	}
}

// TestSetEdges: a replacement by nothing makes a given open for the run, of two
// for one name the later counts, and what is no replacement is refused with
// the caret under it.
func TestSetEdges(t *testing.T) {
	book := files(t, "a.csv", "name,entry,unit\nsetting,25,MPa\nmode,pump,text\nforce,=setting*2*cm2,kN\n")
	for _, test := range []struct {
		sets []string
		want string // the force, or what it needs
	}{
		{nil, "5"},
		{[]string{"setting="}, "setting"},
		{[]string{"setting = 20", "setting = 10 MPa"}, "2"},
		{[]string{"  setting  =  100 bar  "}, "2"},
		{[]string{"mode = "}, "5"},
	} {
		m, problems := Compile(book, Options{Sets: test.sets})
		if m == nil {
			t.Errorf("%q: %s", test.sets, told(problems))
			continue
		}
		r, _ := m.Check(CheckOptions{})
		j := r.find(t, "force")
		got := fmt.Sprintf("%.6g", j.Value)
		if j.Verdict == Open {
			got = j.Needs[0].Name
		}
		if got != test.want {
			t.Errorf("%q: the force is %s, expected %s", test.sets, got, test.want)
		}
	}
	for _, test := range []struct{ set, part, want string }{
		{"= 3", "=", "--set: a name is missing before `=` (write --set \"setting = 22 MPa\")"},
		{"setting", "setting", "--set: no `=` in `setting` (write --set \"setting = 22 MPa\")"},
		{"seting = 3", "seting", "--set: no quantity is named `seting` (did you mean `setting`?)"},
		{"stuff = 3", "stuff", "--set: no quantity is named `stuff` (`rambook check` lists the names)"},
		{"setting = 3 mm", "3 mm", "--set: 3 mm is a length, but the row is in MPa"},
		{"setting = 2*3", "2*3", "--set: a run can only replace a given by a number or a text " +
			"(write a number with its unit, as in 22 MPa)"},
		{"setting = =2*3", "=2*3", "--set: a run can only replace a given by a number or a text " +
			"(write a number with its unit, as in 22 MPa)"},
	} {
		_, problems := Compile(book, Options{Sets: []string{test.set}})
		if len(problems) != 1 {
			t.Errorf("%s: %s", test.set, withHints(problems))
			continue
		}
		p := problems[0]
		if got := withHints(problems); got != test.want || p.Text != test.set ||
			string([]rune(p.Text)[p.From:p.To]) != test.part {
			t.Errorf("%s: got\n%s\nat %d to %d, expected\n%s\nat %s", test.set, got, p.From, p.To, test.want, test.part)
		}
	}
}

// TestSolveEdges asks where there is nothing to find, and around a given below
// 0.
func TestSolveEdges(t *testing.T) {
	m := compiled(t, "a.csv", `name,entry,unit,spread
depth,-4,m,
level,=10*m + depth,m,
constant,=2*3,
kind,oil,text
g1,1,
g2,1,
g3,1,
g4,1,
g5,1,
g6,1,
g7,1,
g8,1,
g9,1,
g10,1,
total,=g1 + g2 + g3 + g4 + g5 + g6 + g7 + g8 + g9 + g10,
nine,=g1 + g2 + g3 + g4 + g5 + g6 + g7 + g8 + g9,
`)
	s, problems := m.Solve("depth", "level = 3 m", "")
	if s == nil || len(s.Solutions) != 1 || !near(s.Solutions[0].Value, -7, 1e-12) || s.From != -40 || s.To != -0.4 {
		t.Errorf("the solution is %+v: %s", s, told(problems))
	}
	for _, test := range []struct{ name, until, want string }{
		{"depth", "constant = 7", "nothing in `constant = 7` depends on depth"},
		{"depth", "1 = 2", "nothing in `1 = 2` depends on depth"},
		{"depth", "total = 7", "nothing in `total = 7` depends on depth " +
			"(it depends on g1, g2, g3, g4, g5, g6, g7, g8 and 2 more)"},
		{"depth", "nine = 7", "nothing in `nine = 7` depends on depth " +
			"(it depends on g1, g2, g3, g4, g5, g6, g7, g8 and g9)"},
		{"total", "total = 7", "NAME: total is computed and cannot be changed itself " +
			"(name a given that it is computed from: g1, g2, g3, g4, g5, g6, g7, g8 and 2 more)"},
		{"constant", "total = 7", "NAME: constant is computed and cannot be changed itself (it depends on no given)"},
		{"kind", "total = 7", "kind is a text (compare the texts with `sweep --over \"kind = first, second\"`)"},
		{"depth", "level", "--until: two sides with `=` between them are needed (write --until \"force = 900 kN\")"},
		{"depth", "level = 3 m = 4 m", "--until: there are several `=` " +
			"(write two sides with one `=` between them, and == to compare inside a side)"},
		{"depth", "level = ", "--until: a side of the equation is missing (write --until \"force = 900 kN\")"},
		{"depth", "level = 3 kg", "--until: the left side is a length, the right side a mass"},
		{"depth", "level*2 = 3", "--until: the left side is a length, the right side a plain number " +
			"(write the unit after the number, as in 900 kN)"},
		{"depth", "level > 3*m = 1", "--until: a truth value is no number " +
			"(a side is a number or an expression that yields one)"},
	} {
		_, problems := m.Solve(test.name, test.until, "")
		if got := withHints(problems); got != test.want {
			t.Errorf("%s, %s: got\n%s\nexpected\n%s", test.name, test.until, got, test.want)
		}
	}
}

// TestRangesOutOfRange gives ranges whose values no float64 in SI can hold.
func TestRangesOutOfRange(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry,unit\nlength,5,km\ntwice,=2*length,km\n")
	for _, text := range []string{"length = 1e306 to 1e308 by 1e306", "length = 0 to 1e308 in 4 steps",
		"length = 1, 1e308", "length = 1e308"} {
		_, problems := m.Sweep([]string{text}, nil)
		if len(problems) != 1 || !strings.HasPrefix(problems[0].Error(), "--over: number is out of range") {
			t.Errorf("%s: %s", text, told(problems))
		}
	}
}

// TestSetAside: a formula that a run gives a value is an exact number, what reads
// it follows, its reading still stands against it, and so do the cases' readings.
func TestSetAside(t *testing.T) {
	book := files(t, "a.csv", "name,entry,unit,reading,spread,low\n"+
		"bore,100,mm,,1,\n"+
		"area,=bore^2,mm^2,10100,50,\n"+
		"force,=area*20*MPa,kN,,,150\n",
		"runs.csv", "run,bore,area,force\n:unit,mm,mm^2,kN\na,90,8000,\nb,110,,\n")
	m, problems := Compile(book, Options{Sets: []string{"area = 9000"}})
	if m == nil {
		t.Fatal(told(problems))
	}
	r, _ := m.Check(CheckOptions{})
	area, force := r.find(t, "area"), r.find(t, "force")
	if area.Value != 9000 || Has(area.Spread) && area.Spread != 0 || area.Reading != 10100 ||
		!near(force.Value, 180, 1e-12) {
		t.Errorf("area %v ± %v, reading %v, force %v", area.Value, area.Spread, area.Reading, force.Value)
	}
	for _, c := range r.Cases[0].Cases {
		if !near(c.Values[1].Value, 180, 1e-12) {
			t.Errorf("%s: force %v, expected 180: its area is set aside", c.Name, c.Values[1].Value)
		}
	}
	m, problems = Compile(book, Options{Aside: []string{"area", "bore", "nix"}})
	if m == nil || len(m.SetAside()) != 1 {
		t.Fatalf("set aside %v: %s", m.SetAside(), told(problems))
	}
	s, problems := m.Solve("area", "force = 150 kN", "5000 to 9000 mm^2")
	if s == nil || len(s.Solutions) != 1 || !near(s.Solutions[0].Value, 7500, 1e-9) || !near(s.Now, 10000, 1e-12) {
		t.Errorf("got %+v: %s", s, told(problems))
	}
}
