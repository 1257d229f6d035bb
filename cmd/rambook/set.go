package main

import (
	"fmt"
	"strings"

	"rambook/calc"
	"rambook/sheets"
)

// rowColumns are the cells of a quantity that `set` can change.
var rowColumns = []struct {
	name string
	cell func(*sheets.Row) sheets.Cell
}{
	{"entry", func(r *sheets.Row) sheets.Cell { return r.Entry }},
	{"reading", func(r *sheets.Row) sheets.Cell { return r.Reading }},
	{"spread", func(r *sheets.Row) sheets.Cell { return r.Spread }},
	{"low", func(r *sheets.Row) sheets.Cell { return r.Low }},
	{"high", func(r *sheets.Row) sheets.Cell { return r.High }},
	{"note", func(r *sheets.Row) sheets.Cell { return r.Note }},
}

type setCommand struct {
	Name  string `arg:"" complete:"quantity" help:"NAME or NAME.COLUMN. COLUMN is entry, reading, spread, low, high or note."`
	Entry string `arg:"" help:"What to write: a number, a number with a unit, = and an expression, or nothing (\"\")."`
	Path  string `arg:"" optional:"" help:"Folder or CSV file. Default: this folder."`
}

func (setCommand) Help() string {
	return "Every other byte of the file stays as it is. Example:\n\n" +
		"  rambook set setting \"21.5 MPa\" mypress\n  rambook set force.reading 1078 mypress"
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
	var before sheets.Cell
	err = r.change([]*sheets.Sheet{sheet}, func(now *sheets.Sheet, data []byte) ([]byte, error) {
		var line int
		var err error
		if before, line, err = name.find(now, c.Entry); err != nil {
			return nil, err
		}
		return sheets.SetCell(data, line, name.header(), c.Entry)
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(&s.out, "%s:%d: %s: %s -> %s\n", sheet.File, before.Line, printable(name.String()), shownCell(before.Text), shownCell(c.Entry))
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

// readName reads NAME or NAME.COLUMN.
func (c *setCommand) readName() (cellName, error) {
	name, column, found := strings.Cut(c.Name, ".")
	if !found {
		column = "entry"
	}
	var known []string
	for _, of := range rowColumns {
		if of.name == column {
			return rowCell{name, column, of.cell}, nil
		}
		known = append(known, of.name)
	}
	return nil, problem("`"+column+"` is no column of a quantity, expected "+strings.Join(known, ", "),
		calc.DidYouMean(column, known))
}

// rowCell is a cell of a quantity's row.
type rowCell struct {
	name, column string
	of           func(*sheets.Row) sheets.Cell
}

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
	return nil, problem("there is no quantity `"+n.name+"` in "+book.Path, calc.DidYouMean(n.name, known))
}

func (n rowCell) find(now *sheets.Sheet, entry string) (sheets.Cell, int, error) {
	row := rowOf(now, n.name)
	if row == nil {
		return sheets.Cell{}, 0, problem(now.File+" no longer has `"+n.name+"`", "")
	}
	cell := n.of(row)
	if n.column == "entry" && isFormula(cell.Text) && !isFormula(entry) {
		message, hint := "`"+n.name+"` is a formula, and `"+entry+"` is not", "for what was measured: rambook set "+n.name+".reading "+quoteArgument(entry)
		if strings.TrimSpace(entry) == "" {
			message, hint = "`"+n.name+"` is a formula, and a blank entry would delete it", "delete the row in an editor if it is not needed"
		}
		return cell, 0, &problemsError{problems: []sheets.Problem{now.Problem(cell, 0, len([]rune(cell.Text)), message, hint)}}
	}
	return cell, row.Name.Line, nil
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
