package sheets

import (
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/agnivade/levenshtein"
	"github.com/gocarina/gocsv"
)

// quantityColumns says which column of the file holds which field of a Row.
type quantityColumns struct {
	Name    column `csv:"name"`
	Entry   column `csv:"entry"`
	Example column `csv:"example"`
	Unit    column `csv:"unit"`
	Reading column `csv:"reading"`
	Use     column `csv:"use"`
	With    column `csv:"with"`
	Spread  column `csv:"spread"`
	Low     column `csv:"low"`
	High    column `csv:"high"`
	After   column `csv:"after"`
	Note    column `csv:"note"`
}

// suspectColumns says which column of the file holds which field of a
// SuspectRow.
type suspectColumns struct {
	Suspect   column `csv:"suspect"`
	From      column `csv:"from"`
	To        column `csv:"to"`
	Unit      column `csv:"unit"`
	Prior     column `csv:"prior"`
	NextCheck column `csv:"next_check"`
	Note      column `csv:"note"`
}

// column is the place of a column in a record, from 1; 0 if the sheet does not
// have it.
type column int

// UnmarshalCSV sets the column from the number that bind writes below its name.
func (c *column) UnmarshalCSV(number string) error {
	n, err := strconv.Atoi(number)
	*c = column(n)
	return err
}

// of returns the column's cell of a record; if there is none, a blank one that
// stands where name stands.
func (c column) of(record []Cell, name Cell) Cell {
	if c == 0 || int(c) > len(record) {
		return name.blank()
	}
	return record[c-1]
}

// bind finds the columns of the layout T in the header. It lets gocsv match
// names to fields once, on a table whose one record holds the numbers of the
// columns: going through gocsv with every record would cost several times the
// parsing, and would lose the positions.
func bind[T any](r *reader) T {
	known := columnNames[T]()
	names := make([]string, len(r.sheet.header))
	numbers := make([]string, len(r.sheet.header))
	for i, h := range r.sheet.header {
		name := h.Text
		k := slices.IndexFunc(known, func(k string) bool { return strings.EqualFold(k, name) })
		if k >= 0 && name != known[k] {
			name = known[k]
			r.addAt(h, fmt.Sprintf("column `%s` is written in small letters: `%s`", h.Text, name), "")
		}
		if k >= 0 && slices.Contains(names[:i], name) {
			r.addAt(h, fmt.Sprintf("column `%s` stands twice in the header", name), "")
			name = ""
		}
		names[i], numbers[i] = name, strconv.Itoa(i+1)
	}
	r.warnOfSlips(known, names)

	var bound []T
	if err := gocsv.UnmarshalCSV(&table{names, numbers}, &bound); err != nil {
		r.addAt(r.sheet.header[0], err.Error(), "")
		return *new(T)
	}
	return bound[0]
}

// warnOfSlips warns of unknown columns whose names are one typing slip away
// from a column that the sheet does not have. Columns of that kind are kept and
// ignored, which is not what one wants of a limit.
func (r *reader) warnOfSlips(known, names []string) {
	for i, name := range names {
		if slices.Contains(known, name) {
			continue
		}
		for _, k := range known {
			if len(k) > 2 && !slices.Contains(names, k) && levenshtein.ComputeDistance(strings.ToLower(name), k) == 1 {
				r.sheet.Warnings = append(r.sheet.Warnings, r.sheet.whole(r.sheet.header[i],
					fmt.Sprintf("column `%s` is not known and therefore ignored", name),
					fmt.Sprintf("did you mean `%s`?", k)))
			}
		}
	}
}

// columnNames lists the columns of a layout.
func columnNames[T any]() []string {
	var names []string
	for _, f := range reflect.VisibleFields(reflect.TypeFor[T]()) {
		names = append(names, f.Tag.Get("csv"))
	}
	return names
}

// table is a gocsv.CSVReader of records at hand.
type table [][]string

func (t *table) Read() ([]string, error) {
	if len(*t) == 0 {
		return nil, io.EOF
	}
	record := (*t)[0]
	*t = (*t)[1:]
	return record, nil
}

func (t *table) ReadAll() ([][]string, error) { return *t, nil }
