package figure

import (
	"cmp"
	"fmt"
	"slices"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/page"
	"rambook/units/words"
)

// ComparisonFigure holds the first two numbers of each case against each other: what
// the cases are ranked by along, the other one up. The unbeaten are named.
func (s Artist) ComparisonFigure(c *calc.Comparison) *chart.Figure {
	other := slices.IndexFunc(c.Shown, func(q *calc.Quantity) bool { return q != c.Shown[c.By] })
	if other < 0 || len(c.Rows) == 0 {
		return nil
	}
	x, y := c.Shown[c.By], c.Shown[other]
	unitX, unitY := c.Rows[0].Shown[c.By].Unit, c.Rows[0].Shown[other].Unit
	f := &chart.Figure{Title: y.Name + " against " + x.Name, X: axisOf(x.Name, unitX)}
	panel := chart.Panel{Y: axisOf(y.Name, unitY)}
	front := chart.Series{Kind: chart.Computed, Label: "unbeaten"}
	cases := chart.Series{Kind: chart.Case, Label: "cases"}
	out := chart.Series{Kind: chart.Reading, Label: "fails or open"}
	var named []string
	for i := range c.Rows {
		r := &c.Rows[i]
		px, _, _ := r.Shown[c.By].Subject()
		py, spread, _ := r.Shown[other].Subject()
		point := chart.Point{X: px, Y: py, Spread: spread}
		switch {
		case r.Unbeaten && len(named) < mostNamedCases:
			name := page.Printable(r.Name)
			named = append(named, name)
			front.Points = append(front.Points, chart.Point{X: px, Y: py, Spread: page.NoSpread})
			cases.Points = append(cases.Points, point)
			f.Names = append(f.Names, chart.Name{Point: point, Text: name})
		case r.Rank == 0:
			out.Points = append(out.Points, point)
		default:
			cases.Points = append(cases.Points, point)
		}
	}
	slices.SortStableFunc(front.Points, func(a, b chart.Point) int { return cmp.Compare(a.X, b.X) })
	for _, series := range []chart.Series{front, cases, out} {
		if len(series.Points) > 0 {
			panel.Series = append(panel.Series, series)
		}
	}
	f.Panels = []chart.Panel{panel}
	f.About = fmt.Sprintf("%s of %s: no other case is as good in both as %s.", f.Title,
		words.Counted(len(c.Rows), "case"), words.Listed(named, len(named)))
	if len(named) == 0 {
		f.About = fmt.Sprintf("%s of %s; none takes part.", f.Title, words.Counted(len(c.Rows), "case"))
	}
	return f
}
