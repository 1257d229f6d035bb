package phase

import "math"

// watch waits for a condition to become true. Rows are counted in the current
// window.
type watch struct {
	condition *Condition
	hold      float64 // how long it has to stay true
	edge      bool    // it has to be seen false first

	scan  int  // the next row to look at
	armed bool // it was seen false,
	off   int  // last in this row

	holding     bool // it has become true; whether it stays so for long enough is open
	first, last moment
	on          bool    // it was true in the last row
	since       float64 // the time when it became false
}

// move counts rows from another one on.
func (t *watch) move(by int) {
	t.scan += by
	t.off += by
	t.first.move(by)
	t.last.move(by)
}

func (m *moment) move(by int) {
	m.before += by
	m.row += by
}

// needs is the first row that is still needed behind a window that ends at hi.
func (t *watch) needs(hi int) int {
	keep := hi - 1
	if t.armed {
		keep = min(keep, t.off)
	}
	if t.holding {
		keep = min(keep, t.first.before)
	}
	return keep
}

// next looks for the moment in the rows before to. Behind it scan is the row by
// which it is settled.
func (t *watch) next(w *Window, to int) (m moment, found bool) {
	for t.scan < to {
		if t.holding {
			return t.settle(w, to)
		}
		if t.edge && !t.armed {
			row := t.condition.find(w, no, t.scan, to)
			t.scan = row
			if row == to {
				return m, false
			}
			t.armed, t.off = true, row
		}
		row := t.condition.find(w, yes, t.scan, to)
		for before := row - 1; before >= t.scan; before-- { // the last row in which it is known to be false
			if t.condition.truth(w, before) == no {
				t.armed, t.off = true, before
				break
			}
		}
		t.scan = row
		if row == to {
			return m, false
		}
		m = w.momentAt(row)
		if t.armed {
			m = w.between(t.off, row, t.condition.crossing(w, yes, t.off, row))
			if t.condition.byTheClock(w, t.off, row) {
				m.spread = 0
			}
		}
		t.scan++
		if t.hold <= 0 {
			return m, true
		}
		t.holding, t.on, t.first, t.last = true, true, m, m
	}
	return m, false
}

// settle follows a condition that has become true until it has held for long
// enough, or was false for so long.
func (t *watch) settle(w *Window, to int) (m moment, found bool) {
	time := w.time()
	for ; t.scan < to; t.scan++ {
		switch truth := t.condition.truth(w, t.scan); {
		case t.on && truth == no:
			t.on, t.since = false, time[t.scan]
			t.armed, t.off = true, t.scan
		case !t.on && truth == yes:
			t.on, t.last = true, w.between(t.off, t.scan, t.condition.crossing(w, yes, t.off, t.scan))
		case truth == no:
			t.off = t.scan
		}
		switch {
		case t.on && time[t.scan]-t.last.time >= t.hold:
			t.holding = false
			t.scan++
			m := w.middle(&t.first, &t.last)
			m.spread = math.Hypot(m.spread, t.condition.jitter(w, t.first.before, t.scan))
			return m, true
		case !t.on && time[t.scan]-t.since >= t.hold:
			t.holding = false
			t.scan++
			return t.next(w, to)
		}
	}
	return m, false
}

// momentAt is the moment of a row.
func (w *Window) momentAt(row int) moment {
	return moment{time: w.time()[row], before: row, row: row, share: 1}
}

// between is a moment between two rows.
func (w *Window) between(before, row int, share float64) moment {
	a, b := w.time()[before], w.time()[row]
	m := moment{before: before, row: row, share: share, between: b - a, spread: b - a}
	m.time = w.value(w.timeAt, &m)
	return m
}

// middle is the moment between two that may both be the one.
func (w *Window) middle(first, last *moment) moment {
	if first.row == last.row {
		return *last
	}
	at, time := (first.time+last.time)/2, w.time()
	row := first.row
	for time[row] < at {
		row++
	}
	share := 1.0
	if a, b := time[row-1], time[row]; b > a {
		share = (at - a) / (b - a)
	}
	m := w.between(row-1, row, share)
	m.spread = math.Hypot(m.spread, (last.time-first.time)/2)
	return m
}
