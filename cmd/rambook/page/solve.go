package page

import (
	"fmt"
	"math"

	"rambook/calc"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// SolvedView puts what solves one condition into words and a table.
type SolvedView struct {
	Solved *calc.Solved
	Layout Layout
}

// Page is what was found, in sentences.
func (v *SolvedView) Page() []table.Table { return []table.Table{v.Layout.Sentences(2, v.Lines()...)} }

// Lines are what was found.
func (v *SolvedView) Lines() []string {
	s, solved := v.Layout, v.Solved
	name, unit, until := solved.Quantity.Name, solved.Unit, Printable(solved.Until)
	between := fmt.Sprintf("of %s between %s and %s", name, s.Numbers.TypedOn(unit, solved.From, NoSpread),
		Beside(s.Numbers.TypedOn(unit, solved.To, NoSpread), unit))
	var lines []string
	failing := false
	switch n := len(solved.Solutions); n {
	case 0:
		lines = append(lines, s.unsolved(solved, between))
	case 1:
		lines = append(lines, fmt.Sprintf("%s makes %s", s.solution(solved, &solved.Solutions[0]), until))
	default:
		lines = append(lines, fmt.Sprintf("%d values %s make %s:", n, between, until))
	}
	for i := range solved.Solutions {
		one := &solved.Solutions[i]
		if len(solved.Solutions) > 1 {
			lines = append(lines, s.solution(solved, one))
		}
		verdicts, fails := s.solutionVerdicts(solved, one)
		lines = append(lines, verdicts...)
		failing = failing || fails
	}
	if n := len(solved.Jumps); n > 0 {
		var places []string
		for _, x := range solved.Jumps {
			places = append(places, Beside(s.Numbers.WithSpread(unit, x, NoSpread), unit))
		}
		lines = append(lines, fmt.Sprintf("The two sides jump past each other at %s = %s, without being equal there.",
			name, words.Listed(places, MostNames)))
	}
	if failing {
		lines = append(lines, Cautions)
	}
	return lines
}

// solution writes one value that makes the sides equal, or a range of them.
func (s Layout) solution(solved *calc.Solved, one *calc.Solution) string {
	name, unit := solved.Quantity.Name, solved.Unit
	if one.To != one.Value {
		return fmt.Sprintf("every %s from %s to %s", name, s.Numbers.WithSpread(unit, one.Value, NoSpread),
			Beside(s.Numbers.WithSpread(unit, one.To, NoSpread), unit))
	}
	text := fmt.Sprintf("%s = %s", name, Beside(s.Numbers.WithSpread(unit, one.Value, one.Spread), unit))
	if one.Touch {
		text += " (the sides only touch here)"
	}
	return text
}

// solutionVerdicts is what fails at a solution and what is unsure there, and
// whether anything fails; of an interval at both of its ends, and from where on.
func (s Layout) solutionVerdicts(solved *calc.Solved, one *calc.Solution) (lines []string, failing bool) {
	if one.To == one.Value {
		return s.VerdictsAt(solved.Quantity, "there", &one.At)
	}
	numberText := func(x float64) string {
		return Beside(s.Numbers.WithSpread(solved.Unit, x, NoSpread), solved.Unit)
	}
	first, failsFirst := s.VerdictsAt(solved.Quantity, "at "+numberText(one.Value), &one.At)
	last, failsLast := s.VerdictsAt(solved.Quantity, "at "+numberText(one.To), &one.End)
	lines = first
	if calc.Has(one.FailsFrom) && !failsFirst {
		from := "- fails from about " + numberText(one.FailsFrom) + " on"
		if !failsLast {
			from = "- fails in between, as at " + numberText(one.FailsFrom)
		}
		lines = append(lines, from)
	}
	return append(lines, last...), one.Worst == calc.Fail
}

// VerdictsAt is what fails and what is unsure in one case.
func (s Layout) VerdictsAt(given *calc.Quantity, where string, at *calc.Case) (lines []string, failing bool) {
	var fails, unsure []string
	for i := range at.Values {
		j := &at.Values[i]
		switch j.Verdict {
		case calc.Fail:
			text := j.Quantity.Name + " (" + s.Margin(j) + ")"
			if j.Quantity == given { // its own limit is likely a rating, so it comes first
				fails = append([]string{text}, fails...)
				continue
			}
			fails = append(fails, text)
		case calc.Unsure:
			switch {
			case j.Unproven != nil:
			case calc.Has(j.Inside):
				unsure = append(unsure, j.Quantity.Name+" ("+Likely(j)+")")
			default:
				unsure = append(unsure, j.Quantity.Name)
			}
		}
	}
	if len(fails) > 0 {
		lines = append(lines, "- fails "+where+": "+words.Listed(fails, MostNames))
	}
	if len(unsure) > 0 {
		lines = append(lines, "- unsure "+where+": "+words.Listed(unsure, MostNames))
	}
	for _, text := range unsureForUnproven(at.Values) {
		lines = append(lines, "- "+where+" "+text)
	}
	return lines, len(fails) > 0
}

// unsolved is for want of a solution: how near one comes.
func (s Layout) unsolved(solved *calc.Solved, between string) string {
	until := Printable(solved.Until)
	if !calc.Has(solved.Closest) {
		return uncomputed(until, "value "+between, solved.Needs)
	}
	sides := s.sides([2]calc.Side{solved.Left, solved.Right})
	return fmt.Sprintf("No value %s makes %s; the closest is %s, where %s", between, until,
		Beside(s.Numbers.WithSpread(solved.Unit, solved.Closest, NoSpread), solved.Unit),
		words.Listed(sides, len(sides)))
}

// uncomputed is for sides that have no number for any of some values, and why.
func uncomputed(until, values string, needs []calc.Need) string {
	line := until + " cannot be computed for any " + values
	if len(needs) > 0 {
		line += "; it needs " + words.Listed(Names(needs), MostNames)
	}
	return line
}

// sides are what both sides come to. A number is the same everywhere, and is left
// out.
func (s Layout) sides(pair [2]calc.Side) (list []string) {
	for _, side := range pair {
		if _, err := units.ParseValue(side.Text); err != nil {
			list = append(list, Printable(side.Text)+" is "+
				Beside(s.Numbers.WithSpread(side.Unit, side.Value, NoSpread), side.Unit))
		}
	}
	return list
}

// Rows holds the solutions for CSV, one a row.
func (v *SolvedView) Rows() table.Table {
	solved := v.Solved
	t := table.Table{Columns: []table.Column{{Header: "name"}, {Header: "value"}, {Header: "to"}, {Header: "unit"},
		{Header: "spread"}, {Header: "verdict"}}}
	for _, one := range solved.Solutions {
		t.Rows = append(t.Rows, table.Row{Cells: []string{solved.Quantity.Name, Exact(solved.Unit, one.Value),
			Exact(solved.Unit, one.To),
			solved.Unit.Symbol, Shortest(one.Spread), one.Worst.String()}})
	}
	return t
}

type jsonSolved struct {
	Name      string   `json:"name"`
	Value     any      `json:"value,omitzero"` // of the solutions the one nearest to the notebook's value
	Unit      string   `json:"unit"`
	Spread    any      `json:"spread,omitzero"` // of that value
	Until     string   `json:"until"`
	Solutions []any    `json:"solutions"`           // of a whole interval of them, both ends
	Intervals [][2]any `json:"intervals,omitempty"` // every value from the one to the other is a solution
	Closest   any      `json:"closest,omitzero"`
}

// Object is what `solve --format json` promises.
func (v *SolvedView) Object() any { return newJSONSolved(v.Solved) }

// newJSONSolved is what was solved as other programs read it.
func newJSONSolved(solved *calc.Solved) jsonSolved {
	out := jsonSolved{Name: solved.Quantity.Name, Unit: solved.Unit.Symbol, Until: solved.Until,
		Solutions: []any{}, Closest: JSONNumber(solved.Unit, solved.Closest)}
	least := math.Inf(1)
	for _, one := range solved.Solutions {
		out.Solutions = append(out.Solutions, JSONNumber(solved.Unit, one.Value))
		if one.To != one.Value {
			out.Solutions = append(out.Solutions, JSONNumber(solved.Unit, one.To))
			out.Intervals = append(out.Intervals, [2]any{JSONNumber(solved.Unit, one.Value),
				JSONNumber(solved.Unit, one.To)})
		}
		nearest := math.Min(math.Max(solved.Now, one.Value), one.To)
		distance := math.Abs(nearest - solved.Now)
		if !calc.Has(solved.Now) { // then the first
			nearest, distance = one.Value, math.MaxFloat64
		}
		if distance < least {
			least, out.Value, out.Spread = distance, JSONNumber(solved.Unit, nearest), Plain(one.Spread)
		}
	}
	return out
}
