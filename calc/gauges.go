package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// GaugeSheet is the name of the case sheet that lists the gauges.
const GaugeSheet = "gauges"

// Gauge is an instrument of the sheet of gauges. What it shows is off by an
// error that is the same wherever it is read, and by the step of its scale,
// which is each reading's own.
//
// The error is one input of the model, a given of 0 that no formula can name:
// what was read with the gauge is the number minus that input, and what a
// formula would read on it is its value plus that input. So the error counts
// once in every spread, sample, E_n, fit and diagnosis, however many readings
// and givens it is in, and it can be suspected and fitted like any given.
type Gauge struct {
	Name              string
	Serial            string
	Class, Span, Step string // as they stand in the sheet
	Spread            string
	Calibrated, Due   string
	Sheet             *sheets.Sheet
	Row               *sheets.CaseRow
	due               float64   // SI; NaN
	offset            *Quantity // the given that stands for the error; nil where nothing was read with it
	relative          bool      // the error is a share of what is read
	// spreads, SI: of the error; of each reading by the step; what a misfit takes for the latter at least
	shared, own, least float64
	leastAt            tape.Register
	typ                function.Type
	taken              int // readings, planned ones too, and givens that have its error
	warned             bool
	faulty             bool // its row cannot be used, as was reported at its first use
}

// gauged is what a quantity that was read with a gauge has beside: all
// registers are tape.None where they do not apply.
type gauged struct {
	*Gauge
	raw    tape.Register // of a given, or of the reading that formulas go on with: as the gauge shows it
	shown  tape.Register // of a formula: what the gauge would show
	offset tape.Register // shown - value, of an error that is no share
	stated tape.Register // of a given: 1 in the cases of a sheet that states a spread for it, else 0
}

// isGauged reports whether the number or the reading of the quantity has its
// spread from a gauge.
func (q *Quantity) isGauged() bool { return q.gauged != nil }

// input is the register that a run replaces: the given, or the reading that
// formulas go on with in place of what is computed.
func (q *Quantity) input() tape.Register {
	switch {
	case q.isGauged() && q.raw != tape.None:
		return q.raw
	case q.use:
		return q.passed
	}
	return q.value
}

// truth is the register of what is judged: of a given that was read with a
// gauge the value without the gauge's error.
func (q *Quantity) truth() tape.Register {
	if q.isGauged() && !q.IsFormula() {
		return q.passed
	}
	return q.value
}

// shownAt is the register that a reading is set against: what is computed, with
// the error of the gauge that it was read with.
func (q *Quantity) shownAt() tape.Register {
	if q.isGauged() && q.IsFormula() {
		return q.shown
	}
	return q.value
}

// gaugeColumns are the columns of the sheet that mean something here; others are
// remarks.
var gaugeColumns = []string{"class", "span", "step", "spread", "serial", "calibrated", "due"}

// gaugeRole is a cell of the sheet of gauges, which holds before anything is
// computed.
var gaugeRole = role{what: "cell", literal: true, difference: true}

// gaugeReader reads the sheet of gauges as far as the rows use it.
type gaugeReader struct {
	*compiler
	sheet   *sheets.Sheet
	columns map[string]int
	gauges  map[string]*Gauge
	missing map[string]bool // names that no gauge has, reported once each
}

// readGauges gives every row that was read with a gauge, and states no spread of
// its own, the gauge's. The case sheets are known by then.
func (c *compiler) readGauges() {
	g := &gaugeReader{compiler: c, columns: map[string]int{}, gauges: map[string]*Gauge{}, missing: map[string]bool{}}
	for _, s := range c.model.Book.Sheets {
		if s.Name == GaugeSheet && s.Kind == sheets.Cases {
			g.sheet = s
			g.readHead()
		}
	}
	warned := false
	for _, q := range c.model.Quantities {
		if q.With == "" || q.Row.Overlong || q.typ.Sort == function.Unknown {
			continue
		}
		at := placeIn(q.Sheet, q.Row.With)
		if g.sheet == nil {
			if !warned && !c.model.Book.IsAside(GaugeSheet) {
				c.warn(at.fault("there is no sheet "+GaugeSheet+", so nothing is known of "+words.Quoted(q.With),
					"list the gauges in "+GaugeSheet+".csv: gauge,class,span,step,serial,due"))
				warned = true
			}
			continue
		}
		if gauge := g.gauge(at); gauge != nil && q.Unit.Kind <= units.Point {
			g.take(q, gauge, at)
		}
	}
}

// readHead finds the columns.
func (g *gaugeReader) readHead() {
	for i, col := range g.sheet.Columns {
		name := strings.ToLower(col.Name.Text)
		for _, known := range gaugeColumns {
			if name == known {
				g.columns[known] = i
			} else if words.OneSlip(name, known) {
				g.warn(placeIn(g.sheet, col.Name).fault("column "+words.Quoted(col.Name.Text)+" is taken for a remark",
					"did you mean "+words.Quoted(known)+"?"))
			}
		}
	}
	for i := range g.sheet.Cases {
		row := &g.sheet.Cases[i]
		text := func(column string) string {
			if k, known := g.columns[column]; known {
				return row.Cells[k].Text
			}
			return ""
		}
		gauge := &Gauge{Name: row.Name.Text, Serial: text("serial"), Class: text("class"), Span: text("span"),
			Step: text("step"), Spread: text("spread"),
			Calibrated: text("calibrated"), Due: text("due"), Sheet: g.sheet, Row: row, due: math.NaN(),
			typ: unknownType}
		if g.gauges[gauge.Name] == nil {
			g.gauges[gauge.Name] = gauge
			g.model.Gauges = append(g.model.Gauges, gauge)
		}
		if k, known := g.columns["due"]; known && !row.Cells[k].Blank() {
			if e := g.read(placeIn(g.sheet, row.Cells[k]),
				units.Unit{Symbol: "date", Kind: units.Date, Dim: units.Time}, cellRole); e.kind == numberEntry {
				gauge.due = e.value
			}
		}
		for _, column := range []string{"span", "step"} {
			if k, known := g.columns[column]; known {
				gauge.setText(column, g.withUnit(row, k))
			}
		}
	}
}

// setText keeps a number of the sheet with its unit, as people are shown it.
func (g *Gauge) setText(column, text string) {
	if column == "span" {
		g.Span = text
	} else {
		g.Step = text
	}
}

// withUnit is a cell with the unit of its column behind it.
func (g *gaugeReader) withUnit(row *sheets.CaseRow, column int) string {
	text := row.Cells[column].Text
	if unit := g.sheet.Columns[column].Unit.Text; unit != "" && text != "" {
		if v, err := units.ParseValue(text); err == nil && !v.HasUnit {
			return text + " " + unit
		}
	}
	return text
}

// gauge finds the gauge that a row names.
func (g *gaugeReader) gauge(at place) *Gauge {
	name := at.cell.Text
	if gauge := g.gauges[name]; gauge != nil {
		return gauge
	}
	if g.missing[name] {
		return nil
	}
	g.missing[name] = true
	var names []string
	for _, known := range g.model.Gauges {
		names = append(names, known.Name)
	}
	hint := words.DidYouMean(name, names, "add it to "+g.sheet.File)
	rows := 0
	for _, q := range g.model.Quantities {
		if q.With == name {
			rows++
		}
	}
	if rows > 1 {
		hint = words.Counted(rows, "row") + " name it; " + hint
	}
	g.report(at.fault("no gauge is named "+words.Quoted(name), hint))
	return nil
}

// take makes the spread of a row that of its gauge.
func (g *gaugeReader) take(q *Quantity, gauge *Gauge, at place) {
	if gauge.offset == nil && gauge.states(g) == "" {
		if !gauge.warned && q.spread.kind == blankEntry && (q.hasReading() || !q.IsFormula() && q.isGiven()) {
			gauge.warned = true
			g.warn(placeIn(g.sheet, gauge.Row.Name).fault("the error of "+gauge.Name+" is not known, so its readings have no spread", "write its class and span, or its spread"))
		}
		return
	}
	if gauge.faulty || gauge.offset == nil && !g.measure(gauge, q) {
		gauge.faulty = true
		return
	}
	if q.spread.kind != blankEntry || !q.IsFormula() && !q.isGiven() && !q.IsOpen() {
		return
	}
	if !gauge.relative && typeOf(q.Unit).Dim != gauge.typ.Dim {
		g.report(at.fault(fmt.Sprintf("%s measures %s, but %s %s", gauge.Name, gauge.typ.Dim.Name(), q.Name,
			isIn(q.Unit)),
			"name the gauge that this was read with"))
		return
	}
	if q.IsFormula() || q.isGiven() {
		gauge.taken++
	}
	where := at
	q.spread = &entry{place: &where, kind: numberEntry, value: gauge.own, typed: math.NaN(), typ: typeOf(q.Unit)}
	q.spread.typ.Point = false
	q.gauged = &gauged{Gauge: gauge, raw: tape.None, shown: tape.None, offset: tape.None, stated: tape.None}
}

// states is what a gauge's row says of how sure it is, "" if that is nothing.
func (gauge *Gauge) states(g *gaugeReader) string {
	var all string
	for _, column := range []string{"class", "step", "spread"} {
		if k, known := g.columns[column]; known {
			all += gauge.Row.Cells[k].Text
		}
	}
	return all
}

// leastOfShared is what a misfit takes for the spread of a single reading where
// the gauge's step is not stated, as a share of the spread that all its readings
// have in common: a dial is read to about a tenth of its class. Without any,
// two readings of one gauge could not differ at all.
const leastOfShared = 0.1

// measure reads what a gauge's readings are sure to. The row that uses it first
// says which unit a bare number is in where the sheet does not.
func (g *gaugeReader) measure(gauge *Gauge, q *Quantity) bool {
	before := len(g.problems)
	cell := func(column string) (units.Value, place, bool) {
		k, known := g.columns[column]
		if !known || gauge.Row.Cells[k].Blank() {
			return units.Value{}, place{}, false
		}
		at := placeIn(g.sheet, gauge.Row.Cells[k])
		v, err := units.ParseValue(at.cell.Text)
		switch {
		case err != nil:
			g.report(at.placed(err))
		case v.Number < 0:
			g.report(at.fault("the "+column+" of a gauge cannot be negative", ""))
		case !v.HasUnit && column != "class":
			v.Unit = q.Unit
			if head := g.sheet.Columns[k].Unit; !head.Blank() {
				v.Unit, _ = g.unitOf(placeIn(g.sheet, head))
			}
		case column == "class":
			u := v.Unit
			if head := g.sheet.Columns[k].Unit; !v.HasUnit && !head.Blank() {
				u, _ = g.unitOf(placeIn(g.sheet, head))
			}
			if u.Dim != (units.Dimension{}) {
				g.report(at.fault("the class of a gauge is a percentage of its span, and not in "+u.Symbol,
					"write it as 1.6; what the data sheet gives in "+u.Symbol+" goes into the column spread"))
			}
		}
		return v, at, err == nil
	}
	class, classAt, hasClass := cell("class")
	span, _, hasSpan := cell("span")
	step, stepAt, hasStep := cell("step")
	spread, spreadAt, hasSpread := cell("spread")
	if len(g.problems) > before {
		return false
	}
	switch {
	case hasSpread && spread.Unit.Symbol == "%" && q.Unit.Symbol != "%":
		gauge.relative, gauge.shared = true, spread.Unit.ToSI(spread.Number)
		gauge.typ = function.Type{}
	case hasSpread:
		gauge.shared, gauge.typ = spread.Unit.DiffToSI(spread.Number), typeOf(spread.Unit)
	case hasClass && hasSpan:
		share := class.Number / 100
		if class.HasUnit {
			share = class.Unit.ToSI(class.Number)
		}
		gauge.shared, gauge.typ = 2/math.Sqrt(3)*share*span.Unit.DiffToSI(span.Number), typeOf(span.Unit)
	case hasClass:
		g.report(classAt.fault("the class of a gauge is a percentage of its span, and "+gauge.Name+" has no span",
			"write its full scale into the column span"))
		return false
	case hasStep:
		gauge.typ = typeOf(step.Unit)
	}
	if hasStep {
		if !gauge.relative && step.Unit.Dim != gauge.typ.Dim {
			g.report(stepAt.fault(fmt.Sprintf("the step of %s is %s, and the rest is %s", gauge.Name,
				function.WithArticle(typeOf(step.Unit)), function.WithArticle(gauge.typ)), "correct one of the units"))
			return false
		}
		gauge.own = 2 * step.Unit.DiffToSI(step.Number) / math.Sqrt(12)
	}
	if !tape.Usable(gauge.shared) || !tape.Usable(gauge.own) {
		at := spreadAt
		if !hasSpread {
			at = placeIn(g.sheet, gauge.Row.Name)
		}
		g.report(at.fault("the numbers of "+gauge.Name+" are out of range", ""))
		return false
	}
	if gauge.least = gauge.own; gauge.own == 0 {
		gauge.least = leastOfShared * gauge.shared
	}
	gauge.typ.Point = false
	g.inputOf(gauge, q)
	return true
}

// errorName names the error of a gauge by the gauge. A blank keeps it apart from
// every quantity, and a name of one word gets one.
func (g *Gauge) errorName() string {
	if strings.Contains(g.Name, " ") {
		return g.Name
	}
	return "gauge " + g.Name
}

// inputOf makes the given that stands for a gauge's error.
func (g *gaugeReader) inputOf(gauge *Gauge, q *Quantity) {
	u := q.Unit.Difference()
	if gauge.relative {
		u, _ = units.Parse("%")
	}
	at := placeIn(g.sheet, gauge.Row.Name)
	e := newQuantity(gauge.errorName(), u, typeOf(u))
	e.Sheet, e.Row, e.index = g.sheet, &sheets.Row{Name: gauge.Row.Name}, -1
	e.entry = entry{place: &at, kind: numberEntry, typ: typeOf(u)}
	e.spread = &entry{place: &at, kind: numberEntry, value: gauge.shared, typed: math.NaN(), typ: typeOf(u)}
	gauge.offset = e
	g.model.byName[e.Name] = e
}

// gaugeErrors lists the givens that stand for the errors of gauges.
func (m *Model) gaugeErrors() []*Quantity {
	var list []*Quantity
	for _, g := range m.Gauges {
		if g.offset != nil {
			list = append(list, g.offset)
		}
	}
	return list
}

const (
	// suspectedSpan is the part of its span by which a gauge is suspected to be off.
	suspectedSpan = 0.25

	// suspectedSpreads is the same in spreads of its error, where no span is known.
	suspectedSpreads = 20
)

// suspectGauges suspects every gauge that several readings share: one alone says
// no more of the gauge than of what it read. A row of a suspect sheet may say
// more of it, and is known by then.
func (c *compiler) suspectGauges() {
	for _, g := range c.model.Gauges {
		if g.offset == nil || g.taken < 2 || g.shared == 0 ||
			slices.ContainsFunc(c.model.Suspects, func(s *Suspect) bool { return s.Quantity == g.offset }) {
			continue
		}
		reach := suspectedSpreads * g.shared
		if v, err := units.ParseValue(g.Span); err == nil && v.HasUnit && !g.relative {
			reach = suspectedSpan * v.Unit.DiffToSI(v.Number)
		}
		c.model.Suspects = append(c.model.Suspects,
			&Suspect{Quantity: g.offset, sheet: g.Sheet, prior: 1, from: -reach, to: reach,
				Row: &sheets.SuspectRow{Suspect: g.Row.Name,
					NextCheck: sheets.Cell{Text: "read one point of it with another gauge"}}})
	}
}

// lowerGauges puts the errors of the gauges onto the tape.
func (l *lowering) lowerGauges() {
	for _, e := range l.model.gaugeErrors() {
		e.value = l.given(e, 0)
		e.passed, e.spreadAt = e.value, l.tape.Constant(e.spread.value)
	}
	for _, g := range l.model.Gauges {
		g.leastAt = l.tape.Constant(g.least)
	}
}

// correct takes the gauge's error from what was read with it.
func (l *lowering) correct(q *Quantity, read tape.Register) tape.Register {
	e := l.errorIn(q)
	if q.relative {
		return l.tape.Mul(read, l.tape.Binary(tape.OpSub, l.tape.Constant(1), e))
	}
	return l.tape.Binary(tape.OpSub, read, e)
}

// errorIn is the gauge's error in a given. A case sheet that states a spread of its
// own for the given says all of how sure that is, so the error is not in its cases.
func (l *lowering) errorIn(q *Quantity) tape.Register {
	e := q.Gauge.offset.value
	for _, cs := range l.model.caseSheets {
		for _, g := range cs.given {
			if g.quantity != q || g.spread.kind == blankEntry {
				continue
			}
			if q.stated == tape.None {
				q.stated = l.tape.Input(0)
				e = l.tape.Mul(e, l.tape.Binary(tape.OpSub, l.tape.Constant(1), q.stated))
			}
			everywhere := scattered{input: q.stated, values: slices.Repeat([]float64{1}, len(cs.sheet.Cases))}
			cs.scatters = append(cs.scatters, everywhere)
		}
	}
	return e
}

// lowerGauged lowers what a gauge does to a quantity: formulas go on with what
// was read less the gauge's error.
func (l *lowering) lowerGauged(q *Quantity) {
	if !q.isGauged() {
		return
	}
	if q.IsFormula() {
		e := q.Gauge.offset.value
		if q.relative {
			q.shown = l.tape.Mul(q.value, l.tape.Binary(tape.OpAdd, l.tape.Constant(1), e))
		} else {
			q.shown, q.gauged.offset = l.tape.Binary(tape.OpAdd, q.value, e), e
		}
	}
	if !q.IsFormula() || q.use {
		q.raw = q.passed
		q.passed = l.correct(q, q.raw)
	}
}

// wholeSpread is the spread of a reading: its own, and the error that it shares.
func (g *gauged) wholeSpread(own, reading float64) float64 {
	if g == nil {
		return own
	}
	return hypot(own, math.Abs(g.sharedAt(reading)))
}

// sharedAt is the spread of a reading by the error that it shares with all others of
// the gauge; below 0 where an error that is a share makes the reading lower.
func (g *gauged) sharedAt(reading float64) float64 {
	if g.relative {
		return g.shared * reading
	}
	return g.shared
}

// ownWithin is what is each reading's own in its whole spread: the step, and the
// scatter of what was read several times.
func (g *gauged) ownWithin(whole, shared float64) float64 {
	const rounding = 1e-12 // of the squares
	if own := whole*whole - shared*shared; own > rounding*whole*whole {
		return math.Max(g.own, math.Sqrt(own))
	}
	return g.own
}

// offset is the input by which the gauge of a reading is off, tape.None where it
// has none of its own.
func (j *judgement) offset() tape.Register {
	if j.gauge == nil {
		return tape.None
	}
	return j.gauge.offset
}

// leastOwn is what a misfit takes for the spread that a reading of the gauge
// does not share with the others.
func (g *Gauge) leastOwn(reading float64) float64 {
	if g.relative && g.own == 0 {
		return g.least * math.Abs(reading)
	}
	return g.least
}

// isUnstated reports whether a name is that of a gauge's error, and the gauge's
// row says nothing yet of how sure it is.
func (c *compiler) isUnstated(name string) bool {
	if c.model.Book.IsAside(GaugeSheet) {
		return strings.Contains(name, " ") // no quantity, so it was one of them
	}
	return slices.ContainsFunc(c.model.Gauges, func(g *Gauge) bool { return g.offset == nil && g.errorName() == name })
}

// Gauge finds a gauge of the notebook by its name, nil if there is none.
func (m *Model) Gauge(name string) *Gauge {
	for _, g := range m.Gauges {
		if g.Name == name {
			return g
		}
	}
	return nil
}

// Describe says in a line what a gauge is, as far as the sheet tells.
func (g *Gauge) Describe() string {
	text := g.Name
	for _, part := range []struct{ name, value string }{{"serial number", g.Serial}, {"class", g.Class},
		{"span", g.Span}, {"spread", g.Spread}, {"step", g.Step},
		{"calibrated", g.Calibrated}, {"due", g.Due}} {
		if part.value != "" {
			text += ", " + part.name + " " + part.value
		}
	}
	return text
}

// ofGauge is why nothing is done with what an argument names, if that is a gauge:
// of its error there is neither a row nor a formula.
func (m *Model) ofGauge(p place, q *Quantity, message, hint string) []sheets.Problem {
	if !q.IsGauge() {
		return nil
	}
	var read []string
	gauge := ""
	for _, g := range m.Gauges {
		if g.offset != q {
			continue
		}
		gauge = g.Describe()
		for _, other := range m.Quantities {
			if other.With == g.Name {
				read = append(read, other.Name)
			}
		}
	}
	if hint == "" {
		hint = gauge
		if len(read) > 0 {
			hint += "; read with it: " + words.Listed(read, mostNames)
		}
	}
	return []sheets.Problem{p.fault(q.Name+" is a gauge, "+message, hint)}
}

// SpreadAt is the spread of one reading with the gauge, in the unit of the
// reading; NaN where nothing is known of it.
func (g *Gauge) SpreadAt(reading float64, u units.Unit) float64 {
	if g == nil || g.offset == nil {
		return math.NaN()
	}
	return spreadIn(u, (&gauged{Gauge: g}).wholeSpread(g.own, u.DiffToSI(reading)))
}

// UsedBy lists the quantities whose formulas use one.
func (m *Model) UsedBy(name string) []string {
	var list []string
	for _, q := range m.Quantities {
		if q.entry.formula != nil && slices.ContainsFunc(q.entry.formula.uses(),
			func(u *Quantity) bool { return u.Name == name }) {
			list = append(list, q.Name)
		}
	}
	return list
}

// IsGauge reports whether the quantity is the error of a gauge.
func (q *Quantity) IsGauge() bool { return strings.Contains(q.Name, " ") }

// IsListed reports whether the cases of some sheet are to give a quantity each
// its own value.
func (m *Model) IsListed(q *Quantity) bool {
	for _, sheet := range m.Book.Sheets {
		if sheet.Kind == sheets.Cases && len(sheet.Cases) > 0 && slices.ContainsFunc(sheet.Columns,
			func(col sheets.Column) bool { return col.Name.Text == q.Name }) {
			return true
		}
	}
	return false
}

// After lists what must pass before a tick.
func (q *Quantity) After() []*Quantity { return q.after }

// ownCell is the column that a look-up reads: of a gauge named in the formula its
// own cell.
func (c *compiler) ownCell(n *node, col *column) *column {
	if col != nil && n.kind == lookupNode && n.sheet == GaugeSheet && n.args[0].kind == textNode {
		if cell := c.gaugeCell(col, n.args[0].name); cell != nil {
			return cell
		}
	}
	return col
}

// gaugeCell is the cell that a look-up by a written key finds in the sheet of
// gauges, as a column of that cell alone: each gauge measures something else, and
// a number there may have a unit of its own. A bare one is in the unit of the
// column, else in that of the row that is read with the gauge. nil for a column
// that is no number of a gauge.
func (c *compiler) gaugeCell(col *column, name string) *column {
	head := strings.ToLower(col.name)
	row := slices.IndexFunc(col.sheet.Cases, func(r sheets.CaseRow) bool { return r.Name.Text == name })
	if row < 0 || !slices.Contains([]string{"class", "span", "step", "spread"}, head) {
		return nil
	}
	key := gaugeCellKey{name, col}
	if made := c.gaugeCells[key]; made != nil {
		return made
	}
	own := *col
	own.loaded, own.looked = true, true
	own.values = make([]float64, len(col.sheet.Cases))
	for i := range own.values {
		own.values[i] = tape.Missing
	}
	switch i := slices.IndexFunc(c.model.Quantities, func(q *Quantity) bool { return q.With == name }); {
	case head == "class":
		own.unit, _ = units.Parse("%")
	case col.sheet.Columns[col.index].Unit.Blank() && i >= 0:
		own.unit = c.model.Quantities[i].Unit.Difference()
	}
	cell := placeIn(col.sheet, col.sheet.Cases[row].Cells[col.index])
	if v, err := units.ParseValue(cell.cell.Text); err == nil {
		if v.HasUnit {
			own.unit = v.Unit
		}
		own.values[row] = own.unit.DiffToSI(v.Number)
	} else if !cell.cell.Blank() {
		c.report(cell.problem(span{err.From, err.To}, err.Message, err.Hint))
	}
	own.typ = typeOf(own.unit)
	own.typ.Point = false
	if c.gaugeCells == nil {
		c.gaugeCells = map[gaugeCellKey]*column{}
	}
	c.gaugeCells[key] = &own
	return &own
}

type gaugeCellKey struct {
	gauge  string
	column *column
}
