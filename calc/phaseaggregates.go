package calc

import (
	"fmt"
	"slices"
	"strings"

	"rambook/calc/function"
	"rambook/calc/phase"
	"rambook/calc/tape"
	"rambook/units"
	"rambook/units/words"
)

// aggregates are the functions that make one number of a phase.
var aggregates = map[string]struct {
	by   phase.Function
	args int
}{
	"mean": {phase.Mean, 1}, "sum": {phase.Sum, 1}, "count": {phase.Count, 1}, "min": {phase.Least, 1},
	"max": {phase.Greatest, 1},
	"rms": {phase.RMS, 1}, "first": {phase.First, 1}, "last": {phase.Last, 1},
	"slope": {phase.Slope, 2}, "intercept": {phase.Intercept, 2}, "integral": {phase.Integral, 2},
}

// findAggregates puts inputs in the place of the calls that reduce a phase to a number.
func (c *compiler) findAggregates(q *Quantity, e *entry, phases map[string]phaseOf) {
	f := e.formula
	var visit func(n *node, inside bool)
	visit = func(n *node, inside bool) {
		if n.kind == callNode {
			if at := n.phaseWithin(phases); at != nil && !n.phaseBelow(phases) {
				c.aggregate(q, f, n, *at, phases)
				return
			}
		}
		if n.kind == columnNode {
			if _, found := phases[n.sheet]; found {
				c.report(f.problem(n.span(), "the samples of a phase stand where one value is needed",
					"take one number of them, as in mean("+n.sheet+"."+n.name+") or last("+n.sheet+"."+n.name+")"))
				n.giveUp()
				return
			}
		}
		for _, a := range n.args {
			visit(a, inside)
		}
	}
	visit(f.root, false)
}

// phaseWithin finds a phase that a call's arguments read, nil if they read none.
func (n *node) phaseWithin(phases map[string]phaseOf) (found *phaseOf) {
	for _, a := range n.args {
		a.walk(func(part *node) {
			if part.kind == columnNode && found == nil {
				if at, known := phases[part.sheet]; known {
					found = &at
				}
			}
		})
	}
	return found
}

// phaseBelow reports whether a call inside the arguments is the one that reduces
// the phase, as the mean in abs(mean(hold.pressure)) is.
func (n *node) phaseBelow(phases map[string]phaseOf) bool {
	if _, known := aggregates[n.name]; !known {
		return true
	}
	below := false
	for _, a := range n.args {
		a.walk(func(part *node) {
			if _, known := aggregates[part.name]; known && part.kind == callNode && part.phaseWithin(phases) != nil {
				below = true
			}
		})
	}
	return below && (n.name == "min" || n.name == "max" || n.name == "mean" || n.name == "sum" || n.name == "count")
}

// aggregate makes an input of a call that reduces a phase to a number.
func (c *compiler) aggregate(q *Quantity, f *formula, n *node, at phaseOf, phases map[string]phaseOf) {
	cut := at.cutting
	n.to = int32(f.closing(n))
	v := &cycleValue{cutting: cut, phase: at.index, by: aggregates[n.name].by, x: tape.None, y: tape.None,
		typ: unknownType}
	v.text = strings.Join(strings.Fields(n.span().cut([]rune(f.text))), " ")
	done := func() {
		for _, known := range cut.values {
			if known.text == v.text {
				v = known
			}
		}
		if !slices.Contains(cut.values, v) {
			cut.values = append(cut.values, v)
		}
		n.kind, n.typ, n.link = cycleNode, v.typ, &link{cycle: v}
	}
	if q.cutting == nil {
		q.cutting = cut
	}
	if q.cutting != cut {
		c.report(f.problem(n.span(),
			"a quantity reads the phases of one phase sheet, here of "+q.cutting.sheet.Name+" and "+cut.sheet.Name,
			"give each a row of its own"))
		n.giveUp()
		return
	}
	if cut.log == nil {
		n.args = nil // what its columns are is not known
		done()
		return
	}
	before := len(c.problems)
	fresh := formulaPass{c, f}
	if want := aggregates[n.name].args; len(n.args) != want {
		fresh.refuse(n.span(), fmt.Sprintf("%s of a phase takes %s, here %s", n.name, words.Counted(want, "argument"),
			words.Counted(len(n.args), "argument")), "")
	}
	for _, a := range n.args {
		a.walk(func(part *node) {
			if part.kind != columnNode {
				return
			}
			switch other, known := phases[part.sheet]; {
			case !known:
			case other != at:
				fresh.refuse(part.span(), fmt.Sprintf("%s reads one phase, here %s and %s", n.name,
					cut.sheet.Phases[at.index].Phase.Text, part.sheet), "")
			default:
				index := cut.log.Column(part.name)
				if index < 0 {
					c.report(f.placedAt(part.column, noColumn(cut.log, part.name)))
					part.giveUp()
					return
				}
				c.track(cut, part, index, f.place)
			}
		})
	}
	if len(c.problems) > before {
		n.giveUp()
		return
	}
	types := make([]function.Type, len(n.args))
	registers := make([]tape.Register, len(n.args))
	told := false // before, of what it is made of
	for i, a := range n.args {
		types[i], registers[i] = c.overLog(cut, f, a, cut.sheet.Phases[at.index].Phase.Text)
		told = told || types[i].Sort == function.Unknown
	}
	if len(c.problems) == before && !told {
		v.typ = c.aggregateType(fresh, n, v, types)
	}
	if len(c.problems) > before || told {
		n.giveUp()
		return
	}
	v.x = registers[0]
	if len(registers) > 1 {
		v.y = registers[1]
	}
	done()
}

// closing is the character behind the bracket that closes a call, which its
// span leaves out.
func (f *formula) closing(n *node) int {
	text := []rune(f.text)
	open := 0
	for i := int(n.from); i < len(text); i++ {
		switch text[i] {
		case '(':
			open++
		case ')':
			if open--; open == 0 {
				return i + 1
			}
		}
	}
	return int(n.to)
}

// overLog compiles an expression over the columns of a log. It is also the rule
// of what may stand there: columns, numbers, and plain givens of the model.
// Columns are named with their phase, or without one in a condition, of no phase.
func (c *compiler) overLog(cut *cutting, f *formula, n *node, phase string) (function.Type, tape.Register) {
	before := len(c.problems)
	(&resolver{formulaPass: formulaPass{c, f}, log: cut.log, phase: phase}).visit(n)
	if len(c.problems) > before {
		return unknownType, tape.None
	}
	t := checker{formulaPass{c, f}}.infer(n)
	c.blameHeader(n, before)
	n.walk(func(part *node) {
		if part.kind != quantityNode {
			return
		}
		switch q := part.quantity; {
		case !q.isGiven() && !q.IsFormula():
			if !slices.Contains(cut.waits, q) {
				cut.waits = append(cut.waits, q)
			}
		case !q.isGiven():
			c.report(f.problem(part.span(),
				q.Name+" is computed, and beside the samples of a log only numbers and plain givens can stand",
				"take it out of the brackets, or give it a number"))
		case !n.isCondition() && (q.spread.kind != blankEntry || q.With != ""):
			c.warn(f.problem(part.span(), "the spread of "+q.Name+" is not followed among the samples of a log",
				"take it out of the brackets where you can"))
		}
	})
	if len(c.problems) > before || t.Sort == function.Unknown {
		return unknownType, tape.None
	}
	l := &lowering{compiler: c, tape: cut.tape, from: f, constant: true}
	return t, l.node(n)
}

// blameHeader adds to problems from one on, which are about the units of an
// expression, what the header of the log says of its columns.
func (c *compiler) blameHeader(n *node, from int) {
	if len(c.problems) == from {
		return
	}
	var list []string
	bare := false
	n.walk(func(part *node) {
		if part.kind == trackNode && part.logged.index > 0 && !slices.Contains(list, part.logged.isIn()) {
			list = append(list, part.logged.isIn())
			bare = bare || part.logged.head.Unit == ""
		}
	})
	for i := range c.problems[from:] {
		if p := &c.problems[from+i]; len(list) > 0 && (bare || p.Hint == "") {
			p.Hint, p.Track = words.Listed(list, 3), n.track()
		}
	}
}

// aggregateType is what a call yields.
func (c *compiler) aggregateType(p formulaPass, n *node, v *cycleValue, types []function.Type) function.Type {
	x := types[0]
	v.holds = x.Sort == function.Truth
	for i, t := range types {
		if t.Sort != function.Number && !(v.holds && v.by == phase.Count && i == 0) {
			p.refuse(n.args[i].span(), "a number is needed here, not "+function.WithArticle(t),
				"only count(...) takes a condition")
			return unknownType
		}
	}
	combine := func(join func(a, b units.Dimension) (units.Dimension, error)) function.Type {
		d, err := join(types[1].Dim, x.Dim)
		if err != nil {
			p.refuse(n.span(), err.Error(), "")
		}
		return function.Type{Dim: d}
	}
	point := func(i int) bool {
		if types[i].Point {
			p.refuse(n.args[i].span(), n.name+" of "+types[i].String()+" has no meaning",
				"subtract another one first, to have a difference")
		}
		return types[i].Point
	}
	switch v.by {
	case phase.Count:
		return function.Plain
	case phase.Sum, phase.RMS:
		if point(0) {
			return unknownType
		}
	case phase.Slope:
		return combine(units.Dimension.Div)
	case phase.Intercept:
		return types[1]
	case phase.Integral:
		if point(1) {
			return unknownType
		}
		return combine(units.Dimension.Mul)
	}
	return x
}

// checkReading demands that a reading is measured: that it comes of phases, and
// of plain givens at most.
func (c *compiler) checkReading(q *Quantity, f *formula) {
	if f.tree() == nil {
		return
	}
	phases, told := false, false
	f.tree().walk(func(n *node) {
		phases = phases || n.kind == cycleNode
		told = told || n.typ == unknownType
	})
	switch {
	case told:
	case q.cutting == nil || !phases:
		c.report(f.fault("a formula stands where a number is needed",
			"a reading is a number, or a formula over the phases of a log, as in mean(pressing.pressure)"))
	case !q.IsFormula():
		return // that is told already
	}
}
