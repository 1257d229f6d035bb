package calc

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

const renameModel = `name,entry,unit,reading,spread,low,high
bore,170,mm,,0.1,,
grade,S235,text,,,,
force,=setting*pi/4*bore^2,kN,500,=bore/mm*kN/100,=2*bore*N/mm,
let_own,"=let bore = 2; bore*3",,,,,
bore_sum,=bore + bore_length,mm,,,,
bore_length,5,mm,,,,
quoted,"=grade == ""bore"" ? 1 : 2",,,,,
minus,=3*mm − bore,mm,,,,
column,=sum(jobs.bore),mm,,,,
cell,"=jobs[""a""].bore + jobs[""a""][""bore""]",mm,,,,
chain,=1*mm < bore < 3*mm ? 1 : 0,,,,,
setting,25,MPa,,,,
`

const renameJobs = "job,bore,force,width\n:unit,mm,kN,\n:low,,=bore*N/mm,\na,100,,\n"

// TestRename gives the new text of every cell that uses a name, in the order
// of the sheets.
func TestRename(t *testing.T) {
	m := compiled(t, "model.csv", renameModel, "jobs.csv", renameJobs, "suspects.csv",
		"suspect,from,to\nbore,160,180\n")
	for _, test := range []struct {
		from, to string
		want     []string
	}{
		{"bore", "piston", []string{
			"model.csv:2: piston",
			"model.csv:4: =setting*pi/4*piston^2",
			"model.csv:4: =piston/mm*kN/100",
			"model.csv:4: =2*piston*N/mm",
			"model.csv:6: =piston + bore_length",
			"model.csv:9: =3*mm − piston",
			"model.csv:10: =sum(jobs.piston)",
			`model.csv:11: =jobs["a"].piston + jobs["a"]["piston"]`,
			"model.csv:12: =1*mm < piston < 3*mm ? 1 : 0",
			"jobs.csv:3: =piston*N/mm",
			"jobs.csv:1: piston",
			"suspects.csv:2: piston",
		}},
		{"bore_length", "reach", []string{"model.csv:6: =bore + reach", "model.csv:7: reach"}},
		{"force", "push", []string{"jobs.csv:1: push", "model.csv:4: push"}},
		{"grade", "steel", []string{"model.csv:3: steel", `model.csv:8: =steel == "bore" ? 1 : 2`}},
	} {
		edits, problems := m.Rename(test.from, test.to)
		if len(problems) > 0 {
			t.Errorf("%s to %s: %s", test.from, test.to, withHints(problems))
			continue
		}
		var got []string
		for _, e := range edits {
			got = append(got, fmt.Sprintf("%s:%d: %s", e.Sheet.File, e.Cell.Line, e.Text))
		}
		slices.Sort(got)
		want := slices.Clone(test.want)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("%s to %s: got\n%s\nexpected\n%s", test.from, test.to, strings.Join(got, "\n"),
				strings.Join(want, "\n"))
		}
	}
}

// TestRenameFaults gives names that cannot be taken.
func TestRenameFaults(t *testing.T) {
	m := compiled(t, "model.csv", renameModel, "jobs.csv", renameJobs)
	for _, test := range []struct{ from, to, want string }{
		{"bor", "piston", "OLD: no quantity is named `bor` (did you mean `bore`?)"},
		{"stuff", "piston", "OLD: no quantity is named `stuff` (`rambook check` lists the names)"},
		{"bore", "", "NEW: `` cannot be a name (use letters, digits and _, with a letter first)"},
		{"bore", "2nd", "NEW: `2nd` cannot be a name (use letters, digits and _, with a letter first)"},
		{"bore", "or", "NEW: `or` is a word of the formula language (choose another name)"},
		{"bore", "d", "NEW: `d` is the unit day (call it `diameter`)"},
		{"bore", "width", "jobs.csv:1:16: column `width` would become that of bore " +
			"(choose another name, or rename the column first)"},
		{"bore", "bore", "NEW: bore has that name already (write another name)"},
		{"force", "force", "NEW: force has that name already (write another name)"},
		{"bore", "force", "NEW: force stands already in model.csv, line 4 (choose another name)"},
	} {
		edits, problems := m.Rename(test.from, test.to)
		if got := withHints(problems); got != test.want || edits != nil {
			t.Errorf("%s to %s: %d edits, and\n%s\nexpected\n%s", test.from, test.to, len(edits), got, test.want)
		}
	}
}
