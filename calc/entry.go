package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// formula is an expression with the place where it stands.
type formula struct {
	place
	text       string        // without its `=`
	parsed                   // until it is packed; see tree
	packedTree               // from then on
	parts      uint16        // more than the place of any part among them
	mark       int32         // of operations that come from the formula as a whole; those of its parts follow
	out        tape.Register // where its value is on the tape
}

// entryKind is what a cell holds.
type entryKind uint8

const (
	blankEntry entryKind = iota
	numberEntry
	percentEntry // a spread that is a fraction of the value
	textEntry
	formulaEntry
	absentEntry  // n/a: the machine has none
	verdictEntry // worst(...)
)

// entry is a cell that has been read: an entry, a reading, a spread or a limit.
type entry struct {
	*place  // nil for a blank cell
	kind    entryKind
	value   float64 // SI; a fraction for percentEntry; a text's index
	typed   float64 // the number as it stands, in the row's unit; NaN if it has a unit of its own
	typ     function.Type
	formula *formula
	scatter float64 // of repeated runs: the spread of their mean that these show, SI
	assumed string  // of a number that is common practice and not of this machine: what may be off, as typed behind ±
}

// noEntry is what every blank cell is.
var noEntry entry

// kept is an entry as a quantity keeps it. It is never changed; a blank one takes no
// memory.
func (e entry) kept() *entry {
	if e == noEntry {
		return &noEntry
	}
	own := e // so that a blank one takes none on its way either
	return &own
}

// onTape is the entry as one whose number is on the tape alone.
func (e *entry) onTape() *entry {
	own := *e
	own.kind, own.formula = formulaEntry, nil
	return &own
}

// names is the quantity that a formula names and nothing else, "" if the cell
// holds anything more.
func (e *entry) names() string {
	if e.kind != formulaEntry || e.formula == nil {
		return ""
	}
	name, parts := "", 0
	e.formula.each(func(kind nodeKind, m *meaning) {
		if parts++; kind == quantityNode {
			name = m.name
		}
	})
	if parts > 1 {
		return ""
	}
	return name
}

// role is what a cell means, which decides how its unit is understood.
type role struct {
	what       string // for messages
	difference bool   // a spread: a difference even where the row is in degC
	literal    bool   // no expression may stand here
	whole      bool   // is what the row is: assumptions may stand here
	runs       bool   // repeated runs may stand here
	absent     bool   // n/a may stand here
}

var (
	entryRole   = role{what: "entry", whole: true, runs: true, absent: true}
	exampleRole = role{what: "example", literal: true}
	readingRole = role{what: "reading", literal: true, runs: true}
	spreadRole  = role{what: "spread", difference: true}
	doubtRole   = role{what: "doubt", difference: true}
	lowRole     = role{what: "low limit"}
	highRole    = role{what: "high limit"}
	cellRole    = role{what: "cell", literal: true, runs: true}
)

// spreadsheetError is a result that a spreadsheet saved over what stood in a
// cell, such as #NAME? or Err:508.
var spreadsheetError = words.Pattern(`^(#[A-Z][A-Z0-9/]*[!?]|#N/A|Err:[0-9]+)$`)

func savedBySpreadsheet(cell string) bool {
	return (cell[0] == '#' || cell[0] == 'E') && spreadsheetError().MatchString(cell)
}

// behind is what stands behind the first characters of a text.
func behind(text string, characters int) string {
	for i := range text {
		if characters == 0 {
			return text[i:]
		}
		characters--
	}
	return ""
}

// read reads a cell that belongs to a quantity or a column in unit u. A text has no
// number yet.
func (c *compiler) read(p place, u units.Unit, r role) entry {
	cell := p.cell.Text
	switch {
	case cell == "":
		return entry{}
	case savedBySpreadsheet(cell), IsAbsent(cell), u.Kind == units.Verdict, u.Kind == units.Tick && IsTick(cell):
		return c.readWord(p, u, r)
	}
	if hint := everyday(cell, u); hint != "" {
		c.report(p.fault(words.Quoted(cell)+" is no number", hint))
		return entry{place: p.kept()}
	}
	if len(cell) > 4 && IsAbsent(cell[:3]) && cell[3] == ' ' && u.Kind <= units.Point {
		if root, _ := parseFormula(cell); root == nil { // which `n/a + 1` is, of two quantities
			c.report(p.problem(span{4, utf8.RuneCountInString(cell)}, "n/a stands alone in its cell",
				"write why there is none into the note of the row, or into a column for remarks"))
			return entry{place: p.kept()}
		}
	}
	skip, known, isFormula := c.formulaStart(cell, u, r)
	switch {
	case isFormula && r.literal:
		c.report(p.fault("a formula stands where a number is needed", "write a number, with or without a unit"))
		return entry{place: p.kept()}
	case !isFormula:
		return c.readPlain(p, u, r)
	}
	f := &formula{place: p, parsed: known, out: tape.None}
	f.skip += skip
	f.text = behind(cell, f.skip)
	c.formulas = append(c.formulas, f)
	return entry{place: &f.place, kind: formulaEntry, formula: f} // the one copy of the place
}

// readWord reads a cell that holds a word in place of what it is for.
func (c *compiler) readWord(p place, u units.Unit, r role) entry {
	cell, e := p.cell.Text, entry{place: p.kept()}
	switch {
	case savedBySpreadsheet(cell):
		c.report(p.fault(cell+" was saved by a spreadsheet in place of what stood here",
			"type it again, a formula without `=`, which a spreadsheet leaves alone"))
	case IsAbsent(cell) && r.absent:
		e.kind, e.typ = absentEntry, typeOf(u)
	case IsAbsent(cell) && u.Kind != units.Text:
		where := "n/a stands in the entry of a row, not in its " + r.what
		if r.what == cellRole.what {
			where = "n/a stands where a case has a given, and here it has a reading"
		}
		c.report(p.fault(where, "leave the cell blank"))
	case u.Kind == units.Verdict:
		return c.readVerdict(e, r)
	case u.Kind == units.Tick && IsTick(cell):
		e.kind, e.value, e.typed, e.typ = numberEntry, tickValue(cell), tickValue(cell), typeOf(u)
	default:
		return c.readPlain(p, u, r)
	}
	return e
}

// readPlain reads a cell that holds a number or a text.
func (c *compiler) readPlain(p place, u units.Unit, r role) entry {
	cell, e := p.cell.Text, entry{place: p.kept()}
	switch {
	case u.Kind == units.Text:
		e.kind, e.typ = textEntry, textType
		return e
	case u.Kind == units.Tick:
		c.report(p.fault(words.Quoted(cell)+" is neither yes nor no", "write yes once it is done"))
		return e
	case IsAssumed(cell) && r.whole:
		return c.readAssumed(e, u, r)
	case IsRuns(cell) && r.runs && u.Kind <= units.Point:
		return c.readRuns(e, u, r)
	}
	return c.readNumber(e, u, r)
}

// isoGrade is how a drum of oil states its viscosity at 40 degC, in mm2/s (ISO 3448).
var isoGrade = words.Pattern(`^(?i:(?:iso[ -]?)?(?:vg[ -]?)|iso[ -]?)(\d{1,4})$`)

// everyday is what to write for a number as rules, drawings and drums give it; "" if
// the text is none of these.
func everyday(cell string, u units.Unit) string {
	if u.Kind > units.Point {
		return ""
	}
	if u.Dim == units.KinematicViscosity && strings.IndexByte("IiVv", cell[0]) >= 0 && !IsName(cell) && !computes(cell) {
		if m := isoGrade().FindStringSubmatch(cell); m != nil {
			return "write " + words.Quoted(m[1]+" mm2/s") +
				" if the row is at 40 degC, where oil of that grade has about that (ISO 3448)"
		}
	}
	if !isDigit(cell[0]) || !strings.ContainsAny(cell, `/"'″”’′`) || isValue(cell) {
		return "" // most cells are plain numbers
	}
	if _, fault := parse(cell); fault == nil {
		return "" // 15/16 is computed
	}
	decimal, found := units.Decimal(cell)
	if !found {
		return ""
	}
	return "write " + words.Quoted(decimal)
}

// readAssumed reads an assumption, such as `assumed 93 ± 6`.
func (c *compiler) readAssumed(e entry, u units.Unit, r role) entry {
	mark, number, spread := CutAssumed(e.cell.Text)
	if number == "" || spread == "" {
		c.report(e.fault("an assumption needs its ±, how far off it may be", "write it as `assumed 93 ± 6`"))
		return e
	}
	own := e
	own.place = &place{sheet: e.sheet, cell: e.cell, argument: e.argument, skip: utf8.RuneCountInString(mark)}
	own.cell.Text = mark + number
	own = c.readNumber(own, u, r)
	own.place, own.assumed = e.place, spread
	return own
}

// CutAssumed cuts the text of an entry into what stands before the number of an
// assumption, the number, and how far off it may be. Of an entry that is no
// assumption the mark is blank.
func CutAssumed(entry string) (mark, number, spread string) {
	if !IsAssumed(entry) {
		return "", entry, ""
	}
	number = strings.TrimLeft(strings.TrimPrefix(entry, assumedMark), " ")
	mark = strings.TrimSuffix(entry, number)
	for _, sign := range []string{"±", "+/-"} {
		if before, behind, found := strings.Cut(number, sign); found {
			return mark, strings.TrimSpace(before), strings.TrimSpace(behind)
		}
	}
	return mark, number, ""
}

// assumedMark stands before a number that is common practice and not of this
// machine. It is part of the entry, so that whoever types a number of the
// machine over it takes the mark away as well.
const assumedMark = "assumed "

// IsAssumed reports whether the text of an entry is an assumption.
func IsAssumed(entry string) bool { return strings.HasPrefix(entry, assumedMark) }

// IsAbsent reports whether the text of an entry says that the machine has none.
func IsAbsent(entry string) bool { return strings.EqualFold(entry, "n/a") }

// IsTick reports whether a text is what a tick holds.
func IsTick(entry string) bool {
	switch strings.ToLower(entry) {
	case "yes", "no", "1", "0":
		return true
	}
	return false
}

// tickValue is what a tick is in formulas.
func tickValue(entry string) float64 {
	if strings.EqualFold(entry, "yes") || entry == "1" {
		return 1
	}
	return 0
}

// formulaMark is how many characters stand before an expression to mark it,
// 0 if it has no mark. An apostrophe keeps spreadsheets from evaluating a cell.
//
//go:noinline
func formulaMark(cell string) int {
	switch {
	case strings.HasPrefix(cell, "="):
		return 1
	case strings.HasPrefix(cell, "'="):
		return 2
	}
	return 0
}

// formulaStart reports whether a cell of a row in unit u is an expression, and
// how many characters stand before it, with what is known of it by then.
func (c *compiler) formulaStart(cell string, u units.Unit, r role) (int, parsed, bool) {
	switch skip := formulaMark(cell); {
	case skip > 0:
		return skip, parsed{}, true
	case r.literal:
		return 0, parsed{}, false
	case u.Kind == units.Text: // which may hold whatever else an expression is made of
		return 0, parsed{}, strings.Contains(cell, "].") && lookUpAlone().MatchString(cell) || choosesText(cell)
	case u.Kind == units.Tick && IsName(cell):
		return 0, parsed{}, c.hasRow(cell)
	}
	bare := strings.TrimSpace(cell)
	known, isFormula := readsAsFormula(bare)
	if bare != cell {
		known = parsed{} // the places in it are counted from the first character that is no blank
	}
	return 0, known, isFormula || u.Kind == units.Tick && c.hasRow(cell)
}

// choosesText reports whether a text is a choice between texts in quotes.
func choosesText(cell string) bool {
	if !strings.Contains(cell, "?") || !strings.ContainsAny(cell, "\"'`") {
		return false
	}
	root, _ := parseFormula(cell)
	if root == nil || root.kind != choiceNode {
		return false
	}
	texts := false
	for _, arm := range root.args[1:] {
		arm.walk(func(n *node) { texts = texts || n.kind == textNode })
	}
	return texts
}

// lookUpAlone is, beside a choice between texts, the one expression that a text
// needs no mark to be.
var lookUpAlone = words.Pattern(`^\w+\[(\w+|"[^"]*")\]\.\w+$`)

// bareNumbers are a range and dates in forms that a spreadsheet writes. As
// expressions they could be computed, and that is never what was meant.
var bareNumbers = words.Pattern(`^(\d[\d.]*(e\d+)?\s*[-–]\s*\d[\d.]*(e\d+)?|\d{1,4}([-/.])\d{1,2}[-/.]\d{1,4})$`)

// onlyNumber is what was meant as a number and nothing else.
var onlyNumber = words.Pattern(`(?i)^[-+−]?\s*([\d.,']*\d[\d.,']*(e[-+]?\d+)?|\p{Nd}+|inf|infinity|nan)$`)

// rewrittenDate is a date as spreadsheets of some countries save it.
var rewrittenDate = words.Pattern(`^\d{1,4}[-/.]\d{1,2}[-/.]\d{2,4}$`)

// numberWithUnit is how a number with a unit behind it begins, whether or not
// there is such a unit.
var numberWithUnit = words.Pattern(`^[-+−]?[\d.,]+(e[-+]?\d+)?\s+[\pL°%"'#(]`)

// ReadsAsFormula reports whether the text of a cell that may hold a number is
// an expression. What can be read as a number, with or without a unit, or as a
// date is none, and neither is what was meant as one. A mark in front decides.
func ReadsAsFormula(cell string) bool {
	_, is := readsAsFormula(strings.TrimSpace(cell))
	return is
}

// readsAsFormula is ReadsAsFormula for a text without outer blanks. It returns what has
// been found out of the text as well.
func readsAsFormula(cell string) (parsed, bool) {
	switch {
	case formulaMark(cell) > 0:
		return parsed{}, true
	case cell == "", IsAbsent(cell), IsAssumed(cell), IsRuns(cell), isValue(cell),
		!beginsWithName(cell) && !computes(cell) &&
			(bareNumbers().MatchString(cell) || onlyNumber().MatchString(cell)):
		return parsed{}, false
	}
	known, fault := parse(cell)
	return known, fault == nil || !numberWithUnit().MatchString(cell) && strings.ContainsFunc(cell, unicode.IsLetter) &&
		(looksLikeFormula(cell) || strings.ContainsAny(cell, "(?["))
}

// isValue reports whether a text is a number with or without a unit, a share of a value,
// or a date.
func isValue(text string) bool {
	_, is := valueOf(strings.TrimSuffix(text, ofValue))
	return is
}

// valueOf is the number with or without a unit, or the date, that a text is.
func valueOf(text string) (v units.Value, is bool) {
	if !units.BeginsWithNumber(text) { // else why it is none would be found out for nothing
		return v, false
	}
	v, err := units.ParseValue(text)
	return v, err == nil
}

// readNumber reads a number with or without a unit of its own.
func (c *compiler) readNumber(e entry, u units.Unit, r role) entry {
	text := e.own()
	if r.difference {
		// A spreadsheet makes 0.02 of a cell that holds 2 %, and leaves a text alone.
		text = strings.TrimSuffix(text, ofValue)
	}
	v, err := units.ParseValue(text)
	if err != nil {
		if hint, known := units.AdviceFor(text, u); known {
			err.Hint = hint
		}
		c.report(e.problem(span{err.From, err.To}, err.Message, c.hintForNoNumber(text, r, err.Hint)))
		return e
	}
	e.typed = math.NaN()
	if !v.HasUnit {
		v.Unit, e.typed = u, v.Number
	}
	e.typ = typeOf(v.Unit)
	kind := numberEntry
	switch {
	case r.percent(v):
		kind, e.value = percentEntry, v.Unit.ToSI(v.Number)
	case r.difference:
		e.value, e.typ.Point = v.Unit.DiffToSI(v.Number), false
	default:
		e.value = v.Unit.ToSI(v.Number)
	}
	if message, hint := e.unsuited(v, u, r); message != "" {
		c.report(e.fault(message, hint))
		return e
	}
	e.kind = kind
	e.typ.Point = e.typ.Point || !r.difference && u.Kind == units.Point // 300 K in a degC row is that temperature
	if e.typ.Point && e.value < 0 && kind == numberEntry {
		c.report(e.fault(words.Quoted(text)+" is below absolute zero", fmt.Sprintf("nothing is colder than %.6g %s",
			u.FromSI(0), u.Symbol)))
	}
	return e
}

// ofValue may stand behind a spread in percent.
const ofValue = " of value"

// own is the text that stands in the cell without what marks it.
func (p place) own() string { return string([]rune(p.cell.Text)[p.skip:]) }

// tickWords are what people write where a row wants 1 or 0.
var tickWords = []string{"yes", "y", "done", "ok", "x", "true", "no", "false"}

// hintForNoNumber is what to do about a text that is no number.
func (c *compiler) hintForNoNumber(text string, r role, hint string) string {
	switch several := hintForRuns(text); {
	case r.runs && several != "":
		return several
	case slices.Contains(tickWords, strings.ToLower(text)):
		return "give the row the unit tick for yes and no"
	case hint != "" && rewrittenDate().MatchString(text):
		hint += "; a spreadsheet may have rewritten it"
	case r.literal && c.hasRow(text):
		return "write a number; what is computed stands in an entry"
	}
	return hint
}

// percent reports whether a number is a spread in percent of the value.
func (r role) percent(v units.Value) bool { return r.difference && v.HasUnit && v.Unit.Symbol == "%" }

// unsuited is why a number, which is v in its unit, does not suit a cell of
// a row in unit u, "" if it does.
func (e *entry) unsuited(v units.Value, u units.Unit, r role) (message, hint string) {
	text, own, percent := e.own(), v.Unit, r.percent(v)
	switch {
	case u.Kind == units.Date && !v.HasUnit && r.difference:
		return "the spread of a date needs a unit of time", "write it as " + text + " d"
	case u.Kind == units.Date && !v.HasUnit:
		return "a date is needed here, found a number", "write it as 2026-05-04"
	case percent && u.Kind == units.Point:
		return "a spread in percent of a temperature has no meaning: percent from which zero?",
			"write it in degrees, as in 2"
	case percent && u.Kind == units.Date:
		return "a spread in percent of a date has no meaning", "write it in a unit of time, as in 2 d"
	case percent && u.Symbol == "%":
		return "a spread in % of a quantity in % is ambiguous",
			fmt.Sprintf("write %s for percentage points", strings.TrimSpace(strings.TrimSuffix(text, "%")))
	case r.difference && own.Kind == units.Date:
		return text + " is a date, but a spread is a time", "write how far off it may be, as in 2 d"
	case !percent && own.Dim != u.Dim, !r.difference && (own.Kind == units.Date) != (u.Kind == units.Date):
		return fmt.Sprintf("%s is %s, but the %s %s", text, function.WithArticle(typeOf(own)), e.holder(), isIn(u)),
			units.ConversionHint(v, u)
	case !tape.Usable(e.value) || e.value == 0 && v.Number != 0 && own.Kind == units.Ordinary:
		return text + " is out of range in the unit " + own.Symbol, ""
	case r.difference && e.value < 0:
		return "a spread cannot be negative", "write the half-width of the interval, as in 0.5 for ± 0.5"
	}
	return "", ""
}

// exact gives the number of a cell as it was typed where x is that number
// turned into SI and back, which may be off in the last digit.
//
//go:noinline
func (e *entry) exact(x float64) float64 {
	if e.kind == numberEntry && Has(e.typed) && Has(x) {
		return e.typed
	}
	return x
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
//
//go:noinline
func (c *compiler) hasRow(name string) bool {
	return slices.ContainsFunc(c.model.Book.Sheets, func(s *sheets.Sheet) bool {
		return slices.ContainsFunc(s.Rows, func(r sheets.Row) bool { return r.Name.Text == name })
	})
}

// looksLikeFormula reports whether a text that is no number reads like an
// expression whose `=` was forgotten.
func looksLikeFormula(s string) bool {
	return strings.ContainsAny(s, "*/^") || strings.Contains(s, " + ") || strings.Contains(s, " - ")
}

func unitName(u units.Unit) string {
	if u.Symbol == "" {
		return "a plain number"
	}
	return u.Symbol
}

// isIn is what a unit makes of a row: it is in MPa, or is a date.
func isIn(u units.Unit) string {
	switch {
	case u.Kind == units.Tick:
		return "is a tick"
	case u.Kind > units.Point, u.Symbol == "":
		return "is " + function.WithArticle(typeOf(u))
	}
	return "is in " + u.Symbol
}

// Most formulas begin with a name or compute something: they need not be held against
// the patterns of numbers, ranges and dates.

// computes reports whether a text has a character that stands in no number, range or
// date, in whichever form people write them.
func computes(text string) bool { return strings.ContainsAny(text, "*^_%()[]<>=?:") }

// beginsWithName reports whether a text begins with a letter that no number does,
// not even inf or nan.
func beginsWithName(text string) bool {
	first := text[0] | 0x20 // in small letters
	return first >= 'a' && first <= 'z' && first != 'i' && first != 'n'
}
