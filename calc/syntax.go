package calc

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/expr-lang/expr/ast"
	"github.com/expr-lang/expr/builtin"
	"github.com/expr-lang/expr/conf"
	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/parser"

	"rambook/sheets"
	"rambook/units/words"
)

// Limits of one formula. The length is checked before parsing, because a
// million opening brackets would overflow the parser's stack.
const (
	MaxFormulaBytes = 4 << 10
	MaxFormulaNodes = 1000
)

var (
	tooManyParts = fmt.Sprintf("formula has more than %d parts", MaxFormulaNodes)
	splitIt      = "split it into several quantities"
)

// inText is a problem inside one text, before it is known where the text stands.
func inText(s span, message, hint string) *sheets.Problem {
	return &sheets.Problem{From: s.from, To: s.to, Message: message, Hint: hint}
}

// language is the parser's configuration: every call is a plain call that our
// own function table resolves, and `if` is no word of ours.
var language = func() *conf.Config {
	c := conf.CreateNew()
	ours := new(builtin.Function) // the parser asks only whether there is one
	for _, name := range builtin.Names {
		c.Functions[name] = ours
	}
	c.DisableIfOperator = true
	c.MaxNodes = MaxFormulaNodes
	return c
}()

// parseAnew is parseFormula for a text that is not known yet. Where the translator works
// stand the trees of several notebooks, so that this one has memory of its own: each would
// keep the others.
func parseAnew(text string) (*node, *sheets.Problem) {
	tree, fault := parseText(text)
	if fault != nil {
		return nil, fault
	}
	r := rooms.Get().(*room)
	defer rooms.Put(r)
	defer r.clear()
	n, fault := translated(tree, r)
	if fault != nil {
		return nil, fault
	}
	return n.apart(roomFor(n.count())), nil
}

// parseText has the parser read a text.
func parseText(text string) (*parser.Tree, *sheets.Problem) {
	if len(text) > MaxFormulaBytes {
		return nil, inText(span{0, 0}, fmt.Sprintf("formula has %d bytes, at most %d are read", len(text),
			MaxFormulaBytes),
			splitIt)
	}
	if strings.TrimSpace(text) == "" {
		return nil, inText(span{0, utf8.RuneCountInString(text)}, "nothing stands after `=`",
			"write an expression, or leave the cell blank if the value is not known yet")
	}
	// Spreadsheets and documents turn a hyphen into the minus sign U+2212.
	text = strings.ReplaceAll(text, "−", "-")
	if f := refuseHidden(text); f != nil {
		return nil, f
	}
	tree, err := parser.ParseWithConfig(text, language)
	if err != nil {
		return nil, syntaxFault(text, err)
	}
	return tree, nil
}

// translated makes our tree of the parser's, with its parts numbered.
func translated(tree *parser.Tree, r *room) (*node, *sheets.Problem) {
	t := translator{text: []rune(tree.Source.String()), room: r}
	n := t.translate(tree.Node)
	if t.fault != nil {
		return nil, t.fault
	}
	parts := uint16(0)
	n.walk(func(n *node) { n.at, parts = parts, parts+1 })
	return n, nil
}

// apart copies a tree.
func (n *node) apart(r *room) *node {
	made := r.node(n.span(), n.kind)
	made.at, made.typ, made.meaning = n.at, n.typ, n.meaning
	if n.args != nil {
		made.args = r.list(len(n.args))
		for i, a := range n.args {
			made.args[i] = a.apart(r)
		}
	}
	return made
}

// refuseHidden refuses what the parser would swallow without a word, such as
// comments.
func refuseHidden(text string) *sheets.Problem {
	if !strings.ContainsAny(text, "|%") && !strings.Contains(text, "//") && !strings.Contains(text, "/*") {
		return nil
	}
	runes, _ := withoutTexts(text)
	previous := rune(0)
	for i, r := range runes {
		switch {
		case r == '|' && previous != '|' && (i+1 == len(runes) || runes[i+1] != '|'):
			return inText(span{i, i + 1}, "`|` is not in the language",
				"write a function around its argument, as in sqrt(area)")
		case r == '%':
			return inText(span{i, i + 1}, "`%` is not in the language",
				"write 0.05 for 5 %, or give the number a row of its own in %")
		case r == '/' && previous == '/':
			return inText(span{i - 1, i + 1}, "`//` is not an operator",
				"write one / to divide; floor(a/b) drops the fraction")
		case r == '*' && previous == '/':
			return inText(span{i - 1, i + 1}, "`/*` is not an operator", "write a remark in the note column")
		}
		previous = r
	}
	return nil
}

// withoutTexts gives the runes of a formula with blanks in place of its texts
// in quotes, whose signs mean nothing, and where the text opens that is not
// closed, -1 if all are.
func withoutTexts(formula string) (runes []rune, open int) {
	runes = []rune(formula)
	open = -1
	quote, escaped := rune(0), false
	for i, r := range runes {
		switch {
		case open < 0:
			if r != '"' && r != '\'' && r != '`' {
				continue
			}
			open, quote = i, r
		case escaped:
			escaped = false
		case r == '\\':
			escaped = quote != '`' // between which nothing is escaped
		case r == '\n' && quote != '`':
			quote = 0 // a text does not go beyond its line, so this one is not closed
		case r == quote:
			open = -1
		}
		runes[i] = ' '
	}
	return runes, open
}

// cut gives the part of a text that a span covers.
func (s span) cut(runes []rune) string { return string(runes[s.from:s.to]) }

// translator turns the parser's tree into ours and refuses every kind of node
// that the language of notebooks does not have. The first refusal is kept:
// later ones in the same formula would mostly follow from it.
type translator struct {
	text  []rune
	count int // nodes made
	fault *sheets.Problem
	*room
}

// room is where the parts of trees have their memory together.
type room struct {
	nodes []node
	args  []*node
}

// roomFor makes a room for so many nodes.
func roomFor(nodes int) *room { return &room{make([]node, 0, nodes), make([]*node, 0, nodes)} }

// clear takes back the memory of trees that nobody holds any more.
func (r *room) clear() {
	clear(r.nodes)
	clear(r.args)
	r.nodes, r.args = r.nodes[:0], r.args[:0]
}

// rooms are the rooms that nobody is translating in.
var rooms = sync.Pool{New: func() any { return roomFor(roomSize) }}

const roomSize = 256 // nodes

// node makes a node that stands at a span.
//
//go:noinline
func (r *room) node(s span, kind nodeKind) *node {
	if len(r.nodes) == cap(r.nodes) {
		r.nodes = make([]node, 0, roomSize)
	}
	r.nodes = append(r.nodes, node{kind: kind, from: int32(s.from), to: int32(s.to)})
	return &r.nodes[len(r.nodes)-1]
}

// list makes a list of so many operands.
//
//go:noinline
func (r *room) list(size int) []*node {
	if size > cap(r.args)-len(r.args) {
		r.args = make([]*node, 0, max(roomSize, size))
	}
	first := len(r.args)
	r.args = r.args[:first+size]
	return r.args[first:len(r.args):len(r.args)]
}

// join hangs the arguments below n and widens its span over them.
//
//go:noinline
func (r *room) join(n *node, args ...*node) *node {
	n.args = r.list(len(args))
	copy(n.args, args)
	for _, a := range args {
		n.from = min(n.from, a.from)
		n.to = max(n.to, a.to)
	}
	return n
}

//go:noinline
func (t *translator) refuse(s span, message, hint string) *node {
	if t.fault == nil {
		t.fault = inText(s, message, hint)
	}
	return t.node(s, numberNode)
}

// binaryOperators maps the parser's operators to ours; what is not listed is refused.
var binaryOperators = map[string]string{
	"+": "+", "-": "-", "*": "*", "/": "/", "^": "^", "**": "^",
	"<": "<", "<=": "<=", ">": ">", ">=": ">=", "==": "==", "!=": "!=",
	"and": "and", "&&": "and", "or": "or", "||": "or",
}

// refusedOperators gives the hint for operators that people try.
var refusedOperators = map[string]string{
	"..":  "give both ends to sweep --over instead",
	"in":  "the unit is written inch in a formula; compare texts with ==",
	"??":  "leave a cell blank if its value is not known yet",
	"not": "write not before a condition",
}

// refusedCharacters gives the hint for characters that people try.
var refusedCharacters = map[string]string{
	"°": "temperatures in degC stand in their own row; a formula sees kelvin",
	"·": "write * to multiply",
	"×": "write * to multiply",
	"÷": "write / to divide",
	"–": "write - to subtract",
	"—": "write - to subtract",
	"“": `write straight quotes, as in "S235"`,
	"”": `write straight quotes, as in "S235"`,
	"„": `write straight quotes, as in "S235"`,
	"$": "money has no unit here; leave the unit blank",
	"€": "money has no unit here; leave the unit blank",
}

func (t *translator) translate(n ast.Node) *node {
	loc := n.Location()
	here := span{loc.From, loc.To}
	// A chain a < b < c holds b twice, so chains inside chains grow beyond
	// what the parser counted.
	if t.count++; t.count > MaxFormulaNodes || t.fault != nil {
		return t.refuse(span{0, len(t.text)}, tooManyParts, splitIt)
	}
	switch n := n.(type) {
	case *ast.IntegerNode:
		return t.number(here, float64(n.Value))
	case *ast.FloatNode:
		return t.number(here, n.Value)
	case *ast.StringNode:
		made := t.node(here, textNode)
		made.name = strings.TrimSpace(n.Value) // as the texts of cells are
		return made
	case *ast.BoolNode:
		made := t.node(here, truthNode)
		if n.Value {
			made.number = 1
		}
		return made
	case *ast.IdentifierNode:
		made := t.node(here, nameNode)
		made.name = n.Value
		return made
	case *ast.UnaryNode:
		arg := t.translate(n.Node)
		made := t.node(here, unaryNode)
		switch n.Operator {
		case "+":
			return arg
		case "-":
			made.name = "-"
		case "not", "!":
			made.name = "not"
		default:
			return t.refuse(here, words.Quoted(n.Operator)+" is not in the language", "")
		}
		return t.join(made, arg)
	case *ast.BinaryNode:
		op, ok := binaryOperators[n.Operator]
		if !ok {
			return t.refuse(here, words.Quoted(n.Operator)+" is not in the language", refusedOperators[n.Operator])
		}
		made := t.node(here, binaryNode)
		made.name = op
		return t.join(made, t.translate(n.Left), t.translate(n.Right))
	case *ast.ConditionalNode:
		cond, then, other := t.translate(n.Cond), t.translate(n.Exp1), t.translate(n.Exp2)
		return t.join(t.node(cond.span(), choiceNode), cond, then, other)
	case *ast.CallNode:
		callee, ok := n.Callee.(*ast.IdentifierNode)
		if !ok {
			return t.refuse(here, "only a function's name can stand before (", "write * to multiply by a bracket")
		}
		made := t.node(span{callee.Location().From, callee.Location().To}, callNode)
		made.name, made.link = callee.Value, &link{}
		args := make([]*node, len(n.Arguments))
		for i, a := range n.Arguments {
			args[i] = t.translate(a)
		}
		return t.join(made, args...)
	case *ast.VariableDeclaratorNode:
		value, body := t.translate(n.Value), t.translate(n.Expr)
		made := t.node(value.span(), letNode)
		made.name = n.Name
		return t.join(made, value, body)
	case *ast.MemberNode:
		return t.member(n)
	case *ast.SequenceNode:
		return t.refuse(span{0, len(t.text)}, "`;` ends a let only",
			"write one expression, or let name = value; expression")
	case *ast.ChainNode:
		return t.refuse(here, "`?.` is not in the language", "write sheet.column")
	case *ast.ArrayNode, *ast.MapNode, *ast.PairNode, *ast.SliceNode:
		return t.refuse(here, "lists and maps are not in the language",
			"write sheet.column for a whole column, sheet[key].column for one cell")
	case *ast.NilNode:
		return t.refuse(here, "nil is not in the language", "leave a cell blank if its value is not known yet")
	}
	return t.refuse(here, "this is not in the language of formulas",
		"use + - * / ^, comparisons, ? :, and the functions that `rambook functions` lists")
}

// number makes the node of a number. Forms that a cell does not take are
// refused here too: another base than ten, and marks between the digits.
func (t *translator) number(here span, x float64) *node {
	written := here.cut(t.text)
	switch {
	case strings.ContainsRune(written, '_'):
		return t.refuse(here, words.Quoted(written)+" is not a number",
			"thousands have no mark: write "+words.Quoted(strings.ReplaceAll(written, "_", "")))
	case len(written) > 1 && written[0] == '0' && strings.ContainsAny(written[1:2], "xXbBoO"):
		return t.refuse(here, words.Quoted(written)+" is not a number", "write it with the digits 0 to 9")
	}
	made := t.node(here, numberNode)
	made.number = x
	return made
}

// member reads sheet.column and sheet[key].column.
func (t *translator) member(n *ast.MemberNode) *node {
	loc := n.Location()
	here := span{loc.From, loc.To}
	name, ok := n.Property.(*ast.StringNode)
	if !ok {
		return t.refuse(here, "a look-up needs a column after the key", "write sheet[key].column")
	}
	switch of := n.Node.(type) {
	case *ast.IdentifierNode:
		made := t.node(span{of.Location().From, here.to}, columnNode)
		made.name, made.link = name.Value, &link{sheet: of.Value, column: here}
		return made
	case *ast.MemberNode:
		sheet, ok := of.Node.(*ast.IdentifierNode)
		if !ok {
			break
		}
		made := t.node(span{sheet.Location().From, here.to}, lookupNode)
		made.name, made.link = name.Value, &link{sheet: sheet.Value, column: here}
		made.args = []*node{t.translate(of.Property)}
		return made
	}
	return t.refuse(here, "only a sheet's name can stand before a point", "write sheet.column or sheet[key].column")
}

// syntaxFault is in our words what the parser found wrong.
func syntaxFault(text string, err error) *sheets.Problem {
	runes := []rune(text)
	signs, open := withoutTexts(text)
	all := span{0, len(runes)}
	var e *file.Error
	if !errors.As(err, &e) {
		return inText(all, "cannot read the formula: "+err.Error(), "")
	}
	at := min(max(e.From, 0), len(runes))
	where := span{at, min(max(e.To, at+1), len(runes))}
	if at == len(runes) && at > 0 {
		where = span{at - 1, at}
	}
	found := where.cut(runes)
	theirs, message, hint := e.Message, "", ""
	switch {
	case strings.Contains(theirs, "exceeds maximum allowed nodes"):
		where = all
		message, hint = tooManyParts, splitIt
	case strings.Contains(theirs, "out of range") || strings.Contains(theirs, "integer literal is too large"):
		where = wordAt(runes, at)
		message, hint = "number "+words.Quoted(where.cut(runes))+" is out of range",
			"the largest is about 1.8e308; a large whole number needs e or a decimal point"
	case strings.Contains(theirs, "bad number syntax"):
		where = wordAt(runes, at)
		message, hint = "cannot read the number "+words.Quoted(where.cut(runes)),
			"write * between a number and its unit, as in 24*MPa"
	case strings.Contains(theirs, "Unexpected token EOF") || strings.Contains(theirs, "unexpected token EOF"):
		message, hint = "the formula ends too early", "something is missing after "+lastWord(runes)
		if slices.Contains(signs, '?') && !slices.Contains(signs, ':') {
			hint = "a choice needs both values: condition ? a : b"
		}
		if at := unclosed(signs); at >= 0 {
			where = span{at, at + 1}
			message, hint = words.Quoted(string(runes[at]))+" is not closed",
				"add "+words.Quoted(string(closing[runes[at]]))+" where it belongs"
		}
	case strings.Contains(theirs, "literal not terminated"):
		where = span{open, len(runes)}
		message, hint = "a text is not closed", "close it with the sign it begins with, as in \"S235\""
	case found == ">" && at > 0 && runes[at-1] == '<':
		where = span{at - 1, at + 1}
		message, hint = "`<>` is not an operator", "write != for what is not equal"
	case found == ")":
		message, hint = "`)` closes nothing", "take it away, or open a bracket before it"
	case found == ":":
		message, hint = "did not expect `:` here", "a choice is condition ? a : b; a whole column is sheet.column"
	case strings.HasPrefix(found, "=") && !strings.HasPrefix(found, "=="):
		message, hint = "`=` inside a formula", "write == to compare"
	case strings.ContainsAny(found, "²³⁴⁻¹"):
		message, hint = "raised digits are not read in a formula", "write ^2, as in mm^2"
	case strings.Contains(theirs, "unrecognized character"):
		message, hint = "cannot read the character "+found, refusedCharacters[found]
	case found == ",":
		message, hint = "a comma stands where none is expected", "write a decimal point, as in 1.5"
	case found == "#":
		message, hint = "`#` is not in the language", "write max(sheet.column) for a whole column"
	case found == ";":
		message, hint = "`;` does not separate arguments", "write a comma, and put the whole cell in double quotes"
	case strings.Contains(theirs, "nexpected token"):
		message, hint = "did not expect "+words.Quoted(found)+" here",
			"write an operator between two values, as in 24*MPa; there is no implied multiplication"
		if found == "in" || strings.HasPrefix(theirs, "unexpected token Operator(\"in\")") {
			hint = "the unit is written inch in a formula"
		}
		if word, _, _ := strings.Cut(strings.TrimSpace(text), " "); strings.EqualFold(word, "if") {
			hint = "a choice is written condition ? a : b"
		}
	default:
		message = "cannot read the formula: " + theirs
	}
	return inText(where, message, hint)
}

// closing gives the bracket that closes another.
var closing = map[rune]rune{'(': ')', '[': ']'}

// unclosed finds the last bracket that is opened and not closed, -1 if there
// is none.
func unclosed(signs []rune) int {
	var open []int
	for i, r := range signs {
		switch r {
		case '(', '[':
			open = append(open, i)
		case ')', ']':
			if len(open) > 0 {
				open = open[:len(open)-1]
			}
		}
	}
	if len(open) == 0 {
		return -1
	}
	return open[len(open)-1]
}

// wordAt finds the run of letters and digits around a place.
func wordAt(runes []rune, at int) span {
	part := func(r rune) bool {
		return r == '.' || r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
	}
	from, to := min(at, len(runes)), min(at, len(runes))
	for from > 0 && part(runes[from-1]) {
		from--
	}
	for to < len(runes) && part(runes[to]) {
		to++
	}
	return span{from, to}
}

func lastWord(runes []rune) string {
	fields := strings.Fields(string(runes))
	return words.Quoted(fields[len(fields)-1])
}
