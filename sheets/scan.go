package sheets

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// scanner walks over the records of a CSV text and keeps the place of the bytes of every
// cell. It reads as encoding/csv does, to which the tests hold it, but needs no memory of
// its own for the texts of cells: it skips blank lines and the lines that start with `#`
// outside quotes, and counts them. Reading and editing both stand on this one scanner.
type scanner struct {
	data string

	next, nextLine int    // offset and physical line, from 1, of what comes after the last record
	heading        string // text of the last `##` line in front of the last record
	fields         []field

	lineStart, counted, column int // where columnAt stands
}

// field is one cell as it stands in the file.
type field struct {
	text       string // without the quotes around it and those that double others
	line       int    // physical line of start, from 1
	lineStart  int    // offset of that line
	start, end int    // offsets of the cell, quotes included
}

// syntaxError is a record that is no CSV.
type syntaxError struct {
	line          int    // physical line
	lineStart     int    // offset of the line and
	offset        int    // of the character to blame
	message, hint string // as in Problem
}

func (e *syntaxError) Error() string { return fmt.Sprintf("line %d: %s", e.line, e.message) }

const utf8BOM = "\ufeff"

// newScanner starts behind a byte order mark, which is no part of line 1.
func newScanner(data string) *scanner {
	s := &scanner{data: data, nextLine: 1}
	if strings.HasPrefix(data, utf8BOM) {
		s.next = len(utf8BOM)
	}
	return s
}

// maxRecord bounds how far a quote that is never closed is looked after.
const maxRecord = 1 << 20

// scan reads the next record into s.fields, which the next call overwrites. It
// returns io.EOF after the last record and a *syntaxError for a record that
// cannot be read, after which another call goes on with the records behind it.
func (s *scanner) scan() error {
	s.fields = s.fields[:0]
	s.skip()
	if s.next == len(s.data) {
		return io.EOF
	}
	if s.fields == nil { // of the header, which the others are as long as
		s.fields = make([]field, 0, 1+strings.Count(s.data[s.next:s.lineAfter(s.next)], ","))
	}
	first := field{line: s.nextLine, lineStart: s.next, start: s.next}
	f, after := first, s.lineAfter(first.start) // where the line ends that f begins in
	for more := true; more; f.start = f.end + len(",") {
		line, lineStart := f.line, f.lineStart
		if s.quoteAt(f.start) {
			within := s.data[:min(s.next+maxRecord, len(s.data))]
			end, closed := closingQuote(within, f.start)
			if !closed && len(within) < len(s.data) {
				return s.tooLong(first)
			}
			if end > after {
				line += strings.Count(s.data[f.start:end], "\n")
				lineStart = 1 + strings.LastIndexByte(s.data[:end], '\n')
				after = s.lineAfter(end)
			}
			behind := withoutEnd(s.data[end:after])
			if more = strings.HasPrefix(behind, ","); !closed || behind != "" && !more {
				return s.strayQuote(f, end, line, closed)
			}
			f.end, f.text = end, unquoted(s.data[f.start+1:end-1])
		} else {
			f.text, _, more = strings.Cut(withoutEnd(s.data[f.start:after]), ",")
			if i := strings.IndexByte(f.text, '"'); i >= 0 {
				return s.fault(f, f.start+i, "found a double quote in a cell that does not begin with one",
					`put the whole cell in double quotes and double every quote in it: "3"" hose"`)
			}
			f.end = f.start + len(f.text)
		}
		s.fields = append(s.fields, f)
		f.line, f.lineStart = line, lineStart
	}
	if after-s.next > maxRecord {
		return s.tooLong(first)
	}
	s.pass(after)
	return nil
}

// unquoted is what stands between the quotes of a cell.
func unquoted(inner string) string {
	return strings.ReplaceAll(strings.ReplaceAll(inner, `""`, `"`), "\r\n", "\n")
}

// fault is what is wrong with a cell. Reading goes on with the line after the one in
// which the cell begins.
func (s *scanner) fault(f field, offset int, message, hint string) error {
	s.next, s.nextLine = s.lineAfter(f.start), f.line+1
	return &syntaxError{f.line, f.lineStart, offset, message, hint}
}

func (s *scanner) tooLong(first field) error {
	return s.fault(first, first.start, fmt.Sprintf("record is longer than %d KiB", maxRecord>>10),
		"a double quote that is never closed may be the cause")
}

// strayQuote is for a cell that opens with a quote, of which the next one that is not doubled
// ends at an offset of a line, and not the cell. A stray quote at the beginning of a cell may
// swallow any number of lines before something looks wrong, so then that quote is blamed.
func (s *scanner) strayQuote(f field, end, line int, closed bool) error {
	switch {
	case closed && line == f.line:
		return s.fault(f, end, "found text after the closing double quote of a cell",
			`double every quote that belongs to the text: "3"" hose"`)
	case closed:
		return s.fault(f, f.start, fmt.Sprintf(
			"this double quote opens a cell that ends on line %d, in the middle of a text", line),
			"close the cell with a double quote, or take this one away")
	}
	return s.fault(f, f.start, "this double quote opens a cell that is never closed",
		"close the cell with a double quote, or take this one away")
}

// row is scan without the records whose first cell begins with #: they are
// comments as well, since a spreadsheet puts a `#` line with a comma into quotes.
func (s *scanner) row() error {
	for {
		if err := s.scan(); err != nil || !isRemark(s.fields[0].text) {
			return err
		}
		for i, f := range s.fields {
			text := f.text
			if i == 0 {
				var found bool
				if text, found = strings.CutPrefix(strings.TrimSpace(text), "##"); !found {
					break
				}
			}
			if text = headingText(text); text != "" {
				s.heading = text
				break
			}
		}
	}
}

// isRemark reports whether the first cell of a record makes a comment of it.
func isRemark(text string) bool { return strings.HasPrefix(strings.TrimSpace(text), "#") }

// pass moves to an offset that begins a line.
func (s *scanner) pass(offset int) {
	s.nextLine += strings.Count(s.data[s.next:offset], "\n")
	s.next = offset
}

// skip moves over comments and blank lines, and keeps the last heading among them.
func (s *scanner) skip() {
	for s.next < len(s.data) {
		line := s.data[s.next:s.lineAfter(s.next)]
		if withoutEnd(line) != "" && line[0] != '#' {
			return
		}
		if text, found := strings.CutPrefix(line, "##"); found {
			if text := headingText(text); text != "" {
				s.heading = text
			}
		}
		s.pass(s.next + len(line))
	}
}

// headingText returns the text of a `##` line: the rest of its own cell or,
// where that is blank, the next one that is not. The commas that a spreadsheet
// adds to fill the line up do not belong to it; commas inside it do.
func headingText(line string) string {
	const filling = ", \t\r\n\u00a0"
	text := strings.Trim(line, filling)
	if inner, quoted := strings.CutPrefix(text, `"`); quoted {
		if inner, quoted = strings.CutSuffix(inner, `"`); quoted {
			text = strings.Trim(strings.ReplaceAll(inner, `""`, `"`), filling)
		}
	}
	return text
}

// lineAfter returns the offset of the line after the one that holds offset.
func (s *scanner) lineAfter(offset int) int {
	if i := strings.IndexByte(s.data[offset:], '\n'); i >= 0 {
		return offset + i + 1
	}
	return len(s.data)
}

func (s *scanner) quoteAt(offset int) bool {
	return offset < len(s.data) && s.data[offset] == '"'
}

// closingQuote returns the offset behind the quote that closes the cell which
// a quote at start opens, or the end of the text if there is none.
func closingQuote(text string, start int) (end int, found bool) {
	for at := start + 1; ; at += 2 {
		i := strings.IndexByte(text[at:], '"')
		if i < 0 {
			return len(text), false
		}
		if at += i; at+1 == len(text) || text[at+1] != '"' {
			return at + 1, true
		}
	}
}

// withoutEnd is a line without what ends it.
func withoutEnd(line string) string { return strings.TrimSuffix(strings.TrimSuffix(line, "\n"), "\r") }

// columnAt returns the character, from 1, that stands at an offset of the line
// that begins at lineStart. Asked from left to right it counts each line once.
func (s *scanner) columnAt(lineStart, offset int) int {
	if lineStart != s.lineStart || offset < s.counted || s.column == 0 {
		s.lineStart, s.counted, s.column = lineStart, lineStart, 1
	}
	s.column += utf8.RuneCountInString(s.data[s.counted:offset])
	s.counted = offset
	return s.column
}
