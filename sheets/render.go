package sheets

import (
	"errors"
	"io"
)

// Format names a way to print a table.
type Format string

const (
	Plain    Format = "table"
	Markdown Format = "md"
	CSV      Format = "csv"
	HTML     Format = "html"
)

// Align says how the cells of a column line up.
type Align uint8

const (
	Left    Align = iota
	Right         // for whole numbers
	Decimal       // on the decimal point
)

// Table is what Render prints.
type Table struct {
	Title   string
	Columns []TableColumn
	Rows    []TableRow
	Note    string // one line below the table
}

// TableColumn is the header of one column.
type TableColumn struct {
	Header string
	Align  Align
}

// TableRow is one row. A Heading that differs from the row before stands as a
// line of its own above the row.
type TableRow struct {
	Heading string
	Cells   []string
}

// Render writes the table in one of the formats, the plain one at most width
// characters wide where that can be done without cutting a number (0 is 80).
func (t Table) Render(w io.Writer, f Format, width int) error { return errors.New("not written yet") }
