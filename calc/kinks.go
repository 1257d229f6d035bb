package calc

import (
	"fmt"
	"slices"

	"rambook/calc/tape"
	"rambook/sheets"
)

// A derivative only knows the branch that a formula takes at its value.
// Where the spread of the operands reaches across the corner of min, max,
// abs, a comparison or a curve, the other branch may hold as well, and the
// spread that is computed may be too small or too large.

// warnKinks warns of corners that lie within the spread of what reaches them.
// number gives the distance from a corner of the list, and the spread of it.
func (m *Model) warnKinks(t *tape.Tape, list []tape.Kink, number func(i int) (distance, spread float64), opt CheckOptions) []sheets.Problem {
	hint := "look at it with --sample, which follows every branch"
	if opt.Samples > 0 {
		hint = "the sampled interval follows every branch"
	}
	var warnings []sheets.Problem
	var told []*node
	for i, k := range list {
		distance, spread := number(i)
		o := &t.Ops[k.At]
		if !tape.Usable(distance) || !tape.Usable(spread) || k.Reach(o, distance) >= spread {
			continue
		}
		at := m.originOf(t, k.At).node
		if at == nil || slices.Contains(told, at) {
			continue
		}
		told = append(told, at)
		warnings = append(warnings, m.problemAt(t, k.At, fmt.Sprintf("the spread reaches across the corner of %s: the other branch may hold as well", cornerName(o)), hint))
	}
	return warnings
}

func cornerName(o *tape.Op) string {
	switch o.Code {
	case tape.OpMin:
		return "min"
	case tape.OpMax:
		return "max"
	case tape.OpLess, tape.OpLessEq:
		return "this comparison"
	}
	return o.More.Fn.Name
}
