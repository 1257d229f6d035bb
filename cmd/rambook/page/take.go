package page

import (
	"fmt"
	"strings"

	"rambook/sheets/log"
	"rambook/sheets/table"
	"rambook/units/words"
)

// TakenView puts what became of an export into words and a table.
type TakenView struct {
	File, Log string // the export and the log made of it
	Export    *log.Export
	Wanted    []log.Wanted
	Unknown   []string // units that are left out since nobody knows them
	Taken     *log.Taken
}

// Lines are what was understood, and what was left out.
func (v *TakenView) Lines() (lines []string) {
	e, t, unknown := v.Export, v.Taken, v.Unknown
	parted := map[byte]string{';': "semicolons", '\t': "tabs", ',': "commas", '|': "|"}[e.Separator]
	say := func(format string, args ...any) { lines = append(lines, fmt.Sprintf(format, args...)) }
	understood := []string{e.Encoding, "columns parted by " + parted}
	if e.Decimal == ',' {
		understood = append(understood, fmt.Sprintf("decimal comma (%s is %s)", e.Written[0], e.Written[1]))
	} else {
		understood = append(understood, "decimal point")
	}
	if e.Thousands != 0 {
		understood = append(understood, fmt.Sprintf("%q between thousands", string(e.Thousands)))
	}
	switch {
	case e.NoHeader:
		understood = append(understood, "no header")
	case e.Before > 0:
		understood = append(understood, words.Counted(e.Before, "line")+" before the header")
	}
	if e.UnitLine {
		understood = append(understood, "a line of units")
	}
	say("understood %s: %s.", Printable(v.File), strings.Join(understood, ", "))
	switch e.Dates {
	case log.Clock:
	case log.TimeOfDay:
		say("The times are times of day without a date, written as seconds since midnight: %s is %s.", e.Example[0],
			e.Example[1])
	default:
		say("Dates have the %s: %s is %s.", strings.Replace(string(e.Dates), "-", " ", 1), Printable(e.Example[0]),
			e.Example[1])
	}
	if e.Dates == log.Clock && e.Columns[e.Time].Unit == "" {
		head := words.Quoted(Printable(e.Columns[e.Time].Header))
		if e.NoHeader {
			head = fmt.Sprintf("column %d, which is taken for the time", e.Time+1)
		}
		say("No unit stands at %s: it counts as seconds. "+
			"If it numbers the samples, multiply it by the sampling step first.",
			head)
	}
	var texts []string
	for i, col := range e.Columns {
		if col.Texts && i != e.Time && !(e.Parted && i == e.Time+1) {
			texts = append(texts, Printable(col.Header))
		}
	}
	say("wrote %s: %s from %s to %s.", v.Log, words.Counted(int(t.Rows), "row"), t.First, t.Last)
	for _, left := range []struct {
		n    int
		text string
	}{
		{t.LeftOut, fmt.Sprintf("%s left out, with another number of cells; the first is line %d.",
			words.Counted(t.LeftOut, "line"), t.LeftOutAt)},
		{t.NoTime, fmt.Sprintf("%s left out, without a time; the first is line %d.", words.Counted(t.NoTime, "line"),
			t.NoTimeAt)},
		{t.NoNumber, fmt.Sprintf("%s left blank, holding no number; the first is %s in line %d.",
			words.Counted(t.NoNumber, "cell"), words.Quoted(Printable(t.NoNumberIs)), t.NoNumberAt)},
		{t.Standing, fmt.Sprintf(
			"The clock stands still or goes back in %s, first in line %d; cycles with such rows are left out.",
			words.Counted(t.Standing, "row"), t.StandingAt)},
		{len(texts), fmt.Sprintf("Left out, as texts or as numbers that can be read in more than one way: %s.",
			words.Listed(texts, 8))},
		{len(unknown), fmt.Sprintf("Not known as units, and left out: %s. --columns names others.",
			words.Listed(words.AllQuoted(unknown), 8))},
	} {
		if left.n > 0 {
			say("%s", left.text)
		}
	}
	return lines
}

// Table shows what became of each column.
func (v *TakenView) Table() table.Table {
	e := v.Export
	t := table.Table{Columns: []table.Column{{Header: "column"}, {Header: "of the export"}, {Header: "name"},
		{Header: "unit"}, {Header: "least", Align: table.Right}, {Header: "greatest", Align: table.Right}}}
	for i, col := range e.Columns {
		if col.Empty {
			continue
		}
		cells := []string{fmt.Sprint(i + 1), Printable(col.Header), "left out", "", "", ""}
		switch {
		case i == e.Time && e.Dates == log.Clock:
			cells[2], cells[3] = "time", col.Unit
		case i == e.Time, e.Parted && i == e.Time+1:
			cells[2] = "time"
		}
		for n, w := range v.Wanted {
			if w.Column == i {
				cells[2], cells[3] = w.Name, w.Unit
				if r := v.Taken.Ranges[n]; r.Least <= r.Greatest {
					cells[4], cells[5] = fmt.Sprint(r.Least), fmt.Sprint(r.Greatest)
				}
			}
		}
		t.Rows = append(t.Rows, table.Row{Cells: cells})
	}
	return t
}
