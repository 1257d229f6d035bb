package figure

import (
	"cmp"
	"fmt"
	"slices"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/page"
	"rambook/units/sorting"
	"rambook/units/words"
)

// ComparisonFigure holds two numbers of each case against each other: what the cases
// are ranked by along, the first other one up. A line joins those that no other case
// beats in both; where one of the two is neither good nor bad there is no line, and
// all that take part are named.
func (s Artist) ComparisonFigure(c *calc.Comparison) *chart.Figure {
	other := slices.IndexFunc(c.Shown, func(q *calc.Quantity) bool { return q != c.Shown[c.By] })
	if other < 0 || len(c.Rows) == 0 {
		return nil
	}
	x, y := c.Shown[c.By], c.Shown[other]
	unitX, unitY := c.Rows[0].Shown[c.By].Unit, c.Rows[0].Shown[other].Unit
	f := &chart.Figure{Title: y.Name + " against " + x.Name, X: axisOf(x.Name, unitX)}
	panel := chart.Panel{Y: axisOf(y.Name, unitY)}
	front := chart.Series{Kind: chart.Computed, Label: "unbeaten in both"}
	cases := chart.Series{Kind: chart.Case, Label: "cases"}
	out := chart.Series{Kind: chart.Reading, Label: "fails or open"}
	var unbeaten []*calc.ComparedCase
	if c.Better[c.By] != 0 && c.Better[other] != 0 {
		unbeaten = c.UnbeatenIn(c.By, other)
	}
	var named []string
	for i := range c.Rows {
		r := &c.Rows[i]
		px, _, _ := r.Shown[c.By].Subject()
		py, spread, _ := r.Shown[other].Subject()
		point := chart.Point{X: px, Y: py, Spread: spread}
		if r.Rank == 0 {
			out.Points = append(out.Points, point)
			continue
		}
		cases.Points = append(cases.Points, point)
		best := slices.Contains(unbeaten, r)
		if best {
			front.Points = append(front.Points, chart.Point{X: px, Y: py, Spread: page.NoSpread})
		}
		if (best || unbeaten == nil) && len(named) < mostNamedCases {
			name := page.Printable(r.Name)
			named = append(named, name)
			f.Names = append(f.Names, chart.Name{Point: point, Text: name})
		}
	}
	sorting.Stable(front.Points, func(a, b chart.Point) int { return cmp.Compare(a.X, b.X) })
	for _, series := range []chart.Series{front, cases, out} {
		if len(series.Points) > 0 {
			panel.Series = append(panel.Series, series)
		}
	}
	f.Panels = []chart.Panel{panel}
	f.About = fmt.Sprintf("%s of %s", f.Title, words.Counted(len(c.Rows), "case"))
	switch {
	case len(cases.Points) == 0:
		f.About += "; none takes part."
	case unbeaten != nil:
		f.About += ": no other case is as good in both as " + words.Listed(named, len(named)) + "."
	default:
		f.About += "."
	}
	return f
}
