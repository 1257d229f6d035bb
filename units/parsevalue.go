package units

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"rambook/units/problem"
	"rambook/units/words"
)

// A Value is a number as the user wrote it, with its own unit if there was
// one. A date is its SI value with the unit date.
type Value struct {
	Number  float64 // in Unit
	Unit    Unit
	HasUnit bool
}

// ParseValue reads what a cell may hold in the place of a number: "25",
// "2900 psi" with one or more blanks before the unit, which % can do without, or "2026-05-04". The
// decimal mark is a point, and thousands have no mark. Outer blanks do not
// count, and the minus sign U+2212 is as good as a hyphen.
func ParseValue(text string) (Value, *problem.Problem) {
	start, end := trim(text)
	if word, _ := nextBlank(text, start, end); isDateShaped(text[start:word]) {
		si, err := parseDate(text)
		if err != nil {
			return Value{}, err
		}
		return Value{si, index()["date"].unit("date"), true}, nil
	}
	number, unit := cut(text, start, end)
	if sign := end - len("%"); unit == end && sign > start && text[sign] == '%' && BeginsWithNumber(text[start:sign]) {
		number, unit = sign, sign // a spreadsheet takes the blank out
	}
	v, err := parseNumber(text, start, number)
	if err != nil || unit == end {
		return Value{Number: v}, err
	}
	u, err := parseUnit(text, unit, end)
	switch {
	case err != nil:
		if hint := signHint(text[unit:end]); hint != "" {
			err.Hint = hint
		}
		return Value{}, err
	case u.Kind == Date:
		return Value{}, problem.In(text, start, end, words.Quoted(text[start:end])+" is not a date", dateHint)
	case u.Kind >= Text:
		return Value{}, problem.In(text, unit, end, words.Quoted(text[unit:end])+" cannot follow a number", "")
	case math.IsInf(u.ToSI(v), 0):
		return Value{}, outOfRange(text, start, end)
	}
	return Value{v, u, true}, nil
}

// BeginsWithNumber reports whether the first word of a text is a number or has the
// shape of a date, as it is in all that ParseValue accepts.
func BeginsWithNumber(text string) bool {
	start, end := trim(text)
	if start < end && text[start] >= 'A' && text[start] < utf8.RuneSelf {
		return false // most formulas begin with a letter
	}
	word, _ := nextBlank(text, start, end)
	first := strings.TrimSuffix(text[start:word], "%")
	return isNumber(strings.Replace(first, "−", "-", 2)) || isDateShaped(first)
}

// nextBlank finds the blanks that follow in text[start:end].
func nextBlank(text string, start, end int) (from, to int) {
	from = end
	if i := strings.IndexFunc(text[start:end], isBlank); i >= 0 {
		from = start + i
	}
	return from, end - len(strings.TrimLeftFunc(text[from:end], isBlank))
}

// cut finds where the number in text[start:end] ends and where its unit
// starts. Digits after a blank count as part of the number, so that "1 234" is
// refused for what it is, unless they are the 1 of a unit such as 1/min.
func cut(text string, start, end int) (number, unit int) {
	for {
		number, unit = nextBlank(text, start, end)
		over, isOne := strings.CutPrefix(text[unit:end], "1")
		isQuotient := isOne && strings.HasPrefix(strings.TrimLeftFunc(over, isBlank), "/")
		if unit == end || !isDigit(text[unit]) || isQuotient {
			return number, unit
		}
		start = unit
	}
}

func parseNumber(text string, start, end int) (float64, *problem.Problem) {
	plain := strings.Replace(text[start:end], "−", "-", 2)
	if !isNumber(plain) {
		message, hint := explainNumber(text[start:end])
		return 0, problem.In(text, start, end, message, hint)
	}
	v, err := strconv.ParseFloat(plain, 64)
	mantissa, _, _ := strings.Cut(strings.ToLower(plain), "e")
	if err != nil || v == 0 && strings.ContainsAny(mantissa, "123456789") {
		return 0, outOfRange(text, start, end)
	}
	return v, nil
}

func outOfRange(text string, start, end int) *problem.Problem {
	return problem.In(text, start, end, "the number "+words.Quoted(text[start:end])+" is out of range", "")
}

// numberLength returns the length of the number that s starts with, of the
// form [sign] digits [. digits] [e [sign] digits], or 0.
func numberLength(s string) int {
	i := 0
	digits := func() bool {
		from := i
		for i < len(s) && isDigit(s[i]) {
			i++
		}
		return i > from
	}
	oneOf := func(chars string) bool {
		ok := i < len(s) && strings.IndexByte(chars, s[i]) >= 0
		if ok {
			i++
		}
		return ok
	}
	oneOf("+-")
	found := digits()
	if oneOf(".") {
		found = digits() || found
	}
	if !found {
		return 0
	}
	mantissa := i
	if oneOf("eE") {
		oneOf("+-")
		if !digits() {
			return mantissa
		}
	}
	return i
}

func isNumber(s string) bool { return s != "" && numberLength(s) == len(s) }

// explainNumber is what is wrong with a text that is no number.
func explainNumber(written string) (message, hint string) {
	message = words.Quoted(written) + " is not a number"
	plain := strings.Replace(written, "−", "-", 1)
	n := numberLength(plain)
	switch {
	case written == "":
		return "a number is missing", ""
	case strings.HasPrefix(written, "#"), strings.HasPrefix(written, "Err:"):
		return words.Quoted(written) + " is an error that a spreadsheet left here",
			"enter again what the cell held before it was saved there"
	case strings.HasPrefix(written, "="):
		return message, "a formula cannot stand here"
	case n > 0 && isNumber(afterDash(plain[n:])):
		return message, "a range goes in `low` and `high`, or in the spread; a calculation starts with `=`"
	case signHint(written) != "":
		return message, signHint(written)
	}
	const marks = "the decimal mark is a point and thousands have no mark"
	if guesses := withoutMarks(plain); len(guesses) > 0 {
		if len(guesses) == 2 && strings.Contains(guesses[0], ".") && !strings.Contains(guesses[1], ".") {
			// The two differ a thousandfold, and either would be accepted: each with what it means.
			return message, marks + ": write " + words.Quoted(guesses[1]) + " if the mark parts thousands, " +
				words.Quoted(guesses[0]) + " if it is the decimal mark"
		}
		return message, marks + ": write " + words.Choices(guesses)
	}
	if isForeignDate(written) {
		return message, dateHint
	}
	if decimal, found := Decimal(plain); found && strings.Contains(decimal, " ") {
		return message, "write " + words.Quoted(decimal)
	}
	if joined := strings.Join(strings.Fields(plain), ""); len(plain) > 1 && !isDigit(plain[0]) && isNumber(joined) {
		return message, "write " + words.Quoted(joined)
	}
	if n > 0 {
		u, err := Parse(plain[n:])
		isUnit := err == nil && u.Kind <= Point && !isDigit(u.Symbol[0])
		switch {
		case isUnit && (u.Symbol == "C" || u.Symbol == "F"): // few people mean the coulomb and the farad
			return message, "put a blank before the unit: write " + words.Quoted(plain[:n]+" deg"+u.Symbol)
		case isUnit:
			return message, "put a blank before the unit: write " + words.Quoted(plain[:n]+" "+u.Symbol)
		case strings.Trim(plain[n:], "0123456789.+-*/^()") == "":
			return message, "a calculation starts with `=`"
		}
		rest := strings.TrimSpace(plain[n:])
		if symbols := inOtherLetters(rest); len(symbols) > 0 {
			return message, "put a blank before the unit: write " + words.Quoted(plain[:n]+" "+symbols[0])
		}
		if hint, known := Advice(rest); known {
			return message, "put a blank before the unit, and " + hint
		}
	}
	if strings.Contains(written, ",") {
		return message, marks
	}
	return message, "write a number such as `25`, `-12.5e3` or `2900 psi`"
}

// afterDash returns what follows the hyphen or the en dash that s starts with,
// "" if there is none.
func afterDash(s string) string {
	for _, dash := range []string{"-", "–"} {
		if rest, found := strings.CutPrefix(s, dash); found {
			return strings.TrimSpace(rest)
		}
	}
	return ""
}

// foreignSigns are signs that people put to a number and what they want to
// say by them.
var foreignSigns = []struct{ sign, hint string }{
	{"±", "the half-width alone goes in the spread, without the sign"},
	{"+/-", "the half-width alone goes in the spread, without the sign"},
	{"<", "a limit goes in `low` or `high`, without the sign"},
	{">", "a limit goes in `low` or `high`, without the sign"},
	{"≤", "a limit goes in `low` or `high`, without the sign"},
	{"≥", "a limit goes in `low` or `high`, without the sign"},
	{"~", "leave out the sign and write how far off it may be into the spread"},
	{"≈", "leave out the sign and write how far off it may be into the spread"},
	{"–", "the minus sign is `-`"}, // an en dash, put in by word processors
}

func signHint(s string) string {
	for _, f := range foreignSigns {
		if strings.Contains(s, f.sign) {
			return f.hint
		}
	}
	return ""
}

// withoutMarks gives the numbers that a text with a decimal comma or with
// marks between its thousands may mean: "1,234" may mean two.
func withoutMarks(written string) []string {
	s := strings.Map(func(r rune) rune {
		if isBlank(r) {
			return ' '
		}
		return r
	}, written)
	exponent := ""
	if i := strings.IndexAny(s, "eE"); i >= 0 {
		s, exponent = s[:i], s[i:]
	}
	var guesses []string
	for _, marks := range []struct{ decimal, thousands string }{
		{",", ""}, {".", ","}, {",", "."}, {".", " "}, {",", " "}, {".", "'"}, {",", "'"}, {".", "’"}, {",", "’"},
		{".", "_"},
	} {
		whole, fraction, found := strings.Cut(s, marks.decimal)
		if marks.thousands != "" {
			var ok bool
			if whole, ok = joinThousands(whole, marks.thousands); !ok {
				continue
			}
		}
		guess := whole
		if found {
			guess += "." + fraction
		}
		guess += exponent
		if guess != written && isNumber(guess) && !slices.Contains(guesses, guess) {
			guesses = append(guesses, guess)
		}
	}
	return guesses
}

// joinThousands takes the marks out of 1,234,567, if they stand right.
func joinThousands(s, mark string) (string, bool) {
	groups := strings.Split(s, mark)
	first := strings.TrimLeft(groups[0], "+-")
	if len(groups) < 2 || first == "" || len(first) > 3 || first[0] == '0' {
		return "", false
	}
	for _, g := range groups[1:] {
		if len(g) != 3 {
			return "", false
		}
	}
	return strings.Join(groups, ""), true
}

// Grouped gives what a value with one point was meant as if that point parts thousands,
// as it does where a comma is the decimal mark: `160000 kN` for `160.000 kN`. It is read
// as 160 all the same.
func Grouped(text string) (whole string, found bool) {
	if !strings.Contains(text, ".") {
		return "", false
	}
	start, end := trim(text)
	number, _ := cut(text, start, end)
	if whole, found = joinThousands(text[start:number], "."); !found || !isNumber(whole) {
		return "", false
	}
	return whole + text[number:end], true
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// isBlank reports whether r is white space. No-break blanks, wide and narrow,
// count.
func isBlank(r rune) bool {
	return unicode.IsSpace(r) || r > unicode.MaxLatin1 && unicode.Is(unicode.Zs, r)
}

// trim returns the bytes between which text lies without its outer blanks.
func trim(text string) (start, end int) {
	end = len(strings.TrimRightFunc(text, isBlank))
	start = end - len(strings.TrimLeftFunc(text[:end], isBlank))
	return start, end
}
