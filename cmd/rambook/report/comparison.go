package report

import (
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units/problem"
)

// comparisons are the chapter of a report that the sheets of comparisons ask for.
func (s writer) comparisons(how *Options, model *calc.Model) (chapter, error) {
	c := chapter{Title: "Comparisons"}
	for _, sheet := range model.Book.Sheets {
		for i := range sheet.Comparisons {
			row := &sheet.Comparisons[i]
			if row.Compare.Blank() {
				continue
			}
			if err := s.comparison1(how, &c, model, sheet, row); err != nil {
				return c, err
			}
		}
	}
	return c, nil
}

// comparison1 does what one row of a sheet of comparisons asks for.
func (s writer) comparison1(how *Options, c *chapter, model *calc.Model, sheet *sheets.Sheet,
	row *sheets.CompareRow) error {
	opt := calc.CompareOptions{By: row.By.Text, Where: row.Where.Text}
	switch strings.ToLower(row.Better.Text) {
	case "more", "most":
		opt.Most = true
	case "less", "least":
		opt.Least = true
	case "":
	default:
		return problem.Wrong(sheet.Problem(row.Better, 0, len([]rune(row.Better.Text)),
			"`better` is more or less, or blank",
			""))
	}
	for name := range strings.FieldsFuncSeq(row.Show.Text, func(r rune) bool { return r == ',' || r == ' ' }) {
		opt.Show = append(opt.Show, name)
	}
	var tables []table.Table
	var compared *calc.Comparison
	if row.In.Blank() {
		comparison, problems := model.Compare(row.Compare.Text, opt)
		if comparison == nil {
			return problem.Wrong(placedAt(sheet, row.Compare, problems)...)
		}
		compared, tables = comparison, s.Comparison(comparison)
	} else {
		wider, err := how.Crossed(model, row.Compare.Text, row.In.Text)
		if err != nil {
			return err
		}
		x, problems := wider.CompareCrossed(row.Compare.Text, row.In.Text, row.Weight.Text, opt)
		if x == nil {
			return problem.Wrong(placedAt(sheet, row.Compare, problems)...)
		}
		compared, tables = x.Comparison, page.CrossingView{Crossing: x, Layout: s.Layout}.Page()
	}
	if !row.Note.Blank() {
		c.Lead = append(c.Lead, page.Printable(row.Note.Text))
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
	return nil
}

// placedAt puts problems of a row's words to where they stand.
func placedAt(sheet *sheets.Sheet, cell sheets.Cell, problems []sheets.Problem) []sheets.Problem {
	placed := make([]sheets.Problem, len(problems))
	for i, p := range problems {
		placed[i] = sheet.Problem(cell, 0, len([]rune(cell.Text)), p.Message, p.Hint)
	}
	return placed
}
