package main

import (
	"fmt"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units/words"
)

type solveCommand struct {
	Givens []string `arg:"" complete:"quantity" name:"given" help:"The given to find a value for, and the notebook's folder last. With several conditions as many givens."`
	lookFlags
	inCaseFlags
	Until   []string `required:"" sep:"none" placeholder:"\"SIDE = SIDE\"" help:"The two sides to make equal. A side is a number with its unit or an expression. Once for each given."`
	Between []string `sep:"none" placeholder:"\"A to B UNIT\"" help:"Where to look, of several givens \"NAME = A to B UNIT\". Default: the given's low to high, or a decade below and above its value."`
	watchFlags
	outputFlags

	Path string `kong:"-"`
}

// AfterApply parts the notebook from the givens: it stands last, where there are
// more words than conditions or what is there is a file or a folder.
func (c *solveCommand) AfterApply(s *session) error {
	switch n := len(c.Givens); {
	case n > 1 && isNotebookPath(c.Givens[n-1]):
		c.Path, c.Givens = c.Givens[n-1], c.Givens[:n-1]
	case n > len(c.Until):
		last := c.Givens[n-1]
		return problem(words.Quoted(last)+" is no folder and no file; as a given it needs a --until of its own",
			"write one --until for each given, or the notebook's folder as the last word")
	}
	for i, name := range c.Givens {
		c.Givens[i] = strings.TrimSpace(name)
	}
	return c.outputFlags.AfterApply(s)
}

func (solveCommand) Help() string {
	return "All values in that range are found. The spread of a value comes from the spreads of all other givens. " +
		"Exit status 1: there is no such value. Example:\n\n" +
		"  rambook solve setting --until \"force = 900 kN\" mypress\n" +
		"  rambook solve fill_level --until \"level_down = low_mark\" --between \"200 to 400 mm\"\n" +
		"  rambook solve setting pump_displacement --until \"force = 900 kN\" " +
		"--until \"approach_speed = 60 mm/s\" mypress"
}

// Run finds the values and how each stands to the notebook's limits.
func (c *solveCommand) Run(s *session) error {
	if c.Watch {
		return s.watch(c.Path, func() error { return c.once(s) })
	}
	return c.once(s)
}

func (c *solveCommand) once(s *session) error {
	flags := caseFlags{notebookFlags{c.Path, c.lookFlags}, c.inCaseFlags}
	model, err := flags.loadAround(c.Givens...)
	if err != nil {
		return err
	}
	layout := s.screen()
	if len(c.Givens) > 1 || len(c.Until) > 1 {
		solved, problems := model.SolveTogether(c.Givens, c.Until, c.Between)
		if len(problems) > 0 {
			return refused(model, problems)
		}
		view := &page.TogetherView{Together: solved, Layout: layout}
		return s.tellSolved(model, flags.title(model), view, len(solved.Solutions) > 0, solved.Failure)
	}
	between := ""
	if n := len(c.Between); n > 1 {
		return problem("there are several --between for one given", "")
	} else if n == 1 {
		between = c.Between[0]
	}
	solved, problems := model.Solve(c.Givens[0], c.Until[0], between)
	if len(problems) > 0 {
		return refused(model, problems)
	}
	view := &page.SolvedView{Solved: solved, Layout: layout}
	return s.tellSolved(model, flags.title(model), view, len(solved.Solutions) > 0, solved.Failure)
}

// tellSolved answers with what a search has found; one that has found nothing ends
// with status 1, and failure, if there is one, is why.
func (s *session) tellSolved(model *calc.Model, title string, view interface {
	answer.View
	Lines() []string
}, found bool, failure *sheets.Problem) error {
	printWarnings(s.stderr, model.Warnings)
	err := s.answer(answer.Of(title, model.Book.Invented(), view))
	if err != nil || found {
		return err
	}
	if failure != nil {
		printProblems(s.stderr, "", []sheets.Problem{*failure})
	}
	if s.form.Exact {
		fmt.Fprintln(s.stderr, strings.Join(view.Lines(), "\n"))
	}
	return errFails
}
