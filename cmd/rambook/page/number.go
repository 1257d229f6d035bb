package page

import (
	"math"
	"strconv"
	"strings"
)

const (
	usualDigits = 4  // significant digits of a computed value
	typedDigits = 7  // a number that somebody typed prints as typed up to so many digits
	mostDigits  = 12 // beyond these, value and limit count as equal

	leastSpread = 1e-60 // no quantity in its own unit is known so well
)

// NoSpread is the absent spread, as an absent number is everywhere.
var NoSpread = math.NaN()

// Shortest is the shortest text that reads back as the same float64, for CSV
// and for definitions.
func Shortest(x float64) string {
	if math.IsNaN(x) {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// NumberStyle turns numbers into text for people. JSON and CSV do not use it:
// they carry the shortest text that reads back as the same float64.
type NumberStyle struct {
	Digits int // significant digits asked for with --digits, 0 for the usual rule
}

// Computed prints a computed value: to two digits of its spread, or to four
// significant digits. An absent spread is NaN.
func (s NumberStyle) Computed(x, spread float64) string {
	return fixed(x, s.decimals(x, spread))
}

// Typed prints a number that stands in the notebook as it was typed, unless it
// was typed in another unit and the conversion made it long. An absent number is no text.
func (s NumberStyle) Typed(x, spread float64) string {
	if math.IsNaN(x) {
		return ""
	}
	if s.Digits == 0 && s.Spread(x, spread) == "" {
		if text := fixed(x, shortestDecimals(x)); significant(text) <= typedDigits {
			return text
		}
	}
	return s.Computed(x, spread)
}

// Trimmed prints x to the digits of the style, without zeros at the end.
func (s NumberStyle) Trimmed(x float64) string {
	text := s.Computed(x, NoSpread)
	mantissa, exponent, found := strings.Cut(text, "e")
	if strings.Contains(mantissa, ".") {
		mantissa = strings.TrimRight(strings.TrimRight(mantissa, "0"), ".")
	}
	if found {
		return mantissa + "e" + exponent
	}
	return mantissa
}

// apart prints x with as many more decimals as it takes to tell it from limits
// that differ from it, so that 999.97 never reads as a reached 1000.
func (s NumberStyle) apart(x, spread float64, limits ...float64) string {
	decimals := s.decimals(x, spread)
	for _, limit := range limits {
		for math.Abs(x-limit) > math.Abs(limit)*math.Pow10(-mostDigits) &&
			decimals < decimalsFor(x, mostDigits) && fixed(x, decimals) == fixed(limit, decimals) {
			decimals++
		}
	}
	return fixed(x, decimals)
}

// Spread prints a half-width with the decimals of the value it belongs to, and
// nothing if it is absent or beyond the digits that count.
func (s NumberStyle) Spread(x, spread float64) string {
	if !counts(x, spread) {
		return ""
	}
	if s.Digits > 0 {
		return fixed(spread, decimalsFor(spread, s.Digits))
	}
	return fixed(spread, s.decimals(x, spread))
}

func (s NumberStyle) decimals(x, spread float64) int {
	switch {
	case s.Digits > 0:
		return decimalsFor(x, s.Digits)
	case counts(x, spread):
		return decimalsFor(spread, 2)
	}
	return decimalsFor(x, usualDigits)
}

// counts reports whether a spread is beside its value more than rounding, or beside a
// zero more than what is left of a share of nothing.
func counts(x, spread float64) bool {
	return spread > math.Max(math.Abs(x)*math.Pow10(-mostDigits), leastSpread)
}

// decimalsFor is how many decimals show x to so many significant digits. It
// is negative for a large number, whose last shown digit stands before the
// point.
func decimalsFor(x float64, digits int) int {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	// Formatting first makes 9.9996 count as 10.00, which has one digit more.
	return digits - 1 - exponentOf(strconv.FormatFloat(x, 'e', digits-1, 64))
}

// shortestDecimals is decimalsFor the digits that x needs to read back.
func shortestDecimals(x float64) int {
	text := strconv.FormatFloat(x, 'e', -1, 64)
	return significant(text) - 1 - exponentOf(text)
}

func exponentOf(text string) int {
	exponent, _ := strconv.Atoi(text[strings.IndexByte(text, 'e')+1:])
	return exponent
}

// fixed writes x with so many decimals. Numbers that would be mostly zeros are
// written with a power of ten, in a form that a cell accepts; all digits before
// the point are shown otherwise.
func fixed(x float64, decimals int) string {
	if math.IsNaN(x) {
		return ""
	}
	if size := math.Abs(x); size != 0 && (size >= 1e7 || size < 1e-4) {
		if digits := decimals + exponentOf(strconv.FormatFloat(x, 'e', -1, 64)); digits >= 0 {
			text := strconv.FormatFloat(x, 'e', digits, 64)
			mantissa, _, _ := strings.Cut(text, "e")
			return mantissa + "e" + strconv.Itoa(exponentOf(text))
		}
	}
	text := strconv.FormatFloat(x, 'f', max(0, decimals), 64)
	if strings.HasPrefix(text, "-") && strings.Trim(text, "-0.") == "" {
		return text[1:] // a rounded-off sign means nothing
	}
	return text
}

// significant counts the digits of a printed number, from the first that is
// not a zero.
func significant(text string) int {
	mantissa, _, _ := strings.Cut(text, "e")
	return len(strings.TrimLeft(strings.ReplaceAll(strings.TrimLeft(mantissa, "-"), ".", ""), "0"))
}
