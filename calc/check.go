package calc

import (
	"math"
	"slices"
	"sync"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units/cores"
	"rambook/units/sorting"
)

// Check recalculates the whole notebook and judges it. An error of evaluation,
// such as a division by zero, stays at its row or its case; what needs it is
// open, and all else is computed. The problems are the errors of the rows, which
// the report has among its failures as well.
func (m *Model) Check(opt CheckOptions) (*Report, []sheets.Problem) {
	values := cores.Beside(func() []float64 { return m.tape.Once(nil) })
	seeds, own, runs := m.seeds(), m.ownRun(), make([]*caseRun, len(m.caseSheets))
	alike := [][]judgement{own} // what is judged with the spreads of the model
	for i, cs := range m.caseSheets {
		runs[i] = m.caseRun(cs, seeds)
		if !cs.hasSpreads() {
			alike = append(alike, runs[i].judgements)
		}
	}
	// The quantities, part 0, and the sheets behind them need nothing more of each other.
	// What takes longest begins first, or it would be waited for.
	parts, probed := make([]int, 1+len(runs)), make([]func() *probe, 1+len(runs))
	size := func(part int) int {
		if part == 0 {
			return len(own)
		}
		run := runs[part-1]
		return len(run.judgements) * len(run.sheet.sheet.Cases)
	}
	// What bends is seen without derivatives, so the other core looks at that meanwhile,
	// unless the tape is so long that the memory of both counts.
	early := opt.Samples == 0 && len(m.tape.Ops) <= longTape
	for i := range parts {
		parts[i], probed[i] = i, func() *probe {
			if i == 0 {
				return m.ownProbe(own, seeds, values(), early)
			}
			return m.caseProbe(runs[i-1], values(), early)
		}
	}
	sorting.Stable(parts, func(a, b int) int { return size(b) - size(a) })
	if early {
		probed = cores.Ahead(probed...)
	}
	shared := m.differentiate(seeds, values, alike...)
	base := values()
	for _, run := range runs {
		if !run.sheet.hasSpreads() {
			run.differentiated = shared
		}
	}
	var r *Report
	cases, failures := make([]CaseResult, len(runs)), make([][]sheets.Problem, len(runs))
	cores.Each(len(parts), func(k int) {
		if i := parts[k]; i == 0 {
			r = m.checkOwn(own, shared, probed[i], opt)
		} else {
			cases[i-1], failures[i-1] = m.runOf(runs[i-1], base, probed[i], opt)
		}
	})
	m.sort(r.warnings)
	r.Cases, r.failures = cases, failures
	m.judgeVerdicts(r)
	r.warnings = append(r.warnings, m.warnOrder(r)...)
	r.warnings = append(r.warnings, m.warnThousands(r)...)
	r.warnings = append(r.warnings, m.warnSwapped(r)...)
	r.warnings = append(r.warnings, m.warnUnread()...)
	m.sort(r.warnings)
	r.count()
	var problems []sheets.Problem
	for _, f := range r.errors {
		problems = append(problems, f.problem)
	}
	m.sort(problems)
	return r, problems
}

// longTape is how many operations make a tape of a few megabytes with its derivatives.
const longTape = 1 << 14

// checkQuantities is Check without the case sheets. It returns the values of
// the model's operations beside.
func (m *Model) checkQuantities(opt CheckOptions) (*Report, []float64) {
	own, base := m.ownRun(), m.tape.Once(nil)
	d := m.differentiate(m.seeds(), known(base), own)
	return m.checkOwn(own, d, func() *probe { return m.ownProbe(own, d.seeds, base, false) }, opt), base
}

func (m *Model) checkOwn(own []judgement, d *differentiated, probed func() *probe, opt CheckOptions) *Report {
	r := m.judgeOwn(own, d, probed, opt)
	r.warnings = append(r.warnings, m.warnLosses(d.values)...)
	return r
}

// Standing judges the quantities alone.
func (m *Model) Standing() *Report { return m.Sampled(CheckOptions{}) }

// Sampled is Standing with the spreads that sampling finds.
func (m *Model) Sampled(opt CheckOptions) *Report {
	own := m.ownRun()
	d := m.differentiate(m.seeds(), known(m.tape.Once(nil)), own)
	return m.judgeOwn(own, d, func() *probe { return m.ownProbe(own, d.seeds, d.values, false) }, opt)
}

// ownRun prepares the judgements of the quantities with the notebook's own values.
func (m *Model) ownRun() []judgement {
	judgements := make([]judgement, len(m.Quantities))
	for i, q := range m.Quantities {
		judgements[i] = q.judgement()
	}
	return judgements
}

// judgeOwn judges the quantities with the notebook's own values, as far as
// that goes. probed gives their probe.
func (m *Model) judgeOwn(judgements []judgement, d *differentiated, probed func() *probe, opt CheckOptions) *Report {
	values := d.values
	r := &Report{warnings: slices.Clone(m.Warnings), logs: map[string]string{}}
	for _, cut := range m.cuttings {
		if cut.log != nil {
			r.logs[cut.sheet.File] = cut.log.Shown
		}
	}
	var p *probe
	if opt.Samples == 0 {
		p = probed().across(d)
	}
	var subjects []subject
	if opt.Samples > 0 || p != nil {
		subjects = make([]subject, len(m.Quantities))
	}
	m.judgeAll(r, d, judgements, subjects)
	switch {
	case opt.Samples > 0:
		r.warnings = append(r.warnings, m.sampled(subjects, judgements, values, opt)...)
	case p != nil:
		p.quiet = opt.Quiet
		probed := p.look(&tape.Block{N: 1, Out: oneCase(values, p.registers())}, 0)
		r.warnings = append(r.warnings, probed.judge(0, probed.screen(), subjects)...)
	}
	return r
}

// ownProbe probes the quantities with the notebook's own values. Early is before there
// are derivatives: then it looks what bends.
func (m *Model) ownProbe(own []judgement, seeds map[tape.Register]tape.Register, base []float64, early bool) *probe {
	p := m.probing(own, m.Quantities, seeds, nil, base, 1)
	if early {
		p.screenEarly(&tape.Block{N: 1}, oneCase(base, p.doubts()))
	}
	return p
}

// oneCase are some outputs of a block with a single case, nil for [tape.None].
func oneCase(values []float64, registers []tape.Register) [][]float64 {
	out := make([][]float64, len(registers))
	for i, at := range registers {
		if at != tape.None {
			out[i] = values[at : at+1]
		}
	}
	return out
}

// judgeAll judges the quantities in the base case. subjects is nil where nobody goes on
// with them.
func (m *Model) judgeAll(r *Report, d *differentiated, judgements []judgement, subjects []subject) {
	values := d.values
	tr := sync.OnceValue(func() *trace { // a copy, since what whole explains is asked for by several at once
		own := *d.whole()
		return &own
	})
	run := &judging{
		model: m,
		trace: tr,
		of:    func(tape.Register) *trace { return tr() },
		failed: func(out *Judged, failed tape.Register) {
			q := out.Quantity
			p, own := tr().failureIn(q.formulas(), failed)
			if owner := tr().owner(failed); !own && owner != nil && owner != q && !q.IsText() {
				out.Needs = union(out.Needs, []Need{owner.need(true)})
				return
			}
			out.Error = p.Message
			r.fail(q, p)
		},
		refused: func(out *Judged, p sheets.Problem) { r.fail(out.Quantity, p) },
		exact:   func(out *Judged) { out.Quantity.exact(out, values) },
	}
	run.rest(m.unprovenIn(nil))
	run.differentiated = d
	r.Quantities = make([]Judged, len(m.Quantities))
	for i, q := range m.Quantities {
		out := &r.Quantities[i]
		*out = blank(q, q.Unit)
		reading := math.NaN()
		if q.hasReading() {
			reading = q.reading.value
		}
		s := run.judge(out, judgements[i], reading, func(_ int, r tape.Register) float64 { return values[r] })
		if subjects != nil {
			subjects[i] = s
		}
	}
	r.warnings = append(r.warnings, run.warnings...)
}

// exact puts the numbers of a row that were typed as they were typed. A spread
// stands beside its given even if it is 0.
func (q *Quantity) exact(out *Judged, values []float64) {
	if q.spreadAt != tape.None && !q.IsFormula() && !q.isGauged() {
		if s := values[q.spreadAt]; tape.Usable(s) {
			out.Spread = q.spread.exact(spreadIn(q.Unit, s))
		}
	}
	if q.IsFormula() {
		out.ReadingSpread = q.spread.exact(out.ReadingSpread)
	}
	out.Value, out.Reading = q.entry.exact(out.Value), q.reading.exact(out.Reading)
	out.Low, out.High = q.low.exact(out.Low), q.high.exact(out.High)
}

// count counts the verdicts of quantities and case values, and gathers what
// went wrong in cases, and what speaks against them.
func (r *Report) count() {
	r.Counts, r.Failures, r.Warnings = Counts{}, nil, slices.Clone(r.warnings)
	for _, f := range r.errors {
		r.Failures = append(r.Failures, f.problem)
	}
	r.Failures = append(r.Failures, slices.Concat(r.failures...)...)
	for _, result := range r.Cases {
		r.Warnings = append(r.Warnings, result.Warnings...)
	}
	for j := range r.All() {
		switch j.Verdict {
		case Pass:
			r.Counts.Pass++
		case Fail:
			r.Counts.Fail++
		case Unsure:
			r.Counts.Unsure++
		case Open:
			r.Counts.Open++
		}
	}
}
