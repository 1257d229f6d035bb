package log

import "time"

// The forms of a date with a time of day, ISO 8601, with a blank or a T between
// the two. A zone is stated or it is the machine's own, which stays unknown.
const dateForm = "2006-01-02"

// dateTime reads a date with a time of day as seconds since 1970-01-01, whole
// and broken ones apart, since a float64 could not hold both to the microsecond.
func dateTime(text []byte) (seconds int64, fraction float64, ok bool) {
	if len(text) < 16 || text[4] != '-' || text[7] != '-' || text[10] != ' ' && text[10] != 'T' || text[13] != ':' {
		return 0, 0, false
	}
	year, month, day := two(text, 0)*100+two(text, 2), two(text, 5), two(text, 8)
	hour, minute, second := two(text, 11), two(text, 14), 0
	rest := text[16:]
	if len(rest) >= 3 && rest[0] == ':' {
		second, rest = two(rest, 1), rest[3:]
		if len(rest) > 1 && rest[0] == '.' {
			n := 1
			for n < len(rest) && rest[n]-'0' <= 9 {
				n++
			}
			if fraction, ok = number(rest[:n]); !ok {
				return 0, 0, false
			}
			rest = rest[n:]
		}
	}
	zone := 0
	switch {
	case len(rest) == 0, len(rest) == 1 && rest[0] == 'Z':
	case len(rest) == 6 && (rest[0] == '+' || rest[0] == '-') && rest[3] == ':':
		h, m := two(rest, 1), two(rest, 4)
		if h < 0 || h > 23 || m < 0 || m > 59 {
			return 0, 0, false
		}
		if zone = h*3600 + m*60; rest[0] == '-' {
			zone = -zone
		}
	default:
		return 0, 0, false
	}
	if year < 0 || month < 1 || month > 12 || day < 1 || day > 31 || hour < 0 || hour > 23 || minute < 0 ||
		minute > 59 || second < 0 || second > 60 {
		return 0, 0, false
	}
	days := daysTo(year, month, day)
	if day > 28 && time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC).Day() != day {
		return 0, 0, false
	}
	return days*86400 + int64(hour*3600+minute*60+second-zone), fraction, true
}

// two reads two digits; it is far below 0 if they are none.
func two(text []byte, i int) int {
	if i+1 >= len(text) {
		return -100_000
	}
	a, b := text[i]-'0', text[i+1]-'0'
	if a > 9 || b > 9 {
		return -100_000
	}
	return int(a)*10 + int(b)
}

// daysTo counts the days from 1970-01-01 to a date of the Gregorian calendar:
// years that begin in March have their odd day at the end.
func daysTo(year, month, day int) int64 {
	if month <= 2 {
		year--
		month += 12
	}
	return int64(365*year+year/4-year/100+year/400+(153*(month-3)+2)/5+day-1) - 719_468
}
