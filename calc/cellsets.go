package calc

import (
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"rambook/sheets"
	"rambook/units/words"
)

// This file is about `SHEET[CASE].COLUMN = ENTRY` of a run: what stands in a case's
// own cell is replaced, before anything is read of the sheets.

// cellSet is one replacement of a cell.
type cellSet struct {
	place
	name, entry string
	sheet       *sheets.Sheet
	cell        sheets.Cell // as it was
	column      string
}

// Assigned cuts NAME = ENTRY. A path has no = before a slash, and the name of a
// case may hold one.
func Assigned(word string) (name, entry string, found bool) {
	from := 0
	if open := strings.Index(word, "["); open >= 0 && open < strings.Index(word, "=") {
		if end := strings.Index(word, "]."); end >= 0 {
			from = end
		}
	}
	name, entry, found = strings.Cut(word[from:], "=")
	name = word[:from] + name
	return name, entry, found && (from > 0 || !strings.ContainsAny(name, "/\\"))
}

// SplitCell cuts SHEET[CASE].COLUMN.
func SplitCell(name string) (sheet, key, column string, found bool) {
	sheet, rest, found := strings.Cut(name, "[")
	end := strings.LastIndex(rest, "].")
	if !found || end < 0 {
		return name, "", "", false
	}
	key = strings.TrimSpace(rest[:end])
	if n := len(key) - 1; n > 0 && key[0] == key[n] && strings.ContainsRune(`"'`, rune(key[0])) {
		key = key[1:n]
	}
	return strings.TrimSpace(sheet), key, strings.TrimSpace(rest[end+len("]."):]), true
}

// withCells is a notebook in which the cells of a run hold what they are set to.
func (c *compiler) withCells(book *sheets.Notebook) *sheets.Notebook {
	if len(c.cellSets) == 0 {
		return book
	}
	changed := *book
	changed.Sheets = slices.Clone(book.Sheets)
	for i := range c.cellSets {
		c.setCell(&changed, &c.cellSets[i])
	}
	for _, s := range changed.Sheets {
		c.sheets[s.Name] = s
	}
	c.model.Book = &changed
	return &changed
}

// setCell puts one replacement into a copy of its sheet.
func (c *compiler) setCell(book *sheets.Notebook, r *cellSet) {
	of, key, column, _ := SplitCell(r.name)
	var names, keys, columns []string
	for _, s := range book.Sheets {
		if s.Kind == sheets.Cases && !s.Made {
			names = append(names, s.Name)
		}
	}
	of = words.Spelled(of, names)
	at := slices.IndexFunc(book.Sheets, func(s *sheets.Sheet) bool { return s.Name == of })
	if !slices.Contains(names, of) {
		c.report(r.ofName("there is no case sheet "+words.Quoted(of),
			words.DidYouMean(of, names, "the case sheets are "+words.Listed(names, mostNames))))
		return
	}
	s := *book.Sheets[at]
	for _, row := range s.Cases {
		keys = append(keys, row.Name.Text)
	}
	for _, col := range s.Columns {
		columns = append(columns, col.Name.Text)
	}
	row := slices.Index(keys, words.Spelled(key, keys))
	col := slices.Index(columns, words.Spelled(column, columns))
	switch {
	case row < 0:
		c.report(r.ofName("there is no case "+words.Quoted(key)+" in sheet "+of,
			words.DidYouMean(key, keys, "its cases are "+words.Listed(keys, mostNames))))
		return
	case col < 0:
		c.report(r.ofName("sheet "+of+" has no column "+words.Quoted(column),
			words.DidYouMean(column, columns, "its columns are "+words.Listed(columns, mostNames))))
		return
	}
	s.Cases = slices.Clone(s.Cases)
	s.Cases[row].Cells = slices.Clone(s.Cases[row].Cells)
	r.sheet, r.cell, r.column = &s, s.Cases[row].Cells[col], columns[col]
	s.Cases[row].Cells[col].Text = r.entry
	book.Sheets[at] = &s
}

// ofName reports what is wrong with the name of a cell.
func (r *cellSet) ofName(message, hint string) sheets.Problem {
	of := r.place
	of.skip = 0
	return of.problem(span{0, utf8.RuneCountInString(r.name)}, message, hint)
}

// refuseReadings refuses a replacement of what is computed in a case: a number
// there would be a reading.
func (c *compiler) refuseReadings() {
	for i := range c.cellSets {
		r := &c.cellSets[i]
		if q := c.model.byName[r.column]; q != nil && q.IsFormula() && r.sheet.Name != GaugeSheet {
			c.report(r.ofName(r.column+" is computed in each case of "+r.sheet.Name, "set what it is computed from"))
		}
	}
}

// backInArguments puts what is wrong with the entry of a run's cell to the
// argument that it stands in.
func (c *compiler) backInArguments(problems []sheets.Problem) {
	for i := range problems {
		p := &problems[i]
		for k := range c.cellSets {
			r := &c.cellSets[k]
			if r.sheet == nil || p.File != r.sheet.File || p.Line != int(r.cell.Line) || p.Text != r.entry ||
				p.Column < int(r.cell.Column) {
				continue
			}
			*p = r.problem(span{p.From, p.To}, p.Message, p.Hint)
			break
		}
	}
}

// warnIdle warns of replacements that reach no case of a sheet, since each has an
// entry of its own.
func (c *compiler) warnIdle(sets map[string]*replacement) {
	for _, name := range slices.Sorted(maps.Keys(sets)) { // the same warnings in the same order in each run
		r, q := sets[name], c.model.byName[name]
		for _, cs := range c.model.caseSheets {
			if q == nil || r.aside || cs.sheet.Made || len(cs.sheet.Cases) == 0 || !cs.replacesAll(q) {
				continue
			}
			c.warn(r.fault(
				"every case of "+cs.sheet.Name+" has a "+q.Name+" of its own, so that this reaches none of them",
				`--set "`+cs.sheet.Name+"["+cs.sheet.Cases[0].Name.Text+"]."+q.Name+
					` = ENTRY" replaces that of one case`))
		}
	}
}

// replacesAll reports whether every case of the sheet has its own entry for a given.
func (cs *caseSheet) replacesAll(q *Quantity) bool {
	return slices.ContainsFunc(cs.given, func(g *givenColumn) bool {
		return g.quantity == q && !slices.ContainsFunc(cs.sheet.Cases,
			func(row sheets.CaseRow) bool { return row.Cells[g.column.index].Blank() })
	})
}
