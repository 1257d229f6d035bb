package calc

import (
	"cmp"
	"slices"
	"strconv"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// InCase is the notebook as it stands in one case of a sheet, as if what the
// case states stood in the rows: its values in place of the givens', its
// readings and no others, and the limits that the sheet puts in place of theirs.
func (m *Model) InCase(sheet, name string, opt Options) (*Model, []sheets.Problem) {
	cs, problems := m.runSheet(sheet)
	if len(problems) > 0 {
		return nil, problems
	}
	at, problems := among(cs.sheet, name)
	if len(problems) > 0 {
		return nil, problems
	}
	if cs.sheet.Made { // phases are cut anew, and of the log there is that cycle alone
		opt.cycle = caseName{sheet, name}
	}
	recorded := func(q *Quantity) bool { // it is read off the log
		return cs.sheet.Made && q.cutting != nil && q.cutting.cycles == cs.sheet && q.reading.formula != nil
	}
	book := *m.Source
	book.Sheets = slices.Clone(book.Sheets)
	for i, s := range book.Sheets {
		if s.Kind != sheets.Quantities {
			continue
		}
		copied := *s
		copied.Rows = slices.Clone(s.Rows)
		for k := range copied.Rows {
			if q := m.byName[copied.Rows[k].Name.Text]; q == nil || !recorded(q) {
				copied.Rows[k].Reading.Text = ""
			}
		}
		book.Sheets[i] = &copied
	}
	row := func(q *Quantity) *sheets.Row {
		for i := range book.Sheets {
			if book.Sheets[i].File != q.Sheet.File || book.Sheets[i].Kind != sheets.Quantities {
				continue
			}
			for k := range book.Sheets[i].Rows {
				if r := &book.Sheets[i].Rows[k]; r.Name.Text == q.Name {
					return r
				}
			}
		}
		return nil
	}
	var stated []string
	for _, g := range cs.given {
		r := row(g.quantity)
		if r == nil { // what a cycle gives for its phases is measured anew
			continue
		}
		if v := g.column.values[at]; !tape.IsMissing(v) {
			stated = append(stated, g.quantity.Name)
			r.Entry.Text = m.caseText(cs.sheet, g.column, at, g.unit)
			// as it was typed
			if cell := cs.sheet.Cases[at].Cells[g.column.index]; !cell.Blank() && !IsRuns(cell.Text) {
				r.Entry.Text = withUnit(cell.Text, g.unit)
			}
			if cell := cs.sheet.Columns[g.column.index].Spread; !cell.Blank() {
				r.Spread.Text = m.spreadText(cell.Text, g.unit, g.quantity)
			}
		}
	}
	for _, a := range cs.asked {
		if v := a.column.values[at]; tape.Usable(v) && !recorded(a.quantity) {
			r := row(a.quantity)
			r.Reading.Text = m.caseText(cs.sheet, a.column, at, a.unit)
			if a.spread.kind != blankEntry {
				r.Spread.Text = m.spreadText(cs.sheet.Columns[a.column.index].Spread.Text, a.unit, a.quantity)
			}
		}
	}
	for _, a := range cs.judged() {
		head := cs.sheet.Columns[a.column.index]
		if a.hasLow() {
			row(a.quantity).Low.Text = m.spreadText(head.Low.Text, a.unit, a.quantity)
		}
		if a.hasHigh() {
			row(a.quantity).High.Text = m.spreadText(head.High.Text, a.unit, a.quantity)
		}
	}
	own, problems := Compile(&book, opt)
	if own != nil {
		own.in = cs.sheet.Name + "[" + cs.sheet.Cases[at].Name.Text + "]"
		for _, name := range stated {
			own.byName[name].Of = own.in
		}
	}
	return own, problems
}

// caseText writes the value of a case's cell as a cell of a row, with its repeated
// runs if it holds such.
func (m *Model) caseText(s *sheets.Sheet, col *column, at int, u units.Unit) string {
	if col.scatter != nil && col.scatter[at] > 0 {
		runs, unit := CutRuns(s.Cases[at].Cells[col.index].Text)
		return JoinRuns(runs, cmp.Or(unit, u.Symbol))
	}
	return m.cellText(u, col.values[at])
}

// cellText writes a value as a cell of a row in any unit.
func (m *Model) cellText(u units.Unit, v float64) string {
	if u.Kind == units.Text {
		return m.texts[int(v)]
	}
	if u.Kind == units.Date {
		return units.FormatDate(v)
	}
	return withUnit(strconv.FormatFloat(u.FromSI(v), 'g', -1, 64), u)
}

// spreadText writes a column's spread, or a limit, as the cell of a row, which
// may be in another unit.
func (m *Model) spreadText(text string, u units.Unit, q *Quantity) string {
	if u.Symbol == q.Unit.Symbol {
		return text
	}
	return withUnit(text, u)
}

// withUnit puts the unit behind a cell that is a number alone.
func withUnit(text string, u units.Unit) string {
	if v, err := units.ParseValue(text); err == nil && !v.HasUnit && u.Symbol != "" && u.Kind <= units.Point {
		return text + " " + u.Symbol
	}
	return text
}
