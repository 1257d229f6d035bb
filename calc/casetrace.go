package calc

import (
	"sync"

	"rambook/calc/tape"
)

// caseTraces explain the cases of a sheet. A case in which something is open is no
// exception: a notebook that waits for a measurement has it in every case. So only
// the operations are run again that lead from the inputs to what is asked, in
// memory that serves the next case as well. To run the whole tape took half of the
// time of a sweep.
type caseTraces struct {
	*differentiated // whose whole explains what no case reaches
	inputs          []tape.Register
	reached         map[tape.Register]bool // of what is asked: it depends on the inputs
	ways            sync.Map               // by root: the operations that lead to it, as a []tape.Register
}

// trace begins to explain case number i of a block. What is no longer needed goes
// back to spare.
func (c *caseTraces) trace(b *tape.Block, i int) *trace {
	tr := c.spare.Get()
	tr.cases = c
	tr.again.Next(func(r tape.Register) { tr.memo[r] = tr.alike.memo[r] })
	tr.found = tr.found[:0]
	clear(tr.joined)
	for k, r := range c.inputs {
		tr.again.Set(r, b.In[k][i])
		tr.note(r)
	}
	return tr
}

// way lists the operations that lead to a root in their order; to all of them if
// the root is tape.None.
func (c *caseTraces) way(root tape.Register) []tape.Register {
	if known, found := c.ways.Load(root); found {
		return known.([]tape.Register)
	}
	var way []tape.Register
	if root != tape.None {
		way = c.Steps(c.inputs, []tape.Register{root})
	} else {
		for i, reached := range c.Reached(c.inputs) {
			if reached {
				way = append(way, tape.Register(i))
			}
		}
	}
	c.ways.Store(root, way)
	return way
}

// follow runs the operations that lead to a root, but for those that have been.
func (tr *trace) follow(root tape.Register) {
	if tr.cases == nil {
		return
	}
	for _, r := range tr.cases.way(root) {
		if tr.again.Run(r) {
			tr.note(r)
		}
	}
}
