package main

import (
	"slices"
	"strings"
	"time"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// builtIn is the starter that stands in where no notebook is given.
const builtIn = "press"

// openNotebook reads the notebook at path; without a path the current folder
// if it holds a notebook, else the built-in press.
func openNotebook(path string) (*sheets.Notebook, error) {
	var book *sheets.Notebook
	var problems []sheets.Problem
	switch {
	case path != "":
		book, problems = sheets.Open(path)
	case sheets.IsNotebook("."):
		book, problems = sheets.Open(".")
	default:
		book, problems = sheets.Starter(builtIn)
	}
	return opened(book, problems)
}

// opened refuses a notebook with problems.
func opened(book *sheets.Notebook, problems []sheets.Problem) (*sheets.Notebook, error) {
	if len(problems) > 0 {
		// What the sheets hold beside is looked at too, so that one run shows
		// everything that is wrong.
		_, more := compile(book, nil)
		return nil, wrong(append(problems, more...)...)
	}
	return book, nil
}

// load reads and compiles the notebook that the flags name.
func (f notebookFlags) load() (*calc.Model, error) { return f.loadAround() }

// loadAround is load with the formulas among these names set aside, so that the
// command can give them values.
func (f notebookFlags) loadAround(names ...string) (*calc.Model, error) {
	book, err := openNotebook(f.Path)
	if err != nil {
		return nil, err
	}
	if f.Units != "" {
		if book, err = restated(book, units.System(f.Units), 0); err != nil {
			return nil, err
		}
	}
	model, problems := calc.Compile(book, calc.Options{Sets: f.Set, Aside: names, Today: time.Now()})
	if len(problems) > 0 {
		return nil, wrong(problems...)
	}
	return model, nil
}

// widened compiles the notebook of a model anew with one sheet more, and with
// these formulas set aside.
func (f notebookFlags) widened(model *calc.Model, sheet *sheets.Sheet, aside ...string) (*calc.Model, error) {
	book := *model.Source
	book.Sheets = append(slices.Clone(book.Sheets), sheet)
	wider, problems := calc.Compile(&book, calc.Options{Sets: f.Set, Aside: aside, Today: time.Now()})
	if len(problems) > 0 {
		return nil, wrong(problems...)
	}
	return wider, nil
}

// loadAround is that of notebookFlags, in the case that was named.
func (f caseFlags) loadAround(names ...string) (*calc.Model, error) {
	if f.Case == "" {
		return f.notebookFlags.loadAround(names...)
	}
	sheet, name, one := calc.SplitCase(f.Case)
	if !one {
		return nil, problem(words.Quoted(page.Printable(f.Case))+" is no case",
			`write it as SHEET[CASE], as in "jobs[drip tray]"`)
	}
	model, err := f.notebookFlags.loadAround()
	if err != nil {
		return nil, err
	}
	own, problems := model.InCase(sheet, name, calc.Options{Sets: f.Set, Aside: names, Today: time.Now()})
	if own == nil {
		return nil, refused(model, problems)
	}
	return own, nil
}

func (f caseFlags) load() (*calc.Model, error) { return f.loadAround() }

// check is that of notebookFlags, in the case that was named. What the other
// cases of its sheet are is no matter then.
func (f caseFlags) check(sampling sampleFlags) (*calc.Model, *calc.Report, error) {
	if f.Case == "" {
		return f.notebookFlags.check(sampling)
	}
	model, report, err := checked(f.load, sampling)
	if err != nil {
		return nil, nil, err
	}
	of, _, _ := calc.SplitCase(f.Case)
	report.Narrow(slices.DeleteFunc(slices.Clone(model.Book.Sheets),
		func(s *sheets.Sheet) bool { return s.Kind == sheets.Cases && s.Name == of }))
	return model, report, nil
}

// title names the case behind the notebook.
func (f caseFlags) title(model *calc.Model) string {
	text := f.notebookFlags.title(model)
	if f.Case != "" {
		text += ", in " + page.Printable(f.Case)
	}
	return text
}

// restated reads a notebook anew as it would stand in other units, rounded to
// significant digits if digits > 0.
func restated(book *sheets.Notebook, system units.System, digits int) (*sheets.Notebook, error) {
	texts := map[*sheets.Sheet]map[sheets.Cell]string{}
	for _, e := range calc.Restate(book, system, digits) {
		if texts[e.Sheet] == nil {
			texts[e.Sheet] = map[sheets.Cell]string{}
		}
		texts[e.Sheet][e.Cell] = e.Text
	}
	other := *book
	other.Sheets = slices.Clone(book.Sheets)
	for i, sheet := range other.Sheets {
		if texts[sheet] == nil {
			continue
		}
		again, problems := sheet.With(texts[sheet])
		if len(problems) > 0 {
			return nil, wrong(problems...)
		}
		other.Sheets[i] = again
	}
	if other.Embedded {
		other.FillExamples()
	}
	return &other, nil
}

// check loads the notebook and recalculates all of it.
func (f notebookFlags) check(sampling sampleFlags) (*calc.Model, *calc.Report, error) {
	return checked(f.load, sampling)
}

func checked(load func() (*calc.Model, error), sampling sampleFlags) (*calc.Model, *calc.Report, error) {
	options, err := sampling.options()
	if err != nil {
		return nil, nil, err
	}
	model, err := load()
	if err != nil {
		return nil, nil, err
	}
	report, _ := model.Check(options) // errors of rows and cases are in the report
	return model, report, nil
}

func compile(book *sheets.Notebook, sets []string) (*calc.Model, []sheets.Problem) {
	return calc.Compile(book, calc.Options{Sets: sets, Today: time.Now()})
}

// ownPath is the path of the notebook that a command is about to change or
// follow. The built-in one is no file, so it is refused.
func ownPath(path string) (string, error) {
	switch {
	case path != "":
		return path, nil
	case sheets.IsNotebook("."):
		return ".", nil
	}
	return "", problem("this folder holds no notebook, and the built-in one cannot be changed",
		"name the notebook's folder, or write one with `rambook new DIR`")
}

// title names a notebook on the first line of every answer, with the givens
// that were replaced and the formulas that were set aside for this run.
func (f notebookFlags) title(model *calc.Model) string {
	text := "notebook " + page.Printable(model.Book.Path)
	if model.Book.Embedded {
		text += " (built in)"
	}
	if model.Book.Invented() {
		text += ": an invented machine"
	}
	if len(f.Set) > 0 {
		var sets []string
		for _, set := range f.Set {
			name, entry, _ := calc.Assigned(set)
			typed := strings.TrimSpace(name)
			sets = append(sets, strings.Replace(name, typed, model.Spelled(typed), 1)+"="+entry)
		}
		text += ", with " + page.Printable(strings.Join(sets, ", "))
	}
	if aside := model.SetAside(); len(aside) > 0 {
		text += ", the formula of " + words.Listed(aside, page.MostNames) + " set aside"
	}
	return text
}
