package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc/implicit"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/cores"
	"rambook/units/words"
)

// A sheet of unknowns names blank givens that are found so that two sides are
// equal, all of them together. To everything else an unknown is a formula: it
// is computed in the model, in every case and every sample, and its derivatives
// follow from those of the sides.
//
// On the tape an unknown is a call. Its arguments are what the sides depend on
// and the unknowns do not change; what lies between them and the sides is
// lowered once more, onto a tape of the call's own, with the unknowns as inputs.

// unknown is one row of a sheet of unknowns.
type unknown struct {
	*Quantity
	sheet  *sheets.Sheet
	row    *sheets.UnknownRow
	lo, hi float64 // SI
	sides  [2]half
	of     [2]*formula             // of the sides, nil for a number
	sys    func() *implicit.System // that finds it in the model, nil if that finds others too
}

// isSought reports whether a sheet of unknowns names this quantity. A run that
// replaces it asks before those sheets are read.
//
//go:noinline
func (c *compiler) isSought(name string) bool {
	return slices.ContainsFunc(c.model.Book.Sheets, func(s *sheets.Sheet) bool {
		return s.Kind == sheets.Unknowns && slices.ContainsFunc(s.Unknowns,
			func(row sheets.UnknownRow) bool { return row.Unknown.Text == name })
	})
}

// readUnknowns reads the rows of one sheet. The quantities of the whole notebook
// are known by then.
func (c *compiler) readUnknowns(s *sheets.Sheet) {
	for i := range s.Unknowns {
		row := &s.Unknowns[i]
		q := c.soughtGiven(placeIn(s, row.Unknown))
		if q == nil {
			continue
		}
		u := &unknown{Quantity: q, sheet: s, row: row}
		c.readSearched(u)
		c.readUntil(u)
		q.unknown = u
		c.model.unknowns = append(c.model.unknowns, u)
	}
}

// soughtGiven finds the blank given that a row names, nil if it cannot be found
// by its sides.
func (c *compiler) soughtGiven(p place) *Quantity {
	name := p.cell.Text
	q := c.model.byName[name]
	switch {
	case q == nil && c.model.aside[name] != nil, q != nil && q.entry.kind == absentEntry:
		return nil // what is set aside, or not there, is not looked for
	case q == nil:
		c.report(p.fault("no quantity is named "+words.Quoted(name),
			words.DidYouMean(name, c.givenNames(), "an unknown is a blank given of the notebook")))
	case q.setAside:
		return nil // for this run it has a value
	case q.unknown != nil:
		c.report(p.fault(fmt.Sprintf("%s is an unknown already in %s, line %d", name, q.unknown.sheet.File,
			q.unknown.row.Unknown.Line),
			"drop one of the two"))
	case q.IsText() || q.IsTick() || q.IsVerdict():
		c.report(p.fault(name+" is not a number, so it cannot be an unknown", ""))
	case q.entry.kind != blankEntry:
		c.report(p.fault(fmt.Sprintf("%s has the entry %s, and an unknown is blank", name,
			words.Quoted(q.Row.Entry.Text)),
			"clear its entry in "+q.Sheet.File+fmt.Sprintf(", line %d", q.Row.Name.Line)))
	default:
		return q
	}
	return nil
}

// readSearched reads the range in which an unknown is looked for.
func (c *compiler) readSearched(u *unknown) {
	unit := u.Unit
	if cell := u.row.Unit; !cell.Blank() {
		read, ok := c.unitOf(placeIn(u.sheet, cell))
		switch {
		case !ok:
			return
		case read.Dim != unit.Dim || read.Kind == units.Text:
			c.report(placeIn(u.sheet, cell).fault(fmt.Sprintf("%s is in %s, which cannot be given in %s", u.Name,
				unit.Symbol, read.Symbol), ""))
			return
		}
		unit = read
	}
	ends := [2]*float64{&u.lo, &u.hi}
	for i, cell := range []sheets.Cell{u.row.From, u.row.To} {
		before := len(c.problems)
		e := c.read(placeIn(u.sheet, cell), unit, []role{fromRole, toRole}[i])
		switch {
		case len(c.problems) > before:
		case e.kind != numberEntry:
			c.report(placeIn(u.sheet, cell).fault(fmt.Sprintf("unknown %s has no %s", u.Name,
				words.Quoted([]string{"from", "to"}[i])),
				"write between which values it lies"))
		}
		*ends[i] = e.value
	}
	if !(u.lo < u.hi) && len(c.problems) == 0 {
		c.report(placeIn(u.sheet, u.row.From).fault(fmt.Sprintf("from %s is not below to %s", u.row.From.Text,
			u.row.To.Text), "swap them"))
	}
}

// readUntil reads the two sides. Those that are expressions go through the same
// passes as any formula.
func (c *compiler) readUntil(u *unknown) {
	p := placeIn(u.sheet, u.row.Until)
	if u.row.Until.Blank() {
		c.report(p.fault("unknown "+u.Name+" has no `until`",
			"write the two sides that are to be equal, as in heat_in = heat_out"))
		return
	}
	text := u.row.Until.Text
	at, fault := splitSides(text)
	if fault != nil {
		fault.Hint = strings.ReplaceAll(fault.Hint, "--until ", "")
		c.report(p.placed(fault))
		return
	}
	for k, piece := range []piece{part(text, 0, at), part(text, at+1, len(text))} {
		side := c.model.newHalf(p, piece)
		if !isValue(side.Text) {
			f := &formula{place: side.place, text: side.Text, out: tape.None}
			c.formulas = append(c.formulas, f)
			u.of[k] = f
		}
		u.sides[k] = side
	}
}

// checkUnknowns finds the types of the sides, which have to be alike.
func (c *compiler) checkUnknowns() {
	l := &lowering{compiler: c, tape: c.model.tape}
	for _, u := range c.model.unknowns {
		before := len(c.problems)
		for k := range u.sides {
			switch side, other := &u.sides[k], &u.sides[1-k]; {
			case u.of[k] != nil && u.of[k].isParsed():
				side.typ = c.inferFormula(u.of[k])
				if side.named != nil {
					side.Unit = side.named.Unit
				}
				if side.typ == truthType || side.typ == textType {
					c.report(side.problem(u.of[k].tree().span(), side.typ.String()+" is no number",
						"a side is a number or an expression that yields one"))
				}
			case u.of[k] == nil && side.Text != "":
				v, _ := units.ParseValue(side.Text)
				l.number(side, other, v)
			}
		}
		sound := u.sides[0].typ != unknownType && u.sides[1].typ != unknownType &&
			(u.of[0] == nil || u.of[0].isParsed()) && (u.of[1] == nil || u.of[1].isParsed())
		if sound && len(c.problems) == before && u.sides[0].Text != "" {
			l.same(placeIn(u.sheet, u.row.Until), &u.sides[0], &u.sides[1])
		}
		e := equation{left: u.sides[0], right: u.sides[1]}
		e.shareUnit()
		u.sides = [2]half{e.left, e.right}
	}
}

// stirredByUnknowns finds the quantities that unknowns change, the unknowns included.
// It is asked once all names are resolved, and no formula changes after that.
func (c *compiler) stirredByUnknowns() map[*Quantity]bool {
	m := c.model
	if len(m.unknowns) == 0 || c.stirred != nil {
		return c.stirred
	}
	stirred := make([]bool, len(m.Quantities))
	for _, u := range m.unknowns {
		stirred[u.Quantity.index] = true
	}
	for grew := true; grew; {
		grew = false
		for i, q := range m.Quantities {
			if stirred[i] || q.entry.kind != formulaEntry {
				continue
			}
			q.entry.formula.eachUsed(func(used *Quantity) { stirred[i] = stirred[i] || stirred[used.index] })
			grew = grew || stirred[i]
		}
	}
	c.stirred = map[*Quantity]bool{}
	for i, q := range m.Quantities {
		if stirred[i] {
			c.stirred[q] = true
		}
	}
	return c.stirred
}

// outsideUses lists the quantities that the sides depend on and no unknown
// changes: all of them must be computed before the unknowns are.
func (m *Model) outsideUses(stirred map[*Quantity]bool) []*Quantity {
	var outside []*Quantity
	met := map[*Quantity]bool{}
	var visit func(list []*Quantity)
	visit = func(list []*Quantity) {
		for _, q := range list {
			if met[q] {
				continue
			}
			met[q] = true
			if stirred[q] {
				visit(q.uses())
			} else {
				outside = append(outside, q)
			}
		}
	}
	for _, u := range m.unknowns {
		for _, f := range u.of {
			visit(f.uses())
		}
	}
	return outside
}

// findUnknowns lowers the unknowns, all at the place of the first of them in the
// order: what the sides need from outside stands on the tape by then.
func (l *lowering) findUnknowns() {
	if l.found {
		return
	}
	l.found = true
	for i, r := range l.solved() {
		u := l.model.unknowns[i]
		u.value, u.passed = r, r
	}
}

// solved lowers the unknowns where lowering is: in a row that replaces givens
// they are found anew. Those that need each other are found together, and before
// the ones that need them.
func (l *lowering) solved() []tape.Register {
	found := make([]tape.Register, len(l.model.unknowns))
	for i := range found {
		found[i] = tape.None
	}
	for _, block := range l.model.unknownBlocks() {
		l.solveBlock(block, found)
	}
	return found
}

// solveBlock lowers unknowns that need each other, given by their places in the
// model's list. Those that were found before stand in found already.
func (l *lowering) solveBlock(block []int, found []tape.Register) {
	m := l.model
	in := &lowering{compiler: l.compiler, tape: tape.New(), outside: l, inner: map[*Quantity]tape.Register{},
		stirred: l.stirredByUnknowns(),
		passed:  map[tape.Register]tape.Register{}}
	for i, u := range m.unknowns {
		if found[i] != tape.None {
			in.inner[u.Quantity] = in.argument(found[i])
		}
	}
	var all []*unknown
	var sought []tape.Register
	var lo, hi []float64
	var pairs [][2]tape.Register
	for _, i := range block {
		u := m.unknowns[i]
		r := in.tape.Input(tape.Missing)
		in.inner[u.Quantity] = r
		all, sought, lo, hi = append(all, u), append(sought, r), append(lo, u.lo), append(hi, u.hi)
	}
	for _, u := range all {
		var pair [2]tape.Register
		for k, f := range u.of {
			if f == nil {
				pair[k] = in.tape.Constant(l.tape.Value(u.sides[k].value))
				continue
			}
			in.from = f
			pair[k] = in.node(f.tree())
		}
		pairs = append(pairs, pair)
	}
	// Its programs are made while what follows is lowered; they are waited for where it
	// is solved first.
	sys := cores.Beside(func() *implicit.System { return implicit.New(in.tape, sought, in.args, pairs, lo, hi) })
	if len(all) == 1 && l.tape == l.model.tape && all[0].sys == nil {
		all[0].sys = sys
	}
	for k, i := range block {
		l.mark(all[k].expression(), nil)
		found[i] = l.tape.Call(all[k].callee(sys, k, all), in.outer)
	}
}

// unknownBlocks splits the unknowns into those that need each other, by their
// places in the list; a block comes behind those that it needs.
func (m *Model) unknownBlocks() [][]int {
	n := len(m.unknowns)
	needs := make([][]bool, n) // whether the sides of i need unknown k, through whatever lies between
	for i, u := range m.unknowns {
		needs[i] = make([]bool, n)
		met := map[*Quantity]bool{}
		var visit func(list []*Quantity)
		visit = func(list []*Quantity) {
			for _, q := range list {
				switch {
				case met[q]:
				case q.unknown != nil:
					needs[i][slices.Index(m.unknowns, q.unknown)] = true
				default:
					met[q] = true
					visit(q.uses())
				}
			}
		}
		for _, f := range u.of {
			visit(f.uses())
		}
	}
	for k := range n {
		for i := range n {
			for j := range n {
				needs[i][j] = needs[i][j] || needs[i][k] && needs[k][j]
			}
		}
	}
	var blocks [][]int
	done := make([]bool, n)
	for left := n; left > 0; {
		for i := range n {
			if done[i] {
				continue
			}
			ready, block := true, []int{i}
			for k := range n {
				switch {
				case k == i || !needs[i][k]:
				case needs[k][i]:
					block = append(block, k)
				case !done[k]:
					ready = false
				}
			}
			if ready {
				slices.Sort(block)
				for _, k := range block {
					done[k] = true
				}
				left -= len(block)
				blocks = append(blocks, block)
			}
		}
	}
	return blocks
}

// callee is unknown number i of a system as a function on the tape.
func (u *unknown) callee(sys func() *implicit.System, i int, all []*unknown) *tape.Callee {
	c := &tape.Callee{Name: u.Name,
		Eval: func(x []float64) float64 {
			if s := sys().Solve(x); s.X != nil && len(s.Others) == 0 {
				return s.X[i]
			}
			return tape.Failed
		},
		Slopes: func(x []float64, y float64, d []float64) {
			if s := sys().Solve(x); s.X != nil && len(s.Others) == 0 {
				copy(d, sys().Slopes(s)[i])
			}
		},
		Complaint: func(x []float64) string { return notFound(sys().Solve(x), i, all) }}
	if len(all) == 1 {
		c.Many = func(x [][]float64, y []float64) { sys().Many(x, y) }
		c.Near = func(x [][]float64, y []float64) { sys().Near(x, y) }
	}
	return c
}

// notFound is why an unknown has no value.
func notFound(s *implicit.Solution, i int, all []*unknown) string {
	u := all[i]
	at := func(x []float64, k int) string { return all[k].Name + " " + shown(x[k], all[k].Unit) }
	texts := func(x []float64) string {
		var list []string
		for k := range all {
			list = append(list, at(x, k))
		}
		return words.Listed(list, mostNames)
	}
	searched := fmt.Sprintf("from %s to %s", shown(u.lo, u.Unit), shown(u.hi, u.Unit))
	switch {
	case s.X != nil:
		list := []string{texts(s.X)}
		for _, other := range s.Others {
			list = append(list, texts(other))
		}
		return fmt.Sprintf("%s finds several solutions: %s; narrow its range", searched, strings.Join(list, ", or "))
	case s.Best == nil:
		return searched + " the sides cannot be computed anywhere"
	}
	var gaps []string
	for k, v := range all {
		left, right := v.sides[0], v.sides[1]
		gaps = append(gaps, fmt.Sprintf("%s is %s and %s is %s", words.Quoted(left.Text), shown(s.Left[k], left.Unit),
			words.Quoted(right.Text), shown(s.Right[k], right.Unit)))
	}
	return fmt.Sprintf("%s no value makes both sides equal; nearest at %s, where %s; widen its range if it may lie beyond",
		searched, texts(s.Best), words.Listed(gaps, 3))
}

// argument passes a result from outside into the tape of the unknowns.
func (l *lowering) argument(r tape.Register) tape.Register {
	if l.outside.tape.IsConstant(r) {
		return l.tape.Constant(l.outside.tape.Value(r))
	}
	if known, passed := l.passed[r]; passed {
		return known
	}
	own := l.tape.Input(math.NaN())
	l.passed[r] = own
	l.args, l.outer = append(l.args, own), append(l.outer, r)
	return own
}

// isStill reports whether no unknown changes n, so that it is computed outside.
func (l *lowering) isStill(n *node) bool {
	still := true
	n.walk(func(part *node) {
		switch {
		case part.kind == boundNode:
			still = false
		case part.quantity != nil && l.stirred[part.quantity]:
			still = false
		case part.kind == columnNode && part.data != nil && part.data.asks && l.stirred[part.data.quantity]:
			still = false
		}
	})
	return still
}
