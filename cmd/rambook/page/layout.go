package page

import (
	"fmt"
	"strings"

	"rambook/calc"
	"rambook/sheets/table"
	"rambook/units"
)

const (
	UsualWidth = 80   // of a screen of unknown width, and of a file
	MostRows   = 1000 // of one table on a screen or page
)

// JudgedOf is a quantity as it came out of a report of its model.
func JudgedOf(report *calc.Report, q *calc.Quantity) *calc.Judged {
	for i := range report.Quantities {
		if report.Quantities[i].Quantity == q {
			return &report.Quantities[i]
		}
	}
	panic("quantity " + q.Name + " is of another model")
}

// Layout lays out a report for people. The numbers of a Judged are in its
// unit already; screen only chooses words and digits.
type Layout struct {
	Numbers NumberStyle
	Colour  bool
	Width   int
	Handed  bool // to somebody else, who has no use for what another machine has
}

// Unbounded is a width at which nothing is cut or wrapped.
const Unbounded = 1 << 20

// Sentences is a table of sentences only, each on a line of its own; where one
// is wrapped it goes on indented.
func (s Layout) Sentences(indent int, sentences ...string) table.Table {
	var lines []string
	for _, sentence := range sentences {
		lines = append(lines, Wrapped(sentence, s.Width, indent))
	}
	return table.Table{Note: strings.Join(lines, "\n")}
}

// ValueText prints the given or computed value. Where it is judged itself it
// prints apart from its limits.
func (s Layout) ValueText(j *calc.Judged) string {
	switch {
	case j.Error != "" && !calc.Has(j.Value): // a limit or a spread may be what fails
		return "error"
	case j.State == calc.Absent, j.State == calc.ByCase:
		return j.State.String()
	case j.Unit.Kind == units.Tick && calc.Has(j.Value):
		return tickWord(j.Value)
	case j.Unit.Kind == units.Text && isLong(j):
		return ""
	case j.Unit.Kind == units.Text:
		return Printable(j.Text)
	case j.Quantity.Formula == "":
		return s.Numbers.TypedOn(j.Unit, j.Value, j.Spread)
	case calc.Has(j.Reading):
		return s.Numbers.computedOn(j.Unit, j.Value, j.Spread)
	}
	return s.Numbers.apartOn(j.Unit, j.Value, j.Spread, j.Low, j.High)
}

// tickWord is what a tick is called where people read it.
func tickWord(x float64) string {
	if x == 0 {
		return "no"
	}
	return "yes"
}

// longestValue is how wide a text may be without pushing the values apart.
const longestValue = 12

// isLong reports whether a text does not stand among the values but below the
// table.
func isLong(j *calc.Judged) bool {
	return j.Unit.Kind == units.Text && table.TextWidth(j.Text) > longestValue
}

// JudgedText prints the number that the verdict is about: the reading where there
// is one, else the value.
func (s Layout) JudgedText(j *calc.Judged) string {
	if _, _, read := j.Subject(); read {
		return s.ReadingText(j)
	}
	return s.ValueText(j)
}

// judgedWithSpread prints the same with its own spread.
func (s Layout) judgedWithSpread(j *calc.Judged) string {
	if x, spread, read := j.Subject(); read {
		return PlusMinus(s.Numbers.TypedOn(j.Unit, x, spread), s.Numbers.SpreadOn(j.Unit, x, spread))
	}
	return PlusMinus(s.ValueText(j), s.SpreadText(j))
}

// ComputedText prints the value beside a reading.
//
//go:noinline
func (s Layout) ComputedText(j *calc.Judged) string {
	return s.Numbers.computedOn(j.Unit, j.Value, j.Spread)
}

// SpreadText prints the spread of the value, "" if there is none.
func (s Layout) SpreadText(j *calc.Judged) string {
	if j.Error != "" && !calc.Has(j.Value) {
		return "" // beside the word that stands in place of the value
	}
	return s.Numbers.SpreadOn(j.Unit, j.Value, j.Spread)
}

// SampledText prints the interval that holds as many samples as value ± spread
// should hold.
func (s Layout) SampledText(j *calc.Judged) string {
	if !sampled(j) {
		return ""
	}
	half := (j.SampledHigh - j.SampledLow) / 2
	return s.Numbers.computedOn(j.Unit, j.SampledLow, half) + " to " + s.Numbers.computedOn(j.Unit, j.SampledHigh, half)
}

// ReadingText, LowText and HighText print what was read and the limits, in the
// unit of the row; "" if absent.
//
//go:noinline
func (s Layout) ReadingText(j *calc.Judged) string {
	return s.Numbers.TypedOn(j.Unit, j.Reading, NoSpread)
}

//go:noinline
func (s Layout) LowText(j *calc.Judged) string { return s.Numbers.TypedOn(j.Unit, j.Low, NoSpread) }

//go:noinline
func (s Layout) HighText(j *calc.Judged) string { return s.Numbers.TypedOn(j.Unit, j.High, NoSpread) }

// Cut decides how many rows a table shows, and notes that below it.
func (s Layout) Cut(t *table.Table, rows int) int {
	if rows <= MostRows {
		return rows
	}
	t.Note = cutNote(MostRows, rows)
	return MostRows
}

func cutNote(shown, all int) string {
	return fmt.Sprintf("%d of %d rows; --format csv or json gives all", shown, all)
}

// AddColumn adds cells to the rows of a table, and returns their column. It is not
// inlined: seventy copies would be 50 kB.
//
//go:noinline
func (s Layout) AddColumn(t *table.Table, header string, align table.Align, cells []string) *table.Column {
	column := table.Column{Header: header, Align: align}
	if s.Colour && header == VerdictHeader {
		column.Paint = paint
	}
	t.Columns = append(t.Columns, column)
	for i, cell := range cells {
		t.Rows[i].Cells = append(t.Rows[i].Cells, cell)
	}
	return &t.Columns[len(t.Columns)-1]
}

// room is how wide a further column of the table can be.
func (s Layout) room(t *table.Table) int {
	return s.Width - t.Width() - columnGap
}

// mostBelow is how many cases have their remarks below a table.
const mostBelow = 12

// addNote adds lines below a table.
func (s Layout) addNote(t *table.Table, lines ...string) {
	texts := make([]string, 0, 1+len(lines))
	if t.Note != "" {
		texts = append(texts, t.Note)
	}
	for _, line := range lines {
		texts = append(texts, Wrapped(line, s.Width, 2))
	}
	t.Note = strings.Join(texts, "\n")
}
