package sheets

import (
	"io/fs"
	"strings"
	"unicode/utf8"
)

// Cell is the text of one cell of a sheet and the place where it stands.
type Cell struct {
	Text   string // without outer blanks
	Line   int32  // physical line of the first character of Text, from 1
	Column int32  // character in that line, from 1
	Quoted bool   // written in double quotes
	offset uint32 // of the first character of Text in the file
}

// Blank reports whether the cell holds nothing but blanks.
func (c Cell) Blank() bool { return c.Text == "" }

// blank returns a blank cell at the same place.
func (c Cell) blank() Cell {
	c.Text, c.Quoted = "", false
	return c
}

// Kind is what the rows of a sheet are.
type Kind uint8

const (
	Quantities   Kind = iota // first header `name`: the rows of the model
	Cases                    // second record `:unit`: a list of cases or a table to look things up in
	Suspects                 // first header `suspect`: givens that may be off
	Log                      // first header `time`: what a recorder sampled, left in its file
	Phases                   // first header `phase`: how a log is cut
	Correlations             // first header `given`: correlations of the errors of givens
	Unknowns                 // first header `unknown`: givens that are found so that two sides are equal
	Logbook                  // first header `when`: what was entered when, by whom
	Charts                   // first header `chart`: what the report draws
	Comparisons              // first header `compare`: the cases that the report compares
)

func (k Kind) String() string {
	return [...]string{"quantities", "cases", "suspects", "samples", "phases", "correlations", "unknowns", "entries",
		"charts", "comparisons"}[k]
}

// Sheet is one CSV file, read. Which of Rows, Cases, Suspects and so on is filled
// depends on Kind.
type Sheet struct {
	File         string   // path as the user typed it, joined with the file name
	Name         string   // file name without .csv and without a leading number and dash
	Kind         Kind     // what the rows are
	Rows         []Row    // Quantities
	Key          Cell     // Cases: header of the first column
	Columns      []Column // Cases: the columns after the first
	Cases        []CaseRow
	Suspects     []SuspectRow
	Phases       []PhaseRow
	Correlations []CorrelationRow
	Unknowns     []UnknownRow
	Entries      []EntryRow // Logbook
	Charts       []ChartRow
	Comparisons  []CompareRow
	Made         bool      // Cases: put together by the model, of no file of its own
	Warnings     []Problem // what is probably a slip, though the sheet can be used

	header []Cell                  // the first record, unknown columns included
	data   string                  // the file, for exact positions inside quoted cells
	open   func() (fs.File, error) // of a log
	info   fs.FileInfo             // of a log, when its head was read
}

// Column is one column of a case sheet after the first, with its cells of the
// rows `:unit`, `:spread`, `:low`, `:high` and `:note`. A cell whose row the sheet does
// not have is blank and stands where the column's name stands.
type Column struct {
	Name   Cell
	Unit   Cell
	Spread Cell
	Low    Cell
	High   Cell
	Note   Cell
}

// Header is the first cell of the sheet.
func (s *Sheet) Header() Cell { return s.header[0] }

// Headers lists the headers of the sheet as they are typed.
func (s *Sheet) Headers() []string {
	names := make([]string, len(s.header))
	for i, h := range s.header {
		names[i] = h.Text
	}
	return names
}

// Problem returns a problem at the characters from ≤ i < to of the cell's
// text, with the place of the first of them in the file: a doubled quote takes
// two characters there, and a line break in the cell begins a new line.
func (s *Sheet) Problem(c Cell, from, to int, message, hint string) Problem {
	at := place{int(c.offset), int(c.Line), int(c.Column)}
	if s.data == "" {
		at.column += from
	} else {
		at = at.forward(s.data, from, c.Quoted)
	}
	return Problem{
		File: s.File, Line: at.line, Column: at.column,
		Text: c.Text, From: from, To: to,
		Message: message, Hint: hint,
	}
}

// whole is Problem for the whole cell.
func (s *Sheet) whole(c Cell, message, hint string) Problem {
	return s.Problem(c, 0, utf8.RuneCountInString(c.Text), message, hint)
}

// place is a character in a file.
type place struct {
	offset       int // in bytes
	line, column int // from 1; column in characters
}

// forward returns the place n characters of a cell's text further on.
func (p place) forward(data string, n int, quoted bool) place {
	for ; n > 0 && p.offset < len(data); n-- {
		rest := data[p.offset:]
		switch {
		case strings.HasPrefix(rest, "\r\n"):
			p = place{p.offset + 2, p.line + 1, 1}
		case rest[0] == '\n':
			p = place{p.offset + 1, p.line + 1, 1}
		case quoted && strings.HasPrefix(rest, `""`):
			p = place{p.offset + 2, p.line, p.column + 2}
		default:
			_, size := utf8.DecodeRuneInString(rest)
			p = place{p.offset + size, p.line, p.column + 1}
		}
	}
	return p
}
