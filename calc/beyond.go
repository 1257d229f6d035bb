package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// classes are those of pressure gauges by EN 837-1, and from memory those of older
// scales, of electric instruments by IEC 60051 and the grades sold by the inch.
var classes = []float64{0.05, 0.1, 0.2, 0.25, 0.3, 0.5, 0.6, 1, 1.5, 1.6, 2, 2.5, 3, 4, 5}

// Misused lists what nothing can have shown: numbers beyond the span of the gauge that
// they were read with, which make an answer surer than the right gauge would, classes
// that are none, days to come and meters that run back.
func (m *Model) Misused() []sheets.Problem {
	return slices.Concat(m.offSeries(), m.beyondSpans(), m.ahead(), m.setBack(), m.fallen())
}

// offSeries lists the classes that no series has.
func (m *Model) offSeries() (list []sheets.Problem) {
	for _, g := range m.Gauges {
		class, err := units.ParseValue(g.Class)
		if err != nil || class.HasUnit && class.Unit.Symbol != "%" || slices.Contains(classes, class.Number) {
			continue
		}
		for i, col := range g.Sheet.Columns {
			if strings.EqualFold(col.Name.Text, "class") && (col.Unit.Blank() || col.Unit.Text == "%") {
				list = append(list, placeIn(g.Sheet, g.Row.Cells[i]).fault(
					g.Class+" is no class that gauges are usually of, such as 0.25, 0.6, 1, 1.6, 2.5 or 4",
					"a point left out? What a data sheet states otherwise goes into the column spread"))
			}
		}
	}
	return list
}

// beyondSpans lists the givens and readings that are larger than the full scale of
// the gauge they were read with. The zero of a temperature is no end of a scale.
func (m *Model) beyondSpans() (list []sheets.Problem) {
	look := func(q *Quantity, u units.Unit, s *sheets.Sheet, cell sheets.Cell, value float64) {
		g := m.Gauge(q.With)
		if g == nil || u.Kind != units.Ordinary || !tape.Usable(value) {
			return
		}
		span, err := units.ParseValue(g.Span)
		if err != nil || span.HasUnit && span.Unit.Dim != u.Dim {
			return
		}
		if !span.HasUnit {
			if span.Unit = q.Unit; g.offset != nil && !g.relative {
				span.Unit = g.offset.Unit // of the row that the gauge was measured in
			}
		}
		full := math.Abs(span.Unit.ToSI(span.Number))
		if math.Abs(value) <= full*(1+sameInUnits) {
			return
		}
		list = append(list, placeIn(s, cell).fault(
			fmt.Sprintf("%s reads %s, beyond the span %s of %s", q.Name, units.WithUnit(u.FromSI(value), u),
				units.WithUnit(u.FromSI(full), u), g.Name),
			"correct the number, its unit or the span, or name in with the gauge that it was read with"))
	}
	for _, q := range m.Quantities {
		switch {
		case q.Sheet == nil || q.Row == nil || q.With == "":
		case q.hasReading():
			look(q, q.Unit, q.Sheet, q.Row.Reading, q.reading.value)
		case !q.IsFormula() && q.entry.kind == numberEntry:
			look(q, q.Unit, q.Sheet, q.Row.Entry, q.entry.value)
		}
	}
	for _, cs := range m.caseSheets {
		column := func(q *Quantity, col *column) {
			for i := range min(len(cs.sheet.Cases), len(col.values)) {
				if cs.sheet.Made || q.With == "" {
					return
				}
				look(q, col.unit, cs.sheet, cs.sheet.Cases[i].Cells[col.index], col.values[i])
			}
		}
		for _, a := range cs.asked {
			column(a.quantity, a.column)
		}
		for _, g := range cs.given {
			column(g.quantity, g.column)
		}
	}
	return list
}

// sameInUnits is what is lost where the same number is in two units.
const sameInUnits = 1e-9

// ExchangedWith names the length that a given and it may have been typed in each
// other's rows with, "" for none: it is its limit, a given of the same sheet, and
// on the wrong side of it, as a rod that is wider than its bore.
func (j *Judged) ExchangedWith() string {
	q := j.Quantity
	if j.Verdict != Fail || q.IsFormula() || q.Sheet == nil || q.Unit.Dim != units.Length {
		return ""
	}
	for _, limit := range []struct {
		name   string
		entry  *entry
		broken bool
	}{{j.LowName, q.low, j.Value < j.Low}, {j.HighName, q.high, j.Value > j.High}} {
		if limit.name == "" || !limit.broken {
			continue
		}
		for _, other := range limit.entry.formula.uses() {
			if other.Name == limit.name && !other.IsFormula() && other.Sheet == q.Sheet {
				return other.Name
			}
		}
	}
	return ""
}
