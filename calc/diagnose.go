package calc

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"

	"rambook/calc/coverage"
	"rambook/calc/fit"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units/sorting"
)

const (
	// goodFit is the p of an alarm, by all readings or by one suspect (fit.Alarm), from
	// which on nothing is called wrong. It is what lies outside k = 2, so a sound
	// machine is called so in 95.45 % of the cases.
	goodFit = 1 - coverage.Probability

	// poorFit is the p below which not even the best suspect explains the
	// readings. It is lower, for a suspect that is the true one should not be
	// given up for readings that are a little unlucky.
	poorFit = 0.01

	// tied is the difference of two misfits up to which the readings do not tell
	// their suspects apart: two standard deviations, squared.
	tied = 4
)

// DiagnoseOptions choose what Diagnose does beyond the usual.
type DiagnoseOptions struct {
	Pairs bool // also free the suspects two at a time
}

// Finding is what a diagnosis comes to.
type Finding uint8

const (
	NoReadings   Finding = iota // there is nothing to work with
	NothingWrong                // the readings fit the notebook as it stands, and point at no suspect
	Explained                   // they do not, and at least one suspect alone explains them
	Unexplained                 // they do not, and no suspect explains them
)

// String names the finding for other programs.
func (f Finding) String() string {
	return [...]string{"no readings", "nothing wrong", "explained", "unexplained"}[f]
}

// Diagnosis is what the readings say of the suspects. Values, spreads and
// readings are in the units of the rows; an absent number is NaN.
type Diagnosis struct {
	Finding Finding
	Misfit  float64 // rᵀ V⁻¹ r with every given as the notebook has it
	P       float64 // probability of a larger misfit if nothing is wrong: chi-square, one degree a reading
	Drop    float64 // the most that a suspect, freed alone, takes from the misfit; NaN without suspects
	DropP   float64 // probability that chance gives the best of these suspects more; NaN if they change no reading
	EitherP float64 // that, if nothing is wrong, either is as improbable as the less probable of the two

	Readings  []ReadingFit // those that take part, in the order of the sheets
	LeftOut   []Reason     // readings that take no part
	Untouched []*Quantity  // readings that take part but that no suspect changes
	Suspects  []SuspectFit // least misfit first, of equal ones the larger weight
	Unfreed   []Reason     // suspects that cannot be tried
	Pairs     []PairFit    // least misfit first; with DiagnoseOptions.Pairs
	Sound     float64      // weight of the alternative that nothing is wrong
	Next      *NextReading // nil if there is none to tell the first two suspects apart
	Found     []FoundFault // those freed one after another, each for more than 9 of the misfit, all fitted together
	Left      float64      // the misfit that they leave; NaN if nothing was found
	LeftP     float64
	Planned   []*Quantity // see Quantity.IsPlanned
}

// Reason is a quantity that was passed over, and why.
type Reason struct {
	Quantity *Quantity
	Why      string
}

// ReadingFit is a reading beside its computed value as the notebook stands.
type ReadingFit struct {
	Quantity               *Quantity
	Reading, ReadingSpread float64
	Computed, Spread       float64
	Agreement              float64 // E_n (ISO 13528)
}

// SuspectFit is a suspect freed alone and fitted to the readings.
//
// Weight is its probability against the other suspects and against nothing
// being wrong. By Bayes' rule it is proportional to
//
//	prior × exp(-misfit/2) / √det V × width of what the fit leaves possible / width of the range
//
// where the last factor, at most 1, is the price of a free parameter: a wide
// range has more values that would have been wrong. Nothing being wrong has no
// free parameter and the sum of all priors for its own, so that the odds are
// even before the first reading.
type SuspectFit struct {
	Suspect       *Suspect
	Value, Spread float64 // fitted, with k = 2: to the farther of From and To; no spread if no reading depends on it
	From, To      float64 // what the readings leave possible of its range, with k = 2
	OpenFrom      bool    // they do not rule out the low end of the range,
	OpenTo        bool    // nor the high end
	Nominal       float64 // as the notebook has it
	Misfit        float64 // what is left
	Explains      float64 // 1 - misfit / misfit of the notebook
	P             float64 // of the misfit left, one degree less
	Weight        float64 // 0 to 1
	Leads         bool    // no other suspect's misfit is less by more than the readings can tell
	AtEnd         bool    // the value is an end of the range: the best may lie beyond
	fit           fit.Trial
}

// PairFit is two suspects freed together.
type PairFit struct {
	Suspects         [2]*Suspect
	Values, Spreads  [2]float64 // no spreads if the readings do not tell the two apart
	Misfit, Explains float64
	P                float64
}

// Diagnose uses the model backwards: it frees each suspect in turn, fits it to
// the readings and ranks the suspects by the misfit that is left. Problems are
// errors in the evaluation of a formula that has a reading.
func (m *Model) Diagnose(opt DiagnoseOptions) (*Diagnosis, []sheets.Problem) {
	none := math.NaN()
	d := &Diagnosis{Misfit: none, P: none, Drop: none, DropP: none, EitherP: none, Sound: none, Left: none, LeftP: none}
	q, problems := m.inquire(d)
	if len(problems) > 0 {
		sheets.SortProblems(problems)
		return nil, problems
	}
	if q == nil {
		return d, nil
	}
	d.fit(q, opt)
	d.rank()
	m.freeSeveral(d, q)
	d.conclude()
	if d.Finding != NothingWrong && len(d.Suspects) > 1 {
		d.Next = q.nextReading(&d.Suspects[0], &d.Suspects[1])
	}
	return d, nil
}

// inquiry is a fit.Inquiry with the names of what it fits.
type inquiry struct {
	*fit.Inquiry
	model    *Model
	base     []float64   // every operation, as the notebook stands
	readings []*Quantity // by Inquiry.Readings
	suspects []*Suspect  // by Inquiry.Suspects
	planned  []*Quantity // formulas that may be read next
}

func (m *Model) newInquiry(base []float64, readings []*Quantity, suspects []*Suspect, planned []*Quantity) *inquiry {
	q := &inquiry{model: m, base: base, readings: readings, suspects: suspects, planned: planned}
	var observed []fit.Observed
	for _, r := range readings {
		observed = append(observed, fit.Observed{Formula: r.shownAt(), Value: r.reading.value,
			U: r.ownSpread(base, r.reading.value) / 2})
	}
	var free []fit.Free
	for _, s := range suspects {
		free = append(free, s.free())
	}
	var registers []tape.Register
	for _, p := range planned {
		registers = append(registers, p.shownAt())
	}
	q.Inquiry = fit.NewInquiry(m.tape, base, m.doubts(base), observed, free, registers)
	return q
}

// inquire gathers the readings, the suspects and the planned readings that
// take part, and enters in d which do not. It is nil if no reading does.
func (m *Model) inquire(d *Diagnosis) (*inquiry, []sheets.Problem) {
	values := m.tape.Once(nil)
	readings, problems := m.usableReadings(d, values)
	if len(problems) > 0 {
		return nil, problems
	}
	suspects := m.usableSuspects(d, values)
	planned := m.usablePlans(d, values)
	if len(readings) == 0 {
		return nil, nil
	}
	q := m.newInquiry(values, readings, suspects, planned)
	switch sound := q.differentiable(d); len(sound) {
	case 0:
		return nil, nil
	case len(readings):
		return q, nil
	default:
		return m.newInquiry(values, sound, suspects, planned), nil
	}
}

// fit weighs the readings as the notebook stands, and with each suspect freed.
func (d *Diagnosis) fit(q *inquiry, opt DiagnoseOptions) {
	nominal, computed := q.AsItStands()
	d.Misfit = nominal.Misfit
	d.tellReadings(q, computed)
	fits := q.Alone()
	possible := q.Within(fits)
	for i, t := range fits {
		d.Suspects = append(d.Suspects, q.suspectFit(t, possible[i], d.Misfit))
	}
	if len(d.Suspects) > 0 {
		d.Drop = d.Misfit - slices.MinFunc(d.Suspects, func(a, b SuspectFit) int {
			return cmp.Compare(a.Misfit, b.Misfit)
		}).Misfit
	}
	alarm := q.Alarm(computed, d.Drop)
	d.P, d.DropP, d.EitherP = alarm.Misfit, alarm.Drop, alarm.Either
	d.weigh(q, &nominal)
	if opt.Pairs {
		for _, t := range q.Inquiry.Pairs(fits) {
			d.Pairs = append(d.Pairs, q.pairFit(&t, d.Misfit))
		}
	}
	for j, r := range q.readings {
		if !q.Moved(j) && len(q.suspects) > 0 {
			d.Untouched = append(d.Untouched, r)
		}
	}
}

// rank sorts the suspects, and marks those that the readings do not tell from
// the first.
func (d *Diagnosis) rank() {
	sorting.Stable(d.Suspects, func(a, b SuspectFit) int {
		return cmp.Or(cmp.Compare(roundMisfit(a.Misfit), roundMisfit(b.Misfit)), cmp.Compare(b.Weight, a.Weight))
	})
	for i := range d.Suspects {
		d.Suspects[i].Leads = d.Suspects[i].Misfit <= d.Suspects[0].Misfit+tied
	}
}

// conclude finds what the misfits come to.
func (d *Diagnosis) conclude() {
	switch {
	case d.EitherP >= goodFit:
		d.Finding = NothingWrong
	case len(d.Suspects) > 0 && d.Suspects[0].P >= poorFit, d.LeftP >= poorFit:
		d.Finding = Explained
	default:
		d.Finding = Unexplained
	}
}

// StandsOut reports whether the readings, all of them together, could well be those of a
// sound machine, but one suspect explains more of their misfit than chance does.
func (d *Diagnosis) StandsOut() bool { return d.P >= goodFit && d.Finding != NothingWrong }

// roundMisfit takes from a misfit the digits that only rounding errors decide,
// so that of two suspects that act alike the likelier one comes first.
func roundMisfit(x float64) float64 { return math.Round(1e6 * x) }

// survival is the probability of a larger chi-square.
func survival(misfit float64, degrees int) float64 {
	return distuv.ChiSquared{K: float64(max(1, degrees))}.Survival(misfit)
}

// usableReadings lists the readings that take part, and enters in d which do not.
func (m *Model) usableReadings(d *Diagnosis, values []float64) ([]*Quantity, []sheets.Problem) {
	var list []*Quantity
	var problems []sheets.Problem
	tr, unproven := m.newTrace(m.tape, values), m.unprovenIn(nil)
	for _, q := range m.Quantities {
		if !q.hasReading() {
			continue
		}
		why := tr.explain(q.value)
		u := q.ownSpread(values, q.reading.value) / 2
		switch {
		case why.failed != tape.None:
			p, _ := tr.failureIn(q.formulas(), why.failed)
			problems = append(problems, p)
		case why.waits():
			d.LeftOut = append(d.LeftOut, Reason{q, "its computed value is open"})
		case !tape.Usable(u) || u == 0:
			d.LeftOut = append(d.LeftOut, Reason{q, "its reading has no spread"})
		default:
			if why := unproven.doubted(q.value, tr); why != "" {
				d.LeftOut = append(d.LeftOut, Reason{q, why})
				continue
			}
			list = append(list, q)
		}
	}
	return list, problems
}

// usableSuspects lists the suspects that have a value to start from, and enters
// in d which have none.
func (m *Model) usableSuspects(d *Diagnosis, values []float64) []*Suspect {
	var list []*Suspect
	for _, s := range m.Suspects {
		switch why := s.untriable(); {
		case tape.Usable(values[s.Quantity.value]) && why == "":
			list = append(list, s)
		case tape.Usable(values[s.Quantity.value]):
			d.Unfreed = append(d.Unfreed, Reason{s.Quantity, why})
		default:
			d.Unfreed = append(d.Unfreed, Reason{s.Quantity, "is open"})
		}
	}
	return list
}

// usablePlans enters in d which readings are planned, and lists those whose
// computed value is known.
func (m *Model) usablePlans(d *Diagnosis, values []float64) []*Quantity {
	var list []*Quantity
	for _, q := range m.Quantities {
		if !q.IsPlanned() {
			continue
		}
		d.Planned = append(d.Planned, q)
		if tape.Usable(values[q.value]) {
			list = append(list, q)
		}
	}
	return list
}

// differentiable lists the readings whose computed values have derivatives as
// the notebook stands, and adds to d which have none.
func (q *inquiry) differentiable(d *Diagnosis) []*Quantity {
	var list []*Quantity
	for j, r := range q.readings {
		if q.Differentiable(j) {
			list = append(list, r)
		} else {
			d.LeftOut = append(d.LeftOut, Reason{r, "the spread of its computed value cannot be computed here"})
		}
	}
	return list
}

// tellReadings sets the readings beside their computed values, as the notebook
// stands.
func (d *Diagnosis) tellReadings(q *inquiry, a *fit.Answer) {
	for j, r := range q.readings {
		o, u := q.Readings[j], r.Unit
		shown := 2 * o.U * math.Sqrt(a.Variance[j])
		own, computed := 2*o.U, shown
		if g := r.gauged; g != nil { // its error belongs to the reading
			own, computed = g.wholeSpread(q.base[r.spreadAt], o.Value), q.model.spreadOf(r, q.base)
		}
		d.Readings = append(d.Readings, ReadingFit{
			Quantity: r,
			Reading:  r.reading.exact(u.FromSI(o.Value)), ReadingSpread: spreadIn(u, own),
			Computed: u.FromSI(a.Computed[j]), Spread: spreadIn(u, computed),
			Agreement: agreement(o.Value, 2*o.U, a.Computed[j], shown),
		})
	}
}

// suspectFit turns a fit into what is shown of it.
func (q *inquiry) suspectFit(t fit.Trial, possible fit.Stretch, nominal float64) SuspectFit {
	s := q.suspects[t.Freed[0]]
	u := s.Quantity.Unit
	f := SuspectFit{Suspect: s, fit: t, Value: u.FromSI(t.X[0]), Spread: math.NaN(),
		Nominal: s.Quantity.entry.exact(u.FromSI(q.base[s.Quantity.value])), Misfit: t.Misfit,
		Explains: 1 - t.Misfit/nominal,
		P:        survival(t.Misfit, len(q.readings)-1)}
	f.From, f.To, f.OpenFrom, f.OpenTo = u.FromSI(possible.From), u.FromSI(possible.To), possible.OpenFrom,
		possible.OpenTo
	if Has(q.U(&t, 0)) {
		f.Spread, f.AtEnd = spreadIn(u, possible.Half(t.X[0])), q.AtEnd(&t)
	}
	return f
}

// pairFit turns a fit of two into what is shown of it.
func (q *inquiry) pairFit(t *fit.Trial, nominal float64) PairFit {
	f := PairFit{Misfit: t.Misfit, Explains: 1 - t.Misfit/nominal, P: survival(t.Misfit, len(q.readings)-2)}
	for k, freed := range t.Freed {
		s := q.suspects[freed]
		f.Suspects[k], f.Values[k] = s, s.Quantity.Unit.FromSI(t.X[k])
		f.Spreads[k] = spreadIn(s.Quantity.Unit, 2*q.U(t, k))
	}
	return f
}

// weigh sets the weights of the suspects, and of nothing being wrong.
func (d *Diagnosis) weigh(q *inquiry, nominal *fit.Trial) {
	if len(d.Suspects) == 0 {
		return
	}
	logs := make([]float64, len(d.Suspects)+1)
	priors := 0.0
	for i := range d.Suspects {
		f := &d.Suspects[i]
		priors += f.Suspect.prior
		logs[i] = math.Log(f.Suspect.prior) - f.fit.Likelihood()/2 + math.Log(q.Possible(&f.fit))
	}
	logs[len(logs)-1] = math.Log(priors) - nominal.Likelihood()/2
	total := floats.LogSumExp(logs)
	for i := range d.Suspects {
		d.Suspects[i].Weight = math.Exp(logs[i] - total)
	}
	d.Sound = math.Exp(logs[len(logs)-1] - total)
}
