package calc

import (
	"slices"
	"strings"

	"rambook/sheets"
	"rambook/units/sorting"
)

// renamedAside finds the cells of the sheets set aside that use a quantity's
// name, so that they still fit once they are back. They are bound to nothing:
// names in them are compared as they are written.
func (m *Model) renamedAside(q *Quantity, to string) []CellEdit {
	var edits []CellEdit
	for _, s := range m.Book.Aside {
		formula := func(cell sheets.Cell) {
			if text, used := namesReplaced(cell.Text, q.Name, to); used && ReadsAsFormula(cell.Text) {
				edits = append(edits, CellEdit{s, cell, text})
			}
		}
		for i := range s.Rows {
			row := &s.Rows[i]
			for _, cell := range []sheets.Cell{row.Entry, row.Spread, row.Doubt, row.Low, row.High, row.Use} {
				formula(cell)
			}
			if text := oneWordReplaced(row.After.Text, q.Name, to); text != row.After.Text {
				edits = append(edits, CellEdit{s, row.After, text})
			}
		}
		for _, c := range s.Columns {
			for _, cell := range []sheets.Cell{c.Spread, c.Low, c.High} {
				formula(cell)
			}
		}
		for i := range s.Unknowns {
			cell := s.Unknowns[i].Until
			at, fault := splitSides(cell.Text)
			if fault != nil {
				continue
			}
			left, usedLeft := namesReplaced(cell.Text[:at], q.Name, to)
			right, usedRight := namesReplaced(cell.Text[at+1:], q.Name, to)
			if usedLeft || usedRight {
				edits = append(edits, CellEdit{s, cell, left + "=" + right})
			}
		}
		edits = append(edits, named(s, q.Name, to)...)
	}
	return edits
}

// named lists the headers and the cells of a sheet that hold nothing but the
// name of a quantity, or a column of a case sheet named like it.
func named(s *sheets.Sheet, from, to string) []CellEdit {
	var edits []CellEdit
	for i := range s.Columns {
		if s.Columns[i].Name.Text == from {
			edits = append(edits, CellEdit{s, s.Columns[i].Name, to})
		}
	}
	for _, cell := range s.Naming() {
		// A column of a case sheet is named behind its sheet.
		if at := strings.LastIndexByte(cell.Text, '.') + 1; cell.Text[at:] == from {
			edits = append(edits, CellEdit{s, cell, cell.Text[:at] + to})
		}
	}
	return edits
}

// namesReplaced replaces a name in a formula that is bound to nothing. Names of
// let that are spelled alike stay.
func namesReplaced(cell, from, to string) (text string, used bool) {
	skip := formulaMark(cell)
	root, fault := parseFormula(string([]rune(cell)[skip:]))
	if fault != nil {
		return cell, false
	}
	var at []span
	root.free(from, func(s span) { at = append(at, s) })
	return replacedAt(cell, at, skip, to), len(at) > 0
}

// free calls found with each place where a name stands that no let binds.
func (n *node) free(name string, found func(span)) {
	switch {
	case n.kind == nameNode && n.name == name:
		found(n.span())
	case n.kind == letNode && n.name == name:
		n.args[0].free(name, found)
		return
	case (n.kind == columnNode || n.kind == lookupNode) && n.name == name:
		found(n.column)
	}
	for _, a := range n.args {
		a.free(name, found)
	}
}

// replacedAt puts a name into places of a cell, counted from behind its mark.
func replacedAt(cell string, at []span, skip int, to string) string {
	text := []rune(cell)
	sorting.Stable(at, func(a, b span) int { return a.from - b.from })
	var out strings.Builder
	done := 0
	for _, s := range slices.Compact(at) {
		out.WriteString(string(text[done : s.from+skip]))
		out.WriteString(to)
		done = s.to + skip
	}
	out.WriteString(string(text[done:]))
	return out.String()
}

// oneWordReplaced replaces a name in a list of names.
func oneWordReplaced(list, from, to string) string {
	return aWord().ReplaceAllStringFunc(list, func(word string) string {
		if word == from {
			return to
		}
		return word
	})
}
