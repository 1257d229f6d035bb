package sheets

import (
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"rambook/units/words"
)

// Limits of one file. Up to them everything works; beyond them is an error.
const (
	MaxFileSize = 64 << 20   // bytes of a file
	MaxCellSize = 64 << 10   // bytes of a cell
	MaxRows     = 2_000_000  // records below the header
	maxColumns  = 1_000      // cells of a header
	maxCells    = 16_000_000 // cells of a case sheet, blank ones included
	maxProblems = 10_000     // problems of a file, after which reading stops
)

// Read reads one CSV file. The file is named in problems as given; the sheet's
// name is made from it. A file that is refused as a whole gives a nil sheet;
// after any other problem reading goes on, so that the sheet holds all that
// could be read.
func Read(file string, data []byte) (*Sheet, []Problem) { return readText(file, string(data)) }

// readText is Read of a text.
func readText(file, text string) (*Sheet, []Problem) {
	r := &reader{
		sheet: &Sheet{File: file, Name: SheetName(file), data: text},
		scan:  newScanner(text),
	}
	if refusal := refuse(r.scan); refusal != nil {
		refusal.File = file
		return nil, []Problem{*refusal}
	}
	r.loneCR = strings.Count(text, "\r") > strings.Count(text, "\r\n")
	if !r.readSheet() {
		return nil, r.problems
	}
	return r.sheet, r.problems
}

// SheetName is the name of the sheet in a file: its name without .csv and without a leading number and
// dash.
func SheetName(file string) string {
	base := filepath.Base(file)
	if ext := filepath.Ext(base); strings.EqualFold(ext, ".csv") {
		base = strings.TrimSuffix(base, ext)
	}
	name := strings.TrimLeft(base, "0123456789")
	if after, found := strings.CutPrefix(name, "-"); found && name != base {
		return after
	}
	return base
}

// reader reads the records of one file into a sheet.
type reader struct {
	sheet    *Sheet
	scan     *scanner
	loneCR   bool // the file has a carriage return without a line feed
	problems []Problem

	record   []Cell // the last record; the next one overwrites it
	heading  string
	overlong bool // the last record has more cells than the header
	width    int  // cells of the header as it stands, blank ones included
	rows     int  // records below the header
}

// readSheet reads the whole file; false means that it is refused.
func (r *reader) readSheet() bool {
	s := r.sheet
	if !r.next() {
		if len(r.problems) == 0 {
			r.problems = append(r.problems, Problem{
				File: s.File, Message: "file is empty, expected a header",
				Hint: "the first line of a quantity sheet is name,entry,unit",
			})
		}
		return false
	}
	header := r.record
	r.width = len(header)
	for len(header) > 0 && header[len(header)-1].Blank() {
		header = header[:len(header)-1]
	}
	s.header = append([]Cell(nil), header...)
	if len(header) > maxColumns {
		r.addAt(s.header[maxColumns], fmt.Sprintf("sheet has %d columns, the limit is %d", len(header), maxColumns), "")
		return false
	}
	first := s.header[0]
	for _, k := range kinds {
		if strings.EqualFold(first.Text, k.first) && (k.and == "" || r.heads(k.and)) {
			s.Kind = k.kind
			k.read(r)
			return true
		}
	}
	if r.next() && strings.HasPrefix(r.record[0].Text, ":") {
		s.Kind = Cases
		r.readCases()
		return true
	}
	if isTime(first.Text) {
		s.Kind, s.open = Log, inMemory(s.File, r.scan.data)
		return true
	}
	hint := "a quantity sheet begins with `name`, a suspect sheet with `suspect`, one of charts with `chart`; " +
		"in a case sheet the row below the header begins with `:unit`"
	if r.samplesFollow() {
		hint = TakeHint
	}
	r.addAt(first, fmt.Sprintf("the first header, %s, is that of no kind of sheet", words.Quoted(first.Text)), hint)
	return false
}

// samplesFollow reports whether the record at hand or one of the next begins with a
// number, a date or a time of day, as the lines of a recorder do and those of no other
// sheet.
func (r *reader) samplesFollow() bool {
	const looks = 20 // recorders write some lines about themselves first
	for range looks {
		if first := strings.TrimSpace(r.record[0].Text); len(r.record) > 1 &&
			strings.Trim(first, "0123456789.:-/TZ ") == "" &&
			strings.ContainsAny(first, "0123456789") {
			return true
		}
		if !r.next() {
			break
		}
	}
	return false
}

// kinds are the kinds of sheets that are known by their first header.
var kinds = []struct {
	first, and string // and by another header, where it is not ""
	kind       Kind
	read       func(*reader)
}{
	{"name", "", Quantities, (*reader).readQuantities},
	{"suspect", "", Suspects, func(r *reader) { readRecords(r, suspectLayout(), &r.sheet.Suspects) }},
	{"phase", "", Phases, func(r *reader) { readRecords(r, phaseLayout(), &r.sheet.Phases, "from", "to") }},
	{"given", "correlation", Correlations,
		func(r *reader) { readRecords(r, correlationLayout(), &r.sheet.Correlations) }},
	{"unknown", "", Unknowns, func(r *reader) { readRecords(r, unknownLayout(), &r.sheet.Unknowns) }},
	{"chart", "", Charts, func(r *reader) { readRecords(r, chartLayout(), &r.sheet.Charts, "value") }},
	{"compare", "", Comparisons, func(r *reader) { readRecords(r, compareLayout(), &r.sheet.Comparisons) }},
	{"when", "what", Logbook, (*reader).readEntries},
}

// heads reports whether a column has this header.
func (r *reader) heads(name string) bool {
	return slices.ContainsFunc(r.sheet.header, func(h Cell) bool { return strings.EqualFold(h.Text, name) })
}

// next reads the next record that is not blank into r.record, reports the ones
// that cannot be read, and is false at the end.
func (r *reader) next() bool {
	for len(r.problems) < maxProblems {
		err := r.scan.row()
		if err == io.EOF {
			return false
		}
		if fault, ok := err.(*syntaxError); ok {
			r.add(Problem{
				File: r.sheet.File, Line: fault.line,
				Column:  r.scan.columnAt(fault.lineStart, fault.offset),
				Message: fault.message, Hint: fault.hint,
			})
			continue
		}
		r.heading = r.scan.heading
		r.record = slices.Grow(r.record[:0], len(r.scan.fields))
		blank := true
		for _, f := range r.scan.fields {
			c := r.cell(f)
			blank = blank && c.Blank()
			r.record = append(r.record, c)
		}
		if !blank {
			return true
		}
	}
	r.problems = append(r.problems, Problem{
		File: r.sheet.File, Line: r.scan.nextLine,
		Message: fmt.Sprintf("%d problems in this file: the rest was not read", len(r.problems)),
	})
	return false
}

// nextRow is next for the records below the header.
func (r *reader) nextRow() bool { return r.next() && r.fit() }

// fit counts a record below the header and holds it to the header's length. It
// is false if the limit of rows is passed.
func (r *reader) fit() bool {
	if r.rows++; r.rows > MaxRows {
		r.addAt(r.record[0], fmt.Sprintf("sheet has more than %d rows", MaxRows), "split the sheet")
		return false
	}
	// A spreadsheet fills short lines up with blank cells, the header too.
	r.overlong = len(r.record) > r.width
	if r.overlong {
		hint := "put a formula that holds a comma in double quotes"
		if !slices.ContainsFunc(r.record[r.width:], func(c Cell) bool { return !c.Blank() }) {
			hint = "take away the commas that are too many at its end"
		}
		r.addAt(r.record[r.width], fmt.Sprintf("record has %d cells, the header %d", len(r.record), r.width), hint)
	}
	width := len(r.sheet.header)
	for i := width; i < min(len(r.record), r.width); i++ {
		if !r.record[i].Blank() {
			r.addAt(r.record[i], "the cell has no header", "give its column a header, or clear the cell")
			r.overlong = true
			break
		}
	}
	r.record = r.record[:min(width, len(r.record))]
	return true
}

// rowsAhead is the most rows that the rest of the file can hold. Making room
// for them at once saves copying what may be hundreds of megabytes.
func (r *reader) rowsAhead() int {
	return min(1+strings.Count(r.scan.data[r.scan.next:], "\n"), MaxRows)
}

// cell makes a Cell of a field.
func (r *reader) cell(f field) Cell {
	data := r.sheet.data
	c := Cell{Line: int32(f.line), Quoted: f.end > f.start && data[f.start] == '"'}
	at := place{f.start, f.line, r.scan.columnAt(f.lineStart, f.start)}
	if c.Text = strings.TrimSpace(f.text); c.Text != "" {
		if c.Quoted {
			at.offset++
			at.column++
		}
		lead := strings.Index(f.text, c.Text)
		at = at.forward(data, utf8.RuneCountInString(f.text[:lead]), c.Quoted)
	}
	c.Line, c.Column, c.offset = int32(at.line), int32(at.column), uint32(at.offset)

	if len(c.Text) > MaxCellSize {
		size := len(c.Text)
		c.Text = ""
		r.addAt(c, fmt.Sprintf("cell holds %d bytes, the limit is %d KiB", size, MaxCellSize>>10), "")
	}
	if r.loneCR && !c.Quoted {
		if i := strings.IndexByte(c.Text, '\r'); i >= 0 {
			from := utf8.RuneCountInString(c.Text[:i])
			r.add(r.sheet.Problem(c, from, from+1, "found a lone carriage return in a cell",
				"save the file with the line ends LF or CRLF"))
		}
	}
	return c
}

func (r *reader) add(p Problem) { r.problems = append(r.problems, p) }

// addAt reports a problem of a whole cell.
func (r *reader) addAt(c Cell, message, hint string) { r.add(r.sheet.whole(c, message, hint)) }
