package calc

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/sorting"
)

// A clock is a given that says when a round is: the date of it, or the hours that a
// meter shows. It is known by what it is for: other givens, such as the hours at which
// a task was last done, may not be later than it. A date that is still to come, and a
// meter that runs back, would make what is due look as if it had been done.

// clocks lists the clocks of a notebook.
func (m *Model) clocks() []*Quantity {
	var list []*Quantity
	for _, q := range m.Quantities {
		if q.IsFormula() || q.high.kind != formulaEntry {
			continue
		}
		clock := m.byName[q.high.names()]
		if clock != nil && !clock.IsFormula() && clock.Sheet != nil && clock.Row != nil &&
			(clock.Unit.Kind == units.Date || clock.Unit.Kind == units.Ordinary && clock.Unit.Dim == units.Time) &&
			!slices.Contains(list, clock) {
			list = append(list, clock)
		}
	}
	return list
}

// ahead lists the clocks that show a day to come, the cases that have readings of such a
// day, and the gauges that are said to be calibrated on one.
func (m *Model) ahead() (list []sheets.Problem) {
	if m.today.IsZero() {
		return nil
	}
	today := m.today.Format(time.DateOnly)
	const hint = "write the day that was meant"
	for _, q := range m.clocks() {
		if q.Unit.Kind == units.Date && firstDay(q.Row.Entry.Text) > today {
			list = append(list, placeIn(q.Sheet, q.Row.Entry).fault(
				q.Name+" "+q.Row.Entry.Text+" is still to come: today is "+today, hint))
		}
	}
	for _, cs := range m.caseSheets {
		if cs.sheet.Made {
			continue
		}
		dates := m.dates(cs.sheet)
		for i := 0; dates != nil && i < len(cs.sheet.Cases); i++ {
			row := &cs.sheet.Cases[i]
			if date := row.Cells[dates.index]; firstDay(date.Text) > today && cs.isMeasured(i) {
				list = append(list, placeIn(cs.sheet, date).fault(fmt.Sprintf(
					"%s has readings of %s, which is still to come: today is %s", row.Name.Text, date.Text, today), hint))
			}
		}
	}
	for _, g := range m.Gauges {
		day, err := units.ParseValue(firstDay(g.Calibrated))
		if err != nil || day.Unit.Kind != units.Date || firstDay(g.Calibrated) <= today {
			continue
		}
		at := slices.IndexFunc(g.Sheet.Columns,
			func(col sheets.Column) bool { return strings.EqualFold(col.Name.Text, "calibrated") })
		list = append(list, placeIn(g.Sheet, g.Row.Cells[at]).fault(fmt.Sprintf(
			"%s was calibrated %s, which is still to come: today is %s", g.Name, g.Calibrated, today), hint))
	}
	return list
}

// isMeasured reports whether something was read for a case: a reading, or a given that
// is read with a gauge.
func (cs *caseSheet) isMeasured(i int) bool {
	return slices.ContainsFunc(cs.asked, func(a *judgedColumn) bool { return tape.Usable(a.column.values[i]) }) ||
		slices.ContainsFunc(cs.given, func(g *givenColumn) bool {
			return g.quantity.With != "" && tape.Usable(g.column.values[i])
		})
}

// SetBack lists the clocks that show less than they did in a notebook before.
func (m *Model) SetBack(before *Model) (list []sheets.Problem) {
	for _, q := range m.clocks() {
		if old := before.byName[q.Name]; old != nil && old.entry.kind == numberEntry {
			list = append(list, q.backFrom(old.entry.value)...)
		}
	}
	return list
}

// setBack lists the clocks that show less than before the last change that the logbook
// has of them.
func (m *Model) setBack() (list []sheets.Problem) {
	for _, q := range m.clocks() {
		line := m.Entered(q)
		if line == nil {
			continue
		}
		if was, err := units.ParseValue(line.Was.Text); err == nil {
			if was.Unit.Kind != units.Date && !was.HasUnit {
				was.Unit = q.Unit
			}
			if was.Unit.Dim == q.Unit.Dim {
				list = append(list, q.backFrom(was.Unit.ToSI(was.Number))...)
			}
		}
	}
	return list
}

// fallen lists the cases that have a meter show less than it did in the case whose date
// comes before. So it is with what cannot be later than the meter; there 0 is never.
func (m *Model) fallen() (list []sheets.Problem) {
	clocks := m.clocks()
	for _, cs := range m.caseSheets {
		dates := m.dates(cs.sheet)
		if dates == nil {
			continue
		}
		for _, g := range cs.given {
			q := g.quantity
			isClock := slices.Contains(clocks, q)
			if q.Unit.Kind == units.Date || !isClock && !slices.Contains(clocks, m.byName[q.high.names()]) {
				continue
			}
			shown, at := g.column.values, []int(nil)
			day := func(i int) string { return firstDay(cs.sheet.Cases[i].Cells[dates.index].Text) }
			for i, v := range shown {
				if tape.Usable(v) && day(i) != "" && (isClock || v > 0) {
					at = append(at, i)
				}
			}
			sorting.Stable(at, func(a, b int) int { return strings.Compare(day(a), day(b)) })
			for k := 1; k < len(at); k++ {
				now, then := at[k], at[k-1]
				if shown[now] >= shown[then] || day(now) == day(then) {
					continue
				}
				told := func(i int) string {
					return units.WithUnit(g.unit.FromSI(shown[i]), g.unit) + " of " + cs.sheet.Cases[i].Name.Text +
						" (" + day(i) + ")"
				}
				list = append(list, placeIn(cs.sheet, cs.sheet.Cases[now].Cells[g.column.index]).fault(
					q.Name+" "+told(now)+" is less than "+told(then)+": a meter does not run back",
					"write what it showed then; if it was changed for another, add the hours of the old one"))
			}
		}
	}
	return list
}

// backFrom is the problem of a clock that showed more before.
func (q *Quantity) backFrom(was float64) []sheets.Problem {
	if q.entry.kind != numberEntry || !(q.entry.value < was) {
		return nil
	}
	now, then := units.WithUnit(q.Unit.FromSI(q.entry.value), q.Unit), units.WithUnit(q.Unit.FromSI(was), q.Unit)
	message, hint := q.Name+" "+now+" is less than the "+then+" that stood there: a meter does not run back",
		"write what it shows now; if it was changed for another, type anew what was done at its hours"
	if q.Unit.Kind == units.Date {
		message, hint = q.Name+" "+now+" is before "+then+", which stood there", "write the day of this round"
	}
	return []sheets.Problem{placeIn(q.Sheet, q.Row.Entry).fault(message, hint)}
}
