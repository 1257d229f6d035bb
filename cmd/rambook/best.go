package main

import (
	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
)

type bestCommand struct {
	Givens []string `arg:"" complete:"quantity" name:"given" help:"The givens to choose, and the notebook's folder last. Up to three of them from a range."`
	lookFlags
	inCaseFlags
	Most   string   `xor:"goal" required:"" complete:"quantity" placeholder:"NAME" help:"The quantity to have most of."`
	Least  string   `xor:"goal" required:"" complete:"quantity" placeholder:"NAME" help:"The quantity to have least of."`
	Within []string `sep:"none" placeholder:"\"NAME = RANGE\"" help:"Where to choose a given: A to B UNIT, a list A, B, C UNIT, or SHEET.COLUMN. Default: its low to high. Of a formula A to B UNIT: what it has to keep to beside its limits. Repeatable."`
	Sure   bool     `help:"Keep the limits by the whole spread as well, so that what is chosen passes."`
	outputFlags
}

func (bestCommand) Help() string {
	return "Every limit of the notebook that depends on the choice is kept: by the value, with --sure by its spread " +
		"as well. The limits that stand in the way are named, with what each is worth: how much better the goal gets " +
		"if that limit moves by one unit. " +
		"Exit status 1: no choice keeps all limits. Example:\n\n" +
		"  rambook best setting --most force mypress\n" +
		"  rambook best bore rod_diameter --least return_time " +
		"--within \"bore = 160, 170, 180 mm\" --within \"rod_diameter = 120 to 170 mm\" mypress"
}

// Run finds the best choice.
func (c *bestCommand) Run(s *session) error {
	names, path := notebookLast(c.Givens, 1)
	flags := caseFlags{notebookFlags{path, c.lookFlags}, c.inCaseFlags}
	model, err := flags.load()
	if err != nil {
		return err
	}
	best, problems := model.Best(names, calc.BestOptions{Goal: c.Most + c.Least, Most: c.Most != "", Sure: c.Sure,
		Within: c.Within})
	if best == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	view := &page.BestView{Optimum: best, Layout: s.screen()}
	err = s.answer(answer.Of(flags.title(model), model.Book.Invented(), view))
	if err != nil || calc.Has(best.Value) {
		return err
	}
	if best.Failure != nil {
		printProblems(s.stderr, "", []sheets.Problem{*best.Failure})
	}
	return errFails
}
