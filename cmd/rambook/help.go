package main

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/alecthomas/kong"

	"rambook/cmd/rambook/manual"
	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
	"rambook/units/words"
)

type helpCommand struct {
	Subject string `arg:"" optional:"" help:"A page, or a command. Default: what pages there are."`
}

func (helpCommand) Help() string {
	return "Example:\n\n  rambook help\n  rambook help notebook\n  rambook help sweep"
}

// Run shows a page, the help of a command, or the list of the pages.
func (c *helpCommand) Run(s *session, parser *kong.Kong) error {
	pages := manual.Pages()
	for _, page := range pages {
		if strings.EqualFold(page.Name, c.Subject) {
			return writePage(&s.out, page, s.width())
		}
	}
	if c.Subject == "" {
		list := table.Table{Columns: []table.Column{{Header: "page"}, {Header: "about"}},
			Note: "rambook help PAGE shows one, rambook help COMMAND or rambook --help the commands."}
		for _, page := range pages {
			list.Rows = append(list.Rows, table.Row{Cells: []string{page.Name, page.Title}})
		}
		return list.Render(&s.out, table.Plain, s.width())
	}
	for _, command := range parser.Model.Children {
		if command.Name == c.Subject && !command.Hidden {
			_, err := parser.Parse([]string{command.Name, "--help"}) // which ends here
			return err
		}
	}
	var names []string
	for _, page := range pages {
		names = append(names, page.Name)
	}
	return problem("there is no page or command "+"`"+page.Printable(c.Subject)+"`",
		"the pages are "+words.Listed(names, len(names))+"; rambook --help lists the commands")
}

// writePage lays a page out for a screen. Its backquotes stay, since they show
// where what is to be typed begins and ends.
func writePage(out *bytes.Buffer, shown manual.Page, width int) error {
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
			fmt.Fprintf(out, "%s%s\n", bullet, page.Wrapped(text, width-len(bullet), len(bullet)))
		case manual.Code:
			for _, line := range block.Lines {
				fmt.Fprintln(out, strings.TrimRight(strings.Repeat(" ", indent)+line, " "))
			}
		case manual.Table:
			if err := screenTable(block).Render(out, table.Plain, width); err != nil {
				return err
			}
		default:
			fmt.Fprintln(out, page.Wrapped(text, width, 0))
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
