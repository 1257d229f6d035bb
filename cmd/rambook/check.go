package main

import (
	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units/words"
)

type checkCommand struct {
	caseFlags
	More   []string `arg:"" optional:"" name:"more-paths" help:"Further notebooks, such as FLOOR/*: then each has one line, with its verdict, what is worst, what falls due next and which trend meets its limit first."`
	Only   list     `complete:"sheet" placeholder:"SHEET,…" help:"Show and judge these sheets only."`
	Short  bool     `xor:"length" help:"Show the answer alone: what fails, what is unsure and why, what to measure next, what is due. A terminal does so by itself where all would be longer than the screen, unless sheets are asked for."`
	All    bool     `xor:"length" help:"Show all tables, however long."`
	Blind  bool     `help:"For a class: hide what is computed, its spread and limits. A reading is an answer, and is right or wrong, with the slip that explains it."`
	Strict bool     `help:"Count unsure as failing."`
	watchFlags
	drawFlags
	outputFlags
}

func (checkCommand) Help() string {
	return "Exit status 0: nothing fails; 1: something fails; 2: the notebook or the command line is wrong. " +
		"The interval that --sample finds stands beside a quantity, and in the table of cases where it differs from " +
		"the spread; --format csv and json have all. The answer comes first, then the tables; " +
		"--short leaves them out. Of several notebooks each has one line, and one that cannot be read does not stop " +
		"the others (status 1). Example:\n\n" +
		"  rambook check mypress\n" +
		"  rambook check --short mypress\n" +
		"  rambook check --set \"setting = 22 MPa\" --only force mypress\n" +
		"  rambook check --sample 10000 --samples --only force -o samples.csv mypress\n" +
		"  rambook check mypress mypumps"
}

// Run recalculates the notebook and shows what came out.
func (c *checkCommand) Run(s *session) error {
	switch {
	case c.Samples:
		return c.sendSamples(s)
	case len(c.More) > 0 || c.Path != "" && len(expanded(c.Path)) > 1:
		return c.checkShop(s)
	case c.Blind && c.Watch:
		return s.watch(c.Path, func() error { return c.checkBlind(s) })
	case c.Blind:
		return c.checkBlind(s)
	case c.Watch:
		return s.watch(c.Path, func() error { return c.once(s) })
	}
	return c.once(s)
}

func (c *checkCommand) once(s *session) error {
	model, report, err := c.check(c.sampleFlags)
	if err != nil {
		return err
	}
	if err := c.narrow(model.Book, report); err != nil {
		return err
	}
	logs, warnings, err := page.SummariseLogs(model.Book, c.Only)
	if err != nil {
		return err
	}
	report.Warnings = append(report.Warnings, warnings...)
	if err := c.print(s, model, report, logs); err != nil {
		return err
	}
	printWarnings(s.stderr, report.Warnings)
	printProblems(s.stderr, "", byCause(report.Failures))
	s.tellFailing(failingIn(report))
	if report.Counts.Fail > 0 || len(report.Failures) > 0 || c.Strict && report.Counts.Unsure > 0 {
		return errFails
	}
	return nil
}

// narrow leaves in the report only the sheets that were asked for.
func (c *checkCommand) narrow(book *sheets.Notebook, r *calc.Report) error {
	if len(c.Only) == 0 {
		return nil
	}
	known := sheetNames(book.Sheets)
	var shown []*sheets.Sheet
	for _, name := range c.Only {
		name = words.Spelled(name, known)
		sheet := book.Sheet(name)
		if sheet == nil {
			return problem("there is no sheet "+words.Quoted(name)+" in "+book.Path, words.DidYouMean(name, known, ""))
		}
		shown = append(shown, sheet)
	}
	r.Narrow(shown)
	return nil
}

// print shows the report in the session's format, the answer before its tables,
// and logs that were asked for. What does not fit on a terminal is cut to the
// answer.
func (c *checkCommand) print(s *session, m *calc.Model, r *calc.Report, logs []page.LoggedSheet) error {
	view := &page.ReportView{Model: m, Report: r, Only: c.Only, Logs: logs, Layout: s.screen()}
	found := answer.Of(c.title(m), m.Book.Invented(), view)
	found.Book = view.Book
	if c.Short {
		found.Page = view.Short
	}
	if c.Short || c.All || len(c.Only) > 0 {
		return s.answer(found)
	}
	return s.answerInBrief(found, view.Short)
}

// failingIn names what fails in a report: rows, and cases with their sheet.
func failingIn(r *calc.Report) []string {
	var names []string
	for i := range r.Quantities {
		if r.Quantities[i].Verdict == calc.Fail {
			names = append(names, r.Quantities[i].Quantity.Name)
		}
	}
	for _, result := range r.Cases {
		for i := range result.Cases {
			if result.Cases[i].Verdict == calc.Fail {
				names = append(names, page.Printable(result.Sheet.Name+"["+result.Cases[i].Name+"]"))
			}
		}
	}
	return names
}
