package units

import (
	"slices"
	"strings"
)

// nearestSymbols finds the unit symbols that were probably meant by word:
// those that differ in case only, or else the first that is one typing slip
// away.
func nearestSymbols(word string) []string {
	var fold, slip []string
	runes := []rune(word)
	for _, s := range symbols() {
		switch {
		case strings.EqualFold(s.symbol, word):
			fold = append(fold, s.symbol)
		case len(runes) > 2 && len(s.symbol) > 2 && oneSlip([]rune(s.symbol), runes):
			slip = append(slip, s.symbol)
		}
	}
	if fold == nil && slip != nil {
		return slip[:1]
	}
	return fold
}

// oneSlip reports whether a becomes b by adding, leaving out or changing one
// letter, or by swapping two neighbours.
func oneSlip(a, b []rune) bool {
	if len(a) < len(b) {
		a, b = b, a
	}
	i := 0
	for i < len(b) && a[i] == b[i] {
		i++
	}
	switch {
	case len(a) == len(b)+1:
		return slices.Equal(a[i+1:], b[i:])
	case len(a) != len(b) || i == len(b):
		return false
	case slices.Equal(a[i+1:], b[i+1:]):
		return true
	}
	return i+1 < len(a) && a[i] == b[i+1] && a[i+1] == b[i] && slices.Equal(a[i+2:], b[i+2:])
}
