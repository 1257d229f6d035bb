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
		judged, known := false, map[tape.Register]bool{}
		for k := range judgements {
			j := &judgements[k]
			value, low, high := j.at[theValue], j.at[theLow], j.at[theHigh]
			if !slices.ContainsFunc([]tape.Register{value, low, high},
				func(r tape.Register) bool { return tr().goesOnWith(l.reached, r, known) }) {
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

// goesOnWith reports whether the number in a register was computed with what the
// marks have reached. Of a choice only the arm counts that was taken. known holds what
// has been found of other registers.
func (tr *trace) goesOnWith(reached []bool, root tape.Register, known map[tape.Register]bool) bool {
	if root == tape.None || !reached[root] {
		return false
	}
	tr.follow(root)
	var goes func(r tape.Register) bool
	goes = func(r tape.Register) bool {
		if r == tape.None || !reached[r] {
			return false
		}
		if found, looked := known[r]; looked {
			return found
		}
		o, found := &tr.tape.Ops[r], false
		switch {
		case o.Code == tape.OpInput:
			found = true
		case o.Code == tape.OpSelect && tr.values[o.A] == 1:
			found = goes(o.A) || goes(o.B)
		case o.Code == tape.OpSelect && tr.values[o.A] == 0:
			found = goes(o.A) || goes(o.C)
		default:
			found = slices.ContainsFunc(tr.tape.Operands(o, nil), goes)
		}
		known[r] = found
		return found
	}
	return goes(root)
}
