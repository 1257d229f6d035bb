package calc

import (
	"unicode/utf8"

	"rambook/sheets"
)

// place is where a text stands: a cell of a sheet, or an argument.
type place struct {
	sheet    *sheets.Sheet // nil for an argument
	cell     sheets.Cell
	argument string // what the argument is, as in "--set"
	skip     int    // characters of the cell before the text that spans count from
}

// placeIn is a cell of a sheet.
//
//go:noinline
func placeIn(s *sheets.Sheet, cell sheets.Cell) place { return place{sheet: s, cell: cell} }

// kept is a place as an entry keeps it.
func (p place) kept() *place { return &p }

// inArgument is an argument of a command; what names it, as in "--set".
func inArgument(what, text string) place {
	return place{argument: what, cell: sheets.Cell{Text: text}}
}

// fault reports that something is wrong with the whole text that stands here.
func (p place) fault(message, hint string) sheets.Problem { return p.problem(p.whole(), message, hint) }

// problem reports what is wrong with a part of the text that stands here.
func (p place) problem(s span, message, hint string) sheets.Problem {
	from, to := s.from+p.skip, s.to+p.skip
	if p.sheet == nil {
		return sheets.Problem{File: p.argument, Text: p.cell.Text, From: from, To: to, Message: message, Hint: hint}
	}
	return p.sheet.Problem(p.cell, from, to, message, hint)
}

// placed gives a problem inside the text that stands here its place.
//
//go:noinline
func (p place) placed(inText *sheets.Problem) sheets.Problem {
	return p.placedAt(span{inText.From, inText.To}, *inText)
}

// placedAt gives a problem with a part of the text that stands here its place.
//
//go:noinline
func (p place) placedAt(s span, what sheets.Problem) sheets.Problem {
	placed := p.problem(s, what.Message, what.Hint)
	placed.Track, placed.Lacks = what.Track, what.Lacks
	return placed
}

// whole is the span of the cell's whole text.
//
//go:noinline
func (p place) whole() span {
	return span{0, utf8.RuneCountInString(p.cell.Text) - p.skip}
}
