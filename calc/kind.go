package calc

import (
	"strings"

	"rambook/units"
)

// sort says what kind of thing an expression yields.
type sort uint8

const (
	number sort = iota
	truth
	text
	unknown // a part is already in error; nothing more is said about it
)

// Type is what the dimension check knows of an expression. Point marks a
// temperature or a date on its scale, as against a difference of two.
type Type struct {
	sort  sort
	Dim   units.Dimension
	Point bool
}

var plain = Type{}

func (t Type) String() string {
	switch t.sort {
	case truth:
		return "a truth value"
	case text:
		return "a text"
	case unknown:
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
	}
	return t.Dim.Name()
}

// withArticle puts an article before the name of a type, for a sentence.
func withArticle(t Type) string {
	s := t.String()
	if strings.HasPrefix(s, "a ") || strings.Contains(s, "^") {
		return s
	}
	if strings.ContainsRune("aeiou", rune(s[0])) {
		return "an " + s
	}
	return "a " + s
}
