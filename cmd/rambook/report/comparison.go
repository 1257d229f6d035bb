package report

import (
	"slices"
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
			tables = (&page.CrossingView{Crossing: crossed, Layout: s.Layout}).Page()
		} else {
			tables = (&page.ComparisonView{Comparison: compared, Layout: s.Layout}).Page()
		}
		// What goes with a comparison stands below its own tables.
		var lines []string
		if asked.Note != "" {
			lines = append(lines, page.Printable(asked.Note))
		}
		tables = slices.DeleteFunc(tables, func(t table.Table) bool {
			if len(t.Columns) == 0 && t.Note != "" {
				lines = append(lines, strings.Split(t.Note, "\n")...)
			}
			return len(t.Columns) == 0
		})
		lines = slices.DeleteFunc(lines, func(line string) bool { return line == page.Cautions }) // which head the page
		if len(tables) == 0 {
			c.Lead = append(c.Lead, lines...)
		} else if last := &tables[len(tables)-1]; len(lines) > 0 {
			last.Note = strings.TrimPrefix(last.Note+"\n"+strings.Join(lines, "\n"), "\n")
		}
		c.addTables(tables...)
		if f := s.ComparisonFigure(compared); f != nil && !f.Empty() && len(compared.Shown) > 1 {
			c.Parts = append(c.Parts, part{Figure: &figure.Captioned{Figure: f, Caption: []string{f.About}}})
		}
	}
	return c, nil
}
