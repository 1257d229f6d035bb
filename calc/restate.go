package calc

import (
	"math"
	"slices"
	"strings"

	"rambook/sheets"
	"rambook/units"
)

// Restate finds the new texts of all cells that mean the same in another system
// of units: the units of rows and columns, and the numbers that stand in them.
// Numbers with a unit of their own and shares in % mean the same as before and stay, and
// so do formulas but for a number times a unit of which the other one is a power of ten,
// as 0.25*MPa is 2.5*bar; and so do logs, whose headers state their units, and sheets
// that are set aside. Of digits > 0 every number is rounded to so many significant
// ones; else the values are the same. A cell that cannot be read stays too.
func Restate(book *sheets.Notebook, system units.System, digits int) []CellEdit {
	r := &restating{system: system, digits: digits, units: map[string]units.Unit{}}
	for _, s := range book.Sheets {
		for i := range s.Rows {
			if u, err := units.Parse(s.Rows[i].Unit.Text); err == nil {
				r.units[s.Rows[i].Name.Text] = u
			}
		}
	}
	r.keepOthers(book)
	for _, s := range book.Sheets {
		r.sheet = s
		for i := range s.Rows {
			r.row(&s.Rows[i])
		}
		for i := range s.Columns {
			r.editColumn(i)
			r.products(s.Columns[i].Spread, s.Columns[i].Low, s.Columns[i].High)
		}
		for i := range s.Phases {
			r.products(s.Phases[i].From, s.Phases[i].To)
		}
		for i := range s.Suspects {
			row := &s.Suspects[i]
			r.between(row.Suspect.Text, row.Unit, row.From, row.To)
		}
		for i := range s.Unknowns {
			row := &s.Unknowns[i]
			r.between(row.Unknown.Text, row.Unit, row.From, row.To)
			r.until(row.Until)
		}
		for i := range s.Charts {
			r.editAlong(&s.Charts[i])
		}
	}
	return r.edits
}

// restating collects the edits.
type restating struct {
	system units.System
	digits int
	units  map[string]units.Unit // of the quantities whose rows are restated, as they are
	others map[string]bool       // the quantities that keep their unit
	sheet  *sheets.Sheet
	edits  []CellEdit
}

// keepOthers finds the rows that are another row in another unit, as a force in short
// tons beside that in kN. That unit is what they are there for, so they keep it.
func (r *restating) keepOthers(book *sheets.Notebook) {
	r.others = map[string]bool{}
	for _, s := range book.Sheets {
		for i := range s.Rows {
			row := &s.Rows[i]
			name := row.Name.Text
			if of, known := r.units[row.Entry.Text]; known && r.units[name].Symbol != of.Symbol {
				r.others[name] = true
			}
		}
	}
	for name := range r.others {
		delete(r.units, name)
	}
}

// unit edits the cell of a unit, and gives what it was and what it is then; own
// is what a blank cell stands for. It is false where nothing changes.
func (r *restating) unit(cell sheets.Cell, own units.Unit) (from, to units.Unit, changes bool) {
	from = own
	if !cell.Blank() {
		u, err := units.Parse(cell.Text)
		if err != nil {
			return from, from, false
		}
		from = u
	}
	to = from.In(r.system)
	if to.Symbol == from.Symbol {
		return from, to, false
	}
	if !cell.Blank() {
		r.edit(cell, to.Symbol)
	}
	return from, to, true
}

func (r *restating) edit(cell sheets.Cell, text string) {
	r.edits = append(r.edits, CellEdit{r.sheet, cell, text})
}

// number edits a cell that holds a bare number.
func (r *restating) number(cell sheets.Cell, from, to units.Unit, difference bool) {
	if runs, unit := CutRuns(cell.Text); runs != nil && unit == "" {
		for i, run := range runs {
			runs[i], _ = r.text(run, from, to, difference)
		}
		r.edit(cell, JoinRuns(runs, ""))
		return
	}
	mark, number, spread := CutAssumed(cell.Text)
	restated, changes := r.text(number, from, to, difference)
	if off, also := r.text(spread, from, to, true); also {
		spread, changes = off, true
	}
	if !changes {
		return
	}
	if spread != "" {
		restated += " ± " + spread
	}
	r.edit(cell, mark+restated)
}

// text gives a bare number in the other unit; it is false for all else, which
// stays as it is.
func (r *restating) text(number string, from, to units.Unit, difference bool) (string, bool) {
	v, err := units.ParseValue(number)
	if number == "" || err != nil || v.HasUnit {
		return number, false
	}
	return units.Restate(v.Number, from, to, difference, r.digits), true
}

func (r *restating) row(row *sheets.Row) {
	if u, err := units.Parse(row.Unit.Text); err == nil && u.Kind != units.Text {
		r.products(row.Entry, row.Reading, row.Low, row.High, row.Spread, row.Doubt)
	}
	if r.others[row.Name.Text] {
		return
	}
	from, to, changes := r.unit(row.Unit, units.Unit{})
	if !changes {
		return
	}
	for _, cell := range []sheets.Cell{row.Entry, row.Example, row.Reading, row.Low, row.High} {
		r.number(cell, from, to, false)
	}
	r.number(row.Spread, from, to, true)
	r.number(row.Doubt, from, to, true)
}

// editColumn edits a column of a case sheet. One of data is left alone where it holds
// a remark, since nobody has said then that it holds numbers.
func (r *restating) editColumn(index int) {
	head := &r.sheet.Columns[index]
	if r.others[head.Name.Text] {
		return
	}
	own, named := r.units[head.Name.Text]
	if !named {
		for i := range r.sheet.Cases {
			if cell := r.sheet.Cases[i].Cells[index]; !cell.Blank() {
				if _, err := units.ParseValue(cell.Text); err != nil {
					return
				}
			}
		}
	}
	from, to, changes := r.unit(head.Unit, own)
	if !changes {
		return
	}
	r.number(head.Spread, from, to, true)
	r.number(head.Low, from, to, false)
	r.number(head.High, from, to, false)
	for i := range r.sheet.Cases {
		r.number(r.sheet.Cases[i].Cells[index], from, to, false)
	}
}

// between edits the ends of a range in which a quantity is looked for.
func (r *restating) between(name string, unit, from, to sheets.Cell) {
	if was, is, changes := r.unit(unit, r.units[name]); changes {
		r.number(from, was, is, false)
		r.number(to, was, is, false)
	}
}

// until edits a bare number that an unknown is looked for by: it is in the unit
// of the quantity on the other side.
func (r *restating) until(cell sheets.Cell) {
	at, fault := splitSides(cell.Text)
	if cell.Blank() || fault != nil {
		return
	}
	left, right := part(cell.Text, 0, at), part(cell.Text, at+1, len(cell.Text))
	from, named := r.units[left.text]
	number := right.text
	if !named {
		if from, named = r.units[right.text]; !named {
			return
		}
		number = left.text
	}
	restated, changes := r.text(number, from, from.In(r.system), false)
	switch {
	case !changes || restated == number:
	case number == right.text:
		r.edit(cell, left.text+" = "+restated)
	default:
		r.edit(cell, restated+" = "+right.text)
	}
}

// editAlong edits where a point of a chart lies along it, a number in the unit of the
// chart's other places.
func (r *restating) editAlong(row *sheets.ChartRow) {
	if IsName(row.Over.Text) {
		return
	}
	for i := range r.sheet.Charts {
		other := &r.sheet.Charts[i]
		if from, named := r.units[other.Over.Text]; named && other.Chart.Text == row.Chart.Text {
			if to := from.In(r.system); to.Symbol != from.Symbol {
				r.number(row.Over, from, to, false)
			}
			return
		}
	}
}

// products edits what stands in formulas as a number times a unit, where that number has
// the same digits in the other unit.
func (r *restating) products(cells ...sheets.Cell) {
	for _, cell := range cells {
		mark := formulaMark(cell.Text)
		if !strings.Contains(cell.Text, "*") || mark == 0 && !ReadsAsFormula(cell.Text) {
			continue
		}
		root, fault := parseFormula(cell.Text[mark:])
		if fault != nil {
			continue
		}
		text := []rune(cell.Text)
		var found []*node
		root.walk(func(n *node) {
			if n.kind == binaryNode && n.name == "*" && n.args[0].kind == numberNode && n.args[1].kind == nameNode {
				found = append(found, n)
			}
		})
		for i := range found {
			n := found[len(found)-1-i] // the last first: what stands before it keeps its place
			number, symbol := n.args[0].span(), n.args[1].span()
			from, err := units.Parse(symbol.cut(text[mark:]))
			if err != nil {
				continue
			}
			to := from.In(r.system)
			tens := math.Log10(from.DiffToSI(1) / to.DiffToSI(1))
			restated, changes := r.text(number.cut(text[mark:]), from, to, true)
			if !changes || to.Symbol == from.Symbol || math.Abs(tens-math.Round(tens)) > 1e-12 {
				continue
			}
			text = slices.Concat(text[:mark+number.from], []rune(restated), text[mark+number.to:mark+symbol.from],
				[]rune(to.Symbol), text[mark+symbol.to:])
		}
		if string(text) != cell.Text {
			r.edit(cell, string(text))
		}
	}
}
