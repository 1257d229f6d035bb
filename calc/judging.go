package calc

import (
	"fmt"
	"math"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// judging judges quantities in one run of the model: all of them with the
// notebook's own values, or what a sheet asks for in one of its cases. What is
// judged, told and warned of is the same in both; a run differs in where its
// numbers come from and in how an error is told.
type judging struct {
	model   *Model
	trace   func() *trace                           // explains this run
	of      func(tape.Register) *trace              // explains one register of it, by less if that does
	failed  func(out *Judged, failed tape.Register) // tells that an operation failed
	refused func(out *Judged, p sheets.Problem)     // tells what the judgement itself finds
	exact   func(out *Judged)                       // puts numbers that were typed as they were typed

	warnings []sheets.Problem
}

// largerUnit is the hint for a value that its unit makes too large.
const largerUnit = "choose a larger unit"

// judge fills in what the run says of one quantity. out is blank; reading is SI or
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

// warnings is what there is to know of a quantity that has been judged,
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
