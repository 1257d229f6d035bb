package function

import (
	"strings"

	"rambook/units"
)

// Sort is what kind of thing an expression yields.
type Sort uint8

const (
	Number Sort = iota
	Truth
	Text
	Verdict // of other rows; no formula reads it
	Unknown // a part is already in error; nothing more is reported of it
)

// Type is what the dimension check has of an expression. Point marks a
// temperature or a date on its scale, as against a difference of two.
type Type struct {
	Sort  Sort
	Dim   units.Dimension
	Point bool
}

// Plain is the type of a plain number.
var Plain = Type{}

// String names a type as messages do, such as "pressure" or "a date".
func (t Type) String() string {
	switch t.Sort {
	case Truth:
		return "a truth value"
	case Text:
		return "a text"
	case Verdict:
		return "a verdict"
	case Unknown:
		return "something unknown"
	}
	switch {
	case t.Point && t.Dim == units.Time:
		return "a date"
	case t.Point:
		return "a temperature point"
	case t.Dim == units.Temperature:
		return "a temperature difference"
	case t.Dim == units.Time:
		return "a time"
	case t.Dim == units.Plain:
		return "a plain number"
	}
	return t.Dim.Name()
}

// WithArticle puts an article before the name of a type, for a sentence.
func WithArticle(t Type) string {
	s := t.String()
	if strings.HasPrefix(s, "a ") || strings.Contains(s, "^") {
		return s
	}
	if strings.ContainsRune("aeiou", rune(s[0])) {
		return "an " + s
	}
	return "a " + s
}
