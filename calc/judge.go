package calc

import (
	"math"

	"rambook/calc/tape"
)

// judgement is all that is asked of one quantity in one run: the registers
// of its value and spread, of its limits, and of their distances from it.
type judgement struct {
	value, spread         tape.Register
	reading               entry         // the row's own; a case has its own instead
	readingSpread         tape.Register // of an absolute spread; none
	readingShare          float64       // of a spread that is a share of the reading; NaN
	low, high             tape.Register
	lowMargin, highMargin tape.Register // none unless the limit is a formula
	lowSpread, highSpread tape.Register // of the limits themselves
	marginLow, marginHigh tape.Register // spreads of the margins
}

// registers lists the judgement's outputs in the order that at reads them.
func (j *judgement) registers() []tape.Register {
	return []tape.Register{j.value, j.spread, j.readingSpread, j.low, j.high, j.lowSpread, j.highSpread, j.marginLow, j.marginHigh}
}

const judgementSize = 9

// measured is a judgement's outputs in one case, SI, NaN where absent.
type measured struct {
	value, spread, readingSpread, low, high, lowSpread, highSpread, marginLow, marginHigh float64
}

// judge fills in what a run says of one quantity. reading is SI or NaN.
func (j *judgement) judge(out *Judged, v measured, reading float64) {
	u := out.Unit
	point := func(x float64) float64 {
		if !tape.Usable(x) {
			return math.NaN()
		}
		return u.FromSI(x)
	}
	spread := func(x float64) float64 {
		if !tape.Usable(x) {
			return math.NaN()
		}
		return u.DiffFromSI(x)
	}
	readingSpread := v.readingSpread
	if Has(j.readingShare) && Has(reading) {
		readingSpread = j.readingShare * math.Abs(reading)
	}
	if !Has(reading) {
		readingSpread = math.NaN()
	}
	limits := interval{value: v.value, low: v.low, high: v.high, lowSpread: v.spread, highSpread: v.spread}
	switch {
	case Has(reading):
		limits.value = reading
		limits.lowSpread, limits.highSpread = hypot(readingSpread, v.lowSpread), hypot(readingSpread, v.highSpread)
	default:
		if j.lowMargin != tape.None {
			limits.lowSpread = v.marginLow
		}
		if j.highMargin != tape.None {
			limits.highSpread = v.marginHigh
		}
	}
	out.Value, out.Spread = point(v.value), spread(v.spread)
	if !Has(out.Value) {
		out.Spread = math.NaN()
	}
	out.Reading, out.ReadingSpread = point(reading), spread(readingSpread)
	out.Low, out.High = point(v.low), point(v.high)
	out.Agreement, out.Inside = math.NaN(), math.NaN()
	if Has(reading) && Has(out.Value) {
		out.Agreement = agreement(reading, readingSpread, v.value, v.spread)
	}
	open := len(out.Needs) > 0 || out.Error != ""
	limitMissing := j.low != tape.None && !Has(out.Low) || j.high != tape.None && !Has(out.High)
	switch {
	case open && !Has(reading) || limitMissing:
		out.Verdict = Open
	default:
		if tape.Usable(limits.value) {
			out.Verdict = limits.verdict()
			out.Inside = limits.inside()
		}
	}
}

// judgementOf prepares the judgement of a quantity with the model's own
// spread and limits.
func (q *Quantity) judgement() judgement {
	j := judgement{value: q.value, spread: tape.None, reading: q.reading, readingSpread: tape.None, readingShare: math.NaN(),
		low: q.lowAt, high: q.highAt, lowMargin: q.lowMargin, highMargin: q.highMargin}
	j.readingSpreadFrom(q.spread, q.spreadAt, q.IsFormula())
	return j
}

// readingSpreadFrom takes the spread cell of a formula as its reading's.
func (j *judgement) readingSpreadFrom(e entry, at tape.Register, formula bool) {
	if !formula || e.kind == blankEntry {
		return
	}
	j.readingSpread, j.readingShare = at, math.NaN()
	if e.kind == percentEntry {
		j.readingShare = e.value
	}
}

// roots lists the registers whose derivatives the judgement needs.
func (j *judgement) roots() []tape.Register {
	return []tape.Register{j.value, j.low, j.high, j.lowMargin, j.highMargin}
}

// addSpreads appends the spreads that the judgement needs.
func (j *judgement) addSpreads(s *tape.Spreads) {
	j.spread = s.Spread(j.value)
	j.lowSpread, j.highSpread = s.Spread(j.low), s.Spread(j.high)
	j.marginLow, j.marginHigh = s.Spread(j.lowMargin), s.Spread(j.highMargin)
}
