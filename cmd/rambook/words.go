package main

import (
	"strconv"
	"strings"

	"rambook/calc/function"
	"rambook/sheets"
)

// counted writes a number of things: 1 sheet, 13 sheets.
func counted(n int, noun string) string { return function.Counted(n, noun) }

// listed joins words as a sentence does: a, b and c. Beyond most words it
// counts the rest.
func listed(words []string, most int) string {
	if extra := len(words) - most; extra > 1 {
		words = append(append([]string{}, words[:most]...), strconv.Itoa(extra)+" more")
	}
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

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
