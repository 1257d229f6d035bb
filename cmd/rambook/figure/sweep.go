package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/page"
	"rambook/units"
	"rambook/units/problem"
	"rambook/units/sorting"
	"rambook/units/words"
)

const (
	mostPlotted = 400 // cases along a line; more of them cannot be seen
	MostCurves  = 6   // lines of a family, and panels of a figure
)

// SweepFigure draws what a sweep shows, judged as in a table: along the first
// given, with a line for each value of the second. report is of the same
// model: it has where the notebook stands, and its readings. Errors of limits
// and spreads go to the failures.
func (s Artist) SweepFigure(sweep *calc.Sweep, report *calc.Report, failures *calc.Failures) (*chart.Figure, error) {
	along := slices.IndexFunc(sweep.Over, func(g *calc.Range) bool { return !g.IsText() })
	if along < 0 {
		return nil, problem.Wrong(problem.Problem{
			Message: words.Listed(strings.Split(page.OverNames(sweep), " and "), 2) +
				" is a text, which has no axis to draw it along",
			Hint: "leave out --plot, or sweep a number"})
	}
	c := curves{over: sweep.Over[along], family: 1}
	if len(sweep.Over) == 2 { // a text makes the lines, wherever it stands
		c.second = sweep.Over[1-along]
		if c.family = c.second.N; c.family > MostCurves {
			return nil, problem.Wrong(problem.Problem{
				Message: fmt.Sprintf("%s has %d values, and a figure has room for %d lines",
					c.second.Quantity.Name, c.family, MostCurves),
				Hint: "--contours draws two numbers as contour lines; " +
					"else the first --over goes along the axis, the second makes the lines"})
		}
	}
	c.places = plottedPlaces(c.over, mostPlotted)
	var all []int
	for k := range c.family {
		cases := make([]int, len(c.places))
		for i, place := range c.places {
			if cases[i] = place*c.family + k; along == 1 {
				cases[i] = k*c.over.N + place
			}
		}
		all = append(all, cases...)
		c.results = append(c.results, sweep.JudgeRun(cases, failures))
	}
	figure := &chart.Figure{X: axisOf(c.over.Quantity.Name, c.over.Unit)}
	own := c.over.Unit.FromSI(page.OwnValue(report, c.over.Quantity))
	if own >= c.at(0) && own <= c.at(len(c.places)-1) {
		figure.Here = &chart.Mark{X: own, Label: "given " +
			page.Beside(s.Numbers.TypedOn(c.over.Unit, own, page.NoSpread), c.over.Unit)}
	}
	figure.Bounds = s.bounds(&c, len(sweep.Show))
	var whole calc.CaseResult
	for _, result := range c.results {
		whole.Cases = append(whole.Cases, result.Cases...)
	}
	if line := s.Besides(sweep, whole); line != "" {
		figure.Notes = append(figure.Notes, strings.ToUpper(line[:1])+line[1:]+".")
	}
	figure.Notes = append(figure.Notes, s.BeyondLines(sweep, all, whole)...)
	figure.Title = words.Listed(page.QuantityNames(sweep.Show), 3) + " over " + c.over.Quantity.Name
	if c.second != nil {
		figure.Title += ", for " + words.Counted(c.family, "value") + " of " + c.second.Quantity.Name
		figure.About = figure.Title + "."
	}
	for i, q := range sweep.Show {
		panel := panelFor(figure, q, c.second != nil)
		s.addCurves(panel, &c, i)
		whose := ""
		if c.second == nil && shareUnit(sweep.Show, q) {
			whose = q.Name + " "
		}
		s.addLimits(panel, whose, len(c.places), c.at, func(n int) *calc.Judged { return c.shared(n, i) })
		if c.second != nil {
			continue
		}
		if j := page.JudgedOf(report, q); figure.Here != nil && calc.Has(j.Reading) {
			s.addReading(panel, own, j)
		}
		figure.About = strings.TrimSpace(figure.About + " " + s.inWords(&c, i))
	}
	return figure, nil
}

// curves are the judged cases of a sweep, a line of them for each value of the
// second given.
type curves struct {
	over, second *calc.Range // second is nil if one given is swept
	family       int         // number of lines
	places       []int       // along over
	results      []calc.CaseResult
}

// at is where a place is along the axis.
func (c *curves) at(n int) float64 { return c.over.Value(c.places[n]) }

// shared is the value of a quantity at a place, without a limit that differs
// from line to line.
func (c *curves) shared(n, quantity int) *calc.Judged {
	j := c.results[0].Cases[n].Values[quantity]
	for _, other := range c.results[1:] {
		v := &other.Cases[n].Values[quantity]
		if v.Low != j.Low {
			j.Low = math.NaN()
		}
		if v.High != j.High {
			j.High = math.NaN()
		}
	}
	return &j
}

// addCurves draws a quantity, a line for each value of the second given.
func (s Artist) addCurves(panel *chart.Panel, c *curves, quantity int) {
	for k, result := range c.results {
		line := chart.Series{Kind: chart.Computed, Label: result.Asked[quantity].Name}
		if c.second != nil {
			line.Label = c.second.Quantity.Name + "\n" + s.RangeText(c.second, k)
		}
		for n := range result.Cases {
			j := &result.Cases[n].Values[quantity]
			line.Points = append(line.Points, chart.Point{X: c.at(n), Y: j.Value, Spread: j.Spread})
		}
		panel.Series = append(panel.Series, line)
	}
}

// bounds are the limits of what is swept along the axis, where they are the same
// in all cases and the axis goes beyond them. shown is how many quantities are.
func (s Artist) bounds(c *curves, shown int) []chart.Mark {
	from, to := c.at(0), c.at(len(c.places)-1)
	var list []chart.Mark
	for _, limit := range limitSides(s.Layout) {
		same := true
		var first *calc.Judged
		for _, result := range c.results {
			for i := range result.Cases {
				for k := shown; k < len(result.Cases[i].Values); k++ {
					j := &result.Cases[i].Values[k]
					if j.Quantity != c.over.Quantity {
						continue
					}
					if first == nil {
						first = j
					}
					same = same && limit.value(j) == limit.value(first)
				}
			}
		}
		if first == nil || !same {
			continue
		}
		if x := c.over.Unit.FromSI(first.Unit.ToSI(limit.value(first))); x > from && x < to {
			list = append(list, chart.Mark{X: x, Label: cmp.Or(limit.name(first), limit.what) + " " +
				page.Beside(limit.text(first), first.Unit)})
		}
	}
	return list
}

// axisOf names an axis.
//
//go:noinline
func axisOf(name string, u units.Unit) chart.Axis {
	return chart.Axis{Name: name, Unit: page.ShownUnit(u), Date: u.Kind == units.Date}
}

// plottedPlaces picks the values of a range that are drawn, at most so many, in
// rising order.
func plottedPlaces(over *calc.Range, most int) []int {
	n := min(over.N, most)
	places := make([]int, n)
	for i := range places {
		places[i] = i
		if n > 1 {
			places[i] = int(math.Round(float64(i) / float64(n-1) * float64(over.N-1)))
		}
	}
	sorting.Stable(places, func(a, b int) int { return cmp.Compare(over.Value(a), over.Value(b)) })
	return places
}

// panelFor finds the panel of a figure with the quantity's unit, or adds one.
// In a family of lines every quantity has a panel of its own.
func panelFor(figure *chart.Figure, q *calc.Quantity, own bool) *chart.Panel {
	axis := axisOf(q.Name, q.Unit)
	for i := range figure.Panels {
		y := &figure.Panels[i].Y
		if y.Unit == axis.Unit && y.Date == axis.Date && !own {
			y.Name += ", " + q.Name
			return &figure.Panels[i]
		}
	}
	figure.Panels = append(figure.Panels, chart.Panel{Y: axis})
	return &figure.Panels[len(figure.Panels)-1]
}

// shareUnit reports whether another quantity has the same unit, and so stands
// in the same panel.
func shareUnit(list []*calc.Quantity, q *calc.Quantity) bool {
	return slices.ContainsFunc(list, func(other *calc.Quantity) bool {
		return other != q && other.Unit.Symbol == q.Unit.Symbol && other.Unit.Kind == q.Unit.Kind
	})
}

// addLimits draws the limits of a quantity along n places. whose is put before
// the label of a limit without a name.
func (s Artist) addLimits(panel *chart.Panel, whose string, n int, x func(int) float64, at func(int) *calc.Judged) {
	for _, limit := range limitSides(s.Layout) {
		line := chart.Series{Kind: chart.Limit, Label: cmp.Or(limit.name(at(0)), whose+limit.what)}
		constant := true
		for i := range n {
			j := at(i)
			line.Points = append(line.Points, chart.Point{X: x(i), Y: limit.value(j), Spread: math.NaN()})
			constant = constant && limit.value(j) == limit.value(at(0))
		}
		if !slices.ContainsFunc(line.Points, func(p chart.Point) bool { return calc.Has(p.Y) }) {
			continue
		}
		if constant {
			line.Label += "\n" + page.Beside(limit.text(at(0)), at(0).Unit)
		}
		known := slices.ContainsFunc(panel.Series, func(other chart.Series) bool {
			return other.Kind == chart.Limit && other.Label == line.Label &&
				slices.EqualFunc(other.Points, line.Points, samePlace)
		})
		if !known {
			panel.Series = append(panel.Series, line)
		}
	}
}

func samePlace(a, b chart.Point) bool { return a.X == b.X && (a.Y == b.Y || a.Y != a.Y && b.Y != b.Y) }

// addReading draws a reading as a point.
func (s Artist) addReading(panel *chart.Panel, x float64, j *calc.Judged) {
	panel.Series = append(panel.Series, chart.Series{Kind: chart.Reading,
		Label:  "reading\n" + page.Beside(s.ReadingText(j), j.Unit),
		Points: []chart.Point{{X: x, Y: j.Reading, Spread: j.ReadingSpread}}})
}

// inWords is what the line of a quantity does.
func (s Artist) inWords(c *curves, quantity int) string {
	result := &c.results[0]
	q := result.Asked[quantity]
	first, last := &result.Cases[0].Values[quantity], &result.Cases[len(result.Cases)-1].Values[quantity]
	if !calc.Has(first.Value) || !calc.Has(last.Value) {
		return q.Name + " is not known everywhere."
	}
	text := fmt.Sprintf("%s goes from %s to %s while %s goes from %s to %s", q.Name, s.ValueText(first),
		page.Beside(s.ValueText(last), last.Unit), c.over.Quantity.Name,
		s.RangeValue(c.over, c.places[0]), page.Beside(s.RangeValue(c.over, c.places[len(c.places)-1]), c.over.Unit))
	for _, limit := range []string{
		limitText("low", last.LowName, s.LowText(last), last.Unit),
		limitText("high", last.HighName, s.HighText(last), last.Unit),
	} {
		if limit != "" {
			text += "; " + limit
		}
	}
	return text + "."
}

func limitText(what, name, value string, u units.Unit) string {
	if value == "" {
		return ""
	}
	if name != "" {
		return what + " limit " + name + " " + page.Beside(value, u)
	}
	return what + " limit " + page.Beside(value, u)
}
