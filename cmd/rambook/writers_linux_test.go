package main

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"rambook/sheets"
	"rambook/units"
)

// sharedNotebook is what several people write into at once: rows of four files, a
// list of visits, a log that is cut into cycles, correlations, and the logbook
// that says in the end what became of each.
func sharedNotebook(t *testing.T) string {
	return notebook(t,
		"1-press.csv\nname,entry,unit,reading,spread,note\nsetting,20,MPa,,0.2,\nbore,160,mm,,0.1,\n"+
			"force,setting*pi/4*bore^2,kN,410,2,\nnever,,s,,,\n",
		"2-plate.csv\n"+
			"name,entry,unit,reading,spread,note\n"+
			"gap,1,mm,,0.2,\n"+
			"shim,2,mm,,0.1,\n"+
			"clearance,gap + shim,mm,3.1,0.1,\n",
		"3-visits.csv\nvisit,gap,clearance\n:unit,mm,mm\n",
		"4-cycles.csv\nphase,log,from,to\npressing,log,pressure > 5*MPa,pressure < 5*MPa\n",
		"5-peak.csv\nname,entry,unit\npeak,max(pressing.pressure),MPa\n",
		"log.csv\n"+sharedLogs[0],
		"correlations.csv\ngiven,with,correlation,note\n",
		"logbook.csv\nwhen,who,what,was,is,with,note\n")
}

// sharedLogs are the logs that take writes, in turn.
var sharedLogs = []string{"time,pressure [MPa]\n0,1\n1,20\n2,25\n3,1\n", "time,pressure [MPa]\n0,1\n1,18\n2,24\n3,1\n"}

// writerKinds are what one writer does again and again: in each turn, under a
// number of its own.
var writerKinds = map[string]func(turn, n int, dir string) (args []string, answers string){
	"set": func(turn, n int, dir string) ([]string, string) {
		return []string{"set", fmt.Sprintf("%s=%d", settingNames[turn/2%2], 20+n), fmt.Sprintf("gap=%d.5", n), dir}, ""
	},
	"record": func(turn, n int, dir string) ([]string, string) {
		return []string{"record", "visits", fmt.Sprintf("visit %d", n), fmt.Sprintf("gap=%d mm", n), dir}, ""
	},
	"rename": func(turn, n int, dir string) ([]string, string) {
		return []string{"rename", settingNames[turn%2], settingNames[1-turn%2], dir}, ""
	},
	"restate": func(turn, n int, dir string) ([]string, string) {
		return []string{"restate", []string{"us", "bar", "si"}[turn%3], dir}, ""
	},
	"fit": func(turn, n int, dir string) ([]string, string) {
		return []string{"fit", "gap", "shim", "--write", dir}, ""
	},
	"undo": func(turn, n int, dir string) ([]string, string) {
		return []string{"undo", strconv.Itoa(1 + turn%2), dir}, ""
	},
	"fill": func(turn, n int, dir string) ([]string, string) {
		return []string{"fill", dir}, fmt.Sprintf("shim=%d.25 mm\n\n", n)
	},
	"take": func(turn, n int, dir string) ([]string, string) {
		export := filepath.Join(filepath.Dir(dir), fmt.Sprintf("export%d.csv", turn%2))
		return []string{"take", export, "--replace", "-o", filepath.Join(dir, "log.csv")}, ""
	},
}

var settingNames = []string{"setting", "relief_setting"}

// wordedRefusals are why a writer may leave the notebook as it is: somebody else
// has changed what it was about.
var wordedRefusals = regexp.MustCompile("was changed meanwhile|no quantity (is named )?`(relief_)?setting`|" +
	"the logbook holds no change whose cells are still as written|the unit of \\S+ was changed meanwhile|" +
	"has no row called|there is already a quantity|cannot fit|does not depend|another program holds the folder locked")

// TestTwoWriters lets two to six writers of different kinds, programs of their
// own, change one notebook at once. The notebook can be read after each; who is
// refused is told why and leaves no line; and the logbook, replayed from the
// start, leads to what the files hold: each change that was reported as done is
// there, or what a later line made of it. RAMBOOK_LONG=1 goes on for longer.
func TestTwoWriters(t *testing.T) {
	rounds := 4
	if os.Getenv("RAMBOOK_LONG") != "" {
		rounds = 60
	}
	for _, kinds := range [][]string{
		{"set", "record"},
		{"rename", "set", "undo"},
		{"restate", "set", "fit", "record"},
		{"fill", "set", "restate", "undo", "take"},
		{"fill", "set", "rename", "restate", "fit", "undo"},
		{"record", "record", "set", "set", "take", "fill"},
	} {
		t.Run(strings.Join(kinds, "+"), func(t *testing.T) { writeTogether(t, kinds, rounds) })
	}
}

// ending is how one program ended.
type ending struct {
	kind, who string
	outcome
}

func writeTogether(t *testing.T, kinds []string, rounds int) {
	dir := sharedNotebook(t)
	for i, log := range sharedLogs {
		if err := os.WriteFile(filepath.Join(filepath.Dir(dir), fmt.Sprintf("export%d.csv", i)), []byte(log),
			0o666); err != nil {
			t.Fatal(err)
		}
	}
	var endings sync.Map
	one := func(kind string, turn, n int) {
		args, answers := writerKinds[kind](turn, n, dir)
		who := fmt.Sprintf("%s %d", kind, n)
		o := wait(t, start(t, func(cmd *exec.Cmd) {
			cmd.Stdin = strings.NewReader(answers)
			cmd.Env = append(os.Environ(), "RAMBOOK_WHO="+who)
		}, args...))
		endings.Store(who, ending{kind, who, o})
		if o.status == exitWrong && (o.out != "" || !wordedRefusals.MatchString(o.err)) {
			t.Errorf("%s: %q ends with %+v", who, args, o)
		}
		if o := wait(t, start(t, nil, "check", dir)); o.status == exitWrong {
			t.Errorf("after %s check ends with %+v", who, o)
		}
	}
	for i, kind := range kinds { // each has the notebook for itself once
		one(kind, 0, 1+i)
	}
	var writers sync.WaitGroup
	for i, kind := range kinds {
		writers.Go(func() {
			for turn := 1; turn < rounds; turn++ {
				one(kind, turn, 1+turn*len(kinds)+i)
			}
		})
	}
	writers.Wait()
	replayed(t, dir, &endings)
	for _, name := range others(t, dir, "") {
		if strings.HasPrefix(name, ".") {
			t.Errorf("%s was left behind", name)
		}
	}
}

// replay is what the cells of a notebook hold by its logbook: numbers in SI
// units, whatever system the notebook was in when they were entered.
type replay struct {
	cells  map[string]string // by the names of the logbook
	unit   map[string]string // of a row, in the notebook's first system
	system units.System
}

// number is a cell's number in SI units, or its text if it holds none.
func (r *replay) number(text, unit string) string {
	v, err := units.ParseValue(text)
	if err != nil {
		return text
	}
	if !v.HasUnit {
		u, _ := units.Parse(unit)
		v.Unit = u.In(r.system)
	}
	return strconv.FormatFloat(v.Unit.ToSI(v.Number), 'g', 12, 64)
}

// rowColumnsLogged are the columns whose cells the writers change.
var rowColumnsLogged = []string{"entry", "reading", "spread", "note"}

// held is what the files of a notebook hold.
func (r *replay) held(book *sheets.Notebook) map[string]string {
	held := map[string]string{}
	for _, sheet := range book.Sheets {
		for i := range sheet.Rows {
			row := &sheet.Rows[i]
			for _, column := range rowColumnsLogged {
				held[strings.TrimSuffix(row.Name.Text+"."+column, ".entry")] = r.number(row.Cell(column).Text,
					row.Unit.Text)
			}
		}
		for i := range sheet.Cases {
			held[sheet.Name+"["+sheet.Cases[i].Name.Text+"]"] = r.number(sheet.Cases[i].Cells[0].Text,
				sheet.Columns[0].Unit.Text)
		}
	}
	return held
}

// apply takes a line of the logbook, and returns what the line says was there
// beside what was.
func (r *replay) apply(line sheets.EntryRow) (said, was string) {
	what := line.What.Text
	name, _, _ := strings.Cut(what, ".")
	switch {
	case what == unitsOfAll:
		r.system = units.System(line.Is.Text)
	case strings.Contains(what, tieColumn):
	case strings.HasSuffix(what, nameColumn):
		for _, column := range rowColumnsLogged {
			from, to := line.Was.Text+"."+column, name+"."+column
			from, to = strings.TrimSuffix(from, ".entry"), strings.TrimSuffix(to, ".entry")
			r.cells[to] = r.cells[from]
			delete(r.cells, from)
		}
		r.unit[name] = r.unit[line.Was.Text]
		r.cells["force"] = strings.Replace(r.cells["force"], line.Was.Text, name, 1)
	case strings.Contains(what, "[") && line.Is.Blank():
		delete(r.cells, what)
	case strings.Contains(what, "["):
		r.cells[what] = r.number(strings.Trim(strings.TrimPrefix(line.Is.Text, "'gap="), "'"), "mm")
	default:
		said, was = r.number(line.Was.Text, r.unit[name]), r.cells[what]
		r.cells[what] = r.number(line.Is.Text, r.unit[name])
	}
	return said, was
}

// replayed holds the files to what the logbook leads to, and the logbook to how
// the programs ended.
func replayed(t *testing.T, dir string, endings *sync.Map) {
	t.Helper()
	book, problems := sheets.Open(dir)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	r := &replay{unit: map[string]string{}, system: "si"}
	before, _ := sheets.Open(sharedNotebook(t))
	for _, sheet := range before.Sheets {
		for i := range sheet.Rows {
			r.unit[sheet.Rows[i].Name.Text] = sheet.Rows[i].Unit.Text
		}
	}
	r.cells = r.held(before)
	lines := map[string]int{}
	for _, line := range book.Logbook().Entries {
		lines[line.Who.Text]++
		if said, was := r.apply(line); !near(said, was) {
			t.Errorf("%s changed %s from %q (%s), which was %s then", line.Who.Text, line.What.Text, line.Was.Text,
				said, was)
		}
	}
	held := r.held(book)
	for what := range held {
		if _, known := r.cells[what]; !known {
			t.Errorf("%s is there, and the logbook does not know of it", what)
		}
	}
	for what, want := range r.cells {
		if got, there := held[what]; !there || !near(got, want) {
			t.Errorf("%s is %q, and by the logbook %q", what, got, want)
		}
	}
	done, refused := map[string]int{}, map[string]int{}
	endings.Range(func(_, v any) bool {
		e := v.(ending)
		logged := lines[e.who] > 0
		switch {
		case strings.Contains(e.err, "holds the folder locked"): // for ten seconds: a busy machine
			refused["locked"]++
			return true
		case e.status == exitWrong:
			refused[e.kind]++
			if logged && e.kind != "undo" { // which may have done the first of two
				t.Errorf("%s is in the logbook, and ended with %+v", e.who, e.outcome)
			}
			return true
		case !logged && e.kind != "take" && !strings.Contains(e.out, "already") &&
			!strings.Contains(e.out, "0 answers"):
			t.Errorf("%s ended with %+v, and is not in the logbook", e.who, e.outcome)
		}
		done[e.kind]++
		return true
	})
	if refused["record"] > 0 {
		t.Errorf("record, which depends on nothing that others change, was refused %d times", refused["record"])
	}
	if got := readFile(t, filepath.Join(dir, "log.csv")); !slices.Contains(sharedLogs, got) && done["take"] > 0 {
		t.Errorf("log.csv holds %q", got)
	}
	endings.Range(func(_, v any) bool {
		if kind := v.(ending).kind; done[kind] == 0 {
			t.Errorf("%s was refused each time", kind)
			done[kind] = -1
		}
		return true
	})
	t.Logf("done %v, refused %v, %d lines of the logbook", done, refused, len(book.Logbook().Entries))
}

// near reports whether two texts are the same number, or the same.
func near(a, b string) bool {
	x, err := strconv.ParseFloat(a, 64)
	y, err2 := strconv.ParseFloat(b, 64)
	return a == b || err == nil && err2 == nil && math.Abs(x-y) <= 1e-9*max(math.Abs(x), math.Abs(y))
}
