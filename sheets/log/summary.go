package log

import (
	"context"
	"math"
	"slices"

	"rambook/sheets"
)

// GapSteps is how many times the sampling step two rows have to lie apart to
// have a gap between them.
const GapSteps = 10

// Summary is a log in a few numbers, in the units of its columns.
type Summary struct {
	Rows       int64
	From, To   float64 // the first and the last time
	Step       float64 // the sampling step: the median of the first ones; NaN of a single row
	Gaps       int     // steps of more than GapSteps times that
	LongestGap float64
	Jumps      int // steps back, or none
	Columns    []ColumnSummary
}

// ColumnSummary is one column in a few numbers, NaN where it has none.
type ColumnSummary struct {
	Count                 int64 // cells with a number
	Texts                 int64 // cells with something else
	Least, Mean, Greatest float64
}

func (s *ColumnSummary) add(values []float64) {
	for _, v := range values {
		if v != v {
			continue
		}
		s.Count++
		s.Mean += v // the sum until the end
		s.Least, s.Greatest = min(s.Least, v), max(s.Greatest, v)
	}
}

// Summarise reads a whole log once.
func Summarise(ctx context.Context, l *Log) (*Summary, *End, []sheets.Problem) {
	var ask []Ask
	for i := range l.Columns {
		ask = append(ask, Ask{Column: i})
	}
	empty := func() []ColumnSummary {
		columns := make([]ColumnSummary, len(ask))
		for i := range columns {
			columns[i] = ColumnSummary{Least: math.Inf(1), Greatest: math.Inf(-1)}
		}
		return columns
	}
	s := &Summary{From: math.NaN(), To: math.NaN(), Step: math.NaN(), Columns: empty()}
	end, problems := Read(ctx, l, ask, Options{Gap: math.NaN(), Texts: true},
		func() *[]ColumnSummary { return new([]ColumnSummary) },
		func(b *Batch, own *[]ColumnSummary) {
			*own = empty()
			for i := range *own {
				(*own)[i].add(b.Values[i][:b.N])
				(*own)[i].Texts = int64(b.NoNumbers(i))
			}
		},
		func(b *Batch, own *[]ColumnSummary) error {
			s.times(b.Values[0][:b.N])
			for i := range s.Columns {
				to, from := &s.Columns[i], &(*own)[i]
				to.Count, to.Texts, to.Mean = to.Count+from.Count, to.Texts+from.Texts, to.Mean+from.Mean
				to.Least, to.Greatest = min(to.Least, from.Least), max(to.Greatest, from.Greatest)
			}
			return nil
		})
	if end == nil || len(problems) > 0 {
		return nil, nil, problems
	}
	s.Rows = end.Rows
	for i := range s.Columns {
		c := &s.Columns[i]
		c.Mean /= float64(c.Count) // not a number without any
		if c.Count == 0 {
			c.Least, c.Greatest = math.NaN(), math.NaN()
		}
	}
	return s, end, nil
}

// times follows the clock.
func (s *Summary) times(times []float64) {
	if len(times) == 0 {
		return
	}
	if s.From != s.From {
		s.From, s.To = times[0], times[0]
		times = times[1:]
	}
	if s.Step != s.Step {
		s.Step = MedianStep(times)
	}
	for _, t := range times {
		switch d := t - s.To; {
		case !(d > 0):
			s.Jumps++
		case d > GapSteps*s.Step:
			s.Gaps++
			s.LongestGap = max(s.LongestGap, d)
		}
		s.To = t
	}
}

// MedianStep is the median of the first steps of a clock, NaN without one.
func MedianStep(times []float64) float64 {
	var steps []float64
	for i := 1; i < min(len(times), 4096); i++ {
		if d := times[i] - times[i-1]; d > 0 {
			steps = append(steps, d)
		}
	}
	if len(steps) == 0 {
		return math.NaN()
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}
