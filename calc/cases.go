package calc

import (
	"fmt"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// caseSheet is a case sheet that asks for at least one formula: a list of
// runs of the model.
type caseSheet struct {
	sheet *sheets.Sheet
	asked []*askedColumn // columns named like a formula, in column order
	given []*givenColumn // columns named like a given

	limited []*askedColumn // the givens among them that have limits, to be judged case by case
}

// askedColumn is a column of a case sheet that asks for a formula, case by case.
type askedColumn struct {
	quantity *Quantity
	unit     units.Unit // of the column

	column   *column // its values are readings; tape.Missing where none is given
	spread   entry   // the sheet's own, and so are the bounds; blank means the model's
	spreadAt tape.Register
	bounds
}

// givenColumn is a column of a case sheet that replaces a given, case by case.
type givenColumn struct {
	quantity *Quantity
	unit     units.Unit

	column   *column
	spread   entry
	spreadAt tape.Register
}

// readCases reads the columns of a case sheet.
func (c *compiler) readCases(s *sheets.Sheet) {
	t := &table{sheet: s}
	c.model.tables[s.Name] = t
	c.checkKeys(s)
	cs := &caseSheet{sheet: s}
	for i := range s.Columns {
		head := &s.Columns[i]
		col := &column{sheet: s, index: i, name: head.Name.Text, quantity: c.model.byName[head.Name.Text]}
		t.columns = append(t.columns, col)
		unit, ok := c.unitOf(placeIn(s, head.Unit))
		if !ok {
			unit, col.loaded = units.Unit{}, true
			col.values = make([]float64, len(s.Cases))
		}
		q := col.quantity
		if q != nil && ok {
			if head.Unit.Blank() {
				unit = q.Unit
			} else if typeOf(unit).Dim != typeOf(q.Unit).Dim || (unit.Kind == units.Text) != q.IsText() {
				c.report(placeIn(s, head.Unit).fault(
					fmt.Sprintf("column %s is %s, but the quantity of that name %s", col.name, function.WithArticle(typeOf(unit)), isIn(q.Unit)),
					"correct the unit, or give the column another name"))
				ok = false
			}
		}
		col.unit, col.typ = unit, typeOf(unit)
		if !ok || q == nil {
			if q == nil {
				c.warnNearMiss(placeIn(s, head.Name))
				c.refuseHeadRows(s, head)
			}
			continue
		}
		col.typ.Point = q.typ.Point || unit.Kind == units.Point
		c.load(col, nil)
		if q.IsFormula() {
			col.asks = true
			a := &askedColumn{quantity: q, unit: unit, column: col,
				spread:   c.read(placeIn(s, head.Spread), unit, spreadRole),
				spreadAt: tape.None, bounds: c.readBounds(placeIn(s, head.Low), placeIn(s, head.High), unit)}
			cs.asked = append(cs.asked, a)
			continue
		}
		g := &givenColumn{quantity: q, unit: unit, column: col, spreadAt: tape.None}
		if !q.IsText() {
			g.spread = c.read(placeIn(s, head.Spread), unit, spreadRole)
		}
		cs.given = append(cs.given, g)
		if !q.IsText() {
			a := cs.asking(q, col)
			a.bounds = c.readBounds(placeIn(s, head.Low), placeIn(s, head.High), unit)
			if a.limited() {
				cs.limited = append(cs.limited, a)
			}
		}
	}
	if len(cs.asked) > 0 {
		c.model.caseSheets = append(c.model.caseSheets, cs)
	}
}

// judged lists all that is judged case by case: what the sheet asks for, and
// the givens it replaces that have limits.
func (cs *caseSheet) judged() []*askedColumn {
	return append(cs.asked[:len(cs.asked):len(cs.asked)], cs.limited...)
}

// limited reports whether the sheet or the model states a limit.
func (a *askedColumn) limited() bool {
	return a.hasLow() || a.hasHigh() || a.quantity.hasLow() || a.quantity.hasHigh()
}

// checkKeys demands that every case has a name of its own.
func (c *compiler) checkKeys(s *sheets.Sheet) {
	first := make(map[string]int, len(s.Cases))
	for i := range s.Cases {
		name := s.Cases[i].Name
		line, taken := first[name.Text]
		if taken {
			c.report(placeIn(s, name).fault(fmt.Sprintf("%s stands already in line %d", name.Text, line), "a case's name is used once in its sheet; rename one of the two"))
			continue
		}
		first[name.Text] = name.Line
	}
}

// refuseHeadRows warns of limits over a column that is only data.
func (c *compiler) refuseHeadRows(s *sheets.Sheet, head *sheets.Column) {
	for _, cell := range []sheets.Cell{head.Low, head.High} {
		if !cell.Blank() {
			c.warn(placeIn(s, cell).fault("column "+quoted(head.Name.Text)+" is not named like a quantity, so this is not used", "name the column like the quantity it belongs to"))
		}
	}
}

// warnNearMiss warns of a column that is one typing slip away from a quantity.
func (c *compiler) warnNearMiss(p place) {
	name := p.cell.Text
	if len(name) < 3 {
		return
	}
	for _, q := range c.model.Quantities {
		if oneSlip(name, q.Name) {
			c.warn(p.fault(fmt.Sprintf("column %s is taken for data, since no quantity has that name", quoted(name)),
				"did you mean `"+q.Name+"`?"))
			return
		}
	}
}
