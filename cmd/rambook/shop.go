package main

import (
	"os"
	"path/filepath"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units/cores"
)

// machine is one of several notebooks that are checked at once, and what came of it.
type machine struct {
	path   string
	shown  *page.Machine
	counts calc.Counts
	faults int   // rows and cases that could not be computed
	err    error // it cannot be read
}

// checkShop checks several notebooks, each on a line. One that cannot be read
// is reported, and does not stop the others.
func (c *checkCommand) checkShop(s *session) error {
	if c.Watch || c.Blind || len(c.Only) > 0 {
		return problem("--watch, --blind and --only are for one notebook, and here are several", "name one of them")
	}
	options, err := c.sampleFlags.options()
	if err != nil {
		return err
	}
	machines := make([]*machine, 0, 1+len(c.More))
	for _, path := range append([]string{c.Path}, c.More...) {
		for _, one := range expanded(path) {
			if info, err := os.Stat(one); err == nil && !info.IsDir() && !strings.EqualFold(filepath.Ext(one), ".csv") {
				continue // the notes beside the notebooks
			}
			machines = append(machines, &machine{path: one})
		}
	}
	if len(machines) == 0 {
		return problem("there is no notebook among these files", "name the folders of the notebooks")
	}
	options.Quiet = true
	layout := s.screen()
	shelf := sheets.NewShelf()
	cores.Each(len(machines), func(i int) { machines[i].check(shelf, layout, c.Set, options) })

	view := &page.ShopView{Layout: layout}
	for _, one := range machines {
		view.Machines = append(view.Machines, one.shown)
	}
	if err := s.answer(answer.Of(view.Title(c.Set), false, view)); err != nil {
		return err
	}
	fails := false
	for _, one := range machines {
		if one.err != nil {
			printError(s.stderr, one.err, false)
		}
		fails = fails || one.err != nil || one.counts.Fail > 0 || one.faults > 0 || c.Strict && one.counts.Unsure > 0
	}
	if fails {
		return errFails
	}
	return nil
}

// expanded lists what a pattern stands for, where no shell has done so.
func expanded(path string) []string {
	if _, err := os.Stat(path); err == nil || !strings.ContainsAny(path, "*?[") {
		return []string{path}
	}
	if list, err := filepath.Glob(path); err == nil && len(list) > 0 {
		return list
	}
	return []string{path}
}

// check recalculates one notebook and looks at what comes first.
func (one *machine) check(shelf *sheets.Shelf, layout page.Layout, sets []string, options calc.CheckOptions) {
	model, err := one.load(shelf, sets)
	if err == nil {
		report, problems := model.Check(options)
		if report != nil {
			one.counts, one.faults = report.Counts, len(report.Failures)
			glance := model.Glance(report)
			one.shown = layout.NewMachine(one.path, model, &glance, one.counts)
			return
		}
		err = refused(model, problems)
	}
	one.err, one.shown = err, page.NewBrokenMachine(one.path, problemsOf(err).Problems)
}

// load reads and compiles one notebook.
func (one *machine) load(shelf *sheets.Shelf, sets []string) (*calc.Model, error) {
	book, err := opened(shelf.Open(one.path))
	if err != nil {
		return nil, err
	}
	model, problems := compile(book, sets)
	if len(problems) > 0 {
		return nil, wrong(problems...)
	}
	return model, nil
}
