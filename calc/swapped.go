package calc

import (
	"fmt"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// mostSwapped is among how many readings that differ two are looked for that stand in each
// other's rows. Where more differ something else is wrong.
const mostSwapped = 100

// warnSwapped lists readings that differ from what is computed in their rows, and would
// agree if each stood in the row of another: they may have been typed into each other's.
func (m *Model) warnSwapped(r *Report) (warnings []sheets.Problem) {
	look := func(values []*Judged, where func(*Judged) (name string, at place)) {
		if len(values) > mostSwapped {
			return
		}
		told := map[*Judged]bool{}
		for i, a := range values {
			for _, b := range values[i+1:] {
				if told[a] || told[b] || !a.fitsIn(b) || !b.fitsIn(a) {
					continue
				}
				told[a], told[b] = true, true
				one, at := where(a)
				other, _ := where(b)
				warnings = append(warnings, at.fault(fmt.Sprintf(
					"%s and %s may stand in each other's rows: %s and %s differ from what is computed, and would agree there",
					one, other, units.WithUnit(a.Reading, a.Unit), units.WithUnit(b.Reading, b.Unit)),
					"look which of the two was read where"))
			}
		}
	}
	var values []*Judged
	for i := range r.Quantities {
		if j := &r.Quantities[i]; j.Agreement > 1 && j.Quantity.reading.formula == nil {
			values = append(values, j)
		}
	}
	look(values, func(j *Judged) (string, place) {
		return j.Quantity.Name, placeIn(j.Quantity.Sheet, j.Quantity.Row.Reading)
	})
	for i, cs := range m.caseSheets {
		for k := range r.Cases[i].Cases {
			c := &r.Cases[i].Cases[k]
			values = values[:0]
			for n := range c.Values {
				if c.Values[n].Agreement > 1 && !cs.sheet.Made {
					values = append(values, &c.Values[n])
				}
			}
			look(values, func(j *Judged) (string, place) {
				col := m.tables[cs.sheet.Name].column(j.Quantity.Name)
				return fmt.Sprintf("%s[%s].%s", cs.sheet.Name, c.Name, j.Quantity.Name), placeIn(cs.sheet, c.Row.Cells[col.index])
			})
		}
	}
	return warnings
}

// fitsIn reports whether a reading agrees with what is computed in another row (E_n up to
// 1, ISO 13528), which a slip of the hand may have put it beside.
func (j *Judged) fitsIn(other *Judged) bool {
	if j.Unit.Dim != other.Unit.Dim || j.Unit.Kind != other.Unit.Kind {
		return false
	}
	si := func(v float64, u units.Unit) float64 { return u.Difference().ToSI(v) }
	e := agreement(j.Unit.ToSI(j.Reading), si(j.ReadingSpread, j.Unit), other.Unit.ToSI(other.Value),
		si(other.Spread, other.Unit))
	return tape.Usable(e) && e <= 1
}
