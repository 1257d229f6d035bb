package calc

import (
	"time"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// Quantity is one row of a quantity sheet: a name with a unit.
type Quantity struct {
	Name    string
	Sheet   *sheets.Sheet
	Row     *sheets.Row
	Unit    units.Unit
	Formula string // the expression without its `=`, "" for a given or an open quantity
	Example string // what a machine of this kind may have, as it stands in the row
	With    string // the gauge of the number or of the reading
	Of      string // the case that states its number for this run, "" if its row does

	index     int // in Model.Quantities
	typ       function.Type
	entry     entry
	reading   *entry // like the other cells of the row, which most rows leave blank: noEntry then
	spread    *entry
	value     tape.Register // on the tape
	spreadAt  tape.Register // SI; tape.None if there is none
	doubt     *entry        // the model's own spread, of a formula
	offset    tape.Register // the input that stands for it: 0, with the spread in doubtAt
	doubtAt   tape.Register // SI; tape.None if there is none
	passed    tape.Register // what formulas go on with: value, or the reading that is used in its place
	use       bool          // the row says to go on with the reading
	byCase    bool          // blank, and each case of some sheet has its own
	after     []*Quantity   // of a tick: what must pass before
	judges    *judges       // of a verdict: what it looks at
	unknown   *unknown      // it is found so that two sides are equal
	cutting   *cutting      // the phase sheet whose phases its entry or reading uses
	cycles    *overCycles   // what the cycles of the log make of it
	*gauged                 // nil unless its spread is that of the gauge it was read with
	byNumbers bool          // of a text: its formula chooses by numbers
	setAside  bool          // for this run a number stands in place of its formula
	elsewhere bool          // its sheet is set aside: it is no row of the notebook
	unproven  bool          // it was read with a gauge of unknown error, and states no spread
	bounds
}

// bounds are the limits that a row or a column states.
type bounds struct {
	low, high             *entry
	lowAt, highAt         tape.Register // SI; tape.None if there is none
	lowMargin, highMargin tape.Register // value - low and value - high, for limits that are formulas
	lowRead, highRead     tape.Register // the limits as the gauge shows them that the value is read with
}

var noBounds = bounds{low: &noEntry, high: &noEntry, lowAt: tape.None, highAt: tape.None, lowMargin: tape.None,
	highMargin: tape.None,
	lowRead:    tape.None, highRead: tape.None}

// unread is a quantity of which nothing is known yet.
var unread = Quantity{value: tape.None, passed: tape.None, spreadAt: tape.None, offset: tape.None, doubtAt: tape.None,
	reading: &noEntry, spread: &noEntry, doubt: &noEntry, bounds: noBounds}

// newQuantity makes a quantity that stands in no row of a quantity sheet.
func newQuantity(name string, u units.Unit, t function.Type) *Quantity {
	q := unread
	q.Name, q.Unit, q.typ = name, u, t
	return &q
}

// hasLow and hasHigh report whether a limit is stated.
func (b *bounds) hasLow() bool  { return b.low.kind != blankEntry }
func (b *bounds) hasHigh() bool { return b.high.kind != blankEntry }

// IsText reports whether the quantity holds a text.
func (q *Quantity) IsText() bool { return q.Unit.Kind == units.Text }

// IsFormula reports whether the quantity is computed. One whose formula is set
// aside for a run still is: what reads it, asks for it or was measured against
// it goes on.
//
//go:noinline
func (q *Quantity) IsFormula() bool {
	return q.entry.kind == formulaEntry || q.unknown != nil || q.setAside
}

// isGiven reports whether the quantity has a number or a text of its own.
func (q *Quantity) isGiven() bool {
	return q.entry.kind == numberEntry || q.entry.kind == textEntry
}

// IsOpen reports whether the quantity has neither a formula nor anything that
// was put in its place, in the notebook or for this run.
func (q *Quantity) IsOpen() bool { return q.entry.kind == blankEntry && q.unknown == nil }

// IsPlanned reports whether a reading of the quantity is planned: its row is a
// formula with a spread, which is the reading's, and the reading is still to be
// taken.
func (q *Quantity) IsPlanned() bool {
	return q.IsFormula() && q.reading.kind == blankEntry && (q.spread.kind != blankEntry || q.With != "")
}

// expression is what a quantity is computed by: its formula, or the two sides
// that make it an unknown.
func (q *Quantity) expression() *formula {
	if u := q.unknown; u != nil {
		return &formula{place: placeIn(u.sheet, u.row.Until), text: u.row.Until.Text}
	}
	return q.entry.formula
}

// SetAside lists the names of the formulas that are set aside for this run.
func (m *Model) SetAside() []string {
	names := make([]string, len(m.setAside))
	for i, q := range m.setAside {
		names[i] = q.Name
	}
	return names
}

// formulas lists the expressions of the quantity's row; nil for what is none.
func (q *Quantity) formulas() []*formula {
	return []*formula{q.entry.formula, q.spread.formula, q.doubt.formula, q.low.formula, q.high.formula}
}

// hasReading reports whether a reading is stated in the quantity's own row.
func (q *Quantity) hasReading() bool { return q.reading.kind == numberEntry }

// Options change one run without changing the notebook.
type Options struct {
	Sets  []string  // `NAME = ENTRY` replacements, as typed after --set
	Aside []string  // formulas that are set aside, so that a run can give them values; other names count for nothing
	Today time.Time // what was read at no known time may have been read then; zero: nobody is warned of that

	cycle caseName // the one cycle of a log that there is for this run
}

// caseName names a case of a sheet.
type caseName struct{ sheet, name string }

// Model is a notebook that passed every check, lowered to one tape.
type Model struct {
	Book        *sheets.Notebook   // with the cycles of a log in place of its phase sheet
	Source      *sheets.Notebook   // as it was read, for a model that is to have more sheets
	Quantities  []*Quantity        // in the order of the sheets and their rows
	caseSheets  []*caseSheet       // those that ask for at least one formula
	Suspects    []*Suspect         // in the order of the sheets and their rows
	Sets        []string           // what was replaced for this run, as typed
	in          string             // the case that it stands in for this run, "" if none
	Charts      []*Chart           // that the report is to draw; none: what it finds worth drawing
	Comparisons []*AskedComparison // that the report is to make
	ties        []*tie             // correlations, in the order of the sheets and their rows
	cuttings    []*cutting         // the phase sheets
	Gauges      []*Gauge           // in the order of their sheet
	unproven    []*Quantity        // rows that name a gauge of unknown error, and state no spread
	Warnings    []sheets.Problem

	tape     *tape.Tape
	formulas []*formula // all expressions
	byName   map[string]*Quantity
	order    []*Quantity // each after the ones its formula uses
	texts    []string    // text values, by index
	text     map[string]float64
	tables   map[string]*table
	cells    []doubtfulCell
	unknowns []*unknown
	setAside []*Quantity
	origins  []*formula // what the tape's marks stand for, with rising marks; nil for those that come from none
	nextMark int32      // that no formula has
	forest   *forest    // of the formulas

	aside  map[string]*Quantity        // quantities of sheets that are set aside, by name
	inputs map[tape.Register]inputKind // why inputs have no value, where they are not open
	waits  map[tape.Register]Need      // of inputs that are no quantities: what they wait for
	rowAt  map[string]tape.Register    // by case sheet: the number of the case's own row
	// cells in the rows of aggregates that are the own given in the case of their row
	sameCells map[tape.Register]bool
	kept      map[keptKey]*keptGiven // givens that blank cells leave

	today    time.Time               // zero where the day does not matter
	literals map[besideText][]string // what each text is compared with
}

// doubtfulCell is a cell of a table that formulas look up and that has a spread.
type doubtfulCell struct {
	column        *column
	value, spread tape.Register
}

// Quantity finds a quantity by name, nil if there is none.
//
//go:noinline
func (m *Model) Quantity(name string) *Quantity { return m.byName[name] }

// Names lists the names of all quantities, in the order of the sheets.
func (m *Model) Names() []string {
	names := make([]string, len(m.Quantities))
	for i, q := range m.Quantities {
		names[i] = q.Name
	}
	return names
}

// textIndex gives the number that stands for a text on the tape.
func (m *Model) textIndex(s string) float64 {
	if i, ok := m.text[s]; ok {
		return i
	}
	i := float64(len(m.texts))
	m.texts = append(m.texts, s)
	m.text[s] = i
	return i
}

// CheckOptions choose how Check goes about its work. The zero value is the default.
type CheckOptions struct {
	Samples int    // > 0: redo the spread by sampling, with so many samples
	Seed    uint64 // same seed, same answer, on any number of cores
	Quiet   bool   // verdicts alone are asked for, and no warnings of spreads
	brief   bool   // of very many cases: how likely an unsure verdict is need not be sampled
	workers int    // 0: one per core
}
