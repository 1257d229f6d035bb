package table

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// forces has all that a table can have: a title, headings, an empty column,
// numbers of several lengths, characters that mean something in a format, a
// note too long for a line.
var forces = Table{
	Title: "force (2-force.csv)",
	Columns: []Column{
		{Header: "name"}, {Header: "value", Align: Decimal}, {Header: "unit"}, {Header: "reading", Align: Decimal},
		{Header: "verdict"}, {Header: "note"},
	},
	Rows: []Row{
		{"Cylinder", []string{"bore", "80", "mm", "", "", "drawing 12, ± 0.05 µm"}},
		{"Cylinder", []string{"area", "50.265", "cm2"}},
		{"Pump | motor", []string{"flow", "-0.5", "L/min", "", "fail",
			"read on the panel gauge, once warm, with the relief valve at its setting"}},
		{"Pump | motor", []string{"rated_flow", "open", "", "", "open", "<b>see</b> a*b"}},
	},
	Note: "- gauge pressures",
}

// visits has a column that belongs to the one before it.
var visits = Table{
	Columns: []Column{{Header: "visit"}, {Header: "force", Align: Right}, {Header: "drain", Align: Right},
		{Header: "reading", Align: Right, Joined: true}},
	Rows: []Row{{Cells: []string{"a", "980", "1.4", "1.5"}}, {Cells: []string{"b", "1002", "1.4", "2.3"}}},
}

var renderTests = []struct {
	name   string
	table  Table
	format Format
	width  int
	want   string
}{
	{"wrapped", forces, Plain, 60, `
force (2-force.csv)
───────────────────
name         value  unit   verdict  note

Cylinder
bore        80      mm              drawing 12, ± 0.05 µm
area        50.265  cm2

Pump | motor
flow        -0.5    L/min  fail     read on the panel gauge,
                                    once warm, with the
                                    relief valve at its
                                    setting
rated_flow    open         open     <b>see</b> a*b

- gauge pressures
`},
	{"a column is not parted from the one it belongs to", visits, Plain, 24, `
visit  force
a        980
b       1002

visit  drain  reading
a        1.4      1.5
b        1.4      2.3
`},
	{"split", forces, Plain, 34, `
force (2-force.csv)
───────────────────
name         value  unit   verdict

Cylinder
bore        80      mm
area        50.265  cm2

Pump | motor
flow        -0.5    L/min  fail
rated_flow    open         open

name        note

Cylinder
bore        drawing 12, ± 0.05 µm

Pump | motor
flow        read on the panel
            gauge, once warm, with
            the relief valve at
            its setting
rated_flow  <b>see</b> a*b

- gauge pressures
`},
	{"markdown", forces, Markdown, 0, `
### force (2-force.csv)

| name       |  value | unit  | verdict | note                                                                     |
|:-----------|-------:|:------|:--------|:-------------------------------------------------------------------------|
| **Cylinder** | | | | |
| bore       |     80 | mm    |         | drawing 12, ± 0.05 µm                                                    |
| area       | 50.265 | cm2   |         |                                                                          |
| **Pump \| motor** | | | | |
| flow       |   -0.5 | L/min | fail    | read on the panel gauge, once warm, with the relief valve at its setting |
| rated_flow |   open |       | open    | &lt;b&gt;see&lt;/b&gt; a\*b                                              |

\- gauge pressures
`},
	{"html", forces, HTML, 0, `
<table><caption>force (2-force.csv)</caption>
<thead>
  <tr><th style="text-align: left;">name</th><th style="text-align: right;">value</th><th style="text-align: left;">unit</th><th style="text-align: left;">verdict</th><th style="text-align: left;">note</th></tr>
</thead>
<tbody>
  <tr><th colspan="5" style="text-align: left;">Cylinder</th></tr>
  <tr><td style="text-align: left;">bore</td><td style="text-align: right;">80</td><td style="text-align: left;">mm</td><td style="text-align: left;"></td><td style="text-align: left;">drawing 12, ± 0.05 µm</td></tr>
  <tr><td style="text-align: left;">area</td><td style="text-align: right;">50.265</td><td style="text-align: left;">cm2</td><td style="text-align: left;"></td><td style="text-align: left;"></td></tr>
  <tr><th colspan="5" style="text-align: left;">Pump | motor</th></tr>
  <tr><td style="text-align: left;">flow</td><td style="text-align: right;">-0.5</td><td style="text-align: left;">L/min</td><td style="text-align: left;">fail</td><td style="text-align: left;">read on the panel gauge, once warm, with the relief valve at its setting</td></tr>
  <tr><td style="text-align: left;">rated_flow</td><td style="text-align: right;">open</td><td style="text-align: left;"></td><td style="text-align: left;">open</td><td style="text-align: left;">&lt;b&gt;see&lt;/b&gt; a*b</td></tr>
</tbody>
</table>
<p>- gauge pressures</p>
`},
	{"csv keeps empty columns", forces, CSV, 0, `
name,value,unit,reading,verdict,note
bore,80,mm,,,"drawing 12, ± 0.05 µm"
area,50.265,cm2,,,
flow,-0.5,L/min,,fail,"read on the panel gauge, once warm, with the relief valve at its setting"
rated_flow,open,,,open,<b>see</b> a*b
`},
	{"csv formulas", Table{
		Columns: []Column{{Header: "entry"}, {Header: "@unit"}},
		Rows:    []Row{{Cells: []string{"=p*A", "-12.5e3"}}, {Cells: []string{"-20 degC", "+x"}}},
	}, CSV, 0, `
entry,'@unit
'=p*A,-12.5e3
'-20 degC,'+x
`},
	{"no rows", Table{Columns: []Column{{Header: "name"}, {Header: "value", Align: Decimal}}}, Plain, 0, `
name  value
`},
	{"no rows in html", Table{Title: "a & b", Columns: []Column{{Header: "name"}}}, HTML, 0, `
<table><caption>a &amp; b</caption>
<thead>
  <tr><th style="text-align: left;">name</th></tr>
</thead>
</table>
`},
	{"decimal points", Table{
		Columns: []Column{{Header: "x", Align: Decimal}, {Header: "n", Align: Right}},
		Rows: []Row{
			{Cells: []string{"1.25e+06", "a"}}, {Cells: []string{"-12.5", "bcd"}}, {Cells: []string{"100"}},
			{Cells: []string{".5 ± 0.25"}}, {Cells: []string{"error"}},
		},
	}, Plain, 0, `
           x    n
  1.25e+06      a
-12.5         bcd
100
   .5 ± 0.25
       error
`},
	{"line breaks", Table{
		Columns: []Column{{Header: "a\nb"}, {Header: "c"}},
		Rows:    []Row{{Cells: []string{"1\n2", "x"}}, {Cells: []string{"3", "\ny\tz"}}},
	}, Plain, 0, `
a  c
b
1  x
2
3
   y z
`},
	{"line breaks in markdown", Table{
		Columns: []Column{{Header: "a\nb"}, {Header: "c"}},
		Rows:    []Row{{Cells: []string{"1\n2", `_x_ \ y_z`}}},
	}, Markdown, 0, `
| a<br>b | c            |
|:-------|:-------------|
| 1<br>2 | \_x\_ \\ y_z |
`},
	{"line breaks in html", Table{
		Columns: []Column{{Header: "a"}},
		Rows:    []Row{{Cells: []string{"1\n2"}}},
	}, HTML, 0, `
<table>
<thead>
  <tr><th style="text-align: left;">a</th></tr>
</thead>
<tbody>
  <tr><td style="text-align: left;">1<br>2</td></tr>
</tbody>
</table>
`},
	{"terminal escapes", Table{
		Columns: []Column{{Header: "a\x1b[2J"}},
		Rows:    []Row{{Cells: []string{"\x1b]0;title\a\u202egpj.exe"}}},
	}, Plain, 0, `
a␛[2J
␛]0;title␇` + "\ufffd" + `gpj.exe
`},
	{"paint", Table{
		Columns: []Column{{Header: "value", Align: Decimal, Paint: red}, {Header: "unit"},
			{Header: "verdict", Paint: red}},
		Rows: []Row{{Cells: []string{"80", "mm", "fail"}}, {Cells: []string{"1.5", "", ""}},
			{Cells: []string{"", "kN", "unsure\nopen"}}},
	}, Plain, 0, `
value  unit  verdict
 ` + red("80") + `    mm    ` + red("fail") + `
  ` + red("1.5") + `
       kN    ` + red("unsure") + `
             ` + red("open") + `
`},
	{"little room for texts", Table{
		Columns: []Column{{Header: "name", Align: Right}, {Header: "note"}},
		Rows:    []Row{{Cells: []string{"a_long_name_of_a_quantity", "read on the panel gauge, once warm"}}},
	}, Plain, 34, `
                     name  note
a_long_name_of_a_quantity  read on the panel
                           gauge, once warm
`},
	{"a number wider than the line", Table{
		Columns: []Column{{Header: "value", Align: Right}, {Header: "other", Align: Right}},
		Rows:    []Row{{Cells: []string{"1234567890", "1234567891"}}},
	}, Plain, 5, `
     value       other
1234567890  1234567891
`},
}

func red(s string) string { return "\x1b[31m" + s + "\x1b[0m" }

func TestRender(t *testing.T) {
	for _, test := range renderTests {
		t.Run(test.name, func(t *testing.T) {
			var out bytes.Buffer
			if err := test.table.Render(&out, test.format, test.width); err != nil {
				t.Fatal(err)
			}
			if got, want := out.String(), strings.TrimPrefix(test.want, "\n"); got != want {
				t.Errorf("got\n%s\nwant\n%s\n%q", got, want, got)
			}
		})
	}
}

// TestRenderLocale runs the tables again where characters such as ± and µ may
// count as two columns wide. tablewriter looks at the environment only once, so
// that takes another process.
func TestRenderLocale(t *testing.T) {
	run := exec.Command(os.Args[0], "-test.run=^TestRender$")
	run.Env = append(os.Environ(), "RUNEWIDTH_EASTASIAN=1", "LC_ALL=ja_JP.SJIS", "TERM=dumb")
	if out, err := run.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}

// brokenPipe fails as a full disk does.
type brokenPipe struct{ written int }

var errBroken = errors.New("broken pipe")

func (b *brokenPipe) Write(p []byte) (int, error) {
	b.written += len(p)
	return 0, errBroken
}

func TestRenderErrors(t *testing.T) {
	for _, f := range []Format{Plain, Markdown, CSV, HTML} {
		if err := forces.Render(new(brokenPipe), f, 0); !errors.Is(err, errBroken) {
			t.Errorf("%s: got error %v, want the writer's", f, err)
		}
	}
	w := new(brokenPipe)
	if err := forces.Render(w, "pdf", 0); err == nil || w.written > 0 {
		t.Errorf("unknown format: got error %v and %d bytes", err, w.written)
	}
}

func TestRenderKeepsItsTable(t *testing.T) {
	table := Table{
		Columns: []Column{{Header: "x", Align: Decimal}, {Header: "note"}},
		Rows:    []Row{{Cells: []string{"1", "a\tb | c"}}, {Cells: []string{"1.5", "=x"}}},
	}
	for _, f := range []Format{Plain, Markdown, CSV, HTML} {
		table.Render(new(bytes.Buffer), f, 1)
	}
	if got := table.Rows[0].Cells[0] + table.Rows[0].Cells[1] + table.Rows[1].Cells[1]; got != "1a\tb | c=x" {
		t.Errorf("the table's cells changed to %q", got)
	}
}

func TestHarmless(t *testing.T) {
	for cell, want := range map[string]string{
		"": "", "bore": "bore", "1": "1", "-1": "-1", "+1.5E-3": "+1.5E-3", "-.5": "-.5", "-5.": "-5.",
		"=1": "'=1", "-": "'-", "-1-1": "'-1-1", "+A1": "'+A1", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx",
		"-1 MPa": "'-1 MPa",
	} {
		if got := Harmless(cell); got != want {
			t.Errorf("Harmless(%q) = %q, want %q", cell, got, want)
		}
	}
}

// TestRenderProperties checks on random tables that plain output keeps every
// word, has no blanks at line ends, and is wider than asked only where that is
// the width of a single column beside the first.
func TestRenderProperties(t *testing.T) {
	word := rapid.StringMatching(`[a-z0-9.µ-]{1,12}`)
	cell := rapid.Custom(func(t *rapid.T) string {
		return strings.Join(rapid.SliceOfN(word, 0, 8).Draw(t, "words"),
			rapid.SampledFrom([]string{" ", "  ", "\n"}).Draw(t, "between"))
	})
	rapid.Check(t, func(rt *rapid.T) {
		table := Table{}
		for range rapid.IntRange(1, 6).Draw(rt, "columns") {
			table.Columns = append(table.Columns, Column{Header: word.Draw(rt, "header"),
				Align: Align(rapid.IntRange(0, 2).Draw(rt, "align"))})
		}
		for range rapid.IntRange(1, 5).Draw(rt, "rows") {
			row := Row{Heading: rapid.SampledFrom([]string{"", "Pump", "Tank"}).Draw(rt, "heading")}
			for range table.Columns {
				row.Cells = append(row.Cells, cell.Draw(rt, "cell"))
			}
			table.Rows = append(table.Rows, row)
		}
		width := rapid.IntRange(1, 100).Draw(rt, "width")
		var out bytes.Buffer
		if err := table.Render(&out, Plain, width); err != nil {
			rt.Fatal(err)
		}
		left := strings.Fields(out.String())
		count := make(map[string]int)
		for _, w := range left {
			count[w]++
		}
		for _, r := range table.Rows {
			for _, c := range r.Cells {
				for _, w := range strings.Fields(c) {
					if count[w]--; count[w] < 0 {
						rt.Fatalf("lost %q in\n%s", w, out.String())
					}
				}
			}
		}
		filled, widest := table.shown(), 0
		for _, c := range filled.columns {
			widest = max(widest, filled.needed(0)+len(gap)+max(c.width, minWrap))
		}
		for line := range strings.Lines(out.String()) {
			line = strings.TrimSuffix(line, "\n")
			if strings.HasSuffix(line, " ") {
				rt.Fatalf("blanks at the end of %q", line)
			}
			if TextWidth(line) > max(width, widest) {
				rt.Fatalf("line is %d wide, want %d: %q", TextWidth(line), max(width, widest), line)
			}
		}
	})
}

func BenchmarkRender(b *testing.B) {
	table := forces
	for len(table.Rows) < 1000 {
		table.Rows = append(table.Rows, forces.Rows...)
	}
	for _, f := range []Format{Plain, Markdown, CSV, HTML} {
		b.Run(string(f), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := table.Render(new(bytes.Buffer), f, 0); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
