package sheets

import (
	"bytes"
	"os"
	"strings"
	"testing"
)

// TestWidth: a table that is given its own width is neither wrapped nor split,
// and one column narrower it is.
func TestWidth(t *testing.T) {
	for i, table := range []Table{
		{Columns: []TableColumn{{Header: "quantity"}, {Header: "value", Align: Decimal}, {Header: "note"}},
			Rows: []TableRow{{Cells: []string{"force", "1085.25", "at the ram, with the pump at rest"}}, {Cells: []string{"a longer name", "3", ""}}}},
		{Columns: []TableColumn{{Header: "größe"}, {Header: "µm", Align: Right}, {Header: "empty"}},
			Rows: []TableRow{{Cells: []string{"1", "22"}}, {Cells: []string{"3", "4"}}}},
		{Columns: []TableColumn{{Header: "alone"}}, Rows: []TableRow{{Cells: []string{"one"}}}},
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
			t.Errorf("in its own width of %d the table has %d lines up to %d wide, not %d and %d", width, same, got, lines, longest)
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
	} {
		if got := Visible(text); got != want {
			t.Errorf("%q is shown as %q, want %q", text, got, want)
		}
	}
}

// TestBrief: a message quotes no more than the beginning of a long text.
func TestBrief(t *testing.T) {
	long := strings.Repeat("ü", 300)
	_, problems := Read("a.csv", []byte("job,"+long+","+long+"\n:unit,,\n"))
	want := "column `" + strings.Repeat("ü", 40) + "…` stands twice in the header"
	if len(problems) != 1 || problems[0].Message != want {
		t.Errorf("got %v, want %s", problems, want)
	}
}

// TestOpenInThisFolder opens files and folders by names without a folder.
func TestOpenInThisFolder(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.WriteFile("1-force.csv", []byte("name,entry\na,3\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"1-force.csv", "./1-force.csv", "."} {
		n, problems := Open(path)
		if len(problems) > 0 || len(n.Sheets) != 1 || n.Sheets[0].Name != "force" {
			t.Errorf("%s: %d sheets, %v", path, len(n.Sheets), problems)
		}
	}
	if _, problems := Open("2-speed.csv"); len(problems) != 1 || problems[0].Error() != "2-speed.csv: no such file or directory" {
		t.Errorf("a file that is not there: %v", problems)
	}
}
