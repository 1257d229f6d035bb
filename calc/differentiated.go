package calc

import (
	"slices"
	"sync"

	"rambook/calc/tape"
)

// differentiated is a tape with the derivatives that the judgements of one run
// need, or those of several in which the inputs have the same spreads. Most case
// sheets state no spread of their own, and the derivatives are most of a tape.
type differentiated struct {
	*tape.Tape
	seeds  map[tape.Register]tape.Register // the spreads of the inputs
	kinks  []tape.Kink
	values []float64          // by register, of the base case
	whole  func() *trace      // explains these
	spare  tape.Spare[*trace] // that explain one case after another

	balances sync.Map // of unknowns without a solution, by their limit
}

// differentiate completes the judgements of some runs with their spreads. base gives
// the values of the model's operations, and may wait for them.
func (m *Model) differentiate(seeds map[tape.Register]tape.Register, base func() []float64,
	runs ...[]judgement) *differentiated {
	d := &differentiated{Tape: m.tape.Extend(), seeds: seeds}
	d.spare.New = d.beside
	var roots []tape.Register
	for _, judgements := range runs {
		roots = append(roots, rootsOf(judgements)...)
	}
	s := tape.Differentiate(d.Tape, seeds, roots)
	for _, judgements := range runs {
		for i := range judgements {
			judgements[i].addSpreads(s)
		}
	}
	d.kinks = s.Kinks()
	d.values = d.Continue(base())
	// What no case reaches lacks a number for the same reason in all of them.
	d.whole = sync.OnceValue(func() *trace {
		tr := m.newTrace(d.Tape, d.values)
		tr.explainAll()
		return tr
	})
	return d
}

// known is for values that need not be waited for.
func known(values []float64) func() []float64 { return func() []float64 { return values } }

// beside makes a trace that is run again for one case after another.
func (d *differentiated) beside() *trace {
	alike := d.whole()
	again := alike.tape.Again(alike.values)
	return &trace{tape: alike.tape, model: alike.model, values: again.Values, memo: slices.Clone(alike.memo),
		again: again, alike: alike}
}

// rootsOf lists the registers whose derivatives some judgements need.
func rootsOf(judgements []judgement) []tape.Register {
	roots := make([]tape.Register, 0, len(judgements))
	for i := range judgements {
		for _, r := range judgements[i].roots() {
			if r != tape.None {
				roots = append(roots, r)
			}
		}
	}
	return roots
}

// kinksOf lists the corners that some judgements depend on.
func (m *Model) kinksOf(d *differentiated, judgements []judgement) []tape.Kink {
	if len(d.kinks) == 0 {
		return nil
	}
	needed := m.tape.Needed(rootsOf(judgements))
	return slices.DeleteFunc(slices.Clone(d.kinks), func(k tape.Kink) bool { return !needed[k.At] })
}
