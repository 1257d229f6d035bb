package main

import (
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
)

type diagnoseCommand struct {
	Words []string `arg:"" optional:"" sep:"none" name:"SHEET[CASE] PATH" help:"A case sheet, or one case of it, and the notebook's folder. Default: the notebook's own readings."`
	Sets  []string `name:"set" sep:"none" placeholder:"\"NAME = ENTRY\"" help:"Replace a given for this run only. Repeatable."`
	Pairs bool     `help:"Also try the suspects two at a time."`
	Short bool     `xor:"length" help:"Show the answer alone: what is off, how sure that is, and the next check. A terminal does so by itself where all would be longer than the screen."`
	All   bool     `xor:"length" help:"Show all tables, however long."`
	outputFlags

	Path  string `kong:"-"`
	sheet string
}

// AfterApply parts the sheet from the path: what is there as a file or a folder
// is the notebook.
func (c *diagnoseCommand) AfterApply(s *session) error {
	if err := c.outputFlags.AfterApply(s); err != nil {
		return err
	}
	words, path := notebookLast(c.Words, 0)
	c.Path = path
	switch len(words) {
	case 0:
	case 1:
		c.sheet = words[0]
	default:
		return problem("there is no notebook "+words[len(words)-1],
			"diagnose takes a case sheet, or one case of it, and the notebook's folder")
	}
	return nil
}

func (diagnoseCommand) Help() string {
	return "Each suspect of the suspect sheet is tried in turn: its value is changed until the readings that have a " +
		"spread fit best. The one that leaves the least misfit comes first. Example:\n\n" +
		"  rambook diagnose mypress\n" +
		"  rambook diagnose --pairs --format json mypress"
}

// Run ranks the suspects.
func (c *diagnoseCommand) Run(s *session) error {
	flags := notebookFlags{Path: c.Path, lookFlags: lookFlags{Set: c.Sets}}
	model, err := flags.load()
	if err != nil {
		return err
	}
	if c.sheet != "" {
		return c.runCases(s, flags, model)
	}
	return c.diagnose(s, flags, model, "")
}

// diagnose ranks the suspects of a notebook, or of one case, which is named in
// the title.
func (c *diagnoseCommand) diagnose(s *session, flags notebookFlags, model *calc.Model, where string) error {
	d, problems := model.Diagnose(calc.DiagnoseOptions{Pairs: c.Pairs})
	if d == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	view := &page.DiagnosisView{Diagnosis: d, Layout: s.screen(), WithPairs: c.Pairs}
	found := answer.Of(strings.TrimSpace(flags.title(model)+" "+where), model.Book.Invented(), view)
	if c.Short {
		found.Page = view.Short
	}
	if c.Short || c.All {
		return s.answer(found)
	}
	return s.answerInBrief(found, view.Short)
}
