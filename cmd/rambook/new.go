package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

type newCommand struct {
	Dir            string     `arg:"" help:"Folder to write to. It is made if it is not there."`
	Starter        string     `type:"starter" default:"press" complete:"starter" placeholder:"NAME" help:"Which notebook: ${starters}. Default: press."`
	Only           list       `placeholder:"SHEET,…" help:"Only these sheets; the others are set aside."`
	Without        list       `placeholder:"SHEET,…" help:"All sheets but these, which are set aside."`
	Units          systemName `enum:",si,bar,us" default:"" placeholder:"SYSTEM" help:"si, bar or us."`
	Example        bool       `help:"Fill in the examples: an invented machine, to look at and to learn from."`
	ForSpreadsheet bool       `hidden:"" help:"Formulas stand as a spreadsheet leaves them alone, with or without this."`
}

func (newCommand) Help() string {
	return "The numbers of your machine are blank, with an example beside each; " +
		"what is common practice is filled in, and what is assumed is marked. Nothing is ever overwritten. " +
		"Example:\n\n" +
		"  rambook new mypress\n" +
		"  rambook new shop --only plate,force --units us\n" +
		"  rambook check mypress"
}

// Run writes the starter's sheets and prints what to fill in first.
func (c *newCommand) Run(s *session) error {
	files, err := c.files()
	if err != nil {
		return err
	}
	book, err := read(c.Dir, files)
	if err != nil {
		return err
	}
	aside, empty, err := c.split(book)
	if err != nil {
		return err
	}
	if err := c.refuseOverwriting(); err != nil {
		return err
	}
	if err := c.write(files, aside); err != nil {
		return err
	}
	kept := len(files) - len(aside)
	what := "the " + c.Starter + " notebook, " + words.Counted(kept, "sheet")
	if c.Example {
		what += ", of an invented machine"
	}
	fmt.Fprintf(&s.out, "wrote %s, to %s\n", what, c.Dir)
	if n := len(aside) - len(empty); n > 0 {
		fmt.Fprintf(&s.out, "%s set aside; back with: rambook aside SHEET --back %s\n", words.Counted(n, "sheet"),
			quoteArgument(c.Dir))
	}
	if len(empty) > 0 {
		fmt.Fprintf(&s.out, "set aside too, since all of it needs what is not here: %s\n",
			words.Listed(empty, len(empty)))
	}
	return c.sayWhatIsNext(s)
}

// files are those of the starter, in the units and with the numbers asked for.
func (c *newCommand) files() ([]sheets.StarterFile, error) {
	files, ok := sheets.StarterFiles(c.Starter)
	if !ok {
		return nil, problem("there is no starter "+words.Quoted(c.Starter),
			"the starters are "+strings.Join(sheets.StarterNames(), ", "))
	}
	if c.Example {
		var err error
		if files, err = sheets.WithExamples(files); err != nil {
			return nil, err
		}
	}
	if c.Units == "" {
		return files, nil
	}
	book, err := read(c.Starter, files)
	if err != nil {
		return nil, err
	}
	files = slices.Clone(files)
	restated := restate(book, units.System(c.Units), starterDigits)
	for i, sheet := range book.Sheets {
		if files[i].Data, err = restated.data(sheet); err != nil {
			return nil, fmt.Errorf("%s: %w", files[i].Name, err)
		}
	}
	return files, nil
}

// starterDigits is how many digits the numbers of a starter have in other units:
// they are round numbers of common practice, and examples.
const starterDigits = 3

// read reads the files as a notebook in a folder.
func read(dir string, files []sheets.StarterFile) (*sheets.Notebook, error) {
	book := &sheets.Notebook{Path: dir}
	for _, file := range files {
		sheet, problems := sheets.Read(filepath.Join(dir, file.Name), file.Data)
		if len(problems) > 0 {
			return nil, wrong(problems...)
		}
		book.Sheets = append(book.Sheets, sheet)
	}
	return book, nil
}

// split finds the sheets that are set aside: those that were not asked for, and
// those of which nothing is left without them, which are returned by name as well.
func (c *newCommand) split(book *sheets.Notebook) (aside map[string]bool, empty []string, err error) {
	known := sheetNames(book.Sheets)
	for _, list := range [][]string{c.Only, c.Without} {
		for i := range list {
			list[i] = words.Spelled(list[i], known)
		}
	}
	for _, name := range slices.Concat(c.Only, c.Without) {
		if !slices.Contains(known, name) {
			return nil, nil, problem("the "+c.Starter+" notebook has no sheet "+words.Quoted(name),
				words.DidYouMean(name, known, "its sheets are "+strings.Join(known, ", ")))
		}
	}
	aside = map[string]bool{}
	for _, name := range known {
		if len(c.Only) > 0 && !slices.Contains(c.Only, name) && name != calc.GaugeSheet ||
			slices.Contains(c.Without, name) {
			aside[name] = true
		}
	}
	for len(aside) > 0 {
		more, err := emptied(book, aside)
		if err != nil {
			return nil, nil, err
		}
		if len(more) == 0 {
			break
		}
		for _, name := range more {
			aside[name] = true
		}
		empty = append(empty, more...)
	}
	if len(aside) == len(known) {
		return nil, nil, problem("no sheet is left", "name one with --only that needs no other, such as "+known[0])
	}
	return aside, empty, nil
}

// emptied lists the sheets whose formulas all need what is set aside, and the
// suspects and cases that are about nothing else.
func emptied(book *sheets.Notebook, aside map[string]bool) ([]string, error) {
	rest := &sheets.Notebook{Path: book.Path}
	for _, sheet := range book.Sheets {
		if aside[sheet.Name] {
			rest.Aside = append(rest.Aside, sheet)
		} else {
			rest.Sheets = append(rest.Sheets, sheet)
		}
	}
	model, problems := compile(rest, nil)
	if len(problems) > 0 {
		return nil, wrong(problems...)
	}
	formulas, absent := map[string]int{}, map[string]int{}
	standing := model.Standing()
	for i := range standing.Quantities {
		j := &standing.Quantities[i]
		if !j.Quantity.IsFormula() {
			continue
		}
		formulas[j.Quantity.Sheet.Name]++
		if j.State == calc.Absent {
			absent[j.Quantity.Sheet.Name]++
		}
	}
	var list []string
	for _, sheet := range rest.Sheets {
		if n := formulas[sheet.Name]; n > 0 && n == absent[sheet.Name] {
			list = append(list, sheet.Name)
		}
	}
	return list, nil
}

// write writes the files, all or none of them.
func (c *newCommand) write(files []sheets.StarterFile, aside map[string]bool) (err error) {
	var made []string
	defer func() {
		if err != nil {
			for _, path := range slices.Backward(made) {
				os.Remove(path)
			}
		}
	}()
	folder := func(path string) error {
		_, err := os.Lstat(path)
		if errors.Is(err, fs.ErrNotExist) {
			made = append(made, path)
		}
		if err := os.MkdirAll(path, 0o777); err != nil {
			return fmt.Errorf("cannot make the folder %s: %w", path, sheets.PlainError(err))
		}
		return nil
	}
	if err := folder(c.Dir); err != nil {
		return err
	}
	if len(aside) > 0 {
		if err := folder(filepath.Join(c.Dir, sheets.AsideFolder)); err != nil {
			return err
		}
	}
	logbook := sheets.StarterFile{Name: sheets.LogbookFile, Data: sheets.LogbookHeader()}
	for _, file := range append(slices.Clone(files), logbook) {
		path := filepath.Join(c.Dir, file.Name)
		if aside[sheets.SheetName(file.Name)] {
			path = filepath.Join(c.Dir, sheets.AsideFolder, file.Name)
		}
		if err := sheets.CreateFile(path, file.Data, 0o666); err != nil {
			return err
		}
		made = append(made, path)
	}
	return nil
}

// refuseOverwriting looks for CSV files in the folder: sheets of the starter
// that are there already, and others, which would become part of the notebook.
func (c *newCommand) refuseOverwriting() error {
	there, err := os.ReadDir(c.Dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("cannot write to %s: %w", c.Dir, sheets.PlainError(err))
	}
	var found []sheets.Problem
	for _, entry := range there {
		if strings.EqualFold(filepath.Ext(entry.Name()), ".csv") {
			found = append(found, sheets.Problem{
				File:    filepath.Join(c.Dir, entry.Name()),
				Message: "is there already, and nothing is overwritten",
				Hint:    "name a new folder",
			})
		}
	}
	if found == nil {
		return nil
	}
	return wrong(found...)
}

// mostToDo is how many cells to fill in are listed.
const mostToDo = 12

// sayWhatIsNext lists the givens of the new notebook that are still open.
func (c *newCommand) sayWhatIsNext(s *session) error {
	model, report, err := notebookFlags{Path: c.Dir}.check(sampleFlags{})
	if err != nil {
		return err
	}
	if main := page.Headline(report); main != nil && len(main.Needs) > 0 {
		example := "rambook set"
		for _, need := range main.Needs {
			if q := model.Quantity(need.Name); q != nil && model.ListedIn(q) != nil {
				example = "rambook fill" // a cell for each line of a sheet
				break
			}
			example += " " + need.Name + "=..."
		}
		needs := fmt.Sprintf("The first verdict, %s, needs: %s", main.Quantity.Name,
			words.Listed(page.Names(main.Needs), len(main.Needs)))
		fmt.Fprintf(&s.out, "\n%s\n  %s %s\n", page.Wrapped(needs, s.width(), 2), example, quoteArgument(c.Dir))
	}
	if todo := page.ToMeasure(model, report); len(todo) > 0 {
		fmt.Fprintf(&s.out, "\nFill in, in this order; rambook fill %s asks for one after the other:\n",
			quoteArgument(c.Dir))
		for _, m := range todo[:min(len(todo), mostToDo)] {
			fmt.Fprintln(&s.out, "  "+page.Wrapped(m.Line(), s.width()-2, 4))
		}
		if extra := len(todo) - mostToDo; extra > 0 {
			fmt.Fprintf(&s.out, "  and %d more\n", extra)
		}
	}
	fmt.Fprintf(&s.out, "\nThen: rambook check %s\n", c.Dir)
	if c.Starter == "lesson" {
		fmt.Fprintln(&s.out, page.Wrapped("For a class: rambook check --blind "+c.Dir+" shows the questions and no answer; "+
			"rambook help class has the numbers dealt, what to hand out, and the key", s.width(), 2))
	}
	return nil
}
