package calc

import (
	"errors"
	"math"
	"strings"

	"rambook/calc/fit"
	"rambook/calc/tape"
	"rambook/sheets"
)

// FitOptions choose what Fit takes for readings, and what is known before.
type FitOptions struct {
	Sheet string // fit to the readings in the cases of this sheet; "" for those of the notebook
	Where string // a condition that the cases have to meet; "" for all
	Free  bool   // forget the givens' own spreads
}

// GivenFit is a given fitted to readings. Numbers are in its unit.
type GivenFit struct {
	Quantity       *Quantity
	Value, Spread  float64 // k = 2; no spread where the readings do not tell
	Was, WasSpread float64
	AtEnd          bool // the value is an end of its range: the best may lie beyond
}

// Correlation is that of the errors of two givens.
type Correlation struct {
	A, B *Quantity
	R    float64
}

// Fit is what readings say of several givens at once.
type Fit struct {
	Sheet        *sheets.Sheet // nil for the readings of the notebook
	Givens       []GivenFit    // in the order asked
	Correlations []Correlation
	Alike        [][]*Quantity // what the readings cannot tell apart; one alone has no effect on them
	Misfit       float64       // NaN where no reading has a spread
	P            float64       // probability of a larger misfit if the model holds
	Scatter      float64       // where no reading has a spread: residual standard deviation, SI
	Readings     int
	Cases        int
	LeftOut      []Reason
}

// Fit finds the values of several givens at which the readings fit best. A
// given's own spread counts as what is known of it before. Where no reading has
// a spread each counts the same, and how sure the fit is follows from their scatter.
func (m *Model) Fit(names []string, opt FitOptions) (*Fit, []sheets.Problem) {
	var asked []*Quantity
	var problems []sheets.Problem
	for _, name := range names {
		q, faults := m.given(inArgument("GIVEN", name), name)
		switch {
		case q == nil || len(faults) > 0:
			problems = append(problems, faults...)
		case q.IsText():
			problems = append(problems, refusal(q.Name+" is a text, and only a number can be fitted", "")...)
		case containsQuantity(asked, q):
			problems = append(problems, refusal(q.Name+" is named twice", "name each given once")...)
		default:
			asked = append(asked, q)
		}
	}
	out := &Fit{P: math.NaN(), Misfit: math.NaN(), Scatter: math.NaN()}
	var s *survey
	if opt.Sheet == "" {
		if opt.Where != "" {
			problems = append(problems, refusal("--where chooses cases, but this fit uses the notebook's own readings",
				"add --cases SHEET")...)
		}
		s = m.surveyNotebook()
	} else {
		cs, faults := m.runSheet(opt.Sheet)
		problems = append(problems, faults...)
		if cs == nil {
			return nil, problems
		}
		var keep []bool
		if strings.TrimSpace(opt.Where) != "" {
			where, faults := m.casesWhere(cs, opt.Where)
			if problems = append(problems, faults...); where != nil {
				keep = where()
			}
		}
		out.Sheet = cs.sheet
		s = m.surveyCases(cs, keep)
	}
	if len(problems) > 0 {
		return nil, problems
	}
	s.leaveOut(nil, nil)
	out.LeftOut = s.leftOut
	if len(s.Readings) == 0 || s.Cases == 0 {
		return nil, refusal("there is no reading to fit to",
			"type one into the column reading of a formula, or in a case sheet into the column named like it")
	}
	for _, q := range asked {
		f, faults := m.freed(q, s, opt)
		problems = append(problems, faults...)
		s.Free = append(s.Free, f)
	}
	if len(problems) > 0 {
		return nil, problems
	}
	s.Equal = !s.unsure
	found, err := s.Fit()
	switch {
	case errors.Is(err, fit.ErrTooFew):
		return nil, refusal("there are fewer readings than givens to be fitted",
			"fit fewer givens, or take more readings")
	case err != nil:
		return nil, refusal("the readings cannot be computed with the values that the givens have now",
			"`rambook check` shows why; or start from other numbers with --set")
	}
	out.tell(m, s, asked, found)
	return out, nil
}

func containsQuantity(list []*Quantity, q *Quantity) bool {
	for _, other := range list {
		if other == q {
			return true
		}
	}
	return false
}

// freed prepares a given to be found.
func (m *Model) freed(q *Quantity, s *survey, opt FitOptions) (fit.Free, []sheets.Problem) {
	f := fit.Free{Input: q.value}
	f.Start, f.From, f.To = m.startOf(q, s.Base)
	switch {
	case !tape.Usable(f.Start):
		return f, refusal(q.Name+" is open, and a fit starts from a number",
			"fill in what it may be, or give it for this run with --set \""+q.Name+" = …\"")
	case f.From >= f.To:
		return f, refusal("the limits of "+q.Name+" leave no range to look in", "")
	}
	for _, c := range s.Replaced {
		if c.Input == q.value && s.everyCaseStates(c) {
			return f, refusal("every case states "+q.Name+" itself, so it cannot be fitted to them",
				"leave the column out, or fit another given")
		}
	}
	if q.spreadAt != tape.None && !opt.Free {
		if u := s.Base[q.spreadAt] / 2; tape.Usable(u) {
			f.U = u
		}
	}
	return f, nil
}

func (s *survey) everyCaseStates(c fit.Column) bool {
	for _, v := range c.Values {
		if tape.IsMissing(v) {
			return false
		}
	}
	return true
}

// tell puts what was found into the units of the rows.
func (out *Fit) tell(m *Model, s *survey, asked []*Quantity, found *fit.Fitted) {
	for k, q := range asked {
		g := GivenFit{Quantity: q, Value: q.Unit.FromSI(found.Values[k]), Spread: math.NaN(), Was: math.NaN(),
			WasSpread: math.NaN(), AtEnd: found.AtEnd[k]}
		if Has(found.U[k]) {
			g.Spread = spreadIn(q.Unit, 2*found.U[k])
		}
		if was := s.Base[q.value]; tape.Usable(was) {
			g.Was = q.entry.exact(q.Unit.FromSI(was))
		}
		if q.spreadAt != tape.None && tape.Usable(s.Base[q.spreadAt]) {
			g.WasSpread = q.spread.exact(spreadIn(q.Unit, s.Base[q.spreadAt]))
		}
		out.Givens = append(out.Givens, g)
	}
	for a := range asked {
		for b := range a {
			if r := found.Corr.At(a, b); r != 0 && Has(found.U[a]) && Has(found.U[b]) {
				out.Correlations = append(out.Correlations, Correlation{asked[b], asked[a], r})
			}
		}
	}
	for _, group := range found.Alike {
		var list []*Quantity
		for _, k := range group {
			list = append(list, asked[k])
		}
		out.Alike = append(out.Alike, list)
	}
	out.Readings, out.Cases = found.Count, found.Cases
	if s.unsure {
		out.Misfit = found.Misfit
		if found.Degrees > 0 {
			out.P = survival(found.Misfit, found.Degrees)
		}
	} else {
		out.Scatter = found.Scatter
	}
}
