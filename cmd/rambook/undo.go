package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units/words"
)

// nameColumn stands behind the new name of a quantity that was renamed.
const nameColumn = ".name"

// isName reports whether a line is about a new name or note, which is no number.
func isName(line sheets.EntryRow) bool {
	return strings.HasSuffix(line.What.Text, nameColumn) || strings.HasSuffix(line.What.Text, ".note")
}

type undoCommand struct {
	Words []string `arg:"" optional:"" name:"N" help:"How many changes of the logbook to take back, 1 by default, then the notebook's folder if it is not this one."`
	Who   string   `env:"RAMBOOK_WHO" placeholder:"NAME" help:"Who does it, for the logbook. Default: RAMBOOK_WHO, else the user of the system."`
}

func (undoCommand) Help() string {
	return "The last changes of the logbook are taken back, all or none, and that is written into it as well. " +
		"A cell that has been changed by hand since is left alone, and named. Example:\n\n" +
		"  rambook undo 2 mypress"
}

// read parts the number from the path.
func (c *undoCommand) read() (n int, path string, err error) {
	n = 1
	for i, word := range c.Words {
		number, bad := strconv.Atoi(word)
		switch {
		case i == 0 && bad == nil && number > 0:
			n = number
		case path == "" && !isCount(word):
			path = word
		default:
			return 0, "", problem(words.Quoted(word)+" is no number of changes",
				"write a whole number from 1, and then the notebook's folder")
		}
	}
	return n, path, nil
}

// isCount reports whether a word was meant as a number.
func isCount(word string) bool {
	_, err := strconv.ParseFloat(word, 64)
	return err == nil
}

// Run takes back the last changes, each as the one after it has left the
// notebook.
func (c *undoCommand) Run(s *session) error {
	n, path, err := c.read()
	if err != nil {
		return err
	}
	taken := 0
	for range n {
		var change []sheets.EntryRow
		if err := anew(path, func(r *revision) error {
			logbook := r.book.Logbook()
			if logbook == nil {
				return r.missing(problem(
					r.book.Path+" has no "+sheets.LogbookFile+", so nothing is known of earlier changes", ""))
			}
			if change = lastStanding(r.book, logbook); change == nil {
				return nil
			}
			r.whole = true
			return c.takeBack(s, r, change)
		}); err != nil {
			return err
		}
		if change == nil {
			break
		}
		taken++
	}
	switch {
	case taken == 0:
		return problem("the logbook holds no change whose cells are still as written", "rambook logbook shows it")
	case taken < n:
		fmt.Fprintf(s.stderr, "%s taken back; the cells of the others in the logbook have changed since\n",
			words.Counted(taken, "change"))
	}
	return nil
}

// takeBack takes back what one command did.
func (c *undoCommand) takeBack(s *session, r *revision, change []sheets.EntryRow) error {
	by := entryFlags{Who: c.Who, Note: undone}
	if first := change[0]; strings.HasSuffix(first.What.Text, nameColumn) {
		rename := renameCommand{Old: strings.TrimSuffix(first.What.Text, nameColumn), New: first.Was.Text,
			entryFlags: by}
		return rename.in(s, r)
	}
	if sheet, name, one := recordedCase(change[0].What.Text); one {
		return c.removeCase(s, r, sheet, name, change[0], by)
	}
	if change[0].What.Text == unitsOfAll {
		restate := restateCommand{System: systemName(change[0].Was.Text), entryFlags: by}
		return restate.in(s, r)
	}
	var settings []setting
	var ties []sheets.EntryRow
	for _, line := range change {
		if _, _, tied := tiedPair(line.What.Text); tied {
			ties = append(ties, line)
			continue
		}
		cell, err := readName(line.What.Text)
		if err != nil {
			return err
		}
		settings = append(settings, setting{cellName: restored{cell}, entry: line.Was.Text})
	}
	changing, err := sheetsOf(settings, r)
	if err != nil {
		return err
	}
	for i := range settings {
		settings[i].text = settings[i].entry // which stood there in just this way
	}
	if of := correlationSheet(r.book); len(ties) > 0 {
		changing = append(changing, of)
	}
	r.enters(s, by, func() []sheets.Entry {
		list := logged(settings, r.book)
		for _, line := range ties {
			list = append(list, sheets.Entry{What: line.What.Text, Was: line.Is.Text, Is: line.Was.Text})
		}
		return list
	})
	if err := r.change(changing, func(now *sheets.Sheet, data []byte) ([]byte, error) {
		if now.Kind == sheets.Correlations {
			return untie(now, data, ties)
		}
		return write(settings, now, data)
	}); err != nil {
		return err
	}
	for i := range settings {
		one := &settings[i]
		fmt.Fprintf(&s.out, "%s:%d: %s: %s -> %s\n", one.on.File, one.before.Line, page.Printable(one.String()),
			shownCell(one.before.Text), shownCell(one.text))
	}
	for _, line := range ties {
		fmt.Fprintf(&s.out, "%s: %s -> %s\n", page.Printable(line.What.Text), shownCell(line.Is.Text),
			shownCell(line.Was.Text))
	}
	r.tell(s, settings)
	return nil
}

// removeCase takes a case out that record has appended.
func (c *undoCommand) removeCase(s *session, r *revision, of, name string, line sheets.EntryRow, by entryFlags) error {
	sheet, err := caseSheet(r.book, of)
	if err != nil {
		return r.missing(err)
	}
	at := 0
	r.enters(s, by, func() []sheets.Entry { return []sheets.Entry{{What: line.What.Text, Was: line.Is.Text}} })
	err = r.change([]*sheets.Sheet{sheet}, func(now *sheets.Sheet, data []byte) ([]byte, error) {
		row := caseOf(now, name)
		if row == nil {
			return nil, problem(now.File+" no longer has "+words.Quoted(name), "")
		}
		at = int(row.Name.Line)
		return sheets.RemoveRecord(data, at)
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(&s.out, "%s:%d: %s taken out\n", sheet.File, at, page.Printable(name))
	r.tell(s, nil)
	return nil
}

// restored is a cell that gets back what stood in it, be that a formula or
// nothing.
type restored struct{ cellName }

func (n restored) find(now *sheets.Sheet, entry string) (sheets.Cell, int, error) {
	if own, ok := n.cellName.(rowCell); ok {
		if row := rowOf(now, own.name); row != nil {
			return row.Cell(own.column), int(row.Name.Line), nil
		}
	}
	return n.cellName.find(now, entry)
}

// lastStanding is the last change that was not taken back, as far as its cells
// are as it left them: the lines of one command, which bear one moment. nil if
// there is none.
func lastStanding(book *sheets.Notebook, logbook *sheets.Sheet) []sheets.EntryRow {
	lines := standing(logbook.Entries)
	for len(lines) > 0 {
		from := len(lines) - 1
		for from > 0 && lines[from-1].When.Text == lines[from].When.Text &&
			lines[from-1].Who.Text == lines[from].Who.Text {
			from--
		}
		change := slices.DeleteFunc(slices.Clone(lines[from:]),
			func(line sheets.EntryRow) bool { return !stands(book, line) })
		if len(change) > 0 {
			return change
		}
		lines = lines[:from]
	}
	return nil
}

// standing lists the changes that were not taken back, in their order.
func standing(rows []sheets.EntryRow) []sheets.EntryRow {
	taken := map[[3]string]int{}
	var list []sheets.EntryRow
	for i := len(rows) - 1; i >= 0; i-- {
		row := rows[i]
		if row.Note.Text == undone {
			taken[[3]string{row.What.Text, row.Is.Text, row.Was.Text}]++
			continue
		}
		if key := [3]string{row.What.Text, row.Was.Text, row.Is.Text}; taken[key] > 0 {
			taken[key]--
			continue
		}
		list = append(list, row)
	}
	slices.Reverse(list)
	return list
}
