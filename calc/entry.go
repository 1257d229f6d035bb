package calc

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// formula is an expression with the place where it stands.
type formula struct {
	place
	text string // without its `=`
	root *node
	out  tape.Register // where its value is on the tape
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
	lowRole     = role{what: "low limit"}
	highRole    = role{what: "high limit"}
	cellRole    = role{what: "cell", literal: true}
)

// spreadsheetError is a result that a spreadsheet saved over what stood in a
// cell, such as #NAME? or Err:508.
var spreadsheetError = regexp.MustCompile(`^(#[A-Z][A-Z0-9/]*[!?]|#N/A|Err:[0-9]+)$`)

// read reads a cell that belongs to a quantity or a column in unit u.
func (c *compiler) read(p place, u units.Unit, r role) entry {
	cell := p.cell.Text
	if cell == "" {
		return entry{}
	}
	at := p // a copy, so that blank cells cost no memory
	e := entry{place: &at}
	if spreadsheetError.MatchString(cell) {
		c.report(p.fault(cell+" was saved by a spreadsheet in place of what stood here",
			"type it again; `rambook new --for-spreadsheet` writes formulas that a spreadsheet leaves alone"))
		return e
	}
	if skip := formulaStart(cell); skip > 0 {
		if r.literal {
			c.report(p.fault("a formula stands where a number is needed", "write a number, with or without a unit"))
			return e
		}
		if u.Kind == units.Text {
			c.report(p.fault("a text quantity cannot be computed", "write the text itself"))
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

// tickWords are what people write where a row wants 1 or 0.
var tickWords = []string{"yes", "y", "done", "ok", "x", "true", "no", "false"}

// readNumber reads a number with or without a unit of its own.
func (c *compiler) readNumber(e entry, u units.Unit, r role) entry {
	v, err := units.ParseValue(e.cell.Text)
	if err != nil {
		hint := err.Hint
		if slices.Contains(tickWords, strings.ToLower(e.cell.Text)) {
			hint = "write 1 for yes and done, 0 for no"
		}
		switch text := e.cell.Text; {
		case r.literal:
		case c.hasRow(text):
			hint = "for what " + text + " is, write =" + text
		case forgottenCall.MatchString(text), hint == "" && looksLikeFormula(text):
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
	case u.Kind == units.Date && !v.HasUnit && r.difference:
		c.report(e.fault("the spread of a date needs a unit of time", "write it as "+e.cell.Text+" d"))
		return e
	case u.Kind == units.Date && !v.HasUnit:
		c.report(e.fault("a date is needed here, found a number", "write it as 2026-05-04"))
		return e
	case r.difference && v.HasUnit && own.Symbol == "%" && u.Symbol != "%":
		if u.Kind == units.Point {
			c.report(e.fault("a spread in percent of a temperature has no meaning: percent from which zero?", "write it in degrees, as in 2"))
			return e
		}
		if u.Kind == units.Date {
			c.report(e.fault("a spread in percent of a date has no meaning", "write it in a unit of time, as in 2 d"))
			return e
		}
		e.kind, e.value = percentEntry, own.ToSI(v.Number)
		return c.checkSpread(e)
	case r.difference && v.HasUnit && own.Symbol == "%":
		c.report(e.fault("a spread in % of a quantity in % is ambiguous",
			fmt.Sprintf("write %s for percentage points", strings.TrimSpace(strings.TrimSuffix(e.cell.Text, "%")))))
		return e
	case r.difference && own.Kind == units.Date:
		c.report(e.fault(e.cell.Text+" is a date, but a spread is a time", "write how far off it may be, as in 2 d"))
		return e
	case own.Dim != u.Dim, !r.difference && (own.Kind == units.Date) != (u.Kind == units.Date):
		c.report(e.fault(fmt.Sprintf("%s is %s, but the %s %s", e.cell.Text, function.WithArticle(e.typ), e.holder(), isIn(u)),
			units.ConversionHint(v, u)))
		return e
	}
	e.kind = numberEntry
	if r.difference {
		e.value, e.typ.Point = own.DiffToSI(v.Number), false
	} else {
		e.value = own.ToSI(v.Number)
		e.typ.Point = e.typ.Point || u.Kind == units.Point // 300 K in a degC row is that temperature
	}
	if !tape.Usable(e.value) || e.value == 0 && v.Number != 0 && own.Kind == units.Ordinary {
		c.report(e.fault(e.cell.Text+" is out of range in the unit "+own.Symbol, ""))
		e.kind = blankEntry
		return e
	}
	if r.difference {
		return c.checkSpread(e)
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

// checkSpread refuses a spread below 0.
func (c *compiler) checkSpread(e entry) entry {
	if e.value < 0 {
		c.report(e.fault("a spread cannot be negative", "write the half-width of the interval, as in 0.5 for ± 0.5"))
		e.kind = blankEntry
	}
	return e
}

// holder is what gives a cell its unit.
func (e entry) holder() string {
	if e.sheet != nil && e.sheet.Kind == sheets.Cases {
		return "column"
	}
	return "row"
}

// hasRow reports whether a quantity of the notebook has this name. It is for
// messages: where entries are read, not all quantities are known yet.
func (c *compiler) hasRow(name string) bool {
	return slices.ContainsFunc(c.model.Book.Sheets, func(s *sheets.Sheet) bool {
		return slices.ContainsFunc(s.Rows, func(r sheets.Row) bool { return r.Name.Text == name })
	})
}

// forgottenCall is a function's call without its `=`.
var forgottenCall = regexp.MustCompile(`^[A-Za-z]\w*\(.*\)$`)

// looksLikeFormula reports whether a text that is no number reads like an
// expression whose `=` was forgotten.
func looksLikeFormula(s string) bool {
	return strings.ContainsAny(s, "*/^") || strings.Contains(s, " + ") || strings.Contains(s, " - ")
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

// isIn says what a unit makes of a row: it is in MPa, or is a date.
func isIn(u units.Unit) string {
	switch {
	case u.Kind == units.Text, u.Kind == units.Date, u.Symbol == "":
		return "is " + function.WithArticle(typeOf(u))
	}
	return "is in " + u.Symbol
}
