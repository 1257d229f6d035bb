package figure

import (
	"math"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/page"
)

// Histogram draws how the samples of a quantity are spread out, beside the normal
// distribution that follows from its derivatives, with the interval that holds as many of
// the samples as value ± spread shaded, and the limits.
func (s Artist) Histogram(j *calc.Judged) *chart.Figure {
	h := j.Histogram
	n := float64(h.Samples())
	f := &chart.Figure{Title: "samples of " + j.Quantity.Name, X: axisOf(j.Quantity.Name, j.Unit),
		Spans: []chart.Span{{From: j.SampledLow, To: j.SampledHigh}}, Notes: s.SampledWords(j)}
	f.About = f.Notes[0]
	f.Notes = append(f.Notes, "That interval is shaded.")
	last := h.From + float64(len(h.Counts))*h.Step
	steps := chart.Series{Kind: chart.Computed, Label: "samples", Filled: true}
	add := func(x, y float64) { steps.Points = append(steps.Points, chart.Point{X: x, Y: y, Spread: math.NaN()}) }
	add(h.From, 0)
	for i, c := range h.Counts {
		share := 100 * float64(c) / n
		add(h.From+float64(i)*h.Step, share)
		add(h.From+float64(i+1)*h.Step, share)
	}
	add(last, 0)
	panel := chart.Panel{Y: chart.Axis{Name: "share of the samples in each step", Unit: "%"},
		Series: []chart.Series{steps}}
	if u := j.Spread / 2; u > 0 {
		bell := chart.Series{Kind: chart.Computed, Label: "by derivatives"}
		const places = 120
		for i := range places + 1 {
			x := h.From + (last-h.From)*float64(i)/places
			z := (x - j.Value) / u
			bell.Points = append(bell.Points, chart.Point{X: x, Spread: math.NaN(),
				Y: 100 * h.Step / (u * math.Sqrt(2*math.Pi)) * math.Exp(-z*z/2)})
		}
		panel.Series = append(panel.Series, bell)
	}
	for _, side := range limitSides(s.Layout) {
		if x := side.value(j); x > h.From && x < last {
			f.Bounds = append(f.Bounds, chart.Mark{X: x, Label: side.what + " " + page.Beside(side.text(j), j.Unit)})
		}
	}
	f.Panels = []chart.Panel{panel}
	return f
}

// mostHistograms is how many a report draws.
const mostHistograms = 6

// Histograms are those that show more than value ± spread: of what sampling finds
// other than the derivatives, and of what is unsure.
func (s Artist) Histograms(r *calc.Report) []*Captioned {
	var list []*Captioned
	for i := range r.Quantities {
		j := &r.Quantities[i]
		if j.Histogram == nil || !j.Bends && (j.Verdict != calc.Unsure || calc.Has(j.Reading)) ||
			len(list) == mostHistograms {
			continue
		}
		f := s.Histogram(j)
		list = append(list, &Captioned{Figure: f, Sampled: true})
	}
	return list
}
