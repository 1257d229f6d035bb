package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/page"
	told "rambook/units/problem"
	"rambook/units/words"
)

// mostFieldPlaces is how many values of each given a picture of contour lines is
// drawn from; between more of them nothing more can be seen.
const mostFieldPlaces = 80

// WantsContours reports whether a sweep is drawn as contour lines: two numbers
// are swept, and the second takes more values than there is room for lines.
func WantsContours(sweep *calc.Sweep, asked bool) bool {
	return len(sweep.Over) == 2 && !sweep.Over[0].IsText() && !sweep.Over[1].IsText() &&
		(asked || sweep.Over[1].N > MostCurves)
}

// ContourFigure draws each shown quantity over both givens: lines along which it
// is the same, its limits and those of the givens. Errors of limits and spreads
// go to the failures.
func (s Artist) ContourFigure(sweep *calc.Sweep, report *calc.Report, failures *calc.Failures) (*chart.Figure, error) {
	over, second := sweep.Over[0], sweep.Over[1]
	across, up := plottedPlaces(over, mostFieldPlaces), plottedPlaces(second, mostFieldPlaces)
	if len(across) < 2 || len(up) < 2 {
		return nil, told.Wrong(told.Problem{Message: "contour lines need two values of each given or more",
			Hint: "write longer ranges"})
	}
	var cases []int
	for _, j := range up {
		for _, i := range across {
			cases = append(cases, i*second.N+j)
		}
	}
	result := sweep.JudgeRun(cases, failures)
	at := func(i, j int) *calc.Case { return &result.Cases[j*len(across)+i] }
	grid := func(value func(*calc.Case) float64) [][]float64 {
		rows := make([][]float64, len(up))
		for j := range up {
			for i := range across {
				rows[j] = append(rows[j], value(at(i, j)))
			}
		}
		return rows
	}
	var xs, ys []float64
	for _, i := range across {
		xs = append(xs, over.Value(i))
	}
	for _, j := range up {
		ys = append(ys, second.Value(j))
	}
	figure := &chart.Figure{X: axisOf(over.Quantity.Name, over.Unit),
		Title: fmt.Sprintf("%s over %s and %s", words.Listed(page.QuantityNames(sweep.Show), 3), over.Quantity.Name,
			second.Quantity.Name)}
	here := chart.Point{X: over.Unit.FromSI(page.OwnValue(report, over.Quantity)),
		Y: second.Unit.FromSI(page.OwnValue(report, second.Quantity)), Spread: math.NaN()}
	seen := here.X >= xs[0] && here.X <= xs[len(xs)-1] && here.Y >= ys[0] && here.Y <= ys[len(ys)-1]
	for k, q := range sweep.Show {
		field := &chart.Field{Value: axisOf(q.Name, q.Unit), X: xs, Y: ys,
			Z: grid(func(c *calc.Case) float64 { return c.Values[k].Value })}
		for n := range result.Cases[0].Values {
			j := &result.Cases[0].Values[n]
			if n == k || n >= len(sweep.Show) && sweep.IsOver(j.Quantity) {
				field.Fences = append(field.Fences, s.fences(&result, n, n != k, grid)...)
			}
		}
		panel := chart.Panel{Y: axisOf(second.Quantity.Name, second.Unit), Field: field}
		if seen {
			panel.Series = []chart.Series{{Kind: chart.Case, Points: []chart.Point{here}}}
		}
		figure.Panels = append(figure.Panels, panel)
	}
	figure.About = figure.Title + ", as contour lines."
	if slices.ContainsFunc(figure.Panels, func(p chart.Panel) bool { return len(p.Field.Fences) > 0 }) {
		figure.Notes = append(figure.Notes, "Beyond a limit it is hatched or dotted; near one the verdict is unsure.")
	}
	if seen {
		figure.Notes = append(figure.Notes, fmt.Sprintf("The ring is the notebook: %s %s, %s %s.", over.Quantity.Name,
			page.Beside(s.Numbers.TypedOn(over.Unit, here.X, page.NoSpread), over.Unit), second.Quantity.Name,
			page.Beside(s.Numbers.TypedOn(second.Unit, here.Y, page.NoSpread), second.Unit)))
	}
	if line := s.Besides(sweep, result); line != "" {
		figure.Notes = append(figure.Notes, strings.ToUpper(line[:1])+line[1:]+".")
	}
	figure.Notes = append(figure.Notes, s.BeyondLines(sweep, cases, result)...)
	return figure, nil
}

// fences are the limits of value n of the cases as lines over the grid. named is
// whether that is another quantity than the contour lines are of.
func (s Artist) fences(result *calc.CaseResult, n int, named bool,
	grid func(func(*calc.Case) float64) [][]float64) []chart.Fence {
	var list []chart.Fence
	for _, side := range limitSides(s.Layout) {
		first, same, known := (*calc.Judged)(nil), true, false
		for i := range result.Cases {
			j := &result.Cases[i].Values[n]
			if first == nil {
				first = j
			}
			same = same && side.value(j) == side.value(first)
			known = known || calc.Has(side.value(j))
		}
		if !known {
			continue
		}
		label, at := side.what, math.NaN()
		if named {
			label = first.Quantity.Name + " " + side.what
		}
		if same {
			label += " " + page.Beside(side.text(first), first.Unit)
			if !named {
				at = side.value(first)
			}
		}
		list = append(list, chart.Fence{Label: label, At: at, Room: grid(func(c *calc.Case) float64 {
			j := &c.Values[n]
			return side.sign * (side.value(j) - j.Value)
		})})
	}
	return list
}

// limitSide is the low or the high limit of what is judged.
type limitSide struct {
	what  string
	sign  float64 // of limit - value while the limit is kept
	value func(*calc.Judged) float64
	text  func(*calc.Judged) string
	name  func(*calc.Judged) string // of the quantity that the limit is, "" for a number
}

func limitSides(s page.Layout) []limitSide {
	return []limitSide{
		{"low limit", -1, func(j *calc.Judged) float64 { return j.Low }, s.LowText,
			func(j *calc.Judged) string { return j.LowName }},
		{"high limit", 1, func(j *calc.Judged) float64 { return j.High }, s.HighText,
			func(j *calc.Judged) string { return j.HighName }},
	}
}
