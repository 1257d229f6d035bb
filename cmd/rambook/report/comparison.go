package report

import (
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
)

// comparisons are the chapter of a report that the sheets of comparisons ask for.
func (s writer) comparisons(how *Options, model *calc.Model) (chapter, error) {
	c := chapter{Title: "Comparisons"}
	for _, asked := range model.Comparisons {
		compared, crossed, err := model.CompareAsked(asked, how.Crossed)
		if err != nil {
			return c, err
		}
		var tables []table.Table
		if crossed != nil {
			tables = page.CrossingView{Crossing: crossed, Layout: s.Layout}.Page()
		} else {
			tables = page.ComparisonView{Comparison: compared, Layout: s.Layout}.Page()
		}
		if asked.Note != "" {
			c.Lead = append(c.Lead, page.Printable(asked.Note))
		}
		for _, t := range tables {
			if len(t.Columns) == 0 {
				c.Lead = append(c.Lead, strings.Split(t.Note, "\n")...)
			}
		}
		c.addTables(tables...)
		if f := s.ComparisonFigure(compared); f != nil && !f.Empty() && len(compared.Shown) > 1 {
			c.Parts = append(c.Parts, part{Figure: &figure.Captioned{Figure: f, Caption: []string{f.About}}})
		}
	}
	return c, nil
}
