package sheets

import (
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

// FuzzRead checks that reading never panics, that each character of each cell
// is found in the file where the sheet says it is, and that a file without
// problems gives what encoding/csv alone reads from it.
func FuzzRead(f *testing.F) {
	for _, test := range readTests {
		f.Add([]byte(test.file))
	}
	for _, test := range replaceTests {
		if len(test.file) < 1000 {
			f.Add([]byte(test.file))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		sheet, problems := Read("f.csv", data)
		if sheet == nil {
			if len(problems) == 0 {
				t.Fatal("no sheet and no problem")
			}
			return
		}
		lines := strings.Split(strings.TrimPrefix(string(data), utf8BOM), "\n")
		for _, p := range problems {
			if p.Line < 1 || p.Line > len(lines) || p.Column < 1 ||
				p.Column > 1+utf8.RuneCountInString(lines[p.Line-1]) {
				t.Fatalf("%v: no such place", p)
			}
		}
		cells := allCells(sheet)
		for _, c := range cells {
			checkPlaces(t, sheet, c, lines)
		}
		if len(problems) > 0 {
			return
		}
		records, err := parseAll(data)
		if err != nil {
			t.Fatalf("encoding/csv says %v", err)
		}
		var texts []string
		for _, record := range records {
			for _, text := range record {
				texts = append(texts, strings.TrimSpace(text))
			}
		}
		for _, c := range cells {
			if !c.Blank() && !slices.Contains(texts, c.Text) {
				t.Fatalf("encoding/csv does not read %q", c.Text)
			}
		}
		records = slices.DeleteFunc(records, func(record []string) bool { return isRemark(record[0]) })
		for len(records) > 0 && blank(records[0]) {
			records = records[1:]
		}
		if got, want := len(sheet.Rows)+len(sheet.Cases)+len(sheet.Suspects),
			countRecords(sheet, records); got != want {
			t.Fatalf("sheet has %d rows, encoding/csv reads %d", got, want)
		}
	})
}

// allCells lists the cells of a sheet.
func allCells(s *Sheet) []Cell {
	cells := append([]Cell{s.Key}, s.header...)
	for _, r := range s.Rows {
		cells = append(cells, r.cells()...)
	}
	for _, c := range s.Columns {
		cells = append(cells, c.Name, c.Unit, c.Spread, c.Low, c.High)
	}
	for _, c := range s.Cases {
		cells = append(append(cells, c.Name), c.Cells...)
	}
	for _, r := range s.Suspects {
		cells = append(cells, r.Suspect, r.From, r.To, r.Unit, r.Prior, r.NextCheck, r.Note)
	}
	return cells
}

// checkPlaces finds each character of a cell in the lines of the file.
func checkPlaces(t *testing.T, s *Sheet, c Cell, lines []string) {
	for i, r := range []rune(c.Text) {
		p := s.Problem(c, i, i+1, "", "")
		if i == 0 && (p.Line != int(c.Line) || p.Column != int(c.Column)) {
			t.Fatalf("%+v: its first character is said to be at %d:%d", c, p.Line, p.Column)
		}
		line := []rune(lines[p.Line-1] + "\n")
		if p.Column > len(line) {
			t.Fatalf("%+v: line %d has no character %d", c, p.Line, p.Column)
		}
		got := line[p.Column-1]
		if r == '\n' && got == '\r' {
			got = '\n'
		}
		if got != r {
			t.Fatalf("%+v: character %d is %q, at %d:%d stands %q", c, i, r, p.Line, p.Column, got)
		}
	}
}

// countRecords counts the records that make a row of the sheet.
func countRecords(s *Sheet, records [][]string) int {
	n := 0
	for i, record := range records {
		ofColumns := s.Kind == Cases && strings.HasPrefix(strings.TrimSpace(record[0]), ":")
		if !blank(record) && !ofColumns && i > 0 {
			n++
		}
	}
	return n
}

// blank reports whether a record has nothing in its cells.
func blank(record []string) bool { return strings.TrimSpace(strings.Join(record, "")) == "" }
