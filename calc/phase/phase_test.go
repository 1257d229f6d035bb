package phase

import (
	"fmt"
	"math"
	"math/rand/v2"
	"rambook/sheets/log"
	"slices"
	"testing"
)

// above and below are thresholds of a track.
func above(track int, k float64) Condition {
	return Condition{By: Less, A: Operand{-1, k}, B: Operand{Track: track}}
}

func below(track int, k float64) Condition {
	return Condition{By: Less, A: Operand{Track: track}, B: Operand{-1, k}}
}

// cut feeds rows in pieces of some size.
func cut(p *Plan, rows [][]float64, size int) *Result {
	return fed(p, rows, size).Result()
}

// fed is a cutter that has had all rows.
func fed(p *Plan, rows [][]float64, size int) *Cutter {
	c := NewCutter(p)
	w := p.NewWindow()
	for from := 0; from < len(rows); from += size {
		n := min(size, len(rows)-from)
		for track, values := range w.Reserve(n) {
			for i := range values {
				values[i] = rows[from+i][track]
			}
		}
		c.Feed(w, n)
	}
	return c
}

// strokes is a plan of two phases by a position: down below 100, up above 300.
func strokes(hold float64, aggregates ...Aggregate) *Plan {
	return &Plan{Step: log.MedianStep, Gap: log.GapSteps, Tracks: 2, Time: 0, Case: -1, Aggregates: aggregates,
		Phases: []Phase{{From: below(1, 300), To: below(1, 100), For: hold},
			{From: below(1, 100), To: above(1, 300), For: hold}}}
}

// triangle moves between 0 and 400 with a period of 4: down for 2, up for 2.
func triangle(t float64) float64 { return math.Abs(math.Mod(t, 4)-2) * 200 }

func sampled(f func(float64) float64, step, from, to float64) (rows [][]float64) {
	for i := 0; ; i++ {
		t := from + float64(i)*step
		if t > to {
			return rows
		}
		rows = append(rows, []float64{t, f(t)})
	}
}

func near(a, b float64) bool { return math.Abs(a-b) < 1e-9*(1+math.Abs(b)) }

// The motion is known in closed form: the moments fall between samples.
func TestStrokes(t *testing.T) {
	rows := sampled(triangle, 0.03, 0, 13.2) // ends while it goes down
	p := strokes(0,
		Aggregate{Phase: 0, By: First, X: 0}, Aggregate{Phase: 0, By: Last, X: 0},
		Aggregate{Phase: 0, By: Slope, X: 0, Y: 1},
		Aggregate{Phase: 1, By: Least, X: 1}, Aggregate{Phase: 1, By: Integral, X: 0, Y: 1},
		Aggregate{Phase: 0, By: Mean, X: 1}, Aggregate{Phase: 1, By: Last, X: 0})
	for _, size := range []int{1, 2, 7, 1000} {
		got := cut(p, rows, size)
		if len(got.Cycles) != 3 || !got.Unfinished || got.Incomplete+got.Interrupted+got.Gaps+got.Jumps > 0 {
			t.Fatalf("pieces of %d: %+v", size, got)
		}
		for i, c := range got.Cycles {
			begin := 4*float64(i) + 0.5
			want := []float64{begin, begin + 1, -200, 0, 250, 200, begin + 3}
			for k, v := range want {
				tolerance := map[int]float64{3: 6, 4: 1, 5: 6}[k] + 1e-9
				if math.Abs(c.Values[k]-v) > tolerance {
					t.Errorf("pieces of %d, cycle %d, reading %d: %v ± %v, want %v", size, i, k, c.Values[k],
						c.Spreads[k], v)
				}
			}
			if !near(c.Start, begin) || !near(c.End, begin+3) || !near(c.Spreads[0], 0.03) {
				t.Errorf("cycle %d: %v to %v, ± %v", i, c.Start, c.End, c.Spreads[0])
			}
		}
	}
}

func TestBreaks(t *testing.T) {
	steady := sampled(triangle, 0.03, 0, 17)
	without := func(from, to float64) (rows [][]float64) {
		for _, r := range steady {
			if r[0] < from || r[0] > to {
				rows = append(rows, r)
			}
		}
		return rows
	}
	back := func(at, by float64) (rows [][]float64) {
		for _, r := range steady {
			if r[0] > at {
				r = []float64{r[0] - by, r[1]}
			}
			rows = append(rows, r)
		}
		return rows
	}
	aborted := func(t float64) float64 { // the second stroke turns at 150
		if t > 4 && t < 8 {
			return max(150, triangle(t))
		}
		return triangle(t)
	}
	for _, test := range []struct {
		name                                         string
		rows                                         [][]float64
		cycles, incomplete, interrupted, gaps, jumps int
	}{
		{"steady", steady, 4, 0, 0, 0, 0},
		{"gap in a cycle", without(5, 5.5), 3, 0, 1, 1, 0},
		{"gap between", without(3.6, 4.2), 4, 0, 0, 1, 0},
		{"clock set back", back(6, 3), 3, 0, 1, 0, 1},
		{"stroke that turns", sampled(aborted, 0.03, 0, 17), 3, 1, 0, 0, 0},
		{"blank cells", blanked(steady), 4, 0, 0, 0, 0},
		{"begins within", sampled(triangle, 0.03, 1, 9), 1, 0, 0, 0, 0},
	} {
		for _, size := range []int{3, 1000} {
			got := cut(strokes(0), test.rows, size)
			if len(got.Cycles) != test.cycles || got.Incomplete != test.incomplete ||
				got.Interrupted != test.interrupted || got.Gaps != test.gaps || got.Jumps != test.jumps {
				t.Errorf("%s, pieces of %d: %d cycles, %+v", test.name, size, len(got.Cycles), got)
			}
		}
	}
}

// A sensor that falls out for a while leaves what is asked of it in that phase
// open, and no other reading; one that is slow does not.
func TestHoles(t *testing.T) {
	rows := func(sample func(i int, t float64) bool) (rows [][]float64) {
		for i := range 567 {
			t := float64(i) * 0.03
			p := math.NaN()
			if sample(i, t) {
				p = 7
			}
			rows = append(rows, []float64{t, triangle(t), p})
		}
		return rows
	}
	p := strokes(0, Aggregate{Phase: 0, By: Greatest, X: 2}, Aggregate{Phase: 0, By: Least, X: 1},
		Aggregate{Phase: 1, By: Mean, X: 2})
	p.Tracks = 3
	for _, test := range []struct {
		name   string
		sample func(i int, t float64) bool
		holes  int
		open   [4]bool // the first aggregate in each cycle
	}{
		{"whole", func(int, float64) bool { return true }, 0, [4]bool{}},
		{"slow", func(i int, _ float64) bool { return i%7 == 0 }, 0, [4]bool{}},
		{"out in the second", func(_ int, t float64) bool { return t < 4.6 || t > 5.2 }, 1, [4]bool{1: true}},
		{"short", func(_ int, t float64) bool { return t < 4.6 || t > 4.8 }, 0, [4]bool{}},
		{"slow and out", func(i int, t float64) bool { return i%4 == 0 && (t < 4.4 || t > 6) }, 1, [4]bool{1: true}},
	} {
		for _, size := range []int{20, 1000} {
			got := cut(p, rows(test.sample), size)
			if len(got.Cycles) != 4 || got.Holes != test.holes {
				t.Fatalf("%s, pieces of %d: %+v", test.name, size, got)
			}
			for i, c := range got.Cycles {
				if open := math.IsNaN(c.Values[0]); open != test.open[i] || math.IsNaN(c.Values[1]) ||
					math.IsNaN(c.Values[2]) {
					t.Errorf("%s, pieces of %d, cycle %d: %v", test.name, size, i, c.Values)
				}
			}
		}
	}
}

// blanked leaves the position of four rows in five away.
func blanked(rows [][]float64) (out [][]float64) {
	for i, r := range rows {
		if i%5 > 0 {
			r = []float64{r[0], math.NaN()}
		}
		out = append(out, r)
	}
	return out
}

// A case begins where its column changes, and ends so too.
func TestCases(t *testing.T) {
	var rows [][]float64
	for i := range 240 {
		second := float64(i % 60)
		number := float64(7 + i/60)
		at := float64(i)
		if i >= 120 {
			at += 300 // a gap between the second and the third
		}
		rows = append(rows, []float64{at, second, number})
	}
	p := &Plan{Step: log.MedianStep, Gap: log.GapSteps, Tracks: 3, Case: 2,
		Aggregates: []Aggregate{{Phase: 0, By: Mean, X: 1}, {Phase: 1, By: Count, X: 1}},
		Phases: []Phase{{From: below(1, 8), To: Condition{By: LessEqual, A: Operand{-1, 8}, B: Operand{Track: 1}}},
			{From: Condition{By: LessEqual, A: Operand{-1, 9}, B: Operand{Track: 1}},
				To: Condition{By: LessEqual, A: Operand{-1, 59}, B: Operand{Track: 1}}}}}
	got := cut(p, rows, 50)
	if len(got.Cycles) != 4 || got.Incomplete+got.Interrupted > 0 {
		t.Fatalf("%+v", got)
	}
	for i, c := range got.Cycles {
		if c.Case != float64(7+i) || c.Values[0] != 3.5 || c.Values[1] != 50 || c.Row != int64(60*i) {
			t.Errorf("%+v", c)
		}
	}
}

// A condition that flickers within noise begins no phase twice where a time is
// stated for which it has to hold.
func TestHold(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	noisy := func(t float64) float64 { return triangle(t) + 2*r.NormFloat64() }
	rows := sampled(noisy, 0.001, 0, 401)
	for _, size := range []int{1, 100, 100_000} {
		got := cut(strokes(0.05, Aggregate{Phase: 0, By: Last, X: 0}, Aggregate{Phase: 0, By: First, X: 0}), rows, size)
		if len(got.Cycles) != 100 || got.Incomplete > 0 {
			t.Fatalf("pieces of %d: %d cycles, %d incomplete", size, len(got.Cycles), got.Incomplete)
		}
		outside := 0
		for i, c := range got.Cycles {
			if math.Abs(c.Values[1]-4*float64(i)-0.5) > c.Spreads[1] {
				outside++
			}
			if math.Abs(c.Values[0]-4*float64(i)-1.5) > c.Spreads[0] {
				outside++
			}
		}
		if outside > 10 {
			t.Errorf("%d of 200 moments are off by more than their spread", outside)
		}
	}
}

func TestJoinedConditions(t *testing.T) {
	// x rises through 1 at t = 1, y through 1 at t = 1.4.
	rows := sampled(func(t float64) float64 { return t }, 0.5, 0, 3)
	for i := range rows {
		rows[i] = append(rows[i], rows[i][0]-0.4)
	}
	both := Condition{By: And, Parts: []Condition{above(1, 1), above(2, 1)}}
	either := Condition{By: Or, Parts: []Condition{above(1, 1.2), above(2, 1)}}
	unless := Condition{By: Not, Parts: []Condition{below(2, 1)}}
	for i, test := range []struct {
		from Condition
		want float64
	}{{both, 1.4}, {either, 1.2}, {unless, 1.4}, {above(1, 1.3), 1.3}} {
		p := &Plan{Step: log.MedianStep, Gap: log.GapSteps, Tracks: 3, Case: -1,
			Phases:     []Phase{{From: test.from, To: above(1, 2.25)}},
			Aggregates: []Aggregate{{By: First, X: 0}}}
		got := cut(p, rows, 2)
		if len(got.Cycles) != 1 || !near(got.Cycles[0].Values[0], test.want) {
			t.Errorf("%d: %+v, want %v", i, got.Cycles, test.want)
		}
	}
}

// Whatever the rows, cutting ends, and in any pieces alike.
func FuzzCut(f *testing.F) {
	f.Add([]byte{0, 100, 200, 50, 0, 100, 200, 250, 3, 90}, uint8(3), false)
	f.Add(slices.Repeat([]byte{0, 100, 200, 11, 50, 0, 100, 11, 11, 200, 250, 3, 90}, 8), uint8(30), true)
	f.Fuzz(func(t *testing.T, data []byte, size uint8, hold bool) {
		rows := make([][]float64, len(data))
		now := 0.0
		for i, b := range data {
			now++
			switch b {
			case 7:
				now += 100
			case 9:
				now -= 5
			}
			rows[i] = []float64{now, float64(b) * 2}
			if b == 11 {
				rows[i][1] = math.NaN()
			}
		}
		h := 0.0
		if hold {
			h = 2.5
		}
		p := strokes(h, Aggregate{Phase: 0, By: Mean, X: 1}, Aggregate{Phase: 1, By: Integral, X: 0, Y: 1},
			Aggregate{Phase: 1, By: Last, X: 1})
		pieces, whole := fed(p, rows, 1+int(size)), fed(p, rows, len(rows)+1)
		a, b := pieces.Result(), whole.Result()
		// The steps that are usual are learnt from the first window alone, so a first
		// window of a few rows may take for a gap or a hole what the whole does not.
		alike := fmt.Sprint(pieces.limit, pieces.holes) == fmt.Sprint(whole.limit, whole.holes)
		if alike && fmt.Sprint(*a) != fmt.Sprint(*b) {
			t.Errorf("in pieces of %d: %+v\nat once: %+v", 1+int(size), *a, *b)
		}
		for i := range b.Cycles {
			if c := &b.Cycles[i]; !(c.End >= c.Start) {
				t.Errorf("cycle from %v to %v", c.Start, c.End)
			}
		}
	})
}

// TestHeldExactly has a condition that is true for just as long as it has to be,
// in binary fractions of a second: it counts.
func TestHeldExactly(t *testing.T) {
	p := &Plan{Step: log.MedianStep, Gap: log.GapSteps, Tracks: 2, Time: 0, Case: -1,
		Phases: []Phase{{From: below(1, 100), To: above(1, 300), For: 0.625}}}
	rows := sampled(func(t float64) float64 {
		switch {
		case t <= 0.75:
			return 200 // and 0 at 1: below 100 from 0.875 on
		case t <= 1.5:
			return 0
		}
		return 400
	}, 0.25, 0, 4)
	if got := cut(p, rows, 100); len(got.Cycles) != 1 || got.Cycles[0].Start != 0.875 {
		t.Errorf("held for 0.625 s of 0.625 s: %+v", got)
	}
	p.Phases[0].For = 0.75
	if got := cut(p, rows, 100); len(got.Cycles) != 0 {
		t.Errorf("held for 0.625 s of 0.75 s: %+v", got)
	}
}

// TestFlicker has a condition that comes, goes and comes again: its moment lies
// between the two, and may be off by half of what lies between them.
func TestFlicker(t *testing.T) {
	p := &Plan{Step: log.MedianStep, Gap: log.GapSteps, Tracks: 2, Time: 0, Case: -1,
		Phases:     []Phase{{From: below(1, 100), To: above(1, 300), For: 0.5}},
		Aggregates: []Aggregate{{Phase: 0, By: First, X: 0}}}
	rows := sampled(func(t float64) float64 {
		switch {
		case t < 1, t > 1.25 && t < 1.45:
			return 200
		case t < 3:
			return 0
		}
		return 400
	}, 0.1, 0, 5)
	got := cut(p, rows, 100)
	if len(got.Cycles) != 1 {
		t.Fatalf("%+v", got)
	}
	first, last := 0.95, 1.45 // half way between the samples beside
	if c := got.Cycles[0]; math.Abs(c.Start-(first+last)/2) > 0.051 || c.Spreads[0] < (last-first)/2-0.051 {
		t.Errorf("begins at %v ± %v, want %v ± %v at least", c.Start, c.Spreads[0], (first+last)/2, (last-first)/2)
	}
	for size := 1; size < 12; size++ {
		if pieces := cut(p, rows, size); len(pieces.Cycles) != 1 || pieces.Cycles[0].Start != got.Cycles[0].Start ||
			pieces.Cycles[0].Spreads[0] != got.Cycles[0].Spreads[0] {
			t.Errorf("in pieces of %d: %+v, at once %+v", size, pieces.Cycles, got.Cycles)
		}
	}
}

// TestMiddle takes the middle of two moments that may both be the one: in doubt are the
// gap between the samples beside it and half the way between the two.
func TestMiddle(t *testing.T) {
	w := &Window{tracks: make([][]float64, 1)}
	const step = 0.1
	for row := range 20 {
		w.tracks[0] = append(w.tracks[0], step*float64(row))
	}
	first, last := w.between(3, 4, 0.5), w.between(8, 9, 0.5)
	m := w.middle(&first, &last)
	if want := math.Hypot(step, (0.85-0.35)/2); math.Abs(m.time-0.6) > 1e-12 || math.Abs(m.spread-want) > 1e-12 {
		t.Errorf("the middle is %v ± %v, want 0.6 ± %v", m.time, m.spread, want)
	}
	if m = w.middle(&first, &first); m.time != first.time || m.spread != first.spread {
		t.Errorf("the middle of one moment is %+v, want the moment %+v", m, first)
	}
}
