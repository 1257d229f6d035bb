package sheets

import (
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
)

// A starter holds nothing of a machine: where a number of its own belongs, the
// entry is blank, or an assumption, and an example stands beside it. Cases of an
// invented machine stand below the rows of a case sheet that begin with a colon,
// as comments. This file makes the invented machine of them.

// exampleMark begins the first line of a notebook whose numbers are those of an
// invented machine.
const exampleMark = "# An invented machine: "

// ExampleLine is the line that WithExamples puts before the first sheet.
const ExampleLine = exampleMark +
	"the numbers are examples, not those of a real one. Delete this line when all are yours.\n"

// isInvented reports whether a file says that its machine is invented.
func isInvented(text string) bool {
	text = strings.TrimPrefix(text, utf8BOM)
	return strings.HasPrefix(strings.TrimPrefix(text, `"`), exampleMark)
}

// Invented reports whether the notebook describes an invented machine.
//
//go:noinline
func (n *Notebook) Invented() bool {
	return n.Embedded || slices.ContainsFunc(n.Sheets, func(s *Sheet) bool { return isInvented(s.data) })
}

// FillExamples puts the examples into the entries that wait for a number of a
// machine, in memory only.
func (n *Notebook) FillExamples() {
	for _, s := range n.Sheets {
		for i := range s.Rows {
			if row := &s.Rows[i]; waitsForOwn(row.Entry.Text) && !row.Example.Blank() {
				row.Entry = row.Example
			}
		}
	}
}

// waitsForOwn reports whether an entry is to be replaced by a number of the
// machine.
func waitsForOwn(entry string) bool { return entry == "" || strings.HasPrefix(entry, "assumed ") }

// WithExamples gives the files of a starter with the invented machine filled in,
// which the first line says.
func WithExamples(files []StarterFile) ([]StarterFile, error) {
	files = slices.Clone(files)
	for i := range files {
		data := []byte(exampleCases(string(files[i].Data)))
		sheet, problems := Read(files[i].Name, data)
		if len(problems) > 0 {
			return nil, problems[0]
		}
		for r := range sheet.Rows {
			row := &sheet.Rows[r]
			if !waitsForOwn(row.Entry.Text) || row.Example.Blank() {
				continue
			}
			var err error
			if data, err = SetCell(data, int(row.Name.Line), "entry", row.Example.Text); err != nil {
				return nil, fmt.Errorf("%s: %w", files[i].Name, err)
			}
		}
		if i == 0 {
			data = append([]byte(ExampleLine), data...)
		}
		files[i].Data = data
	}
	return files, nil
}

// exampleCases makes cases of the comments below the rows of a case sheet that
// begin with a colon. One that is there already waits for the machine's own cells,
// and gets those of the comment that begins with its name.
func exampleCases(text string) string {
	if !strings.Contains(text, "\n:") {
		return text // most sheets are of another kind
	}
	lines := strings.SplitAfter(text, "\n")
	last := -1
	for i, line := range lines {
		if strings.HasPrefix(line, ":") {
			last = i
		}
	}
	at := map[string]int{} // the line of each case
	for i := last + 1; i < len(lines); i++ {
		line, isExample := strings.CutPrefix(lines[i], "# ")
		name, _, _ := strings.Cut(line, ",")
		if blank, known := at[name]; known && isExample {
			lines[blank], lines[i] = line, ""
			continue
		}
		at[name], lines[i] = i, line
	}
	return strings.Join(lines, "")
}

// OpenExamples gives a case sheet with its example cases, which stand in comments below
// the rows that begin with a colon, as cases, and the lines that they stand on. A sheet
// that could not be read so is left as it is.
func (s *Sheet) OpenExamples() (*Sheet, []int) {
	lines := strings.SplitAfter(s.data, "\n")
	var open []int
	for i, line := range lines {
		example, isComment := strings.CutPrefix(line, commentMark)
		if strings.HasPrefix(line, ":") {
			open = []int{}
		} else if isComment && open != nil && s.isCase(example) {
			open = append(open, i)
		}
	}
	if len(open) == 0 {
		return s, nil
	}
	for _, i := range open {
		lines[i] = lines[i][len(commentMark):]
	}
	opened, problems := Read(s.File, []byte(strings.Join(lines, "")))
	if len(problems) > 0 {
		return s, nil
	}
	return opened, open
}

// commentMark is what an example case begins with.
const commentMark = "# "

// isCase reports whether a line has a cell for each column.
func (s *Sheet) isCase(line string) bool {
	record, err := csv.NewReader(strings.NewReader(line)).Read()
	return err == nil && len(record) == len(s.Columns)+1
}

// ReplaceOpened is ReplaceCells in a sheet whose example cases are open on some lines,
// and makes comments of them again.
func (s *Sheet) ReplaceOpened(texts map[Cell]string, open []int) ([]byte, error) {
	data, err := ReplaceCells([]byte(s.data), texts)
	if err != nil || open == nil {
		return data, err
	}
	lines := strings.SplitAfter(string(data), "\n")
	for _, i := range open {
		lines[i] = commentMark + lines[i]
	}
	return []byte(strings.Join(lines, "")), nil
}

// Example is what the invented machine has in a cell of a case, "" if there is no
// such example.
func (s *Sheet) Example(key, column string) string { return s.example("# "+key+",", column) }

// FirstExample is what the first of the invented machine's cases has in a column; ""
// if there is no such example.
func (s *Sheet) FirstExample(column string) string { return s.example("# ", column) }

// example finds a cell of the first comment that begins so and is a case.
func (s *Sheet) example(start, column string) string {
	at := slices.IndexFunc(s.Columns, func(c Column) bool { return c.Name.Text == column })
	for line := range strings.Lines(s.data) {
		line, isExample := strings.CutPrefix(line, start)
		if !isExample || at < 0 {
			continue
		}
		record, err := csv.NewReader(strings.NewReader(line)).Read()
		if name := strings.Count(start, ","); err == nil && len(record)+name == len(s.Columns)+1 {
			return strings.TrimSpace(record[at+1-name])
		}
	}
	return ""
}

// With reads the sheet anew with the texts of some cells replaced.
func (s *Sheet) With(texts map[Cell]string) (*Sheet, []Problem) {
	data, err := ReplaceCells([]byte(s.data), texts)
	if err != nil {
		return s, []Problem{{File: s.File, Message: err.Error()}}
	}
	return Read(s.File, data)
}
