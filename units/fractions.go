package units

import (
	"strconv"
	"strings"

	"rambook/units/words"
)

// fractionForms are how rules and drawings in inches write numbers: 6", 6 1/4",
// 15/16 inch.
var fractionForms = words.Pattern(
	`^(?:(\d{1,6}(?:\.\d*)?)|(?:(\d{1,6})[ -]+)?(\d{1,4})/(\d{1,4}))\s*("|''|″|'|′|[A-Za-z]*)$`)

// Decimal writes such a number with a decimal point and its unit, as ParseValue
// reads it.
func Decimal(written string) (decimal string, found bool) {
	m := fractionForms().FindStringSubmatch(strings.TrimSpace(written))
	if m == nil {
		return "", false
	}
	unit := m[5]
	switch unit {
	case `"`, "''", "″":
		unit = "inch"
	case "'", "′":
		unit = "ft"
	}
	if m[1] != "" {
		return m[1] + " " + unit, unit != m[5]
	}
	whole, _ := strconv.ParseFloat("0"+m[2], 64)
	over, _ := strconv.ParseFloat(m[3], 64)
	under, _ := strconv.ParseFloat(m[4], 64)
	if under == 0 {
		return "", false
	}
	return strings.TrimSpace(strconv.FormatFloat(whole+over/under, 'g', 8, 64) + " " + unit), true
}
