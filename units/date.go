package units

import (
	stdtime "time"
)

const dateLayout = "2006-01-02"

// ParseDate reads a date written YYYY-MM-DD and returns its SI value, the
// seconds since 1970-01-01 UTC.
func ParseDate(text string) (float64, *Error) {
	start, end := trim(text)
	t, err := stdtime.Parse(dateLayout, text[start:end])
	if err != nil {
		return 0, errorAt(text, start, end, quote(text[start:end])+" is not a date", "write YYYY-MM-DD, such as `2026-05-04`")
	}
	return float64(t.Unix()), nil
}

// FormatDate writes the day that an SI value falls on as YYYY-MM-DD.
func FormatDate(si float64) string {
	return stdtime.Unix(int64(si), 0).UTC().Format(dateLayout)
}

// looksLikeDate reports whether s has the shape of a date: digits-digits-digits.
func looksLikeDate(s string) bool {
	dashes := 0
	for i := range len(s) {
		switch {
		case s[i] == '-' && i > 0:
			dashes++
		case s[i] < '0' || s[i] > '9':
			return false
		}
	}
	return dashes == 2
}
