package main

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
	{"value", func(j *calc.Judged) string { return j.Text + exact(j.Unit, j.Value) }}, // never both
	{"spread", func(j *calc.Judged) string { return shortest(j.Spread) }},
	{"reading", func(j *calc.Judged) string { return exact(j.Unit, j.Reading) }},
	{"reading_spread", func(j *calc.Judged) string { return shortest(j.ReadingSpread) }},
	{"agreement", func(j *calc.Judged) string { return shortest(j.Agreement) }},
	{"low", func(j *calc.Judged) string { return exact(j.Unit, j.Low) }},
	{"high", func(j *calc.Judged) string { return exact(j.Unit, j.High) }},
	{"inside", func(j *calc.Judged) string { return shortest(j.Inside) }},
	{"verdict", func(j *calc.Judged) string { return j.Verdict.String() }},
	{"needs", func(j *calc.Judged) string { return strings.Join(names(j.Needs), " ") }},
	{"error", func(j *calc.Judged) string { return j.Error }},
	{"sampled_low", func(j *calc.Judged) string { return ifSampled(j, j.SampledLow) }},
	{"sampled_high", func(j *calc.Judged) string { return ifSampled(j, j.SampledHigh) }},
}

func ifSampled(j *calc.Judged, x float64) string {
	if !sampled(j) {
		return ""
	}
	return exact(j.Unit, x)
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
	add := func(sheet, caseName, start string, j *calc.Judged) {
		cells := []string{sheet, caseName}
		for _, column := range longColumns {
			cells = append(cells, column.text(j))
		}
		if cycles {
			cells = append(cells, start)
		}
		t.Rows = append(t.Rows, table.Row{Cells: cells})
	}
	for i := range r.Quantities {
		add(r.Quantities[i].Quantity.Sheet.Name, "", "", &r.Quantities[i])
	}
	for _, result := range r.Cases {
		for i := range result.Cases {
			c := &result.Cases[i]
			for k := range c.Values {
				add(result.Sheet.Name, c.Name, c.Began, &c.Values[k])
			}
		}
	}
	return t
}
