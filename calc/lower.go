package calc

import (
	"cmp"
	"fmt"
	"slices"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
)

// lowerAll writes the whole notebook onto the tape: first the quantities in
// their order, then spreads, limits and what the case sheets add.
func (c *compiler) lowerAll() {
	m := c.model
	for _, s := range m.Book.Sheets {
		for i := range s.Cases {
			m.textIndex(s.Cases[i].Name.Text)
		}
	}
	m.tape.Reserve(m.forest.inner + len(m.order))
	l := &lowering{compiler: c, tape: m.tape}
	l.lowerCycles()
	l.keys()
	l.lowerGauges()
	for _, q := range m.order {
		switch {
		case q.IsText():
			if q.byNumbers { // and those before it are there now
				q.value = l.formula(q.entry.formula)
			}
		case q.setAside:
			q.value = l.notComputed(q)
		case q.unknown != nil:
			l.findUnknowns()
		case q.IsFormula():
			q.value = l.formula(q.entry.formula)
			l.meanOverCycles(q)
			l.addDoubt(q)
		default:
			q.value = l.notComputed(q)
			l.flagAbsent(q, q.value)
		}
		q.passed = q.value
		if q.use {
			l.useReading(q)
		}
		l.lowerGauged(q)
	}
	for _, q := range m.Quantities {
		if q.IsText() {
			continue
		}
		base := q.input()
		if q.IsFormula() && !q.use {
			base = tape.None // a spread there is the reading's
		}
		q.spreadAt = l.spread(*q.spread, base)
		l.addScatter(q)
		if q.offset != tape.None {
			q.doubtAt = l.spread(*q.doubt, q.value)
		}
		l.limits(&q.bounds, q)
	}
	for _, cs := range m.caseSheets {
		for _, a := range cs.judged() {
			a.spreadAt = l.spread(a.spread, tape.None)
			if a.given == nil && a.column.scatter != nil {
				a.spreadAt, a.scattered = l.scatterOf(cs, a.column, a.quantity, a.spread, a.spreadAt), true
			}
			l.limits(&a.bounds, a.quantity)
		}
		for _, g := range cs.given {
			g.spreadAt = l.scatterOf(cs, g.column, g.quantity, g.spread, l.spread(g.spread, g.input()))
		}
	}
	for k := 0; k < len(l.pending); k++ { // lowering a spread may look up more cells
		p := l.pending[k]
		m.cells = append(m.cells, doubtfulCell{column: p.column, value: p.value,
			spread: l.spread(p.column.spread, p.value)})
	}
	for _, cs := range m.caseSheets {
		if r, known := m.rowAt[cs.sheet.Name]; known {
			cs.row = []tape.Register{r}
		}
		m.keep(cs)
	}
	l.readOverCycles()
}

// addDoubt adds what the model itself may be off: an input of its own, which is 0
// but in samples and derivatives.
func (l *lowering) addDoubt(q *Quantity) {
	if q.doubt.kind == blankEntry {
		return
	}
	q.offset = l.given(q, 0)
	l.markRoot(q.entry.formula)
	q.value = l.tape.Binary(tape.OpAdd, q.value, q.offset)
}

// keys lowers the texts, and then the look-ups by them whose cells have a
// spread. So those by a literal find them: see cell.
func (l *lowering) keys() {
	for _, q := range l.model.aside {
		q.value = l.without(q, absentInput)
		q.passed = q.value
	}
	for _, q := range l.model.order {
		if !q.IsText() {
			continue
		}
		switch q.value = tape.None; {
		case q.entry.kind != formulaEntry:
			q.value = l.notComputed(q)
		case q.entry.formula.hangsOnNumbers():
			q.byNumbers = true
		default:
			q.value = l.formula(q.entry.formula)
		}
		q.passed = q.value
	}
	for _, f := range l.model.formulas {
		if !f.has(lookupNode) {
			continue
		}
		f.tree().walk(func(n *node) {
			if n.kind == lookupNode && n.data.spread.kind != blankEntry && n.args[0].kind == quantityNode &&
				!n.args[0].quantity.byNumbers {
				l.mark(f, n)
				l.cell(n.data, n.args[0].quantity.passed)
			}
		})
	}
}

// hangsOnNumbers reports whether a formula of a text needs more than texts that
// are lowered already.
func (f *formula) hangsOnNumbers() bool {
	needs := false
	f.each(func(kind nodeKind, m *meaning) {
		switch kind {
		case quantityNode:
			needs = needs || !m.quantity.IsText() || m.quantity.value == tape.None
		case textNode, choiceNode, lookupNode, binaryNode, unaryNode, truthNode, letNode, boundNode:
		default:
			needs = true
		}
	})
	return needs
}

// lowering writes expressions onto a tape.
type lowering struct {
	*compiler
	tape  *tape.Tape
	from  *formula
	lets  map[*node]tape.Register
	cells map[lookupKey]tape.Register
	asked map[*column]*askedCells
	looks map[*column]*tape.Details

	// of a log: the quantities of the model are numbers that stay as they are
	constant   bool
	absence    map[tape.Register]tape.Register // of each operation: whether it is n/a
	frame      *frame                          // the row that lowering is in, nil in none
	frames     map[frameKey]*frame
	movedBy    map[*sheets.Sheet]map[*Quantity]bool
	overflowed bool // that the tape is too long has been reported
	pending    []pendingSpread

	found bool // the unknowns stand on the tape

	// Of the tape of unknowns:
	outside *lowering                       // of the notebook's own tape
	inner   map[*Quantity]tape.Register     // what was lowered here
	stirred map[*Quantity]bool              // what unknowns change
	passed  map[tape.Register]tape.Register // results from outside: where they stand here
	args    []tape.Register                 // those, here
	outer   []tape.Register                 // and outside
}

// pendingSpread is a looked-up cell whose spread is lowered last: it may be a
// formula over any quantity.
type pendingSpread struct {
	column *column
	value  tape.Register
}

// lookupKey is what a look-up looks for.
type lookupKey struct {
	column *column
	key    tape.Register
}

// askedCells are the look-ups of a column whose cells have a spread.
type askedCells struct {
	literal []lookupKey // their keys are constants
	varying []lookupKey // their keys may change from run to run
}

// given adds a quantity that is not computed. It keeps its own register even
// if its number is constant, since a run may replace it.
func (l *lowering) given(q *Quantity, v float64) tape.Register {
	l.mark(&formula{place: placeIn(q.Sheet, q.Row.Name)}, nil)
	return l.tape.Input(v)
}

// notComputed adds a quantity that is no formula.
func (l *lowering) notComputed(q *Quantity) tape.Register {
	switch {
	case q.isGiven():
		return l.given(q, q.entry.value)
	case q.IsAbsent():
		return l.without(q, absentInput)
	case q.byCase:
		return l.without(q, byCaseInput)
	}
	return l.given(q, tape.Missing)
}

// useReading makes formulas go on with the reading of a quantity. It is an
// input like a given, which a case may replace.
func (l *lowering) useReading(q *Quantity) {
	reading := tape.Missing
	if q.hasReading() {
		reading = q.reading.value
	}
	q.passed = l.given(q, reading)
}

// formula lowers an expression and remembers where its value is.
func (l *lowering) formula(f *formula) tape.Register {
	l.from = f
	l.lets = nil
	l.with(f, func(root *node) { f.out = l.node(root) })
	return f.out
}

// spread lowers a spread; a percentage is of the value in base, and is left
// to the reader of the register's entry where base is tape.None.
func (l *lowering) spread(e entry, base tape.Register) tape.Register {
	switch e.kind {
	case numberEntry:
		return l.tape.Constant(e.value)
	case percentEntry:
		if base == tape.None {
			return tape.None
		}
		return l.tape.Mul(l.tape.Constant(e.value), l.tape.Unary(tape.Absolute, base))
	case formulaEntry:
		r := l.formula(e.formula)
		l.markRoot(e.formula)
		return l.tape.Unary(halfWidth, r)
	}
	return tape.None
}

// halfWidth is a spread as it comes from a formula, which must not be negative.
var halfWidth = &tape.Callee{Name: "spread",
	Unary: func(x float64) float64 {
		if x < 0 {
			return tape.Failed
		}
		return x
	},
	Slope:     func(x, y float64) float64 { return 1 },
	Complaint: func([]float64) string { return "a spread cannot be negative, and here it is" }}

// limits lowers both limits of a quantity, and what its gauge would show at them.
func (l *lowering) limits(b *bounds, q *Quantity) {
	b.lowAt, b.lowMargin = l.limit(*b.low, q.truth())
	b.highAt, b.highMargin = l.limit(*b.high, q.truth())
	if !q.isGauged() || q.gauged.offset == tape.None {
		return
	}
	if b.lowAt != tape.None {
		b.lowRead = l.tape.Binary(tape.OpAdd, b.lowAt, q.gauged.offset)
	}
	if b.highAt != tape.None {
		b.highRead = l.tape.Binary(tape.OpAdd, b.highAt, q.gauged.offset)
	}
}

// limit lowers a limit and, if it is a formula, how far the value lies above
// it: the spread of that counts shared inputs once.
func (l *lowering) limit(e entry, value tape.Register) (limit, margin tape.Register) {
	switch e.kind {
	case numberEntry:
		return l.tape.Constant(e.value), tape.None
	case formulaEntry:
		limit = l.formula(e.formula)
		return limit, l.tape.Binary(tape.OpSub, value, limit)
	}
	return tape.None, tape.None
}

// binaryCodes maps operators to operations; > and >= swap their operands.
var binaryCodes = map[string]tape.Opcode{"+": tape.OpAdd, "-": tape.OpSub, "*": tape.OpMul, "/": tape.OpDiv,
	"^": tape.OpPow,
	"<": tape.OpLess, "<=": tape.OpLessEq, "==": tape.OpEqual, "!=": tape.OpUnequal, "and": tape.OpAnd, "or": tape.OpOr}

func (l *lowering) node(n *node) tape.Register {
	t := l.tape
	if l.outside != nil && l.frame == nil && l.isStill(n) {
		l.outside.from = l.from
		return l.argument(l.outside.node(n))
	}
	at := func() { l.mark(l.from, n) }
	switch n.kind {
	case numberNode, truthNode, symbolNode:
		return t.Constant(n.number)
	case textNode:
		return t.Constant(l.model.textIndex(n.name))
	case quantityNode:
		if l.constant {
			return t.Constant(n.quantity.entry.value)
		}
		return l.quantity(n.quantity)
	case columnNode:
		return l.rowCell(n)
	case trackNode:
		return n.logged.at
	case cycleNode:
		return n.cycle.value.passed
	case boundNode:
		return l.lets[n.let]
	case unaryNode:
		a := l.node(n.args[0])
		at()
		if n.name == "not" {
			return t.One(tape.OpNot, a)
		}
		return t.One(tape.OpNeg, a)
	case binaryNode:
		return l.binary(n)
	case choiceNode:
		cond, a, b := l.node(n.args[0]), l.node(n.args[1]), l.node(n.args[2])
		at()
		r := t.Choose(cond, a, b)
		if n.typ.Sort == function.Text && l.frame == nil {
			n.out = r
		}
		return r
	case letNode:
		if l.lets == nil {
			l.lets = map[*node]tape.Register{}
		}
		l.lets[n] = l.node(n.args[0])
		return l.node(n.args[1])
	case lookupNode:
		if n.data.absent {
			n.out = l.nothing()
			return n.out
		}
		r := l.lookUp(n, func(r tape.Register) tape.Register { return r })
		if l.frame == nil {
			n.out = r
		}
		return r
	case callNode:
		return l.call(n)
	}
	panic(fmt.Sprintf("calc: cannot lower node kind %d", n.kind))
}

func (l *lowering) binary(n *node) tape.Register {
	t := l.tape
	a := l.node(n.args[0])
	if n.name == "^" {
		if p, ok := n.args[1].literal(); ok {
			l.mark(l.from, n)
			return t.Power(a, p)
		}
	}
	b := l.node(n.args[1])
	l.mark(l.from, n)
	switch n.name {
	case "*":
		return t.Mul(a, b)
	case ">":
		return t.Binary(tape.OpLess, b, a)
	case ">=":
		return t.Binary(tape.OpLessEq, b, a)
	}
	return t.Binary(binaryCodes[n.name], a, b)
}

// lookUp looks a cell up and goes on with it. A key that is chosen by numbers
// makes a choice between the cells instead: each of them is an input of its own
// then, and which it is may change within the spread of the numbers.
func (l *lowering) lookUp(n *node, then func(tape.Register) tape.Register) tape.Register {
	return l.eachText(n.args[0], func(key tape.Register) tape.Register {
		l.mark(l.from, n)
		return then(l.cell(n.data, key))
	})
}

// eachText goes on with a text, or where numbers choose it, with each of the
// texts that it may be.
func (l *lowering) eachText(n *node, then func(tape.Register) tape.Register) tape.Register {
	switch {
	case n.kind == choiceNode:
		cond, a, b := l.node(n.args[0]), l.eachText(n.args[1], then), l.eachText(n.args[2], then)
		l.mark(l.from, n)
		return l.tape.Choose(cond, a, b)
	case n.kind == quantityNode && n.quantity.byNumbers:
		from := l.from
		l.from = n.quantity.entry.formula
		r := l.eachText(l.from.tree(), func(r tape.Register) tape.Register {
			own := l.from
			l.from = from
			r = then(r)
			l.from = own
			return r
		})
		l.from = from
		return r
	case n.kind == lookupNode && !n.data.absent:
		return l.lookUp(n, then)
	case n.kind == letNode:
		l.node(n.args[0])
		return l.eachText(n.args[1], then)
	case n.kind == boundNode:
		return l.eachText(n.let.args[0], then)
	}
	return then(l.node(n))
}

// cell looks a cell up. Formulas that look up one column by one key share the
// operation, so that its spread counts once.
func (l *lowering) cell(col *column, key tape.Register) tape.Register {
	if l.outside != nil { // a key is a text, which no unknown changes
		at := slices.Index(l.args, key)
		if at < 0 {
			return l.argument(l.outside.cell(col, l.outside.tape.Constant(l.tape.Value(key))))
		}
		return l.argument(l.outside.cell(col, l.outer[at]))
	}
	at := lookupKey{col, key}
	if r, known := l.cells[at]; known {
		return r
	}
	r := l.tape.LookUp(l.lookup(col), key)
	if l.cells == nil {
		l.cells = map[lookupKey]tape.Register{}
	}
	l.cells[at] = r
	if col.spread.kind != blankEntry && !l.constant {
		l.pending = append(l.pending, pendingSpread{col, r})
		if q := cmp.Or(col.gaugedAs, col.quantity); col.isGauged() {
			r = l.correct(q, r)
		}
		l.cells[at] = l.ownGiven(at, l.sameCell(at, r))
	}
	return l.cells[at]
}

// sameCell takes the place of a look-up whose cell has a spread: two different
// keys may lead to one cell, which must not count as two inputs. Which keys are
// equal may change from case to case, so it is found out as part of the run. A
// key that is open is like no other, and keeps none of them from its cell.
func (l *lowering) sameCell(at lookupKey, r tape.Register) tape.Register {
	if l.asked == nil {
		l.asked = map[*column]*askedCells{}
	}
	known := l.asked[at.column]
	if known == nil {
		known = &askedCells{}
		l.asked[at.column] = known
	}
	equals := known.varying
	if l.tape.IsConstant(at.key) { // so it differs from all other constants
		known.literal = append(known.literal, at)
	} else {
		equals = slices.Concat(equals, known.literal)
		known.varying = append(known.varying, at)
	}
	for _, other := range equals {
		r = l.tape.Choose(l.tape.Binary(tape.OpAlike, at.key, other.key), l.cells[other], r)
	}
	return r
}

// ownGiven takes the place of a cell that replaces a given: in the case of its
// own row the given is that very cell, which must not count as two inputs.
func (l *lowering) ownGiven(at lookupKey, r tape.Register) tape.Register {
	q := at.column.quantity
	if q == nil || !l.tape.IsConstant(at.key) || !slices.ContainsFunc(l.model.caseSheets,
		func(cs *caseSheet) bool { return cs.sheet == at.column.sheet }) {
		return r
	}
	row := l.lookup(at.column).Rows[int(l.tape.Value(at.key))]
	own := l.tape.Binary(tape.OpAlike, l.tape.Constant(float64(row)), l.rowOf(at.column.sheet))
	same := l.tape.Choose(own, q.passed, r)
	if l.model.sameCells == nil {
		l.model.sameCells = map[tape.Register]bool{}
	}
	l.model.sameCells[same] = true
	return same
}

// lookup makes the table of a look-up: the row of each text, and the cells. All
// look-ups of a column share it.
func (l *lowering) lookup(col *column) *tape.Details {
	if made := l.looks[col]; made != nil {
		return made
	}
	rows := make([]int32, len(l.model.texts))
	for i := range rows {
		rows[i] = -1
	}
	for i := range col.sheet.Cases {
		rows[int(l.model.textIndex(col.sheet.Cases[i].Name.Text))] = int32(i)
	}
	if l.looks == nil {
		l.looks = map[*column]*tape.Details{}
	}
	l.looks[col] = &tape.Details{Rows: rows, Cells: col.values}
	return l.looks[col]
}

func (l *lowering) call(n *node) tape.Register {
	t, fn := l.tape, n.fn
	switch {
	case fn.Columns() > 0:
		return l.readCurve(n)
	case n.over != "":
		return l.aggregate(n)
	}
	var args []tape.Register
	for _, a := range n.args {
		args = append(args, l.node(a))
	}
	l.mark(l.from, n)
	switch {
	case fn.LeavesOut && l.anyAbsent(args):
		return l.leavingOut(fn, args)
	case fn.Lower != nil:
		return fn.Lower(t, args)
	case fn.Unary != nil:
		return t.Unary(fn.Bind(nil), args[0])
	}
	return t.Call(fn.Bind(nil), args)
}

// markRoot is mark of a whole formula, whose root is its part number 0.
func (l *lowering) markRoot(f *formula) { l.mark(f, &node{}) }

// mark notes where the operations that follow come from.
func (l *lowering) mark(f *formula, n *node) {
	if f.mark == 0 {
		l.model.number(f)
	}
	if l.tape.At = f.mark; n != nil {
		l.tape.At += 1 + int32(n.at)
	}
}
