package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// lostDigits is how much smaller than its operands a sum or a difference may
// be: of the 16 digits of a float64, four are then left.
const lostDigits = 1e-12

// warnLosses warns of numbers that lost their digits on the way: by cancelling
// each other, or by becoming too small.
func (m *Model) warnLosses(values []float64) []sheets.Problem {
	return append(m.warnCancellation(values), m.warnUnderflow(values)...)
}

// warnUnderflow warns of products and quotients that are not 0 but too small
// to hold.
func (m *Model) warnUnderflow(values []float64) []sheets.Problem {
	var warnings []sheets.Problem
	for i := range m.tape.Ops {
		o := &m.tape.Ops[i]
		if o.Code != tape.OpMul && o.Code != tape.OpDiv || values[i] != 0 ||
			m.originOf(m.tape, tape.Register(i)).at < 0 {
			continue
		}
		if a, b := values[o.A], values[o.B]; tape.Usable(a) && tape.Usable(b) && a != 0 && b != 0 {
			warnings = append(warnings, m.problemAt(m.tape, tape.Register(i),
				"the result is too small to hold and counts as 0", "look for a unit that is missing or wrong"))
		}
	}
	return warnings
}

// warnCancellation warns of differences of nearly equal numbers that lose
// more than twelve digits. A balance that is held to limits on both sides is
// meant to be nearly 0 and passes, and what a function does inside it nobody can
// rearrange.
func (m *Model) warnCancellation(values []float64) []sheets.Problem {
	var warnings []sheets.Problem
	judged := map[*formula]bool{}
	for _, q := range m.Quantities {
		if q.IsFormula() && q.hasLow() && q.hasHigh() {
			judged[q.entry.formula] = true
		}
	}
	told := map[origin]bool{}
	for i := range m.tape.Ops {
		o, at := &m.tape.Ops[i], m.originOf(m.tape, tape.Register(i))
		if o.Code != tape.OpAdd && o.Code != tape.OpSub || at.at < 0 || judged[at.formula] || told[at] {
			continue
		}
		a, b, result := math.Abs(values[o.A]), math.Abs(values[o.B]), math.Abs(values[i])
		if larger := math.Max(a, b); result != 0 && tape.Usable(larger) && result < lostDigits*larger &&
			at.node().kind == binaryNode {
			told[at] = true
			warnings = append(warnings, m.problemAt(m.tape, tape.Register(i),
				fmt.Sprintf("nearly equal numbers cancel here: of 16 digits about %.0f are left",
					math.Max(0, 16+math.Log10(result/larger))),
				"rearrange the formula so that the difference is taken between smaller numbers"))
		}
	}
	return warnings
}

// warnLikeNames warns of names that differ in capitals only, which a reader takes
// for one, and of which a formula may mean the other. Of single letters the
// trade makes two on purpose, such as D and d of a ram.
func (c *compiler) warnLikeNames() {
	small := map[string]*Quantity{} // by the name in small letters, of those with a capital
	for _, q := range c.model.Quantities {
		name := strings.ToLower(q.Name)
		if len(name) < 2 || name == q.Name {
			continue
		}
		other := c.model.byName[name]
		if other == nil {
			other = small[name]
		}
		small[name] = q
		if other == nil || q.Sheet == nil || other.Sheet == nil {
			continue
		}
		first, second := other, q
		if second.index < first.index {
			first, second = second, first
		}
		c.warn(placeIn(second.Sheet, second.Row.Name).fault(
			fmt.Sprintf("%s differs from %s in %s, line %d, in capitals only",
				words.Quoted(second.Name), words.Quoted(first.Name), first.Sheet.File, first.Row.Name.Line),
			"rename one, so that no formula means the other: rambook rename "+second.Name+" NEW"))
	}
}

// warnTexts warns of a text that equals none of the literals it is compared
// with: mostly a typing slip in a choice. One that differs from a literal in capitals
// only is refused: nobody means another thing by it, and a formula would go on with
// what is left when no choice fits.
func (c *compiler) warnTexts() {
	c.model.literals = c.comparedTexts()
	for _, q := range c.model.Quantities {
		if q.entry.kind != textEntry {
			continue
		}
		if message, hint := c.model.neverCompared(q, q.entry.cell.Text); message != "" {
			c.tellText(q.entry.cell.Text, c.model.Choices(q.Name), q.entry.fault(message, hint))
		}
	}
	for _, s := range c.model.Book.Sheets {
		if t := c.model.tables[s.Name]; t != nil && s.Kind == sheets.Cases {
			for _, col := range t.columns {
				c.warnCells(col)
			}
		}
	}
}

// warnCells warns of the texts of a column, of each once. A column in which
// formulas look for one text may hold any other as well, but not one that is
// nearly the same.
func (c *compiler) warnCells(col *column) {
	known := c.model.ChoicesIn(col.sheet.Name, col.name)
	if len(known) == 0 {
		return
	}
	what := col.name
	if col.quantity == nil {
		what = col.sheet.Name + "." + col.name
	}
	told := map[string]bool{}
	for i := range col.sheet.Cases {
		cell := col.sheet.Cases[i].Cells[col.index]
		if told[cell.Text] || cell.Blank() || len(known) == 1 && !isLike(cell.Text, known[0]) {
			continue
		}
		told[cell.Text] = true
		if message, hint := notAmong(what, cell.Text, known); message != "" {
			c.tellText(cell.Text, known, placeIn(col.sheet, cell).fault(message, hint))
		}
	}
}

// tellText warns of a text that equals none of those known, or refuses it.
func (c *compiler) tellText(text string, known []string, p sheets.Problem) {
	if slices.ContainsFunc(known, func(k string) bool { return strings.EqualFold(k, text) }) {
		c.report(p)
		return
	}
	c.warn(p)
}

// besideText is what stands beside a literal text in a comparison: a quantity, or a
// column of data.
type besideText struct {
	quantity      *Quantity
	sheet, column string
}

// comparedTexts lists the literals that formulas compare a text with.
func (c *compiler) comparedTexts() map[besideText][]string {
	literals := map[besideText][]string{}
	for _, f := range c.formulas {
		if !strings.ContainsAny(f.text, "\"'`") || !f.has(binaryNode) || !f.has(textNode) {
			continue
		}
		c.with(f, func(root *node) {
			root.walk(func(n *node) {
				if n.kind != binaryNode || n.name != "==" && n.name != "!=" {
					return
				}
				for i, a := range n.args {
					of, other := comparedBy(a), n.args[1-i]
					if of != (besideText{}) && other.kind == textNode && !slices.Contains(literals[of], other.name) {
						literals[of] = append(literals[of], other.name)
					}
				}
			})
		})
	}
	return literals
}

// comparedBy is what a side of a comparison reads; nothing where that is no text.
func comparedBy(n *node) besideText {
	switch {
	case n.quantity != nil && n.quantity.IsText():
		return besideText{quantity: n.quantity}
	case n.kind != columnNode && n.kind != lookupNode || n.data == nil:
		return besideText{}
	case n.data.quantity != nil && n.data.quantity.IsText():
		return besideText{quantity: n.data.quantity}
	case n.data.quantity == nil && n.data.unit.Kind == units.Text:
		return besideText{sheet: n.data.sheet.Name, column: n.data.name}
	}
	return besideText{}
}

// Choices lists the texts that formulas compare a text quantity with.
func (m *Model) Choices(name string) []string {
	q := m.byName[name]
	if q == nil {
		return nil
	}
	return m.literals[besideText{quantity: q}]
}

// ChoicesIn lists the texts that formulas compare the cells of a column with.
func (m *Model) ChoicesIn(sheet, column string) []string {
	if q := m.byName[column]; q != nil && q.IsText() {
		return m.literals[besideText{quantity: q}]
	}
	return m.literals[besideText{sheet: sheet, column: column}]
}

// neverCompared warns if a text equals none of the literals that its
// quantity is compared with.
func (m *Model) neverCompared(q *Quantity, text string) (message, hint string) {
	return notAmong(q.Name, text, m.literals[besideText{quantity: q}])
}

// isLike reports whether who wrote one text may have meant the other.
func isLike(text, known string) bool {
	text, known = strings.ToLower(text), strings.ToLower(known)
	_, near := words.Nearest(text, []string{known})
	return near || strings.Contains(text, known) || strings.Contains(known, text)
}

func notAmong(what, text string, known []string) (message, hint string) {
	if len(known) == 0 || slices.Contains(known, text) {
		return "", ""
	}
	near := slices.IndexFunc(known, func(k string) bool { return isLike(text, k) })
	hint = words.DidYouMean(text, known, "")
	if hint == "" && near >= 0 {
		hint = "did you mean " + words.Quoted(known[near]) + "?"
	}
	return fmt.Sprintf("%s is compared with %s, never with %s", what,
		words.Listed(words.AllQuoted(known), len(known)), words.Quoted(text)), hint
}
