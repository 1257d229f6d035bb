// Package words puts words into sentences, and finds the one that was meant by
// another. It imports nothing of ours, so that every package can use it.
package words

import (
	"fmt"
	"strings"
	"unicode"
)

// Counted writes a number of things: 1 case, 13 cases, 3 quantities.
func Counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	if stem, found := strings.CutSuffix(noun, "ty"); found {
		return fmt.Sprintf("%d %sties", n, stem)
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// Listed joins words as a sentence does: a, b and c. Beyond most words it
// counts the rest.
func Listed(words []string, most int) string {
	if extra := len(words) - most; extra > 1 {
		words = append(words[:most:most], fmt.Sprintf("%d more", extra))
	}
	return joined(words, " and ")
}

// OneOf joins words of which one holds: a, b or c.
func OneOf(words []string) string { return joined(words, " or ") }

// Choices joins what is typed as a sentence does: `a`, `b` or `c`.
func Choices(list []string) string { return OneOf(AllQuoted(list)) }

func joined(words []string, last string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + last + words[len(words)-1]
}

// maxQuote is how many characters of a text a message repeats.
const maxQuote = 60

// Quoted marks a piece of text in a message as something that is typed. A
// message stays one short line whatever a cell holds.
func Quoted(text string) string {
	runes := []rune(strings.TrimSpace(text))
	if len(runes) > maxQuote {
		runes = append(runes[:maxQuote-1:maxQuote-1], '…')
	}
	for i, r := range runes {
		if unicode.IsControl(r) {
			runes[i] = ' '
		}
	}
	return "`" + string(runes) + "`"
}

// AllQuoted quotes each of some words.
func AllQuoted(list []string) []string {
	quotes := make([]string, len(list))
	for i, s := range list {
		quotes[i] = Quoted(s)
	}
	return quotes
}
