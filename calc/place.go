package calc

import (
	"strings"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"

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
func placeIn(s *sheets.Sheet, cell sheets.Cell) place { return place{sheet: s, cell: cell} }

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

// whole is the span of the cell's whole text.
func (p place) whole() span {
	return span{0, utf8.RuneCountInString(p.cell.Text) - p.skip}
}

// nearest finds the candidate that the word was probably meant to be, for
// "did you mean". At most a third of the word may be wrong, capital letters
// aside, and of a single letter nothing.
func nearest(word string, candidates []string) (string, bool) {
	length := utf8.RuneCountInString(word)
	best, least := "", min((length+2)/3+1, length)
	for _, c := range candidates {
		if c == word {
			continue
		}
		d := levenshtein.ComputeDistance(strings.ToLower(word), strings.ToLower(c))
		if d == 2 && swapped(word, c) {
			d = 1
		}
		if d < least {
			best, least = c, d
		}
	}
	return best, best != ""
}

// swapped reports whether a becomes b by swapping two neighbours.
func swapped(a, b string) bool {
	for i := 1; i < min(len(a), len(b)); i++ {
		if a[i-1] != b[i-1] {
			return len(a) == len(b) && a[i-1] == b[i] && a[i] == b[i-1] && a[i+1:] == b[i+1:]
		}
	}
	return false
}

// oneSlip reports whether two names differ by one slip of the keyboard: a
// letter too many, too few or wrong, two neighbours swapped, or capitals.
func oneSlip(a, b string) bool {
	longer := utf8.RuneCountInString(a) - utf8.RuneCountInString(b)
	if longer < -1 || longer > 1 {
		return false // seen at once, while the distance takes long
	}
	return a != b && strings.EqualFold(a, b) || levenshtein.ComputeDistance(a, b) == 1 || swapped(a, b)
}

// siblings reports whether two names are numbered or lettered through, as gap_2
// and gap_3 or load_A and load_B are: one digit stands for another, or one
// capital at the end.
func siblings(a, b string) bool {
	if len(a) != len(b) {
		return false
	}
	i := 0
	for i < len(a)-1 && a[i] == b[i] {
		i++
	}
	if i >= len(a) || a[i+1:] != b[i+1:] {
		return false
	}
	both := func(from, to byte) bool { return from <= min(a[i], b[i]) && max(a[i], b[i]) <= to }
	return both('0', '9') || i == len(a)-1 && both('A', 'Z')
}

// didYouMean is the hint for a mistyped word, or otherwise if nothing is near.
func didYouMean(word string, candidates []string, otherwise string) string {
	if near, ok := nearest(word, candidates); ok {
		return "did you mean `" + near + "`?"
	}
	return otherwise
}

// DidYouMean is the hint for a word of the command line that was mistyped, ""
// if no candidate is near.
func DidYouMean(word string, candidates []string) string { return didYouMean(word, candidates, "") }
