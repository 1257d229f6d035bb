package main

import (
	"fmt"
	"strings"
	"time"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units"
)

type recordCommand struct {
	Sheet string   `arg:"" complete:"cases" help:"The case sheet, such as visits."`
	Case  string   `arg:"" help:"The new case's own name."`
	Words []string `arg:"" sep:"none" name:"NAME=ENTRY" help:"The case's cells, then the notebook's folder if it is not this one."`
}

func (recordCommand) Help() string {
	return "A column with unit date that is not set gets today. Every other byte of the file stays as it is. Example:\n\n" +
		"  rambook record visits \"2026-05-04 service\" force=968 oil_temperature=\"46 degC\" mypress"
}

// Run appends the case, after a look at what the notebook would be with it.
func (c *recordCommand) Run(s *session) error {
	if strings.TrimSpace(c.Case) == "" {
		return problem("the case has no name", "give it one, such as \"2026-05-04 service\"")
	}
	path, cells, err := c.sortWords()
	if err != nil {
		return err
	}
	book, broken, err := ownNotebook(path)
	if err != nil {
		return err
	}
	sheet := book.Sheet(c.Sheet)
	if sheet == nil || sheet.Kind != sheets.Cases {
		var known []string
		for _, other := range book.Sheets {
			if other.Kind == sheets.Cases {
				known = append(known, other.Name)
			}
		}
		return orBroken(problem("there is no case sheet `"+c.Sheet+"` in "+book.Path, calc.DidYouMean(c.Sheet, known)), broken)
	}
	var line int
	err = edit(book, broken, sheet, func(sheet *sheets.Sheet, data []byte) ([]byte, error) {
		record, err := c.record(sheet, cells, s.now())
		if err != nil {
			return nil, err
		}
		data, line, err = sheets.AppendRecord(data, record)
		return data, err
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(&s.out, "%s:%d: %s recorded\n", sheet.File, line, printable(c.Case))
	sayIfBroken(s, path, broken)
	return nil
}

// assignment is one NAME=ENTRY word.
type assignment struct{ name, entry string }

// sortWords tells the assignments from the path, which has no = before a slash.
func (c *recordCommand) sortWords() (path string, cells []assignment, err error) {
	for _, word := range c.Words {
		name, entry, found := strings.Cut(word, "=")
		switch {
		case found && !strings.Contains(name, "/"):
			cells = append(cells, assignment{strings.TrimSpace(name), strings.TrimSpace(entry)})
		case path == "":
			path = word
		default:
			return "", nil, problem("`"+word+"` is a second path, after `"+path+"`", "write NAME=ENTRY without blanks around the =")
		}
	}
	return path, cells, nil
}

// record lays the cells out in the order of the sheet's columns.
func (c *recordCommand) record(sheet *sheets.Sheet, cells []assignment, now time.Time) ([]string, error) {
	for _, other := range sheet.Cases {
		if other.Name.Text == strings.TrimSpace(c.Case) {
			return nil, &problemsError{problems: []sheets.Problem{sheet.Problem(other.Name, 0, len([]rune(other.Name.Text)),
				"a case of this name is there already", "give the new case another name")}}
		}
	}
	record := make([]string, 1+len(sheet.Columns))
	record[0] = c.Case
	var columns []string
	place := make(map[string]int)
	for i, column := range sheet.Columns {
		columns = append(columns, column.Name.Text)
		place[column.Name.Text] = i + 1
	}
	var problems []sheets.Problem
	set := make(map[int]bool)
	for _, cell := range cells {
		i, known := place[cell.name]
		switch {
		case !known:
			hint := calc.DidYouMean(cell.name, columns)
			if hint == "" {
				hint = "its columns are " + strings.Join(columns, ", ")
			}
			problems = append(problems, sheets.Problem{File: sheet.File, Message: "there is no column `" + cell.name + "`", Hint: hint})
		case set[i]:
			problems = append(problems, sheets.Problem{Message: "`" + cell.name + "` is given twice"})
		default:
			if p := misread(sheet.Columns[i-1], cell); p != nil {
				problems = append(problems, *p)
			}
			record[i], set[i] = cell.entry, true
		}
	}
	if problems != nil {
		return nil, &problemsError{problems: problems}
	}
	if i := dateColumn(sheet); i > 0 && !set[i] {
		record[i] = now.Format(time.DateOnly)
	}
	return record, nil
}

// misread reports a cell that its column's unit cannot hold. What a formula or
// the model reads is checked when the notebook is compiled; this is for
// columns of data, which nothing may read until much later.
func misread(column sheets.Column, cell assignment) *sheets.Problem {
	unit, err := units.Parse(column.Unit.Text)
	if err != nil || column.Unit.Blank() || unit.Kind == units.Text || cell.entry == "" {
		return nil
	}
	argument := cell.name + "=" + cell.entry
	at := len([]rune(cell.name)) + 1
	value, err := units.ParseValue(cell.entry)
	switch {
	case unit.Kind == units.Date && (err != nil || value.Unit.Kind != units.Date):
		return &sheets.Problem{Text: argument, From: at, To: len([]rune(argument)), Message: "a date is needed here", Hint: "write it as 2026-05-04"}
	case err != nil:
		return &sheets.Problem{Text: argument, From: at + err.From, To: at + err.To, Message: err.Message, Hint: err.Hint}
	}
	return nil
}

// dateColumn finds the column that says when: the one named date, else the
// first that has this unit. It returns 0 if there is none.
func dateColumn(sheet *sheets.Sheet) int {
	first := 0
	for i, column := range sheet.Columns {
		if column.Unit.Text != "date" {
			continue
		}
		if column.Name.Text == "date" {
			return i + 1
		}
		if first == 0 {
			first = i + 1
		}
	}
	return first
}
