package page

import (
	"slices"
	"strconv"
	"strings"

	"rambook/calc"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units/cores"
	"rambook/units/words"
)

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

// SheetTables lays out all sheets of a report, each case sheet in its place.
func (s Layout) SheetTables(book *sheets.Notebook, r *calc.Report) []table.Table {
	return s.sheetTables(book, r, func() {})
}

// sheetTables is SheetTables with something that takes about as long as a sheet done
// beside it.
func (s Layout) sheetTables(book *sheets.Notebook, r *calc.Report, beside func()) []table.Table {
	tables := make([][]table.Table, 1+len(book.Sheets))
	cores.Each(len(tables), func(i int) {
		if i == 0 {
			beside()
		} else {
			tables[i] = s.tablesOf(book.Sheets[i-1], r)
		}
	})
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
	width := len(quantityFields) + 1 // with remarks
	room := make([]string, len(rows)*width)
	t.Rows = make([]table.Row, len(rows))
	for i, j := range rows {
		t.Rows[i] = table.Row{Heading: Printable(j.Quantity.Row.Heading), Cells: room[i*width:][:0:width]}
		remarks[i] = s.remark(j)
		if isLong(j) {
			below = append(below, j.Quantity.Name+": "+Printable(j.Text))
		}
	}
	cells := make([]string, len(rows))
	for _, f := range quantityFields {
		for i, j := range rows {
			cells[i] = f.text(s, j)
		}
		if slices.ContainsFunc(cells, func(text string) bool { return text != "" }) {
			s.AddColumn(&t, f.header, f.align, cells)
		}
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
		if strings.Join(values, "") != "" {
			s.AddColumn(&t, "reading", table.Decimal, readings).Joined = true
		} else { // where nothing could be computed the reading has the name to itself
			s.AddColumn(&t, strings.Replace(head, asked.Name, asked.Name+"\nreading", 1), table.Decimal, readings)
		}
	}
	verdicts := make([]string, shown)
	remarks := make([][]string, shown)
	for i, c := range cases {
		verdicts[i] = c.Verdict.String()
		remarks[i] = s.caseRemark(&c)
	}
	head := VerdictHeader
	if result.OfAnswers() {
		head = "limits"
	}
	s.AddColumn(&t, head, table.Left, verdicts)
	s.addRemarks(&t, remarks, mostBelow)
	if result.OfToday != nil && shown > 0 {
		also := "every given without a column"
		if n := len(result.OfToday); n > 0 {
			also = words.Listed(QuantityNames(result.OfToday), MostNames) + " where the cell is blank, and " + also
		}
		when := "of today"
		if result.In != "" {
			when = "in " + Printable(result.In)
		}
		s.addNote(&t, "judged with the notebook's values "+when+": "+also)
	} else {
		lent := &lending{names: keys, lent: make([][]*calc.Judged, shown)}
		for i := range cases {
			lent.lent[i] = borrowedBy(&cases[i])
		}
		s.addNote(&t, lent.lines(s, false)...)
	}
	if n := len(result.Unread); n > 0 {
		s.addNote(&t, "named like no quantity and read by no formula: "+words.Listed(result.Unread, MostNames))
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
