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

// caseSheet is a list of runs of the model: a case sheet of the notebook, or
// cases put together for one command.
type caseSheet struct {
	sheet *sheets.Sheet
	// what is asked of each case; of a notebook's sheet the columns named like a formula, in column order
	asked []*judgedColumn
	given []*givenColumn // columns named like a given

	limited []*judgedColumn // the givens among them that have limits

	scatters []scattered
	row      []tape.Register // of the number of the case's own row, where a running sum needs it
	starts   *column         // of cycles: when each began
}

// judgedColumn is a quantity that is judged case by case: a formula that a
// column of the sheet asks for, or a given with limits that one replaces.
type judgedColumn struct {
	quantity *Quantity
	unit     units.Unit // of the column

	column   *column      // its values are readings; tape.Missing where none is given
	given    *givenColumn // of a given: what replaces it
	spread   entry        // the sheet's own, and so are the bounds; blank means the model's
	spreadAt tape.Register
	bounds

	scattered bool // spreadAt has what repeated runs in the cells show

	beside  bool // no column is for it: it is judged since its limits depend on what the cases change
	unknown bool // it is open or fails in the model itself, and is reported there
}

// givenColumn is a column of a case sheet that replaces a given, case by case.
type givenColumn struct {
	quantity *Quantity
	unit     units.Unit

	column   *column
	spread   entry
	spreadAt tape.Register
	kept     *keptGiven // nil if no aggregate reads a blank cell of it
}

// input is what the column replaces: the given, or the reading that formulas go
// on with in place of what is computed.
func (g *givenColumn) input() tape.Register { return g.quantity.input() }

// readCases reads the columns of a case sheet.
func (c *compiler) readCases(s *sheets.Sheet) {
	t := &table{sheet: s}
	c.model.tables[s.Name] = t
	c.checkKeys(s)
	cs := &caseSheet{sheet: s}
	for i := range s.Columns {
		col, sound := c.readColumn(s, i)
		t.columns = append(t.columns, col)
		switch {
		case col.quantity == nil:
			c.warnUnusedLimits(s, &s.Columns[i])
		case sound:
			c.useColumn(cs, col)
		}
	}
	if len(cs.asked) > 0 && !c.joinsCycles(s) {
		c.model.caseSheets = append(c.model.caseSheets, cs)
	}
}

// readColumn reads the head of a column. It is not sound if its unit cannot be
// read or does not suit the quantity that the column is named like.
func (c *compiler) readColumn(s *sheets.Sheet, index int) (col *column, sound bool) {
	head := &s.Columns[index]
	q := c.model.byName[head.Name.Text]
	if s.Name == GaugeSheet {
		q = nil // its columns are about the gauges, whatever else has such a name
	}
	col = &column{sheet: s, index: index, name: head.Name.Text, quantity: q}
	unit, sound := c.unitOf(placeIn(s, head.Unit))
	switch {
	case !sound:
		unit, col.loaded = units.Unit{}, true
		col.values = make([]float64, len(s.Cases))
	case q == nil:
	case head.Unit.Blank():
		unit = q.Unit
	case q.IsVerdict():
		c.report(placeIn(s, head.Name).fault(q.Name+" is a verdict, and no case has one of its own",
			"give the column another name"))
		sound = false
	case typeOf(unit).Dim != typeOf(q.Unit).Dim || (unit.Kind == units.Text) != q.IsText() ||
		(unit.Kind == units.Tick) != q.IsTick():
		c.report(placeIn(s, head.Unit).fault(
			fmt.Sprintf("column %s is %s, but the quantity of that name %s", col.name,
				function.WithArticle(typeOf(unit)), isIn(q.Unit)),
			"correct the unit, or give the column another name"))
		sound = false
	}
	col.unit, col.typ = unit, typeOf(unit)
	if q != nil && q.IsText() && q.IsFormula() && cellsIn(s, index) > 0 {
		col.quantity = nil // no reading stands against a text: these are what the formula looks up
	}
	// A column that asks for what is set aside asks for nothing.
	col.absent = q == nil && c.model.aside[col.name] != nil &&
		!slices.ContainsFunc(s.Cases, func(r sheets.CaseRow) bool { return !r.Cells[index].Blank() })
	return col, sound
}

// useColumn reads what a column does to the runs of the model: it asks for a
// formula, or replaces a given, which may be judged as well.
func (c *compiler) useColumn(cs *caseSheet, col *column) {
	s, q := cs.sheet, col.quantity
	head := &s.Columns[col.index]
	col.typ.Point = q.typ.Point || col.unit.Kind == units.Point
	c.load(col, nil)
	if q.IsFormula() {
		col.asks = true
		cs.asked = append(cs.asked, &judgedColumn{quantity: q, unit: col.unit, column: col,
			spread:   c.read(placeIn(s, head.Spread), col.unit, spreadRole),
			spreadAt: tape.None, bounds: c.readBounds(placeIn(s, head.Low), placeIn(s, head.High), col.unit)})
		if q.use {
			cs.given = append(cs.given, &givenColumn{quantity: q, unit: col.unit, column: col, spreadAt: tape.None,
				spread: c.read(placeIn(s, head.Spread), col.unit, spreadRole)})
		}
		return
	}
	g := &givenColumn{quantity: q, unit: col.unit, column: col, spreadAt: tape.None}
	cs.given = append(cs.given, g)
	if q.IsText() {
		return
	}
	g.spread = c.read(placeIn(s, head.Spread), col.unit, spreadRole)
	a := cs.asking(q, col)
	a.bounds = c.readBounds(placeIn(s, head.Low), placeIn(s, head.High), col.unit)
	if a.limited() {
		cs.limited = append(cs.limited, a)
	}
}

// asking finds what a sheet asks of a quantity, or asks it. col is the sheet's
// column of that name, nil if there is none.
func (cs *caseSheet) asking(q *Quantity, col *column) *judgedColumn {
	for _, a := range cs.judged() {
		if a.quantity == q {
			return a
		}
	}
	a := &judgedColumn{quantity: q, unit: q.Unit, column: cs.blankColumn(), spreadAt: tape.None, bounds: noBounds}
	if col != nil {
		a.unit = col.unit
	}
	for _, g := range cs.given {
		if g.quantity == q && !q.IsFormula() {
			a.given = g
		}
	}
	return a
}

// blankColumn is a column without a reading.
func (cs *caseSheet) blankColumn() *column {
	blank := &column{sheet: cs.sheet, values: make([]float64, len(cs.sheet.Cases))}
	for i := range blank.values {
		blank.values[i] = tape.Missing
	}
	return blank
}

// changedBy marks what the cases of a sheet change. The cells that aggregates
// read in its rows are the same in every case.
func (m *Model) changedBy(cs *caseSheet) []bool { return m.tape.ReachedPast(cs.inputs(), m.still(cs)) }

// beside lists the quantities that no column is for and that have a limit which
// depends on what the cases change: a case is judged by these as well. changed is
// what differs from case to case.
func (m *Model) beside(cs *caseSheet, changed []bool) []*judgedColumn {
	depends := func(r tape.Register) bool { return r != tape.None && changed[r] }
	judged := map[*Quantity]bool{}
	for _, a := range cs.judged() {
		judged[a.quantity] = true
	}
	var list []*judgedColumn
	var blank *column
	for _, q := range m.Quantities {
		if judged[q] || !q.hasLow() && !q.hasHigh() || !depends(q.value) && !depends(q.lowAt) && !depends(q.highAt) {
			continue
		}
		if blank == nil {
			blank = cs.blankColumn()
		}
		list = append(list, &judgedColumn{quantity: q, unit: q.Unit, column: blank, spreadAt: tape.None,
			bounds: noBounds, beside: true})
	}
	return list
}

// exact gives the numbers of a case that stand in cells as they were typed, as
// [entry.exact] does.
func (a *judgedColumn) exact(out *Judged, i int) {
	q := a.quantity
	sameUnit := a.unit.Symbol == q.Unit.Symbol
	typed := func(own, models *entry, x float64) float64 {
		switch {
		case own.kind != blankEntry:
			return own.exact(x)
		case sameUnit:
			return models.exact(x)
		}
		return x
	}
	out.Low, out.High = typed(a.low, q.low, out.Low), typed(a.high, q.high, out.High)
	switch {
	case a.given == nil:
		out.Reading = a.column.exact(i, out.Reading)
		if a.column.scatter == nil || a.column.scatter[i] == 0 {
			out.ReadingSpread = typed(&a.spread, q.spread, out.ReadingSpread)
		}
		return
	case !tape.IsMissing(a.given.column.values[i]):
		out.Value = a.given.column.exact(i, out.Value)
	case sameUnit:
		out.Value = q.entry.exact(out.Value)
	}
	if scatter := a.given.column.scatter; scatter == nil || scatter[i] == 0 {
		out.Spread = typed(&a.given.spread, q.spread, out.Spread)
	}
}

// judged lists all that is judged case by case: what the sheet asks for, and
// the givens it replaces that have limits.
func (cs *caseSheet) judged() []*judgedColumn {
	return append(cs.asked[:len(cs.asked):len(cs.asked)], cs.limited...)
}

// limited reports whether the sheet or the model states a limit.
//
//go:noinline
func (a *judgedColumn) limited() bool {
	low, high := a.limits()
	return low || high
}

// checkKeys demands that every case has a name of its own.
func (c *compiler) checkKeys(s *sheets.Sheet) {
	first := make(map[string]int32, len(s.Cases))
	for i := range s.Cases {
		name := s.Cases[i].Name
		line, taken := first[name.Text]
		if taken {
			c.report(placeIn(s, name).fault(fmt.Sprintf("%s stands already in line %d", name.Text, line),
				"a case's name is used once in its sheet; rename one of the two"))
			continue
		}
		first[name.Text] = name.Line
	}
}

// warnUnusedLimits warns of limits over a column that is only data.
func (c *compiler) warnUnusedLimits(s *sheets.Sheet, head *sheets.Column) {
	for _, cell := range []sheets.Cell{head.Low, head.High} {
		if !cell.Blank() {
			c.warn(placeIn(s, cell).fault(
				"column "+words.Quoted(head.Name.Text)+" is not named like a quantity, so this is not used",
				"name the column like the quantity it belongs to"))
		}
	}
}

// nearMisses warns of headers of data that were meant to be a quantity's name.
// Where no formula reads the column it may be there for its trend.
func (m *Model) nearMisses() (warnings []sheets.Problem) {
	if len(m.tables) == 0 {
		return nil // a long notebook without case sheets need not wait
	}
	known := m.namesAtLarge()
	for _, s := range m.Book.Sheets {
		t := m.tables[s.Name]
		if t == nil || s.Name == GaugeSheet {
			continue
		}
		for _, col := range t.columns {
			if col.quantity != nil || col.loaded { // what a formula reads is data indeed
				continue
			}
			header := s.Columns[col.index].Name
			if hint := m.nearMiss(header.Text, col, known); hint != "" {
				warnings = append(warnings, placeIn(s, header).fault("column "+words.Quoted(header.Text)+
					" is taken for data, since no quantity has that name", hint))
			}
		}
	}
	return warnings
}

// namesAtLarge finds quantities by their names at large.
func (m *Model) namesAtLarge() map[string]*Quantity {
	known := make(map[string]*Quantity, len(m.Quantities))
	for _, q := range m.Quantities {
		known[atLarge(q.Name)] = q
	}
	return known
}

// atLarge is a name without what people write in one way or another: capitals,
// blanks, underscores and hyphens.
func atLarge(name string) string { return strings.ToLower(joints.Replace(name)) }

var joints = strings.NewReplacer(" ", "", "_", "", "-", "")

// nearMiss is what to do about a header of data that is nearly a quantity's name, or
// is one with a unit behind it; "" for others. Other remarks may be called what they like,
// and so may what is in a unit that the quantity cannot have.
func (m *Model) nearMiss(header string, col *column, known map[string]*Quantity) string {
	if q, unit := nameWithUnit(header, known); q != nil {
		return "name the column " + words.Quoted(q.Name) + ", and write " + unit + " below it in the row :unit"
	}
	if len(header) < 3 {
		return ""
	}
	if q := known[atLarge(header)]; q != nil && col.mayBe(q) {
		return "did you mean " + words.Quoted(q.Name) + "?"
	}
	for _, q := range m.Quantities {
		if words.OneSlip(header, q.Name) && !words.Siblings(header, q.Name) && col.mayBe(q) {
			return "did you mean " + words.Quoted(q.Name) + "?"
		}
	}
	return ""
}

// mayBe reports whether the unit written below a header is one that a quantity
// can be in. A blank one says nothing against it.
func (col *column) mayBe(q *Quantity) bool {
	if col.sheet.Columns[col.index].Unit.Blank() {
		return true
	}
	special := func(k units.Kind) bool { return k > units.Point }
	return typeOf(col.unit).Dim == typeOf(q.Unit).Dim &&
		(col.unit.Kind == q.Unit.Kind || !special(col.unit.Kind) && !special(q.Unit.Kind))
}

// nameWithUnit finds the quantity and the unit in a header such as `bore (mm)`,
// `bore_mm` or `bore in mm`. A unit of another dimension makes it something
// else, such as the voltage of a pressure gauge.
func nameWithUnit(header string, known map[string]*Quantity) (q *Quantity, unit string) {
	for i, r := range header {
		if !strings.ContainsRune(" ,_/([", r) {
			continue
		}
		q := known[atLarge(header[:i])]
		if q == nil {
			continue
		}
		unit := strings.TrimPrefix(strings.TrimLeft(header[i:], " ,_/"), "in ")
		for _, brackets := range []string{"()", "[]"} {
			if inner, opened := strings.CutPrefix(unit, brackets[:1]); opened {
				unit = strings.TrimSuffix(inner, brackets[1:])
			}
		}
		u, err := units.Parse(strings.TrimSpace(unit))
		if err == nil && u.Symbol != "" && u.Kind <= units.Point && u.Dim == q.Unit.Dim {
			return q, u.Symbol
		}
	}
	return nil, ""
}

// column is one column of a case sheet after the first.
type column struct {
	sheet    *sheets.Sheet
	index    int // in sheet.Columns
	name     string
	unit     units.Unit
	typ      function.Type
	quantity *Quantity // the quantity that the column is named like, or nil
	asks     bool      // that quantity is a formula

	spread   entry // of its cells, read when a look-up uses the column
	looked   bool  // a look-up uses it
	loaded   bool
	absent   bool      // its sheet is set aside
	values   []float64 // SI, one per case; tape.Missing for a blank cell
	scatter  []float64 // of repeated runs in the cells, SI; nil if there are none
	gaugedAs *Quantity // of the runs of a row: the row, if it is read with a gauge
	typed    []float64 // the same in the column's unit, as they stand in the cells; NaN for others
}

// exact is [entry.exact] for the cell of a case.
func (col *column) exact(i int, x float64) float64 {
	if i < len(col.typed) && Has(col.typed[i]) && Has(x) {
		return col.typed[i]
	}
	return x
}

// has reports whether there is something in the cell of a case: it is neither blank nor n/a.
func (col *column) has(i int) bool {
	return !tape.IsMissing(col.values[i]) && !tape.IsAbsent(col.values[i])
}

// table is a case sheet as a thing to look things up in.
type table struct {
	sheet   *sheets.Sheet
	columns []*column
}

// column finds a column by name, nil if there is none.
func (t *table) column(name string) *column {
	for _, col := range t.columns {
		if col.name == name {
			return col
		}
	}
	return nil
}

// names lists the columns.
func (t *table) names() []string {
	var names []string
	for _, col := range t.columns {
		names = append(names, col.name)
	}
	return names
}

// load reads the cells of a column. Cells of data columns are read only when
// something uses them, so that remarks may say what they like.
// user is the formula that reads a column of data, nil for others.
func (c *compiler) load(col *column, user *formula) {
	if col.loaded {
		return
	}
	col.loaded = true
	col.values, col.typed = make([]float64, len(col.sheet.Cases)), make([]float64, len(col.sheet.Cases))
	before, role := len(c.problems), cellRole
	role.absent = col.unit.Kind != units.Text && (col.quantity == nil || !col.quantity.IsFormula()) // a text may mean it
	for i := range col.sheet.Cases {
		cell := col.sheet.Cases[i].Cells[col.index]
		col.values[i], col.typed[i] = tape.Missing, math.NaN()
		e := c.read(placeIn(col.sheet, cell), col.unit, role)
		switch e.kind {
		case blankEntry:
		case textEntry:
			col.values[i] = c.model.textIndex(cell.Text)
		case absentEntry:
			col.values[i] = tape.Absent
		default:
			col.values[i] = e.value
		}
		if e.scatter > 0 {
			if col.scatter == nil {
				col.scatter = make([]float64, len(col.sheet.Cases))
			}
			col.scatter[i] = e.scatter
		}
		if e.kind == numberEntry {
			col.typed[i] = e.typed
		}
	}
	if user != nil && user.sheet != nil && len(c.problems) > before {
		where := fmt.Sprintf("column %s is read as numbers by the formula in %s, line %d", col.name, user.sheet.File,
			user.cell.Line)
		for i := before; i < len(c.problems); i++ {
			c.problems[i].Hint = strings.TrimPrefix(c.problems[i].Hint+"; "+where, "; ")
		}
	}
}

// cellsIn counts the cells of a column that are not blank.
func cellsIn(s *sheets.Sheet, column int) (n int) {
	for i := range s.Cases {
		if !s.Cases[i].Cells[column].Blank() {
			n++
		}
	}
	return n
}

// forgotText makes one problem of those of a column of texts that has no unit
// `text`: not one of its cells can be read as a number. What uses it goes on with a
// column of texts.
func (c *compiler) forgotText(col *column, before int) {
	head := &col.sheet.Columns[col.index]
	if n := len(c.problems) - before; n == 0 || n < cellsIn(col.sheet, col.index) || !head.Unit.Blank() ||
		col.quantity != nil {
		return
	}
	p := c.problems[before]
	p.Message += fmt.Sprintf(": no cell of the column %s is a number", words.Quoted(col.name))
	p.Hint = "if these are texts write `text` below the header, in the row :unit"
	c.problems = append(c.problems[:before], p)
	col.unit = units.Unit{Symbol: "text", Kind: units.Text}
	col.typ = textType
}

// own is a column as the compiler's model has it.
//
//go:noinline
func (c *compiler) own(col *column) *column {
	columns := c.model.tables[col.sheet.Name].columns
	return columns[slices.IndexFunc(columns, func(o *column) bool { return o.index == col.index })]
}

// loadSpread reads the spread of a column's cells, for what carries it. A given
// that the column replaces keeps its own spread where the sheet states none.
func (c *compiler) loadSpread(col *column) {
	if col.looked {
		return
	}
	col.looked = true
	if col.typ.Sort != function.Number || col.asks {
		return
	}
	col.spread = c.readSpread(col)
	if q := col.quantity; q != nil && col.spread.kind == blankEntry {
		col.spread = *q.spread
	}
}

// isGauged reports whether the cells of a column that replaces a given are read
// with a gauge, and have its error in common.
func (col *column) isGauged() bool {
	return col.gaugedAs != nil || col.quantity != nil && col.quantity.isGauged() &&
		col.sheet.Columns[col.index].Spread.Blank()
}

// readSpread reads the spread that a column states for its cells.
func (c *compiler) readSpread(col *column) entry {
	at := placeIn(col.sheet, col.sheet.Columns[col.index].Spread)
	return c.read(at, col.unit, role{what: "spread", difference: true, literal: col.quantity == nil})
}

// spreadOf is the spread, SI, that a cell with a number or a share states for a
// value.
func (e *entry) spreadOf(v float64) float64 {
	if e.kind == percentEntry {
		return e.value * math.Abs(v)
	}
	return e.value
}

// complete keeps of several columns the rows in which every one has a value.
// A column by itself keeps its cells that are not blank.
func complete(columns []*column) []function.Column {
	kept := make([]function.Column, len(columns))
	for j, col := range columns {
		kept[j] = function.Column{Name: col.name, Unit: col.unit}
	}
	if len(columns) == 0 {
		return nil
	}
	for i := range columns[0].values {
		whole := true
		for _, col := range columns {
			whole = whole && i < len(col.values) && col.has(i)
		}
		if !whole {
			continue
		}
		for j, col := range columns {
			kept[j].Values = append(kept[j].Values, col.values[i])
		}
	}
	return kept
}

// checkRising demands that a curve's x values increase, and reports the first that does not.
func (c *compiler) checkRising(col *column) {
	last := tape.Missing
	for i, v := range col.values {
		if !col.has(i) {
			continue
		}
		if v <= last {
			cell := col.sheet.Cases[i].Cells[col.index]
			c.report(placeIn(col.sheet, cell).fault(
				fmt.Sprintf("%s does not increase here, and a curve needs it to", col.name),
				"sort the rows, and drop doubles"))
			return
		}
		last = v
	}
}
