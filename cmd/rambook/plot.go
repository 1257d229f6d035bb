package main

import (
	"cmp"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/units"
	told "rambook/units/problem"
)

// pictures are the endings of -o that ask for a picture of a sweep.
var pictures = map[string]func(*chart.Figure) ([]byte, error){
	".svg": (*chart.Figure).SVG,
	".png": (*chart.Figure).PNG,
}

const (
	mostPlotted = 400 // cases along a line; more of them cannot be seen
	mostCurves  = 6   // lines of a family, and panels of a figure
)

// wantsFigure reports whether a sweep is to be drawn.
func (c *sweepCommand) wantsFigure(s *session) bool {
	return c.Plot || !s.chosen && pictureOf(s.output.Output) != nil
}

func pictureOf(file string) func(*chart.Figure) ([]byte, error) {
	return pictures[strings.ToLower(filepath.Ext(file))]
}

// draw shows a sweep as a figure: in the file of -o if that is a picture, else
// with characters.
func (c *sweepCommand) draw(s *session, model *calc.Model, sweep *calc.Sweep, failures *calc.Failures) error {
	layout := screen{numbers: s.output.numbers()}
	drawn, err := layout.sweepFigure(sweep, model.Standing(), failures)
	if err != nil {
		return err
	}
	if n := len(drawn.Panels) - mostCurves; n > 0 {
		drawn.Panels = drawn.Panels[:mostCurves]
		fmt.Fprintf(s.stderr, "%s left out of the figure; --show chooses\n", counted(n, "panel"))
	}
	if drawn.Empty() {
		return problem("no case could be computed, so there is nothing to draw",
			"the same command without --plot and -o says why")
	}
	err = s.showFigure(c.title(model), drawn)
	if pictureOf(s.output.Output) != nil {
		for _, line := range append([]string{drawn.About}, drawn.Notes...) {
			fmt.Fprintln(s.stderr, wrapped(line, s.width(), 0))
		}
	}
	return err
}

// showFigure makes the picture that -o asks for, or else draws the figure with
// characters, below its title.
func (s *session) showFigure(title string, figure *chart.Figure) error {
	if picture := pictureOf(s.output.Output); picture != nil {
		data, err := picture(figure)
		s.out.Write(data)
		return err
	}
	if !s.form.Screen {
		return problem("--plot draws with characters, it cannot go with --format "+s.form.Name,
			"-o FILE.svg and -o FILE.png make pictures")
	}
	figure.Title = title
	s.out.WriteString(figure.Text(chart.TextOptions{Width: s.width(), Height: s.height(), Colour: s.colour()}))
	return nil
}

// sweepFigure draws what a sweep shows, judged as in a table: along the first
// given, with a line for each value of the second. report is of the same
// model: it tells where the notebook stands, and its readings. Errors of limits
// and spreads go to the failures.
func (s screen) sweepFigure(sweep *calc.Sweep, report *calc.Report, failures *calc.Failures) (*chart.Figure, error) {
	along := slices.IndexFunc(sweep.Over, func(g *calc.Range) bool { return !g.IsText() })
	if along < 0 {
		return nil, told.Wrong(told.Problem{
			Message: listed(strings.Split(overNames(sweep), " and "), 2) +
				" is a text, which has no axis to draw it along",
			Hint: "leave out --plot, or sweep a number"})
	}
	c := curves{over: sweep.Over[along], family: 1}
	if len(sweep.Over) == 2 { // a text makes the lines, wherever it stands
		c.second = sweep.Over[1-along]
		if c.family = c.second.N; c.family > mostCurves {
			return nil, told.Wrong(told.Problem{
				Message: fmt.Sprintf("%s has %d values, and a figure has room for %d lines",
					c.second.Quantity.Name, c.family, mostCurves),
				Hint: "the first --over goes along the axis, the second makes the lines"})
		}
	}
	c.places = plottedPlaces(c.over)
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
	own := c.over.Unit.FromSI(ownValue(report, c.over.Quantity))
	if own >= c.at(0) && own <= c.at(len(c.places)-1) {
		figure.Here = &chart.Mark{X: own, Label: "given " +
			beside(s.numbers.typedOn(c.over.Unit, own, noSpread), c.over.Unit)}
	}
	figure.Bounds = s.bounds(&c, len(sweep.Show))
	var whole calc.CaseResult
	for _, result := range c.results {
		whole.Cases = append(whole.Cases, result.Cases...)
	}
	if line := s.besides(sweep, whole); line != "" {
		figure.Notes = append(figure.Notes, strings.ToUpper(line[:1])+line[1:]+".")
	}
	figure.Notes = append(figure.Notes, s.beyondLines(sweep, all, whole)...)
	figure.Title = listed(quantityNames(sweep.Show), 3) + " over " + c.over.Quantity.Name
	if c.second != nil {
		figure.Title += ", for " + counted(c.family, "value") + " of " + c.second.Quantity.Name
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
		if j := judgedOf(report, q); figure.Here != nil && calc.Has(j.Reading) {
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
func (s screen) addCurves(panel *chart.Panel, c *curves, quantity int) {
	for k, result := range c.results {
		line := chart.Series{Kind: chart.Computed, Label: result.Asked[quantity].Name}
		if c.second != nil {
			line.Label = c.second.Quantity.Name + "\n" + s.rangeText(c.second, k)
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
func (s screen) bounds(c *curves, shown int) []chart.Mark {
	from, to := c.at(0), c.at(len(c.places)-1)
	var list []chart.Mark
	for _, limit := range []struct {
		at         func(*calc.Judged) float64
		name, text func(*calc.Judged) string
		what       string
	}{
		{func(j *calc.Judged) float64 { return j.Low }, func(j *calc.Judged) string { return j.LowName }, s.low,
			"low limit"},
		{func(j *calc.Judged) float64 { return j.High }, func(j *calc.Judged) string { return j.HighName }, s.high,
			"high limit"},
	} {
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
					same = same && limit.at(j) == limit.at(first)
				}
			}
		}
		if first == nil || !same {
			continue
		}
		if x := c.over.Unit.FromSI(first.Unit.ToSI(limit.at(first))); x > from && x < to {
			list = append(list, chart.Mark{X: x, Label: cmp.Or(limit.name(first), limit.what) + " " +
				beside(limit.text(first), first.Unit)})
		}
	}
	return list
}

// axisOf names an axis.
func axisOf(name string, u units.Unit) chart.Axis {
	return chart.Axis{Name: name, Unit: shownUnit(u), Date: u.Kind == units.Date}
}

// plottedPlaces picks the values of a range that are drawn, in rising order.
func plottedPlaces(over *calc.Range) []int {
	n := min(over.N, mostPlotted)
	places := make([]int, n)
	for i := range places {
		places[i] = i
		if n > 1 {
			places[i] = int(math.Round(float64(i) / float64(n-1) * float64(over.N-1)))
		}
	}
	slices.SortStableFunc(places, func(a, b int) int { return cmp.Compare(over.Value(a), over.Value(b)) })
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
func (s screen) addLimits(panel *chart.Panel, whose string, n int, x func(int) float64, at func(int) *calc.Judged) {
	for _, limit := range []struct {
		value func(*calc.Judged) float64
		text  func(*calc.Judged) string
		name  func(*calc.Judged) string
		what  string
	}{
		{func(j *calc.Judged) float64 { return j.Low }, s.low, func(j *calc.Judged) string { return j.LowName },
			"low limit"},
		{func(j *calc.Judged) float64 { return j.High }, s.high, func(j *calc.Judged) string { return j.HighName },
			"high limit"},
	} {
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
			line.Label += "\n" + beside(limit.text(at(0)), at(0).Unit)
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
func (s screen) addReading(panel *chart.Panel, x float64, j *calc.Judged) {
	panel.Series = append(panel.Series, chart.Series{Kind: chart.Reading,
		Label:  "reading\n" + beside(s.reading(j), j.Unit),
		Points: []chart.Point{{X: x, Y: j.Reading, Spread: j.ReadingSpread}}})
}

// inWords tells what the line of a quantity does.
func (s screen) inWords(c *curves, quantity int) string {
	result := &c.results[0]
	q := result.Asked[quantity]
	first, last := &result.Cases[0].Values[quantity], &result.Cases[len(result.Cases)-1].Values[quantity]
	if !calc.Has(first.Value) || !calc.Has(last.Value) {
		return q.Name + " is not known everywhere."
	}
	text := fmt.Sprintf("%s goes from %s to %s while %s goes from %s to %s", q.Name, s.value(first),
		beside(s.value(last), last.Unit), c.over.Quantity.Name,
		s.rangeValue(c.over, c.places[0]), beside(s.rangeValue(c.over, c.places[len(c.places)-1]), c.over.Unit))
	for _, limit := range []string{
		limitText("low", last.LowName, s.low(last), last.Unit),
		limitText("high", last.HighName, s.high(last), last.Unit),
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
		return what + " limit " + name + " " + beside(value, u)
	}
	return what + " limit " + beside(value, u)
}

// judgedOf is a quantity as it came out of a report of its model.
func judgedOf(report *calc.Report, q *calc.Quantity) *calc.Judged {
	for i := range report.Quantities {
		if report.Quantities[i].Quantity == q {
			return &report.Quantities[i]
		}
	}
	panic("quantity " + q.Name + " is of another model")
}

// ownValue is the SI value that a given has in the notebook, NaN if it is open.
func ownValue(report *calc.Report, q *calc.Quantity) float64 {
	j := judgedOf(report, q)
	return j.Unit.ToSI(j.Value)
}
