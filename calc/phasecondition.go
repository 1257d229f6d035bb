package calc

import (
	"rambook/calc/function"
	"rambook/calc/phase"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// isCondition reports whether an expression is a comparison or several.
func (n *node) isCondition() bool { return n.typ.Sort == function.Truth }

// readConditions compiles what begins and ends the phases.
func (c *compiler) readConditions(cut *cutting) {
	s := cut.sheet
	for i := range s.Phases {
		row := &s.Phases[i]
		p := phase.Phase{}
		if e := c.read(placeIn(s, row.For), second, role{what: "time", literal: true}); e.kind == numberEntry {
			if p.For = e.value; p.For < 0 {
				c.report(e.fault("a time cannot be negative", ""))
			}
		}
		for _, half := range []struct {
			cell sheets.Cell
			to   *phase.Condition
			what string
		}{{row.From, &p.From, "begins"}, {row.To, &p.To, "ends"}} {
			if half.cell.Blank() {
				c.report(placeIn(s, row.Phase).fault(
					"the phase "+row.Phase.Text+" has no condition for when it "+half.what,
					"write a condition such as position < 70*mm"))
				continue
			}
			if condition, ok := c.readCondition(cut, half.cell); ok {
				*half.to = condition
			}
		}
		cut.phases = append(cut.phases, p)
	}
}

var second = func() units.Unit {
	u, _ := units.Parse("s")
	return u
}()

// readCondition compiles one condition. Names are columns of the log first.
func (c *compiler) readCondition(cut *cutting, cell sheets.Cell) (condition phase.Condition, ok bool) {
	at := placeIn(cut.sheet, cell)
	at.skip = formulaMark(cell.Text)
	f := &formula{place: at, text: string([]rune(cell.Text)[at.skip:]), out: tape.None}
	root, fault := parseFormula(f.text)
	if fault != nil {
		c.report(f.placed(fault))
		return condition, false
	}
	if cut.log == nil {
		return condition, false
	}
	before := len(c.problems)
	root.walk(func(n *node) {
		if n.kind != nameNode {
			return
		}
		if index := cut.log.Column(n.name); index >= 0 {
			c.track(cut, n, index, at)
		}
	})
	t, _ := c.overLog(cut, f, root, "")
	if len(c.problems) > before || t.Sort == function.Unknown {
		return condition, false
	}
	if t.Sort != function.Truth {
		c.report(f.problem(root.span(), "a condition is needed here, not "+function.WithArticle(t),
			"compare two values, as in position < 70*mm"))
		return condition, false
	}
	f.root = root
	c.conditions = append(c.conditions, f)
	l := &lowering{compiler: c, tape: cut.tape, from: f, constant: true}
	return l.condition(cut, root)
}

// condition makes of a tree of comparisons what the cutter follows.
func (l *lowering) condition(cut *cutting, n *node) (phase.Condition, bool) {
	parts := func(by phase.Comparison) (phase.Condition, bool) {
		made := phase.Condition{By: by}
		for _, a := range n.args {
			part, ok := l.condition(cut, a)
			if !ok {
				return made, false
			}
			made.Parts = append(made.Parts, part)
		}
		return made, true
	}
	a, b := 0, 1
	switch n.name {
	case "and":
		return parts(phase.And)
	case "or":
		return parts(phase.Or)
	case "not":
		return parts(phase.Not)
	case ">", ">=":
		a, b = 1, 0
	}
	by, known := map[string]phase.Comparison{"<": phase.Less, ">": phase.Less, "<=": phase.LessEqual,
		">=": phase.LessEqual,
		"==": phase.Equal, "!=": phase.Unequal}[n.name]
	if n.kind != binaryNode || !known {
		l.report(l.from.problem(n.span(), "a condition of a phase is made of comparisons, joined by and, or, not",
			"compare two values, as in position < 70*mm"))
		return phase.Condition{}, false
	}
	return phase.Condition{By: by, A: l.operand(cut, n.args[a]), B: l.operand(cut, n.args[b])}, true
}

func (l *lowering) operand(cut *cutting, n *node) phase.Operand {
	r := l.node(n)
	if l.tape.IsConstant(r) {
		return phase.Operand{Track: -1, Number: l.tape.Once(nil)[r]}
	}
	return phase.Operand{Track: cut.trackOf(r)}
}
