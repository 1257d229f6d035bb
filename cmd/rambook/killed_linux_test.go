package main

import (
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// killedNotebook is a notebook of several sheets with a logbook, in which every
// command that writes has something to do.
const killedNotebook = `1-plate.csv
name,entry,unit,reading,spread,with,low,high,note
bore,160,mm,,0.1,,,,
setting,20,MPa,,0.2,,,,
blank_one,,MPa,,,,,,
blank_two,,s,,,,,,
blank_three,,mm,,,,,,
`

var killedSheets = map[string]string{
	"2-force.csv": "name,entry,unit,reading,spread,with,low,high,note\nforce,setting*pi/4*bore^2,kN,410,2,,,,\n" +
		"half,force/2,kN,204,2,,,,\n",
	"3-jobs.csv":       "job,setting,half\n:unit,MPa,kN\none,5,\ntwo,10,\n",
	"correlations.csv": "given,with,correlation,note\n",
	"logbook.csv":      "when,who,what,was,is,with,note\n",
}

// killedCommands are what is killed. Each changes two files or more; prepare is
// what is done before.
var killedCommands = []struct {
	name    string
	prepare []string
	args    []string
	answers string // for fill: what was answered before it was killed stays
}{
	{"set", nil, []string{"set", "setting=21", "force.reading=411", "jobs[one].setting=6"}, ""},
	{"record", nil, []string{"record", "jobs", "three", "setting=7"}, ""},
	{"rename", nil, []string{"rename", "setting", "relief_setting"}, ""},
	{"restate", nil, []string{"restate", "us"}, ""},
	{"fit", nil, []string{"fit", "setting", "bore", "--write"}, ""},
	{"undo of a fit", []string{"fit", "setting", "bore", "--write"}, []string{"undo"}, ""},
	{"undo of a name", []string{"rename", "setting", "relief_setting"}, []string{"undo"}, ""},
	{"fill", nil, []string{"fill"}, "3\n4.4 4.5 4.6\n150\n"},
}

// when is what no two runs have in common: moments and days.
var when = regexp.MustCompile(`\d{4}-\d\d-\d\d( \d\d:\d\d:\d\d(\.\d+)?)?`)

// filesOf is what the files of a notebook hold, but for the moments in them.
func filesOf(t *testing.T, dir string) string {
	t.Helper()
	var all []string
	for _, name := range others(t, dir, "") {
		if strings.HasSuffix(name, ".csv") {
			all = append(all, name+"\n"+when.ReplaceAllString(readFile(t, filepath.Join(dir, name)), "WHEN"))
		}
	}
	return strings.Join(all, "\n")
}

// TestCommandsKilled kills each command that writes several files at random
// moments of its life. Whoever reads the notebook next finds all of what it does,
// or nothing; of a walk the answers before the kill. RAMBOOK_KILL=1000 kills each so
// often.
func TestCommandsKilled(t *testing.T) {
	kills := 12
	if n, err := strconv.Atoi(os.Getenv("RAMBOOK_KILL")); err == nil {
		kills = n
	}
	for _, c := range killedCommands {
		t.Run(c.name, func(t *testing.T) {
			fresh := func() string {
				dir := notebook(t, killedNotebook)
				for name, content := range killedSheets {
					if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o666); err != nil {
						t.Fatal(err)
					}
				}
				if c.prepare != nil {
					if o := wait(t, start(t, nil, append(slices.Clone(c.prepare), dir)...)); o.status != exitFine {
						t.Fatal(o)
					}
				}
				return dir
			}
			begin := func(dir, answers string) *exec.Cmd {
				return start(t, func(cmd *exec.Cmd) {
					cmd.Stdin = strings.NewReader(answers)
					cmd.Env = append(os.Environ(), "RAMBOOK_WHO=Ada")
				}, append(slices.Clone(c.args), dir)...)
			}
			whole := fresh()
			states := []string{filesOf(t, whole)}
			lines := strings.SplitAfter(c.answers, "\n")
			if c.answers == "" {
				lines = []string{"", ""}
			}
			for n := 1; n < len(lines); n++ { // the state behind each answer
				dir := fresh()
				if o := wait(t, begin(dir, strings.Join(lines[:n], ""))); o.status != exitFine {
					t.Fatal(o)
				}
				states = append(states, filesOf(t, dir))
			}
			from := time.Now()
			wait(t, begin(whole, c.answers))
			life := time.Since(from)
			counts, cutOff := make([]int, len(states)), 0
			for n := range kills {
				dir := fresh()
				cmd := begin(dir, c.answers)
				time.Sleep(life/4 + rand.N(life))
				if err := cmd.Process.Signal(syscall.SIGKILL); err != nil && err != os.ErrProcessDone {
					t.Fatal(err)
				}
				wait(t, cmd)
				if _, err := os.Lstat(filepath.Join(dir, ".rambook-journal")); err == nil {
					cutOff++
				}
				if o := wait(t, start(t, nil, "check", dir)); o.status == exitWrong {
					t.Fatalf("after kill %d check ends with %+v", n, o)
				}
				at := slices.Index(states, filesOf(t, dir))
				if at < 0 {
					t.Fatalf("after kill %d the notebook is half done:\n%s", n, filesOf(t, dir))
				}
				counts[at]++
				os.RemoveAll(dir)
			}
			t.Logf("killed %d times: %v by state reached, %d between the files", kills, counts, cutOff)
		})
	}
}
