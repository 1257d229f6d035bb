package phase

// opening follows the first phase of a cycle, which may begin while the cycle
// before is still under way.
type opening struct {
	from, to watch
	inside   bool
	start    moment
	used     int // inside: rows before are in the sums
}

// body follows the other phases of a cycle.
type body struct {
	watch
	k      int // the phase waited for or gone through
	active bool
	inside bool
	start  moment // of the phase, or the end of the one before
	used   int
}

func (o *opening) move(by int) {
	o.from.move(by)
	o.to.move(by)
	o.start.move(by)
	o.used += by
}

func (b *body) move(by int) {
	b.watch.move(by)
	b.start.move(by)
	b.used += by
}

func (o *opening) needs(hi int) int {
	keep := o.from.needs(hi)
	if o.inside {
		keep = min(keep, o.to.needs(hi), o.used)
	}
	return keep
}

func (b *body) needs(hi int) int {
	if !b.active {
		return hi - 1
	}
	keep := b.watch.needs(hi)
	if b.inside {
		return min(keep, b.used)
	}
	if b.holding || b.scan <= b.start.row { // it may turn out to begin where the phase before has ended
		keep = min(keep, b.start.before)
	}
	return keep
}

// open waits for a cycle from a row on. A case that begins there need not be
// seen before its first phase begins.
func (c *Cutter) open(row int, begins bool) {
	p := &c.plan.Phases[0]
	c.opening = opening{from: watch{condition: &p.From, hold: p.For, edge: !begins, scan: row}}
}

// runOpening looks at the rows before to. It stops where the first phase has
// ended, and gives the moment.
func (c *Cutter) runOpening(w *Window, to int) (end moment, through bool) {
	o := &c.opening
	for {
		start, again := o.from.next(w, to)
		until := to
		if again {
			until = o.from.scan
		}
		if o.inside {
			end, through = o.to.next(w, until)
			if through {
				c.add(0, w, o.used, end.row)
				c.end(0, w, &o.start, &end)
				return end, true
			}
		}
		if !again {
			break
		}
		if o.inside && start.time-o.start.time > c.limit { // else it is the same start, seen through noise
			c.result.Incomplete++
		}
		c.begin(0, w, &start)
		o.inside, o.start, o.used = true, start, start.row
		o.from.edge, o.from.armed = true, false
		o.to = c.ending(0, w, &start)
	}
	if o.inside {
		until := to
		if o.to.holding {
			until = min(until, o.to.first.row)
		}
		if o.from.holding {
			until = min(until, o.from.first.row)
		}
		c.add(0, w, o.used, until)
		o.used = max(o.used, until)
	}
	return end, false
}

// ending watches for the end of a phase that begins at a moment. The condition
// may have been false for the last time before that.
func (c *Cutter) ending(k int, w *Window, start *moment) watch {
	p := &c.plan.Phases[k]
	t := watch{condition: &p.To, hold: p.For, edge: true, scan: start.row}
	if p.To.truth(w, start.before) == no {
		t.armed, t.off = true, start.before
	} else if p.To.truth(w, start.row) == yes {
		c.result.Ended[k]++
	}
	return t
}

// follow waits for the phase behind one that has ended. It begins at once where
// its condition holds already.
func (c *Cutter) follow(w *Window, end *moment) {
	b := &c.body
	p := &c.plan.Phases[b.k]
	b.active, b.inside, b.start = true, false, *end
	b.watch = watch{condition: &p.From, hold: p.For, scan: end.row}
	if p.From.truth(w, end.before) == no {
		b.armed, b.off = true, end.before
	}
}

// runBody looks at the rows before to.
func (c *Cutter) runBody(w *Window, to int) {
	b := &c.body
	for b.active {
		m, found := b.next(w, to)
		if !found {
			break
		}
		if !b.inside {
			// it held already when the phase before ended
			if m.time < b.start.time || m.row == b.start.row && m.before == m.row {
				m = b.start
			}
			c.begin(b.k, w, &m)
			b.inside, b.start, b.used = true, m, m.row
			b.watch = c.ending(b.k, w, &m)
			continue
		}
		c.add(b.k, w, b.used, m.row)
		c.end(b.k, w, &b.start, &m)
		if b.k++; b.k == len(c.plan.Phases) {
			b.active, b.inside = false, false
			c.finish(&m)
			return
		}
		c.follow(w, &m)
	}
	if b.active && b.inside {
		until := to
		if b.holding {
			until = min(until, b.first.row)
		}
		c.add(b.k, w, b.used, until)
		b.used = max(b.used, until)
	}
}
