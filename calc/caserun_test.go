package calc

import (
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
		"sampling gives a spread of 0.25, derivatives 0.4; likewise in 2 other cases " +
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
