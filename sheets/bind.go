package sheets

import (
	"fmt"
	"io"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/gocarina/gocsv"

	"rambook/units/words"
)

// A layout is the columns of a kind of sheet: the fields with a csv tag of the
// struct that its records are.
type layout struct {
	rows   reflect.Type // of a list of the records
	names  []string     // of the columns
	fields []int        // of the struct, one for each name
	naming []int        // of the columns, those that hold the name of a quantity
	bound  sync.Map     // where the columns stand under headers that were met, which most sheets share
}

var (
	quantityLayout    = layoutOf(reflect.TypeFor[Row]())
	suspectLayout     = layoutOf(reflect.TypeFor[SuspectRow]())
	phaseLayout       = layoutOf(reflect.TypeFor[PhaseRow]())
	correlationLayout = layoutOf(reflect.TypeFor[CorrelationRow]())
	unknownLayout     = layoutOf(reflect.TypeFor[UnknownRow]())
	entryLayout       = layoutOf(reflect.TypeFor[EntryRow]())
	chartLayout       = layoutOf(reflect.TypeFor[ChartRow]())
	compareLayout     = layoutOf(reflect.TypeFor[CompareRow]())
)

// layoutOf reads the columns off the tags of a struct, once they are needed.
//
//go:noinline
func layoutOf(row reflect.Type) func() *layout {
	return sync.OnceValue(func() *layout {
		l := &layout{rows: reflect.SliceOf(row)}
		for i := range row.NumField() {
			f := row.Field(i)
			name, tagged := f.Tag.Lookup("csv")
			if !tagged || name == "-" {
				continue
			}
			if f.Tag.Get("of") == "quantity" {
				l.naming = append(l.naming, len(l.names))
			}
			l.names, l.fields = append(l.names, name), append(l.fields, i)
		}
		return l
	})
}

// cell is the cell of a row, which can be set, in one of the layout's columns.
func (l *layout) cell(row reflect.Value, i int) *Cell {
	return row.Field(l.fields[i]).Addr().Interface().(*Cell)
}

// namingCells are the cells of a list of rows that hold the name of a quantity.
func (l *layout) namingCells(rows any) []Cell {
	var cells []Cell
	list := reflect.ValueOf(rows)
	for i := range list.Len() {
		for _, column := range l.naming {
			cells = append(cells, *l.cell(list.Index(i), column))
		}
	}
	return cells
}

// Naming lists the cells of a sheet that do no more than name a quantity: a
// suspect, an unknown, what a chart shows. Formulas, headers and the names of
// rows are not among them.
func (s *Sheet) Naming() []Cell {
	return slices.Concat(suspectLayout().namingCells(s.Suspects), correlationLayout().namingCells(s.Correlations),
		unknownLayout().namingCells(s.Unknowns), chartLayout().namingCells(s.Charts),
		compareLayout().namingCells(s.Comparisons))
}

// RowColumns lists the columns of a quantity sheet, in the order in which they
// are written.
func RowColumns() []string { return slices.Clone(quantityLayout().names) }

// Cell is the cell of a row in the column of this name. There is none of a
// name that [RowColumns] does not list.
func (r *Row) Cell(name string) Cell {
	if i := slices.Index(quantityLayout().names, name); i >= 0 {
		return *quantityLayout().cell(reflect.ValueOf(r).Elem(), i)
	}
	return Cell{}
}

// columnIndex is where a column stands in a record, from 1; 0 if the sheet does not
// have it.
type columnIndex int

// UnmarshalCSV takes the number that bind writes below the name of a column, so that the
// cell says where in a record the column stands.
func (c *Cell) UnmarshalCSV(number string) error {
	n, err := strconv.Atoi(number)
	c.Column = int32(n)
	return err
}

// of returns the column's cell of a record; if there is none, a blank one that
// stands where name stands.
func (c columnIndex) of(record []Cell, name Cell) Cell {
	if c == 0 || int(c) > len(record) {
		return name.blank()
	}
	return record[c-1]
}

// binding is where the columns of a layout stand in one sheet.
type binding struct {
	*layout
	at []columnIndex // one for each name
}

// has reports whether the sheet has a column.
func (b binding) has(name string) bool { return b.at[slices.Index(b.names, name)] != 0 }

// fill puts the cells of a record into the fields of the row that it is given the
// address of.
func (b binding) fill(row any, record []Cell, name Cell) {
	fields := reflect.ValueOf(row).Elem()
	for i, c := range b.at {
		*b.cell(fields, i) = c.of(record, name)
	}
}

// bind finds the columns of a layout in the header. It lets gocsv match names
// to fields once, on a table whose one record holds the numbers of the columns:
// going through gocsv with every record would cost several times the parsing,
// and would lose the positions.
func bind(r *reader, l *layout) binding {
	names := make([]string, len(r.sheet.header))
	numbers := make([]string, len(r.sheet.header))
	for i, h := range r.sheet.header {
		name := h.Text
		k := slices.IndexFunc(l.names, func(k string) bool { return strings.EqualFold(k, name) })
		if k >= 0 && name != l.names[k] {
			name = l.names[k]
			r.addAt(h, fmt.Sprintf("column %s is written in small letters: %s", words.Quoted(h.Text),
				words.Quoted(name)), "")
		}
		if k >= 0 && slices.Contains(names[:i], name) {
			r.addAt(h, fmt.Sprintf("column %s stands twice in the header", words.Quoted(name)), "")
			name = ""
		}
		names[i], numbers[i] = name, strconv.Itoa(i+1)
	}
	r.warnOfSlips(l.names, names)

	header := strings.Join(names, "\x00") // which stands in no cell
	if known, met := l.bound.Load(header); met {
		return known.(binding)
	}
	b := binding{l, make([]columnIndex, len(l.names))}
	bound := reflect.New(l.rows)
	if err := gocsv.UnmarshalCSV(&table{names, numbers}, bound.Interface()); err != nil {
		r.addAt(r.sheet.header[0], err.Error(), "")
		return b
	}
	for i := range b.at {
		b.at[i] = columnIndex(l.cell(bound.Elem().Index(0), i).Column)
	}
	l.bound.Store(header, b)
	return b
}

// warnOfSlips warns of unknown columns whose names are one slip of the hand
// away from a column that the sheet does not have. Columns of that kind are
// kept and ignored, which is not what one wants of a limit.
func (r *reader) warnOfSlips(known, names []string) {
	for i, name := range names {
		if slices.Contains(known, name) {
			continue
		}
		for _, k := range known {
			if len(k) > 2 && !slices.Contains(names, k) && words.OneSlip(strings.ToLower(name), k) {
				r.sheet.Warnings = append(r.sheet.Warnings, r.sheet.whole(r.sheet.header[i],
					"column "+words.Quoted(name)+" is not known and therefore ignored",
					"did you mean "+words.Quoted(k)+"?"))
			}
		}
	}
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
