package calc

import (
	"rambook/calc/function"
	"rambook/calc/tape"
)

// nodeKind is what a node of a formula's tree is.
type nodeKind uint8

const (
	numberNode   nodeKind = iota // a literal number
	textNode                     // a literal text
	truthNode                    // true or false, as 1 or 0
	nameNode                     // a name that resolve has not found yet
	quantityNode                 // a name that is a quantity
	symbolNode                   // a name that is a unit or a constant, with its SI value
	boundNode                    // a name that is bound by let
	unaryNode                    // - or not
	binaryNode                   // arithmetic, comparisons, and, or
	choiceNode                   // condition ? then : else
	callNode                     // function(arguments)
	columnNode                   // sheet.column, a whole column of a case sheet
	lookupNode                   // sheet[key].column, one cell of a case sheet
	letNode                      // let name = value; body
	trackNode                    // phase.column inside an aggregate: a column of a log
	cycleNode                    // an aggregate over a phase: one number in each cycle
)

// node is one node of a formula's tree. Our own tree holds just what the
// language has, so that every later pass is one short switch. It is kept
// small, since a large notebook has a million of them.
type node struct {
	kind     nodeKind
	at       uint16        // which it is of the formula's nodes
	from, to int32         // span in runes of the formula's text
	typ      function.Type // set by infer
	args     []*node       // operands; for a look-up the key; for let the value and the body
	meaning
}

// meaning is what a node has that does not hang on where it stands.
type meaning struct {
	name     string  // of a name, operator, function, column or let; the text of a literal
	number   float64 // of a literal or a symbol
	quantity *Quantity
	*link    // of bound names, calls, columns, look-ups and choices of texts; nil for others
}

// link is what the rarer kinds of node refer to, as far as resolve found it.
type link struct {
	sheet  string // of a column or look-up, before the point
	column span   // of its name after the point
	data   *column
	let    *node              // the let node that binds a name
	fn     *function.Function // of a call
	out    tape.Register      // of a look-up or a choice of texts, set by lower
	over   string             // of a call: the sheet over whose rows it runs, "" if over none
	bound  bool               // of a column: it stands for the cell of a row
	logged *logColumn         // of a column of a log
	cycle  *cycleValue        // of an aggregate over a phase
}

type span struct{ from, to int }

//go:noinline
func (n *node) span() span { return span{int(n.from), int(n.to)} }

// walk visits n and everything below it, parents first.
func (n *node) walk(visit func(*node)) {
	visit(n)
	for _, a := range n.args {
		a.walk(visit)
	}
}

// count is how many parts there are from n down.
func (n *node) count() int {
	parts := 1
	for _, a := range n.args {
		parts += a.count()
	}
	return parts
}

// wholeColumns is, of each argument of a call, whether it is a whole column, as
// against the cell of a row.
func (n *node) wholeColumns() []bool {
	whole := make([]bool, len(n.args))
	for i, a := range n.args {
		whole[i] = a.kind == columnNode && !a.bound
	}
	return whole
}

// literal reports the value of an expression built from literal numbers only,
// such as `2`, `-0.5` or `(1/3)`, which a power's exponent may be.
func (n *node) literal() (float64, bool) {
	switch n.kind {
	case numberNode:
		return n.number, true
	case unaryNode:
		if v, ok := n.args[0].literal(); ok && n.name == "-" {
			return -v, true
		}
	case binaryNode:
		a, okA := n.args[0].literal()
		b, okB := n.args[1].literal()
		if !okA || !okB {
			return 0, false
		}
		switch n.name {
		case "+":
			return a + b, true
		case "-":
			return a - b, true
		case "*":
			return a * b, true
		case "/":
			return a / b, true
		}
	}
	return 0, false
}
