package words

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// Spelled is the known name that a word typed in any case of letters means: the
// word itself where it is known, else the only name that differs from it in
// capitals alone. Where there is none, or more than one, the word stays as it is.
func Spelled(word string, known []string) string {
	if slices.Contains(known, word) {
		return word
	}
	if alike := alikeInLetters(word, known); len(alike) == 1 {
		return alike[0]
	}
	return word
}

// alikeInLetters lists the names that differ from a word in capitals alone.
func alikeInLetters(word string, known []string) []string {
	var alike []string
	for _, name := range known {
		if strings.EqualFold(name, word) && !slices.Contains(alike, name) {
			alike = append(alike, name)
		}
	}
	return alike
}

// DidYouMean is the hint for a mistyped word, or otherwise if no candidate is
// so near that only the hand slipped.
func DidYouMean(word string, candidates []string, otherwise string) string {
	if alike := alikeInLetters(word, candidates); len(alike) > 1 {
		return "did you mean " + Choices(alike) + "?"
	}
	if near, ok := Nearest(word, candidates); ok {
		return "did you mean " + Quoted(near) + "?"
	}
	return otherwise
}

// Nearest finds the candidate that a word was probably meant to be: the first
// of those with the fewest slips of the hand. Small letters for capitals are
// the least of slips; of others a short word has one, a long one two or three.
func Nearest(word string, candidates []string) (string, bool) {
	least := slipsAllowed(utf8.RuneCountInString(word)) + 1
	best := ""
	for _, c := range candidates {
		if c == word {
			continue
		}
		if n := Slips(strings.ToLower(word), strings.ToLower(c), least-1); n < least {
			best, least = c, n
		}
	}
	return best, best != ""
}

// slipsAllowed is how many slips a word of so many letters may hold and still
// have what was meant guessed. One letter may have meant anything.
func slipsAllowed(length int) int {
	switch {
	case length < 2:
		return 0
	case length < 6:
		return 1
	case length < 12:
		return 2
	}
	return 3
}

// OneSlip reports whether two words differ by one slip of the hand, or in
// capitals only.
func OneSlip(a, b string) bool { return a != b && (strings.EqualFold(a, b) || Slips(a, b, 1) == 1) }

// Slips is how many slips of the hand part two words: a letter too many, too
// few or wrong, or two neighbours swapped (the optimal string alignment
// distance). Beyond most it counts no further and returns most + 1.
func Slips(a, b string, most int) int {
	longer := utf8.RuneCountInString(a) - utf8.RuneCountInString(b)
	if max(longer, -longer) > most {
		return most + 1
	}
	a, b = withoutCommon(a, b)
	s, t := []rune(a), []rune(b)
	if most < 2 && max(len(s), len(t)) > 2 {
		return most + 1 // one slip is in a letter or in two neighbours
	}
	// Rows of the table of distances between the beginnings of s and t.
	before, last, row := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range last {
		last[j] = j
	}
	for i := range s {
		row[0] = i + 1
		for j := range t {
			change := last[j]
			if s[i] != t[j] {
				change++
			}
			row[j+1] = min(change, last[j+1]+1, row[j]+1)
			if i > 0 && j > 0 && s[i] == t[j-1] && s[i-1] == t[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		if slices.Min(row) > most {
			return most + 1
		}
		before, last, row = last, row, before
	}
	return min(last[len(t)], most+1)
}

// withoutCommon takes off two words what both begin with, and then what both end with.
func withoutCommon(a, b string) (string, string) {
	for a != "" && b != "" {
		r, size := utf8.DecodeRuneInString(a)
		s, other := utf8.DecodeRuneInString(b)
		if r != s {
			break
		}
		a, b = a[size:], b[other:]
	}
	for a != "" && b != "" {
		r, size := utf8.DecodeLastRuneInString(a)
		s, other := utf8.DecodeLastRuneInString(b)
		if r != s {
			break
		}
		a, b = a[:len(a)-size], b[:len(b)-other]
	}
	return a, b
}

// Siblings reports whether two names are numbered or lettered through, as gap_2
// and gap_3 or load_A and load_B are: one digit stands for another, or one
// capital at the end.
func Siblings(a, b string) bool {
	if len(a) != len(b) {
		return false
	}
	i := 0
	for i < len(a)-1 && a[i] == b[i] {
		i++
	}
	if i >= len(a) || a[i+1:] != b[i+1:] {
		return false
	}
	both := func(from, to byte) bool { return from <= min(a[i], b[i]) && max(a[i], b[i]) <= to }
	return both('0', '9') || i == len(a)-1 && both('A', 'Z')
}
