package main

import (
	"cmp"
	"os"
	"os/user"
	"slices"
	"strings"
	"time"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/cmd/rambook/report"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/sorting"
	"rambook/units/words"
)

// entryFlags hold what the logbook gets beside the change itself.
type entryFlags struct {
	Who  string `env:"RAMBOOK_WHO" placeholder:"NAME" help:"Who enters it, for the logbook. Default: RAMBOOK_WHO, else the user of the system."`
	Note string `placeholder:"TEXT" help:"A note for the logbook, such as \"wedge 3 turned in\"."`
}

// by is who enters something.
func (f entryFlags) by() string {
	name := cmp.Or(f.Who, os.Getenv("USER"), os.Getenv("LOGNAME"), os.Getenv("USERNAME"))
	if name != "" {
		return name
	}
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return ""
}

// momentLayout is how the logbook writes when something was entered: local time,
// since that is what people remember.
const momentLayout = "2006-01-02 15:04:05"

// undone marks the lines that undo writes.
const undone = "undone"

// enters has a change leave lines in the logbook, if the notebook has one. lines
// gives them once the change is made: what was there is known only then.
//
//go:noinline
func (r *revision) enters(s *session, by entryFlags, lines func() []sheets.Entry) {
	r.entries = func(logbook *sheets.Sheet) []sheets.Entry {
		var list []sheets.Entry
		when := moment(s.now(), logbook)
		for _, line := range lines() {
			if line.Was == line.Is {
				continue
			}
			line.When, line.Who, line.Note = when, by.by(), cmp.Or(line.Note, by.Note)
			list = append(list, line)
		}
		return list
	}
}

// moment writes a time as no line of the logbook has it yet: the lines of one
// change are those of one moment.
func moment(now time.Time, logbook *sheets.Sheet) string {
	taken := func(text string) bool {
		n := len(logbook.Entries)
		return n > 0 && logbook.Entries[n-1].When.Text >= text
	}
	text := now.Format(momentLayout)
	for i := 0; taken(text) && i < 1000; i++ {
		text = now.Add(time.Duration(i) * time.Millisecond).Format(momentLayout + ".000")
	}
	return text
}

// logged is the line of the logbook about a cell.
func (one *setting) logged(book *sheets.Notebook) sheets.Entry {
	e := sheets.Entry{What: strings.TrimSuffix(one.String(), ".entry"), Was: one.before.Text,
		Is: strings.TrimSpace(one.text), Note: one.why}
	if _, row := quantityRow(book, one.quantity()); row != nil {
		e.With = row.With.Text
	}
	return e
}

// logged is the lines of the logbook about cells.
func logged(settings []setting, book *sheets.Notebook) []sheets.Entry {
	var list []sheets.Entry
	for i := range settings {
		list = append(list, settings[i].logged(book))
	}
	return list
}

type logbookCommand struct {
	Words []string `arg:"" optional:"" complete:"quantity" name:"NAME" help:"What to show the lines of, such as force or stations, then the notebook's folder if it is not this one."`
	outputFlags
}

func (logbookCommand) Help() string {
	return "What was entered when, by whom, with which gauge; the last line last. " +
		"It is kept where the notebook has a file logbook.csv. Example:\n\n" +
		"  rambook logbook wedge_back_left mypress"
}

// Run shows the logbook.
func (c *logbookCommand) Run(s *session) error {
	names, path := notebookLast(c.Words, 0)
	flags := notebookFlags{Path: path}
	if len(names) > 1 {
		return problem(words.Quoted(names[1])+" is neither a folder nor expected behind "+words.Quoted(names[0]), "")
	}
	book, err := openNotebook(flags.Path)
	if err != nil {
		return err
	}
	logbook := book.Logbook()
	if logbook == nil {
		return problem(book.Path+" has no "+sheets.LogbookFile,
			"make one that holds the line "+
				strings.TrimSpace(string(sheets.LogbookHeader()))+", or let `rambook fill` do it")
	}
	rows := logbook.Entries
	if len(names) > 0 {
		rows = entriesOf(rows, names[0])
	}
	return s.answer(answer.Of(flags.title(&calc.Model{Book: book}), book.Invented(), page.LogbookView(rows)))
}

// entriesOf picks the lines about a quantity, a sheet or a cell, under whatever
// names it had before.
func entriesOf(rows []sheets.EntryRow, name string) []sheets.EntryRow {
	names := []string{name}
	var list []sheets.EntryRow
	for i := len(rows) - 1; i >= 0; i-- {
		row := rows[i]
		about := slices.ContainsFunc(names, func(name string) bool {
			rest, found := strings.CutPrefix(row.What.Text, name)
			return found && (rest == "" || rest[0] == '.' || rest[0] == '[')
		})
		if !about {
			continue
		}
		list = append(list, row)
		if strings.HasSuffix(row.What.Text, nameColumn) {
			names = append(names, row.Was.Text)
		}
	}
	slices.Reverse(list)
	return list
}

// recordedCase takes the name of a case apart that record has appended, and
// reports whether it is one.
func recordedCase(what string) (sheet, name string, one bool) {
	sheet, rest, found := strings.Cut(what, "[")
	name, closed := strings.CutSuffix(rest, "]")
	return sheet, name, found && closed
}

// recorded writes the cells of a case as record got them.
func recorded(sheet *sheets.Sheet, cells []string) string {
	var words []string
	for i, column := range sheet.Columns {
		if i < len(cells) && cells[i] != "" {
			word := column.Name.Text + "=" + cells[i]
			if strings.ContainsAny(word, " '") {
				word = quoteArgument(word)
			}
			words = append(words, word)
		}
	}
	return strings.Join(words, " ")
}

func caseOf(sheet *sheets.Sheet, name string) *sheets.CaseRow {
	for i := range sheet.Cases {
		if sheet.Cases[i].Name.Text == name {
			return &sheet.Cases[i]
		}
	}
	return nil
}

// stands reports whether the notebook is still as a line of the logbook left it.
func stands(book *sheets.Notebook, line sheets.EntryRow) bool {
	if name, renamed := strings.CutSuffix(line.What.Text, nameColumn); renamed {
		sheet, _ := quantityRow(book, name)
		return sheet != nil
	}
	if _, _, tied := tiedPair(line.What.Text); tied {
		return isTied(book, line)
	}
	if line.What.Text == unitsOfAll {
		return !line.Was.Blank() && len(calc.Restate(book, units.System(line.Is.Text), 0)) == 0
	}
	if of, name, one := recordedCase(line.What.Text); one {
		sheet, err := caseSheet(book, of)
		if err != nil {
			return false
		}
		row := caseOf(sheet, name)
		return row != nil && recorded(sheet, texts(row.Cells)) == line.Is.Text
	}
	cell, err := readName(line.What.Text)
	if err != nil {
		return false
	}
	sheet, err := cell.sheet(book)
	if err != nil {
		return false
	}
	now, _, err := restored{cell}.find(sheet, line.Was.Text)
	return err == nil && now.Text == line.Is.Text
}

func texts(cells []sheets.Cell) []string {
	list := make([]string, len(cells))
	for i, c := range cells {
		list[i] = c.Text
	}
	return list
}

// readInCases lists the last line of the logbook about each cell of a case that
// was read with a gauge and is as it was entered, in the order of entering.
func readInCases(book *sheets.Notebook) []report.ReadCell {
	logbook := book.Logbook()
	if logbook == nil {
		return nil
	}
	var list []report.ReadCell
	known := map[string]bool{}
	for i := len(logbook.Entries) - 1; i >= 0; i-- {
		line := logbook.Entries[i]
		cell, err := readName(line.What.Text)
		if _, ok := cell.(caseCell); err != nil || !ok || line.With.Blank() || known[line.What.Text] {
			continue
		}
		known[line.What.Text] = true
		if !line.Is.Blank() && stands(book, line) {
			at := cell.(caseCell)
			list = append(list, report.ReadCell{Sheet: at.of, Cell: at.key + ": " + at.header(), Line: line})
		}
	}
	slices.Reverse(list)
	sorting.Stable(list, func(a, b report.ReadCell) int {
		of := func(read report.ReadCell) int {
			return slices.IndexFunc(book.Sheets, func(s *sheets.Sheet) bool { return s.Name == read.Sheet })
		}
		return of(a) - of(b)
	})
	return list
}

// changedSince lists what was changed from one thing to another, and was not taken
// back. A notebook may have no logbook.
func changedSince(logbook *sheets.Sheet) []sheets.EntryRow {
	if logbook == nil {
		return nil
	}
	return slices.DeleteFunc(standing(logbook.Entries), func(line sheets.EntryRow) bool {
		// What was assumed, or computed of a log, was no number of the machine.
		noNumber := calc.IsAssumed(line.Was.Text) ||
			calc.ReadsAsFormula(line.Was.Text) && !calc.ReadsAsFormula(line.Is.Text)
		return line.Was.Blank() || line.Is.Blank() || noNumber || isName(line)
	})
}
