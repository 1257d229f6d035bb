package log

import (
	"context"
	"math"

	"rambook/sheets"
)

// Curve is a column thinned for drawing: of each stretch of rows the least and
// the greatest sample, at their own times and in their order, so that no peak is
// lost. A sample that is not a number parts the curve.
type Curve struct{ Times, Values []float64 }

// mostStretches is how many stretches a curve has at most; a picture is not
// wider.
const mostStretches = 2000

// stretch is a run of rows of one column.
type stretch struct {
	leastAt, least, greatestAt, greatest float64 // least above greatest: it has no sample
	from, to                             float64 // the times of its first and its last row
}

func (s *stretch) add(t, v float64) {
	if v < s.least {
		s.leastAt, s.least = t, v
	}
	if v > s.greatest {
		s.greatestAt, s.greatest = t, v
	}
}

func (s *stretch) join(o stretch) {
	s.to = o.to
	if o.least <= o.greatest {
		s.add(o.leastAt, o.least)
		s.add(o.greatestAt, o.greatest)
	}
}

// behind reports whether there is a gap between two stretches.
func (s *stretch) behind(before *stretch, gap float64) bool {
	d := s.from - before.to
	return d > gap || d <= 0
}

func emptyStretch() stretch { return stretch{least: math.Inf(1), greatest: math.Inf(-1)} }

// shortest stretches that are made of a batch that is drawn whole.
const stretchRows = 16

// Thin reads columns of a log between two times, and thins them.
func Thin(ctx context.Context, l *Log, columns []int, from, to float64) ([]Curve, *End, []sheets.Problem) {
	ask := []Ask{{Column: 0}}
	for _, c := range columns {
		ask = append(ask, Ask{Column: c})
	}
	type shares struct{ of [][]stretch } // by column
	all := make([]thinned, len(columns))
	for i := range all {
		all[i].rows = 1
	}
	step := math.NaN()
	end, problems := Read(ctx, l, ask, Options{Gap: math.NaN(), Texts: true},
		func() *shares { return &shares{make([][]stretch, len(columns))} },
		func(b *Batch, own *shares) {
			times := b.Values[0][:b.N]
			rows := 1
			if b.N > mostStretches && times[0] >= from && times[b.N-1] <= to {
				rows = stretchRows
			}
			gap := GapSteps * MedianStep(times[:min(b.N, 64)])
			for k := range own.of {
				list, values := own.of[k][:0], b.Values[k+1]
				for i := 0; i < b.N; {
					s := emptyStretch()
					s.from = times[i]
					until, first := min(i+rows, b.N), i
					for ; i < until; i++ {
						t := times[i]
						if d := t - s.to; i > first && (d > gap || d <= 0) {
							break
						}
						s.to = t
						if t >= from && t <= to {
							s.add(t, values[i])
						}
					}
					if s.least <= s.greatest || rows == 1 && s.from >= from && s.from <= to {
						list = append(list, s)
					}
				}
				own.of[k] = list
			}
		},
		func(b *Batch, own *shares) error {
			if step != step {
				step = MedianStep(b.Values[0][:b.N])
			}
			for k := range all {
				for _, s := range own.of[k] {
					all[k].add(s, GapSteps*step)
				}
			}
			return nil
		})
	curves := make([]Curve, len(columns))
	for k := range all {
		curves[k] = all[k].curve(GapSteps * step)
	}
	return curves, end, problems
}

// thinned is a curve while it is thinned: the rows of a stretch double whenever
// there are too many of them.
type thinned struct {
	list []stretch
	rows int // stretches as they come in that make one of the list
	open int // of them in the last one
}

func (t *thinned) add(s stretch, gap float64) {
	if n := len(t.list); t.open > 0 && t.open < t.rows && !s.behind(&t.list[n-1], gap) {
		t.list[n-1].join(s)
		t.open++
		return
	}
	if len(t.list) >= 2*mostStretches {
		kept := t.list[:0]
		for i := 0; i < len(t.list); i += 2 {
			s := t.list[i]
			if i+1 < len(t.list) {
				s.join(t.list[i+1])
			}
			kept = append(kept, s)
		}
		t.list = kept
		t.rows *= 2
	}
	t.list = append(t.list, s)
	t.open = 1
}

// curve gives the points, with a break at each gap.
func (t *thinned) curve(gap float64) (c Curve) {
	put := func(time, v float64) {
		c.Times, c.Values = append(c.Times, time), append(c.Values, v)
	}
	for i := range t.list {
		s := &t.list[i]
		if n := len(c.Times); n > 0 && (s.least > s.greatest || s.behind(&t.list[i-1], gap)) {
			put(c.Times[n-1], math.NaN())
		}
		switch {
		case s.least > s.greatest:
		case s.leastAt == s.greatestAt:
			put(s.leastAt, s.least)
		case s.leastAt < s.greatestAt:
			put(s.leastAt, s.least)
			put(s.greatestAt, s.greatest)
		default:
			put(s.greatestAt, s.greatest)
			put(s.leastAt, s.least)
		}
	}
	return c
}
