package sheets

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"unicode/utf8"
)

// scanner walks over the records of a CSV text and keeps the place of the bytes of every
// cell. encoding/csv does the parsing: it skips blank lines and the lines that
// start with `#` outside quotes, and counts them. Reading and editing both
// stand on this one scanner.
type scanner struct {
	data   []byte
	input  rationed
	buffer *bufio.Reader // of the reader's
	reader *csv.Reader
	base   int // bytes and
	lines  int // lines of data in front of the reader's input

	next, nextLine int    // offset and physical line, from 1, of what comes after the last record
	heading        string // text of the last `##` line in front of the last record
	fields         []field

	lineStart, counted, column int // where columnAt stands
}

// field is one cell as it stands in the file.
type field struct {
	text       string // as encoding/csv reads it
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
func newScanner(data []byte) *scanner {
	s := &scanner{data: data, buffer: buffers.Get().(*bufio.Reader)}
	if bytes.HasPrefix(data, []byte(utf8BOM)) {
		s.next = len(utf8BOM)
	}
	s.restart(s.next, 1)
	return s
}

// buffers serve one scanner after another: the sheets of a notebook are small and
// many, and most of them are scanned twice.
var buffers = sync.Pool{New: func() any { return bufio.NewReader(nil) }}

// done gives back what a scanner has borrowed.
func (s *scanner) done() {
	s.buffer.Reset(nil)
	buffers.Put(s.buffer)
	s.buffer, s.reader = nil, nil
}

// restart goes on with a physical line that begins at offset.
func (s *scanner) restart(offset, line int) {
	s.input = rationed{data: s.data, at: offset}
	s.buffer.Reset(&s.input)
	s.reader = csv.NewReader(s.buffer) // which takes no other one
	s.reader.Comment = '#'
	s.reader.FieldsPerRecord = -1
	s.reader.ReuseRecord = true
	s.base, s.lines = offset, line-1
	s.next, s.nextLine = offset, line
}

// maxRecord bounds the memory that one record can take, whatever its quotes.
const maxRecord = 1 << 20

var errTooLong = errors.New("record is too long")

// rationed hands out data up to a limit and then fails with errTooLong.
type rationed struct {
	data      []byte
	at, limit int
}

func (r *rationed) Read(p []byte) (int, error) {
	if r.at == len(r.data) {
		return 0, io.EOF
	}
	if r.at >= r.limit {
		return 0, errTooLong
	}
	n := copy(p, r.data[r.at:min(r.limit, len(r.data))])
	r.at += n
	return n, nil
}

// scan reads the next record into s.fields, which the next call overwrites. It
// returns io.EOF after the last record and a *syntaxError for a record that
// cannot be read, after which another call goes on with the records behind it.
func (s *scanner) scan() error {
	s.fields = s.fields[:0]
	s.skip()
	s.input.limit = s.next + maxRecord
	record, err := s.reader.Read()
	if err == io.EOF {
		return err
	}

	start := s.next
	for i, text := range record {
		line, column := s.reader.FieldPos(i)
		f := field{text: text, line: s.lines + line, lineStart: start - (column - 1), start: start}
		if f.end = start + len(text); s.quoteAt(start) {
			f.end, _ = s.closingQuote(start)
		}
		s.fields = append(s.fields, f)
		start = f.end + 1
	}
	after := s.base + int(s.reader.InputOffset())
	if err != nil {
		return s.blame(start, after, err)
	}
	s.pass(after)
	return nil
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
	s.nextLine += bytes.Count(s.data[s.next:offset], []byte("\n"))
	s.next = offset
}

// skip moves over comments and blank lines, as the csv.Reader will, and keeps
// the last heading among them.
func (s *scanner) skip() {
	for s.next < len(s.data) {
		line := s.data[s.next:s.lineAfter(s.next)]
		blank := string(line) == "\n" || string(line) == "\r\n"
		if !blank && line[0] != '#' {
			return
		}
		if text, found := bytes.CutPrefix(line, []byte("##")); found {
			if text := headingText(string(text)); text != "" {
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

// blame makes the error for a record whose cell at start cannot be read, and
// moves on. A stray quote at the beginning of a cell may swallow any number of
// lines before something looks wrong, so then that quote is blamed and reading
// goes on with the line after it. Otherwise it goes on at after, the end of the
// line that is wrong.
func (s *scanner) blame(start, after int, reason error) error {
	if errors.Is(reason, errTooLong) {
		fault := &syntaxError{
			line: s.nextLine, lineStart: s.next, offset: s.next,
			message: fmt.Sprintf("record is longer than %d KiB", maxRecord>>10),
			hint:    "a double quote that is never closed may be the cause",
		}
		s.restart(s.lineAfter(s.next), s.nextLine+1)
		return fault
	}

	lineStart := s.next + 1 + bytes.LastIndexByte(s.data[s.next:start], '\n')
	fault := &syntaxError{
		line:      s.nextLine + bytes.Count(s.data[s.next:lineStart], []byte("\n")),
		lineStart: lineStart,
		offset:    start,
	}
	if errors.Is(reason, csv.ErrBareQuote) {
		fault.offset += bytes.IndexByte(s.data[start:], '"')
		fault.message = "found a double quote in a cell that does not begin with one"
		fault.hint = `put the whole cell in double quotes and double every quote in it: "3"" hose"`
		s.pass(after)
		return fault
	}

	end, closed := s.closingQuote(start)
	over := bytes.Count(s.data[start:end], []byte("\n"))
	if closed && over == 0 {
		fault.offset = end
		fault.message = "found text after the closing double quote of a cell"
		fault.hint = `double every quote that belongs to the text: "3"" hose"`
		s.pass(after)
		return fault
	}
	fault.message = "this double quote opens a cell that is never closed"
	if closed {
		fault.message = fmt.Sprintf("this double quote opens a cell that ends on line %d, in the middle of a text",
			fault.line+over)
	}
	fault.hint = "close the cell with a double quote, or take this one away"
	s.restart(s.lineAfter(start), fault.line+1)
	return fault
}

// lineAfter returns the offset of the line after the one that holds offset.
func (s *scanner) lineAfter(offset int) int {
	if i := bytes.IndexByte(s.data[offset:], '\n'); i >= 0 {
		return offset + i + 1
	}
	return len(s.data)
}

func (s *scanner) quoteAt(offset int) bool {
	return offset < len(s.data) && s.data[offset] == '"'
}

// closingQuote returns the offset behind the quote that closes the cell which
// a quote at start opens, or the end of the data if there is none.
func (s *scanner) closingQuote(start int) (end int, found bool) {
	for at := start + 1; ; at += 2 {
		i := bytes.IndexByte(s.data[at:], '"')
		if i < 0 {
			return len(s.data), false
		}
		if at += i; !s.quoteAt(at + 1) {
			return at + 1, true
		}
	}
}

// columnAt returns the character, from 1, that stands at an offset of the line
// that begins at lineStart. Asked from left to right it counts each line once.
func (s *scanner) columnAt(lineStart, offset int) int {
	if lineStart != s.lineStart || offset < s.counted || s.column == 0 {
		s.lineStart, s.counted, s.column = lineStart, lineStart, 1
	}
	s.column += utf8.RuneCount(s.data[s.counted:offset])
	s.counted = offset
	return s.column
}
