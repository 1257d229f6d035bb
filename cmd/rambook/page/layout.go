package page

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"

	"rambook/calc"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

const (
	UsualWidth = 80   // of a screen that does not say, and of a file
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

// field is one column of a table about judged values. A field without a text
// in any row is left out.
type field struct {
	header string
	align  table.Align
	text   func(Layout, *calc.Judged) string
}

var quantityFields = []field{
	{"quantity", table.Left, func(_ Layout, j *calc.Judged) string { return j.Quantity.Name }},
	{"value", table.Decimal, Layout.ValueText},
	{"±", table.Decimal, Layout.SpreadText},
	{"unit", table.Left, func(_ Layout, j *calc.Judged) string { return ShownUnit(j.Unit) }},
	{"sampled", table.Right, Layout.SampledText},
	{"reading", table.Decimal, Layout.ReadingText},
	{"low", table.Decimal, Layout.LowText},
	{"high", table.Decimal, Layout.HighText},
	{VerdictHeader, table.Left, func(_ Layout, j *calc.Judged) string { return verdictText(j) }},
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

// verdictText is the word in the column of verdicts. What is assumed has none: it
// says there that nobody has looked at the machine.
func verdictText(j *calc.Judged) string {
	if j.Quantity.IsAssumed() && j.Verdict == calc.NoVerdict {
		return "assumed"
	}
	return j.Verdict.String()
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
func (s Layout) ReadingText(j *calc.Judged) string {
	return s.Numbers.TypedOn(j.Unit, j.Reading, NoSpread)
}

func (s Layout) LowText(j *calc.Judged) string { return s.Numbers.TypedOn(j.Unit, j.Low, NoSpread) }

func (s Layout) HighText(j *calc.Judged) string { return s.Numbers.TypedOn(j.Unit, j.High, NoSpread) }

// Colours strengthen the word of a verdict; they never stand for it.
var verdictColours = map[string]string{
	calc.Pass.String():   "\x1b[32m",
	calc.Open.String():   "\x1b[36m",
	calc.Unsure.String(): "\x1b[33m",
	calc.Fail.String():   "\x1b[1;31m",
}

// paint colours the word of a verdict.
func paint(verdict string) string {
	if colour := verdictColours[verdict]; colour != "" {
		return colour + verdict + "\x1b[0m"
	}
	return verdict
}

// remark is what the numbers of a row leave out: what it waits for, how far it
// is off, how reading and computed value agree, and the row's note.
func (s Layout) remark(j *calc.Judged) []string {
	var parts []string
	switch {
	case j.Error != "":
		parts = append(parts, j.Error)
	case len(j.Blames) > 0:
		parts = append(parts, blamed(j))
	case len(j.Needs) > 0 && !isOpenItself(j):
		parts = append(parts, "needs "+words.Listed(Names(j.Needs), 1))
	case j.Verdict == calc.Fail && j.Quantity.IsTick():
		parts = append(parts, "not done")
	case j.Verdict == calc.Fail:
		parts = append(parts, s.Margin(j))
	case j.Verdict == calc.Unsure && calc.Has(j.Inside):
		parts = append(parts, Likely(j))
	}
	if text := s.agreement(j); text != "" {
		parts = append(parts, text)
	}
	if q := j.Quantity; q.Example != "" && isOpenItself(j) && !s.Handed {
		parts = append(parts, "such as "+exampleOf(q))
	}
	if note := j.Quantity.Row.Note.Text; note != "" {
		parts = append(parts, Printable(note))
	}
	return parts
}

// blamed names what keeps a row of verdicts from passing: what is worst, and how
// much else there is.
func blamed(j *calc.Judged) string {
	var parts []string
	for from := 0; from < len(j.Blames); {
		verdict := j.Blames[from].Verdict
		var list []string
		for ; from < len(j.Blames) && j.Blames[from].Verdict == verdict; from++ {
			list = append(list, Printable(j.Blames[from].Name))
		}
		parts = append(parts, verdict.String()+": "+words.Listed(list, MostNames))
	}
	return strings.Join(parts, "; ")
}

// exampleOf is what a machine of this kind may have, with its unit.
func exampleOf(q *calc.Quantity) string {
	text := Printable(q.Example)
	if _, err := units.ParseValue(text); err != nil || strings.ContainsRune(text, ' ') || q.Unit.Kind > units.Point {
		return text
	}
	return Beside(text, q.Unit)
}

// isOpenItself reports whether a value is open because nobody has filled it in.
func isOpenItself(j *calc.Judged) bool {
	return j.Verdict == calc.Open && len(j.Needs) > 0 && j.Needs[0].Name == j.Quantity.Name
}

// Likely prints the probability that an unsure value is inside its limits.
func Likely(j *calc.Judged) string {
	return NumberStyle{Digits: 2}.Computed(100*j.Inside, NoSpread) + " % likely"
}

// agreement compares the reading with the computed value.
func (s Layout) agreement(j *calc.Judged) string {
	switch {
	case !calc.Has(j.Reading) || !calc.Has(j.Value):
		return ""
	case math.Abs(j.Reading-j.Value) <= 1e-12*math.Abs(j.Value): // rounding
		return "reading agrees"
	case j.Agreement <= 1:
		return "reading agrees"
	case calc.Has(j.Agreement):
		return "reading differs, " + scoreText(j)
	}
	return "reading " + s.difference(j)
}

// scoreMeaning is what E_n is, where it stands as a figure alone.
const scoreMeaning = "E_n is the difference over what both spreads allow: up to 1 they agree."

// AgreementInWords is agreement where there is room for words.
func (s Layout) AgreementInWords(j *calc.Judged) string {
	if calc.Has(j.Agreement) && j.Agreement > 1 {
		return "reading differs by " + strings.TrimPrefix(scoreText(j), "E_n ") + " times what both spreads allow (" +
			scoreText(j) + ")"
	}
	return s.agreement(j)
}

// scoreText prints E_n of ISO 13528, which is at most 1 where reading and
// computed value agree.
func scoreText(j *calc.Judged) string {
	text := NumberStyle{Digits: 2}.Computed(j.Agreement, NoSpread)
	if j.Agreement > 1 {
		text = NumberStyle{Digits: 2}.apart(j.Agreement, NoSpread, 1) // 1.02 is no 1.0
	}
	return "E_n " + text
}

// difference prints how far the reading is from the computed value.
func (s Layout) difference(j *calc.Judged) string {
	if d := j.Reading - j.Value; d < 0 {
		return "-" + s.step(j, d)
	} else {
		return "+" + s.step(j, d)
	}
}

// step prints the size of a difference with the decimals of the judged number,
// so that 981.7 and 1000 are 18.3 apart, and never as nothing.
func (s Layout) step(j *calc.Judged, d float64) string {
	size := s.size(j, math.Abs(d))
	if j.Unit.Kind == units.Date {
		size = s.Numbers.Trimmed(math.Abs(d) / units.Day)
	}
	return strings.TrimSpace(size + " " + stepUnit(j.Unit))
}

func (s Layout) size(j *calc.Judged, d float64) string {
	_, decimals, _ := strings.Cut(s.JudgedText(j), ".")
	if strings.Contains(decimals, "e") {
		return s.Numbers.Computed(d, NoSpread)
	}
	return fixed(d, max(len(decimals), decimalsFor(d, 2)))
}

// SheetTables lays out all sheets of a report, each case sheet in its place.
func (s Layout) SheetTables(book *sheets.Notebook, r *calc.Report) []table.Table {
	tables := make([][]table.Table, len(book.Sheets))
	var wait sync.WaitGroup
	for i, sheet := range book.Sheets {
		wait.Go(func() { tables[i] = s.tablesOf(sheet, r) })
	}
	wait.Wait()
	return slices.Concat(tables...)
}

// tablesOf lays out one sheet of a report.
func (s Layout) tablesOf(sheet *sheets.Sheet, r *calc.Report) (tables []table.Table) {
	var rows []*calc.Judged
	for i := range r.Quantities {
		// What only cases have a number of is shown there.
		if j := &r.Quantities[i]; j.Quantity.Sheet == sheet && !(j.State == calc.ByCase && j.Quantity.IsFormula()) {
			rows = append(rows, j)
		}
	}
	if len(rows) > 0 {
		tables = append(tables, s.sheetTable(sheet, rows))
	}
	for _, result := range r.Cases {
		if result.Sheet == sheet && len(result.Cases) > 0 {
			tables = append(tables, s.caseTable(result))
		}
	}
	return tables
}

// sheetTable lays out one quantity sheet.
func (s Layout) sheetTable(sheet *sheets.Sheet, rows []*calc.Judged) table.Table {
	t := table.Table{Title: sheet.Name}
	rows = rows[:s.Cut(&t, len(rows))]
	remarks := make([][]string, len(rows))
	var below []string
	for i, j := range rows {
		t.Rows = append(t.Rows, table.Row{Heading: Printable(j.Quantity.Row.Heading)})
		remarks[i] = s.remark(j)
		if isLong(j) {
			below = append(below, j.Quantity.Name+": "+Printable(j.Text))
		}
	}
	for _, f := range quantityFields {
		cells := make([]string, len(rows))
		for i, j := range rows {
			cells[i] = f.text(s, j)
		}
		s.AddColumn(&t, f.header, f.align, cells)
	}
	s.addRemarks(&t, remarks, len(rows))
	t.Note = strings.TrimSpace(strings.Join(below, "\n") + "\n" + t.Note)
	return t
}

// caseTable lays out one case sheet: what its columns ask for, case by case.
func (s Layout) caseTable(result calc.CaseResult) table.Table {
	t := table.Table{Title: result.Sheet.Name}
	shown := s.Cut(&t, len(result.Cases))
	cases := result.Cases[:shown]
	keys := make([]string, shown)
	for i, c := range cases {
		t.Rows = append(t.Rows, table.Row{Heading: Printable(c.Row.Heading)})
		keys[i] = Printable(c.Name)
	}
	s.AddColumn(&t, result.Sheet.Key.Text, table.Left, keys)
	if result.OfCycles() {
		starts := make([]string, shown)
		for i, c := range cases {
			starts[i] = began(&c)
		}
		s.AddColumn(&t, "start", table.Right, starts)
	}
	for index, asked := range result.Asked {
		if !asked.IsFormula() && allPass(cases, index) {
			continue // a given within its limits needs no room
		}
		values, samples, readings := make([]string, shown), make([]string, shown), make([]string, shown)
		bends := slices.ContainsFunc(cases, func(c calc.Case) bool { return c.Values[index].Bends })
		head := asked.Name
		for i := range cases {
			j := &cases[i].Values[index]
			values[i], readings[i] = PlusMinus(s.ValueText(j), s.SpreadText(j)), s.ReadingText(j)
			if i == 0 {
				head = HeaderBelow(asked.Name, j.Unit)
			}
			if bends {
				samples[i] = s.SampledText(j)
			}
		}
		s.AddColumn(&t, head, table.Decimal, values)
		s.AddColumn(&t, "sampled", table.Right, samples).Joined = true
		s.AddColumn(&t, "reading", table.Decimal, readings).Joined = true
	}
	verdicts := make([]string, shown)
	remarks := make([][]string, shown)
	for i, c := range cases {
		verdicts[i] = c.Verdict.String()
		remarks[i] = s.caseRemark(&c)
	}
	s.AddColumn(&t, VerdictHeader, table.Left, verdicts)
	s.addRemarks(&t, remarks, mostBelow)
	if result.Borrowed != nil && shown > 0 {
		also := "every given without a column"
		if n := len(result.Borrowed); n > 0 {
			also = words.Listed(QuantityNames(result.Borrowed), MostNames) + " where the cell is blank, and " + also
		}
		s.addNote(&t, "judged with the notebook's values of today: "+also)
	}
	if n := len(result.Unjudged); n > 0 {
		s.addNote(&t, "not judged here because open: "+words.Listed(QuantityNames(result.Unjudged), MostNames))
	}
	return t
}

// began is when a cycle began, for people: milliseconds do.
func began(c *calc.Case) string {
	if c.Dated {
		return c.Began
	}
	return strconv.FormatFloat(c.Start, 'f', 3, 64) + " s"
}

// allPass reports whether a column of values has no verdict but pass.
func allPass(cases []calc.Case, column int) bool {
	for i := range cases {
		if cases[i].Values[column].Verdict > calc.Pass {
			return false
		}
	}
	return true
}

// caseRemark is which values make the verdict of a case, worst first.
func (s Layout) caseRemark(c *calc.Case) []string {
	var parts []string
	for verdict := calc.Fail; verdict > calc.Pass; verdict-- {
		for i := range c.Values {
			j := &c.Values[i]
			switch {
			case j.Verdict != verdict:
			case verdict == calc.Fail:
				parts = append(parts, j.Quantity.Name+" "+s.Margin(j))
			case j.Error != "":
				parts = append(parts, j.Quantity.Name+": "+j.Error)
			case verdict == calc.Open:
				parts = append(parts, j.Quantity.Name+" needs "+words.Listed(Names(j.Needs), 1))
			default:
				parts = append(parts, j.Quantity.Name+" unsure")
			}
		}
	}
	for i := range c.Values {
		if text := s.agreement(&c.Values[i]); text != "" && c.Values[i].Agreement > 1 {
			parts = append(parts, c.Values[i].Quantity.Name+" "+text)
		}
	}
	return parts
}

// Cut decides how many rows a table shows, and makes it say so.
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

// VerdictHeader heads the column of verdicts, whose words may have a colour.
const VerdictHeader = "verdict"

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

const (
	columnGap = 2  // between the remarks and the table
	leastWrap = 20 // room from which on remarks can be read on several lines
)

// room is how wide a further column of the table can be.
func (s Layout) room(t *table.Table) int {
	return s.Width - t.Width() - columnGap
}

// addRemarks adds what the numbers of the rows leave out, whole: as the last column,
// wrapped, or below the table where that takes fewer lines, as it does beside
// wide units. Below a table at most so many rows have one.
func (s Layout) addRemarks(t *table.Table, remarks [][]string, most int) {
	room := s.room(t)
	cells := make([]string, len(remarks))
	var notes []string
	beside, below := 0, 0 // lines that they take
	for i, parts := range remarks {
		cells[i] = strings.Join(parts, "; ")
		if cells[i] == "" {
			continue
		}
		note := t.Rows[i].Cells[0] + ": " + cells[i]
		notes = append(notes, note)
		below += lineCount(note, s.Width)
		beside += lineCount(cells[i], max(room, 1)) - 1
	}
	if beside == 0 && room > 0 || room >= leastWrap && beside <= below {
		s.AddColumn(t, "note", table.Left, cells)
		return
	}
	if extra := len(notes) - most; extra > 1 {
		notes = append(notes[:most], words.Counted(extra, "row")+" more; --format csv or json gives all")
	}
	s.addNote(t, notes...)
}

// lineCount is how many lines a text takes.
func lineCount(text string, width int) int {
	return strings.Count(Wrapped(text, width, 0), "\n") + 1
}

// mostBelow is how many cases have their remarks below a table.
const mostBelow = 12

// addNote adds lines below a table.
func (s Layout) addNote(t *table.Table, lines ...string) {
	for _, line := range lines {
		t.Note = strings.TrimPrefix(t.Note+"\n"+Wrapped(line, s.Width, 2), "\n")
	}
}
