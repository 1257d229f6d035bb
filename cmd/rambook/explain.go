package main

import (
	"strings"

	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
)

type explainCommand struct {
	Name string `arg:"" complete:"quantity" help:"The quantity to derive, or SHEET[CASE].NAME as it is in one case."`
	caseFlags
	watchFlags
	outputFlags
}

func (explainCommand) Help() string {
	return "Shows the formula, then with numbers put in, then each formula below it, down to the givens. Example:\n\n" +
		"  rambook explain force mypress\n  rambook explain \"jobs[drip tray].job_force\" mypress"
}

// Run derives one quantity.
func (c *explainCommand) Run(s *session) error {
	if sheet, name, found := strings.Cut(c.Name, "]."); found && strings.Contains(sheet, "[") {
		if c.Case != "" {
			return problem("a case is named twice: "+page.Printable(c.Case)+" and "+page.Printable(c.Name),
				"leave one of them out")
		}
		c.Case, c.Name = strings.TrimSpace(sheet)+"]", strings.TrimSpace(name)
	}
	if c.Watch {
		return s.watch(c.Path, func() error { return c.once(s) })
	}
	return c.once(s)
}

func (c *explainCommand) once(s *session) error {
	model, err := c.load()
	if err != nil {
		return err
	}
	layout := s.screen()
	d, problems := model.Explain(c.Name, page.ShownWith(layout.Numbers))
	if d == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	return s.answer(&answer.Answer{
		Title:    c.title(model),
		Invented: model.Book.Invented(),
		Page:     func() []table.Table { return layout.Explained(c.Name, d) },
		Rows:     func() table.Table { return page.DerivationTable(d, layout.Numbers) },
		Object:   func() any { return page.NewJSONDerivation(c.Name, d) },
	})
}
