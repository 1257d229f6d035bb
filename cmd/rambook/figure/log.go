package figure

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/units"
	"rambook/units/problem"
	"rambook/units/words"
)

// mostSpans is how many phases are shaded; more of them would be stripes.
const mostSpans = 40

// LogFigure draws columns of a log between two times of its clock.
func (s Artist) LogFigure(model *calc.Model, r *calc.Report, of page.LoggedSheet, show []string, from,
	to float64) (*chart.Figure, error) {
	l := of.Log
	var columns []int
	for _, name := range show {
		i := l.Column(strings.TrimSpace(name))
		if i < 1 {
			var names []string
			for _, col := range l.Columns[1:] {
				names = append(names, col.Name)
			}
			return nil, problem.Wrong(problem.Problem{Message: "the log has no column " + words.Quoted(name),
				Hint: words.DidYouMean(name, names, "its columns are "+words.Listed(names, 12))})
		}
		columns = append(columns, i)
	}
	if len(show) == 0 {
		for i, col := range l.Columns {
			if i > 0 && col.Name != "" {
				columns = append(columns, i)
			}
		}
	}
	columns = columns[:min(len(columns), MostCurves)]
	curves, end, problems := log.Thin(context.Background(), l, columns, from, to)
	if end == nil || len(problems) > 0 {
		return nil, problem.Wrong(problems...)
	}
	clock := page.ClockUnit(l)
	figure := &chart.Figure{Title: of.Sheet.Name, X: axisOf("time", clock)}
	across := func(t float64) float64 { return t }
	if l.Dated {
		figure.X, across = datedAxis(of, curves)
	}
	var names []string
	for k, column := range columns {
		u := of.UnitOf(column)
		name := l.Columns[column].Name
		panel := chart.Panel{Y: axisOf(name, u)}
		line := chart.Series{Kind: chart.Computed, Label: name}
		for i, t := range curves[k].Times {
			line.Points = append(line.Points, chart.Point{X: across(t), Y: curves[k].Values[i], Spread: math.NaN()})
		}
		panel.Series = append(panel.Series, line)
		if first, last := xEnds(line.Points); first < last {
			for _, limit := range model.ColumnLimits(of.Sheet, name, r) {
				s.addColumnLimit(&panel, limit, u, first, last)
			}
		}
		if !slices.ContainsFunc(line.Points, func(p chart.Point) bool { return calc.Has(p.Y) }) {
			continue // a column of texts
		}
		figure.Panels = append(figure.Panels, panel)
		names = append(names, name)
	}
	figure.About = words.Listed(names, 6) + " over time"
	s.addSpans(figure, model.PhaseSpans(of.Sheet), func(seconds float64) float64 { return clock.FromSI(seconds) },
		across, from, to)
	return figure, nil
}

// datedAxis counts the time of a dated log from the first moment that is drawn,
// in a unit that suits how long that is.
func datedAxis(of page.LoggedSheet, curves []log.Curve) (chart.Axis, func(float64) float64) {
	first, last := math.Inf(1), math.Inf(-1)
	for _, c := range curves {
		if n := len(c.Times); n > 0 {
			first, last = min(first, c.Times[0]), max(last, c.Times[n-1])
		}
	}
	unit, seconds := "s", 1.0
	switch {
	case last-first > 10*3600:
		unit, seconds = "h", 3600
	case last-first > 600:
		unit, seconds = "min", 60
	}
	return chart.Axis{Name: "time after " + of.TimeText(first), Unit: unit},
		func(t float64) float64 { return (t - first) / seconds }
}

// LoggedFigures draws the first cycle of each log that is cut, and the one that
// comes off worst.
func (s Artist) LoggedFigures(model *calc.Model, r *calc.Report) ([]*Captioned, error) {
	var figures []*Captioned
	for _, sheet := range model.Book.Sheets {
		spans := model.PhaseSpans(sheet)
		if sheet.Kind != sheets.Log || len(spans) == 0 {
			continue
		}
		l, problems := log.Open(sheet.File, sheet.Open)
		if l == nil {
			return nil, problem.Wrong(problems...)
		}
		wanted := []cycleShown{{spans[0].Cycle, "first cycle of " + sheet.Name + ", " + spans[0].Cycle}}
		if worst := worstCycle(r); worst != nil && worst.Name != spans[0].Cycle {
			wanted = append(wanted, cycleShown{worst.Name,
				"worst cycle of " + sheet.Name + ", " + worst.Name + ": " + worst.Verdict.String()})
		}
		for _, cycle := range wanted {
			from, to := math.Inf(1), math.Inf(-1)
			for _, span := range spans {
				if span.Cycle == cycle.name {
					from, to = min(from, span.From), max(to, span.To)
				}
			}
			clock := page.ClockUnit(l)
			margin := (to - from) / 20
			figure, err := s.LogFigure(model, r, page.LoggedSheet{Sheet: sheet, Log: l}, nil, clock.FromSI(from-margin),
				clock.FromSI(to+margin))
			if err != nil {
				return nil, err
			}
			figure.Title = cycle.title
			figures = append(figures, &Captioned{Figure: figure, Sampled: true})
		}
	}
	return figures, nil
}

// cycleShown is a cycle of a log that is drawn.
type cycleShown struct{ name, title string }

// worstCycle is the cycle with the worst verdict, nil if all are alike.
func worstCycle(r *calc.Report) *calc.Case {
	for _, result := range r.Cases {
		if !result.OfCycles() {
			continue
		}
		var worst *calc.Case
		for i := range result.Cases {
			if c := &result.Cases[i]; worst == nil || c.Verdict > worst.Verdict {
				worst = c
			}
		}
		return worst
	}
	return nil
}

// xEnds are the first and the last place of a line.
func xEnds(points []chart.Point) (first, last float64) {
	first, last = math.Inf(1), math.Inf(-1)
	for _, p := range points {
		first, last = min(first, p.X), max(last, p.X)
	}
	return first, last
}

// addColumnLimit draws the limits of a reading in the panel of the column that
// it is read off.
func (s Artist) addColumnLimit(panel *chart.Panel, limit calc.ColumnLimit, u units.Unit, first, last float64) {
	for _, side := range []struct {
		what  string
		value float64
	}{{"low", limit.Low}, {"high", limit.High}} {
		if !calc.Has(side.value) {
			continue
		}
		v := u.FromSI(limit.Unit.ToSI(side.value))
		panel.Series = append(panel.Series, chart.Series{Kind: chart.Limit,
			Label:  limit.Quantity.Name + "\n" + side.what + " limit " + page.Beside(page.Shortest(v), u),
			Points: []chart.Point{{X: first, Y: v, Spread: math.NaN()}, {X: last, Y: v, Spread: math.NaN()}}})
	}
}

// addSpans shades the phases that are in view.
func (s Artist) addSpans(figure *chart.Figure, spans []calc.PhaseSpan, clock, across func(float64) float64, from,
	to float64) {
	var shown []chart.Span
	for _, span := range spans {
		a, b := clock(span.From), clock(span.To)
		if b < from || a > to {
			continue
		}
		shown = append(shown, chart.Span{From: across(max(a, from)), To: across(min(b, to)), Label: span.Phase})
	}
	if len(shown) > mostSpans {
		figure.About += fmt.Sprintf("; %s in view, which are shaded once they are %d or fewer",
			words.Counted(len(shown), "phase"), mostSpans)
		return
	}
	figure.Spans = shown
}
