package calc

import (
	"slices"

	"rambook/calc/tape"
)

// lender is a given that some cases of a sheet have from the notebook, since their
// own cells are blank where those of others are not. Nobody entered that number for
// these cases, so what goes on with it is marked.
type lender struct {
	column  *column
	reached []bool // by register of the model: it depends on the given
	lent    *Judged
}

// lenders are the givens that cases of a sheet have from the notebook. A column in
// which nothing stands is there to be filled in, and is none of them.
func (m *Model) lenders(cs *caseSheet, base []float64) []lender {
	var list []lender
	for _, g := range cs.given {
		q, own := g.quantity, base[g.input()]
		if q.IsFormula() || !tape.Usable(own) || cellsIn(cs.sheet, g.column.index) == 0 ||
			!slices.ContainsFunc(g.column.values, tape.IsMissing) {
			continue
		}
		lent := blank(q, g.unit)
		switch {
		case q.IsText():
			lent.Text = m.texts[int(own)]
		case g.unit.Symbol == q.Unit.Symbol:
			lent.Value = q.entry.exact(g.unit.FromSI(own))
		default:
			lent.Value = g.unit.FromSI(own)
		}
		list = append(list, lender{g.column, m.tape.ReachedPast([]tape.Register{g.input()}, m.still(cs)), &lent})
	}
	return list
}

// borrow notes beside each value of case number i what of it the notebook has lent,
// and beside the case what its verdict rests on.
func (c *Case) borrow(lenders []lender, judgements []judgement, tr func() *trace, i int) {
	for _, l := range lenders {
		if !tape.IsMissing(l.column.values[i]) {
			continue
		}
		judged, known := false, map[tape.Register]tape.Register{}
		for k := range judgements {
			j := &judgements[k]
			value, low, high := j.at[theValue], j.at[theLow], j.at[theHigh]
			if !slices.ContainsFunc([]tape.Register{value, low, high},
				func(r tape.Register) bool { return tr().originOf(l.reached, r, known) != tape.None }) {
				continue
			}
			c.Values[k].Borrowed = append(c.Values[k].Borrowed, l.lent)
			judged = judged || low != tape.None || high != tape.None
		}
		if judged {
			c.Borrowed = append(c.Borrowed, l.lent)
		}
	}
}

// originOf is where what the marks have reached comes onto the tape, of the number in a
// register; tape.None where that was computed without it. Of a choice only the arm
// counts that was taken. known holds what has been found of other registers.
func (tr *trace) originOf(reached []bool, root tape.Register, known map[tape.Register]tape.Register) tape.Register {
	if root == tape.None || !reached[root] {
		return tape.None
	}
	tr.follow(root)
	var origin func(r tape.Register) tape.Register
	origin = func(r tape.Register) tape.Register {
		if r == tape.None || !reached[r] {
			return tape.None
		}
		if found, looked := known[r]; looked {
			return found
		}
		o, found := &tr.tape.Ops[r], r // unless an operand is reached too
		operands := tr.tape.Operands(o, nil)
		if slices.ContainsFunc(operands, func(a tape.Register) bool { return a != tape.None && reached[a] }) {
			found = tape.None
			switch {
			case o.Code == tape.OpSelect && tr.values[o.A] == 1:
				operands = []tape.Register{o.A, o.B}
			case o.Code == tape.OpSelect && tr.values[o.A] == 0:
				operands = []tape.Register{o.A, o.C}
			}
			for i := 0; i < len(operands) && found == tape.None; i++ {
				found = origin(operands[i])
			}
		}
		known[r] = found
		return found
	}
	return origin(root)
}
