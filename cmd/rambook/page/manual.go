package page

import (
	"bytes"
	"fmt"
	"strings"

	"rambook/cmd/rambook/manual"
	"rambook/sheets/table"
)

// ManualPages lists the pages of the manual.
func ManualPages(pages []manual.Page) table.Table {
	list := table.Table{Columns: []table.Column{{Header: "page"}, {Header: "about"}},
		Note: "rambook help PAGE shows one, rambook help COMMAND or rambook --help the commands."}
	for _, one := range pages {
		list.Rows = append(list.Rows, table.Row{Cells: []string{one.Name, one.Title}})
	}
	return list
}

// WriteManual lays a page out for a screen. Its backquotes stay, since they show
// where what is to be typed begins and ends.
func WriteManual(out *bytes.Buffer, shown manual.Page, width int) error {
	const indent, bullet = 4, "- "
	width = min(width, 80) // a longer line is hard to read
	heading := func(text, line string) {
		fmt.Fprintf(out, "%s\n%s\n", text, strings.Repeat(line, table.TextWidth(text)))
	}
	heading(shown.Title, "═")
	last := manual.Heading
	for _, block := range shown.Blocks() {
		if block.Kind != manual.Item || last != manual.Item {
			out.WriteByte('\n')
		}
		last = block.Kind
		text := strings.Join(block.Lines, " ")
		switch block.Kind {
		case manual.Heading:
			heading(text, "─")
		case manual.Item:
			fmt.Fprintf(out, "%s%s\n", bullet, Wrapped(text, width-len(bullet), len(bullet)))
		case manual.Code:
			for _, line := range block.Lines {
				fmt.Fprintln(out, strings.TrimRight(strings.Repeat(" ", indent)+line, " "))
			}
		case manual.Table:
			if err := screenTable(block).Render(out, table.Plain, width); err != nil {
				return err
			}
		default:
			fmt.Fprintln(out, Wrapped(text, width, 0))
		}
	}
	return nil
}

func screenTable(block manual.Block) *table.Table {
	t := new(table.Table)
	for i, row := range block.Lines {
		cells := manual.Cells(row)
		if i > 0 {
			t.Rows = append(t.Rows, table.Row{Cells: cells})
			continue
		}
		for _, cell := range cells {
			t.Columns = append(t.Columns, table.Column{Header: cell})
		}
	}
	return t
}
