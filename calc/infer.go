package calc

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"rambook/calc/function"
	"rambook/units"
	"rambook/units/words"
)

// The types that have no dimension.
var (
	textType    = function.Type{Sort: function.Text}
	verdictType = function.Type{Sort: function.Verdict}
	truthType   = function.Type{Sort: function.Truth}
	unknownType = function.Type{Sort: function.Unknown}
)

// typeOf is the type of a value written in a unit.
//
//go:noinline
func typeOf(u units.Unit) function.Type {
	switch u.Kind {
	case units.Text:
		return textType
	case units.Verdict:
		return verdictType
	case units.Point, units.Date:
		return function.Type{Dim: u.Dim, Point: true}
	}
	return function.Type{Dim: u.Dim}
}

// checker checks the dimensions of one formula.
type checker struct{ formulaPass }

// inferFormula finds what a formula yields.
func (c *compiler) inferFormula(f *formula) function.Type {
	t := unknownType
	c.with(f, func(root *node) {
		if t = (checker{formulaPass{c, f}}).infer(root); f.nodes != nil {
			f.keepTypes(root)
		}
	})
	return t
}

// infer finds the type of n, refuses what does not fit, and leaves the types
// on the nodes. The problems of all parts are reported, not the first only.
func (c checker) infer(n *node) function.Type {
	n.typ = c.inferNode(n)
	return n.typ
}

func (c checker) inferNode(n *node) function.Type {
	switch n.kind {
	case numberNode:
		return function.Plain
	case textNode:
		return textType
	case truthNode:
		return truthType
	case nameNode:
		return unknownType
	case quantityNode:
		return n.quantity.typ
	case symbolNode:
		return n.typ
	case boundNode:
		return n.let.args[0].typ
	case trackNode:
		return n.typ
	case cycleNode:
		return n.cycle.typ
	case unaryNode:
		return c.inferUnary(n)
	case binaryNode:
		return c.inferBinary(n)
	case choiceNode:
		c.wantTruth(n.args[0], c.infer(n.args[0]))
		a, b := c.infer(n.args[1]), c.infer(n.args[2])
		switch text := func(t function.Type) bool { return t.Sort == function.Text }; {
		case text(a) && text(b):
			return textType
		case text(a) && b.Sort == function.Unknown, text(b) && a.Sort == function.Unknown:
			return unknownType
		}
		return c.same(n.args[1], n.args[2], a, b,
			"the two arms of ? : are "+function.WithArticle(a)+" and "+function.WithArticle(b))
	case letNode:
		c.infer(n.args[0])
		return c.infer(n.args[1])
	case lookupNode:
		if t := c.infer(n.args[0]); t.Sort != function.Text && t.Sort != function.Unknown {
			c.refuse(n.args[0].span(), "the key of a look-up is a text, here stands "+function.WithArticle(t),
				`write a text quantity or a literal, as in materials["S235"].strength`)
		}
		if n.data == nil {
			return unknownType
		}
		return n.data.typ
	case columnNode:
		if n.bound && n.data != nil {
			return n.data.typ
		}
		if n.data != nil {
			c.refuse(n.span(), "a whole column stands where one value is needed",
				"look one cell up with "+n.sheet+"[key]."+n.name+", or put max, min, sum or mean around the expression")
		}
		return unknownType
	case callNode:
		return c.inferCall(n)
	}
	panic(fmt.Sprintf("calc: unknown node kind %d", n.kind))
}

func (c checker) inferUnary(n *node) function.Type {
	t := c.infer(n.args[0])
	if n.name == "not" {
		c.wantTruth(n.args[0], t)
		return truthType
	}
	if !c.wantNumber(n.args[0], t) {
		return unknownType
	}
	if t.Point {
		c.refuse(n.span(), "cannot change the sign of "+t.String(), "subtract another one first, to have a difference")
		return unknownType
	}
	return t
}

func (c checker) inferBinary(n *node) function.Type {
	a, b := c.infer(n.args[0]), c.infer(n.args[1])
	switch n.name {
	case "and", "or":
		c.wantTruth(n.args[0], a)
		c.wantTruth(n.args[1], b)
		return truthType
	case "==", "!=":
		if a.Sort == function.Text && b.Sort == function.Text {
			return truthType
		}
		if col := numbersBeside(n, a, b); col != nil {
			c.refuse(col.span(), words.Quoted(col.name)+" of sheet "+col.sheet+" is a column of numbers, not of texts",
				"write text below "+col.name+" in the row :unit of that sheet")
			return truthType
		}
		fallthrough
	case "<", "<=", ">", ">=":
		okA, okB := c.wantNumber(n.args[0], a), c.wantNumber(n.args[1], b)
		if okA && okB {
			c.same(n.args[0], n.args[1], a, b, "cannot compare "+a.String()+" with "+b.String())
		}
		return truthType
	}
	okA, okB := c.wantNumber(n.args[0], a), c.wantNumber(n.args[1], b)
	if !okA || !okB {
		return unknownType
	}
	switch n.name {
	case "+", "-":
		return c.inferSum(n, a, b)
	case "^":
		return c.inferPower(n, a, b)
	}
	if date := (function.Type{Dim: units.Time, Point: true}); a == date || b == date {
		c.refuse(n.span(), "a date cannot be multiplied or divided", "subtract another date first, to have a time")
		return unknownType
	}
	combine := units.Dimension.Mul
	if n.name == "/" {
		combine = units.Dimension.Div
	}
	d, err := combine(a.Dim, b.Dim)
	if err != nil {
		c.refuse(n.span(), err.Error(), "")
		return unknownType
	}
	return function.Type{Dim: d}
}

// inferSum has the rules of points: point - point is a difference, point ±
// difference is a point, and two points cannot be added.
func (c checker) inferSum(n *node, a, b function.Type) function.Type {
	if a.Dim != b.Dim {
		hint := units.MismatchHint(b.Dim, a.Dim)
		if b.Dim == units.Plain || a.Dim == units.Plain {
			hint = unitForNumber(a, b)
			if a.Point && a.Dim == units.Temperature {
				hint = "write a difference as in 20*K, and give a temperature a row of its own in degC"
			}
		}
		message := "cannot add " + a.String() + " to " + b.String()
		if n.name == "-" {
			message = "cannot subtract " + b.String() + " from " + a.String()
		}
		c.refuse(n.span(), message, hint)
		return unknownType
	}
	switch {
	case n.name == "+" && a.Point && b.Point:
		c.refuse(n.span(), "cannot add "+a.String()+" to "+b.String(), "a mean is a + (b - a)/2")
		return unknownType
	case n.name == "-" && !a.Point && b.Point:
		c.refuse(n.span(), "cannot subtract "+b.String()+" from "+a.String(),
			"a quantity in K is a difference; give the first one in its own row in degC")
		return unknownType
	case n.name == "-" && a.Point && b.Point:
		return function.Type{Dim: a.Dim}
	}
	return function.Type{Dim: a.Dim, Point: a.Point || b.Point}
}

// unitForNumber is the hint for a plain number that meets something else.
func unitForNumber(a, b function.Type) string {
	if b.Dim == units.Plain {
		b = a
	}
	switch {
	case b.Dim == units.Temperature && b.Point:
		return "give that temperature a row of its own in degC, and write its name here"
	case b.Dim == units.Temperature:
		return "give the plain number a unit, as in 20*K"
	case b.Point: // a date
		return "give a time its unit, as in 30*d, and a date a row of its own"
	}
	return "give the plain number a unit, as in 24*MPa"
}

func (c checker) inferPower(n *node, a, b function.Type) function.Type {
	if b.Dim != units.Plain {
		c.refuse(n.args[1].span(), "an exponent is a plain number, here stands "+function.WithArticle(b), "")
		return unknownType
	}
	if a.Dim == units.Plain {
		return function.Plain
	}
	p, ok := n.args[1].literal()
	if !ok {
		c.refuse(n.args[1].span(), "the exponent of "+a.String()+" must be a literal number",
			"write it out, as in x^2 or x^0.5, or divide by a unit first")
		return unknownType
	}
	if a.Point && a.Dim == units.Time {
		c.refuse(n.span(), "a date has no powers", "")
		return unknownType
	}
	d, err := a.Dim.Pow(p)
	if err != nil {
		c.refuse(n.span(), err.Error(), "")
		return unknownType
	}
	return function.Type{Dim: d}
}

// same demands two numbers of one dimension, both points or both differences.
func (c checker) same(na, nb *node, a, b function.Type, message string) function.Type {
	if !c.wantNumber(na, a) || !c.wantNumber(nb, b) {
		return unknownType
	}
	if a == b {
		return a
	}
	hint := ""
	switch {
	case a.Dim == b.Dim && a.Dim == units.Temperature:
		hint = "a quantity in K is a difference; give a temperature in its own row in degC"
	case a.Dim == units.Plain || b.Dim == units.Plain:
		hint = unitForNumber(a, b)
	default:
		hint = units.MismatchHint(b.Dim, a.Dim)
	}
	c.refuse(span{int(min(na.from, nb.from)), int(max(na.to, nb.to))}, message, hint)
	return unknownType
}

// numbersBeside finds the column of data that is compared with a text, and would
// hold texts itself if its unit were one.
func numbersBeside(n *node, a, b function.Type) *node {
	col := n.args[0]
	if a.Sort == function.Text {
		col, b = n.args[1], a
	}
	if col.kind != columnNode || b.Sort != function.Text || col.data == nil || col.data.quantity != nil {
		return nil
	}
	return col
}

func (c checker) wantTruth(n *node, t function.Type) {
	if t.Sort != function.Truth && t.Sort != function.Unknown {
		c.refuse(n.span(), "a condition is needed here, not "+function.WithArticle(t),
			"compare two values, as in setting > 24*MPa")
	}
}

// wantNumber reports whether t is a number, and refuses it where it is not.
func (c checker) wantNumber(n *node, t function.Type) bool {
	switch t.Sort {
	case function.Truth:
		c.refuse(n.span(), "a number is needed here, not a truth value", "write condition ? 1 : 0")
	case function.Text:
		c.refuse(n.span(), "a number is needed here, not a text", "texts can only be compared, with == or !=")
	case function.Verdict:
		c.refuse(n.span(), "a number is needed here, not a verdict",
			"only worst(...) in a row with the unit verdict reads verdicts")
	}
	return t.Sort == function.Number
}

func (c checker) inferCall(n *node) function.Type {
	if n.fn == nil {
		for _, a := range n.args {
			if a.kind != columnNode {
				c.infer(a)
			}
		}
		return unknownType
	}
	fn := n.fn
	switch whole := n.wholeColumns(); {
	case n.over != "" && fn.Columns() == 0: // an aggregate over rows takes expressions
	case fn.Fits(whole):
	default:
		c.refuse(n.span(), fn.Misfit(len(n.args)), "write "+fn.Name+"("+fn.Params+")")
		return unknownType
	}
	types := make([]function.Type, 0, len(n.args))
	sound := true
	for i, a := range n.args {
		switch {
		case i < fn.Columns():
			sound = c.inferColumn(n, a) && sound
			types = append(types, a.typ)
		case i == fn.Condition():
			c.wantTruth(a, c.infer(a))
		case fn.Counts:
			c.infer(a)
			types = append(types, a.typ)
		default:
			t := c.infer(a)
			sound = c.wantNumber(a, t) && sound
			types = append(types, t)
		}
	}
	if !sound {
		return unknownType
	}
	result, wrong := fn.Rule(types)
	if wrong != nil {
		s := n.span()
		if wrong.Arg >= 0 {
			s = n.args[wrong.Arg].span()
		}
		c.refuse(s, fn.Name+": "+wrong.Message, wrong.Hint)
		return unknownType
	}
	return result
}

// inferAll checks the dimensions of every expression of the notebook: first
// the formulas of the quantities in their order, so that each has what the
// ones it uses are, then spreads and limits.
func (c *compiler) inferAll() {
	sorted := make([]bool, len(c.model.Quantities))
	for _, q := range c.model.order {
		sorted[q.index] = true
		c.checkFormula(q)
	}
	for _, q := range c.model.Quantities { // those in a loop
		if !sorted[q.index] {
			c.checkFormula(q)
		}
	}
	c.checkUnknowns()
	for _, q := range c.model.Quantities {
		c.checkPoints(q)
		c.checkEntry(q.reading, q.Unit, q.typ, readingRole)
		c.checkEntry(q.spread, q.Unit, q.typ, spreadRole)
		c.checkEntry(q.doubt, q.Unit, q.typ, doubtRole)
		c.checkBounds(&q.bounds, q.Unit, q.typ)
	}
	for _, cs := range c.model.caseSheets {
		for _, a := range cs.judged() {
			c.checkEntry(&a.spread, a.unit, a.quantity.typ, spreadRole)
			c.checkBounds(&a.bounds, a.unit, a.quantity.typ)
		}
		for _, g := range cs.given {
			c.checkEntry(&g.spread, g.unit, g.quantity.typ, spreadRole)
		}
	}
	c.warnTexts()
}

// checkFormula checks a quantity's own formula.
func (c *compiler) checkFormula(q *Quantity) {
	f := q.entry.formula
	if f == nil || !f.isParsed() {
		return
	}
	t := c.inferFormula(f)
	if t.Sort == function.Unknown || q.typ.Sort == function.Unknown {
		return
	}
	c.checkResult(f, t, q.Unit, q.typ, "row")
	// A row in K takes points and differences alike; it is what its formula is.
	if t.Sort == function.Number && q.Unit.Kind == units.Ordinary && q.Unit.Dim == units.Temperature {
		q.typ.Point = t.Point
	}
}

// checkPoints refuses numbers that are temperature points where the row holds
// a difference. What a row in K holds is known only from its formula.
func (c *compiler) checkPoints(q *Quantity) {
	if q.Unit.Kind != units.Ordinary || q.Unit.Dim != units.Temperature || q.typ.Point {
		return
	}
	for _, e := range []*entry{q.reading, q.low, q.high} {
		if e.kind == numberEntry && e.typ.Point {
			c.report(e.fault(e.cell.Text+" is a temperature point, but "+q.Name+" is a temperature difference",
				"write the difference in K"))
		}
	}
}

func (c *compiler) checkBounds(b *bounds, u units.Unit, wanted function.Type) {
	c.checkEntry(b.low, u, wanted, lowRole)
	c.checkEntry(b.high, u, wanted, highRole)
}

// checkEntry checks a spread or a limit that is an expression.
func (c *compiler) checkEntry(e *entry, u units.Unit, wanted function.Type, r role) {
	if e.kind != formulaEntry || !e.formula.isParsed() || wanted.Sort == function.Unknown {
		return
	}
	t := c.inferFormula(e.formula)
	if t.Sort == function.Unknown {
		return
	}
	if r.difference {
		if t.Point {
			c.report(e.problem(e.formula.tree().span(), "a spread is a difference, found "+t.String(), ""))
			return
		}
		u.Kind = units.Ordinary
		wanted.Point = false
	}
	c.checkResult(e.formula, t, u, wanted, r.what)
}

// checkResult compares what a formula yields with what its row is.
func (c *compiler) checkResult(f *formula, t function.Type, u units.Unit, wanted function.Type, what string) {
	refuse := func(message, hint string) { c.report(f.problem(f.tree().span(), message, hint)) }
	switch {
	case t.Sort == function.Truth:
		refuse("a truth value is no result", "write condition ? 1 : 0")
	case wanted.Sort == function.Text && t.Sort == function.Text:
	case wanted.Sort == function.Text:
		refuse("the formula yields "+function.WithArticle(t)+", but the "+what+" is a text",
			"give the row the unit of what it yields")
	case t.Sort == function.Text:
		refuse("a text is no result", "texts can only be compared, with == or !=; a row that is one has the unit text")
	case t.Dim != wanted.Dim:
		hint := units.MismatchHint(t.Dim, wanted.Dim)
		if hint == "" {
			hint = f.ingredients()
		}
		if hint == "" && t == function.Plain && u.Symbol != "" && !strings.ContainsFunc(f.text, unicode.IsLetter) {
			hint = "multiply by its unit, as in 24*MPa" // a calculation with bare numbers
		}
		refuse(fmt.Sprintf("the formula yields %s, but the %s %s", function.WithArticle(t), what, isIn(u)), hint)
		if p := &c.problems[len(c.problems)-1]; len(f.uses()) == 0 {
			p.Track = f.tree().track()
		}
	case u.Kind == units.Point && !t.Point:
		refuse("a temperature difference cannot stand in "+u.Symbol, "write the unit K")
	case u.Kind == units.Date && !t.Point:
		refuse("a time is no date", "add it to a date, or give the row a unit of time")
	case u.Kind == units.Ordinary && t.Point && t.Dim == units.Time && what == "row":
		refuse("the formula yields a date, but the row "+isIn(u), "write the unit date")
	}
}

// ingredients lists the quantities of a formula with their units, for a reader
// who has to find the one that does not fit.
func (f *formula) ingredients() string {
	var list []string
	for _, q := range f.uses() {
		if part := q.Name + " " + isIn(q.Unit); !slices.Contains(list, part) {
			list = append(list, part)
		}
	}
	f.tree().walk(func(n *node) {
		if n.kind == trackNode && n.logged.index > 0 && !slices.Contains(list, n.logged.isIn()) {
			list = append(list, n.logged.isIn())
		}
	})
	return words.Listed(list, 5)
}

// inferColumn finds the type of a whole column that a call reads.
func (c checker) inferColumn(n, a *node) bool {
	switch {
	case a.data == nil:
		return false
	case a.data.asks:
		q := a.data.quantity
		c.refuse(a.span(), fmt.Sprintf("%s.%s is computed row by row, since %s is a formula (%s, line %d)", a.sheet,
			a.name, q.Name, q.Sheet.File, q.Row.Name.Line),
			n.name+" reads columns of data and of givens; give the column another name if it is one")
		return false
	case a.data.typ.Sort != function.Number:
		c.refuse(a.span(), "a column of texts cannot be used here", "")
		return false
	case a.sheet != n.args[0].sheet: // the values of several columns belong together row by row
		c.refuse(a.span(), n.name+" reads the columns of one sheet, here of "+n.args[0].sheet+" and "+a.sheet,
			"put both columns into one sheet")
		return false
	}
	a.typ = a.data.typ
	return true
}
