package calc

import (
	"fmt"

	"rambook/sheets"
)

// Need is something open that a value waits for: a quantity, or a cell of a
// table.
type Need struct {
	Name  string // `approach_time`, or `materials[S3].strength`
	Sheet string
	File  string
	Line  int
}

// outcome says why an operation has no number: it failed itself, or another
// one did, or something is open.
type outcome struct {
	failed register // the operation that failed; none
	needs  []Need   // what is open
}

func (o outcome) fine() bool { return o.failed == none && len(o.needs) == 0 }

// trace explains the values of one case that are no numbers. Most runs never
// need it: values that are missing or failed travel along silently.
type trace struct {
	tape   *tape
	model  *Model
	values []float64
	memo   map[register]outcome
}

func (m *Model) newTrace(t *tape, values []float64) *trace {
	return &trace{tape: t, model: m, values: values}
}

// explain finds out what happened to a root. The first root that is no number
// has every operation of the tape looked at: operations come after their
// operands, so one pass in order is enough for all.
func (tr *trace) explain(root register) outcome {
	if root == none || usable(tr.values[root]) {
		return outcome{failed: none}
	}
	if tr.memo == nil {
		tr.memo = map[register]outcome{}
		for i := range tr.tape.ops {
			if r := register(i); !usable(tr.values[r]) {
				tr.memo[r] = tr.reason(r)
			}
		}
	}
	return tr.memo[root]
}

// reason explains one operation from its operands.
func (tr *trace) reason(r register) outcome {
	o := &tr.tape.ops[r]
	switch o.code {
	case opInput:
		if isMissing(tr.values[r]) {
			return outcome{failed: none, needs: []Need{tr.inputNeed(r)}}
		}
		return outcome{failed: r}
	case opLookup:
		if usable(tr.values[o.a]) {
			if isMissing(tr.values[r]) {
				return outcome{failed: none, needs: []Need{tr.cellNeed(r, o)}}
			}
			return outcome{failed: r}
		}
		return tr.memo[o.a]
	case opSelect: // only the taken arm counts
		switch tr.values[o.a] {
		case 1:
			return tr.of(o.b)
		case 0:
			return tr.of(o.c)
		}
		return tr.of(o.a)
	}
	all := outcome{failed: none}
	for _, a := range o.operands(nil) {
		if usable(tr.values[a]) {
			continue
		}
		part := tr.of(a)
		if all.failed == none {
			all.failed = part.failed
		}
		all.needs = union(all.needs, part.needs)
	}
	if all.fine() {
		all.failed = r
	}
	return all
}

func (tr *trace) of(r register) outcome {
	if o, ok := tr.memo[r]; ok {
		return o
	}
	return outcome{failed: none}
}

// union joins two lists; where one is empty or they are the same list the
// other is shared, so that a long chain behind one open quantity costs nothing.
func union(a, b []Need) []Need {
	switch {
	case len(a) == 0:
		return b
	case len(b) == 0 || len(a) == len(b) && &a[0] == &b[0]:
		return a
	}
	joined := append([]Need(nil), a...)
	for _, n := range b {
		known := false
		for _, k := range a {
			known = known || k == n
		}
		if !known {
			joined = append(joined, n)
		}
	}
	return joined
}

func (tr *trace) inputNeed(r register) Need {
	f := tr.origin(r).formula
	return Need{Name: f.cell.Text, Sheet: f.sheet.Name, File: f.sheet.File, Line: f.cell.Line}
}

func (tr *trace) cellNeed(r register, o *op) Need {
	col, key := tr.origin(r).node.data, int(tr.values[o.a])
	row := col.sheet.Cases[o.more.rows[key]]
	return Need{Name: fmt.Sprintf("%s[%s].%s", col.sheet.Name, row.Name.Text, col.name),
		Sheet: col.sheet.Name, File: col.sheet.File, Line: row.Name.Line}
}

// origin is the place in the notebook that an operation was lowered from.
type origin struct {
	formula *formula
	node    *node // nil for a given
}

// originOf finds where an operation of a tape comes from.
func (m *Model) originOf(t *tape, r register) origin { return m.origins[t.marks[r]] }

// problemAt reports what happened in an operation, at its place in the notebook.
func (m *Model) problemAt(t *tape, r register, message, hint string) sheets.Problem {
	o := m.originOf(t, r)
	s := o.formula.whole()
	if o.node != nil {
		s = o.node.span()
	}
	return o.formula.problem(s, message, hint)
}

func (tr *trace) origin(r register) origin { return tr.model.originOf(tr.tape, r) }

func (tr *trace) problem(r register, message, hint string) sheets.Problem {
	return tr.model.problemAt(tr.tape, r, message, hint)
}

// failure describes the operation that failed, at the place it comes from.
func (tr *trace) failure(r register) sheets.Problem {
	o := &tr.tape.ops[r]
	value := func(r register) float64 { return tr.values[r] }
	at := tr.origin(r)
	source := func(i int) string {
		if at.node == nil || i >= len(at.node.args) {
			return "the divisor"
		}
		a := at.node.args[i]
		return string([]rune(at.formula.text)[a.from:a.to])
	}
	switch o.code {
	case opDiv:
		if value(o.b) == 0 {
			return tr.problem(r, "division by zero", quoted(source(1))+" is 0 here")
		}
	case opPower, opPow:
		if value(o.a) < 0 {
			return tr.problem(r, "a negative number has no such power", quoted(source(0))+" is negative here")
		}
	case opLookup:
		return tr.missingKey(r, o)
	case opUnary:
		return tr.problem(r, o.more.fn.complaint([]float64{value(o.a)}), "")
	case opCall:
		var x []float64
		for _, a := range o.more.args {
			x = append(x, value(a))
		}
		return tr.problem(r, o.more.fn.name+": "+o.more.fn.complaint(x), "")
	}
	return tr.problem(r, "the result is too large to hold", "look for a unit that is missing or wrong")
}

func (tr *trace) missingKey(r register, o *op) sheets.Problem {
	col, key := tr.origin(r).node.data, tr.model.texts[int(tr.values[o.a])]
	var keys []string
	for i := range col.sheet.Cases {
		keys = append(keys, col.sheet.Cases[i].Name.Text)
	}
	message, hint := noSuchRow(col.sheet, key, keys)
	return tr.problem(r, message, hint)
}

// noSuchRow says that a table lacks a key, and what it has.
func noSuchRow(s *sheets.Sheet, key string, keys []string) (message, hint string) {
	hint = "add a row to " + s.File
	if len(keys) <= 8 {
		hint = "its rows are " + listed(keys)
	}
	return fmt.Sprintf("sheet %s has no row %s", s.Name, quoted(key)), didYouMean(key, keys, hint)
}
