package main

import (
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
)

type explainCommand struct {
	Name string `arg:"" complete:"quantity" help:"The quantity to derive, or SHEET[CASE].NAME as it is in one case."`
	caseFlags
	watchFlags
	drawFlags
	outputFlags
}

func (explainCommand) Help() string {
	return "Shows the formula, then with numbers put in, then each formula below it, down to the givens. " +
		"With --sample a histogram of the quantity stands below, or is drawn in FILE.svg or FILE.png. Example:\n\n" +
		"  rambook explain force mypress\n  rambook explain force --sample 100000 mypress\n" +
		"  rambook explain force --sample 100000 -o force.svg mypress\n" +
		"  rambook explain \"jobs[drip tray].job_force\" mypress"
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
	c.Name = model.Spelled(strings.TrimSpace(c.Name))
	d, problems := model.Explain(c.Name, page.ShownWith(layout.Numbers))
	if d == nil {
		return refused(model, problems)
	}
	if c.Samples {
		return s.sendSamples(model, []*calc.Quantity{d.Steps[0].Quantity}, c.sampleFlags)
	}
	sampled, err := c.sampled(model, d.Steps[0].Quantity)
	switch {
	case err != nil:
		return err
	case pictureOf(s.output.Output) != nil && !s.chosen:
		if sampled == nil || sampled.Histogram == nil {
			return problem("there is nothing to draw: "+c.Name+" has no samples",
				"--sample 100000 draws a histogram of a formula that depends on a spread")
		}
		return s.showFigure("", model.Book.Invented(), figure.Artist{Layout: layout}.Histogram(sampled))
	}
	printWarnings(s.stderr, model.Warnings)
	view := &page.DerivationView{Name: c.Name, Derivation: d, Sampled: sampled, Layout: layout}
	if c.Case == "" {
		view.Sheets = model.Book.Sheets
	}
	return s.answer(answer.Of(c.title(model), model.Book.Invented(), view))
}

// sampled is the quantity with what sampling finds of it, nil if no samples are
// asked for.
func (c *explainCommand) sampled(model *calc.Model, q *calc.Quantity) (*calc.Judged, error) {
	opt, err := c.options()
	if err != nil || opt.Samples == 0 {
		return nil, err
	}
	return page.JudgedOf(model.Sampled(opt), q), nil
}
