package units

import (
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A Value is a number as the user wrote it, with its own unit if there was
// one. For a date the number is its SI value.
type Value struct {
	Number  float64
	Unit    Unit
	HasUnit bool
}

// ParseNumber reads a plain number such as -12.5e3. The decimal mark is a
// point and thousands have no mark.
func ParseNumber(text string) (float64, *Error) {
	start, end := trim(text)
	return parseNumber(text, start, end)
}

// ParseValue reads the number forms of a cell: "25", "2900 psi" with one or
// more blanks before the unit, or a date such as "2026-05-04".
func ParseValue(text string) (Value, *Error) {
	start, end := trim(text)
	if looksLikeDate(text[start:end]) {
		si, err := ParseDate(text)
		return Value{si, index()["date"].unit("date"), true}, err
	}
	blank := start
	for blank < end {
		r, size := utf8.DecodeRuneInString(text[blank:end])
		if isBlank(r) {
			break
		}
		blank += size
	}
	unit := blank
	for unit < end {
		r, size := utf8.DecodeRuneInString(text[unit:end])
		if !isBlank(r) {
			break
		}
		unit += size
	}
	if unit == end {
		v, err := parseNumber(text, start, end)
		return Value{Number: v}, err
	}
	v, err := parseNumber(text, start, blank)
	if err != nil {
		return Value{}, err
	}
	u, err := parseUnit(text, unit, end)
	if err != nil {
		return Value{}, err
	}
	if u.Kind == Date || u.Kind == Text {
		return Value{}, errorAt(text, unit, end, quote(u.Symbol)+" cannot follow a number", "")
	}
	return Value{v, u, true}, nil
}

func parseNumber(text string, start, end int) (float64, *Error) {
	written := text[start:end]
	plain := strings.ReplaceAll(written, "−", "-")
	if !isNumber(plain) {
		return 0, notANumber(text, start, end)
	}
	v, err := strconv.ParseFloat(plain, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, errorAt(text, start, end, "the number "+quote(written)+" is out of range", "")
	}
	return v, nil
}

// isNumber reports whether s has the form [sign] digits [. digits] [e [sign] digits].
func isNumber(s string) bool {
	digits := func() (n int) {
		for s != "" && s[0] >= '0' && s[0] <= '9' {
			s, n = s[1:], n+1
		}
		return n
	}
	sign := func() {
		if s != "" && (s[0] == '-' || s[0] == '+') {
			s = s[1:]
		}
	}
	sign()
	n := digits()
	if strings.HasPrefix(s, ".") {
		s = s[1:]
		n += digits()
	}
	if n == 0 {
		return false
	}
	if s != "" && (s[0] == 'e' || s[0] == 'E') {
		s = s[1:]
		sign()
		if digits() == 0 {
			return false
		}
	}
	return s == ""
}

// notANumber explains why the text between two bytes is no number.
func notANumber(text string, start, end int) *Error {
	written := text[start:end]
	if written == "" {
		return errorAt(text, start, end, "a number is missing", "")
	}
	hint := ""
	if strings.Contains(written, ",") {
		hint = "the decimal mark is a point and thousands have no mark"
	}
	return errorAt(text, start, end, quote(written)+" is not a number", hint)
}

// isBlank reports whether r is white space; no-break blanks count.
func isBlank(r rune) bool { return unicode.IsSpace(r) }

// trim returns the byte positions where text without its outer blanks starts
// and ends.
func trim(text string) (start, end int) {
	end = len(strings.TrimRightFunc(text, isBlank))
	start = end - len(strings.TrimLeftFunc(text[:end], isBlank))
	return start, end
}
