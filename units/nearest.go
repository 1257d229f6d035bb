package units

import (
	"slices"
	"strings"
)

// nearestSymbol finds the unit symbol that was probably meant.
func nearestSymbol(word string) (string, bool) {
	names := make([]string, 0, len(index()))
	for name := range index() {
		names = append(names, name)
	}
	slices.Sort(names)
	return nearest(word, names)
}

// nearest finds the candidate that differs from word in case only or by one
// typing slip. Of several it takes the first.
func nearest(word string, candidates []string) (string, bool) {
	for _, c := range candidates {
		if strings.EqualFold(c, word) {
			return c, true
		}
	}
	for _, c := range candidates {
		if min(len(c), len(word)) > 2 && oneSlip([]rune(c), []rune(word)) {
			return c, true
		}
	}
	return "", false
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
