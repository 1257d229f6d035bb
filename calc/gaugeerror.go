package calc

import (
	"fmt"
	"math"
	"slices"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// gaugeErrors lists the givens that stand for the errors of gauges.
func (m *Model) gaugeErrors() []*Quantity {
	var list []*Quantity
	for _, g := range m.Gauges {
		if g.offset != nil {
			list = append(list, g.offset)
		}
	}
	return list
}

// suspectGauges suspects every gauge that several readings share: one alone says
// no more of the gauge than of what it read. A row of a suspect sheet may say
// more of it, and is known by then.
func (c *compiler) suspectGauges() {
	for _, g := range c.model.Gauges {
		if g.offset == nil || g.taken < 2 || g.shared == 0 ||
			slices.ContainsFunc(c.model.Suspects, func(s *Suspect) bool { return s.Quantity == g.offset }) {
			continue
		}
		reach := suspectedSpreads * g.shared
		if span, ok := c.spanOf(g.offset); ok {
			reach = suspectedSpan * span
		}
		c.model.Suspects = append(c.model.Suspects,
			&Suspect{Quantity: g.offset, sheet: g.Sheet, prior: 1, from: -reach, to: reach,
				Row: &sheets.SuspectRow{Suspect: g.Row.Name,
					NextCheck: sheets.Cell{Text: "read one point of it with another gauge"}}})
	}
}

// spanOf is the span of the gauge whose error a quantity is, SI.
func (c *compiler) spanOf(offset *Quantity) (span float64, ok bool) {
	for _, g := range c.model.Gauges {
		if g.offset == offset && offset != nil && !g.relative {
			v, err := units.ParseValue(g.Span)
			return v.Unit.DiffToSI(v.Number), err == nil && v.HasUnit
		}
	}
	return 0, false
}

// lowerGauges puts the errors of the gauges onto the tape.
func (l *lowering) lowerGauges() {
	for _, e := range l.model.gaugeErrors() {
		e.value = l.given(e, 0)
		e.passed, e.spreadAt = e.value, l.tape.Constant(e.spread.value)
	}
	for _, g := range l.model.Gauges {
		g.leastAt = l.tape.Constant(g.least)
	}
}

// correct takes the gauge's error from what was read with it.
func (l *lowering) correct(q *Quantity, read tape.Register) tape.Register {
	e := l.errorIn(q)
	if q.relative {
		return l.tape.Mul(read, l.tape.Binary(tape.OpSub, l.tape.Constant(1), e))
	}
	return l.tape.Binary(tape.OpSub, read, e)
}

// errorIn is the gauge's error in a given. A case sheet that states a spread of its
// own for the given says all of how sure that is, so the error is not in its cases.
func (l *lowering) errorIn(q *Quantity) tape.Register {
	e := q.Gauge.offset.value
	for _, cs := range l.model.caseSheets {
		for _, g := range cs.given {
			if g.quantity != q || g.spread.kind == blankEntry {
				continue
			}
			if q.stated == tape.None {
				q.stated = l.tape.Input(0)
				e = l.tape.Mul(e, l.tape.Binary(tape.OpSub, l.tape.Constant(1), q.stated))
			}
			everywhere := scattered{input: q.stated, values: slices.Repeat([]float64{1}, len(cs.sheet.Cases))}
			cs.scatters = append(cs.scatters, everywhere)
		}
	}
	return e
}

// lowerGauged lowers what a gauge does to a quantity: formulas go on with what
// was read less the gauge's error.
func (l *lowering) lowerGauged(q *Quantity) {
	if !q.isGauged() {
		return
	}
	if q.IsFormula() {
		e := q.Gauge.offset.value
		if q.relative {
			q.shown = l.tape.Mul(q.value, l.tape.Binary(tape.OpAdd, l.tape.Constant(1), e))
		} else {
			q.shown, q.gauged.offset = l.tape.Binary(tape.OpAdd, q.value, e), e
		}
	}
	if !q.IsFormula() || q.use {
		q.raw = q.passed
		q.passed = l.correct(q, q.raw)
	}
}

// leastOfShared is what a misfit takes for the spread of a single reading where
// the gauge's step is not stated, as a share of the spread that all its readings
// have in common: a dial is read to about a tenth of its class. Without any,
// two readings of one gauge could not differ at all.
const leastOfShared = 0.1

// measure reads what a gauge's readings are sure to. The row that uses it first
// says which unit a bare number is in where the sheet does not.
func (g *gaugeReader) measure(gauge *Gauge, q *Quantity) bool {
	before := len(g.problems)
	var bare []sheets.Problem
	cell := func(column string) (units.Value, place, bool) {
		k, known := g.columns[column]
		if !known || gauge.Row.Cells[k].Blank() {
			return units.Value{}, place{}, false
		}
		at := placeIn(g.sheet, gauge.Row.Cells[k])
		v, err := units.ParseValue(at.cell.Text)
		switch {
		case err != nil:
			g.report(at.placed(err))
		case v.Number < 0:
			g.report(at.fault("the "+column+" of a gauge cannot be negative", ""))
		case !v.HasUnit && column != "class":
			v.Unit = q.Unit
			if head := g.sheet.Columns[k].Unit; !head.Blank() {
				v.Unit, _ = g.unitOf(placeIn(g.sheet, head))
			} else if v.Number != 0 && q.Unit.Symbol != "" {
				bare = append(bare, at.fault(fmt.Sprintf("the %s of %s has no unit, and is taken in that of %s, %s", column,
					gauge.Name, q.Name, q.Unit.Symbol), "write it as it stands on the dial, such as "+
					words.Quoted(at.cell.Text+" "+q.Unit.Difference().Symbol)))
			}
		case column == "class":
			u := v.Unit
			if head := g.sheet.Columns[k].Unit; !v.HasUnit && !head.Blank() {
				u, _ = g.unitOf(placeIn(g.sheet, head))
			}
			if u.Dim != (units.Dimension{}) {
				g.report(at.fault("the class of a gauge is a percentage of its span, and not in "+u.Symbol,
					"write it as 1.6; what the data sheet gives in "+u.Symbol+" goes into the column spread"))
			}
		}
		return v, at, err == nil
	}
	class, classAt, hasClass := cell("class")
	span, _, hasSpan := cell("span")
	step, stepAt, hasStep := cell("step")
	spread, spreadAt, hasSpread := cell("spread")
	if len(g.problems) > before {
		return false
	}
	switch {
	case hasSpread && spread.Unit.Symbol == "%" && q.Unit.Symbol != "%":
		gauge.relative, gauge.shared = true, spread.Unit.ToSI(spread.Number)
		gauge.typ = function.Type{}
	case hasSpread:
		gauge.shared, gauge.typ = spread.Unit.DiffToSI(spread.Number), typeOf(spread.Unit)
	case hasClass && hasSpan:
		share := class.Number / 100
		if class.HasUnit {
			share = class.Unit.ToSI(class.Number)
		}
		gauge.shared, gauge.typ = 2/math.Sqrt(3)*share*span.Unit.DiffToSI(span.Number), typeOf(span.Unit)
	case hasClass:
		g.report(classAt.fault("the class of a gauge is a percentage of its span, and "+gauge.Name+" has no span",
			"write its full scale into the column span"))
		return false
	case hasStep:
		gauge.typ = typeOf(step.Unit)
	}
	if hasStep {
		if !gauge.relative && step.Unit.Dim != gauge.typ.Dim {
			g.report(stepAt.fault(fmt.Sprintf("the step of %s is %s, but its span or spread is %s", gauge.Name,
				function.WithArticle(typeOf(step.Unit)), function.WithArticle(gauge.typ)), "correct one of the units"))
			return false
		}
		gauge.own = 2 * step.Unit.DiffToSI(step.Number) / math.Sqrt(12)
	}
	if !tape.Usable(gauge.shared) || !tape.Usable(gauge.own) {
		at := spreadAt
		if !hasSpread {
			at = placeIn(g.sheet, gauge.Row.Name)
		}
		g.report(at.fault("the numbers of "+gauge.Name+" are out of range", ""))
		return false
	}
	if gauge.least = gauge.own; gauge.own == 0 {
		gauge.least = leastOfShared * gauge.shared
	}
	gauge.typ.Point = false
	g.inputOf(gauge, q)
	for _, p := range bare {
		g.warn(p)
	}
	return true
}

// wholeSpread is the spread of a reading: its own, and the error that it shares.
func (g *gauged) wholeSpread(own, reading float64) float64 {
	if g == nil {
		return own
	}
	return hypot(own, math.Abs(g.sharedAt(reading)))
}

// sharedAt is the spread of a reading by the error that it shares with all others of
// the gauge; below 0 where an error that is a share makes the reading lower.
func (g *gauged) sharedAt(reading float64) float64 {
	if g.relative {
		return g.shared * reading
	}
	return g.shared
}

// ownWithin is what is each reading's own in its whole spread: the step, and the
// scatter of what was read several times.
func (g *gauged) ownWithin(whole, shared float64) float64 {
	const rounding = 1e-12 // of the squares
	if own := whole*whole - shared*shared; own > rounding*whole*whole {
		return math.Max(g.own, math.Sqrt(own))
	}
	return g.own
}

// offset is the input by which the gauge of a reading is off, tape.None where it
// has none of its own.
func (j *judgement) offset() tape.Register {
	if j.gauge == nil {
		return tape.None
	}
	return j.gauge.offset
}

// leastOwn is what a misfit takes for the spread that a reading of the gauge
// does not share with the others.
func (g *Gauge) leastOwn(reading float64) float64 {
	if g.relative && g.own == 0 {
		return g.least * math.Abs(reading)
	}
	return g.least
}

const (
	// suspectedSpan is the part of its span by which a gauge is suspected to be off.
	suspectedSpan = 0.25

	// suspectedSpreads is the same in spreads of its error, where no span is known.
	suspectedSpreads = 20
)
