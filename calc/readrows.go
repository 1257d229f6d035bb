package calc

import (
	"fmt"
	"math"
	"strings"

	"rambook/sheets"
	"rambook/units"
	"rambook/units/cores"
	"rambook/units/words"
)

// rowsOf counts the rows of all sheets of quantities.
func rowsOf(book *sheets.Notebook) (rows int) {
	for _, s := range book.Sheets {
		rows += len(s.Rows)
	}
	return rows
}

// stretch is some rows of a sheet, which are read by themselves.
type stretch struct {
	compiler   // of these rows alone
	sheet      *sheets.Sheet
	rows       []sheets.Row
	quantities []Quantity // one for each row
}

// rowsAtOnce is how many rows a stretch has: few enough for both cores to end together, and
// enough for units to be read once for several.
const rowsAtOnce = 32

// readRows makes the quantities of a notebook, a stretch at a time on every core. What
// one row has to do with another comes afterwards, in the order of the sheets.
func (c *compiler) readRows(book *sheets.Notebook, sets map[string]*replacement) {
	var stretches []*stretch
	for _, s := range book.Sheets {
		for i := 0; i < len(s.Rows); i += rowsAtOnce {
			stretches = append(stretches, &stretch{sheet: s, rows: s.Rows[i:min(i+rowsAtOnce, len(s.Rows))]})
		}
	}
	cores.Each(len(stretches), func(i int) {
		st := stretches[i]
		st.model, st.units = &Model{Book: book}, map[string]units.Unit{}
		st.quantities = make([]Quantity, len(st.rows)) // together, since there may be many
		for k := range st.quantities {
			st.readRow(&st.quantities[k], st.sheet, &st.rows[k], sets)
		}
	})
	for _, st := range stretches {
		c.problems, c.formulas = append(c.problems, st.problems...), append(c.formulas, st.formulas...)
		c.model.setAside = append(c.model.setAside, st.model.setAside...)
		for k := range st.quantities {
			c.enter(&st.quantities[k])
		}
	}
}

// enter makes a quantity that has been read one of the model.
func (c *compiler) enter(q *Quantity) {
	q.index = len(c.model.Quantities)
	c.model.Quantities = append(c.model.Quantities, q)
	if q.entry.kind == textEntry {
		q.entry.value = c.model.textIndex(q.entry.cell.Text)
	}
	if first, taken := c.model.byName[q.Name]; taken {
		c.report(placeIn(q.Sheet, q.Row.Name).fault(
			fmt.Sprintf("%s stands already in %s, line %d", q.Name, first.Sheet.File, first.Row.Name.Line),
			"a name is used once in the whole notebook; rename one of the two"))
	} else if mayStand(q.Name) { // formulas mean the row, whatever else it is
		c.model.byName[q.Name] = q
	}
}

// readRow reads one row into a quantity.
func (c *compiler) readRow(q *Quantity, s *sheets.Sheet, row *sheets.Row, sets map[string]*replacement) {
	*q = unread
	q.Name, q.Sheet, q.Row = row.Name.Text, s, row
	var u units.Unit
	ok := !row.Overlong // else its cells may stand in the wrong columns, and that is reported already
	if ok {
		u, ok = c.unitOf(placeIn(s, row.Unit))
	}
	named := c.checkName(placeIn(s, row.Name), u.Dim)
	q.Unit, q.typ = u, typeOf(u)
	if !ok {
		q.typ = unknownType
	}
	if row.Overlong {
		return
	}
	if !ok {
		if ReadsAsFormula(row.Entry.Text) { // its own mistakes are still reported
			q.entry = c.read(placeIn(s, row.Entry), units.Unit{}, entryRole)
		}
		return
	}
	q.entry = c.read(placeIn(s, row.Entry), u, entryRole)
	if r := sets[q.Name]; r != nil && named && r.row == row {
		c.replace(q, r)
	}
	if q.entry.formula != nil {
		q.Formula = q.entry.formula.text
	} else if q.entry.kind == numberEntry {
		q.typ.Point = q.entry.typ.Point
	}
	c.readJudgement(q)
}

// readJudgement reads what a row says besides its entry.
func (c *compiler) readJudgement(q *Quantity) {
	s, row := q.Sheet, q.Row
	q.Example, q.With = row.Example.Text, row.With.Text
	if !row.Example.Blank() && row.Example != row.Entry { // which may have been filled with it
		c.read(placeIn(s, row.Example), q.Unit, exampleRole)
	}
	c.readUse(q)
	if q.Unit.Kind >= units.Text {
		for _, cell := range []sheets.Cell{row.Reading, row.Spread, row.Doubt, row.Low, row.High} {
			if !cell.Blank() {
				c.report(placeIn(s, cell).fault("a "+q.Unit.Symbol+" has no reading, spread or limits",
					"leave the cell blank"))
			}
		}
		if q.IsTick() {
			q.low = &entry{kind: numberEntry, value: 1, typed: math.NaN()} // what is not done fails
		}
		return
	}
	reading := readingRole
	reading.literal = !c.hasPhases() // with them, a reading may be taken from the log
	if at := placeIn(s, row.Reading); !c.readsPhaseAside(at.cell.Text) {
		q.reading = c.read(at, q.Unit, reading).kept()
	}
	q.spread = c.read(placeIn(s, row.Spread), q.Unit, spreadRole).kept()
	if q.doubt = c.read(placeIn(s, row.Doubt), q.Unit, doubtRole).kept(); q.doubt.kind != blankEntry && !q.IsFormula() {
		c.report(placeIn(s, row.Doubt).fault("the column doubt is for formulas, and "+q.Name+" is none",
			"write how far the number may be off into the column spread"))
	}
	if q.IsAssumed() { // the row's own spread is that of a number of this machine
		at := placeIn(s, row.Entry)
		at.cell.Text = q.entry.assumed
		q.spread = c.read(at, q.Unit, spreadRole).kept()
	}
	q.bounds = c.readBounds(placeIn(s, row.Low), placeIn(s, row.High), q.Unit)
}

// readUse reads whether formulas go on with the reading of a row.
func (c *compiler) readUse(q *Quantity) {
	cell := q.Row.Use
	switch at := placeIn(q.Sheet, cell); {
	case cell.Blank():
	case !strings.EqualFold(cell.Text, "reading"):
		c.report(at.fault("`use` holds `reading` or nothing, found "+words.Quoted(cell.Text),
			"leave it blank to go on with the computed value"))
	case q.entry.kind != formulaEntry:
		c.report(at.fault("only a formula has a reading to use in its place", "leave the cell blank"))
	default:
		q.use = true
	}
}

// readBounds reads two limits, and refuses those that no value can keep.
func (c *compiler) readBounds(low, high place, u units.Unit) bounds {
	b := noBounds
	b.low, b.high = c.read(low, u, lowRole).kept(), c.read(high, u, highRole).kept()
	if b.low.kind == numberEntry && b.high.kind == numberEntry && b.low.value > b.high.value {
		c.report(b.low.fault(fmt.Sprintf("low %s is above high %s", b.low.cell.Text, b.high.cell.Text), "correct one"))
	}
	return b
}
