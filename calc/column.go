package calc

import (
	"fmt"
	"math"
	"strings"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// column is one column of a case sheet after the first.
type column struct {
	sheet    *sheets.Sheet
	index    int // in sheet.Columns
	name     string
	unit     units.Unit
	typ      function.Type
	quantity *Quantity // the quantity that the column is named like, or nil
	asks     bool      // that quantity is a formula

	spread entry  // of its cells, read when a look-up uses the column
	looked bool   // a look-up uses it
	dropBy string // what reads the whole column without its spread
	loaded bool
	values []float64 // SI, one per case; tape.Missing for a blank cell
	typed  []float64 // the same in the column's unit, as they stand in the cells; NaN for others
}

// exact is [entry.exact] for the cell of a case.
func (col *column) exact(i int, x float64) float64 {
	if i < len(col.typed) && Has(col.typed[i]) && Has(x) {
		return col.typed[i]
	}
	return x
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
	before := len(c.problems)
	for i := range col.sheet.Cases {
		cell := col.sheet.Cases[i].Cells[col.index]
		col.values[i], col.typed[i] = tape.Missing, math.NaN()
		e := c.read(placeIn(col.sheet, cell), col.unit, cellRole)
		if e.kind != blankEntry {
			col.values[i] = e.value
		}
		if e.kind == numberEntry {
			col.typed[i] = e.typed
		}
	}
	if user != nil && user.sheet != nil && len(c.problems) > before {
		where := fmt.Sprintf("column %s is read as numbers by the formula in %s, line %d", col.name, user.sheet.File, user.cell.Line)
		for i := before; i < len(c.problems); i++ {
			c.problems[i].Hint = strings.TrimPrefix(c.problems[i].Hint+"; "+where, "; ")
		}
	}
}

// loadSpread reads the spread of a column's cells, for what carries it.
func (c *compiler) loadSpread(col *column) {
	if col.looked {
		return
	}
	col.looked = true
	if col.quantity == nil && col.typ.Sort == function.Number {
		col.spread = c.readSpread(col)
	}
}

// readSpread reads the spread that a column states for its cells.
func (c *compiler) readSpread(col *column) entry {
	at := placeIn(col.sheet, col.sheet.Columns[col.index].Spread)
	return c.read(at, col.unit, role{what: "spread", difference: true, literal: true})
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
			whole = whole && i < len(col.values) && !tape.IsMissing(col.values[i])
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
		if tape.IsMissing(v) {
			continue
		}
		if v <= last {
			cell := col.sheet.Cases[i].Cells[col.index]
			c.report(placeIn(col.sheet, cell).fault(
				fmt.Sprintf("%s does not increase here, and a curve needs it to", col.name), "sort the rows, and drop doubles"))
			return
		}
		last = v
	}
}
