package calc

import (
	"fmt"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"

	"rambook/sheets"
	"rambook/units"
)

// place is where a text stands: a cell of a sheet, or an argument.
type place struct {
	sheet    *sheets.Sheet // nil for an argument
	cell     sheets.Cell
	argument string // what the argument is, as in "--set"
	skip     int    // characters of the cell before the text that spans count from
}

// problem reports a fault of the text that stands here.
func (p place) problem(s span, message, hint string) sheets.Problem {
	from, to := s.from+p.skip, s.to+p.skip
	if p.sheet == nil {
		return sheets.Problem{File: p.argument, Text: p.cell.Text, From: from, To: to, Message: message, Hint: hint}
	}
	return p.sheet.Problem(p.cell, from, to, message, hint)
}

// whole is the span of the cell's whole text.
func (p place) whole() span {
	return span{0, utf8.RuneCountInString(p.cell.Text) - p.skip}
}

// unitFault turns an error of the units package into a fault of ours.
func unitFault(e *units.Error) *fault {
	return &fault{span{e.From, e.To}, e.Message, e.Hint}
}

// nearest finds the candidate that the word was probably meant to be, for
// "did you mean". At most a third of the word may be wrong.
func nearest(word string, candidates []string) (string, bool) {
	best, least := "", (len(word)+2)/3+1 // two letters swapped count as two slips
	for _, c := range candidates {
		if c == word {
			continue
		}
		if d := levenshtein.ComputeDistance(word, c); d < least {
			best, least = c, d
		}
	}
	return best, best != ""
}

// didYouMean is the hint for a mistyped word, or otherwise if nothing is near.
func didYouMean(word string, candidates []string, otherwise string) string {
	if near, ok := nearest(word, candidates); ok {
		return "did you mean `" + near + "`?"
	}
	return otherwise
}

// counts writes a number of things: 1 case, 13 cases.
func counts(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
