package page

import (
	"fmt"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/sheets/table"
)

// SampledWords are in sentences how the samples of a quantity lie.
func (s Layout) SampledWords(j *calc.Judged) []string {
	h := j.Histogram
	lines := []string{fmt.Sprintf("%d samples of %s: mean %s, 95.45 %% of them from %s.", h.Samples(), j.Quantity.Name,
		Beside(s.Numbers.computedOn(j.Unit, j.SampledMean, (j.SampledHigh-j.SampledLow)/2), j.Unit),
		Beside(s.SampledText(j), j.Unit))}
	if calc.Has(j.Spread) && j.Spread > 0 {
		lines[0] = strings.TrimSuffix(lines[0], ".") + fmt.Sprintf("; by derivatives %s.",
			Beside(PlusMinus(s.Numbers.computedOn(j.Unit, j.Value, j.Spread),
				s.Numbers.SpreadOn(j.Unit, j.Value, j.Spread)),
				j.Unit))
	}
	if calc.Has(j.Inside) && !calc.Has(j.Reading) {
		lines = append(lines, fmt.Sprintf("%.2f %% of them are inside its limits.", 100*j.Inside))
	}
	return lines
}

// Histogram shows how the samples of a quantity are spread out, as bars. There is
// nothing to show of what was not sampled or is always the same.
func (s Layout) Histogram(j *calc.Judged) []table.Table {
	if j == nil || j.Histogram == nil {
		return nil
	}
	const longest, together = 40, 2 // bins of a row
	h, n := j.Histogram, float64(j.Histogram.Samples())
	t := table.Table{Title: "samples of " + j.Quantity.Name, Columns: []table.Column{
		{Header: header("from", j.Unit), Align: table.Decimal}, {Header: "share", Align: table.Decimal}, {Header: ""}}}
	var counts []int
	most := 0
	for i, c := range h.Counts {
		if i%together == 0 {
			counts = append(counts, 0)
		}
		counts[i/together] += c
		most = max(most, counts[i/together])
	}
	row := func(from string, count int) {
		t.Rows = append(t.Rows, table.Row{Cells: []string{from, fmt.Sprintf("%.2f %%", 100*float64(count)/n),
			strings.Repeat("█", min(longest, (count*longest+most/2)/max(1, most)))}})
	}
	edge := func(i int) string { return s.Numbers.computedOn(j.Unit, h.From+float64(i)*h.Step, h.Step/2) }
	row("below", h.Below)
	for i, count := range counts {
		row(edge(i*together), count)
	}
	row(edge(len(h.Counts))+" on", h.Above)
	return append([]table.Table{t}, s.Sentences(2, s.SampledWords(j)...))
}

type jsonHistogram struct {
	Samples int   `json:"n"`
	Mean    any   `json:"mean"`
	Low     any   `json:"low"`
	High    any   `json:"high"`
	From    any   `json:"from"` // where the first bin begins
	Step    any   `json:"step"`
	Counts  []int `json:"counts"`
	Below   int   `json:"below"` // the first bin, and
	Above   int   `json:"above"` // the last
}

func newJSONHistogram(j *calc.Judged) *jsonHistogram {
	if j == nil || j.Histogram == nil {
		return nil
	}
	h := j.Histogram
	return &jsonHistogram{h.Samples(), JSONNumber(j.Unit, j.SampledMean), JSONNumber(j.Unit, j.SampledLow),
		JSONNumber(j.Unit, j.SampledHigh), JSONNumber(j.Unit, h.From), Plain(h.Step), h.Counts, h.Below, h.Above}
}

// SampleHead is the head of the rows of samples.
func SampleHead(samples *calc.Samples) *answer.Head {
	given, formula := answer.List{Name: "given"}, answer.List{Name: "computed"}
	for _, q := range samples.Givens {
		given.Columns = append(given.Columns, numberColumn(q.Name, q.Unit))
	}
	for _, q := range samples.Formulas {
		formula.Columns = append(formula.Columns, numberColumn(q.Name, q.Unit))
	}
	return &answer.Head{Lists: []answer.List{given, formula}}
}
