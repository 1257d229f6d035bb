package calc

import (
	"fmt"

	"rambook/sheets"
)

// A derivative only knows the branch that a formula takes at its value.
// Where the spread of the operands reaches across the corner of min, max,
// abs, a comparison or a curve, the other branch may hold as well, and the
// spread that is computed may be too small or too large.

// warnKinks warns of corners that lie within the spread of what reaches them.
func (m *Model) warnKinks(t *tape, list []kink, values []float64) []sheets.Problem {
	var warnings []sheets.Problem
	told := map[*node]bool{}
	for _, k := range list {
		o, at := &t.ops[k.at], m.originOf(t, k.at).node
		distance, spread := values[k.distance], values[k.spread]
		if at == nil || told[at] || !usable(distance) || !usable(spread) || k.reach(o, distance) >= spread {
			continue
		}
		told[at] = true
		warnings = append(warnings, m.problemAt(t, k.at, fmt.Sprintf("the spread reaches across the corner of %s: the other branch may hold as well", cornerName(o)),
			"look at it with --sample, which follows every branch"))
	}
	return warnings
}

func cornerName(o *op) string {
	switch o.code {
	case opMin:
		return "min"
	case opMax:
		return "max"
	case opLess, opLessEq:
		return "this comparison"
	}
	return o.more.fn.name
}
