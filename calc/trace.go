package calc

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// Need is something open that a value waits for: a quantity, or a cell of a
// table.
type Need struct {
	Name  string // `approach_time`, or `materials[S3].strength`
	Sheet string
	File  string
	Line  int32
	Fails bool // it is not to be filled in: its row has an error
}

// outcome is why an operation has no number: it failed itself, or another
// one did, or something is open.
type outcome struct {
	failed tape.Register // the operation that failed; tape.None
	needs  []Need        // what is open
	absent bool          // something is n/a
	byCase bool          // something has a value only in the cases of a sheet
}

func (o outcome) fine() bool { return o.failed == tape.None && !o.waits() }

// waits reports whether something has no number without anything being wrong.
func (o outcome) waits() bool { return len(o.needs) > 0 || o.absent || o.byCase }

// trace explains the values of one case that are no numbers. Most runs never
// need it: tape.Missing and tape.Failed travel along silently.
type trace struct {
	tape   *tape.Tape
	model  *Model
	values []float64
	memo   []int32            // by register: its place among the outcomes, from 1, those of alike first; 0 for what has a number
	found  []outcome          // of what has none
	joined map[[2]int32]int32 // of two places: that of what both together are
	owners map[*formula]*Quantity

	cases *caseTraces // of one case after another; nil for a trace of a whole run
	again *tape.Again // which values are those of
	alike *trace      // of what they have in common

	operands []tape.Register // for one operation after the other
}

func (m *Model) newTrace(t *tape.Tape, values []float64) *trace {
	return &trace{tape: t, model: m, values: values}
}

// explain finds out what happened to a root. The first root that is no number
// has every operation of the tape looked at: operations come after their
// operands, so one pass in order is enough for all.
func (tr *trace) explain(root tape.Register) outcome {
	if root == tape.None {
		return outcome{failed: tape.None}
	}
	tr.follow(root)
	if tape.Usable(tr.values[root]) {
		return outcome{failed: tape.None}
	}
	if tr.memo == nil {
		tr.explainAll()
	}
	return tr.of(root)
}

// explainAll looks at every operation that has no number.
func (tr *trace) explainAll() {
	tr.memo = make([]int32, len(tr.tape.Ops))
	for i, v := range tr.values {
		if !tape.Usable(v) {
			tr.note(tape.Register(i))
		}
	}
}

// note looks at an operation after its operands.
func (tr *trace) note(r tape.Register) {
	if tape.Usable(tr.values[r]) {
		tr.memo[r] = 0
		return
	}
	if tr.memo[r] = tr.passedOn(r); tr.memo[r] == 0 {
		tr.memo[r] = tr.keep(tr.reason(r))
	}
}

// passedOn is the place of the outcome that an operation has from its operands without
// a number, which mostly have the same one, or are few; 0 if it has one of its own.
func (tr *trace) passedOn(r tape.Register) int32 {
	o := &tr.tape.Ops[r]
	if o.Code == tape.OpSelect { // only the taken arm counts
		return 0
	}
	places := make([]int32, 0, 4)
	tr.operands = tr.tape.Operands(o, tr.operands[:0])
	for _, a := range tr.operands {
		switch at := tr.memo[a]; {
		case tape.Usable(tr.values[a]) || slices.Contains(places, at):
		case len(places) == cap(places):
			return 0
		default:
			places = append(places, at)
		}
	}
	place := int32(0)
	for _, at := range places {
		place = tr.join(place, at)
	}
	return place
}

// join is the place of what two outcomes together are. A tape with derivatives joins the
// same ones over and over.
func (tr *trace) join(a, b int32) int32 {
	if a == 0 {
		return b
	}
	both := [2]int32{a, b}
	if tr.alike != nil {
		if at, known := tr.alike.joined[both]; known {
			return at
		}
	}
	at, known := tr.joined[both]
	if !known {
		if whole, adds := tr.at(a).with(tr.at(b)); adds {
			at = tr.keep(whole)
		} else {
			at = a
		}
		if tr.joined == nil {
			tr.joined = map[[2]int32]int32{}
		}
		tr.joined[both] = at
	}
	return at
}

// keep gives an outcome a place.
func (tr *trace) keep(o outcome) int32 {
	tr.found = append(tr.found, o)
	return int32(tr.known() + len(tr.found))
}

// with adds what an outcome has that o has not; adds is false if there is nothing.
func (o outcome) with(other outcome) (both outcome, adds bool) {
	both = outcome{o.failed, union(o.needs, other.needs), o.absent || other.absent, o.byCase || other.byCase}
	if both.failed == tape.None {
		both.failed = other.failed
	}
	return both, both.failed != o.failed || len(both.needs) > len(o.needs) || both.absent != o.absent ||
		both.byCase != o.byCase
}

// reason explains one operation from its operands.
func (tr *trace) reason(r tape.Register) outcome {
	o := &tr.tape.Ops[r]
	switch o.Code {
	case tape.OpInput:
		switch {
		case tape.IsAbsent(tr.values[r]), tr.model.inputs[r] == absentInput:
			return outcome{failed: tape.None, absent: true}
		case !tape.IsMissing(tr.values[r]):
			return outcome{failed: r}
		case tr.model.inputs[r] == byCaseInput:
			return outcome{failed: tape.None, byCase: true}
		}
		return outcome{failed: tape.None, needs: []Need{tr.inputNeed(r)}}
	case tape.OpLookup:
		if tape.Usable(tr.values[o.A]) {
			switch {
			case tape.IsMissing(tr.values[r]):
				return outcome{failed: tape.None, needs: []Need{tr.cellNeed(r, o)}}
			case tape.IsAbsent(tr.values[r]):
				return outcome{failed: tape.None, absent: true}
			}
			return outcome{failed: r}
		}
		return tr.of(o.A)
	case tape.OpSelect: // only the taken arm counts
		if need, known := tr.model.waits[r]; known && tape.IsMissing(tr.values[r]) {
			return outcome{failed: tape.None, needs: []Need{need}}
		}
		switch tr.values[o.A] {
		case 1:
			return tr.of(o.B)
		case 0:
			return tr.of(o.C)
		}
		return tr.of(o.A)
	}
	all := outcome{failed: tape.None}
	tr.operands = tr.tape.Operands(o, tr.operands[:0])
	for _, a := range tr.operands {
		if tape.Usable(tr.values[a]) {
			continue
		}
		all, _ = all.with(tr.of(a))
	}
	if all.fine() {
		all.failed = r
	}
	return all
}

func (tr *trace) of(r tape.Register) outcome { return tr.at(tr.memo[r]) }

// at is the outcome at a place.
func (tr *trace) at(place int32) outcome {
	switch at, known := int(place), tr.known(); {
	case at > known:
		return tr.found[at-known-1]
	case at > 0:
		return tr.alike.found[at-1]
	}
	return outcome{failed: tape.None}
}

// known is how many outcomes all cases have in common.
func (tr *trace) known() int {
	if tr.alike == nil {
		return 0
	}
	return len(tr.alike.found)
}

// union joins two lists; where one has nothing to add the other is shared, so that a long
// chain behind one open quantity costs nothing.
func union(a, b []Need) []Need {
	if len(a) == 0 {
		return b
	}
	if len(b) <= len(a) && len(b) > 0 && &a[0] == &b[0] {
		return a
	}
	joined := a[:len(a):len(a)]
	for i := range b {
		if !b[i].among(a) {
			joined = append(slices.Grow(joined, len(b)-i), b[i])
		}
	}
	return slices.Clip(joined)
}

// among reports whether a list has a need. Most differ in their line, and to compare the
// rest of them was most of what a notebook took in which nothing is filled in.
func (n *Need) among(list []Need) bool {
	for i := range list {
		if list[i].Line == n.Line && list[i] == *n {
			return true
		}
	}
	return false
}

func (tr *trace) inputNeed(r tape.Register) Need {
	if need, known := tr.model.waits[r]; known {
		return need
	}
	f := tr.origin(r).formula
	if q := tr.model.byName[f.cell.Text]; q != nil && q.use && q.input() == r {
		return Need{Name: q.Name + ".reading", Sheet: f.sheet.Name, File: f.sheet.File, Line: f.cell.Line}
	}
	return Need{Name: f.cell.Text, Sheet: f.sheet.Name, File: f.sheet.File, Line: f.cell.Line}
}

func (tr *trace) cellNeed(r tape.Register, o *tape.Op) Need {
	col, key := tr.origin(r).node().data, int(tr.values[o.A])
	row := col.sheet.Cases[tr.tape.More(o).Rows[key]]
	return Need{Name: fmt.Sprintf("%s[%s].%s", col.sheet.Name, row.Name.Text, col.name),
		Sheet: col.sheet.Name, File: col.sheet.File, Line: row.Name.Line}
}

// origin is the place in the notebook that an operation was lowered from.
type origin struct {
	formula *formula
	at      int32 // of the node, in the formula; -1 for a given
}

// node is the part of the formula, nil for a given.
func (o origin) node() (found *node) {
	if o.at < 0 {
		return nil
	}
	o.formula.tree().walk(func(n *node) {
		if int32(n.at) == o.at {
			found = n
		}
	})
	return found
}

// number gives a formula and each of its parts a mark.
func (m *Model) number(f *formula) {
	if f.parts == 0 && f.root != nil {
		f.root.walk(func(n *node) { f.parts = max(f.parts, n.at+1) })
	}
	f.mark = m.nextMark
	m.nextMark += 1 + int32(f.parts)
	m.origins = append(m.origins, f)
}

// originOf finds where an operation of a tape comes from.
func (m *Model) originOf(t *tape.Tape, r tape.Register) origin {
	mark := t.Marks[r]
	if mark == 0 {
		return origin{at: -1}
	}
	behind := sort.Search(len(m.origins)-1, func(i int) bool { return m.origins[i+1].mark > mark })
	f := m.origins[behind]
	return origin{f, mark - f.mark - 1}
}

// problemAt reports what happened in an operation, at its place in the notebook.
func (m *Model) problemAt(t *tape.Tape, r tape.Register, message, hint string) sheets.Problem {
	o := m.originOf(t, r)
	s := o.formula.whole()
	if n := o.node(); n != nil {
		s = n.span()
	}
	return o.formula.problem(s, message, hint)
}

func (tr *trace) origin(r tape.Register) origin { return tr.model.originOf(tr.tape, r) }

func (tr *trace) problem(r tape.Register, message, hint string) sheets.Problem {
	return tr.model.problemAt(tr.tape, r, message, hint)
}

// failure describes the operation that failed, at the place it comes from.
func (tr *trace) failure(r tape.Register) sheets.Problem {
	tr.follow(tape.None) // values beside it are given too
	o := &tr.tape.Ops[r]
	value := func(r tape.Register) float64 { return tr.values[r] }
	at := tr.origin(r)
	part := at.node()
	operand := func(i int, v float64) string {
		n := part
		if n == nil || n.kind != binaryNode && (n.kind != callNode || n.fn.Unary == nil) {
			return "" // a step inside a function that is written in other operations
		}
		return tr.cameTo(at.formula, n.args[i], v)
	}
	switch o.Code {
	case tape.OpDiv:
		divisor := 1
		if part != nil && part.name == "^" { // to the power -1
			divisor = 0
		}
		if value(o.B) == 0 {
			return tr.problem(r, "division by zero", operand(divisor, 0))
		}
	case tape.OpPower, tape.OpPow:
		switch a := value(o.A); {
		case a < 0:
			return tr.problem(r, "a negative number has no such power", operand(0, a))
		case a == 0:
			return tr.problem(r, "0 has no negative power", operand(0, a))
		}
	case tape.OpLookup:
		return tr.missingKey(r, o)
	case tape.OpUnary:
		x := value(o.A)
		hint := operand(0, x)
		fn := tr.tape.More(o).Fn
		if fn == halfWidth { // of all that the formula yields
			hint = tr.cameTo(at.formula, part, x)
		}
		return tr.problem(r, fn.Complaint([]float64{x}), hint)
	case tape.OpCall:
		var x []float64
		call := tr.tape.More(o)
		for _, a := range call.Args {
			x = append(x, value(a))
		}
		hint := ""
		if part != nil && part.kind == callNode && len(part.args) > 0 && part.args[0].link != nil {
			if points := part.args[0].data; points != nil && points.sheet != nil {
				hint = "its points are the rows of " + points.sheet.File
			}
		}
		return tr.problem(r, call.Fn.Name+": "+call.Fn.Complaint(x), hint)
	}
	return tr.problem(r, "the result is too large to hold", "look for a unit that is missing or wrong")
}

// cameTo is what a part of a formula came to, and what the quantities in it
// are: "`bore - rod` is -0.01 m here; bore is 140 mm and rod is 150 mm". Of a
// number that is written there it says nothing.
func (tr *trace) cameTo(f *formula, n *node, value float64) string {
	if n.kind == numberNode || n.kind == unaryNode && n.args[0].kind == numberNode {
		return ""
	}
	in := units.Unit{Symbol: n.typ.Dim.String(), Dim: n.typ.Dim}
	if n.typ.Dim == units.Plain {
		in.Symbol = ""
	}
	if n.kind == quantityNode {
		in = n.quantity.Unit
	}
	told := fmt.Sprintf("%s is %s here", words.Quoted(f.balanced(n.span())), shown(value, in))
	var parts []string
	n.walk(func(part *node) {
		if part.kind != quantityNode || part == n || part.quantity.IsText() {
			return
		}
		if v := tr.values[part.quantity.value]; tape.Usable(v) {
			u := part.quantity.Unit
			if one := part.quantity.Name + " is " + shown(v, u); !slices.Contains(parts, one) {
				parts = append(parts, one)
			}
		}
	})
	if len(parts) > 0 {
		told += "; " + words.Listed(parts, mostNames)
	}
	return told
}

// shown writes an SI value in a unit. Nothing is nothing in any unit but that
// of a scale.
func shown(si float64, u units.Unit) string {
	if si == 0 && u.Kind == units.Ordinary {
		return "0"
	}
	return units.WithUnit(u.FromSI(si), u)
}

// balanced is the text of a span together with the brackets that a parser's
// places leave out at its ends, as those of (a + b)^2.
func (f *formula) balanced(s span) string {
	text := []rune(f.text)
	open, least := 0, 0
	for _, r := range text[s.from:s.to] {
		switch r {
		case '(':
			open++
		case ')':
			open--
			least = min(least, open)
		}
	}
	for before := -least; before > 0 && s.from > 0; {
		if s.from--; text[s.from] == '(' {
			before--
		}
	}
	for behind := open - least; behind > 0 && s.to < len(text); s.to++ {
		if text[s.to] == ')' {
			behind--
		}
	}
	return s.cut(text)
}

// failureIn describes an operation that failed, and reports whether it is in one
// of these formulas, where it is placed then. Equal look-ups share an operation,
// which has the place of only one of them.
func (tr *trace) failureIn(formulas []*formula, r tape.Register) (p sheets.Problem, found bool) {
	p = tr.failure(r)
	o := &tr.tape.Ops[r]
	if o.Code != tape.OpLookup {
		return p, false
	}
	col, key := tr.origin(r).node().data, tr.values[o.A]
	for _, f := range formulas {
		if f == nil || found {
			continue
		}
		f.tree().walk(func(n *node) {
			if !found && n.kind == lookupNode && n.data == col && tr.looksFor(n.args[0]) == key {
				p, found = f.problem(n.span(), p.Message, p.Hint), true
			}
		})
	}
	return p, found
}

// owner is the quantity in whose row an operation that failed stands, nil if it
// stands in none.
func (tr *trace) owner(failed tape.Register) *Quantity {
	if tr.owners == nil {
		tr.owners = map[*formula]*Quantity{}
		for _, q := range tr.model.Quantities {
			for _, f := range q.formulas() {
				if f != nil {
					tr.owners[f] = q
				}
			}
		}
	}
	return tr.owners[tr.origin(failed).formula]
}

// need is the quantity as what another one waits for.
func (q *Quantity) need(fails bool) Need {
	return Need{Name: q.Name, Sheet: q.Sheet.Name, File: q.Sheet.File, Line: q.Row.Name.Line, Fails: fails}
}

// looksFor is the text that a key came to.
func (tr *trace) looksFor(key *node) float64 {
	switch key.kind {
	case quantityNode:
		return tr.values[key.quantity.value]
	case lookupNode, choiceNode:
		if key.link != nil && key.out != tape.None {
			return tr.values[key.out]
		}
	}
	return tape.Missing // a literal, whose row is there
}

func (tr *trace) missingKey(r tape.Register, o *tape.Op) sheets.Problem {
	col, key := tr.origin(r).node().data, tr.model.texts[int(tr.values[o.A])]
	var keys []string
	for i := range col.sheet.Cases {
		keys = append(keys, col.sheet.Cases[i].Name.Text)
	}
	message, hint := noSuchRow(col.sheet, key, keys)
	return tr.problem(r, message, hint)
}

// noSuchRow is for a key that a table lacks, with what it has.
func noSuchRow(s *sheets.Sheet, key string, keys []string) (message, hint string) {
	hint = "add a row to " + s.File
	if len(keys) <= mostNames {
		hint = "its rows are " + words.Listed(words.AllQuoted(keys), mostNames)
	}
	if alike := numberedAlike(key, keys); alike != "" {
		hint = "its only row with that number is " + words.Quoted(alike) + "; if yours is another, add a row to " + s.File
	}
	return fmt.Sprintf("sheet %s has no row %s", s.Name, words.Quoted(key)), words.DidYouMean(key, keys, hint)
}

// numberedAlike is the only key with the digits of a word, which its maker may write with
// other letters, as the grade of an oil or a steel; "" if there is none.
func numberedAlike(word string, keys []string) (alike string) {
	digits := func(text string) string {
		return strings.Map(func(r rune) rune {
			if r < '0' || r > '9' {
				return -1
			}
			return r
		}, text)
	}
	number := digits(word)
	if number == "" {
		return ""
	}
	for _, key := range keys {
		switch {
		case digits(key) != number:
		case alike != "":
			return ""
		default:
			alike = key
		}
	}
	return alike
}
