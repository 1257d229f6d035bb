package answer

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"io"
	"math"
	"strconv"
	"strings"

	"rambook/sheets/table"
)

// Head is the head of rows that are too many to be kept, and go out while they
// are computed.
type Head struct {
	Invented bool // as of an [Answer]
	Lists    []List
	Texts    []string // what follows the lists, left out or blank where there is nothing
}

// List is a list of numbers that each row has.
type List struct {
	Name    string
	Columns []Column
	Again   bool // its columns are those of a list before: they are not given twice
}

// Column is one number of a list.
type Column struct {
	Name, Unit string
	Header     string               // both, as the head of a table has it
	Text       func(float64) string // of a date or a text; nil for a number
}

// Row is one row under a head.
type Row struct {
	Lists [][]float64 // NaN where there is no number
	Texts []string
}

// Rows is how a format writes a stream of rows. Row appends one, and may be
// called by several goroutines.
type Rows struct {
	Begin, End string
	Row        func(to []byte, first bool, r *Row) []byte
}

// Around writes what stands before and behind the rows that send writes.
func (r *Rows) Around(w io.Writer, send func() error) error {
	_, err := io.WriteString(w, r.Begin)
	if err == nil {
		err = send()
	}
	if err == nil {
		_, err = io.WriteString(w, r.End)
	}
	return err
}

// Table are rows under a head, for a format that is written in one piece.
func (h *Head) Table(title string, rows []*Row) table.Table {
	t := table.Table{Title: title}
	for _, text := range h.headers() {
		t.Columns = append(t.Columns, table.Column{Header: text})
	}
	for _, r := range rows {
		t.Rows = append(t.Rows, table.Row{Cells: h.cells(r)})
	}
	return t
}

// Object are rows under a head as one object, the same that a stream of them writes.
func (h *Head) Object(rows []*Row) any {
	form := jsonRows(&Head{Lists: h.Lists, Texts: h.Texts})
	text := []byte(form.Begin)
	for i, r := range rows {
		text = form.Row(text, i == 0, r)
	}
	return json.RawMessage(append(text, form.End...))
}

func (h *Head) cells(r *Row) []string {
	var cells []string
	for i, list := range r.Lists {
		for k, x := range list {
			c := string(h.Lists[i].Columns[k].cell(nil, x, "", table.Harmless))
			cells = append(cells, c)
		}
	}
	return append(cells, r.Texts...)
}

func (h *Head) headers() []string {
	var texts []string
	for _, l := range h.Lists {
		for _, c := range l.Columns {
			texts = append(texts, c.Header)
		}
	}
	return append(texts, h.Texts...)
}

// csvRows is one table, a header and a row a line.
func csvRows(head *Head) Rows {
	return Rows{Begin: csvRecord(head.headers()), Row: func(to []byte, _ bool, r *Row) []byte {
		for i, list := range r.Lists {
			to = head.Lists[i].cells(to, list, "", csvText)
			to = append(to, ',')
		}
		for i, text := range r.Texts {
			if i > 0 {
				to = append(to, ',')
			}
			if text != "" {
				to = append(to, csvText(text)...)
			}
		}
		return append(to, '\n')
	}}
}

// jsonRows is one object that holds the columns and then the rows.
func jsonRows(head *Head) Rows {
	type named struct {
		Name string `json:"name"`
		Unit string `json:"unit"`
	}
	begin := "{"
	if head.Invented {
		begin += inventedField + ",\n"
	}
	for _, l := range head.Lists {
		if l.Again {
			continue
		}
		var columns []named
		for _, c := range l.Columns {
			columns = append(columns, named{c.Name, c.Unit})
		}
		begin += JSON(l.Name) + ":" + JSON(columns) + ",\n"
	}
	return Rows{Begin: begin + "\"rows\":[\n", End: "\n]}\n", Row: func(to []byte, first bool, r *Row) []byte {
		if !first {
			to = append(to, ",\n"...)
		}
		for i, list := range r.Lists {
			to = append(to, "{,"[min(i, 1)])
			to = append(to, '"')
			to = append(to, head.Lists[i].Name...)
			to = append(to, `":[`...)
			to = head.Lists[i].cells(to, list, "null", func(text string) string { return JSON(text) })
			to = append(to, ']')
		}
		for i, text := range r.Texts {
			if text != "" {
				to = append(to, `,"`+head.Texts[i]+`":`+JSON(text)...)
			}
		}
		return append(to, '}')
	}}
}

// cells appends the numbers of a list.
func (l *List) cells(to []byte, values []float64, absent string, quote func(string) string) []byte {
	for k, x := range values {
		if k > 0 {
			to = append(to, ',')
		}
		to = l.Columns[k].cell(to, x, absent, quote)
	}
	return to
}

// cell appends a number with the shortest text that reads back as the same
// float64.
func (c *Column) cell(to []byte, x float64, absent string, quote func(string) string) []byte {
	switch {
	case math.IsNaN(x):
		return append(to, absent...)
	case c.Text != nil:
		return append(to, quote(c.Text(x))...)
	}
	return strconv.AppendFloat(to, x, 'g', -1, 64)
}

func csvText(text string) string {
	return strings.TrimSuffix(csvRecord([]string{table.Harmless(text)}), "\n")
}

func csvRecord(cells []string) string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	_ = w.Write(cells) // a strings.Builder takes everything
	w.Flush()
	return b.String()
}

// JSON writes a value of texts alone, which cannot fail.
func JSON(v any) string {
	var b bytes.Buffer
	encoder := json.NewEncoder(&b)
	encoder.SetEscapeHTML(false)
	_ = encoder.Encode(v)
	return strings.TrimSuffix(b.String(), "\n")
}
