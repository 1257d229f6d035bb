// Package phase cuts the samples of a log into phases and cycles, and makes
// readings of each cycle.
//
// A [Cutter] is fed the rows of a log in order, as windows of tracks: the log's
// columns and what formulas make of them, row by row. It keeps no rows but
// those of which it is not settled yet to which phase they belong.
//
// # When a phase begins and ends
//
// The first phase of a cycle begins when its condition From becomes true, which
// takes a row in which it is known to be false. A phase ends when its condition
// To becomes true likewise. The next one begins as soon as its From is true from
// then on. All phases in order are a cycle. The moment is interpolated between
// the last sample before and the first one after; its spread is the time from
// one to the other.
//
// Noise makes a condition flicker about its threshold. Where a phase states a
// time For, the condition counts once it has held for so long without a break;
// the moment is the middle between the first and the last time it became true,
// and its spread has half the time between them in it and what the noise there
// does to a crossing. Without For the first crossing counts, and noise is left
// out.
//
// A cycle is given up, and counted as incomplete, when its first phase is gone
// through anew before its last one has ended, and so is one that has a gap or a
// jump of the clock in it.
//
// Everything is float64, SI; units, names and files are unknown here. Not a
// number is a gap.
package phase

import (
	"math"
)

// Plan is what is cut, and what is asked of each cycle.
type Plan struct {
	Phases     []Phase
	Aggregates []Aggregate
	Tracks     int // of a window
	Time       int // the track of the time
	Case       int // the track whose value names a cycle, and whose change ends one; -1 for none

	// A clock is read by one rule wherever logs are read: its step by its first
	// times, NaN without one, and how many steps rows lie apart to be a gap.
	Step func(times []float64) float64
	Gap  int
}

// Phase is one stretch of a cycle.
type Phase struct {
	From, To Condition
	For      float64 // how long a condition has to hold
}

// Cycle is one pass through all phases.
type Cycle struct {
	Start, End      float64
	Case            float64      // value of the track Case where the cycle starts
	Row             int64        // the first row of the cycle in the log
	Phases          [][2]float64 // when each phase began and ended
	Values, Spreads []float64    // one of each aggregate, NaN where there was no sample, or a hole
	holed           bool
	hole            Hole // the first one, if it is holed
}

// Result is all that was found in a log.
type Result struct {
	Cycles []Cycle
	Step   float64 // the sampling step: the median of the first ones
	// Incomplete are the cycles given up since the next one began, Interrupted
	// those with a gap or a jump of the clock in them.
	Incomplete, Interrupted int
	Unfinished              bool  // the log ends within a cycle
	Reached                 []int // how often each phase began,
	Ended                   []int // and how often its end came before
	Gaps, Jumps             int   // of the time: steps of more than Plan.Gap, and steps back or none
	FirstGap, FirstJump     int64 // the rows behind the first ones
	LongestGap              float64
	// Holes are the cycles in which a track has no sample for a while where an aggregate
	// needs it, which is NaN then.
	Holes     int
	FirstHole Hole // of the first such cycle
}

// Hole is a stretch of a phase without a sample of a track.
type Hole struct {
	Cycle float64 // when it started
	Phase int
	Track int
}

// moment is when a condition became true.
type moment struct {
	time, spread float64
	before, row  int     // the samples on both sides, in the current window
	share        float64 // of the way from before to row
	between      float64 // the time from before to row
}

// Window is a stretch of rows with a value in each track, and room before them
// for rows that are not settled yet.
type Window struct {
	tracks [][]float64
	timeAt int
	room   int // rows before the first own one
}

// NewWindow makes a window for what a plan needs.
func (p *Plan) NewWindow() *Window {
	return &Window{tracks: make([][]float64, p.Tracks), timeAt: p.Time, room: 64}
}

func (w *Window) time() []float64 { return w.tracks[w.timeAt] }

// Reserve gives the tracks, each with room for n rows, to be filled.
func (w *Window) Reserve(n int) [][]float64 {
	own := make([][]float64, len(w.tracks))
	for i, track := range w.tracks {
		if len(track) < w.room+n {
			w.tracks[i] = make([]float64, w.room+n+n/4)
		}
		own[i] = w.tracks[i][w.room : w.room+n]
	}
	return own
}

// widen makes room for more unsettled rows; own are the rows to keep.
func (w *Window) widen(room, own int) {
	for i, track := range w.tracks {
		wider := make([]float64, 2*room+own)
		copy(wider[2*room:], track[w.room:w.room+own])
		w.tracks[i] = wider
	}
	w.room = 2 * room
}

// value is that of a track at a moment.
func (w *Window) value(track int, m *moment) float64 {
	a, b := w.tracks[track][m.before], w.tracks[track][m.row]
	switch {
	case a != a:
		return b
	case b != b:
		return a
	case m.share == 1 || a == b: // exactly
		return b
	}
	return a + m.share*(b-a)
}

// change is how far the value of a track at a moment may be off by the moment's
// spread.
func (w *Window) change(track int, m *moment) float64 {
	a, b := w.tracks[track][m.before], w.tracks[track][m.row]
	if m.between <= 0 || a != a || b != b {
		return 0
	}
	return math.Abs(b-a) / m.between * m.spread
}

// Cutter cuts a log.
type Cutter struct {
	plan    *Plan
	result  Result
	opening opening
	body    body
	cycle   Cycle     // of the body
	pending Cycle     // of the opening
	sums    []sums    // of each aggregate
	noises  []noise   // of each phase and track
	noisy   [][]int   // of each phase: the tracks that aggregates read, whose noise and holes are followed
	holes   []int     // of each track: more rows without a sample are a hole
	rows    []float64 // of each phase: rows in it so far

	limit float64     // longer steps of the time are gaps
	carry [][]float64 // unsettled rows
	count int64       // rows of all windows before
}

// NewCutter makes a cutter at the beginning of a log.
func NewCutter(plan *Plan) *Cutter {
	c := &Cutter{plan: plan, sums: make([]sums, len(plan.Aggregates)),
		noises: make([]noise, len(plan.Phases)*plan.Tracks),
		noisy:  make([][]int, len(plan.Phases)), rows: make([]float64, len(plan.Phases)),
		carry: make([][]float64, plan.Tracks), limit: math.NaN()}
	c.result.Reached, c.result.Ended = make([]int, len(plan.Phases)), make([]int, len(plan.Phases))
	asked := map[[2]int]bool{}
	for _, a := range plan.Aggregates {
		for _, track := range a.tracks() {
			if key := [2]int{a.Phase, track}; track != plan.Time && !asked[key] {
				asked[key] = true
				c.noisy[a.Phase] = append(c.noisy[a.Phase], track)
			}
		}
	}
	return c
}

// SoFar is what has been found up to now.
func (c *Cutter) SoFar() *Result { return &c.result }

// Result ends the cutting.
func (c *Cutter) Result() *Result {
	c.result.Unfinished = c.body.active || c.opening.inside
	return &c.result
}

// Feed takes the next n rows, which stand in the window.
func (c *Cutter) Feed(w *Window, n int) {
	if n == 0 {
		return
	}
	kept := len(c.carry[0])
	if kept > w.room {
		w.widen(kept, n)
	}
	lo, hi := w.room-kept, w.room+n
	for i, rows := range c.carry {
		copy(w.tracks[i][lo:w.room], rows)
	}
	c.opening.move(lo)
	c.body.move(lo)
	if c.limit != c.limit {
		c.result.Step = c.plan.Step(w.time()[lo:hi])
		c.limit = float64(c.plan.Gap) * c.result.Step
		for _, track := range w.tracks {
			c.holes = append(c.holes, c.plan.Gap*usualRows(track[lo:hi], c.plan.Gap))
		}
	}
	for row := c.breakIn(w, w.room, lo, hi); ; row = c.breakIn(w, row+1, lo, hi) {
		c.run(w, row)
		if row == hi {
			break
		}
		c.interrupt(w, row, lo)
	}
	keep := max(lo, min(c.opening.needs(hi), c.body.needs(hi)))
	if hi-keep > mostKept {
		c.abandon()
		c.open(hi, false)
		keep = hi - 1
	}
	for i := range c.carry {
		c.carry[i] = append(c.carry[i][:0], w.tracks[i][keep:hi]...)
	}
	c.opening.move(-keep)
	c.body.move(-keep)
	c.count += int64(n)
}

// run goes on to a row that nothing interrupts before.
func (c *Cutter) run(w *Window, to int) {
	for {
		end, through := c.runOpening(w, to)
		if !through {
			c.runBody(w, to)
			return
		}
		c.runBody(w, min(to, c.opening.to.scan))
		if c.body.active {
			c.result.Incomplete++
		}
		c.cycle = c.pending
		c.open(end.row, false)
		c.body = body{k: 1}
		if len(c.plan.Phases) == 1 {
			c.finish(&end)
		} else {
			c.follow(w, &end)
		}
	}
}

// finish takes a complete cycle in.
func (c *Cutter) finish(end *moment) {
	c.cycle.End = end.time
	if c.cycle.holed {
		if c.result.Holes == 0 {
			c.result.FirstHole = c.cycle.hole
		}
		c.result.Holes++
	}
	c.result.Cycles = append(c.result.Cycles, c.cycle)
}

// begin starts the sums of a phase.
func (c *Cutter) begin(k int, w *Window, m *moment) {
	c.result.Reached[k]++
	if k == 0 {
		c.pending = Cycle{Start: m.time, Row: c.count + int64(m.row-w.room), Case: math.NaN(),
			Phases: make([][2]float64, len(c.plan.Phases)), Values: make([]float64, len(c.sums)),
			Spreads: make([]float64, len(c.sums))}
		if c.plan.Case >= 0 {
			c.pending.Case = w.tracks[c.plan.Case][m.row]
		}
	}
	c.rows[k] = 0
	for _, track := range c.noisy[k] {
		c.noises[k*c.plan.Tracks+track] = noise{}
	}
	for i := range c.sums {
		if a := &c.plan.Aggregates[i]; a.Phase == k {
			c.sums[i].start(a, w, m)
		}
	}
}

// add puts rows into the sums of a phase.
func (c *Cutter) add(k int, w *Window, from, to int) {
	if to <= from {
		return
	}
	c.rows[k] += float64(to - from)
	for _, track := range c.noisy[k] {
		c.noises[k*c.plan.Tracks+track].add(w.tracks[track][from:to])
	}
	for i := range c.sums {
		if a := &c.plan.Aggregates[i]; a.Phase == k {
			c.sums[i].add(a, w, from, to)
		}
	}
}

// end finishes the sums of a phase.
func (c *Cutter) end(k int, w *Window, start, end *moment) {
	cycle := &c.cycle
	if k == 0 {
		cycle = &c.pending
	}
	cycle.Phases[k] = [2]float64{start.time, end.time}
	e := ends{*start, *end, c.rows[k]}
	for i := range c.sums {
		a := &c.plan.Aggregates[i]
		if a.Phase != k {
			continue
		}
		if track := c.hole(a); track >= 0 {
			if !cycle.holed {
				cycle.holed, cycle.hole = true, Hole{cycle.Start, k, track}
			}
			cycle.Values[i], cycle.Spreads[i] = math.NaN(), math.NaN()
			continue
		}
		track := a.X
		if a.By == Integral {
			track = a.Y
		}
		cycle.Values[i], cycle.Spreads[i] = c.sums[i].finish(a, w, &e, c.noises[k*c.plan.Tracks+track].deviation())
	}
}

// hole gives the track that an aggregate reads and that has a hole in its phase,
// -1 for none: more than Plan.Gap of the track's own steps, or more than two of
// them and half of the phase.
func (c *Cutter) hole(a *Aggregate) int {
	for _, track := range a.tracks() {
		if track == c.plan.Time {
			continue
		}
		rows, limit := c.noises[a.Phase*c.plan.Tracks+track].hole(), c.holes[track]
		if rows > limit || float64(rows) > c.rows[a.Phase]/2 && rows > 2*limit/c.plan.Gap {
			return track
		}
	}
	return -1
}
