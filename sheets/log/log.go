// Package log reads logs: what a recorder sampled over time, in a CSV file that
// may be far larger than memory.
//
// The first header of a log is `time`, with its unit or without; the others are
// `NAME [UNIT]`. Times are numbers, or dates with a time of day. A blank cell is
// a gap: no sample of that column at that time.
//
//	time [s],pressure [MPa],position [mm]
//	0,0.52,400.00
//	0.001,0.51,399.98
//
// [Open] reads the header; [Read] takes the rows through in blocks, on every
// core and in order, with the memory of a few blocks. A number is the same as
// [strconv.ParseFloat] would make of it. What the cells mean is not known here.
package log

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"time"
	"unicode/utf8"

	"rambook/sheets"
	"rambook/units/words"
)

// Log is a log whose header is read.
type Log struct {
	Shown    string   // the file as the user knows it
	Columns  []Column // the first is the time
	Dated    bool     // the times are dates with a time of day
	Midnight int64    // Dated: times count from there, in seconds since 1970-01-01: the begin of the first row's day

	open  func() (fs.File, error)
	start int64 // of the first row, in bytes
	lines int   // lines before it
}

// Column is one column of a log.
type Column struct {
	Name, Unit   string // Unit as it stands between the brackets, "" if there is none
	Line, Column int    // where the header stands, from 1; Column in characters
}

// Column finds a column by its name, -1 if there is none.
func (l *Log) Column(name string) int {
	for i := range l.Columns {
		if l.Columns[i].Name == name {
			return i
		}
	}
	return -1
}

// Moment reads a date with a time of day, or a date alone, on the clock of a
// dated log.
func (l *Log) Moment(text string) (float64, bool) {
	if len(text) == len(dateForm) {
		text += " 00:00"
	}
	seconds, fraction, ok := dateTime([]byte(text))
	return float64(seconds-l.Midnight) + fraction, ok
}

const (
	headSize   = 1 << 20 // bytes in which the header and the first row have to stand
	maxColumns = 1_000
)

// Open reads the header of a log and looks at its first row. open opens the file
// anew each time.
func Open(shown string, open func() (fs.File, error)) (*Log, []sheets.Problem) {
	l := &Log{Shown: shown, open: open}
	refuse := func(line int, message, hint string) (*Log, []sheets.Problem) {
		return nil, []sheets.Problem{{File: shown, Line: line, Message: message, Hint: hint}}
	}
	f, err := open()
	if err != nil {
		return refuse(0, err.Error(), "")
	}
	defer f.Close()
	head, err := io.ReadAll(io.LimitReader(f, headSize))
	if err != nil {
		return refuse(0, err.Error(), "")
	}
	rest := bytes.TrimPrefix(head, []byte("\xef\xbb\xbf"))
	var header []byte
	for header == nil {
		line, after, ended := bytes.Cut(rest, []byte("\n"))
		if !ended {
			return refuse(l.lines+1, "found no line end in or behind the header of this log",
				"a log has a header and one line for each sample, as `rambook take` writes them")
		}
		rest = after
		l.lines++
		if line = bytes.TrimSpace(line); len(line) > 0 && line[0] != '#' {
			header = line
		}
	}
	l.start = int64(len(head) - len(rest))
	if problems := l.readHeader(string(header)); len(problems) > 0 {
		return nil, problems
	}
	l.lookAtTimes(rest)
	return l, nil
}

// readHeader takes the header line apart.
func (l *Log) readHeader(header string) (problems []sheets.Problem) {
	if !utf8.ValidString(header) {
		return []sheets.Problem{{File: l.Shown, Line: l.lines, Message: "the header is not UTF-8",
			Hint: "`rambook take` makes a log of such a file"}}
	}
	seen := map[string]bool{}
	for at, part := range fields(header) {
		name, unit := sheets.HeaderUnit(part)
		c := Column{Name: name, Unit: unit, Line: l.lines, Column: at}
		if name != "" && seen[name] {
			problems = append(problems, sheets.Problem{File: l.Shown, Line: l.lines, Column: at,
				Text: part, To: utf8.RuneCountInString(part),
				Message: fmt.Sprintf("column %s stands twice in the header of this log", words.Quoted(name)),
				Hint:    "rename one of the two"})
		}
		seen[name] = true
		l.Columns = append(l.Columns, c)
	}
	if len(l.Columns) > maxColumns {
		return []sheets.Problem{{File: l.Shown, Line: l.lines,
			Message: fmt.Sprintf("log has %d columns, the limit is %d", len(l.Columns), maxColumns)}}
	}
	return problems
}

// fields are the cells of a line, with their places, counted in characters from 1.
func fields(line string) func(func(at int, text string) bool) {
	return func(yield func(int, string) bool) {
		at := 1
		for more := true; more; {
			cell := line
			end := cellEnd([]byte(line))
			if more = end < len(line); more {
				cell, line = line[:end], line[end+1:]
			}
			text := strings.TrimSpace(cell)
			if inner, quoted := strings.CutPrefix(text, `"`); quoted {
				text = strings.TrimSpace(strings.ReplaceAll(strings.TrimSuffix(inner, `"`), `""`, `"`))
			}
			if !yield(at, text) {
				return
			}
			at += utf8.RuneCountInString(cell) + 1
		}
	}
}

// cellEnd is where the first cell of a line ends: at a comma outside quotes, or
// with the line.
func cellEnd(line []byte) int {
	quoted := false
	for i, c := range line {
		switch {
		case c == '"':
			quoted = !quoted
		case c == ',' && !quoted:
			return i
		}
	}
	return len(line)
}

// lookAtTimes finds out by the first row whether the times are dates.
func (l *Log) lookAtTimes(rest []byte) {
	for len(rest) > 0 {
		line, after, _ := bytes.Cut(rest, []byte("\n"))
		rest = after
		if line = bytes.TrimSpace(line); len(line) == 0 || line[0] == '#' {
			continue
		}
		cell := unquoted(line[:cellEnd(line)])
		if seconds, _, ok := dateTime(cell); ok {
			l.Dated = true
			day := time.Unix(seconds, 0).UTC().Truncate(24 * time.Hour)
			l.Midnight = day.Unix()
		}
		return
	}
}

// unquoted is a cell without the blanks and the quotes around it.
func unquoted(cell []byte) []byte {
	cell = bytes.TrimSpace(cell)
	if len(cell) >= 2 && cell[0] == '"' && cell[len(cell)-1] == '"' {
		cell = bytes.TrimSpace(cell[1 : len(cell)-1])
	}
	return cell
}
