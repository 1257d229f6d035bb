package sheets

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"
)

// Change is a cell that differs between two states of a sheet.
type Change struct {
	What    string // the cell, as `set` calls it: force.reading, stations[left end].gap; or the row that came or went
	Line    int    // where it stands now, 0 if it is gone
	Was, Is string
}

// Text is the file as it was read, "" of a log, which stays in its file.
func (s *Sheet) Text() string { return s.data }

// Changes lists the cells that differ between two states of a sheet, in the order
// of the later one, and then what is gone. Rows are told apart by their first
// cell, columns by their header; comments and the order of rows do not count.
func Changes(name string, was, is string) ([]Change, error) {
	before, err := readStanding(was)
	if err != nil {
		return nil, err
	}
	after, err := readStanding(is)
	if err != nil {
		return nil, err
	}
	var list []Change
	for _, key := range after.keys {
		now := after.rows[key]
		old, found := before.rows[key]
		if !found {
			list = append(list, Change{What: after.place(name, key, ""), Line: now.line, Is: "a new row"})
			continue
		}
		for _, column := range after.columns {
			a, b := old.cells[column], now.cells[column]
			if a != b {
				list = append(list, Change{What: after.place(name, key, column), Line: now.line, Was: a, Is: b})
			}
		}
		for _, column := range before.columns {
			if a := old.cells[column]; a != "" && !after.has(column) {
				list = append(list, Change{What: after.place(name, key, column), Line: now.line, Was: a})
			}
		}
	}
	for _, key := range before.keys {
		if _, found := after.rows[key]; !found {
			list = append(list, Change{What: before.place(name, key, ""), Was: "a row", Is: "gone"})
		}
	}
	return list, nil
}

// standing is what stands in the cells of a file.
type standing struct {
	columns, keys []string // the columns without the first
	rows          map[string]standingRow
	quantities    bool
}

type standingRow struct {
	line  int
	cells map[string]string
}

// place is a cell as `set` calls it, or a row.
func (s *standing) place(sheet, key, column string) string {
	switch {
	case s.quantities && (column == "" || column == "entry"):
		return key
	case s.quantities:
		return key + "." + column
	case column == "":
		return sheet + "[" + key + "]"
	}
	return sheet + "[" + key + "]." + column
}

func (s *standing) has(column string) bool {
	for _, c := range s.columns {
		if c == column {
			return true
		}
	}
	return false
}

func readStanding(text string) (*standing, error) {
	r := csv.NewReader(bytes.NewReader([]byte(strings.TrimPrefix(text, "\ufeff"))))
	r.Comment, r.FieldsPerRecord, r.TrimLeadingSpace = '#', -1, true
	records, lines := [][]string{}, []int{}
	for {
		record, err := r.Read()
		if len(record) == 0 {
			if err != nil && len(records) == 0 && strings.TrimSpace(text) != "" {
				return nil, err
			}
			break
		}
		if err != nil {
			return nil, err
		}
		line, _ := r.FieldPos(0)
		records, lines = append(records, record), append(lines, line)
	}
	s := &standing{rows: map[string]standingRow{}}
	if len(records) == 0 {
		return s, nil
	}
	head := records[0]
	s.quantities = strings.TrimSpace(head[0]) == "name"
	for i, name := range head[1:] {
		if name = strings.TrimSpace(name); name == "" {
			name = fmt.Sprintf("column %d", i+2)
		}
		s.columns = append(s.columns, name)
	}
	for i, record := range records[1:] {
		key := strings.TrimSpace(record[0])
		for n := 2; ; n++ {
			if _, taken := s.rows[key]; !taken {
				break
			}
			key = fmt.Sprintf("%s (%d)", strings.TrimSpace(record[0]), n)
		}
		row := standingRow{lines[i+1], map[string]string{}}
		for k, cell := range record[1:] {
			if k == len(s.columns) { // more cells than the header
				s.columns = append(s.columns, fmt.Sprintf("column %d", k+2))
			}
			row.cells[s.columns[k]] = strings.TrimSpace(cell)
		}
		s.keys = append(s.keys, key)
		s.rows[key] = row
	}
	return s, nil
}
