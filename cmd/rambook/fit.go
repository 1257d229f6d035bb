package main

import (
	"os"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
)

type fitCommand struct {
	Givens []string `arg:"" complete:"quantity" name:"given" help:"The givens to fit, and the notebook's folder last."`
	Set    []string `sep:"none" placeholder:"\"NAME = ENTRY\"" help:"Replace a given for this run only, so that the fit starts there. Repeatable."`
	Cases  string   `placeholder:"SHEET" help:"Fit to the readings in all cases of this sheet. Default: those of the notebook."`
	Where  string   `placeholder:"CONDITION" help:"Take only the cases that meet a condition over quantities and columns."`
	Free   bool     `help:"Ignore the givens' own spreads."`
	Write  bool     `help:"Put the values and their spreads into the sheets, with a word in the note, and the correlations into their sheet."`
	entryFlags
	outputFlags
}

func (fitCommand) Help() string {
	return "The values at which the readings fit best, all givens at once. " +
		"A given's own spread counts as what is known of it before; limits, and the range of a suspect, bound it. " +
		"Example:\n\n" +
		"  rambook fit pump_efficiency --cases visits\n" +
		"  rambook fit pump_efficiency viscosity_ratio --free --cases visits " +
		"--where \"working_temperature < fill_temperature + 30*K\""
}

// Run fits the givens and prints how sure they are.
func (c *fitCommand) Run(s *session) error {
	flags := notebookFlags{lookFlags: lookFlags{Set: c.Set}}
	names, path := notebookLast(c.Givens, 1)
	flags.Path = path
	var read *sheets.Notebook // before the model is made of it, so that no later change is overlooked
	if c.Write {
		read, _ = openNotebook(path)
	}
	model, err := flags.load()
	if err != nil {
		return err
	}
	fit, problems := model.Fit(names, calc.FitOptions{Sheet: c.Cases, Where: c.Where, Free: c.Free})
	if fit == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	view := &page.FitView{Fit: fit, Layout: s.screen()}
	if c.Write {
		if view.Written, err = c.write(s, path, read, fit); err != nil {
			return err
		}
	}
	return s.answer(answer.Of(flags.title(model), model.Book.Invented(), view))
}

// notebookLast parts the words of a command line into those before the notebook and
// its path, which is the last word if there is such a file or folder, and "" else.
// The first least words are no path.
func notebookLast(list []string, least int) (before []string, path string) {
	if n := len(list); n > least && isNotebookPath(list[n-1]) {
		return list[:n-1], list[n-1]
	}
	return list, ""
}

// isNotebookPath reports whether a word names a folder or a sheet rather than a
// given.
func isNotebookPath(word string) bool {
	_, err := os.Stat(word)
	return err == nil || strings.ContainsAny(word, `/\.`)
}
