package calc

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"rambook/calc/tape"
	"rambook/sheets"
)

// A blank cell of a row leaves the given as the notebook has it. What another case
// of that sheet replaces the given with is nothing of this row: the sum over the
// steps of a cycle is the same whichever step is looked at.

// keptGiven is a given that blank cells of a sheet leave, as aggregates over the
// rows of that sheet read it.
type keptGiven struct {
	cell     tape.Register // what they read: own where replaced is 1, else the given
	replaced tape.Register // 1 in a case of that sheet whose own cell is filled in
	own      tape.Register // the notebook's number, there
	spreadAt tape.Register // of own
}

// keptKey is the sheet with the blank cells, and the given.
type keptKey struct {
	sheet *sheets.Sheet
	given *Quantity
}

// leftBlank is what a blank cell of a column that replaces a given leaves. One that
// nobody has entered is missing in that very cell.
func (l *lowering) leftBlank(col *column, row int) tape.Register {
	q := col.quantity
	r := l.quantity(q)
	run := slices.ContainsFunc(l.model.caseSheets, func(cs *caseSheet) bool { return cs.sheet == col.sheet })
	if !run || l.outside != nil || r != q.passed || q.IsFormula() || q.isGauged() {
		return r
	}
	key := keptKey{col.sheet, q}
	if k := l.model.kept[key]; k != nil {
		return k.cell
	}
	k := &keptGiven{replaced: l.tape.Input(0), own: l.tape.Input(tape.Missing)}
	k.cell = l.tape.Choose(k.replaced, k.own, r)
	k.spreadAt = tape.None
	if !q.IsText() {
		k.spreadAt = l.spread(*q.spread, k.own)
	}
	if q.entry.kind == blankEntry && l.model.inputs[r] != absentInput {
		if l.model.waits == nil {
			l.model.waits = map[tape.Register]Need{}
		}
		l.model.waits[k.cell] = Need{Name: fmt.Sprintf("%s[%s].%s", col.sheet.Name, col.sheet.Cases[row].Name.Text,
			col.name), Sheet: col.sheet.Name, File: col.sheet.File, Line: col.sheet.Cases[row].Name.Line}
	}
	if l.model.kept == nil {
		l.model.kept = map[keptKey]*keptGiven{}
	}
	l.model.kept[key] = k
	return k.cell
}

// keep finds the blank cells that the cases of a sheet leave to the notebook. A
// crossing has those of both its sheets, of which only one replaces a given.
func (m *Model) keep(cs *caseSheet) {
	for _, g := range cs.given {
		for key, k := range m.kept {
			name := key.sheet.Name
			if key.given == g.quantity && (key.sheet == cs.sheet || strings.HasPrefix(cs.sheet.Name, CrossName(name, "")) ||
				strings.HasSuffix(cs.sheet.Name, CrossName("", name))) {
				g.kept = k
			}
		}
	}
}

// still are the cells that the cases of a sheet do not change.
func (m *Model) still(cs *caseSheet) map[tape.Register]bool {
	all := m.sameCells
	for _, g := range cs.given {
		if g.kept == nil {
			continue
		}
		if len(all) == len(m.sameCells) {
			if all = maps.Clone(all); all == nil {
				all = map[tape.Register]bool{}
			}
		}
		all[g.kept.cell] = true
	}
	return all
}

// fill sets the inputs of a block of cases.
func (k *keptGiven) fill(replaced, own, cells []float64, given float64) {
	for i := range own {
		replaced[i], own[i] = 1, given
		if tape.IsMissing(cells[i]) {
			replaced[i], own[i] = 0, tape.Missing
		}
	}
}
