package page

import (
	"context"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/problem"
	"rambook/units/words"
)

// LoggedSheet is a log with what it holds in a few numbers.
type LoggedSheet struct {
	Sheet *sheets.Sheet
	Log   *log.Log
	*log.Summary
}

// SummariseLogs reads the logs that were asked for by name, or all of a notebook
// that holds nothing else.
func SummariseLogs(book *sheets.Notebook, only []string) ([]LoggedSheet, []sheets.Problem, error) {
	onlyLogs := !slices.ContainsFunc(book.Sheets, func(s *sheets.Sheet) bool { return s.Kind != sheets.Log })
	var list []LoggedSheet
	var warnings []sheets.Problem
	for _, sheet := range book.Sheets {
		if sheet.Kind != sheets.Log || !onlyLogs && !slices.Contains(only, sheet.Name) {
			continue
		}
		l, problems := log.Open(sheet.File, sheet.Open)
		if l == nil {
			return nil, nil, problem.Wrong(problems...)
		}
		summary, end, problems := log.Summarise(context.Background(), l)
		if summary == nil {
			return nil, nil, problem.Wrong(problems...)
		}
		warnings = append(warnings, end.Words(l)...)
		list = append(list, LoggedSheet{sheet, l, summary})
	}
	return list, warnings, nil
}

// UnitOf is the unit of a column, for the digits of its numbers. One that cannot
// be read is shown as it stands.
func (l LoggedSheet) UnitOf(column int) units.Unit {
	text := l.Log.Columns[column].Unit
	if column == 0 && text == "" {
		text = "s"
	}
	u, err := units.Parse(text)
	if err != nil {
		return units.Unit{Symbol: text}
	}
	return u
}

// TimeText is a moment of the log for people.
func (l LoggedSheet) TimeText(t float64) string {
	switch {
	case t != t:
		return ""
	case l.Log.Dated:
		whole := math.Floor(t)
		at := time.Unix(l.Log.Midnight+int64(whole), int64((t-whole)*1e9)).UTC()
		return at.Round(time.Millisecond).Format("2006-01-02 15:04:05.999")
	}
	return strconv.FormatFloat(t, 'g', 10, 64) + " " + l.UnitOf(0).Symbol
}

// step is a time between two samples.
func (l LoggedSheet) step(t float64) string {
	unit := l.UnitOf(0).Symbol
	if l.Log.Dated {
		unit = "s"
	}
	return strconv.FormatFloat(t, 'g', 4, 64) + " " + unit
}

// LogTable lays out a log: one line for each column, and above them what is so
// of all.
func (s Layout) LogTable(l LoggedSheet) table.Table {
	t := table.Table{Title: l.Sheet.Name}
	rows := words.Counted(int(l.Rows), "row")
	if l.Rows > 0 {
		rows += " from " + l.TimeText(l.From) + " to " + l.TimeText(l.To)
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
	for i, col := range l.Log.Columns[1:] {
		sum := l.Columns[i+1]
		if col.Name == "" && sum.Count == 0 {
			continue
		}
		u := l.UnitOf(i + 1)
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
		c.name, c.unit, c.samples = append(c.name, Printable(col.Name)), append(c.unit, Printable(u.Symbol)),
			append(c.samples, samples)
		c.least, c.mean, c.greatest = append(c.least, number(sum.Least)), append(c.mean, number(sum.Mean)),
			append(c.greatest, number(sum.Greatest))
		t.Rows = append(t.Rows, table.Row{})
	}
	s.AddColumn(&t, "column", table.Left, c.name)
	s.AddColumn(&t, "unit", table.Left, c.unit)
	s.AddColumn(&t, "samples", table.Right, c.samples)
	s.AddColumn(&t, "least", table.Decimal, c.least)
	s.AddColumn(&t, "mean", table.Decimal, c.mean)
	s.AddColumn(&t, "greatest", table.Decimal, c.greatest)
	return t
}

// logRows are the columns of logs for other programs, with exact numbers.
func logRows(logs []LoggedSheet) table.Table {
	var t table.Table
	for _, head := range []string{"log", "column", "unit", "samples", "texts", "least", "mean", "greatest"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	for _, l := range logs {
		for i, col := range l.Log.Columns[1:] {
			sum := l.Columns[i+1]
			t.Rows = append(t.Rows, table.Row{Cells: []string{l.Sheet.Name, col.Name, col.Unit,
				strconv.FormatInt(sum.Count, 10), strconv.FormatInt(sum.Texts, 10),
				Shortest(sum.Least), Shortest(sum.Mean), Shortest(sum.Greatest)}})
		}
	}
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

func newJSONLog(l LoggedSheet) jsonLog {
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
		case l.Log.Dated:
			return l.TimeText(t)
		}
		return t
	}
	out := jsonLog{Sheet: l.Sheet.Name, Rows: l.Rows, From: moment(l.From), To: moment(l.To), Step: number(l.Step),
		Gaps: l.Gaps, LongestGap: l.LongestGap, Jumps: l.Jumps, Columns: []jsonLogColumn{}}
	for i, col := range l.Log.Columns[1:] {
		c := l.Columns[i+1]
		out.Columns = append(out.Columns, jsonLogColumn{col.Name, col.Unit, c.Count, number(c.Least), number(c.Mean),
			number(c.Greatest)})
	}
	return out
}

// TimeOf reads a moment in the unit of the log's clock.
func TimeOf(l *log.Log, text string) (float64, bool) {
	text = strings.TrimSpace(text)
	if l.Dated {
		return l.Moment(text)
	}
	v, err := units.ParseValue(text)
	clock := ClockUnit(l)
	switch {
	case err != nil, v.HasUnit && v.Unit.Dim != units.Time:
		return 0, false
	case v.HasUnit:
		return clock.FromSI(v.Unit.ToSI(v.Number)), true
	}
	return v.Number, true
}

// ClockUnit is the unit of a log's time.
func ClockUnit(l *log.Log) units.Unit {
	text := l.Columns[0].Unit
	if text == "" || l.Dated {
		text = "s"
	}
	u, err := units.Parse(text)
	if err != nil {
		return units.Unit{}
	}
	return u
}
