package units

import "unicode/utf8"

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
