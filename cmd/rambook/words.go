package main

import (
	"strings"

	"rambook/calc/words"
	"rambook/sheets"
)

// counted writes a number of things: 1 sheet, 13 sheets.
func counted(n int, noun string) string { return words.Counted(n, noun) }

// listed joins words as a sentence does, at most so many.
func listed(list []string, most int) string { return words.Listed(list, most) }

// wrapped breaks text at blanks into lines of at most width characters, all
// but the first of them indented.
func wrapped(text string, width, indent int) string {
	var b strings.Builder
	column := 0
	for _, word := range strings.Fields(text) {
		length := sheets.TextWidth(word)
		switch {
		case column == 0:
		case column+1+length > width:
			b.WriteString("\n" + strings.Repeat(" ", indent))
			column = indent
		default:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += length
	}
	return b.String()
}
