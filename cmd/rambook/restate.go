package main

import (
	"fmt"

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
	texts := map[*sheets.Sheet]map[sheets.Cell]string{}
	var changing []*sheets.Sheet
	edits := calc.Restate(r.book, units.System(c.System), 0)
	for _, e := range edits {
		if texts[e.Sheet] == nil {
			texts[e.Sheet] = map[sheets.Cell]string{}
			changing = append(changing, e.Sheet)
		}
		texts[e.Sheet][e.Cell] = e.Text
	}
	r.whole, r.verify = true, r.sameAsBefore
	r.enters(s, c.entryFlags, func() []sheets.Entry {
		return []sheets.Entry{{What: unitsOfAll, Was: systemOf(r.book), Is: string(c.System)}}
	})
	err := r.change(changing, func(now *sheets.Sheet, data []byte) ([]byte, error) {
		return sheets.ReplaceCells(data, texts[r.book.Sheet(now.Name)])
	})
	if err != nil {
		return err
	}
	if len(edits) == 0 {
		fmt.Fprintf(&s.out, "%s is in %s units already\n", r.path, string(c.System))
		return nil
	}
	fmt.Fprintf(&s.out, "%s restated in %s of %s: the same values, the same verdicts\n",
		words.Counted(len(edits), "cell"),
		words.Counted(len(changing), "sheet"), r.path)
	if n := len(r.book.Aside); n > 0 {
		fmt.Fprintf(&s.out, "what is set aside keeps its units: %s\n", words.Counted(n, "sheet"))
	}
	return nil
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
