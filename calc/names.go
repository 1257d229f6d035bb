package calc

import (
	"slices"

	"rambook/units"
	"rambook/units/words"
)

// IsName reports whether s can name a quantity or a column: letters, digits and _, with a letter first.
//
//go:noinline
func IsName(s string) bool {
	for i, r := range s {
		letter := r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
		if !letter && (i == 0 || r != '_' && (r < '0' || r > '9')) {
			return false
		}
	}
	return s != ""
}

// checkName refuses what cannot name a quantity. The dimension of its row
// helps to propose another name.
func (c *compiler) checkName(p place, dim units.Dimension) bool {
	name := p.cell.Text
	if !IsName(name) {
		c.report(p.fault(words.Quoted(name)+" cannot be a name", "use letters, digits and _, with a letter first"))
		return false
	}
	if slices.Contains(languageWords, name) {
		c.report(p.fault(words.Quoted(name)+" is a word of the formula language", "choose another name"))
		return false
	}
	if meaning, taken := units.Reserved(name); taken {
		c.report(p.fault(words.Quoted(name)+" is "+meaning, reservedHint(name, dim)))
		return false
	}
	return true
}

// mayStand reports whether a formula can hold a name, that of a unit too, which no row
// may have.
func mayStand(name string) bool {
	if IsName(name) && !slices.Contains(languageWords, name) {
		return true
	}
	_, reserved := units.Reserved(name)
	return reserved
}

// ReservedWords lists the words of the formula language that cannot name a
// quantity; `rambook units` prints them beside the unit symbols.
func ReservedWords() []string { return slices.Clone(languageWords) }

// languageWords are the words of the expression language, which cannot name a quantity.
var languageWords = []string{"in", "or", "and", "not", "matches", "contains", "startsWith", "endsWith",
	"let", "if", "else", "true", "false", "nil"}
