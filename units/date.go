package units

import (
	"math"
	"strconv"
	"strings"
	"time"

	"rambook/units/problem"
	"rambook/units/words"
)

const (
	dateLayout = "2006-01-02"
	dateHint   = "a date is written year-month-day, as in `2026-05-04`"
)

// Day is the length of a calendar day in seconds; UTC has no other.
const Day = 24 * 60 * 60

// parseDate reads a date written YYYY-MM-DD and returns its SI value: the
// seconds from 1970-01-01 to the start of that day, both in UTC.
func parseDate(text string) (float64, *problem.Problem) {
	start, end := trim(text)
	written := text[start:end]
	t, err := time.Parse(dateLayout, written)
	if err == nil {
		return float64(t.Unix()), nil
	}
	if written == "" {
		return 0, problem.In(text, start, end, "a date is missing", dateHint)
	}
	hint := dateHint
	if t, err := time.Parse("2006-1-2", written); err == nil {
		hint = "write " + words.Quoted(t.Format(dateLayout))
	} else if isDateShaped(written) && len(written) == len(dateLayout) {
		return 0, problem.In(text, start, end, "the calendar has no "+words.Quoted(written), "")
	}
	return 0, problem.In(text, start, end, words.Quoted(written)+" is not a date", hint)
}

// FormatDate writes the day that an SI value falls on as YYYY-MM-DD, taken to
// the nearest second so that the rounding of a calculation does not lose a
// day. Beyond the years 0 to 9999 there is no such form, and it writes the
// seconds.
func FormatDate(si float64) string {
	const first, last = -62167219200, 253402300799
	s := math.Round(si)
	if !(s >= first && s <= last) {
		return strconv.FormatFloat(si, 'g', 4, 64) + " s after 1970-01-01"
	}
	return time.Unix(int64(s), 0).UTC().Format(dateLayout)
}

// isDateShaped reports whether s is three numbers joined by hyphens, which no
// other value looks like.
func isDateShaped(s string) bool { return isThreeNumbers(s, "-") }

// isForeignDate reports whether s is a date in the form of some country.
func isForeignDate(s string) bool {
	return isThreeNumbers(s, "/") || isThreeNumbers(s, ".")
}

func isThreeNumbers(s, mark string) bool {
	if strings.Count(s, mark) != 2 {
		return false // most texts are no date
	}
	for more := true; more; {
		var part string
		if part, s, more = strings.Cut(s, mark); part == "" || len(part) > 4 || strings.Trim(part, "0123456789") != "" {
			return false
		}
	}
	return true
}
