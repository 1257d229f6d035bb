package main

import (
	"fmt"
	"slices"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

type restateCommand struct {
	System systemName `arg:"" enum:"si,bar,us" help:"si (MPa, mm, kN), bar (bar in place of MPa) or us (psi, inch, ustonf)."`
	Path   string     `arg:"" optional:"" help:"Folder or CSV file. Default: this folder."`
	entryFlags
}

func (restateCommand) Help() string {
	return "Units and numbers of all rows are rewritten: the same values, the same verdicts. " +
		"Numbers with a unit of their own, formulas, notes, logs and what is set aside stay. Example:\n\n" +
		"  rambook restate us mypress"
}

// Run rewrites the notebook in other units, and holds the result to what it was.
func (c *restateCommand) Run(s *session) error {
	return anew(c.Path, func(r *revision) error { return c.in(s, r) })
}

// unitsOfAll is how the logbook names the units of a notebook.
const unitsOfAll = "notebook.units"

// systemOf is the system that a notebook is in, "" if its units are of several.
func systemOf(book *sheets.Notebook) string {
	for _, system := range units.Systems() {
		if len(calc.Restate(book, system, 0)) == 0 {
			return string(system)
		}
	}
	return ""
}

// in is Run in a notebook that is read already.
func (c *restateCommand) in(s *session, r *revision) error {
	if r.model == nil {
		return wrong(r.problems...)
	}
	restated := restate(r.book, units.System(c.System), 0)
	changing := restated.changing
	r.whole, r.verify = true, r.sameAsBefore
	r.enters(s, c.entryFlags, func() []sheets.Entry {
		return []sheets.Entry{{What: unitsOfAll, Was: systemOf(r.book), Is: string(c.System)}}
	})
	err := r.change(changing, func(now *sheets.Sheet, _ []byte) ([]byte, error) {
		return restated.data(r.book.Sheet(now.Name))
	})
	if err != nil {
		return err
	}
	if restated.cells == 0 {
		fmt.Fprintf(&s.out, "%s is in %s units already\n", r.path, string(c.System))
		return nil
	}
	fmt.Fprintf(&s.out, "%s restated in %s of %s: the same values, the same verdicts\n",
		words.Counted(restated.cells, "cell"),
		words.Counted(len(changing), "sheet"), r.path)
	if n := len(r.book.Aside); n > 0 {
		fmt.Fprintf(&s.out, "what is set aside keeps its units: %s\n", words.Counted(n, "sheet"))
	}
	return nil
}

// restatement is a notebook in other units, the example cases of its comments too.
type restatement struct {
	cells    int
	changing []*sheets.Sheet
	sheets   map[*sheets.Sheet]restatedSheet
}

type restatedSheet struct {
	opened *sheets.Sheet // with the example cases on the lines open
	open   []int
	texts  map[sheets.Cell]string
}

// restate finds what changes where a notebook is written in other units.
func restate(book *sheets.Notebook, system units.System, digits int) restatement {
	opened := *book
	opened.Sheets = slices.Clone(book.Sheets)
	all := make(map[*sheets.Sheet]restatedSheet, len(book.Sheets))
	for i, sheet := range book.Sheets {
		one := restatedSheet{texts: map[sheets.Cell]string{}}
		one.opened, one.open = sheet.OpenExamples()
		opened.Sheets[i], all[sheet] = one.opened, one
	}
	edits := calc.Restate(&opened, system, digits)
	r := restatement{cells: len(edits), sheets: all}
	for _, e := range edits {
		sheet := book.Sheets[slices.Index(opened.Sheets, e.Sheet)]
		if len(all[sheet].texts) == 0 {
			r.changing = append(r.changing, sheet)
		}
		all[sheet].texts[e.Cell] = e.Text
	}
	return r
}

// data is the file of a sheet as it is then.
func (r *restatement) data(sheet *sheets.Sheet) ([]byte, error) {
	one := r.sheets[sheet]
	return one.opened.ReplaceOpened(one.texts, one.open)
}

// sameAsBefore refuses a notebook that does not come to the same as before.
func (r *revision) sameAsBefore(after *calc.Report) error {
	if r.before == nil {
		return nil
	}
	if what := r.model.Different(r.before, after); what != "" {
		if err := r.stillAsRead(); err != nil { // a log that somebody has put there takes no lock
			return err
		}
		return problem("the restated notebook would not be the same: "+what, "nothing was written")
	}
	return nil
}
