package calc

import (
	"fmt"
	"slices"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
)

// An aggregate such as sum(duty.pressure*duty.time) runs an expression over the
// rows of one sheet. The tape has no loops: the expression is lowered once for
// each row, with the row's cells in the place of its columns, and the results
// are folded with plain operations. So a cell with a spread is an input like
// any given, and values, derivatives, cases and samples need no rule of their
// own. The price is a tape that grows with rows times operations.
//
// A column that asks for a formula stands for that formula in the row: the
// formula is lowered anew with the givens that the row replaces, and so is all
// between the two. What depends on none of them is shared by all rows.

// MaxUnrolled is how many operations the rows of all aggregates of a notebook
// may come to.
const MaxUnrolled = 5_000_000

// over settles over which sheet's rows the aggregates in n run, and which
// columns stand for the cell of a row. outer holds the sheets whose rows run
// already around n.
func (r *resolver) over(n *node, outer []string) {
	switch {
	case n.kind == columnNode:
		n.bound = slices.Contains(outer, n.sheet)
	case n.kind == callNode && n.fn != nil && n.fn.Columns() > 0:
		r.overCurve(n, outer)
		return
	case n.kind == callNode && n.fn != nil && n.fn.Aggregates(len(n.args)):
		if own := r.ownRows(n, outer); own != "" {
			n.over = own
			outer = append(slices.Clone(outer), own)
		}
	}
	for _, a := range n.args {
		r.over(a, outer)
	}
}

// overCurve is over for a call that reads whole columns and may have a
// condition over their rows behind its single values.
func (r *resolver) overCurve(n *node, outer []string) {
	for i, a := range n.args {
		switch {
		case i < n.fn.Columns() && a.kind == columnNode:
			n.over = n.args[0].sheetName()
		case i == n.fn.Condition() && n.over != "":
			r.over(a, append(slices.Clone(outer), n.over))
		default:
			r.over(a, outer)
		}
	}
}

// sheetName is the sheet of a column, "" for any other node.
func (n *node) sheetName() string {
	if n.kind != columnNode {
		return ""
	}
	return n.sheet
}

// ownRows finds the sheet over whose rows an aggregate runs: that of the
// columns in its arguments which no other aggregate inside takes up. A sheet
// whose rows run already around it comes second, as in
// max(abs(stations.gap - mean(stations.gap))).
func (r *resolver) ownRows(n *node, outer []string) string {
	var found []*node
	for _, a := range n.args {
		found = append(found, a.freeColumns()...)
	}
	own := ""
	for _, again := range []bool{false, true} {
		for _, col := range found {
			switch {
			case slices.Contains(outer, col.sheet) != again || own == col.sheet:
			case own == "":
				own = col.sheet
			default:
				r.refuse(col.span(), n.name+" runs over the rows of one sheet, here of "+own+" and "+col.sheet,
					"put both columns into one sheet, or look one cell up with "+col.sheet+"[key]."+col.name)
				col.data = nil // no more is to be found wrong with it
				return own
			}
		}
		if own != "" {
			return own
		}
	}
	return ""
}

// freeColumns lists the columns in n that no aggregate or curve inside takes up.
func (n *node) freeColumns() []*node {
	if n.kind == columnNode {
		return []*node{n}
	}
	args := n.args
	if n.kind == callNode && n.fn != nil {
		switch {
		case n.fn.Columns() > 0:
			from := min(n.fn.Columns(), len(args))
			args = args[from:min(max(from, n.fn.Condition()), len(args))]
		case n.fn.Aggregates(len(args)):
			return nil
		}
	}
	var list []*node
	for _, a := range args {
		list = append(list, a.freeColumns()...)
	}
	return list
}

// rowColumns lists the columns in n that stand for cells of the rows of a sheet
// that runs around n.
func (n *node) rowColumns(sheet string) []*column {
	var list []*column
	if n.kind == columnNode && n.bound && n.sheet == sheet && n.data != nil {
		list = append(list, n.data)
	}
	for i, a := range n.args {
		if n.kind == callNode && n.over == sheet &&
			(n.fn.Columns() == 0 || i < n.fn.Columns() || i == n.fn.Condition()) {
			continue // runs over the rows by itself
		}
		list = append(list, a.rowColumns(sheet)...)
	}
	return list
}

// frame is the row that lowering is in, of one sheet; the frames of sheets
// around it follow.
type frame struct {
	outer    *frame
	sheet    *sheets.Sheet
	row      int
	computed map[*Quantity]tape.Register // in this row: the givens it replaces and what was lowered with them
	replaces bool                        // formulas are lowered with the row's givens
}

// of finds the frame of a sheet, nil if none of its rows runs.
func (f *frame) of(sheet string) *frame {
	for ; f != nil; f = f.outer {
		if f.sheet.Name == sheet {
			return f
		}
	}
	return nil
}

// aggregate lowers a call over the rows of a sheet.
func (l *lowering) aggregate(n *node) tape.Register {
	if r, none := l.withoutRuns(n); none {
		return r
	}
	s := l.sheets[n.over]
	var columns []*column
	for _, a := range n.args {
		columns = append(columns, a.rowColumns(n.over)...)
	}
	if slices.ContainsFunc(columns, func(col *column) bool { return col.absent }) {
		return l.nothing() // the sheet is set aside
	}
	rows := make([][]tape.Register, len(n.args))
	var at []int
	var blank *sheets.Cell
	around := l.frame
	for i := range s.Cases {
		if cell := blankIn(columns, i); cell != nil {
			if blank == nil {
				blank = cell
			}
			continue
		}
		at = append(at, i)
		l.frame = l.rowFrame(around, s, i, false)
		for j, a := range n.args {
			rows[j] = append(rows[j], l.counted(n, a))
		}
		l.frame = around
		if l.tooLarge(n) {
			return l.tape.Constant(0)
		}
	}
	l.mark(l.from, n)
	if n.fn.Counts && len(at) == 0 {
		return l.tape.Constant(0)
	}
	if why := n.fn.TooFew(len(at)); why != "" {
		return l.waiting(n, s, columns, blank, why)
	}
	if n.fn.Running {
		own := l.rowOf(s)
		for k, i := range at {
			rows[0][k] = l.tape.Choose(l.tape.Binary(tape.OpLessEq, l.tape.Constant(float64(i)), own), rows[0][k],
				l.tape.Constant(0))
		}
	}
	switch {
	case n.fn.LeavesOut && l.anyAbsent(rows[0]):
		return n.fn.LowerPresent(l.tape, rows[0], l.isAbsent)
	case n.fn.Fold == nil:
		return l.tape.Call(n.fn.Bind(nil), rows[0])
	}
	return n.fn.Fold(l.tape, rows)
}

// counted lowers an argument in a row. Where only rows are counted its value
// does not matter, unless it is a condition.
func (l *lowering) counted(n, a *node) tape.Register {
	if n.fn.Counts && a.typ.Sort != function.Truth {
		return l.tape.Constant(1)
	}
	return l.node(a)
}

// tooLarge reports a tape that has grown beyond what rows may come to.
func (l *lowering) tooLarge(n *node) bool {
	if len(l.tape.Ops) <= MaxUnrolled {
		return false
	}
	if !l.overflowed {
		l.overflowed = true
		l.report(l.from.problem(n.span(), fmt.Sprintf("the rows of %s make this notebook longer than %d operations",
			n.over, MaxUnrolled),
			"aggregate fewer rows, or a column of data without a spread, which costs nothing"))
	}
	return true
}

// blankIn finds a blank cell of some columns of data in a row. A column that
// asks for a formula has none, since it is computed, and neither has one that
// replaces a given, which a blank cell leaves as it is.
func blankIn(columns []*column, row int) *sheets.Cell {
	for _, col := range columns {
		if col.quantity == nil && tape.IsMissing(col.values[row]) {
			return &col.sheet.Cases[row].Cells[col.index]
		}
	}
	return nil
}

// waiting is an aggregate over too few rows: it is open until a cell is filled
// in, or a row is written.
func (l *lowering) waiting(n *node, s *sheets.Sheet, columns []*column, blank *sheets.Cell, why string) tape.Register {
	need := Need{Name: s.Name + ": " + why, Sheet: s.Name, File: s.File, Line: s.Key.Line}
	if len(s.Cases) == 0 { // short enough to stand beside a value
		need.Name = "a row of " + s.Name
	}
	for i := range s.Cases {
		if cell := blankIn(columns, i); cell != nil && cell == blank {
			for _, col := range columns {
				if &s.Cases[i].Cells[col.index] == cell {
					need.Name, need.Line = fmt.Sprintf("%s[%s].%s", s.Name, s.Cases[i].Name.Text, col.name), cell.Line
				}
			}
			break
		}
	}
	return l.openCell(need)
}

// openCell is a value that is missing, and what it waits for.
func (l *lowering) openCell(need Need) tape.Register {
	if l.outside != nil {
		return l.argument(l.outside.openCell(need))
	}
	r := l.tape.Input(tape.Missing)
	if l.model.waits == nil {
		l.model.waits = map[tape.Register]Need{}
	}
	l.model.waits[r] = need
	return r
}

// rowFrame gives the frame of a row. The same row inside the same frame has one
// frame, so that what is computed in it is computed once.
func (l *lowering) rowFrame(outer *frame, s *sheets.Sheet, row int, replaces bool) *frame {
	for outer != nil && outer.sheet == s { // its rows run anew
		outer = outer.outer
	}
	key := frameKey{outer, s, row, replaces}
	if f := l.frames[key]; f != nil {
		return f
	}
	if l.frames == nil {
		l.frames = map[frameKey]*frame{}
	}
	f := &frame{outer: outer, sheet: s, row: row, replaces: replaces}
	l.frames[key] = f
	return f
}

type frameKey struct {
	outer    *frame
	sheet    *sheets.Sheet
	row      int
	replaces bool
}

// rowOf is the number of the case's own row in a sheet. It is missing where the
// model runs by itself.
func (l *lowering) rowOf(s *sheets.Sheet) tape.Register {
	if f := l.frame.of(s.Name); f != nil && f.replaces {
		return l.tape.Constant(float64(f.row))
	}
	if l.outside != nil {
		return l.argument(l.outside.rowOf(s))
	}
	if r, known := l.model.rowAt[s.Name]; known {
		return r
	}
	r := l.tape.Input(tape.Missing)
	l.model.inputs[r] = byCaseInput
	if l.model.rowAt == nil {
		l.model.rowAt = map[string]tape.Register{}
	}
	l.model.rowAt[s.Name] = r
	return r
}

// rowCell lowers a column in the row of its sheet that lowering is in.
func (l *lowering) rowCell(n *node) tape.Register {
	f := l.frame.of(n.sheet)
	if n.data.asks {
		return l.computed(f, n.data.quantity)
	}
	return l.cellIn(n.data, f.row)
}

// cellIn is the cell of a column in a row: an input of its own if it has a
// spread, else a constant. A blank one leaves the given that it would replace.
func (l *lowering) cellIn(col *column, row int) tape.Register {
	switch {
	case tape.IsAbsent(col.values[row]):
		return l.nothing()
	case col.quantity != nil && tape.IsMissing(col.values[row]):
		return l.leftBlank(col, row)
	case col.spread.kind == blankEntry:
		return l.tape.Constant(col.values[row])
	}
	return l.cell(col, l.tape.Constant(l.model.textIndex(col.sheet.Cases[row].Name.Text)))
}

// computed lowers a quantity as it comes out in a row: with the givens that the
// row replaces.
func (l *lowering) computed(in *frame, q *Quantity) tape.Register {
	f := l.rowFrame(in.outer, in.sheet, in.row, true)
	around, from, lets := l.frame, l.from, l.lets
	if f.computed == nil {
		f.computed = map[*Quantity]tape.Register{}
		l.frame = f.outer
		for _, col := range l.model.tables[f.sheet.Name].columns {
			if col.quantity != nil && !col.asks {
				f.computed[col.quantity] = l.cellIn(col, f.row)
			}
		}
	}
	l.frame = f
	r := l.quantity(q)
	l.frame, l.from, l.lets = around, from, lets
	return r
}

// quantity gives a quantity where lowering is: the model's own, or, in a row
// that replaces givens, what comes out there.
func (l *lowering) quantity(q *Quantity) tape.Register {
	f := l.frame
	for f != nil && !f.replaces {
		f = f.outer
	}
	if r, sought := l.inner[q]; sought && q.unknown != nil {
		return r // on the tape that finds it, in whatever row
	}
	if f == nil {
		return l.plain(q)
	}
	if r, known := f.computed[q]; known {
		return r
	}
	around, from, lets := l.frame, l.from, l.lets
	var r tape.Register
	switch {
	case !l.moved(f.sheet)[q]:
		l.frame = f.outer
		r = l.quantity(q)
	case q.unknown != nil:
		l.frame = f
		for i, found := range l.solved() {
			f.computed[l.model.unknowns[i].Quantity] = found
		}
		r = f.computed[q]
	default:
		l.frame, l.from, l.lets = f, q.entry.formula, nil
		l.with(q.entry.formula, func(root *node) { r = l.node(root) })
	}
	l.frame, l.from, l.lets = around, from, lets
	f.computed[q] = r
	return r
}

// plain gives a quantity where no row replaces givens. On the tape of unknowns
// what they change is lowered anew.
func (l *lowering) plain(q *Quantity) tape.Register {
	if l.outside == nil {
		return q.passed
	}
	if r, known := l.inner[q]; known {
		return r
	}
	if !l.stirred[q] {
		return l.argument(l.outside.quantity(q))
	}
	around, from, lets := l.frame, l.from, l.lets
	l.frame, l.from, l.lets = nil, q.entry.formula, nil
	var r tape.Register
	l.with(q.entry.formula, func(root *node) { r = l.node(root) })
	l.frame, l.from, l.lets = around, from, lets
	l.inner[q] = r
	return r
}

// moved finds the quantities that the rows of a sheet change: the givens it
// replaces, the sums that run up to a row, and all computed from them.
func (l *lowering) moved(s *sheets.Sheet) map[*Quantity]bool {
	if known := l.movedBy[s]; known != nil {
		return known
	}
	moved := map[*Quantity]bool{}
	for _, col := range l.model.tables[s.Name].columns {
		if col.quantity != nil && !col.asks {
			moved[col.quantity] = true
		}
	}
	for _, q := range l.model.order {
		switch {
		case moved[q]:
			continue
		case q.unknown != nil:
			if l.movesUnknowns(s.Name, moved) {
				moved[q] = true
			}
			continue
		case q.entry.kind != formulaEntry:
			continue
		}
		f := q.entry.formula
		moves := f.runsOver(s.Name)
		f.eachBeyond(s.Name, func(u *Quantity) { moves = moves || moved[u] })
		if moves {
			moved[q] = true
		}
	}
	if l.movedBy == nil {
		l.movedBy = map[*sheets.Sheet]map[*Quantity]bool{}
	}
	l.movedBy[s] = moved
	return moved
}

// movesUnknowns reports whether the rows of a sheet change what unknowns come
// out at: through the sides and all between them and what is known to move.
func (l *lowering) movesUnknowns(sheet string, moved map[*Quantity]bool) bool {
	met := map[*Quantity]bool{}
	var list []*Quantity
	add := func(q *Quantity) { list = append(list, q) }
	for _, u := range l.model.unknowns {
		for _, f := range u.of {
			f.eachBeyond(sheet, add)
		}
	}
	for ; len(list) > 0; list = list[1:] {
		q := list[0]
		if moved[q] {
			return true
		}
		if !met[q] && q.entry.kind == formulaEntry {
			met[q] = true
			q.entry.formula.eachBeyond(sheet, add)
		}
	}
	return false
}

// eachBeyond visits what an expression reads outside of aggregates over the rows
// of a sheet. Inside of them those rows run by themselves, whatever row of the
// sheet they are asked for.
func (f *formula) eachBeyond(sheet string, visit func(*Quantity)) {
	if f == nil || !f.isParsed() {
		return
	}
	inside := func(kind nodeKind, m *meaning) bool {
		return kind == callNode && m.over == sheet && m.fn.Columns() == 0
	}
	add := func(kind nodeKind, m *meaning) {
		if q := m.reads(kind); q != nil {
			visit(q)
		}
	}
	if !f.any(inside) { // most have no aggregate, and need no tree
		f.each(add)
		return
	}
	var walk func(n *node)
	walk = func(n *node) {
		if inside(n.kind, &n.meaning) {
			return
		}
		add(n.kind, &n.meaning)
		for _, a := range n.args {
			walk(a)
		}
	}
	walk(f.tree())
}

// runsOver reports whether a formula has a sum up to the row of a sheet.
func (f *formula) runsOver(sheet string) bool {
	return f.any(func(kind nodeKind, m *meaning) bool {
		return kind == callNode && m.fn != nil && m.fn.Running && m.over == sheet
	})
}

// readCurve lowers a call that reads whole columns.
func (l *lowering) readCurve(n *node) tape.Register {
	count := n.fn.Columns()
	columns := make([]*column, count)
	doubtful := false
	for i := range columns {
		columns[i] = n.args[i].data
		if columns[i].absent {
			return l.nothing()
		}
		doubtful = doubtful || columns[i].spread.kind != blankEntry
	}
	var singles []tape.Register
	var condition *node
	for i := count; i < len(n.args); i++ {
		if i == n.fn.Condition() {
			condition = n.args[i]
			continue
		}
		singles = append(singles, l.node(n.args[i]))
	}
	l.mark(l.from, n)
	s := l.sheets[n.over]
	whole := complete(columns)
	if len(whole[0].Values) < 2 {
		for i := range s.Cases {
			if cell := blankIn(columns, i); cell != nil {
				return l.waiting(n, s, columns, cell, "")
			}
		}
	}
	if !doubtful && condition == nil {
		return l.tape.Call(n.fn.Bind(whole), singles)
	}
	points := function.Points{Singles: len(singles), Filtered: condition != nil}
	cells := make([][]tape.Register, count)
	var holds []tape.Register
	around := l.frame
	for i := range s.Cases {
		if blankIn(columns, i) != nil {
			continue
		}
		for j, col := range columns {
			cells[j] = append(cells[j], l.cellIn(col, i))
		}
		if condition != nil {
			l.frame = l.rowFrame(around, s, i, false)
			holds = append(holds, l.node(condition))
			l.frame = around
		}
	}
	for _, col := range columns {
		points.Columns = append(points.Columns, function.Column{Name: col.name, Unit: col.unit})
	}
	for _, c := range whole {
		points.Typed = append(points.Typed, c.Values)
	}
	args := slices.Concat(singles, slices.Concat(cells...), holds)
	l.mark(l.from, n)
	return l.tape.Call(n.fn.BindPoints(points), args)
}
