package log

import (
	"bufio"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
)

// Taken is what a conversion wrote and left out.
type Taken struct {
	Rows        int64
	First, Last string // the first and the last time
	LeftOut     int    // lines that are no rows
	LeftOutAt   int    // the first of them
	NoNumber    int    // cells that hold something else, left blank
	NoNumberAt  int    // line of the first of them
	NoNumberIs  string
	NoTime      int // rows without a time, left out
	NoTimeAt    int
	NoTimeIs    string
	Standing    int // rows whose time does not go on
	StandingAt  int
	Ranges      []Range // of the columns, in the order in which they are wanted
}

// Range is from where to where the numbers of a column go. It is empty, Least above
// Greatest, where none stands there.
type Range struct{ Least, Greatest float64 }

// Wanted is a column of the log that is made of an export.
type Wanted struct {
	Column     int // of the export
	Name, Unit string
}

// header is the column's cell in the first line of the log.
func (c Wanted) header() string {
	if c.Unit == "" {
		return c.Name
	}
	return c.Name + " [" + c.Unit + "]"
}

// Take writes the columns of an export as a log.
func (e *Export) Take(r io.Reader, w io.Writer, columns []Wanted, clockUnit string) (*Taken, error) {
	out := bufio.NewWriterSize(w, 1<<16)
	time := Wanted{Name: "time"}
	switch e.Dates {
	case Clock:
		time.Unit = clockUnit
	case TimeOfDay:
		time.Unit = "s"
	}
	header := []string{time.header()}
	for _, c := range columns {
		header = append(header, c.header())
	}
	names := csv.NewWriter(out) // a recorder's unit may hold a quote or a comma
	if err := names.Write(header); err != nil {
		return nil, err
	}
	names.Flush()
	t := &Taken{Ranges: slices.Repeat([]Range{{math.Inf(1), math.Inf(-1)}}, len(columns))}
	days, before := 0, -1.0 // midnights passed, where times have no date
	lines := e.Lines(r)
	for lines.Next() {
		row, ok := e.Row(lines.Text())
		if !ok {
			if len(row) == 1 && row[0] == "" {
				continue
			}
			if t.LeftOut++; t.LeftOut == 1 {
				t.LeftOutAt = lines.Number
			}
			continue
		}
		when, err := e.When(row)
		if err != nil {
			if t.NoTime++; t.NoTime == 1 {
				t.NoTimeAt, t.NoTimeIs = lines.Number, row[e.Time]
			}
			continue
		}
		if e.Dates == TimeOfDay || e.Dates == Clock {
			at, _ := strconv.ParseFloat(when, 64)
			if e.Dates == TimeOfDay {
				if at+43200 < before { // past midnight
					days++
				}
				before = at
				if days > 0 {
					when = strconv.FormatFloat(at+86400*float64(days), 'f', -1, 64)
				}
			} else {
				if t.Rows > 0 && at <= before {
					t.standing(lines.Number)
				}
				before = at
			}
		}
		if e.Dates != Clock && t.Rows > 0 && when == t.Last {
			t.standing(lines.Number)
		}
		if t.Rows == 0 {
			t.First = when
		}
		t.Last = when
		out.WriteString(when)
		for i, c := range columns {
			out.WriteByte(',')
			text := e.number(row[c.Column])
			if x, ok := number([]byte(text)); ok {
				t.Ranges[i] = Range{min(t.Ranges[i].Least, x), max(t.Ranges[i].Greatest, x)}
				out.WriteString(text)
				continue
			}
			if !isGap([]byte(text)) && text != "-" && text != "---" {
				if t.NoNumber++; t.NoNumber == 1 {
					t.NoNumberAt, t.NoNumberIs = lines.Number, row[c.Column]
				}
			}
		}
		if err := out.WriteByte('\n'); err != nil {
			return nil, err
		}
		t.Rows++
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("line %d: %w", lines.Number, err)
	}
	return t, out.Flush()
}

func (t *Taken) standing(line int) {
	if t.Standing++; t.Standing == 1 {
		t.StandingAt = line
	}
}
