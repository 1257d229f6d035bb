package sheets

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// TakeHint is what to do with a file that was written by no one but a recorder.
const TakeHint = "`rambook take` makes a log of what a recorder exports"

// refuse looks for what makes a file unreadable as a whole. The problem it
// returns has no File yet.
func refuse(s *scanner) *Problem {
	data := s.data
	at := func(offset int, message, hint string) *Problem {
		lineStart := 1 + strings.LastIndexByte(data[:offset], '\n')
		if lineStart == 0 && strings.HasPrefix(data, utf8BOM) {
			lineStart = len(utf8BOM)
		}
		return &Problem{
			Line:    1 + strings.Count(data[:offset], "\n"),
			Column:  s.columnAt(lineStart, offset),
			Message: message, Hint: hint,
		}
	}

	if len(data) > MaxFileSize {
		return &Problem{
			Message: fmt.Sprintf("file holds more than %d MiB", MaxFileSize>>20),
			Hint:    "split the sheet",
		}
	}
	if strings.HasPrefix(data, "\xff\xfe") || strings.HasPrefix(data, "\xfe\xff") ||
		utf16WithoutMark(data) {
		return &Problem{Message: "file is encoded in UTF-16, expected UTF-8", Hint: saveUTF8(data)}
	}
	if strings.HasPrefix(data, "PK\x03\x04") {
		return &Problem{Message: "file is a spreadsheet's own format or another archive, expected CSV",
			Hint: "save the sheet as CSV in UTF-8"}
	}
	if i := strings.IndexByte(data, 0); i >= 0 {
		return at(i, "found a NUL byte, expected text", "this is no CSV file, or it is damaged")
	}
	if i := invalidUTF8(data); i >= 0 {
		message := fmt.Sprintf("byte 0x%02X is not UTF-8", data[i])
		if !holdsUTF8(data) {
			message += "; the file seems to be in Latin-1 or Windows-1252"
		}
		return at(i, message, saveUTF8(data))
	}
	if i := strings.IndexByte(data, '\r'); i >= 0 && i < len(data)-1 && !strings.Contains(data, "\n") {
		return at(i, "lines end in a lone carriage return, as on very old computers",
			"save the file with the line ends LF or CRLF")
	}
	return separators(s)
}

// saveUTF8 is what to do with a file in another encoding. Its first letters, with the
// zeros of UTF-16 left out, are those of a sheet of quantities, or a recorder may have
// written it.
func saveUTF8(data string) string {
	const hint = "save it as CSV in UTF-8"
	if strings.Contains(strings.ReplaceAll(data[:min(len(data), 64)], "\x00", ""), "name") {
		return hint
	}
	return hint + "; " + TakeHint
}

// utf16WithoutMark reports whether every second byte in the beginning is zero.
func utf16WithoutMark(data string) bool {
	head := data[:min(len(data), 64)&^1]
	var zeros [2]int
	for i := range len(head) {
		if head[i] == 0 {
			zeros[i%2]++
		}
	}
	return len(head) > 0 && (zeros[0] == len(head)/2 || zeros[1] == len(head)/2) && zeros[0] != zeros[1]
}

// invalidUTF8 returns the offset of the first byte that is not UTF-8, -1 if
// there is none.
func invalidUTF8(data string) int {
	if utf8.ValidString(data) {
		return -1
	}
	for i := 0; ; {
		r, size := utf8.DecodeRuneInString(data[i:])
		if r == utf8.RuneError && size < 2 {
			return i
		}
		i += size
	}
}

// holdsUTF8 reports whether any character beyond ASCII is there in UTF-8, which
// text in an eight-bit encoding does not show.
func holdsUTF8(data string) bool {
	for len(data) > 0 {
		_, size := utf8.DecodeRuneInString(data)
		if size > 1 {
			return true
		}
		data = data[size:]
	}
	return false
}

// separators refuses a file whose first record is cut by semicolons or tabs.
func separators(s *scanner) *Problem {
	s.skip()
	line := strings.TrimRight(s.data[s.next:s.lineAfter(s.next)], "\r\n")
	name, rest := line, ""
	if strings.HasPrefix(line, `"`) {
		if i := strings.IndexByte(line[1:], '"'); i >= 0 {
			name, rest = line[1:1+i], line[2+i:]
		}
	} else if i := strings.IndexAny(line, ",;\t"); i >= 0 {
		name, rest = line[:i], line[i:]
	}
	if rest == "" || rest[0] == ',' {
		return nil
	}
	name = strings.TrimSpace(name)
	known := strings.EqualFold(name, "name") || strings.EqualFold(name, "suspect") || name == "sep="
	if !known && strings.Contains(rest, ",") {
		return nil
	}
	hint := "save it with commas between the cells and a point in decimal numbers"
	if !known {
		hint += "; " + TakeHint
	}
	problem := &Problem{Line: s.nextLine, Column: 1, Hint: hint}
	switch {
	case rest[0] == ';':
		problem.Message = "cells are separated by semicolons, expected commas"
	case rest[0] == '\t':
		problem.Message = "cells are separated by tabs, expected commas"
	default:
		return nil
	}
	return problem
}
