package calc

import (
	"fmt"
	"math"
	"time"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// Entered is what the logbook has of a number as it stands now: the last line
// about it, if that left it so. It is nil if there is none.
func (m *Model) Entered(q *Quantity) *sheets.EntryRow {
	what, now := q.Name, q.Row.Entry.Text
	if q.IsFormula() {
		what, now = q.Name+".reading", q.Row.Reading.Text
	}
	logbook := m.Book.Logbook()
	if logbook == nil || now == "" {
		return nil
	}
	for i := len(logbook.Entries) - 1; i >= 0; i-- {
		if line := &logbook.Entries[i]; line.What.Text == what {
			if line.Is.Text == now {
				return line
			}
			return nil
		}
	}
	return nil
}

// warnOverdue warns of each gauge that was past its date when something was read
// with it. What nobody noted the time of may have been read today.
func (c *compiler) warnOverdue(today time.Time) {
	m := c.model
	late := map[*Gauge][]string{}
	add := func(g *Gauge, name, day string) {
		at := math.NaN()
		if v, err := units.ParseValue(firstDay(day)); err == nil && v.Unit.Kind == units.Date {
			at = v.Unit.ToSI(v.Number)
		} else if !today.IsZero() && !m.Book.Invented() { // nobody reads an invented machine today
			at, day = float64(today.Unix()), ""
		}
		if g == nil || !(at >= g.due+units.Day) {
			return
		}
		if day == "" {
			name += " (nobody noted when)"
		} else {
			name += " (" + firstDay(day) + ")"
		}
		late[g] = append(late[g], name)
	}
	for _, q := range m.Quantities {
		g := m.Gauge(q.With)
		if g == nil || !q.hasReading() && (q.IsFormula() || !q.isGiven()) {
			continue
		}
		if q.cycles != nil && q.cycles.reading != tape.None && q.cutting.log.Dated {
			continue // each of its cycles has a date
		}
		day := ""
		if line := m.Entered(q); line != nil {
			day = line.When.Text
		}
		add(g, q.Name, day)
	}
	for _, cs := range m.caseSheets {
		dates := m.dates(cs.sheet)
		if dates == nil {
			continue
		}
		read := func(q *Quantity, col *column) {
			for i := range cs.sheet.Cases {
				if day := cs.sheet.Cases[i].Cells[dates.index].Text; day != "" && i < len(col.values) &&
					tape.Usable(col.values[i]) {
					add(m.Gauge(q.With), q.Name+" of "+cs.sheet.Cases[i].Name.Text, day)
				}
			}
		}
		for _, a := range cs.asked {
			read(a.quantity, a.column)
		}
		for _, g := range cs.given {
			read(g.quantity, g.column)
		}
	}
	for _, g := range m.Gauges {
		if names := late[g]; len(names) > 0 {
			for i, col := range g.Sheet.Columns {
				if col.Name.Text == "due" {
					c.warn(placeIn(g.Sheet, g.Row.Cells[i]).fault(
						fmt.Sprintf("%s was due for calibration before it read %s", g.Name,
							words.Listed(names, mostNames)),
						"have it calibrated, and read again; until then these numbers may be off by more than their ±"))
				}
			}
		}
	}
}

// firstDay is the day of a moment.
func firstDay(text string) string { return text[:min(len(text), len(time.DateOnly))] }
