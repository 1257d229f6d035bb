// Package words puts words and numbers into sentences.
package words

import (
	"fmt"
	"strings"

	"rambook/units"
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
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// WithUnit writes a number with its unit, and a date, which is in SI, as such.
func WithUnit(v float64, u units.Unit) string {
	if u.Kind == units.Date {
		return units.FormatDate(v)
	}
	return strings.TrimSpace(fmt.Sprintf("%.6g %s", v, u.Symbol))
}
