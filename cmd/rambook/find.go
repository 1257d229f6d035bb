package main

import (
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// quantityRow finds the row of a quantity and the sheet it stands in.
func quantityRow(book *sheets.Notebook, name string) (*sheets.Sheet, *sheets.Row) {
	for _, sheet := range book.Sheets {
		if row := rowOf(sheet, name); row != nil {
			return sheet, row
		}
	}
	return nil, nil
}

func rowOf(sheet *sheets.Sheet, name string) *sheets.Row {
	for i := range sheet.Rows {
		if sheet.Rows[i].Name.Text == name {
			return &sheet.Rows[i]
		}
	}
	return nil
}

// sheetNames lists the sheets of a notebook.
func sheetNames(list []*sheets.Sheet) []string {
	var names []string
	for _, sheet := range list {
		names = append(names, sheet.Name)
	}
	return names
}

// rowNames lists the quantities of a notebook.
func rowNames(book *sheets.Notebook) []string {
	var names []string
	for _, sheet := range book.Sheets {
		for i := range sheet.Rows {
			names = append(names, sheet.Rows[i].Name.Text)
		}
	}
	return names
}

// caseSheet finds a case sheet by its name, in any case of letters.
func caseSheet(book *sheets.Notebook, name string) (*sheets.Sheet, error) {
	var known []string
	for _, sheet := range book.Sheets {
		if sheet.Kind == sheets.Cases {
			known = append(known, sheet.Name)
		}
	}
	if spelled := words.Spelled(name, known); slices.Contains(known, spelled) {
		return book.Sheet(spelled), nil
	}
	hint := words.DidYouMean(name, known, "")
	if hint == "" && len(known) > 0 {
		hint = "the case sheets are " + words.Listed(known, page.MostNames)
	}
	return nil, problem("there is no case sheet "+words.Quoted(name)+" in "+book.Path, hint)
}

// columnOf finds a column of a case sheet, by its name in any case of letters.
func columnOf(sheet *sheets.Sheet, name string) (int, *sheets.Problem) {
	var known []string
	for _, column := range sheet.Columns {
		known = append(known, column.Name.Text)
	}
	if i := slices.Index(known, words.Spelled(name, known)); i >= 0 {
		return i, nil
	}
	hint := words.DidYouMean(name, known, "")
	if hint == "" {
		hint = "its columns are " + strings.Join(known, ", ")
	}
	return 0, &sheets.Problem{File: sheet.File, Message: "there is no column " + words.Quoted(name), Hint: hint}
}

// misread reports an entry that its column's unit cannot hold, shown behind
// what stood before it in the argument. What a formula or the model reads is
// checked when the notebook is compiled; this is for columns of data, which
// nothing may read until much later.
func misread(column sheets.Column, before, entry string) *sheets.Problem {
	unit, err := units.Parse(column.Unit.Text)
	if err != nil || column.Unit.Blank() || unit.Kind == units.Text || entry == "" ||
		calc.IsAbsent(entry) {
		return nil
	}
	if runs, _ := calc.CutRuns(entry); len(runs) > 1 && unit.Kind <= units.Point {
		return nil
	}
	argument := before + entry
	at := len([]rune(before))
	value, err := units.ParseValue(entry)
	switch {
	case unit.Kind == units.Date && (err != nil || value.Unit.Kind != units.Date):
		return &sheets.Problem{Text: argument, From: at, To: len([]rune(argument)), Message: "a date is needed here",
			Hint: "write it as 2026-05-04"}
	case err != nil:
		err.Text, err.From, err.To = argument, at+err.From, at+err.To
		return err
	}
	return nil
}

// cellPlace is a cell with the line of its record and the header of its column.
type cellPlace struct {
	cell   sheets.Cell
	line   int
	column string
}

// expressionPlaces lists the cells of a sheet that may hold an expression, and
// the notes, which a spreadsheet may take for one.
func expressionPlaces(sheet *sheets.Sheet) []cellPlace {
	var places []cellPlace
	columns := rowColumns()
	for i := range sheet.Rows {
		row := &sheet.Rows[i]
		for _, name := range columns {
			places = append(places, cellPlace{row.Cell(name), int(row.Name.Line), name})
		}
	}
	for _, column := range sheet.Columns {
		for _, cell := range []sheets.Cell{column.Spread, column.Low, column.High} {
			places = append(places, cellPlace{cell, int(cell.Line), column.Name.Text})
		}
	}
	return places
}

// isMarked reports whether a text is marked by a sign in front as an
// expression.
func isMarked(text string) bool {
	return strings.HasPrefix(strings.TrimPrefix(strings.TrimSpace(text), "'"), "=")
}

// isFormula reports whether an entry of a row would be an expression.
func isFormula(row *sheets.Row, entry string) bool {
	switch row.Unit.Text {
	case "text":
		return isMarked(entry)
	case "tick":
		return calc.ReadsAsFormula(entry) && !calc.IsTick(strings.TrimSpace(entry))
	}
	return calc.ReadsAsFormula(entry)
}
