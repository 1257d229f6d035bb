package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units"
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
	Words []string `arg:"" sep:"none" complete:"quantity" name:"NAME=ENTRY" help:"NAME ENTRY, or any number of NAME=ENTRY, then the notebook's folder if it is not this one. NAME may be NAME.COLUMN or SHEET[CASE].COLUMN; COLUMN of a NAME is entry, reading, use, with, spread, low, high, after or note. ENTRY is a number, a number with a unit, a formula, yes, no, n/a, or nothing."`
	Sure  bool     `help:"Keep a number that is far from what is computed, or from what such a machine has."`
	Blind bool     `help:"Keep the answer of a student, and show nothing that is computed."`
	entryFlags
}

func (setCommand) Help() string {
	return "All cells are changed or none, and every other byte stays as it is. Example:\n\n" +
		"  rambook set setting \"21.5 MPa\" mypress\n" +
		"  rambook set bore=110 rod_diameter=80 \"setting=250 bar\" mypress\n" +
		"  rambook set force.reading 1078 mypress\n  rambook set \"tasks[grease guides].task_done_at\" 480 mypress"
}

// setting is one cell that is to be changed.
type setting struct {
	cellName
	entry  string
	text   string // the entry as it is written
	why    string // there is none, for the logbook
	on     *sheets.Sheet
	before sheets.Cell
}

// Run changes the cells, after a look at what the notebook would be with them.
func (c *setCommand) Run(s *session) error {
	settings, path, err := c.read()
	if err != nil {
		return err
	}
	r, err := revise(path)
	if err != nil {
		return err
	}
	if settings, err = withReasons(settings, r.book); err != nil {
		return err
	}
	changing, err := sheetsOf(settings, r)
	if err != nil {
		return err
	}
	if c.Blind {
		if err := r.answersOnly(settings); err != nil {
			return err
		}
	}
	r.enters(s, c.entryFlags, func() []sheets.Entry { return logged(settings, r.book) })
	err = r.changeUnlessDoubted(s, settings, c.Sure || c.Blind, changing,
		func(now *sheets.Sheet, data []byte) ([]byte, error) {
			return write(settings, now, data)
		})
	if err != nil {
		return err
	}
	for i := range settings {
		one := &settings[i]
		fmt.Fprintf(&s.out, "%s:%d: %s: %s -> %s\n", one.on.File, one.before.Line, page.Printable(one.String()),
			shownCell(one.before.Text), shownCell(one.text))
		if !c.Blind {
			s.answerReading(one, r.after)
		}
	}
	if !c.Blind { // a warning may name the number that is asked for
		r.tell(s, settings)
	}
	return nil
}

// entries lists what is to be written.
func entries(settings []setting) []string {
	var list []string
	for _, one := range settings {
		list = append(list, one.entry)
	}
	return list
}

// read parts cells, entries and the path.
func (c *setCommand) read() (settings []setting, path string, err error) {
	add := func(name, entry string) error {
		cell, err := readName(strings.TrimSpace(name))
		if err != nil {
			return err
		}
		for _, other := range settings {
			if other.String() == cell.String() {
				return problem(words.Quoted(cell.String())+" is set twice", "")
			}
		}
		settings = append(settings, setting{cellName: cell, entry: entry})
		return nil
	}
	rest := c.Words
	if _, _, found := calc.Assigned(rest[0]); !found {
		if len(rest) < 2 {
			return nil, "", problem("an entry is missing behind "+words.Quoted(rest[0]),
				"write "+rest[0]+"=ENTRY, or "+rest[0]+" and the entry as the next word")
		}
		if err := add(rest[0], rest[1]); err != nil {
			return nil, "", err
		}
		rest = rest[2:]
	}
	for _, word := range rest {
		name, entry, found := calc.Assigned(word)
		switch {
		case found:
			if err := add(name, strings.TrimSpace(entry)); err != nil {
				return nil, "", err
			}
		case path == "":
			path = word
		default:
			return nil, "", problem(words.Quoted(word)+" is a second path, after "+words.Quoted(path),
				"write NAME=ENTRY without blanks around the =")
		}
	}
	return settings, path, nil
}

// sheetsOf finds the sheets of the cells, each once.
func sheetsOf(settings []setting, r *revision) ([]*sheets.Sheet, error) {
	var changing []*sheets.Sheet
	r.typed = settings
	for i := range settings {
		one := &settings[i]
		one.cellName = one.spelled(r.book)
		for _, other := range settings[:i] {
			if other.String() == one.String() {
				return nil, problem(words.Quoted(one.String())+" is set twice", "")
			}
		}
		var err error
		if one.on, err = one.sheet(r.book); err != nil {
			return nil, r.missing(err)
		}
		one.text = one.entry
		if text := strings.TrimSpace(one.entry); strings.HasPrefix(text, "=") && writesQuoted(r.book, one.on) {
			one.text = "'" + text
		}
		if !slices.Contains(changing, one.on) {
			changing = append(changing, one.on)
		}
	}
	return changing, nil
}

// write changes the cells of one file. All that cannot be written is reported.
func write(settings []setting, now *sheets.Sheet, data []byte) ([]byte, error) {
	var problems []sheets.Problem
	for i := range settings {
		one := &settings[i]
		if one.on.Name != now.Name {
			continue
		}
		var line int
		var err error
		if one.before, line, err = one.find(now, one.entry); err == nil {
			data, err = sheets.SetCell(data, line, one.header(), one.text)
		}
		if known := (*problemsError)(nil); errors.As(err, &known) {
			problems = append(problems, known.Problems...)
		} else if err != nil {
			return nil, err
		}
	}
	if len(problems) > 0 {
		return nil, wrong(problems...)
	}
	return data, nil
}

// unitNow is the unit that a bare number in a cell has, as it is written; "" of a
// cell that holds no number.
func unitNow(cell cellName, book *sheets.Notebook) string {
	if of, ok := cell.(caseCell); ok {
		if sheet := book.Sheet(of.of); sheet != nil {
			if _, at := columnIn(sheet, of.column); at >= 0 && !sheet.Columns[at].Unit.Blank() {
				return sheet.Columns[at].Unit.Text
			}
		}
	} else if slices.Contains([]string{"use", "with", "after", "note"}, cell.header()) {
		return ""
	}
	if _, row := quantityRow(book, cell.quantity()); row != nil {
		return row.Unit.Text
	}
	return ""
}

// isBare reports whether an entry is a number, or several runs, without a unit.
func isBare(entry string) bool {
	if runs, unit := calc.CutRuns(entry); len(runs) > 0 {
		return unit == ""
	}
	v, err := units.ParseValue(entry)
	return err == nil && !v.HasUnit
}

// cellName is the cell that `set` changes.
type cellName interface {
	String() string
	// spelled is the same with the notebook's own spelling of what was typed in
	// any case of letters.
	spelled(*sheets.Notebook) cellName
	// sheet finds the sheet that has the cell.
	sheet(*sheets.Notebook) (*sheets.Sheet, error)
	// find gives the cell as it is and the line of its record, unless the
	// entry cannot stand there.
	find(now *sheets.Sheet, entry string) (cell sheets.Cell, line int, err error)
	// header is that of the cell's column.
	header() string
	// quantity is the quantity that the cell is about, if it is one.
	quantity() string
	// trouble looks at what the cell belongs to after a change.
	trouble() trouble
	// read gives what a report has of the cell if it holds a reading, else nil.
	read(*calc.Report) *calc.Judged
}

// readName reads NAME, NAME.COLUMN or SHEET[CASE].COLUMN.
func readName(name string) (cellName, error) {
	if strings.Contains(name, "[") {
		sheet, key, column, found := calc.SplitCell(name)
		if !found {
			return nil, problem(words.Quoted(name)+" names no cell of a case sheet, expected SHEET[CASE].COLUMN",
				"as in rambook set 'tasks[grease guides].task_done_at' 480")
		}
		return caseCell{sheet, key, column}, nil
	}
	name, column, found := strings.Cut(name, ".")
	if !found {
		column = "entry"
	}
	known := rowColumns()
	column = words.Spelled(column, known)
	if slices.Contains(known, column) {
		return rowCell{name, column}, nil
	}
	return nil, problem(words.Quoted(column)+" is no column of a quantity, expected "+strings.Join(known, ", "),
		words.DidYouMean(column, known, ""))
}

// rowCell is a cell of a quantity's row.
type rowCell struct{ name, column string }

func (n rowCell) String() string { return n.name + "." + n.column }

func (n rowCell) header() string { return n.column }

func (n rowCell) quantity() string { return n.name }

func (n rowCell) trouble() trouble { return troubleOf(n.name) }

func (n rowCell) spelled(book *sheets.Notebook) cellName {
	n.name = words.Spelled(n.name, rowNames(book))
	return n
}

func (n rowCell) read(r *calc.Report) *calc.Judged {
	if n.column != "reading" {
		return nil
	}
	return r.Of(n.name)
}

func (n rowCell) sheet(book *sheets.Notebook) (*sheets.Sheet, error) {
	if sheet, _ := quantityRow(book, n.name); sheet != nil {
		return sheet, nil
	}
	return nil, problem("there is no quantity "+words.Quoted(n.name)+" in "+book.Path,
		words.DidYouMean(n.name, rowNames(book), ""))
}

func (n rowCell) find(now *sheets.Sheet, entry string) (sheets.Cell, int, error) {
	row := rowOf(now, n.name)
	if row == nil {
		return sheets.Cell{}, 0, problem(now.File+" no longer has "+words.Quoted(n.name), "")
	}
	cell := row.Cell(n.column)
	if n.column == "entry" && isFormula(row, cell.Text) && !isFormula(row, entry) {
		message, hint := words.Quoted(n.name)+" is a formula, and "+words.Quoted(entry)+" is not",
			"for what was measured: rambook set "+n.name+".reading "+quoteArgument(entry)
		if strings.TrimSpace(entry) == "" {
			message, hint = words.Quoted(n.name)+" is a formula, and a blank entry would delete it",
				"delete the row in an editor if it is not needed"
		}
		return cell, 0, wrong(now.Problem(cell, 0, len([]rune(cell.Text)), message, hint))
	}
	return cell, int(row.Name.Line), nil
}

// caseCell is a cell of one case, named as formulas name it.
type caseCell struct{ of, key, column string }

func (n caseCell) String() string { return n.of + "[" + n.key + "]." + n.column }

func (n caseCell) header() string { return n.column }

func (n caseCell) quantity() string { return n.column }

func (n caseCell) trouble() trouble { return troubleOfCase(n.of, n.key) }

func (n caseCell) spelled(book *sheets.Notebook) cellName {
	sheet, err := caseSheet(book, n.of)
	if err != nil {
		return n
	}
	n.of = sheet.Name
	if i, p := columnOf(sheet, n.column); p == nil {
		n.column = sheet.Columns[i].Name.Text
	}
	var keys []string
	for _, c := range sheet.Cases {
		keys = append(keys, c.Name.Text)
	}
	n.key = words.Spelled(n.key, keys)
	return n
}

func (n caseCell) read(r *calc.Report) *calc.Judged {
	j := r.InCase(n.of, n.key, n.column)
	if j == nil || j.State != calc.Read {
		return nil
	}
	return j
}

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
			return row.Cells[column], int(row.Name.Line), nil
		}
		known = append(known, row.Name.Text)
	}
	hint := words.DidYouMean(n.key, known, "")
	if hint == "" && len(known) > 0 {
		hint = "its cases are " + words.Listed(known, page.MostNames)
	}
	return sheets.Cell{}, 0, wrong(sheets.Problem{File: now.File, Message: "there is no case " + words.Quoted(n.key),
		Hint: hint})
}

// writesQuoted reports whether formulas are written '= so that a spreadsheet
// leaves them alone. The first sheet with a formula decides, the one that is to
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
//
//go:noinline
func shownCell(text string) string {
	if text == "" {
		return "(blank)"
	}
	return page.Printable(text)
}

// quoteArgument writes a word so that a shell reads it back.
func quoteArgument(word string) string {
	if word != "" && !strings.ContainsAny(word, " \t\n\"'`$\\*?[]{}()<>|&;#~!=") {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
