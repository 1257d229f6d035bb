package calc

import (
	"math"
	"slices"

	"rambook/sheets"
)

// dates is the column that says when a case was, nil for a sheet of cases without, or
// whose dates are about something else: a given's, unless that is a clock.
func (m *Model) dates(s *sheets.Sheet) *column {
	t := m.tables[s.Name]
	if t == nil {
		return nil
	}
	name := m.DateColumn(s)
	if q := m.byName[name]; name == "" || q != nil && !slices.Contains(m.clocks(), q) {
		return nil
	}
	return t.column(name)
}

// unvisited marks the cases that have a date and nothing else that the model reads: what
// was read then is still to be typed. nil where there are none.
func (m *Model) unvisited(cs *caseSheet) []bool {
	dates := m.dates(cs.sheet)
	if dates == nil || cs.sheet.Made {
		return nil
	}
	var list []bool
	for i := range cs.sheet.Cases {
		cells := cs.sheet.Cases[i].Cells
		if cells[dates.index].Blank() || slices.ContainsFunc(m.tables[cs.sheet.Name].columns, func(col *column) bool {
			return col.quantity != nil && !cells[col.index].Blank()
		}) {
			continue
		}
		if list == nil {
			list = make([]bool, len(cs.sheet.Cases))
		}
		list[i] = true
	}
	return list
}

// leaveOpen takes the verdicts of a case back that the notebook's own numbers alone have
// led to: they are about today, and not about the day of the case.
func (c *Case) leaveOpen(cs *caseSheet, judged []*judgedColumn) {
	first, open, some := 0, false, false
	for k := len(c.Values) - 1; k >= 0; k-- {
		v := &c.Values[k]
		switch {
		case v.Verdict == NoVerdict:
		case !judged[k].beside && v.Verdict == Open:
			open = true
		default:
			v.Verdict, v.Inside, some = NoVerdict, math.NaN(), true
			if !judged[k].beside {
				first = k
			}
		}
	}
	if some && !open {
		v := &c.Values[first]
		v.Verdict = Open
		v.Needs = []Need{{Name: "a number in " + cs.sheet.Name + "[" + c.Name + "]", Sheet: cs.sheet.Name,
			File: cs.sheet.File, Line: c.Row.Name.Line}}
	}
}
