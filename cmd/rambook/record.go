package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units/words"
)

type recordCommand struct {
	Sheet string   `arg:"" complete:"cases" help:"The case sheet, such as visits."`
	Case  string   `arg:"" help:"The new case's own name."`
	Words []string `arg:"" sep:"none" name:"NAME=ENTRY" help:"The case's cells, then the notebook's folder if it is not this one."`
	Sure  bool     `help:"Keep a reading that is far from what is computed."`
	entryFlags
}

func (recordCommand) Help() string {
	return "A column of dates that is not set gets today, unless a formula computes it. " +
		"Every other byte of the file stays as it is. Example:\n\n" +
		"  rambook record visits \"2026-05-04 service\" timed_pressing=4.36 working_temperature=\"46 degC\" mypress"
}

// Run appends the case, after a look at what the notebook would be with it.
func (c *recordCommand) Run(s *session) error {
	if strings.TrimSpace(c.Case) == "" {
		return problem("the case has no name", "give it one, such as \"2026-05-04 service\"")
	}
	path, cells, err := c.sortWords()
	if err != nil {
		return err
	}
	r, err := revise(path)
	if err != nil {
		return err
	}
	sheet, err := caseSheet(r.book, c.Sheet)
	if err != nil {
		return r.missing(err)
	}
	for i := range cells {
		why, found := cutReason(cells[i].entry)
		if at, p := columnOf(sheet, cells[i].name); found && p == nil && sheet.Columns[at].Unit.Text != "text" {
			if err := keepsReasons(r.book); err != nil {
				return err
			}
			cells[i].entry, c.Note = "n/a", withReason(c.Note, why)
		}
	}
	name := strings.TrimSpace(c.Case)
	settings := []setting{{cellName: caseCell{of: sheet.Name, key: name}}}
	if len(cells) > 0 {
		settings = nil
	}
	for _, cell := range cells {
		settings = append(settings, setting{cellName: caseCell{sheet.Name, name, cell.name}.spelled(r.book),
			entry: cell.entry})
	}
	var line int
	var written []string
	today := "" // the date that nobody typed
	r.enters(s, c.entryFlags, func() []sheets.Entry {
		return []sheets.Entry{{What: sheet.Name + "[" + name + "]", Is: recorded(sheet, written)}}
	})
	err = r.changeUnlessDoubted(s, settings, c.Sure, []*sheets.Sheet{sheet},
		func(now *sheets.Sheet, data []byte) ([]byte, error) {
			record, err := c.record(now, cells)
			if err != nil {
				return nil, err
			}
			if i := r.dateColumn(now, cells); i >= 0 {
				record[1+i] = s.now().Format(time.DateOnly)
				today = fmt.Sprintf(", %s %s (today)", now.Columns[i].Name.Text, record[1+i])
			}
			written = record[1:]
			data, line, err = sheets.AppendRecord(data, record)
			return data, err
		})
	if err != nil {
		return err
	}
	fmt.Fprintf(&s.out, "%s:%d: %s recorded%s\n", sheet.File, line, page.Printable(c.Case), today)
	for i := range settings {
		s.answerRecorded(&settings[i], r.after)
	}
	s.answerLent(sheet.Name, name, r.after)
	r.tell(s, settings[:1])
	return nil
}

// assignment is one NAME=ENTRY word.
type assignment struct{ name, entry string }

// sortWords parts the assignments from the path, which has no = before a slash.
func (c *recordCommand) sortWords() (path string, cells []assignment, err error) {
	for _, word := range c.Words {
		name, entry, found := strings.Cut(word, "=")
		switch {
		case found && !strings.Contains(name, "/"):
			cells = append(cells, assignment{strings.TrimSpace(name), strings.TrimSpace(entry)})
		case path == "":
			path = word
		default:
			return "", nil, problem(words.Quoted(word)+" is a second path, after "+words.Quoted(path),
				"write NAME=ENTRY without blanks around the =")
		}
	}
	return path, cells, nil
}

// record lays the cells out in the order of the sheet's columns.
func (c *recordCommand) record(sheet *sheets.Sheet, cells []assignment) ([]string, error) {
	if strings.HasPrefix(strings.TrimSpace(c.Case), ":") {
		return nil, problem(words.Quoted(c.Case)+" is no name of a case",
			"a name that begins with a colon, as `:spread`, is of a row that holds for all cases; "+
				"edit the file for that")
	}
	for _, other := range sheet.Cases {
		if other.Name.Text == strings.TrimSpace(c.Case) {
			hint := "give the new case another name"
			if len(cells) > 0 {
				cell := caseCell{sheet.Name, other.Name.Text, cells[0].name}
				hint += fmt.Sprintf(", or change a cell of this one: rambook set %s %s", quoteArgument(cell.String()),
					quoteArgument(cells[0].entry))
			}
			return nil, wrong(sheet.Problem(other.Name, 0, len([]rune(other.Name.Text)),
				"a case of this name is there already", hint))
		}
	}
	record := make([]string, 1+len(sheet.Columns))
	record[0] = c.Case
	var problems []sheets.Problem
	given := make(map[string]bool)
	for _, cell := range cells {
		i, p := columnOf(sheet, cell.name)
		if p == nil {
			cell.name = sheet.Columns[i].Name.Text // as it is spelled there
		}
		switch {
		case p != nil:
		case given[cell.name]:
			p = &sheets.Problem{Message: words.Quoted(cell.name) + " is given twice"}
		default:
			p = misread(sheet.Columns[i], cell.name+"=", cell.entry)
			record[1+i], given[cell.name] = cell.entry, true
		}
		if p != nil {
			problems = append(problems, *p)
		}
	}
	if problems != nil {
		return nil, wrong(problems...)
	}
	return record, nil
}

// dateColumn finds the column of dates, as the model does. It returns -1
// if there is none, if its cell is given, or if the notebook is broken and the
// sheet itself has no column of dates.
func (r *revision) dateColumn(sheet *sheets.Sheet, given []assignment) int {
	name := "date"
	if r.model != nil {
		name = r.model.DateColumn(r.book.Sheet(sheet.Name))
	}
	if slices.ContainsFunc(given, func(a assignment) bool { return a.name == name }) {
		return -1
	}
	return slices.IndexFunc(sheet.Columns, func(c sheets.Column) bool {
		return c.Name.Text == name && (r.model != nil || c.Unit.Text == "date")
	})
}
