package log

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"rambook/sheets"
	"rambook/units/words"
)

// dateAndTime are the dates and times of day that recorders write.
var dateAndTime = words.Pattern(`^(?:(\d{1,4})([-./])(\d{1,2})[-./](\d{1,4})\.?)?` +
	`(?:[ T,]*(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,:](\d{1,9}))?)?\s*([AaPp][Mm]|Z|[-+]\d{2}:?\d{2})?)?$`)

// The groups of dateAndTime.
const (
	firstPart = iota + 1
	datePoint
	secondPart
	thirdPart
	hourPart
	minutePart
	secondsPart
	fractionPart
	halfPart // of the day, or the zone
)

// looseTime reports whether a cell is a date, a time of day, or both.
func looseTime(cell string) bool {
	m := dateAndTime().FindStringSubmatch(cell)
	return m != nil && (m[hourPart] != "" || m[firstPart] != "" && m[thirdPart] != "")
}

// findTime finds out how the times are written.
func (e *Export) findTime(rows [][]string, hint DateForm) *sheets.Problem {
	withoutDates, dates := 0, 0
	first, second := 0, 0 // greatest numbers at those places of a date
	form, example := DateForm(""), ""
	for _, row := range rows {
		cell := row[e.Time]
		m := dateAndTime().FindStringSubmatch(cell)
		if cell == "" || m == nil || !looseTime(cell) {
			continue
		}
		if m[firstPart] == "" {
			withoutDates++
			continue
		}
		dates++
		example = cell
		switch {
		case len(m[firstPart]) == 4:
			form = YearFirst
		case m[datePoint] == ".":
			form = DayFirst
		}
		a, _ := strconv.Atoi(m[firstPart])
		b, _ := strconv.Atoi(m[secondPart])
		first, second = max(first, a), max(second, b)
	}
	switch {
	case dates == 0 && withoutDates == 0:
		e.Dates = Clock
	case dates == 0:
		e.Dates = TimeOfDay
	case form != "":
		e.Dates = form
	case hint != "":
		e.Dates = hint
	case first > 12:
		e.Dates = DayFirst
	case second > 12:
		e.Dates = MonthFirst
	default:
		return &sheets.Problem{Message: words.Quoted(example) +
			" may have the day first or the month, and no date of this file settles it",
			Hint: "add --dates day-first or --dates month-first"}
	}
	if e.Dates != Clock && e.Dates != TimeOfDay && e.Time+1 < e.width {
		m := dateAndTime().FindStringSubmatch(rows[0][e.Time])
		next := dateAndTime().FindStringSubmatch(rows[0][e.Time+1])
		e.Parted = m != nil && m[hourPart] == "" && next != nil && next[hourPart] != "" && next[firstPart] == ""
	}
	for _, row := range rows {
		if written, err := e.When(row); err == nil {
			e.Example = [2]string{row[e.Time], written}
			if e.Parted {
				e.Example[0] += " " + row[e.Time+1]
			}
			break
		}
	}
	return nil
}

// When writes the time of a row as a log has it: a number, or a date with a time
// of day.
func (e *Export) When(row []string) (string, error) {
	cell := row[e.Time]
	if e.Dates == Clock {
		text := e.number(cell)
		if !isNumber(text) {
			return "", fmt.Errorf("%s is no time", words.Quoted(cell))
		}
		return text, nil
	}
	if e.Parted {
		cell += " " + row[e.Time+1]
	}
	m := dateAndTime().FindStringSubmatch(cell)
	if m == nil || !looseTime(cell) {
		return "", fmt.Errorf("%s is no time", words.Quoted(cell))
	}
	at := func(group int) int {
		n, _ := strconv.Atoi(m[group])
		return n
	}
	hour := at(hourPart)
	switch strings.ToLower(m[halfPart]) {
	case "pm":
		if hour < 12 {
			hour += 12
		}
	case "am":
		if hour == 12 {
			hour = 0
		}
	}
	if hour > 23 || at(minutePart) > 59 || at(secondsPart) > 59 {
		return "", fmt.Errorf("%s is no time of day", words.Quoted(cell))
	}
	fraction := ""
	if m[fractionPart] != "" {
		fraction = "." + m[fractionPart]
	}
	if e.Dates == TimeOfDay {
		return strconv.Itoa(hour*3600+at(minutePart)*60+at(secondsPart)) + fraction, nil
	}
	year, month, day := at(firstPart), at(secondPart), at(thirdPart)
	switch e.Dates {
	case DayFirst:
		year, day = day, year
	case MonthFirst:
		year, month, day = at(thirdPart), at(firstPart), at(secondPart)
	}
	if year < 100 {
		year += 2000
	}
	if date := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC); month < 1 || month > 12 ||
		date.Day() != day {
		return "", fmt.Errorf("%s is no date, %s", words.Quoted(cell), strings.Replace(string(e.Dates), "-", " ", 1))
	}
	zone := strings.ReplaceAll(m[halfPart], ":", "")
	if len(zone) == 5 {
		if zone[1:3] > "23" || zone[3:] > "59" {
			return "", fmt.Errorf("%s ends in no time zone", words.Quoted(cell))
		}
		zone = zone[:3] + ":" + zone[3:]
	} else if zone != "Z" {
		zone = ""
	}
	return fmt.Sprintf("%04d-%02d-%02d %02d:%02d:%02d%s", year, month, day, hour, at(minutePart), at(secondsPart),
		fraction) + zone, nil
}
