package main

import (
	"context"
	"math"
	"slices"
	"strconv"
	"time"

	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/sheets/table"
	"rambook/units"
	told "rambook/units/problem"
	"rambook/units/words"
)

// loggedSheet is a log with what it holds in a few numbers.
type loggedSheet struct {
	sheet *sheets.Sheet
	log   *log.Log
	*log.Summary
}

// summariseLogs reads the logs that were asked for by name, or all of a notebook
// that holds nothing else.
func summariseLogs(book *sheets.Notebook, only []string) ([]loggedSheet, []sheets.Problem, error) {
	onlyLogs := !slices.ContainsFunc(book.Sheets, func(s *sheets.Sheet) bool { return s.Kind != sheets.Log })
	var list []loggedSheet
	var warnings []sheets.Problem
	for _, sheet := range book.Sheets {
		if sheet.Kind != sheets.Log || !onlyLogs && !slices.Contains(only, sheet.Name) {
			continue
		}
		l, problems := log.Open(sheet.File, sheet.Open)
		if l == nil {
			return nil, nil, told.Wrong(problems...)
		}
		summary, end, problems := log.Summarise(context.Background(), l)
		if summary == nil {
			return nil, nil, told.Wrong(problems...)
		}
		warnings = append(warnings, end.Words(l)...)
		list = append(list, loggedSheet{sheet, l, summary})
	}
	return list, warnings, nil
}

// unitOf is the unit of a column, for the digits of its numbers. One that cannot
// be read is shown as it stands.
func (l loggedSheet) unitOf(column int) units.Unit {
	text := l.log.Columns[column].Unit
	if column == 0 && text == "" {
		text = "s"
	}
	u, err := units.Parse(text)
	if err != nil {
		return units.Unit{Symbol: text}
	}
	return u
}

// timeText is a moment of the log for people.
func (l loggedSheet) timeText(t float64) string {
	switch {
	case t != t:
		return ""
	case l.log.Dated:
		whole := math.Floor(t)
		at := time.Unix(l.log.Midnight+int64(whole), int64((t-whole)*1e9)).UTC()
		return at.Round(time.Millisecond).Format("2006-01-02 15:04:05.999")
	}
	return strconv.FormatFloat(t, 'g', 10, 64) + " " + l.unitOf(0).Symbol
}

// step is a time between two samples.
func (l loggedSheet) step(t float64) string {
	unit := l.unitOf(0).Symbol
	if l.log.Dated {
		unit = "s"
	}
	return strconv.FormatFloat(t, 'g', 4, 64) + " " + unit
}

// logTable lays out a log: one line for each column, and above them what is so
// of all.
func (s screen) logTable(l loggedSheet) table.Table {
	t := table.Table{Title: l.sheet.Name}
	rows := words.Counted(int(l.Rows), "row")
	if l.Rows > 0 {
		rows += " from " + l.timeText(l.From) + " to " + l.timeText(l.To)
	}
	if l.Step == l.Step {
		rows += ", one each " + l.step(l.Step)
	}
	switch {
	case l.Gaps == 1:
		rows += ", a gap of " + l.step(l.LongestGap)
	case l.Gaps > 1:
		rows += ", " + words.Counted(l.Gaps, "gap") + " of up to " + l.step(l.LongestGap)
	case l.Rows > 1:
		rows += ", no gap"
	}
	if l.Jumps > 0 {
		rows += "; the clock goes back or stands still " + words.Counted(l.Jumps, "time")
	}
	t.Note = rows + "."
	type columnCells struct{ name, unit, samples, least, mean, greatest []string }
	var c columnCells
	for i, col := range l.log.Columns[1:] {
		sum := l.Columns[i+1]
		if col.Name == "" && sum.Count == 0 {
			continue
		}
		u := l.unitOf(i + 1)
		number := func(x float64) string {
			if x != x {
				return ""
			}
			return strconv.FormatFloat(x, 'g', 5, 64)
		}
		samples := strconv.FormatInt(sum.Count, 10)
		if sum.Texts > 0 {
			samples += ", " + words.Counted(int(sum.Texts), "text")
		}
		c.name, c.unit, c.samples = append(c.name, printable(col.Name)), append(c.unit, printable(u.Symbol)),
			append(c.samples, samples)
		c.least, c.mean, c.greatest = append(c.least, number(sum.Least)), append(c.mean, number(sum.Mean)),
			append(c.greatest, number(sum.Greatest))
		t.Rows = append(t.Rows, table.Row{})
	}
	s.addColumn(&t, "column", table.Left, c.name)
	s.addColumn(&t, "unit", table.Left, c.unit)
	s.addColumn(&t, "samples", table.Right, c.samples)
	s.addColumn(&t, "least", table.Decimal, c.least)
	s.addColumn(&t, "mean", table.Decimal, c.mean)
	s.addColumn(&t, "greatest", table.Decimal, c.greatest)
	return t
}

type jsonLog struct {
	Sheet      string          `json:"sheet"`
	Rows       int64           `json:"rows"`
	From       any             `json:"from,omitempty"`
	To         any             `json:"to,omitempty"`
	Step       *float64        `json:"step,omitempty"`
	Gaps       int             `json:"gaps"`
	LongestGap float64         `json:"longest_gap,omitempty"`
	Jumps      int             `json:"jumps"`
	Columns    []jsonLogColumn `json:"columns"`
}

type jsonLogColumn struct {
	Name     string   `json:"name"`
	Unit     string   `json:"unit"`
	Samples  int64    `json:"samples"`
	Least    *float64 `json:"least,omitempty"`
	Mean     *float64 `json:"mean,omitempty"`
	Greatest *float64 `json:"greatest,omitempty"`
}

func newJSONLog(l loggedSheet) jsonLog {
	number := func(x float64) *float64 {
		if x != x {
			return nil
		}
		return &x
	}
	moment := func(t float64) any {
		switch {
		case t != t:
			return nil
		case l.log.Dated:
			return l.timeText(t)
		}
		return t
	}
	out := jsonLog{Sheet: l.sheet.Name, Rows: l.Rows, From: moment(l.From), To: moment(l.To), Step: number(l.Step),
		Gaps: l.Gaps, LongestGap: l.LongestGap, Jumps: l.Jumps, Columns: []jsonLogColumn{}}
	for i, col := range l.log.Columns[1:] {
		c := l.Columns[i+1]
		out.Columns = append(out.Columns, jsonLogColumn{col.Name, col.Unit, c.Count, number(c.Least), number(c.Mean),
			number(c.Greatest)})
	}
	return out
}
