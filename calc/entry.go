package calc

import (
	"fmt"
	"math"
	"strings"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/units"
)

// formula is an expression with the place where it stands.
type formula struct {
	place
	text  string // without its `=`
	root  *node
	sound bool          // no problem was found in it
	out   tape.Register // where its value is on the tape
}

// entryKind says what a cell holds.
type entryKind uint8

const (
	blankEntry entryKind = iota
	numberEntry
	percentEntry // a spread that is a fraction of the value
	textEntry
	formulaEntry
)

// entry is a cell that has been read: an entry, a reading, a spread or a limit.
type entry struct {
	*place  // nil for a blank cell
	kind    entryKind
	value   float64 // SI; a fraction for percentEntry; a text's index
	typed   float64 // the number as it stands, in the row's unit; NaN if it has a unit of its own
	typ     function.Type
	formula *formula
}

// role says what a cell means, which decides how its unit is understood.
type role struct {
	what       string // for messages
	difference bool   // a spread: a difference even where the row is in degC
	literal    bool   // no expression may stand here
}

var (
	entryRole   = role{what: "entry"}
	readingRole = role{what: "reading", literal: true}
	spreadRole  = role{what: "spread", difference: true}
	lowRole     = role{what: "low"}
	highRole    = role{what: "high"}
	cellRole    = role{what: "cell", literal: true}
)

// spreadsheetErrors are results that a spreadsheet saved over a formula.
var spreadsheetErrors = []string{"#NAME?", "#REF!", "#VALUE!", "#DIV/0!", "#N/A", "#NUM!", "#NULL!", "Err:508", "Err:509", "Err:502"}

// read reads a cell that belongs to a quantity or a column in unit u.
func (c *compiler) read(p place, u units.Unit, r role) entry {
	cell := p.cell.Text
	if cell == "" {
		return entry{}
	}
	at := p // a copy, so that blank cells cost no memory
	e := entry{place: &at}
	for _, bad := range spreadsheetErrors {
		if cell == bad {
			c.report(p.problem(p.whole(), bad+" was saved by a spreadsheet in place of the formula",
				"type the formula again; `rambook new --for-spreadsheet` writes formulas that a spreadsheet leaves alone"))
			return e
		}
	}
	if skip := formulaStart(cell); skip > 0 {
		if r.literal {
			c.report(p.problem(p.whole(), "a formula stands where a "+r.what+" is needed", "write a number, with or without a unit"))
			return e
		}
		if u.Kind == units.Text {
			c.report(p.problem(p.whole(), "a text quantity cannot be computed", "write the text itself"))
			return e
		}
		at.skip += skip
		e.kind = formulaEntry
		e.formula = &formula{place: at, text: string([]rune(cell)[at.skip:]), out: tape.None}
		c.formulas = append(c.formulas, e.formula)
		return e
	}
	if u.Kind == units.Text {
		e.kind, e.value, e.typ = textEntry, c.model.textIndex(cell), textType
		return e
	}
	return c.readNumber(e, u, r)
}

// formulaStart tells how many characters stand before an expression, 0 if the
// cell is none. An apostrophe keeps spreadsheets from evaluating the cell.
func formulaStart(cell string) int {
	switch {
	case strings.HasPrefix(cell, "="):
		return 1
	case strings.HasPrefix(cell, "'="):
		return 2
	}
	return 0
}

// readNumber reads a number with or without a unit of its own.
func (c *compiler) readNumber(e entry, u units.Unit, r role) entry {
	v, err := units.ParseValue(e.cell.Text)
	if err != nil {
		hint := err.Hint
		if hint == "" && looksLikeFormula(e.cell.Text) && !r.literal {
			hint = "an expression starts with `=`"
		}
		c.report(e.problem(span{err.From, err.To}, err.Message, hint))
		return e
	}
	own := u
	e.typed = v.Number
	if v.HasUnit {
		own, e.typed = v.Unit, math.NaN()
	}
	e.typ = typeOf(own)
	switch {
	case own.Kind == units.Text:
		c.report(e.problem(e.whole(), "a number cannot have the unit text", ""))
		return e
	case u.Kind == units.Date && !v.HasUnit:
		c.report(e.problem(e.whole(), "a date is needed here, found a number", "write it as 2026-05-04"))
		return e
	case r.difference && v.HasUnit && own.Symbol == "%" && u.Symbol != "%":
		if u.Kind == units.Point {
			c.report(e.problem(e.whole(), "a spread in percent of a temperature has no meaning: percent from which zero?", "write it in K, as in 2 K"))
			return e
		}
		e.kind, e.value = percentEntry, own.ToSI(v.Number)
		return c.checkSpread(e)
	case r.difference && v.HasUnit && own.Symbol == "%":
		c.report(e.problem(e.whole(), "a spread in % of a quantity in % is ambiguous",
			fmt.Sprintf("write %s for percentage points", strings.TrimSpace(strings.TrimSuffix(e.cell.Text, "%")))))
		return e
	case own.Dim != u.Dim:
		c.report(e.problem(e.whole(), fmt.Sprintf("%s is %s, but the %s is in %s", e.cell.Text, function.WithArticle(e.typ), c.holder(r), unitName(u)), ""))
		return e
	}
	e.kind = numberEntry
	if r.difference {
		e.value, e.typ.Point = own.DiffToSI(v.Number), false
		if u.Kind == units.Date && !v.HasUnit {
			e.value = v.Number
		}
		return c.checkSpread(e)
	}
	e.value = own.ToSI(v.Number)
	if u.Kind == units.Point {
		e.typ.Point = true // 300 K in a degC row is that temperature
	}
	if !tape.Usable(e.value) {
		c.report(e.problem(e.whole(), "number is out of range", ""))
		e.kind = blankEntry
	}
	return e
}

// exact gives the number of a cell as it was typed where x is that number
// turned into SI and back, which may be off in the last digit.
func (e *entry) exact(x float64) float64 {
	if e.kind == numberEntry && Has(e.typed) && Has(x) {
		return e.typed
	}
	return x
}

func (c *compiler) checkSpread(e entry) entry {
	if e.value < 0 || math.Signbit(e.value) && e.value != 0 {
		c.report(e.problem(e.whole(), "a spread cannot be negative", "write the half-width of the interval, as in 0.5 for ± 0.5"))
		e.kind = blankEntry
	}
	return e
}

func (c *compiler) holder(r role) string {
	if r.what == "cell" {
		return "column"
	}
	return "row"
}

// looksLikeFormula reports whether a text that is no number reads like an
// expression whose `=` was forgotten.
func looksLikeFormula(s string) bool {
	return strings.ContainsAny(s, "*/^(") || strings.Contains(s, " + ") || strings.Contains(s, " - ") || isName(s)
}

// isName reports whether s can name a quantity.
func isName(s string) bool {
	for i, r := range s {
		letter := r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
		if !letter && (i == 0 || r != '_' && (r < '0' || r > '9')) {
			return false
		}
	}
	return s != ""
}

func unitName(u units.Unit) string {
	if u.Symbol == "" {
		return "a plain number"
	}
	return u.Symbol
}
