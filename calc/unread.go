package calc

import (
	"slices"
	"strings"

	"rambook/sheets"
	"rambook/units"
)

// unread lists the columns of numbers of a sheet that is run which are named like no
// quantity and read by nothing: one of them may have been meant for a quantity. What
// has a note is there on purpose, and so is what a chart or a comparison names.
// Columns for which another name was proposed have their warning.
func (m *Model) unread(s *sheets.Sheet) []string {
	t := m.tables[s.Name]
	if t == nil || s.Made {
		return nil
	}
	var names []string
	for _, col := range t.columns {
		head := &s.Columns[col.index]
		if col.quantity == nil && !col.loaded && !col.absent && head.Note.Blank() && col.holdsNumbers() &&
			!m.namesColumn(s, col.name) && !slices.ContainsFunc(m.Warnings, func(p sheets.Problem) bool {
			return p.File == s.File && p.Line == int(head.Name.Line) && p.Column == int(head.Name.Column)
		}) {
			names = append(names, col.name)
		}
	}
	return names
}

// warnUnread warns of each sheet of cases that holds numbers and has no part in anything:
// none of its columns is named like a quantity, and nothing reads them. Where sheets are
// set aside, what reads it may be among those.
func (m *Model) warnUnread() (warnings []sheets.Problem) {
	if len(m.Book.Aside) > 0 {
		return nil
	}
	for _, s := range m.Book.Sheets {
		t := m.tables[s.Name]
		if t == nil || s.Made || s.Kind != sheets.Cases || s.Name == GaugeSheet || len(s.Cases) == 0 {
			continue
		}
		numbers := false
		used := slices.ContainsFunc(t.columns, func(col *column) bool {
			numbers = numbers || col.holdsNumbers()
			return col.quantity != nil || col.loaded || col.absent || m.aside[col.name] != nil || m.namesColumn(s, col.name)
		})
		if numbers && !used {
			warnings = append(warnings, placeIn(s, s.Key).fault(
				"no column of "+s.Name+" is named like a quantity, and nothing reads them, so nothing is computed or judged here",
				"name them like the rows that they are about; rambook aside "+s.Name+" sets the sheet aside"))
		}
	}
	return warnings
}

// holdsNumbers reports whether a column has a unit of numbers, or numbers in all cells
// that are not blank.
func (col *column) holdsNumbers() bool {
	if col.unit.Kind > units.Point {
		return false
	}
	if col.unit.Symbol != "" {
		return true
	}
	some := false
	for i := range col.sheet.Cases {
		cell := col.sheet.Cases[i].Cells[col.index]
		if cell.Blank() {
			continue
		}
		if v, is := valueOf(cell.Text); !is || v.Unit.Kind > units.Point {
			return false
		}
		some = true
	}
	return some
}

// namesColumn reports whether a chart or a comparison is about a column.
func (m *Model) namesColumn(s *sheets.Sheet, name string) bool {
	for _, chart := range m.Charts {
		for i := range chart.Lines {
			if l := &chart.Lines[i]; l.Sheet == s && slices.Contains([]string{l.Name, l.OverColumn, l.By}, name) {
				return true
			}
		}
	}
	for _, a := range m.Comparisons {
		o := &a.Options
		if (a.First == s.Name || a.Second == s.Name) && (slices.Contains(o.Show, name) || o.By == name ||
			a.Weight == name || strings.Contains(o.Where, name)) {
			return true
		}
	}
	return false
}
