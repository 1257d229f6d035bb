package calc

import (
	"slices"
	"strings"
)

// uses lists the quantities that an expression reads. What is set aside with its sheet stands in no order.
func (f *formula) uses() (list []*Quantity) {
	f.eachUsed(func(q *Quantity) { list = append(list, q) })
	return list
}

// eachUsed visits what uses lists.
func (f *formula) eachUsed(visit func(*Quantity)) {
	if f == nil {
		return
	}
	f.each(func(kind nodeKind, m *meaning) {
		if q := m.reads(kind); q != nil && !q.elsewhere {
			visit(q)
		}
	})
}

// reads is the quantity that a node reads, by name or through a column that asks for
// it; nil for none.
func (m *meaning) reads(kind nodeKind) *Quantity {
	switch {
	case m.quantity != nil:
		return m.quantity
	case kind == columnNode && m.bound && m.data != nil && m.data.asks:
		return m.data.quantity
	}
	return nil
}

// uses lists the quantities that the formula of q reads. What a verdict looks at
// is judged, and no number of it is read.
func (q *Quantity) uses() []*Quantity {
	if q.entry.kind != formulaEntry {
		return nil
	}
	return q.entry.formula.uses()
}

// eachWaitedFor visits the quantities that must stand on the tape before q: those that
// its formula reads, and of an unknown all that the sides need and no unknown
// changes.
func (c *compiler) eachWaitedFor(q *Quantity, visit func(*Quantity)) {
	switch {
	case q.unknown == nil && q.entry.kind == formulaEntry:
		q.entry.formula.eachUsed(visit)
	case q.unknown != nil:
		if c.outside == nil {
			c.outside = c.model.outsideUses(c.stirredByUnknowns())
		}
		for _, used := range c.outside {
			visit(used)
		}
	}
}

// use is that a quantity is used.
type use struct {
	by   int32 // the quantity that uses it
	next int32 // the place of the next use of the same one, by a later quantity; 0 for none
}

// sortQuantities puts every quantity after the ones its formula uses, and
// reports each loop that makes this impossible. The order keeps to the order
// of the sheets where it can.
func (c *compiler) sortQuantities() {
	all := c.model.Quantities
	waits := make([]int, len(all))       // formulas a quantity still waits for
	last := make([]int32, len(all))      // the place in uses of the one that uses it, 0 for none
	uses := make([]use, 1, 1+4*len(all)) // most formulas use a few
	for i, q := range slices.Backward(all) {
		c.eachWaitedFor(q, func(used *Quantity) {
			uses = append(uses, use{int32(i), last[used.index]})
			last[used.index] = int32(len(uses) - 1)
			waits[i]++
		})
	}
	ready := make([]int32, 0, len(all))
	for i := range all {
		if waits[i] == 0 {
			ready = append(ready, int32(i))
		}
	}
	order := make([]*Quantity, 0, len(all))
	for len(ready) > 0 {
		i := ready[0]
		ready = ready[1:]
		order = append(order, all[i])
		for at := last[i]; at != 0; at = uses[at].next {
			u := uses[at].by
			if waits[u]--; waits[u] == 0 {
				ready = append(ready, u)
			}
		}
	}
	c.model.order = order
	if len(order) < len(all) {
		c.reportLoops(waits)
	}
}

// loopHint is how to leave a loop. An equation that feeds on its own result is
// no mistake, but its value has to be found.
const loopHint = "give one of them a number, or leave it blank and list it in a sheet with the header " +
	"unknown,from,to,unit,until,note, which finds it"

// reportLoops follows unsorted quantities until one comes up again. Each loop
// is reported once, at the row of it that comes first.
func (c *compiler) reportLoops(waits []int) {
	all := c.model.Quantities
	visited := make([]int, len(all)) // number of the walk that came by, from 1
	for start := range all {
		var path []*Quantity
		at := all[start]
		for waits[at.index] > 0 && visited[at.index] == 0 {
			visited[at.index] = start + 1
			path = append(path, at)
			for _, used := range at.uses() {
				if waits[used.index] > 0 {
					at = used
					break
				}
			}
		}
		if len(path) == 0 || visited[at.index] != start+1 {
			continue
		}
		for path[0] != at { // the way into the loop is not part of it
			path = path[1:]
		}
		c.reportLoop(path)
	}
}

func (c *compiler) reportLoop(loop []*Quantity) {
	first := 0
	for i, q := range loop {
		if q.index < loop[first].index {
			first = i
		}
	}
	loop = append(loop[first:len(loop):len(loop)], loop[:first]...)
	const most = 12 // names shown of a long loop
	var names []string
	for i, q := range loop {
		if i == most {
			names = append(names, "...")
			break
		}
		names = append(names, q.Name)
	}
	names = append(names, loop[0].Name)
	f := loop[0].entry.formula
	s := f.whole()
	f.tree().walk(func(n *node) {
		if n.quantity == loop[1%len(loop)] {
			s = n.span()
		}
	})
	message := "the formulas go round in a loop: " + strings.Join(names, " <- ")
	if len(loop) == 1 {
		message = loop[0].Name + " is computed from itself"
	}
	c.report(f.problem(s, message, loopHint))
}
