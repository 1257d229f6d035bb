package calc

import (
	"fmt"
	"slices"

	"rambook/sheets"
	"rambook/units/words"
)

// CellEdit is a new text for one cell.
type CellEdit struct {
	Sheet *sheets.Sheet
	Cell  sheets.Cell
	Text  string
}

// Rename finds every cell of the notebook that uses a quantity's name: its
// own row, the formulas, spreads and limits that read it, the columns of case
// sheets named like it, and its rows as a suspect, an unknown, in a correlation
// or a chart, and the same in
// the sheets set aside. Names of let, of functions and of sheets that are spelled
// alike stay.
func (m *Model) Rename(from, to string) ([]CellEdit, []sheets.Problem) {
	q, problems := m.ask(inArgument("OLD", from), from)
	if q == nil {
		return nil, problems
	}
	if problems := m.ofGauge(inArgument("OLD", from), q, "and rename leaves gauges alone",
		fmt.Sprintf("change its name in %s, line %d, and in the column `with` of the rows that are read with it",
			q.Sheet.File,
			q.Row.Name.Line)); problems != nil {
		return nil, problems
	}
	c := m.compiler()
	p := inArgument("NEW", to)
	if to == q.Name {
		return nil, []sheets.Problem{p.fault(to+" has that name already", "write another name")}
	}
	if c.checkName(p, q.Unit.Dim); len(c.problems) > 0 {
		return nil, c.problems
	}
	if other := m.byName[to]; other != nil {
		return nil, []sheets.Problem{p.fault(fmt.Sprintf("%s stands already in %s, line %d", to, other.Sheet.File,
			other.Row.Name.Line), "choose another name")}
	}
	if taken := m.taken(to, q); len(taken) > 0 {
		return nil, taken
	}
	edits := []CellEdit{{q.Sheet, q.Row.Name, to}}
	for _, f := range m.formulas {
		if text, used := f.renamed(q, to); used {
			edits = append(edits, CellEdit{f.sheet, f.cell, text})
		}
	}
	for _, other := range m.Quantities {
		if other.judges != nil {
			if text, used := other.judges.formula.renamed(q, to); used {
				edits = append(edits, CellEdit{other.Sheet, other.Row.Entry, text})
			}
		}
		if slices.Contains(other.after, q) {
			edits = append(edits, CellEdit{other.Sheet, other.Row.After,
				oneWordReplaced(other.Row.After.Text, from, to)})
		}
	}
	for _, s := range m.Book.Sheets {
		if s.Made {
			continue
		}
		edits = append(edits, named(s, from, to)...)
	}
	edits = append(edits, m.renamedAside(q, to)...)
	return edits, nil
}

// aWord is one name in a list of names.
var aWord = words.Pattern(`[A-Za-z0-9_]+`)

// taken reports what would change its meaning if q had this name: columns of
// data, which would become those of q, and names of let, which would hide it.
func (m *Model) taken(name string, q *Quantity) []sheets.Problem {
	var taken []sheets.Problem
	for _, s := range m.Book.Sheets {
		if s.Made {
			continue
		}
		for i := range s.Columns {
			if header := s.Columns[i].Name; header.Text == name {
				taken = append(taken, placeIn(s, header).fault(
					"column "+words.Quoted(name)+" would become that of "+q.Name,
					"choose another name, or rename the column first"))
			}
		}
	}
	for _, f := range m.formulas {
		f.tree().walk(func(n *node) {
			if n.kind == letNode && n.name == name && slices.Contains(f.uses(), q) {
				taken = append(taken, f.fault(words.Quoted(name)+" is bound by let in a formula that uses "+q.Name,
					"choose another name, or rename the let first"))
			}
		})
	}
	return taken
}

// renamed gives the text of a formula's cell with one quantity's name changed.
func (f *formula) renamed(q *Quantity, to string) (string, bool) {
	var at []span
	columns := map[span]bool{}
	f.tree().walk(func(n *node) {
		switch {
		case n.quantity == q:
			at = append(at, n.span())
		case n.kind == columnNode && n.sheet == q.Name && n.name == runColumn:
			at = append(at, n.start(n.sheet))
		case (n.kind == columnNode || n.kind == lookupNode) && n.name == q.Name:
			columns[n.column] = true
		}
	})
	for s := range columns { // a column named like the quantity is renamed with it
		if at2, ok := f.columnName(s, q.Name); ok {
			at = append(at, at2)
		}
	}
	if len(at) == 0 {
		return "", false
	}
	return replacedAt(f.cell.Text, at, f.skip, to), true
}

// columnName finds the plain name of a column at or after a span; a name in
// quotes and brackets starts at its bracket.
func (f *formula) columnName(s span, name string) (span, bool) {
	text, wanted := []rune(f.text), []rune(name)
	for from := s.from; from+len(wanted) <= len(text) && from <= s.from+2; from++ {
		if slices.Equal(text[from:from+len(wanted)], wanted) {
			return span{from, from + len(wanted)}, true
		}
	}
	return span{}, false
}
