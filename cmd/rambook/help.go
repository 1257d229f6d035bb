package main

import (
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
	for _, one := range pages {
		if strings.EqualFold(one.Name, c.Subject) {
			return page.WriteManual(&s.out, one, s.width())
		}
	}
	if c.Subject == "" {
		list := page.ManualPages(pages)
		return list.Render(&s.out, table.Plain, s.width())
	}
	for _, command := range parser.Model.Children {
		if command.Name == c.Subject && !command.Hidden {
			_, err := parser.Parse([]string{command.Name, "--help"}) // which ends here
			return err
		}
	}
	var names []string
	for _, one := range pages {
		names = append(names, one.Name)
	}
	return problem("there is no page or command "+words.Quoted(page.Printable(c.Subject)),
		"the pages are "+words.Listed(names, len(names))+"; rambook --help lists the commands")
}
