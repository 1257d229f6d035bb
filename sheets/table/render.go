// Package table draws tables: for a terminal, as Markdown, as HTML and as CSV.
// It has texts in rows and columns, and nothing else: what they mean is for
// others.
package table

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Format names a way to print a table.
type Format string

const (
	Plain    Format = "table" // aligned columns for a terminal
	Markdown Format = "md"    // a Markdown table
	CSV      Format = "csv"   // header and rows only, every column
	HTML     Format = "html"  // a table element and a paragraph for the note
)

// Align is how the cells of a column line up.
type Align uint8

const (
	Left    Align = iota // text
	Right                // text that ends alike
	Decimal              // numbers, on their decimal points; what is no number goes right
)

// Table is what Render prints.
type Table struct {
	Title   string // above the table
	Columns []Column
	Rows    []Row
	Note    string // below the table
}

// Column is the header of one column.
type Column struct {
	Header string
	Align  Align
	Joined bool // means something only beside the column before it, and is never parted from it
	ByHand bool // to be filled on paper, so that it is shown though it is empty

	// Paint, if not nil, puts escape sequences for colour around a cell of the
	// plain format. It must end what it begins.
	Paint func(cell string) string
}

// Row is one row. A Heading that differs from the one of the row before
// stands on a line of its own above the row.
type Row struct {
	Heading string
	Cells   []string
}

// Render writes the table in one of the formats. Columns without a filled cell
// are left out, except in CSV, whose readers count on them.
//
// The plain format is kept to width characters (80 if width is 0) by first
// wrapping the last column of texts between words, and then by splitting the
// table by columns into several, each of which begins with the first column.
// No number is ever cut: a single column wider than that stays so.
//
// Nothing is written if the table cannot be printed; an error of w is returned.
func (t Table) Render(w io.Writer, f Format, width int) error {
	text, err := t.Text(f, width)
	if err != nil {
		return err
	}
	_, err = w.Write(text)
	return err
}

// Text is what Render writes.
func (t Table) Text(f Format, width int) ([]byte, error) {
	if width <= 0 {
		width = 80
	}
	var out bytes.Buffer
	var err error
	switch f {
	case Plain:
		t.plain(&out, width)
	case Markdown:
		err = t.WithoutBlank().visible().markdown(&out)
	case HTML:
		err = t.WithoutBlank().visible().html(&out)
	case CSV:
		err = t.Only(t.all()).visible().csv(&out)
	default:
		err = fmt.Errorf("no table format is called %q", string(f))
	}
	if err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// Visible returns s with each control character, but for line break and tab,
// and each character without a width of its own replaced by one that shows it:
// a terminal would obey some of them, and a change of the writing direction or
// a hidden character can make a text look like another one.
func Visible(s string) string {
	for i := range len(s) {
		if c := s[i]; c >= 0x7f || c < ' ' && c != '\n' && c != '\t' {
			return strings.Map(visibleRune, s)
		}
	}
	return s // as most are
}

// visibleRune is the one that stands in place of a character.
func visibleRune(r rune) rune {
	switch {
	case r == '\n', r == '\t', ' ' <= r && r < 0x7f:
		return r
	case r < ' ':
		return '␀' + r
	case r == 0x7f:
		return '␡'
	case unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r),
		strings.ContainsRune("\u00ad\u200b\u2060\ufeff\ufffe\uffff", r):
		return utf8.RuneError
	}
	return r
}

// isPlain reports whether a text is of characters that each terminal shows in a
// column of its own, as most are.
func isPlain(s string) bool {
	for i := range len(s) {
		if s[i] < ' ' || s[i] >= 0x7f {
			return false
		}
	}
	return true
}

// visible makes all texts of a table visible, which is a copy already.
func (t Table) visible() Table {
	t.Title, t.Note = Visible(t.Title), Visible(t.Note)
	t.edit(func(_ int, text string) string { return Visible(text) })
	last, heading := "", ""
	for i, r := range t.Rows {
		if r.Heading != last { // rows that stand together have one
			last, heading = r.Heading, oneLine(Visible(r.Heading))
		}
		t.Rows[i].Heading = heading
	}
	return t
}

// rowsOf makes rows of blank cells, which have their memory together.
func rowsOf(n, columns int) []Row {
	rows, cells := make([]Row, n), make([]string, n*columns)
	for i := range rows {
		rows[i].Cells = cells[i*columns:][:columns:columns]
	}
	return rows
}

// WithoutBlank returns a copy of the table without columns that are empty in all rows.
func (t Table) WithoutBlank() Table { return t.Only(t.filled()) }

// filled are the columns that are not empty in all rows; all, if there are no rows.
func (t Table) filled() []int {
	columns := make([]int, 0, len(t.Columns))
	for j := range t.Columns {
		filled := t.Columns[j].ByHand || len(t.Rows) == 0
		for i := 0; i < len(t.Rows) && !filled; i++ {
			filled = strings.TrimSpace(t.Rows[i].cell(j)) != ""
		}
		if filled {
			columns = append(columns, j)
		}
	}
	return columns
}

// all are all columns.
func (t Table) all() []int {
	columns := make([]int, len(t.Columns))
	for j := range columns {
		columns[j] = j
	}
	return columns
}

// cell is the text in a column, "" where the row has none.
func (r Row) cell(j int) string {
	if j >= len(r.Cells) {
		return ""
	}
	return r.Cells[j]
}

// Only returns a copy of the table with some of its columns, and as many cells in
// each row.
func (t Table) Only(columns []int) Table {
	all := t
	t.Columns, t.Rows = make([]Column, 0, len(columns)), rowsOf(len(all.Rows), len(columns))
	for _, j := range columns {
		t.Columns = append(t.Columns, all.Columns[j])
	}
	for i, r := range all.Rows {
		t.Rows[i].Heading = r.Heading
		for k, j := range columns {
			t.Rows[i].Cells[k] = r.cell(j)
		}
	}
	return t
}

// edit replaces every header and cell by what f makes of it.
func (t Table) edit(f func(column int, text string) string) {
	for j := range t.Columns {
		t.Columns[j].Header = f(j, t.Columns[j].Header)
	}
	for _, r := range t.Rows {
		for j := range r.Cells {
			r.Cells[j] = f(j, r.Cells[j])
		}
	}
}

// join writes the lines of a drawn table, one for each row, with the headings between
// them. Above the first row stand top lines.
func (t Table) join(out *bytes.Buffer, lines []string, top int, heading func(string) string) error {
	if len(t.Rows) > 0 && len(lines) < top+len(t.Rows) {
		return errors.New("table has fewer lines than its cells")
	}
	write := func(n int) {
		for _, line := range lines[:n] {
			out.WriteString(line)
			out.WriteByte('\n')
		}
		lines = lines[n:]
	}
	last := ""
	for i, r := range t.Rows {
		if i == 0 {
			write(top)
		}
		if r.Heading != last && r.Heading != "" {
			out.WriteString(heading(r.Heading))
		}
		last = r.Heading
		write(1)
	}
	write(len(lines))
	return nil
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
