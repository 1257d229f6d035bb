package calc

import (
	"fmt"

	"rambook/calc/tape"
	"rambook/sheets"
)

// A derivative only knows the branch that a formula takes at its value.
// Where the spread of the operands reaches across the corner of min, max,
// abs, a comparison or a curve, the other branch may hold as well, and the
// spread that is computed may be too small or too large.

// warnKinks warns of corners that lie within the spread of what reaches them.
func (m *Model) warnKinks(t *tape.Tape, list []tape.Kink, values []float64) []sheets.Problem {
	var warnings []sheets.Problem
	told := map[*node]bool{}
	for _, k := range list {
		o, at := &t.Ops[k.At], m.originOf(t, k.At).node
		distance, spread := values[k.Distance], values[k.Spread]
		if at == nil || told[at] || !tape.Usable(distance) || !tape.Usable(spread) || k.Reach(o, distance) >= spread {
			continue
		}
		told[at] = true
		warnings = append(warnings, m.problemAt(t, k.At, fmt.Sprintf("the spread reaches across the corner of %s: the other branch may hold as well", cornerName(o)),
			"look at it with --sample, which follows every branch"))
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
