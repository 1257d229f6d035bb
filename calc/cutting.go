package calc

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"rambook/calc/function"
	"rambook/calc/phase"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/units"
	"rambook/units/words"
)

// A phase sheet cuts a log into cycles. What formulas ask of the phases is
// computed while the log goes by, on a tape of its own whose inputs are the
// log's columns; see package phase. Behind that, each aggregate is an input of
// the model, and the cycles are the cases of a case sheet named like the phase
// sheet, which cycles.go puts together.

// cutting is a phase sheet as it is compiled.
type cutting struct {
	sheet *sheets.Sheet
	log   *log.Log // nil where it is not there yet: whatever needs it is open

	tape    *tape.Tape
	columns []*logColumn // those that something uses, the time first
	tracks  []tape.Register
	phases  []phase.Phase
	named   int // the log's column that names the cycles, -1 for none

	values []*cycleValue // what formulas ask
	waits  []*Quantity   // givens that have to be known before the log is cut
	result *phase.Result
	names  []string // of the cycles
	cycles *sheets.Sheet
	cases  *caseSheet // nil where nothing is asked of them
}

// logColumn is a column of a log that something uses.
type logColumn struct {
	index int // in the log
	head  *log.Column
	unit  units.Unit
	wrong bool // its unit, so that nothing more is said about what uses it
	at    tape.Register
}

// isIn tells the unit of a column where it does not suit, for who has to find
// out whether that is right.
func (col *logColumn) isIn() string {
	if col.head.Unit == "" {
		return "the log's header of " + col.head.Name + " has no unit; it stands in brackets, as in pressure [MPa]"
	}
	return fmt.Sprintf("%s is in %s by the log's header", col.head.Name, col.head.Unit)
}

// giveUp marks a part of a formula that is in error, so that nothing more is said
// about what it is part of.
func (n *node) giveUp() { n.kind, n.typ, n.args = symbolNode, unknownType, nil }

// cycleValue is an aggregate over a phase: an input of the model, with one value
// in each cycle.
type cycleValue struct {
	cutting *cutting
	text    string // as it stands in the formula
	typ     function.Type
	phase   int
	by      phase.Function
	x, y    tape.Register // on the cutting's tape
	holds   bool

	value, spread *Quantity // what stands for them on the model's tape
}

// phaseOf is a phase by its name.
type phaseOf struct {
	cutting *cutting
	index   int
}

// readPhases compiles the phase sheets: it finds what formulas ask of phases,
// and cuts the logs.
func (c *compiler) readPhases() {
	phases := map[string]phaseOf{}
	for _, s := range c.model.Book.Sheets {
		if s.Kind == sheets.Phases {
			c.model.cuttings = append(c.model.cuttings, c.newCutting(s, phases))
		}
	}
	if len(c.model.cuttings) == 0 {
		return
	}
	before := len(c.problems)
	c.parse()
	for _, q := range c.model.Quantities {
		for _, e := range []*entry{&q.entry, q.reading} {
			if e.formula != nil && e.formula.tree() != nil {
				c.findAggregates(q, e, phases)
			}
		}
		if f := q.reading.formula; f != nil {
			c.checkReading(q, f)
		}
	}
	for _, cut := range c.model.cuttings {
		c.readConditions(cut)
		switch {
		case len(c.problems) > before || cut.log == nil:
		case len(cut.waits) > 0:
			var names []string
			for _, q := range cut.waits {
				names = append(names, q.Name)
			}
			c.warn(placeIn(cut.sheet, cut.sheet.Phases[0].Phase).fault("the log is not cut yet, since it waits for "+words.Listed(names, mostNames), ""))
		default:
			c.cut(cut)
		}
	}
}

// newCutting reads a phase sheet but for its conditions.
func (c *compiler) newCutting(s *sheets.Sheet, phases map[string]phaseOf) *cutting {
	cut := &cutting{sheet: s, tape: tape.New(), named: -1}
	var named *sheets.Cell
	for i := range s.Phases {
		row := &s.Phases[i]
		name := row.Phase.Text
		first, taken := phases[name]
		switch {
		case !IsName(name):
			c.report(placeIn(s, row.Phase).fault(words.Quoted(name)+" cannot be a name",
				"use letters, digits and _, with a letter first"))
		case taken:
			c.report(placeIn(s, row.Phase).fault(fmt.Sprintf("phase %s stands already in %s, line %d", name,
				first.cutting.sheet.File, first.cutting.sheet.Phases[first.index].Phase.Line), "rename one of the two"))
		case c.sheets[name] != nil:
			c.report(placeIn(s, row.Phase).fault(words.Quoted(name)+" is the name of a sheet, and a phase cannot have it too", "rename the phase"))
		default:
			phases[name] = phaseOf{cut, i}
		}
		if !row.Case.Blank() {
			if named != nil && named.Text != row.Case.Text {
				c.report(placeIn(s, row.Case).fault("two columns cannot name the cycles",
					"write the column once, in the first phase"))
			}
			named = &row.Case
		}
	}
	if len(s.Phases) == 0 {
		c.report(placeIn(s, s.Header()).fault("the sheet has no phase",
			"write one line for each phase, in their order"))
		return cut
	}
	if !c.findLog(cut) {
		return cut
	}
	if named != nil {
		cut.named = cut.log.Column(named.Text)
		if cut.named < 0 {
			c.report(placeIn(s, *named).fault(noColumn(cut.log, named.Text)))
		}
	}
	c.columnInput(cut, 0, placeIn(s, s.Phases[0].Phase))
	return cut
}

// logName is the name of the log that the phases are of, "log" where none is named.
func (cut *cutting) logName() string {
	for i := range cut.sheet.Phases {
		if cell := cut.sheet.Phases[i].Log; !cell.Blank() {
			return cell.Text
		}
	}
	return "log"
}

// findLog opens the log that a phase sheet cuts, if it is there.
func (c *compiler) findLog(cut *cutting) bool {
	s := cut.sheet
	var at *sheets.Cell
	for i := range s.Phases {
		cell := &s.Phases[i].Log
		switch {
		case cell.Blank():
		case at == nil:
			at = cell
		case at.Text != cell.Text:
			c.report(placeIn(s, *cell).fault("a phase sheet cuts one log, here are "+at.Text+" and "+cell.Text,
				"put the phases of each log into a sheet of their own"))
			return false
		}
	}
	if at == nil {
		c.report(placeIn(s, s.Phases[0].Phase).fault("no log is named",
			"write its name, the file name without .csv, into the column log"))
		return false
	}
	var logs []string
	for _, other := range c.model.Book.Sheets {
		if other.Kind == sheets.Log {
			logs = append(logs, other.Name)
		}
	}
	found := c.sheets[at.Text]
	switch {
	case found == nil && !slices.ContainsFunc(logs, func(name string) bool { return words.OneSlip(at.Text, name) }):
		return false // the phases wait for it
	case found == nil:
		c.report(placeIn(s, *at).fault("no log is named "+words.Quoted(at.Text),
			words.DidYouMean(at.Text, logs, "the logs here are "+words.Listed(logs, mostNames))))
		return false
	case found.Kind != sheets.Log:
		c.report(placeIn(s, *at).fault(fmt.Sprintf("%s is a sheet of %v, not a log", words.Quoted(at.Text), found.Kind),
			"a log begins with the header `time`"))
		return false
	}
	opened, problems := log.Open(found.File, found.Open)
	c.problems = append(c.problems, problems...)
	cut.log = opened
	return opened != nil
}

// noColumn says that a log lacks a column, and what it has.
func noColumn(l *log.Log, name string) (message, hint string) {
	var names []string
	for _, col := range l.Columns {
		if col.Name != "" {
			names = append(names, col.Name)
		}
	}
	return fmt.Sprintf("the log %s has no column %s", l.Shown, words.Quoted(name)),
		words.DidYouMean(name, names, "its columns are "+words.Listed(names, mostNames))
}

// columnInput is the column of a log as an input of the cutting's tape. user is what
// asks for it.
func (c *compiler) columnInput(cut *cutting, index int, user place) *logColumn {
	for _, col := range cut.columns {
		if col.index == index {
			return col
		}
	}
	head := &cut.log.Columns[index]
	u, err := units.Parse(head.Unit)
	wrong := false
	problem := func(message, hint string) {
		wrong = true
		c.report(sheets.Problem{File: cut.log.Shown, Line: head.Line, Column: head.Column, Text: head.Name,
			To: utf8.RuneCountInString(head.Name), Message: message, Hint: hint})
	}
	switch {
	case err != nil:
		problem(fmt.Sprintf("the unit of column %s: %s", head.Name, err.Message), err.Hint)
	case u.Kind > units.Point && !(index == 0 && u.Kind == units.Date && cut.log.Dated):
		problem(fmt.Sprintf("column %s cannot be in %s", head.Name, u.Symbol),
			"a log holds numbers with units of measure")
	case index == 0 && (cut.log.Dated || u.Symbol == ""):
		u, _ = units.Parse("s")
	case index == 0 && u.Dim != units.Time:
		problem(fmt.Sprintf("the time is in %s, which is no unit of time", u.Symbol), "write time [s]")
	}
	if index == cut.named {
		c.report(user.fault(fmt.Sprintf("the column %s names the cycles, so it cannot be computed with", head.Name),
			""))
	}
	col := &logColumn{index: index, head: head, unit: u, wrong: wrong, at: cut.tape.Input(0)}
	cut.columns = append(cut.columns, col)
	return col
}

// track turns a node into a column of a log.
func (c *compiler) track(cut *cutting, n *node, index int, user place) {
	col := c.columnInput(cut, index, user)
	n.kind, n.typ, n.args = trackNode, typeOf(col.unit), nil
	n.link = &link{logged: col}
	switch {
	case col.wrong:
		n.typ = unknownType
	case index == 0:
		n.typ = function.Type{Dim: units.Time} // counted from the beginning, not on a calendar
	}
}

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
		c.report(f.problem(n.span(), "a quantity reads the phases of one phase sheet, here of "+q.cutting.sheet.Name+" and "+cut.sheet.Name, "give each a row of its own"))
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
					message, hint := noColumn(cut.log, part.name)
					fresh.refuse(part.column, message, hint)
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
			c.report(f.problem(part.span(), q.Name+" is computed, and beside the samples of a log only numbers and plain givens can stand", "take it out of the brackets, or give it a number"))
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
			p.Hint = words.Listed(list, 3)
		}
	}
}

// isCondition reports whether an expression is a comparison or several.
func (n *node) isCondition() bool { return n.typ.Sort == function.Truth }

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
				c.report(placeIn(s, row.Phase).fault("the phase "+row.Phase.Text+" has no condition for when it "+half.what,
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

// trackOf is the place of a register among what the cutter is given.
func (cut *cutting) trackOf(r tape.Register) int {
	if i := slices.Index(cut.tracks, r); i >= 0 {
		return i
	}
	cut.tracks = append(cut.tracks, r)
	return len(cut.tracks) - 1
}
