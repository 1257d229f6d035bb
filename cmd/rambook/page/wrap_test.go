package page

import (
	"bytes"
	"strings"
	"testing"

	"rambook/sheets/table"
)

func TestWrapped(t *testing.T) {
	for _, tc := range []struct {
		text  string
		width int
		want  string
	}{
		{"", 10, ""},
		{"one two three", 80, "one two three"},
		{"one two three", 8, "one two\n  three"},
		{"unbreakable", 4, "unbreakable"},
		{"油圧 油圧 油圧", 9, "油圧 油圧\n  油圧"}, // each takes four columns
	} {
		if got := Wrapped(tc.text, tc.width, 2); got != tc.want {
			t.Errorf("wrapped(%q, %d) = %q, want %q", tc.text, tc.width, got, tc.want)
		}
	}
}

// TestWrappedFormula breaks at operators what is too long for a line.
func TestWrappedFormula(t *testing.T) {
	for _, tc := range []struct {
		text  string
		width int
		want  string
	}{
		{"aaa*bbb + ccc*ddd", 17, "aaa*bbb + ccc*ddd"},
		{"aaa*bbb + ccc*ddd", 12, "aaa*bbb +\n  ccc*ddd"},
		{"x + aaaa*bbbb/cccc-dddd+eeee", 11, "x + aaaa\n  *bbbb\n  /cccc\n  -dddd\n  +eeee"},
		{"max(aaaa,bbbb,cccc)", 13, "max(aaaa,\n  bbbb,cccc)"},
		{"aaaa**bbbb^-1*-cccc", 9, "aaaa\n  **bbbb^-1\n  *-cccc"},
		{"force-1e-3*mode2e-3", 8, "force\n  -1e-3\n  *mode2e\n  -3"},
		{`s["a-b/c*d"].column*2`, 8, "s[\"a-b/c*d\"].column\n  *2"},
		{"unbreakable*b", 4, "unbreakable\n  *b"},
	} {
		if got := wrappedFormula(tc.text, tc.width, 2); got != tc.want {
			t.Errorf("wrappedFormula(%q, %d) = %q, want %q", tc.text, tc.width, got, tc.want)
		}
	}
}

// TestRemarks: a note stands whole beside its row, on several lines, or below the
// table where that takes fewer lines; no clause of it is left out.
func TestRemarks(t *testing.T) {
	const safety = "Clear of the beam; guards closed; nobody near"
	for _, tc := range []struct {
		width   int
		remarks []string // separated by |
		most    int
		want    string
	}{
		{80, []string{"load cell; test bench", ""}, 9, `
a    note
one  load cell; test bench
two
`},
		{11, []string{"stop", ""}, 9, `
a    note
one  stop
two
`},
		{30, []string{safety, ""}, 9, `
a    note
one  Clear of the beam; guards
     closed; nobody near
two
`},
		{24, []string{safety, "46 kN short|" + safety}, 9, `
a
one
two
one: Clear of the beam;
  guards closed; nobody
  near
two: 46 kN short; Clear
  of the beam; guards
  closed; nobody near
`},
		{10, []string{safety, safety, safety}, 1, `
a
one
two
three
one: Clear
  of the
  beam;
  guards
  closed;
  nobody
  near
2 rows
  more;
  --format
  csv or
  json
  gives
  all
`},
	} {
		s := Layout{Width: tc.width}
		tab := table.Table{Rows: make([]table.Row, len(tc.remarks))}
		s.AddColumn(&tab, "a", table.Left, []string{"one", "two", "three"}[:len(tc.remarks)])
		var remarks [][]string
		for _, text := range tc.remarks {
			remarks = append(remarks, strings.FieldsFunc(text, func(r rune) bool { return r == '|' }))
		}
		s.addRemarks(&tab, remarks, tc.most)
		var out bytes.Buffer
		if err := tab.Render(&out, table.Plain, tc.width); err != nil {
			t.Fatal(err)
		}
		var lines []string
		for line := range strings.Lines(out.String()) {
			lines = append(lines, strings.TrimRight(line, " \n"))
		}
		if got := strings.ReplaceAll("\n"+strings.Join(lines, "\n")+"\n", "\n\n", "\n"); got != tc.want {
			t.Errorf("width %d:\n%s\nwant%s", tc.width, got, tc.want)
		}
	}
}
