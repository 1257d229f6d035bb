package phase

import (
	"math"
	"slices"
)

// mostKept is how many rows are kept whose phase is not settled.
const mostKept = 1 << 20

// usualRows is how many rows the samples of a track are usually apart, by the
// first of them: a slow sensor leaves the rows of a fast one blank. It is large
// where there are too few to find whether any of them are a gap apart.
func usualRows(track []float64, gap int) int {
	var gaps []int
	last := -1
	for row, v := range track {
		if v != v {
			continue
		}
		if last >= 0 {
			gaps = append(gaps, row-last)
		}
		last = row
		if len(gaps) == 1024 {
			break
		}
	}
	if len(gaps) < 2 {
		return math.MaxInt32 / gap
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}

// breakIn gives the first row from from on that does not follow the one before
// it: behind a gap or a jump of the time, or where another case begins.
func (c *Cutter) breakIn(w *Window, from, lo, hi int) int {
	time := w.tracks[c.plan.Time][:hi]
	row := max(from, lo+1)
	if c.count == 0 && from == w.room {
		return from // the log begins
	}
	if c.plan.Case < 0 {
		for ; row < hi; row++ {
			if d := time[row] - time[row-1]; !(d > 0) || d > c.limit {
				return row
			}
		}
		return hi
	}
	names := w.tracks[c.plan.Case][:hi]
	for ; row < hi; row++ {
		if d := time[row] - time[row-1]; !(d > 0) || d > c.limit || names[row] != names[row-1] {
			return row
		}
	}
	return hi
}

// interrupt ends all that is under way before a row.
func (c *Cutter) interrupt(w *Window, row, lo int) {
	other := c.plan.Case >= 0
	broken := false
	if row > lo {
		if other {
			other = w.tracks[c.plan.Case][row] != w.tracks[c.plan.Case][row-1]
		}
		d, at := w.time()[row]-w.time()[row-1], c.count+int64(row-w.room)
		switch {
		case d > c.limit:
			broken = true
			if c.result.Gaps == 0 {
				c.result.FirstGap = at
			}
			c.result.Gaps++
			c.result.LongestGap = max(c.result.LongestGap, d)
		case !(d > 0):
			broken = true
			if c.result.Jumps == 0 {
				c.result.FirstJump = at
			}
			c.result.Jumps++
		}
	}
	if broken && (c.body.active || c.opening.inside) {
		c.result.Interrupted++
		c.body.active, c.opening.inside = false, false
	}
	c.abandon()
	c.open(row, other)
}

// abandon gives up what is under way.
func (c *Cutter) abandon() {
	if c.body.active || c.opening.inside {
		c.result.Incomplete++
	}
	c.body = body{}
}
