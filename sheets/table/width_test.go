package table

import (
	"bytes"
	"strings"
	"testing"
)

// TestWidth: a table that is given its own width is neither wrapped nor split,
// and one column narrower it is.
func TestWidth(t *testing.T) {
	for i, table := range []Table{
		{Columns: []Column{{Header: "quantity"}, {Header: "value", Align: Decimal}, {Header: "note"}},
			Rows: []Row{{Cells: []string{"force", "1085.25", "at the ram, with the pump at rest"}},
				{Cells: []string{"a longer name", "3", ""}}}},
		{Columns: []Column{{Header: "größe"}, {Header: "µm", Align: Right}, {Header: "empty"}},
			Rows: []Row{{Cells: []string{"1", "22"}}, {Cells: []string{"3", "4"}}}},
		{Columns: []Column{{Header: "alone"}}, Rows: []Row{{Cells: []string{"one"}}}},
	} {
		render := func(width int) (longest, lines int) {
			var out bytes.Buffer
			if err := table.Render(&out, Plain, width); err != nil {
				t.Fatal(err)
			}
			for _, line := range strings.Split(out.String(), "\n") {
				longest = max(longest, TextWidth(strings.TrimRight(line, " ")))
				lines++
			}
			return longest, lines
		}
		width := table.Width()
		longest, lines := render(1000)
		if longest != width {
			t.Errorf("the longest line is %d wide, the table %d", longest, width)
		}
		if got, same := render(width); got != longest || same != lines {
			t.Errorf("in its own width of %d the table has %d lines up to %d wide, not %d and %d", width, same, got,
				lines, longest)
		}
		if got, _ := render(width - 1); got >= width && i == 0 { // the others have nothing to part
			t.Errorf("in %d columns the table is %d wide", width-1, got)
		}
	}
	if got := (Table{}).Width(); got != 0 {
		t.Errorf("no table is %d wide", got)
	}
}

// TestVisible: nothing that a terminal would obey, or that nobody sees, is left
// in a text.
func TestVisible(t *testing.T) {
	for text, want := range map[string]string{
		"plain größe µm ± 2 °C": "plain größe µm ± 2 °C",
		"a\nb\tc":               "a\nb\tc",
		"\x1b[31mred\x07":       "␛[31mred␇",
		"del\x7f":               "del␡",
		"c1\u009b":              "c1\ufffd",
		"a\u202eb\u2066c":       "a\ufffdb\ufffdc",
		"zero\u200bwidth\ufeff": "zero\ufffdwidth\ufffd",
		"soft\u00adhyphen":      "soft\ufffdhyphen",
		"none\ufffe\uffff":      "none\ufffd\ufffd",
	} {
		if got := Visible(text); got != want {
			t.Errorf("%q is shown as %q, want %q", text, got, want)
		}
	}
}
