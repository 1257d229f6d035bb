package table

import (
	"bytes"
	"strings"
	"testing"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/tw"
	"pgregory.net/rapid"
)

// TestPlainAsTablewriter draws random tables both ways: our lines are those of
// tablewriter, but for blanks at their ends.
func TestPlainAsTablewriter(t *testing.T) {
	reference := drawersWith(func() []tablewriter.Option {
		return []tablewriter.Option{
			tablewriter.WithRendition(tw.Rendition{
				Borders:  tw.BorderNone,
				Settings: tw.Settings{Separators: tw.SeparatorsNone, Lines: tw.LinesNone},
			}),
			tablewriter.WithPadding(tw.Padding{Right: gap, Overwrite: true}),
		}
	})
	drawers[Plain] = reference
	defer delete(drawers, Plain)
	cell := rapid.SampledFrom([]string{"", "1", "-12.5", "force", "größe µm", "two\nlines", "東京", "  in", "a b  ",
		"± 0.3", "three\nshort\nlines"})
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5).Draw(t, "columns")
		var table Table
		for range n {
			table.Columns = append(table.Columns, Column{Header: "h" + cell.Draw(t, "header"),
				Align: Align(rapid.IntRange(0, 2).Draw(t, "align"))})
		}
		for range rapid.IntRange(1, 5).Draw(t, "rows") {
			row := Row{}
			for range n {
				row.Cells = append(row.Cells, cell.Draw(t, "cell"))
			}
			row.Cells[0] = "x" + row.Cells[0] // tablewriter has its own idea of rows that are blank
			table.Rows = append(table.Rows, row)
		}
		var out bytes.Buffer
		b := table.shown()
		b.write(&out, 1000)
		for _, c := range b.columns { // tablewriter has no decimal points
			for _, r := range table.Rows {
				if after, ok := c.behindPoint(r.Cells[c.index]); ok {
					r.Cells[c.index] += strings.Repeat(" ", c.after-after)
				}
			}
		}
		table = table.WithoutBlank()
		want, err := table.draw(Plain)
		if err != nil {
			t.Fatal(err)
		}
		for i := range want {
			want[i] = strings.TrimRight(want[i], " ")
		}
		if got := out.String(); got != strings.Join(want, "\n")+"\n" {
			t.Fatalf("got\n%s\nwant\n%s", got, strings.Join(want, "\n"))
		}
	})
}
