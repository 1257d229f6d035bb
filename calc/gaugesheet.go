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

// gaugeColumns are the columns of the sheet that mean something here; others are
// remarks.
var gaugeColumns = []string{"class", "span", "step", "spread", "serial", "calibrated", "due"}

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
			if c.model.Book.IsAside(GaugeSheet) { // the gauges are n/a, and the row is like one without any
				continue
			}
			if c.unproven(q); !warned {
				c.warn(at.fault("there is no sheet "+GaugeSheet+", so nothing is known of "+words.Quoted(q.With)+
					", and no answer that rests on it passes",
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
		if g.unproven(q); !gauge.warned && q.unproven && g.isRead(q) {
			gauge.warned = true
			g.warn(placeIn(g.sheet, gauge.Row.Name).fault(
				"the error of "+gauge.Name+" is not known, so no answer that rests on what it read passes",
				"write its class and span, or its spread"))
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

// unproven notes a row that names a gauge of unknown error, unless it states a spread.
func (c *compiler) unproven(q *Quantity) {
	if q.spread.kind == blankEntry && q.Unit.Kind <= units.Point {
		q.unproven, c.model.unproven = true, append(c.model.unproven, q)
	}
}

// isRead reports whether a row has a number that its gauge has shown, there or in a case.
func (c *compiler) isRead(q *Quantity) bool {
	in := func(col *column) bool { return col.quantity == q && cellsIn(col.sheet, col.index) > 0 }
	return q.hasReading() || !q.IsFormula() && q.isGiven() || slices.ContainsFunc(c.model.caseSheets,
		func(cs *caseSheet) bool { return slices.ContainsFunc(c.model.tables[cs.sheet.Name].columns, in) })
}

// states is what a gauge's row states of how sure it is, "" if that is nothing.
func (gauge *Gauge) states(g *gaugeReader) string {
	var all string
	for _, column := range []string{"class", "step", "spread"} {
		if k, known := g.columns[column]; known {
			all += gauge.Row.Cells[k].Text
		}
	}
	return all
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
