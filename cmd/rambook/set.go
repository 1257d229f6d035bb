package main

import (
	"fmt"
	"strings"

	"rambook/calc"
	"rambook/sheets"
)

// rowColumns are the cells of a quantity that `set` can change.
var rowColumns = []struct {
	name string
	cell func(*sheets.Row) sheets.Cell
}{
	{"entry", func(r *sheets.Row) sheets.Cell { return r.Entry }},
	{"reading", func(r *sheets.Row) sheets.Cell { return r.Reading }},
	{"spread", func(r *sheets.Row) sheets.Cell { return r.Spread }},
	{"low", func(r *sheets.Row) sheets.Cell { return r.Low }},
	{"high", func(r *sheets.Row) sheets.Cell { return r.High }},
	{"note", func(r *sheets.Row) sheets.Cell { return r.Note }},
}

type setCommand struct {
	Name  string `arg:"" complete:"quantity" help:"NAME or NAME.COLUMN. COLUMN is entry, reading, spread, low, high or note."`
	Entry string `arg:"" help:"What to write: a number, a number with a unit, = and an expression, or nothing (\"\")."`
	Path  string `arg:"" optional:"" help:"Folder or CSV file. Default: this folder."`
}

func (setCommand) Help() string {
	return "Every other byte of the file stays as it is. Example:\n\n" +
		"  rambook set setting \"21.5 MPa\" mypress\n  rambook set force.reading 975 mypress"
}

// Run changes one cell, after a look at what the notebook would be with it.
func (c *setCommand) Run(s *session) error {
	name, columnName, found := strings.Cut(c.Name, ".")
	if !found {
		columnName = "entry"
	}
	column := -1
	var columnNames []string
	for i, known := range rowColumns {
		columnNames = append(columnNames, known.name)
		if known.name == columnName {
			column = i
		}
	}
	if column < 0 {
		return problem("`"+columnName+"` is no column of a quantity, expected "+strings.Join(columnNames, ", "),
			calc.DidYouMean(columnName, columnNames))
	}
	book, broken, err := ownNotebook(c.Path)
	if err != nil {
		return err
	}
	sheet, err := sheetOf(book, name)
	if err != nil {
		return orBroken(err, broken)
	}
	var before sheets.Cell
	err = edit(book, broken, sheet, func(sheet *sheets.Sheet, data []byte) ([]byte, error) {
		row := rowOf(sheet, name)
		if row == nil {
			return nil, problem(sheet.File+" no longer has `"+name+"`", "")
		}
		before = rowColumns[column].cell(row)
		if columnName == "entry" && isFormula(row.Entry.Text) && !isFormula(c.Entry) {
			message, hint := "`"+name+"` is a formula, and `"+c.Entry+"` is not", "for what was measured: rambook set "+name+".reading "+quoteArgument(c.Entry)
			if strings.TrimSpace(c.Entry) == "" {
				message, hint = "`"+name+"` is a formula, and a blank entry would delete it", "delete the row in an editor if it is not needed"
			}
			return nil, &problemsError{problems: []sheets.Problem{sheet.Problem(row.Entry, 0, len([]rune(row.Entry.Text)), message, hint)}}
		}
		return sheets.SetCell(data, row.Name.Line, columnName, c.Entry)
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(&s.out, "%s:%d: %s.%s: %s -> %s\n", sheet.File, before.Line, name, columnName, shownCell(before.Text), shownCell(c.Entry))
	sayIfBroken(s, c.Path, broken)
	return nil
}

// isFormula reports whether the text of an entry is an expression.
func isFormula(entry string) bool {
	return strings.HasPrefix(strings.TrimPrefix(strings.TrimSpace(entry), "'"), "=")
}

// shownCell is the text of a cell in a sentence.
func shownCell(text string) string {
	if text == "" {
		return "(blank)"
	}
	return printable(text)
}

// quoteArgument writes a word so that a shell reads it back.
func quoteArgument(word string) string {
	if word != "" && !strings.ContainsAny(word, " \t\n\"'`$\\*?[]{}()<>|&;#~!=") {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

// sheetOf finds the sheet that has a quantity of this name.
func sheetOf(book *sheets.Notebook, name string) (*sheets.Sheet, error) {
	var known []string
	for _, sheet := range book.Sheets {
		if rowOf(sheet, name) != nil {
			return sheet, nil
		}
		for _, row := range sheet.Rows {
			known = append(known, row.Name.Text)
		}
	}
	return nil, problem("there is no quantity `"+name+"` in "+book.Path, calc.DidYouMean(name, known))
}

// orBroken returns why nothing was found: in a notebook that cannot be read as
// a whole, what is wrong there comes first.
func orBroken(err error, broken []sheets.Problem) error {
	if len(broken) > 0 {
		return &problemsError{problems: broken}
	}
	return err
}

func rowOf(sheet *sheets.Sheet, name string) *sheets.Row {
	for i := range sheet.Rows {
		if sheet.Rows[i].Name.Text == name {
			return &sheet.Rows[i]
		}
	}
	return nil
}

// edit rewrites the file of one sheet. The change works on the file as it is
// at that moment, under its lock, and what comes out is compiled before it is
// written: a change that would break a sound notebook is refused with the
// problem it would cause.
func edit(book *sheets.Notebook, broken []sheets.Problem, sheet *sheets.Sheet,
	change func(*sheets.Sheet, []byte) ([]byte, error)) error {
	err := sheets.Update(sheet.File, func(old []byte) ([]byte, error) {
		now, problems := sheets.Read(sheet.File, old)
		if now == nil {
			return nil, &problemsError{problems: problems}
		}
		data, err := change(now, old)
		if err != nil || len(broken) > 0 {
			return data, err
		}
		changed, problems := sheets.Read(sheet.File, data)
		if len(problems) == 0 {
			_, problems = compile(withSheet(book, sheet, changed), nil)
		}
		if len(problems) > 0 {
			return nil, &problemsError{problems: problems}
		}
		return data, nil
	})
	return err
}

// withSheet returns the notebook with one sheet replaced.
func withSheet(book *sheets.Notebook, old, replacement *sheets.Sheet) *sheets.Notebook {
	changed := *book
	changed.Sheets = nil
	for _, sheet := range book.Sheets {
		if sheet == old {
			sheet = replacement
		}
		changed.Sheets = append(changed.Sheets, sheet)
	}
	return &changed
}

// sayIfBroken reminds of what is still wrong with a notebook that was not sound
// before the change either.
func sayIfBroken(s *session, path string, before []sheets.Problem) {
	if len(before) == 0 {
		return
	}
	if _, left, err := ownNotebook(path); err == nil && len(left) > 0 {
		fmt.Fprintf(s.stderr, "the notebook has %s left, which rambook check shows\n", counted(len(left), "problem"))
	}
}
