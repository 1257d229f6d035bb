package page

import (
	"iter"
	"slices"
	"strings"

	"rambook/sheets/table"
	"rambook/units/words"
)

// Printable writes text in one line, character for character, so that places
// stay where they are and no text from a file can steer a terminal.
func Printable(text string) string {
	return inOneLine.Replace(table.Visible(text))
}

var inOneLine = strings.NewReplacer("\n", " ", "\t", " ")

// Wrapped breaks text at blanks into lines of at most width characters, all
// but the first of them indented.
func Wrapped(text string, width, indent int) string {
	return flowed(strings.FieldsSeq(text), len(text), nil, width, indent)
}

// wrappedFormula is wrapped for a formula, which may be long without a blank:
// what does not fit into a line of its own is broken at operators too.
func wrappedFormula(text string, width, indent int) string {
	var parts []string
	glued := map[int]bool{}
	for _, word := range strings.Fields(text) {
		if table.TextWidth(word) <= width-indent {
			parts = append(parts, word)
			continue
		}
		for i, part := range brokenAtOperators(word) {
			glued[len(parts)] = i > 0
			parts = append(parts, part)
		}
	}
	return flowed(slices.Values(parts), len(text), glued, width, indent)
}

// flowed writes words into lines, about size bytes. Between them are blanks, but
// before those that are glued to the word before.
func flowed(words iter.Seq[string], size int, glued map[int]bool, width, indent int) string {
	var b strings.Builder
	b.Grow(size + size/8)
	used, i := 0, -1
	for word := range words {
		i++
		gap := 1
		if used == 0 || glued[i] {
			gap = 0
		}
		length := table.TextWidth(word)
		if used > 0 && used+gap+length > width {
			b.WriteByte('\n')
			b.WriteString(strings.Repeat(" ", indent))
			used, gap = indent, 0
		}
		b.WriteString(strings.Repeat(" ", gap))
		b.WriteString(word)
		used += gap + length
	}
	return b.String()
}

// brokenAtOperators cuts a word of a formula before each * / + and -, and after
// each comma, but not within texts in quotes and numbers such as 1e-3, and not
// before a sign that belongs to what follows.
func brokenAtOperators(word string) []string {
	var parts []string
	from, quote := 0, rune(0)
	for i, r := range word {
		before := word[from:i]
		switch {
		case quote != 0:
			if r == quote {
				quote = 0
			}
			continue
		case strings.ContainsRune("\"'`", r):
			quote = r
			continue
		case before == "":
			continue
		case strings.HasSuffix(before, ","):
		case !strings.ContainsRune("*/+-−", r),
			strings.ContainsAny(before[len(before)-1:], "*/+-^([,<>=?:"),
			numberOpen().MatchString(before):
			continue
		}
		parts = append(parts, before)
		from = i
	}
	return append(parts, word[from:])
}

// numberOpen is a number up to the sign of its exponent.
var numberOpen = words.Pattern(`(^|[^\pL\d_])[\d.]+[eE]$`)
