package report

import (
	"fmt"
	"slices"

	"rambook/calc"
	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// inputTable is what the cases of a sheet put in place of givens, and when each
// was.
func (s writer) inputTable(model *calc.Model, result calc.CaseResult) table.Table {
	t := table.Table{Title: result.Sheet.Name + ": what is given"}
	cases := result.Cases[:s.Cut(&t, len(result.Cases))]
	keys, dates := make([]string, len(cases)), make([]string, len(cases))
	date := model.DateColumn(result.Sheet)
	dated := slices.IndexFunc(result.Sheet.Columns, func(c sheets.Column) bool { return c.Name.Text == date })
	var heads []string
	cells, align := map[string][]string{}, map[string]table.Align{}
	for i, c := range cases {
		t.Rows = append(t.Rows, table.Row{Heading: page.Printable(c.Row.Heading)})
		keys[i] = page.Printable(c.Name)
		if dated >= 0 && dated < len(c.Row.Cells) {
			dates[i] = page.Printable(c.Row.Cells[dated].Text)
		}
		for k := range c.Inputs {
			j := &c.Inputs[k]
			if j.Quantity.Name == date {
				continue
			}
			head := page.HeaderBelow(j.Quantity.Name, j.Unit)
			if cells[head] == nil {
				heads, cells[head] = append(heads, head), make([]string, len(cases))
				if align[head] = table.Decimal; j.Unit.Kind == units.Text {
					align[head] = table.Left
				}
			}
			cells[head][i] = page.PlusMinus(s.ValueText(j), s.SpreadText(j))
		}
	}
	if len(heads) == 0 {
		return table.Table{}
	}
	s.AddColumn(&t, result.Sheet.Key.Text, table.Left, keys)
	if slices.ContainsFunc(dates, func(text string) bool { return text != "" }) {
		s.AddColumn(&t, date, table.Left, dates)
	}
	for _, head := range heads {
		s.AddColumn(&t, head, align[head], cells[head])
	}
	return t
}

// leftOver are the figures of the case sheets that a notebook's own choice of
// charts leaves out: what the first limit holds in each. Of which sheets nothing
// is known yet that could be drawn is put in words.
func (s writer) leftOver(model *calc.Model, r *calc.Report) (figures []*figure.Captioned, why []string) {
	var blank []string
	for _, result := range r.Cases {
		drawn := slices.ContainsFunc(model.Charts, func(ch *calc.Chart) bool {
			return slices.ContainsFunc(ch.Lines, func(l calc.ChartLine) bool { return l.Sheet == result.Sheet })
		})
		limited, known := false, false
		for i, asked := range result.Asked {
			if low, high := model.CaseLimits(result.Sheet, asked); !low && !high || !asked.IsFormula() {
				continue // what is given within limits is no news
			}
			limited = true
			known = slices.ContainsFunc(result.Cases, func(c calc.Case) bool {
				value, _, _ := c.Values[i].Subject()
				return calc.Has(value)
			})
			if known {
				if !drawn && len(model.Charts) > 0 {
					figures = append(figures, s.CasesFigure(result, i))
				}
				break
			}
		}
		if limited && !known && !drawn && len(result.Cases) > 0 {
			blank = append(blank, result.Sheet.Name)
		}
	}
	if len(blank) > 0 {
		why = []string{fmt.Sprintf("No chart yet of %s: nothing with a limit has a value there.",
			words.Listed(blank, len(blank)))}
	}
	return figures, why
}

// rankings put the cases of each sheet in the order of what its first limit says
// is better, unless a sheet of comparisons says what is to be ranked. The cycles of a
// log are shown by their worst.
func (s writer) rankings(model *calc.Model, r *calc.Report) chapter {
	c := chapter{Title: "Cases, best first"}
	if len(model.Comparisons) > 0 {
		return c // as with charts, the notebook says what is worth ranking
	}
	for _, result := range r.Cases {
		if len(result.Cases) < 2 || result.OfCycles() {
			continue
		}
		sheet, twoSided := page.Printable(result.Sheet.Name), false
		var ranked *calc.Comparison
		for _, asked := range result.Asked {
			low, high := model.CaseLimits(result.Sheet, asked)
			if !asked.IsFormula() {
				continue // limits of what is given rank nothing
			}
			if low != high && ranked == nil {
				ranked, _ = model.Compare(result.Sheet.Name, calc.CompareOptions{By: asked.Name})
			}
			twoSided = twoSided || low && high
		}
		switch {
		case ranked != nil && slices.ContainsFunc(ranked.Rows, func(r calc.ComparedCase) bool { return r.Rank > 0 }):
			c.addTables((&page.ComparisonView{Comparison: ranked, Layout: s.Layout}).Page()[0])
			for _, line := range s.ComparisonLines(ranked) {
				if line != page.Cautions { // which head the page
					c.Lead = append(c.Lead, sheet+". "+line+".")
				}
			}
		case ranked != nil:
			c.Lead = append(c.Lead, sheet+": no case has a rank, each one fails or is open.")
		case twoSided:
			c.Lead = append(c.Lead, sheet+": it has limits on both sides, so neither more nor less is better.")
		}
	}
	return c
}
