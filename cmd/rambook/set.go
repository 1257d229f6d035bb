package main

import (
	"fmt"
	"slices"
	"strings"

	"rambook/sheets"
	"rambook/units/words"
)

// rowColumns lists the columns of a quantity that `set` can change. A name is
// changed by rename, a unit decides what the other cells mean, and an example
// is not of this machine.
func rowColumns() []string {
	others := []string{"name", "unit", "example"}
	return slices.DeleteFunc(sheets.RowColumns(), func(name string) bool { return slices.Contains(others, name) })
}

type setCommand struct {
	Name  string `arg:"" complete:"quantity" help:"NAME, NAME.COLUMN or SHEET[CASE].COLUMN. COLUMN of a NAME is entry, reading, use, with, spread, low, high, after or note."`
	Entry string `arg:"" help:"What to write: a number, a number with a unit, = and an expression, or nothing (\"\")."`
	Path  string `arg:"" optional:"" help:"Folder or CSV file. Default: this folder."`
}

func (setCommand) Help() string {
	return "Every other byte of the file stays as it is. Example:\n\n" +
		"  rambook set setting \"21.5 MPa\" mypress\n  rambook set force.reading 1078 mypress\n" +
		"  rambook set \"tasks[grease guides].task_done_at\" 480 mypress"
}

// Run changes one cell, after a look at what the notebook would be with it.
func (c *setCommand) Run(s *session) error {
	name, err := c.readName()
	if err != nil {
		return err
	}
	r, err := revise(c.Path)
	if err != nil {
		return err
	}
	sheet, err := name.sheet(r.book)
	if err != nil {
		return r.missing(err)
	}
	entry := c.Entry
	if text := strings.TrimSpace(entry); strings.HasPrefix(text, "=") && writesQuoted(r.book, sheet) {
		entry = "'" + text
	}
	var before sheets.Cell
	err = r.change([]*sheets.Sheet{sheet}, func(now *sheets.Sheet, data []byte) ([]byte, error) {
		var line int
		var err error
		if before, line, err = name.find(now, c.Entry); err != nil {
			return nil, err
		}
		return sheets.SetCell(data, line, name.header(), entry)
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(&s.out, "%s:%d: %s: %s -> %s\n", sheet.File, before.Line, printable(name.String()), shownCell(before.Text), shownCell(entry))
	r.tell(s, name.trouble())
	return nil
}

// cellName is how `set` is told which cell to change.
type cellName interface {
	String() string
	// sheet finds the sheet that has the cell.
	sheet(*sheets.Notebook) (*sheets.Sheet, error)
	// find gives the cell as it is and the line of its record, unless the
	// entry cannot stand there.
	find(now *sheets.Sheet, entry string) (cell sheets.Cell, line int, err error)
	// header is that of the cell's column.
	header() string
	// trouble looks at what the cell belongs to after a change.
	trouble() trouble
}

// readName reads NAME, NAME.COLUMN or SHEET[CASE].COLUMN.
func (c *setCommand) readName() (cellName, error) {
	if sheet, rest, found := strings.Cut(c.Name, "["); found {
		end := strings.LastIndex(rest, "].")
		if end < 0 {
			return nil, problem("`"+c.Name+"` names no cell of a case sheet, expected SHEET[CASE].COLUMN",
				"as in rambook set 'tasks[grease guides].task_done_at' 480")
		}
		return caseCell{sheet, unquoted(strings.TrimSpace(rest[:end])), strings.TrimSpace(rest[end+len("]."):])}, nil
	}
	name, column, found := strings.Cut(c.Name, ".")
	if !found {
		column = "entry"
	}
	known := rowColumns()
	if slices.Contains(known, column) {
		return rowCell{name, column}, nil
	}
	return nil, problem(words.Quoted(column)+" is no column of a quantity, expected "+strings.Join(known, ", "),
		words.DidYouMean(column, known, ""))
}

// rowCell is a cell of a quantity's row.
type rowCell struct{ name, column string }

func (n rowCell) String() string   { return n.name + "." + n.column }
func (n rowCell) header() string   { return n.column }
func (n rowCell) trouble() trouble { return troubleOf(n.name) }

func (n rowCell) sheet(book *sheets.Notebook) (*sheets.Sheet, error) {
	if sheet, _ := quantityRow(book, n.name); sheet != nil {
		return sheet, nil
	}
	var known []string
	for _, sheet := range book.Sheets {
		for _, row := range sheet.Rows {
			known = append(known, row.Name.Text)
		}
	}
	return nil, problem("there is no quantity `"+n.name+"` in "+book.Path, words.DidYouMean(n.name, known, ""))
}

func (n rowCell) find(now *sheets.Sheet, entry string) (sheets.Cell, int, error) {
	row := rowOf(now, n.name)
	if row == nil {
		return sheets.Cell{}, 0, problem(now.File+" no longer has `"+n.name+"`", "")
	}
	cell := row.Cell(n.column)
	if n.column == "entry" && isFormula(row, cell.Text) && !isFormula(row, entry) {
		message, hint := "`"+n.name+"` is a formula, and `"+entry+"` is not", "for what was measured: rambook set "+n.name+".reading "+quoteArgument(entry)
		if strings.TrimSpace(entry) == "" {
			message, hint = "`"+n.name+"` is a formula, and a blank entry would delete it", "delete the row in an editor if it is not needed"
		}
		return cell, 0, wrong(now.Problem(cell, 0, len([]rune(cell.Text)), message, hint))
	}
	return cell, row.Name.Line, nil
}

// caseCell is a cell of one case, named as formulas name it.
type caseCell struct{ of, key, column string }

func (n caseCell) String() string   { return n.of + "[" + n.key + "]." + n.column }
func (n caseCell) header() string   { return n.column }
func (n caseCell) trouble() trouble { return troubleOfCase(n.of, n.key) }

func (n caseCell) sheet(book *sheets.Notebook) (*sheets.Sheet, error) { return caseSheet(book, n.of) }

func (n caseCell) find(now *sheets.Sheet, entry string) (sheets.Cell, int, error) {
	column, p := columnOf(now, n.column)
	if p == nil {
		p = misread(now.Columns[column], "", strings.TrimSpace(entry))
	}
	if p != nil {
		return sheets.Cell{}, 0, wrong(*p)
	}
	var known []string
	for _, row := range now.Cases {
		if row.Name.Text == n.key {
			return row.Cells[column], row.Name.Line, nil
		}
		known = append(known, row.Name.Text)
	}
	hint := words.DidYouMean(n.key, known, "")
	if hint == "" && len(known) > 0 {
		hint = "its cases are " + listed(known, mostNames)
	}
	return sheets.Cell{}, 0, wrong(sheets.Problem{File: now.File, Message: "there is no case `" + n.key + "`", Hint: hint})
}

// unquoted takes off the quotes that a key has in a formula.
func unquoted(key string) string {
	if n := len(key) - 1; n > 0 && key[0] == key[n] && strings.ContainsRune(`"'`, rune(key[0])) {
		return key[1:n]
	}
	return key
}

// writesQuoted reports whether formulas are written '= so that a spreadsheet
// leaves them alone. The first sheet with a formula tells, the one that is to
// change before all others.
func writesQuoted(book *sheets.Notebook, changing *sheets.Sheet) bool {
	for _, sheet := range append([]*sheets.Sheet{changing}, book.Sheets...) {
		bare := false
		for _, place := range expressionPlaces(sheet) {
			if strings.HasPrefix(place.cell.Text, "'=") {
				return true
			}
			bare = bare || isMarked(place.cell.Text)
		}
		if bare {
			return false
		}
	}
	return false
}

// shownCell is the text of a cell in a sentence.
func shownCell(text string) string {
	if text == "" {
		return "(blank)"
	}
	return printable(text)
}

// quoteArgument writes a word so that a shell reads it back.
func quoteArgument(word string) string {
	if word != "" && !strings.ContainsAny(word, " \t\n\"'`$\\*?[]{}()<>|&;#~!=") {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
