package main

import (
	"fmt"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
	"rambook/units/words"
)

type compareCommand struct {
	Sheet string `arg:"" complete:"cases" help:"The case sheet, such as pumps."`
	notebookFlags
	By     string `complete:"quantity" placeholder:"NAME" help:"What to rank by. Default: the first with a limit on one side."`
	Most   bool   `help:"More of --by is better, whatever its limits."`
	Least  bool   `help:"Less of --by is better, whatever its limits."`
	In     string `complete:"cases" placeholder:"SHEET" help:"Another case sheet: try every case in each of its cases, and show the best in each and over all."`
	Weight string `placeholder:"COLUMN" help:"With --in: the column of that sheet with the weights of its cases. Default: all weigh alike."`
	Where  string `placeholder:"CONDITION" help:"Only cases that meet a condition over their columns and the notebook, such as \"price < 2500 and pump_kind == fixed\"."`
	Plot   bool   `help:"Draw two numbers of each case against each other with characters, the unbeaten cases named; with -o FILE.svg or FILE.png as a picture."`
	Show   list   `complete:"quantity" placeholder:"NAME,…" help:"What to show: formulas, givens or number columns of the sheet, a quantity in another unit as \"heat in hp_mech\", or an expression. Default: all that the sheet asks for."`
	watchFlags
	outputFlags
}

func (compareCommand) Help() string {
	return "A low limit means that more is better, a high limit that less is; " +
		"without one a note that says `less is better` or `more is better`. " +
		"A case is unbeaten if no other is at least as good in every number shown that has such a direction, and " +
		"better in one. " +
		"A case gets the verdict that check gives it, whatever is shown; " +
		"one that fails or is open comes last, without a rank. " +
		"A blank cell of a given is the notebook's own number; where other cases have one, the answer says so. " +
		"The spread of a difference to the best counts what " +
		"both cases have in common once. Exit status 1: a case fails or could not be computed. Example:\n\n" +
		"  rambook compare pumps --by cost mypumps\n" +
		"  rambook compare pumps --by flow --most --show flow,rms_power,heat mypumps\n" +
		"  rambook compare pumps --in duty --by shaft_energy --least mypumps"
}

// Run ranks the cases.
func (c *compareCommand) Run(s *session) error {
	if c.Watch {
		return s.watch(c.Path, func() error { return c.once(s) })
	}
	return c.once(s)
}

func (c *compareCommand) once(s *session) error {
	model, err := c.load()
	if err != nil {
		return err
	}
	model, show, err := c.showing(model, c.Show)
	if err != nil {
		return err
	}
	opt := calc.CompareOptions{By: c.By, Show: show, Most: c.Most, Least: c.Least}
	if c.Path != "" && c.Path != "." {
		opt.Path = quoteArgument(c.Path)
	}
	opt.Where = c.Where
	switch {
	case c.In != "":
		return c.runCrossed(s, model, opt)
	case c.Weight != "":
		return problem("--weight goes with --in", "the cases of another sheet are weighed")
	}
	comparison, problems := model.Compare(c.Sheet, opt)
	if len(problems) > 0 {
		return refused(model, problems)
	}
	layout := s.screen()
	if s.draws(c.Plot) {
		err = c.draw(s, model, figure.Artist{Layout: layout}.ComparisonFigure(comparison))
	} else {
		err = s.answer(answer.Of(c.title(model), model.Book.Invented(),
			&page.ComparisonView{Comparison: comparison, Layout: layout}))
	}
	if err != nil {
		return err
	}
	return s.finishComparison(model, comparison)
}

// finishComparison prints what went wrong beside the ranking, and whether a case
// fails.
func (s *session) finishComparison(model *calc.Model, comparison *calc.Comparison) error {
	printWarnings(s.stderr, model.Warnings)
	printProblems(s.stderr, "", comparison.Failures)
	var failing []string
	for i := range comparison.Rows {
		if r := &comparison.Rows[i]; r.Verdict == calc.Fail {
			failing = append(failing, page.Printable(r.Name))
		}
	}
	s.tellFailing(failing)
	if len(comparison.Failures)+len(failing) > 0 {
		return errFails
	}
	return nil
}

// tellFailing says on the screen what fails in an answer that has gone to a file.
func (s *session) tellFailing(names []string) {
	if s.output.Output != "" && len(names) > 0 {
		fmt.Fprintf(s.stderr, "written, and of it fails: %s\n", words.Listed(names, page.MostNames))
	}
}
