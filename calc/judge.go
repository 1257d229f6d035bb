package calc

import (
	"fmt"
	"math"
	"slices"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// The numbers that a judgement takes from a run.
const (
	theValue = iota
	theSpread
	theShownSpread   // of what the gauge of the reading would show
	theReadingSpread // its own, where it is absolute
	theLow
	theHigh
	theLowSpread  // of the limits themselves,
	theHighSpread // where they are formulas
	theLowMargin  // spread of value - low, and
	theHighMargin // of value - high, where the limits are formulas
	facets
)

// judgement is all that is asked of one quantity in one run.
type judgement struct {
	at                [facets]tape.Register // tape.None for what is absent
	low, high         tape.Register         // value - low and value - high, where the limits are formulas
	readingShare      float64               // the reading's spread as a share of the reading; NaN
	gauge             *gauged               // that the reading was taken with and has its spread from; nil
	shown             tape.Register         // what the gauge of the reading would show
	lowRead, highRead tape.Register         // what it would show at the limits
	lowCell, highCell *entry                // that state the limits
	unproven          bool                  // its reading is, where it has one
}

// measured are the numbers of the run, SI, NaN for what is absent.
type measured [facets]float64

// judgement prepares the judgement of a quantity with the model's own spread
// and limits.
func (q *Quantity) judgement() judgement {
	j := judgement{low: q.lowMargin, high: q.highMargin, readingShare: math.NaN(), shown: q.shownAt(),
		lowRead: q.lowRead, highRead: q.highRead, unproven: q.unproven}
	for i := range j.at {
		j.at[i] = tape.None
	}
	j.at[theValue], j.at[theLow], j.at[theHigh] = q.truth(), q.lowAt, q.highAt
	j.lowCell, j.highCell = q.low, q.high
	if q.IsFormula() {
		j.readingSpreadFrom(*q.spread, q.spreadAt)
		j.gauge = q.gauged
	}
	return j
}

// judgement prepares the judgement of a case column: the sheet's own limits
// and spread where it states them, else the model's.
func (a *judgedColumn) judgement() judgement {
	j := a.quantity.judgement()
	if a.hasLow() {
		j.at[theLow], j.low, j.lowCell, j.lowRead = a.lowAt, a.lowMargin, a.low, a.lowRead
	}
	if a.hasHigh() {
		j.at[theHigh], j.high, j.highCell, j.highRead = a.highAt, a.highMargin, a.high, a.highRead
	}
	if a.spread.kind != blankEntry { // which is no gauge's
		j.gauge, j.shown, j.lowRead, j.highRead = nil, j.at[theValue], tape.None, tape.None
		j.unproven = false
	}
	j.readingSpreadFrom(a.spread, a.spreadAt)
	if a.scattered {
		j.at[theReadingSpread], j.readingShare = a.spreadAt, math.NaN()
	}
	return j
}

// readingSpreadFrom takes the spread cell of a formula, which is its reading's.
func (j *judgement) readingSpreadFrom(e entry, at tape.Register) {
	switch e.kind {
	case blankEntry:
	case percentEntry:
		j.at[theReadingSpread], j.readingShare = tape.None, e.value
	default:
		j.at[theReadingSpread], j.readingShare = at, math.NaN()
	}
}

// needed lists the facets that must have a number before there is a verdict.
// What is judged is the reading where there is one, so that an open value does
// not keep its reading from being judged.
func needed(reading bool) []int {
	if reading {
		return neededOfReading
	}
	return neededOfValue
}

var (
	neededOfReading = []int{theReadingSpread, theLow, theHigh, theLowSpread, theHighSpread, theValue}
	neededOfValue   = []int{theValue, theSpread, theLow, theHigh, theLowMargin, theHighMargin}
)

// roots lists the registers whose derivatives the judgement needs.
func (j *judgement) roots() [8]tape.Register {
	return [...]tape.Register{j.at[theValue], j.at[theLow], j.at[theHigh], j.low, j.high, j.shown,
		j.lowRead, j.highRead}
}

// addSpreads appends the spreads that the judgement needs.
func (j *judgement) addSpreads(s *tape.Spreads) {
	j.at[theSpread] = withoutNoise(s, j.at[theValue], s.Spread(j.at[theValue]))
	if j.at[theShownSpread] = j.at[theSpread]; j.shown != j.at[theValue] {
		j.at[theShownSpread] = s.Spread(j.shown)
	}
	low, high := j.at[theLow], j.at[theHigh]
	if j.lowRead != tape.None {
		low = j.lowRead
	}
	if j.highRead != tape.None {
		high = j.highRead
	}
	j.at[theLowSpread], j.at[theHighSpread] = s.Spread(low), s.Spread(high)
	j.at[theLowMargin], j.at[theHighMargin] = s.Spread(j.low), s.Spread(j.high)
}

// measure collects the numbers of a run; number gives the value of a register by
// its place in the judgement.
func (j *judgement) measure(number func(facet int, r tape.Register) float64) measured {
	var v measured
	for i, r := range j.at {
		v[i] = math.NaN()
		if r != tape.None {
			v[i] = number(i, r)
		}
	}
	return v
}

// settle finds out why numbers are missing that a verdict needs: it leaves in
// out what is open and whether the value is n/a, takes limits away that are,
// and calls fail for operations that failed. What fails in a
// derivative is a slope that is infinite; the doubt then has no bound, which is
// neither an error nor a pass.
func (j *judgement) settle(out *Judged, v *measured, reading bool, tr func(tape.Register) *trace,
	fail func(tape.Register)) {
	j.settleState(out, v, reading, tr)
	if out.State == Absent || out.State == ByCase {
		return
	}
	if out.State == Given && out.Quantity.IsAssumed() {
		// Nobody has looked at the machine, so this neither passes nor fails.
		j.withoutLimit(theLow)
		j.withoutLimit(theHigh)
	}
	for _, facet := range needed(reading) {
		root := j.at[facet]
		if root == tape.None || tape.Usable(v[facet]) {
			continue
		}
		why := tr(root).explain(root)
		if why.absent || why.byCase {
			j.withoutLimit(facet)
			continue
		}
		out.Needs = union(out.Needs, why.needs)
		switch {
		case why.failed == tape.None:
		case int(why.failed) >= len(tr(root).model.tape.Ops):
			v[facet] = math.Inf(1)
		default:
			fail(why.failed)
		}
	}
}

// settleState finds what became of the value itself.
func (j *judgement) settleState(out *Judged, v *measured, reading bool, tr func(tape.Register) *trace) {
	switch {
	case reading:
		out.State = Read
	case out.Quantity.IsFormula():
		out.State = Computed
	}
	if j.at[theValue] == tape.None || tape.Usable(v[theValue]) {
		return
	}
	switch why := tr(j.at[theValue]).explain(j.at[theValue]); {
	case why.absent && out.State == Read: // what was read is there, whatever it was to be compared with
	case why.absent:
		out.State = Absent
	case why.byCase:
		out.State = ByCase
	case len(why.needs) > 0 && out.State != Read:
		out.State = Waiting
	}
}

// withoutLimit takes a limit away that is n/a, or that only cases have.
func (j *judgement) withoutLimit(facet int) {
	switch facet {
	case theLow, theLowSpread, theLowMargin:
		j.at[theLow], j.at[theLowSpread], j.at[theLowMargin], j.low = tape.None, tape.None, tape.None, tape.None
	case theHigh, theHighSpread, theHighMargin:
		j.at[theHigh], j.at[theHighSpread], j.at[theHighMargin], j.high = tape.None, tape.None, tape.None, tape.None
	}
}

// judge fills in what a run comes to for one quantity. reading is SI or NaN.
func (j *judgement) judge(out *Judged, v measured, reading float64) subject {
	if out.State == Absent || out.State == ByCase {
		return subject{Judged: out} // nothing is asked of it
	}
	point := func(x float64) float64 {
		if !tape.Usable(x) {
			return math.NaN()
		}
		return finite(out.Unit.FromSI(x))
	}
	spread := func(x float64) float64 {
		if !tape.Usable(x) {
			return math.NaN()
		}
		return finite(spreadIn(out.Unit, x))
	}
	out.Value, out.Spread = point(v[theValue]), spread(v[theSpread])
	if !Has(out.Value) {
		out.Spread = math.NaN()
		if tape.Usable(v[theValue]) {
			out.Error = "the value is too large to hold in " + out.Unit.Symbol
		}
	}
	out.Low, out.High = point(v[theLow]), point(v[theHigh])
	out.LowName, out.HighName = j.lowCell.names(), j.highCell.names()
	out.Reading = point(reading)

	limits := subject{Judged: out, center: v[theValue], reading: reading,
		interval: interval{value: v[theValue], low: v[theLow], high: v[theHigh], lowSpread: v[theSpread],
			highSpread: v[theSpread]}}
	if Has(reading) {
		readingSpread := v[theReadingSpread]
		if Has(j.readingShare) {
			readingSpread = j.readingShare * math.Abs(reading)
		}
		whole := j.gauge.wholeSpread(readingSpread, reading)
		out.ReadingSpread = spread(whole)
		if Has(out.Value) {
			out.Agreement = agreement(reading, readingSpread, v[theValue], v[theShownSpread])
		}
		limits.value = reading
		own := func(read tape.Register) float64 { // beside what the limit has in common with the reading
			if read != tape.None {
				return readingSpread
			}
			return whole
		}
		limits.lowSpread, limits.highSpread = hypot(own(j.lowRead), v[theLowSpread]),
			hypot(own(j.highRead), v[theHighSpread])
		if j.offset() == tape.None { // else samples have the rest with the limits
			readingSpread = whole
		}
		if Has(readingSpread) {
			limits.u = readingSpread / 2
		}
	} else {
		if j.low != tape.None {
			limits.lowSpread = v[theLowMargin]
		}
		if j.high != tape.None {
			limits.highSpread = v[theHighMargin]
		}
	}
	if j.at[theLow] == tape.None {
		limits.low = math.NaN()
	}
	if j.at[theHigh] == tape.None {
		limits.high = math.NaN()
	}
	missing := func(facets ...int) bool {
		return slices.ContainsFunc(facets, func(f int) bool { return j.at[f] != tape.None && math.IsNaN(v[f]) })
	}
	subjectMissing, lowMissing, highMissing := missing(theValue, theSpread), missing(theLow, theLowMargin),
		missing(theHigh, theHighMargin)
	if Has(reading) {
		subjectMissing, lowMissing, highMissing = missing(theReadingSpread), missing(theLow, theLowSpread),
			missing(theHigh, theHighSpread)
	}
	switch {
	case out.Error != "" && !Has(reading), subjectMissing:
		out.Verdict = Open
	case lowMissing || highMissing: // beyond the limit that is known it fails, whatever the other one is
		if lowMissing {
			limits.low = math.NaN()
		}
		if highMissing {
			limits.high = math.NaN()
		}
		out.Verdict = Open
		if limits.verdict() == Fail {
			out.Verdict = Fail
		}
	case tape.Usable(limits.value):
		out.Verdict, out.Inside = limits.verdict(), limits.inside()
	}
	return limits
}

// finite makes a number that is too large for its unit absent.
//
//go:noinline
func finite(x float64) float64 {
	if math.IsInf(x, 0) {
		return math.NaN()
	}
	return x
}

// interval is a value to be judged, with what is known of its limits. All
// numbers are SI; a number that is absent is NaN.
type interval struct {
	value     float64
	low, high float64
	// The spreads of value - low and of value - high. They differ from the
	// value's own spread only where a limit is a formula with a spread.
	lowSpread, highSpread float64
}

// limitSlack is the relative distance within which a value counts as being on its
// limit, and so inside.
const limitSlack = 1e-12

// verdict judges with guarded acceptance and guarded rejection, the guard
// band being the spread (JCGM 106:2012, 8.3): pass if value ± spread is
// wholly inside, fail if it is wholly above high or below low, else unsure.
func (v interval) verdict() Verdict {
	low := side(v.value-v.low, v.lowSpread, math.Max(math.Abs(v.value), math.Abs(v.low)))
	high := side(v.high-v.value, v.highSpread, math.Max(math.Abs(v.value), math.Abs(v.high)))
	return max(low, high)
}

// side judges one limit by the distance of the value from it, inwards.
func side(margin, spread, size float64) Verdict {
	if !Has(margin) {
		return NoVerdict
	}
	if !Has(spread) {
		spread = 0
	}
	tiny := limitSlack * size
	switch {
	case margin-spread >= -tiny:
		return Pass
	case margin+spread < -tiny:
		return Fail
	}
	return Unsure
}

// inside is the probability that the true value lies within the limits, if it
// is normal with a standard uncertainty of half the spread (JCGM 106:2012,
// 7). It is NaN without a limit or without a spread.
func (v interval) inside() float64 {
	below, above := beyond(v.value-v.low, v.lowSpread), beyond(v.high-v.value, v.highSpread)
	switch {
	case !Has(below) && !Has(above):
		return math.NaN()
	case !Has(below):
		return above
	case !Has(above):
		return below
	}
	return math.Max(0, below+above-1)
}

// beyond is the probability that a margin is positive.
func beyond(margin, spread float64) float64 {
	if !Has(margin) || !Has(spread) || spread == 0 || math.IsInf(spread, 0) {
		return math.NaN()
	}
	return math.Erfc(-margin/(spread/2)/math.Sqrt2) / 2
}

// judging judges quantities in one run of the model: all of them with the
// notebook's own values, or what a sheet asks for in one of its cases. What is
// judged, reported and warned of is the same in both; a run differs in where its
// numbers come from and in how an error is reported.
type judging struct {
	model   *Model
	trace   func() *trace                           // explains this run
	of      func(tape.Register) *trace              // explains one register of it, by less if that does
	failed  func(out *Judged, failed tape.Register) // where an operation failed
	refused func(out *Judged, p sheets.Problem)     // for what the judgement itself finds
	exact   func(out *Judged)                       // puts numbers that were typed as they were typed

	unproven *unproven                       // nil where nothing is
	known    map[tape.Register]tape.Register // of unproven numbers, by what they have a part in

	differentiated *differentiated

	warnings []sheets.Problem
}

// largerUnit is the hint for a value that its unit makes too large.
const largerUnit = "choose a larger unit"

// judge fills in what the run comes to for one quantity. out is blank; reading is SI or
// NaN; number gives the value of a register by its place in the judgement, which is
// a copy, since a limit may be n/a in one run and not in another.
func (r *judging) judge(out *Judged, j judgement, reading float64,
	number func(facet int, at tape.Register) float64) subject {
	q := out.Quantity
	switch {
	case q.IsText():
		r.model.judgeText(out, number(theValue, q.value), r.trace,
			func(failed tape.Register) { r.failed(out, failed) })
		return subject{Judged: out}
	case q.IsVerdict():
		r.model.judgeLater(out)
		return subject{Judged: out}
	}
	failed := func(failed tape.Register) { r.failed(out, failed) }
	v := j.measure(number)
	j.settle(out, &v, Has(reading), r.of, failed)
	for _, facet := range []int{theSpread, theReadingSpread} { // also of a reading that is only planned
		if at := j.at[facet]; at != tape.None && !tape.Usable(v[facet]) && out.Error == "" {
			if why := r.of(at).explain(at); why.failed != tape.None && !r.isSlope(why.failed) {
				failed(why.failed)
			}
		}
	}
	told := out.Error != ""
	limits := j.judge(out, v, reading)
	r.judgeUnbalanced(out, &j, &v)
	if number, _, _ := out.Subject(); r.unproven != nil && Has(number) {
		out.Unproven = r.unproven.of(&j, q, reading, r.known, r.trace)
		out.withhold()
		r.unproven.compare(out, &j, r.known, r.trace)
	}
	r.exact(out)
	if out.Error != "" && !told {
		r.refused(out, q.entry.fault(out.Error, largerUnit))
	}
	if q.IsTick() {
		out.Low = math.NaN() // a tick that is not done fails, and nobody reads of a limit of 1
	}
	r.warnings = append(r.warnings, j.warnings(out, &v, r.trace)...)
	return limits
}

// rest has what is judged rest on some unproven numbers.
func (r *judging) rest(on *unproven) {
	if on != nil {
		r.unproven, r.known = on, map[tape.Register]tape.Register{}
	}
}

// isSlope reports whether an operation is of a derivative, and not of the model.
func (r *judging) isSlope(at tape.Register) bool { return int(at) >= len(r.model.tape.Ops) }

// crossing is the warning of limits that come out so that no value passes.
func (j *judgement) crossing(out *Judged) sheets.Problem {
	at := j.lowCell
	if at.kind != formulaEntry {
		at = j.highCell
	}
	return at.fault(fmt.Sprintf("low %s is above high %s, so no value passes",
		units.WithUnit(out.Low, out.Unit), units.WithUnit(out.High, out.Unit)), "")
}

// warnings is what speaks against the numbers of a quantity that has been judged,
// whichever case it is of.
func (j *judgement) warnings(out *Judged, v *measured, tr func() *trace) (list []sheets.Problem) {
	if j.boundless(out, v, tr) {
		list = append(list, out.Quantity.steep())
	}
	if Has(out.Low) && Has(out.High) && out.Low > out.High {
		list = append(list, j.crossing(out))
	}
	return list
}

// judgeText fills in a text quantity, which is there or open, or n/a, or failed.
func (m *Model) judgeText(out *Judged, v float64, tr func() *trace, fail func(tape.Register)) {
	q := out.Quantity
	if q.IsFormula() {
		out.State = Computed
	}
	switch {
	case tape.Usable(v):
		out.Text = m.texts[int(v)]
		return
	case q.IsFormula():
		why := tr().explain(q.value)
		switch out.Needs = why.needs; {
		case why.absent:
			out.State, out.Needs = Absent, nil
			return
		case why.byCase:
			out.State, out.Needs = ByCase, nil
			return
		case why.failed != tape.None:
			fail(why.failed)
		}
		out.State, out.Verdict = Waiting, Open
		return
	case q.IsAbsent():
		out.State = Absent
		return
	case q.byCase:
		out.State = ByCase
		return
	}
	out.State, out.Verdict = Waiting, Open
	out.Needs = []Need{{Name: q.Name, Sheet: q.Sheet.Name, File: q.Sheet.File, Line: q.Row.Name.Line}}
}
