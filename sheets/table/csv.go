package table

import (
	"bytes"
	"encoding/csv"
	"strings"

	"rambook/units/words"
)

func (t Table) csv(out *bytes.Buffer) error {
	w := csv.NewWriter(out)
	var header []string
	for _, c := range t.Columns {
		header = append(header, Harmless(c.Header))
	}
	if err := w.Write(header); err != nil {
		return err
	}
	for _, r := range t.Rows {
		for j := range r.Cells {
			r.Cells[j] = Harmless(r.Cells[j])
		}
		if err := w.Write(r.Cells); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}

var plainNumber = words.Pattern(`^[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?$`)

// Harmless returns a cell for a CSV file with an apostrophe in front if a
// spreadsheet would run it as a formula. Numbers stay numbers.
func Harmless(cell string) string {
	if cell == "" || !strings.ContainsRune("=+-@\t\r", rune(cell[0])) || plainNumber().MatchString(cell) {
		return cell
	}
	return "'" + cell
}
