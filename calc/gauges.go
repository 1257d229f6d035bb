package calc

import (
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
//
//go:noinline
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
//
//go:noinline
func (q *Quantity) truth() tape.Register {
	if q.isGauged() && !q.IsFormula() {
		return q.passed
	}
	return q.value
}

// shownAt is the register that a reading is set against: what is computed, with
// the error of the gauge that it was read with.
//
//go:noinline
func (q *Quantity) shownAt() tape.Register {
	if q.isGauged() && q.IsFormula() {
		return q.shown
	}
	return q.value
}

// isUnstated reports whether a name is that of a gauge's error, and the gauge's
// row has nothing yet on how sure it is.
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

// Describe is a line on what a gauge is, as far as the sheet states it.
//
//go:noinline
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
//
//go:noinline
func (q *Quantity) IsGauge() bool { return strings.Contains(q.Name, " ") }

// ListedIn is the sheet whose cases are to give a quantity each its own value, nil
// if there is none. While it has no cases the examples tell: those stand in its lines
// then, and not in the row. What has dates is of one machine, whose row goes first.
func (m *Model) ListedIn(q *Quantity) *sheets.Sheet {
	for _, sheet := range m.Book.Sheets {
		if sheet.Kind == sheets.Cases && slices.ContainsFunc(sheet.Columns,
			func(col sheets.Column) bool { return col.Name.Text == q.Name }) &&
			m.dates(sheet) == nil &&
			(len(sheet.Cases) > 0 || q.Example == "" && sheet.FirstExample(q.Name) != "") {
			return sheet
		}
	}
	return nil
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
