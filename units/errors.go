package units

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// An Error says what is wrong with the text of a unit, a number or a date.
type Error struct {
	Text     string // the text that was read
	From, To int    // what is wrong in it, counted in runes; To is exclusive
	Message  string // what was found, lower case, without a full stop
	Hint     string // what to write instead, or ""
}

// Error gives the message, followed by the hint if there is one.
func (e *Error) Error() string {
	if e.Hint == "" {
		return e.Message
	}
	return e.Message + " (" + e.Hint + ")"
}

// errorAt makes an Error about the bytes from i to j of text.
func errorAt(text string, i, j int, message, hint string) *Error {
	return &Error{
		Text:    text,
		From:    utf8.RuneCountInString(text[:i]),
		To:      utf8.RuneCountInString(text[:j]),
		Message: message,
		Hint:    hint,
	}
}

// maxQuote is how many runes of a text a message repeats.
const maxQuote = 60

// quote marks a piece of text in a message as something that is typed. A
// message stays one short line whatever a cell holds.
func quote(text string) string {
	runes := []rune(text)
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

// orList writes choices as people do: `a`, `b` or `c`.
func orList(choices []string) string {
	var b strings.Builder
	for i, c := range choices {
		switch {
		case i > 0 && i == len(choices)-1:
			b.WriteString(" or ")
		case i > 0:
			b.WriteString(", ")
		}
		b.WriteString(quote(c))
	}
	return b.String()
}
