package calc

import (
	"slices"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// This file is about what has no number for a reason that is not an error and
// not a gap: what the machine does not have (n/a), what stands in a sheet that
// is set aside, and what only the cases of a sheet say.
//
// In a run all of these are [tape.Missing], as what is open is, but for the n/a of a
// single case, which is [tape.Absent]. Which of them it was is found out
// afterwards by the trace. Only the functions that leave out what is n/a have to
// tell them apart while the tape runs, and they do so by a flag that is computed
// beside each argument; mostly it is a constant and costs nothing.

// inputKind is why an input has no value.
type inputKind uint8

const (
	openInput   inputKind = iota
	absentInput           // n/a, or set aside
	byCaseInput           // each case of some sheet says its own
)

// IsAbsent reports whether the row says that the machine has none.
func (q *Quantity) IsAbsent() bool { return q.entry.kind == absentEntry }

// IsAssumed reports whether the given is common practice and not of this
// machine.
func (q *Quantity) IsAssumed() bool { return q.entry.assumed != "" }

// IsTick and IsVerdict report what kind of row the quantity is.
func (q *Quantity) IsTick() bool    { return q.Unit.Kind == units.Tick }
func (q *Quantity) IsVerdict() bool { return q.Unit.Kind == units.Verdict }

// readAside reads what is set aside so far that the other sheets have its names
// as n/a: the names and units of quantities, the columns of case sheets, and in
// other case sheets the columns that asked for them.
// What is wrong with such a sheet matters to nobody until it is back.
func (c *compiler) readAside() {
	m := c.model
	for _, s := range m.Book.Aside {
		for i := range s.Rows {
			row := &s.Rows[i]
			u, err := units.Parse(row.Unit.Text)
			if err != nil || m.byName[row.Name.Text] != nil || !IsName(row.Name.Text) {
				continue
			}
			q := newQuantity(row.Name.Text, u, typeOf(u))
			q.Sheet, q.Row, q.entry.kind, q.elsewhere = s, row, absentEntry, true
			m.aside[q.Name] = q
		}
	}
}

// readAsideTables reads the columns of what is set aside. The sheets that are not
// have been read by then.
func (c *compiler) readAsideTables() {
	m := c.model
	for _, t := range m.tables {
		for _, col := range t.columns {
			blank := func(row sheets.CaseRow) bool { return row.Cells[col.index].Blank() }
			if col.quantity == nil && m.aside[col.name] != nil &&
				!slices.ContainsFunc(t.sheet.Cases, func(row sheets.CaseRow) bool { return !blank(row) }) {
				col.typ, col.loaded, col.looked, col.absent = m.aside[col.name].typ, true, true, true
			}
		}
	}
	for _, s := range m.Book.Aside {
		if s.Kind != sheets.Cases || m.tables[s.Name] != nil {
			continue
		}
		t := &table{sheet: s}
		for i := range s.Columns {
			head := &s.Columns[i]
			u, err := units.Parse(head.Unit.Text)
			if q := m.known(head.Name.Text); q != nil && head.Unit.Blank() {
				u, err = q.Unit, nil
			}
			if err == nil {
				t.columns = append(t.columns, &column{sheet: s, index: i, name: head.Name.Text, unit: u, typ: typeOf(u),
					loaded: true, looked: true, absent: true})
			}
		}
		m.tables[s.Name] = t
	}
}

// readsPhaseAside reports whether a reading is taken from a phase of a log whose
// sheet is set aside: then there is none.
func (c *compiler) readsPhaseAside(reading string) bool {
	if !c.model.Book.HasPhasesAside() {
		return false
	}
	root, fault := parseFormula(reading)
	if fault != nil {
		return false
	}
	aside := false
	root.walk(func(n *node) {
		aside = aside || n.kind == columnNode && c.model.Book.IsPhaseAside(n.sheet)
	})
	return aside
}

// known finds a quantity of the notebook, set aside or not.
func (m *Model) known(name string) *Quantity {
	if q := m.byName[name]; q != nil {
		return q
	}
	return m.aside[name]
}

// findByCase marks the blank givens that a case sheet fills in each of its
// cases.
func (c *compiler) findByCase() {
	for _, sheet := range c.model.Book.Sheets { // tables that are looked things up in
		for i, col := range sheet.Columns {
			q := c.model.byName[col.Name.Text]
			if q != nil && !q.IsFormula() && q.entry.kind == blankEntry && len(sheet.Cases) > 0 &&
				!slices.ContainsFunc(sheet.Cases, func(row sheets.CaseRow) bool { return row.Cells[i].Blank() }) {
				q.byCase = true
			}
		}
	}
	for _, cs := range c.model.caseSheets {
		for _, g := range cs.given {
			if q := g.quantity; q.entry.kind == blankEntry && len(g.column.values) > 0 &&
				!slices.ContainsFunc(g.column.values, tape.IsMissing) {
				q.byCase = true
			}
		}
	}
}

// without adds an input that has no value, and notes why.
func (l *lowering) without(q *Quantity, kind inputKind) tape.Register {
	r := l.given(q, tape.Missing)
	l.model.inputs[r] = kind
	return r
}

// nothing is an input that stands for what is in a sheet that is set aside.
func (l *lowering) nothing() tape.Register {
	if l.outside != nil {
		return l.argument(l.outside.nothing())
	}
	l.mark(l.from, nil)
	r := l.tape.Input(tape.Missing)
	l.model.inputs[r] = absentInput
	return r
}

// anyAbsent reports whether one of the arguments of a function may be n/a.
func (l *lowering) anyAbsent(args []tape.Register) bool {
	return l.outside == nil && len(l.model.inputs)+len(l.absence) > 0 &&
		slices.ContainsFunc(args, func(r tape.Register) bool { return !l.tape.Is(l.isAbsent(r), 0) })
}

// leavingOut lowers a function of a list of which something may be n/a. A number
// that is written out, as the 0 in max(x, 0), bounds what the machine has and is
// nothing of it: where all else is n/a, so is the result.
func (l *lowering) leavingOut(fn *function.Function, args []tape.Register) tape.Register {
	t := l.tape
	gone, first := t.Constant(1), tape.None
	for _, a := range args {
		if t.IsConstant(a) {
			continue
		}
		if first == tape.None {
			first = a
		}
		gone = t.Chosen(gone, l.isAbsent(a), t.Constant(0))
	}
	result := fn.LowerPresent(t, args, l.isAbsent)
	return t.Chosen(gone, first, result)
}

// isAbsent gives the truth value of r being n/a. It is a constant
// but for what depends on a choice that may turn from case to case.
func (l *lowering) isAbsent(r tape.Register) tape.Register {
	if flag, known := l.absence[r]; known {
		return flag
	}
	t := l.tape
	o := t.Ops[r]
	flag := t.Constant(0)
	switch {
	case l.model.inputs[r] == absentInput:
		flag = t.Constant(1)
	case o.Code == tape.OpSelect:
		flag = l.either(l.isAbsent(o.A), l.tape.Chosen(o.A, l.isAbsent(o.B), l.isAbsent(o.C)))
	default:
		for _, operand := range t.Operands(&o, nil) {
			flag = l.either(flag, l.isAbsent(operand))
		}
	}
	if l.absence == nil {
		l.absence = map[tape.Register]tape.Register{}
	}
	l.absence[r] = flag
	return flag
}

// ledToNothing lists what a case would have to say for the first thing that its sheet
// asks for, which is n/a here: a choice of the case's own has led to what the machine
// does not have, as a job of a kind whose force nobody has entered, or of a kind that
// no formula has a branch for. Such a case does not pass for what is left of it. What
// is n/a whatever a case chooses is n/a of the machine, and needs nothing.
func (m *Model) ledToNothing(cs *caseSheet, row *sheets.CaseRow, tr *trace, changed []bool,
	root tape.Register) (needs []Need) {
	own := func(g *givenColumn) Need {
		return Need{Name: cs.sheet.Name + "[" + row.Name.Text + "]." + g.quantity.Name, Sheet: cs.sheet.Name,
			File: cs.sheet.File, Line: row.Name.Line}
	}
	tr.absentByChoice(root, changed, func(r tape.Register) {
		need := tr.inputNeed(r)
		for _, g := range cs.given {
			if g.input() == r {
				need = own(g)
			}
		}
		if m.known(need.Name) != nil || need.Name != tr.origin(r).formula.cell.Text { // what is set aside has no row
			needs = union(needs, []Need{need})
		}
	})
	if len(needs) == 0 {
		return nil
	}
	for _, g := range cs.given { // a word that is in no formula leads to the last arm, whatever that is about
		text := row.Cells[g.column.index].Text
		if message, _ := m.neverCompared(g.quantity, text); text != "" && g.quantity.IsText() && message != "" {
			return []Need{own(g)}
		}
	}
	return needs
}

// absentByChoice visits the inputs that are n/a and that a register is n/a for, if a
// choice that the marked registers make lies between.
func (tr *trace) absentByChoice(root tape.Register, changed []bool, visit func(tape.Register)) {
	type place struct {
		at     tape.Register
		chosen bool
	}
	seen := map[place]bool{}
	var follow func(p place)
	follow = func(p place) {
		if seen[p] || tape.Usable(tr.values[p.at]) {
			return
		}
		seen[p] = true
		o := &tr.tape.Ops[p.at]
		switch {
		case o.Code == tape.OpInput:
			if p.chosen && (tr.model.inputs[p.at] == absentInput || tape.IsAbsent(tr.values[p.at])) {
				visit(p.at)
			}
		case o.Code == tape.OpSelect && tape.Usable(tr.values[o.A]):
			arm := o.C
			if tr.values[o.A] == 1 {
				arm = o.B
			}
			follow(place{arm, p.chosen || changed[o.A]})
		default:
			for _, operand := range tr.tape.Operands(o, nil) {
				follow(place{operand, p.chosen})
			}
		}
	}
	follow(place{root, false})
}

// flagAbsent gives a given that is n/a in some cases and not in others a flag for that:
// one more input, 1 where it is n/a.
func (l *lowering) flagAbsent(q *Quantity, at tape.Register) {
	own := 0.0 // in the notebook itself, and where a cell is blank
	if q.IsAbsent() {
		own = 1
	}
	for _, cs := range l.model.caseSheets {
		for _, g := range cs.given {
			if g.quantity != q {
				continue
			}
			flags, differ := make([]float64, len(g.column.values)), false
			for i, v := range g.column.values {
				switch flags[i] = own; {
				case tape.IsAbsent(v):
					flags[i] = 1
				case !tape.IsMissing(v):
					flags[i] = 0
				}
				differ = differ || flags[i] != own
			}
			if !differ {
				continue
			}
			if l.absence == nil {
				l.absence = map[tape.Register]tape.Register{}
			}
			if _, known := l.absence[at]; !known {
				l.absence[at] = l.tape.Input(own)
			}
			cs.scatters = append(cs.scatters, scattered{input: l.absence[at], values: flags})
		}
	}
}

// either is a or b, for truth values that are mostly constants.
func (l *lowering) either(a, b tape.Register) tape.Register {
	switch t := l.tape; {
	case t.Is(a, 1) || t.Is(b, 0):
		return a
	case t.Is(b, 1) || t.Is(a, 0):
		return b
	default:
		return t.Choose(a, t.Constant(1), b)
	}
}

// Needed lists the quantities without a formula that the value of a quantity and
// its limits depend on with the notebook's own values: of a choice the taken arm.
func (m *Model) Needed(q *Quantity) []string {
	values := m.tape.Once(nil)
	needed := map[tape.Register]bool{}
	var visit func(r tape.Register)
	visit = func(r tape.Register) {
		if r == tape.None || needed[r] {
			return
		}
		needed[r] = true
		o := &m.tape.Ops[r]
		switch {
		case o.Code == tape.OpSelect && values[o.A] == 1:
			visit(o.A)
			visit(o.B)
		case o.Code == tape.OpSelect && values[o.A] == 0:
			visit(o.A)
			visit(o.C)
		default:
			for _, operand := range m.tape.Operands(o, nil) {
				visit(operand)
			}
		}
	}
	for _, root := range []tape.Register{q.value, q.lowAt, q.highAt} {
		visit(root)
	}
	var names []string
	for _, g := range m.Quantities {
		if !g.IsFormula() && g.value != tape.None && needed[g.value] {
			names = append(names, g.Name)
		}
	}
	return names
}
