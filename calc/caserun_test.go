package calc

import (
	"fmt"
	"testing"

	"rambook/sheets"
)

// doubtfulCases is a model that is sound as it stands, with cases that reach
// the corner of max, or where the root is infinitely steep.
var doubtfulCases = []string{"a.csv", `name,entry,unit,spread
a,9,mm,0.4
larger,"=max(a, 3*mm)",mm,
root,=sqrt(a/mm),,
`, "jobs.csv", `job,a,larger,root
:unit,mm,mm,
as it is,,,
steep,0,,
corner,3.1,,
again,2.9,,
sharp,3.1,,
`, "more.csv", "job,a,root\n:unit,mm,\nnought,0,\n"}

// TestWarningsOfCases says of cases what it says of quantities, once for a
// place in a sheet, and keeps it with the sheet.
func TestWarningsOfCases(t *testing.T) {
	corner := "a.csv:3:10: corner: larger: the spread reaches across the corner of max: " +
		"sampling gives a spread of 0.25 mm, derivatives 0.4; likewise in 2 other cases " +
		"(look at it with --sample, which follows every branch)"
	steep := ": the spread of root cannot be computed: the formula is infinitely steep here"
	r := checked(t, doubtfulCases...)
	if got, want := withHints(r.Warnings), "a.csv:4:7: steep"+steep+"\n"+corner+"\n"+
		"a.csv:4:7: nought"+steep; got != want {
		t.Errorf("got\n%s\nexpected\n%s", got, want)
	}
	var more *sheets.Sheet
	for _, result := range r.Cases {
		if result.Sheet.Name == "more" {
			more = result.Sheet
		}
	}
	r.Narrow([]*sheets.Sheet{more})
	if got, want := withHints(r.Warnings), "a.csv:4:7: nought"+steep; got != want {
		t.Errorf("of one sheet: got\n%s\nexpected\n%s", got, want)
	}
}

// TestUnvisited: a case that has a date and nothing else has no verdict of its own, and
// waits for a number, whatever the notebook's numbers of today come to.
func TestUnvisited(t *testing.T) {
	const model = "name,entry,unit,low,high\nsetting,20,MPa,,28\nforce,5*setting,MPa,%s,\nspeed,2,mm/s,,50\n"
	for _, test := range []struct{ name, low, head, row, want string }{
		{"a date alone", "90", "visit,date,setting,force,remark\n:unit,date,,,\n", "a,2026-01-01,,,",
			"open a number in visits[a]"},
		{"and a remark", "90", "visit,date,setting,force,remark\n:unit,date,,,\n", "a,2026-01-01,,,seen",
			"open a number in visits[a]"},
		{"what fails today", "120", "visit,date,setting,force\n:unit,date,,\n", "a,2026-01-01,,",
			"open a number in visits[a]"},
		{"a reading", "90", "visit,date,setting,force\n:unit,date,,\n", "a,2026-01-01,,101", "pass"},
		{"a given", "90", "visit,date,setting,force\n:unit,date,,\n", "a,2026-01-01,21,", "pass"},
		{"no date", "90", "visit,date,setting,force\n:unit,date,,\n", "a,,,", "pass"},
		{"no column of dates", "90", "visit,setting,force\n:unit,,\n", "a,,", "pass"},
		{"nothing with a limit", "", "visit,date,force\n:unit,date,\n", "a,2026-01-01,", ""},
	} {
		m := compiled(t, "p.csv", fmt.Sprintf(model, test.low), "visits.csv", test.head+test.row+"\n")
		for _, samples := range []int{0, 500} {
			r, _ := m.Check(CheckOptions{Samples: samples})
			c := r.Cases[0].Cases[0]
			got := c.Verdict.String()
			for _, v := range c.Values {
				for _, n := range v.Needs {
					got += " " + n.Name
				}
			}
			if got != test.want {
				t.Errorf("%s: %s, want %s", test.name, got, test.want)
			}
		}
	}
}
