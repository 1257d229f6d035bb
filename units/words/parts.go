package words

import "strings"

// Parts parts a list at its commas, and takes the blanks around each part away. A
// comma between brackets or quotes parts nothing: `max(a, b) in bar, c` are two. The
// parts of a text with nothing in it are none; between two commas one may be empty.
func Parts(text string) []string {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	var parts []string
	deep, quote, from := 0, rune(0), 0
	for i, r := range text {
		switch {
		case quote != 0:
			if r == quote {
				quote = 0
			}
		case strings.ContainsRune("\"`", r):
			quote = r
		case strings.ContainsRune("([{", r):
			deep++
		case strings.ContainsRune(")]}", r):
			deep--
		case r == ',' && deep <= 0:
			parts = append(parts, strings.TrimSpace(text[from:i]))
			from = i + 1
		}
	}
	return append(parts, strings.TrimSpace(text[from:]))
}

// Unquoted is a part without the double quotes around all of it, which are there for
// a comma inside.
func Unquoted(part string) string {
	if inner, opened := strings.CutPrefix(part, `"`); opened {
		if inner, closed := strings.CutSuffix(inner, `"`); closed && !strings.Contains(inner, `"`) {
			return strings.TrimSpace(inner)
		}
	}
	return part
}
