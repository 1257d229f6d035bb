package page

import (
	"slices"
	"strings"

	"rambook/calc"
	"rambook/sheets/table"
)

// longColumns are the columns of `check --format csv` after sheet and case.
// Numbers are written so that they read back as the same float64.
var longColumns = []struct {
	header string
	text   func(*calc.Judged) string
}{
	{"name", func(j *calc.Judged) string { return j.Quantity.Name }},
	{"unit", func(j *calc.Judged) string { return j.Unit.Symbol }},
	{"value", func(j *calc.Judged) string { return j.Text + Exact(j.Unit, j.Value) }}, // never both
	{"spread", func(j *calc.Judged) string { return Shortest(j.Spread) }},
	{"reading", func(j *calc.Judged) string { return Exact(j.Unit, j.Reading) }},
	{"reading_spread", func(j *calc.Judged) string { return Shortest(j.ReadingSpread) }},
	{"agreement", func(j *calc.Judged) string { return Shortest(j.Agreement) }},
	{"low", func(j *calc.Judged) string { return Exact(j.Unit, j.Low) }},
	{"high", func(j *calc.Judged) string { return Exact(j.Unit, j.High) }},
	{"inside", func(j *calc.Judged) string { return Shortest(j.Inside) }},
	{"verdict", func(j *calc.Judged) string { return j.Verdict.String() }},
	{"needs", func(j *calc.Judged) string { return strings.Join(Names(j.Needs), " ") }},
	{"error", func(j *calc.Judged) string { return j.Error }},
	{"sampled_low", func(j *calc.Judged) string { return ifSampled(j, j.SampledLow) }},
	{"sampled_high", func(j *calc.Judged) string { return ifSampled(j, j.SampledHigh) }},
}

func ifSampled(j *calc.Judged, x float64) string {
	if !sampled(j) {
		return ""
	}
	return Exact(j.Unit, x)
}

// longTable holds a whole report, one value a row. A quantity of the model has
// no case.
func longTable(r *calc.Report) table.Table {
	t := table.Table{Columns: []table.Column{{Header: "sheet"}, {Header: "case"}}}
	for _, column := range longColumns {
		t.Columns = append(t.Columns, table.Column{Header: column.header})
	}
	cycles := slices.ContainsFunc(r.Cases, calc.CaseResult.OfCycles)
	if cycles {
		t.Columns = append(t.Columns, table.Column{Header: "start"})
	}
	lent := slices.ContainsFunc(r.Cases, anyBorrows)
	if lent {
		t.Columns = append(t.Columns, table.Column{Header: "borrowed"})
	}
	add := func(sheet, caseName, start string, j *calc.Judged) {
		cells := []string{sheet, caseName}
		for _, column := range longColumns {
			cells = append(cells, column.text(j))
		}
		if cycles {
			cells = append(cells, start)
		}
		if lent {
			cells = append(cells, strings.Join(borrowedNames(j.Borrowed), " "))
		}
		t.Rows = append(t.Rows, table.Row{Cells: cells})
	}
	for i := range r.Quantities {
		add(r.Quantities[i].Quantity.Sheet.Name, "", "", &r.Quantities[i])
	}
	for _, result := range r.Cases {
		for i := range result.Cases {
			c := &result.Cases[i]
			for k := range c.Inputs {
				add(result.Sheet.Name, c.Name, c.Began, &c.Inputs[k])
			}
			for k := range c.Values {
				add(result.Sheet.Name, c.Name, c.Began, &c.Values[k])
			}
		}
	}
	return t
}

// anyBorrows reports whether some case goes on with numbers of the notebook in place of
// its own.
func anyBorrows(r calc.CaseResult) bool {
	return slices.ContainsFunc(r.Cases, func(c calc.Case) bool { return len(borrowedBy(&c)) > 0 })
}

// bookTables are the sheets of a workbook: those of the notebook, each with its
// quantities or its cases, numbers as they are and units in the header.
func bookTables(r *calc.Report) []table.Table {
	var tables []table.Table
	for i := range r.Quantities {
		j := &r.Quantities[i]
		sheet := j.Quantity.Sheet.Name
		if len(tables) == 0 || tables[len(tables)-1].Title != sheet {
			tables = append(tables, table.Table{Title: sheet})
			for _, column := range longColumns {
				tables[len(tables)-1].Columns = append(tables[len(tables)-1].Columns,
					table.Column{Header: column.header})
			}
		}
		row := table.Row{Heading: j.Quantity.Row.Heading}
		for _, column := range longColumns {
			row.Cells = append(row.Cells, column.text(j))
		}
		t := &tables[len(tables)-1]
		t.Rows = append(t.Rows, row)
	}
	for i := range r.Cases {
		tables = append(tables, caseBook(&r.Cases[i]))
	}
	for i := range tables {
		tables[i] = tables[i].WithoutBlank()
	}
	return tables
}

// caseBook lays the cases of a sheet side by side: each asked value, and where it
// has them its spread, its reading and what it is judged to be.
func caseBook(result *calc.CaseResult) table.Table {
	type column struct {
		head string
		text func(*calc.Case) string
	}
	columns := []column{{result.Sheet.Key.Text, func(c *calc.Case) string { return c.Name }}}
	for k, q := range result.Asked {
		unit := q.Unit
		if len(result.Cases) > 0 {
			unit = result.Cases[0].Values[k].Unit
		}
		columns = append(columns,
			column{header(q.Name, unit), func(c *calc.Case) string {
				return c.Values[k].Text + Exact(c.Values[k].Unit, c.Values[k].Value)
			}},
			column{header(q.Name+" spread", unit.Difference()),
				func(c *calc.Case) string { return Shortest(c.Values[k].Spread) }},
			column{header(q.Name+" reading", unit),
				func(c *calc.Case) string { return Exact(c.Values[k].Unit, c.Values[k].Reading) }},
			column{q.Name + " verdict", func(c *calc.Case) string { return c.Values[k].Verdict.String() }},
			column{q.Name + " error", func(c *calc.Case) string { return c.Values[k].Error }})
	}
	columns = append(columns, column{"verdict", func(c *calc.Case) string { return c.Verdict.String() }})
	if anyBorrows(*result) {
		columns = append(columns, column{"borrowed",
			func(c *calc.Case) string { return strings.Join(borrowedNames(borrowedBy(c)), " ") }})
	}
	t := table.Table{Title: result.Sheet.Name, Rows: make([]table.Row, len(result.Cases))}
	for i := range result.Cases {
		t.Rows[i].Heading = result.Cases[i].Row.Heading
	}
	for _, column := range columns {
		t.Columns = append(t.Columns, table.Column{Header: column.head})
		for i := range result.Cases {
			t.Rows[i].Cells = append(t.Rows[i].Cells, column.text(&result.Cases[i]))
		}
	}
	return t
}
