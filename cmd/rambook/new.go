package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"rambook/sheets"
)

type newCommand struct {
	Dir            string `arg:"" help:"Folder to write to. It is made if it is not there."`
	Starter        string `default:"press" complete:"starter" placeholder:"NAME" help:"Which notebook: ${starters}. Default: press."`
	ForSpreadsheet bool   `help:"Write '= for = so that a spreadsheet keeps the formulas."`
}

func (newCommand) Help() string {
	return "Nothing is ever overwritten. Example:\n\n  rambook new mypress\n  rambook check mypress"
}

// Run writes the starter's sheets and says what to fill in first.
func (c *newCommand) Run(s *session) error {
	files, ok := sheets.StarterFiles(c.Starter)
	if !ok {
		return problem("there is no starter `"+c.Starter+"`", "the starters are "+strings.Join(sheets.StarterNames(), ", "))
	}
	if err := c.refuseOverwriting(); err != nil {
		return err
	}
	_, err := os.Lstat(c.Dir)
	made := errors.Is(err, fs.ErrNotExist)
	if err := os.MkdirAll(c.Dir, 0o777); err != nil {
		return fmt.Errorf("cannot make the folder %s: %w", c.Dir, cause(err))
	}
	var written []string
	for _, file := range files {
		data := file.Data
		if c.ForSpreadsheet {
			var err error
			if data, err = quoteFormulas(file.Name, data); err != nil {
				return err
			}
		}
		path := filepath.Join(c.Dir, file.Name)
		if err := sheets.CreateFile(path, data, 0o666); err != nil {
			for _, p := range written {
				os.Remove(p)
			}
			if made {
				os.Remove(c.Dir)
			}
			return err
		}
		written = append(written, path)
	}
	fmt.Fprintf(&s.out, "wrote the %s notebook, %s, to %s\n", c.Starter, counted(len(files), "sheet"), c.Dir)
	return c.sayWhatIsNext(s)
}

// refuseOverwriting looks for CSV files in the folder: sheets of the starter
// that are there already, and others, which would become part of the notebook.
func (c *newCommand) refuseOverwriting() error {
	there, err := os.ReadDir(c.Dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("cannot write to %s: %w", c.Dir, cause(err))
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
	_, report, err := notebookFlags{Path: c.Dir}.check(sampleFlags{})
	if err != nil {
		return err
	}
	if todo := toMeasure(report); len(todo) > 0 {
		fmt.Fprintln(&s.out, "\nFill in first, in this order:")
		for _, m := range todo[:min(len(todo), mostToDo)] {
			fmt.Fprintln(&s.out, "  "+m.line())
		}
		if extra := len(todo) - mostToDo; extra > 0 {
			fmt.Fprintf(&s.out, "  and %d more\n", extra)
		}
		fmt.Fprintf(&s.out, "such as: rambook set %s ENTRY %s\n", todo[0].cell(), c.Dir)
	}
	fmt.Fprintf(&s.out, "\nThen: rambook check %s\n", c.Dir)
	return nil
}

// quoteFormulas puts a ' before every = that starts a cell. A spreadsheet then
// takes the cell for text and gives it back unchanged.
func quoteFormulas(file string, data []byte) ([]byte, error) {
	sheet, problems := sheets.Read(file, data)
	if len(problems) > 0 {
		return nil, wrong(problems...)
	}
	for _, place := range expressionPlaces(sheet) {
		if strings.HasPrefix(place.cell.Text, "=") {
			var err error
			if data, err = sheets.SetCell(data, place.line, place.column, "'"+place.cell.Text); err != nil {
				return nil, err
			}
		}
	}
	return data, nil
}
