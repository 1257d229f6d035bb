package calc

import (
	"iter"
	"math"
	"slices"
	"strings"

	"rambook/sheets"
	"rambook/units"
)

// State is where the number of a quantity comes from, or why there is none.
type State uint8

const (
	Given    State = iota // it stands in the entry
	Computed              // by the formula
	Read                  // a reading stands against the formula, and is what is judged
	Waiting               // open
	Absent                // n/a, or computed from what is
	ByCase                // only the cases of a sheet have one
)

// String gives the word that every output prints.
func (s State) String() string {
	return [...]string{"given", "computed", "reading", "open", "n/a", "by case"}[s]
}

// Judged is one quantity as it came out of one run of the model, with its
// reading and its verdict. All numbers are in Unit; a number that is absent
// is NaN, so ask Has before use.
type Judged struct {
	Quantity *Quantity
	Unit     units.Unit // the unit of the row, or of the case sheet's column
	Text     string     // the value of a text quantity

	Value, Spread           float64 // given or computed; the spread belongs to it
	Reading, ReadingSpread  float64
	Agreement               float64 // E_n of reading against computed (ISO 13528)
	Low, High               float64
	LowName, HighName       string     // the quantity that a limit is and nothing else, "" if it is more than that
	Inside                  float64    // probability of conformity, 0 to 1 (JCGM 106, normal)
	SampledMean             float64    // with sampling only, as are the next two
	SampledLow, SampledHigh float64    // the 2.275 % and 97.725 % quantiles
	Bends                   bool       // sampling finds another spread, or another middle of it
	Crossed                 bool       // unsure only since the spread reaches across a corner or beyond a curve
	Histogram               *Histogram // of the samples of a formula of the notebook; nil without sampling and in cases

	// Unbalanced is, of an unknown without a solution that is known to break a limit all
	// the same, -1 for the low limit and 1 for the high one. It fails, and has no value.
	Unbalanced int8

	State   State
	Verdict Verdict
	Needs   []Need  // what is open and keeps the value open
	Blames  []Blame // of a row of the unit verdict: what does not pass, worst first
	Error   string  // what went wrong in this case, "" if nothing

	// Unproven is the quantity whose number, which all this rests on, was read with a gauge
	// of unknown error, nil if there is none. It may be Quantity itself. With one there is
	// no pass, no Inside and no Agreement.
	Unproven *Quantity

	// UnprovenValue is such a number that the computed value rests on and its reading does
	// not. How far the two are apart says nothing then, so there is no Agreement.
	UnprovenValue *Quantity

	// Borrowed is what a case has computed the value, or its limits, with and has from
	// the notebook, since its own cell is blank where those of other cases are not.
	Borrowed []*Judged
}

// blank is a Judged of which nothing is known yet.
func blank(q *Quantity, u units.Unit) Judged {
	nan := math.NaN()
	return Judged{Quantity: q, Unit: u, Value: nan, Spread: nan, Reading: nan, ReadingSpread: nan, Agreement: nan,
		Low: nan, High: nan, Inside: nan, SampledMean: nan, SampledLow: nan, SampledHigh: nan}
}

// Subject is the number that the verdict is about, with its own spread: the
// reading where there is one, else the value. read is which.
//
//go:noinline
func (j *Judged) Subject() (number, spread float64, read bool) {
	if Has(j.Reading) {
		return j.Reading, j.ReadingSpread, true
	}
	return j.Value, j.Spread, false
}

// Has reports whether a number of a Judged is present.
func Has(x float64) bool { return x == x }

// Counts is how many values got which verdict.
type Counts struct{ Pass, Fail, Unsure, Open int }

// Case is one line of a case sheet after the run.
type Case struct {
	Name    string
	Row     *sheets.CaseRow
	Start   float64 // of a cycle: when it began, in seconds; NaN of other cases
	Began   string  // the same as text, "" of other cases
	Dated   bool    // that is a date
	Verdict Verdict // the worst of fail, unsure, open, pass
	// Values are one per column of CaseResult.Asked, and behind them what does not
	// pass of the limits that no column is for and that depend on what the case changes.
	Values []Judged
	// Inputs are what the case puts in place of givens, in column order, but for those
	// among the Values, which have limits. A sweep of very many cases has none.
	Inputs []Judged
	// Borrowed is which numbers of the notebook the verdict rests on, as those of each
	// of its values do.
	Borrowed []*Judged

	lacks map[*Quantity]bool // what it could not be judged by
}

// CaseResult is a whole case sheet after the run.
type CaseResult struct {
	Sheet *sheets.Sheet
	// In is the case of another sheet that the notebook stands in for this run, "" if none.
	In string
	// Asked is the formulas that the sheet's columns ask for, in column order,
	// and behind them the replaced givens that have limits.
	Asked []*Quantity
	// Unjudged is what has limits that depend on what the cases change, and is open
	// in the model already, so that the verdicts of the cases leave it out.
	Unjudged []*Quantity
	// OfToday is, of cases with a date, which givens have a column and some blank
	// cell in it, which counts as the notebook's value of today; nil without dates.
	OfToday []*Quantity
	// Unread is which columns of numbers are named like no quantity and read by nothing.
	Unread []string
	Cases  []Case
	// Warnings name the first case that they are of, and count the others.
	Warnings []sheets.Problem
}

// OfAnswers reports whether the sheet deals numbers and asks for what is worked out
// with them: its limits are the ends of what is dealt, none is about an answer. So
// a pass there is none of the answers.
func (r *CaseResult) OfAnswers() bool {
	dealt := func(name string) bool {
		return slices.ContainsFunc(r.Sheet.Columns, func(c sheets.Column) bool {
			return c.Name.Text == name && !c.Low.Blank() && !c.High.Blank()
		})
	}
	some, asks := false, false
	for _, q := range r.Asked {
		if q.IsFormula() {
			asks = true
			if q.hasLow() || q.hasHigh() || slices.ContainsFunc(r.Sheet.Columns, func(c sheets.Column) bool {
				return c.Name.Text == q.Name && (!c.Low.Blank() || !c.High.Blank())
			}) {
				return false
			}
		}
		some = some || !q.IsFormula() && dealt(q.Name)
	}
	return some && asks
}

// OfCycles reports whether the cases are the cycles of a log.
func (r CaseResult) OfCycles() bool { return r.Sheet.Made }

// Report is a whole notebook recalculated and judged.
type Report struct {
	Quantities []Judged // in the order of the sheets and their rows
	Cases      []CaseResult
	Counts     Counts
	Warnings   []sheets.Problem
	Failures   []sheets.Problem // errors of evaluation, of rows and of single cases; all else was computed

	errors   []rowError         // those of the rows
	failures [][]sheets.Problem // those of each of Cases
	warnings []sheets.Problem   // without those of Cases
	logs     map[string]string  // of the file of a phase sheet: that of its log
}

// All visits every judged value: the quantities, then those of the cases.
func (r *Report) All() iter.Seq[*Judged] {
	return func(yield func(*Judged) bool) {
		for i := range r.Quantities {
			if !yield(&r.Quantities[i]) {
				return
			}
		}
		for _, result := range r.Cases {
			for _, c := range result.Cases {
				for i := range c.Values {
					if !yield(&c.Values[i]) {
						return
					}
				}
			}
		}
	}
}

// Of gives what the report has of a quantity, nil if it is not in it.
func (r *Report) Of(name string) *Judged {
	for i := range r.Quantities {
		if r.Quantities[i].Quantity.Name == name {
			return &r.Quantities[i]
		}
	}
	return nil
}

// InCase gives what the report has of a quantity in one case of a sheet, nil if
// the sheet does not ask for it there.
func (r *Report) InCase(sheet, name, quantity string) *Judged {
	if c := r.Case(sheet, name); c != nil {
		for k := range c.Values {
			if j := &c.Values[k]; j.Quantity.Name == quantity {
				return j
			}
		}
	}
	return nil
}

// Case finds a case of a sheet. It returns nil if there is none.
func (r *Report) Case(sheet, name string) *Case {
	for _, result := range r.Cases {
		for i := range result.Cases {
			if c := &result.Cases[i]; result.Sheet.Name == sheet && c.Name == name {
				return c
			}
		}
	}
	return nil
}

// rowError is an error of evaluation with the quantity in whose row it stands.
type rowError struct {
	quantity *Quantity
	problem  sheets.Problem
}

// errorsOf lists the errors in the rows of some quantities.
func (r *Report) errorsOf(list []*Quantity) []sheets.Problem {
	var problems []sheets.Problem
	for _, f := range r.errors {
		if slices.Contains(list, f.quantity) {
			problems = append(problems, f.problem)
		}
	}
	return problems
}

// fail notes an error of evaluation, once.
func (r *Report) fail(q *Quantity, p sheets.Problem) {
	for i := len(r.errors) - 1; i >= 0 && r.errors[i].quantity == q; i-- {
		if r.errors[i].problem == p {
			return
		}
	}
	r.errors = append(r.errors, rowError{q, p})
}

// Narrow takes out of the report all that is not of these sheets. What went
// wrong in a case, or speaks against it, belongs to its case sheet, wherever the
// formula stands.
func (r *Report) Narrow(shown []*sheets.Sheet) {
	r.Quantities = slices.DeleteFunc(r.Quantities,
		func(j Judged) bool { return !slices.Contains(shown, j.Quantity.Sheet) })
	var files []string
	for _, s := range shown {
		files = append(files, s.File)
		if log := r.logs[s.File]; log != "" {
			files = append(files, log)
		}
	}
	r.warnings = slices.DeleteFunc(r.warnings, func(p sheets.Problem) bool {
		return !slices.Contains(files, p.File) && !strings.HasPrefix(p.File, "--") // what the command line asked for
	})
	var cases []CaseResult
	var failures [][]sheets.Problem
	for i, result := range r.Cases {
		if slices.Contains(shown, result.Sheet) {
			cases, failures = append(cases, result), append(failures, r.failures[i])
		}
	}
	r.Cases, r.failures = cases, failures
	needed := map[string]bool{}
	for j := range r.All() {
		for _, n := range j.Needs {
			needed[n.Name] = needed[n.Name] || n.Fails
		}
	}
	r.errors = slices.DeleteFunc(r.errors, func(f rowError) bool {
		return !slices.Contains(shown, f.quantity.Sheet) && !needed[f.quantity.Name]
	})
	r.count()
}
