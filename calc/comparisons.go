package calc

import (
	"slices"
	"strings"
	"unicode/utf8"

	"rambook/sheets"
	"rambook/units/words"
)

// AskedComparison is a row of a sheet of comparisons: what the report compares.
type AskedComparison struct {
	First, Second string // the case sheets; Second is "" where the cases are not put into those of another one
	Weight        string
	Options       CompareOptions
	Note          string

	sheet *sheets.Sheet
	row   *sheets.CompareRow
}

// readComparisons reads the sheets of comparisons of a notebook that is without a
// mistake otherwise. All that can be wrong with a row is reported here and not only by
// the report, which nobody makes before the day it is needed. Rows about sheets or
// quantities that are set aside are left out.
func (c *compiler) readComparisons() {
	for _, s := range c.model.Book.Sheets {
		for i := range s.Comparisons {
			row := &s.Comparisons[i]
			if row.Compare.Blank() || c.isAsideIn(row) {
				continue
			}
			a, problems := readComparison(s, row)
			if len(problems) == 0 {
				problems = c.model.tryComparison(a)
			}
			if len(problems) == 0 {
				c.model.Comparisons = append(c.model.Comparisons, a)
			}
			for _, p := range problems {
				c.report(p)
			}
		}
	}
}

// isAsideIn reports whether something that a row names is set aside.
func (c *compiler) isAsideIn(row *sheets.CompareRow) bool {
	gone := func(name string) bool { return c.model.aside[name] != nil }
	book := c.model.Book
	return book.IsAside(row.Compare.Text) || book.IsAside(row.In.Text) || gone(row.By.Text) ||
		slices.ContainsFunc(shownWords(row.Show.Text), gone)
}

// shownWords are the names in a cell, with commas or blanks between them.
func shownWords(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ' ' })
}

// readComparison reads what stands in one row.
func readComparison(s *sheets.Sheet, row *sheets.CompareRow) (*AskedComparison, []sheets.Problem) {
	a := &AskedComparison{First: row.Compare.Text, Second: row.In.Text, Weight: row.Weight.Text, Note: row.Note.Text,
		Options: CompareOptions{By: row.By.Text, Where: row.Where.Text, Show: shownWords(row.Show.Text),
			inSheet: true},
		sheet: s, row: row}
	switch strings.ToLower(row.Better.Text) {
	case "more", "most":
		a.Options.Most = true
	case "less", "least":
		a.Options.Least = true
	case "":
	default:
		return a, []sheets.Problem{placeIn(s, row.Better).fault("`better` is more or less, found "+
			words.Quoted(row.Better.Text), "clear the cell where a limit settles it")}
	}
	if a.Second == "" && a.Weight != "" {
		return a, []sheets.Problem{placeIn(s, row.Weight).fault("a weight belongs to the cases of another sheet",
			"name that sheet in the column `in`, or clear the cell")}
	}
	return a, nil
}

// tryComparison does all of a comparison but the numbers.
func (m *Model) tryComparison(a *AskedComparison) []sheets.Problem {
	if a.Second == "" {
		_, problems := m.planComparison(a.First, a.Options)
		return a.placed(problems)
	}
	if s, problems := m.caseSheet(a.Second, "the sheet to compare in must be a case sheet"); s == nil {
		for i, p := range problems {
			problems[i] = placeIn(a.sheet, a.row.In).fault(p.Message, p.Hint)
		}
		return problems
	}
	crossed, problems := m.Cross(a.First, a.Second)
	if crossed == nil {
		return a.placed(problems)
	}
	book := *m.Source
	book.Sheets = append(slices.DeleteFunc(slices.Clone(book.Sheets),
		func(s *sheets.Sheet) bool { return s.Kind == sheets.Comparisons }), crossed)
	wider, problems := Compile(&book, Options{Sets: m.Sets})
	if wider == nil {
		return a.placed(problems)
	}
	_, problems = wider.planComparison(crossed.Name, a.Options)
	weights := Crossing{Second: m.Book.Sheet(a.Second)}
	return a.placed(append(problems, weights.weigh(a.Weight)...))
}

// CompareAsked does what the row asks for; crossing makes the model that holds the
// cases of one sheet in those of another, and is asked only where a row wants them.
// The crossing is nil elsewhere.
func (m *Model) CompareAsked(a *AskedComparison, crossing func(m *Model, first, second string) (*Model, error)) (
	*Comparison, *Crossing, error) {
	if a.Second == "" {
		comparison, _ := m.Compare(a.First, a.Options) // it has been tried
		return comparison, nil, nil
	}
	wider, err := crossing(m, a.First, a.Second)
	if err != nil {
		return nil, nil, err
	}
	x, problems := wider.CompareCrossed(a.First, a.Second, a.Weight, a.Options)
	if x == nil {
		return nil, nil, problems[0]
	}
	return x.Comparison, x, nil
}

// placed puts problems of what a row asks for to the cell that they are about.
func (a *AskedComparison) placed(problems []sheets.Problem) []sheets.Problem {
	placed := make([]sheets.Problem, len(problems))
	for i, p := range problems {
		at, from, to := a.row.Compare, 0, utf8.RuneCountInString(a.row.Compare.Text)
		switch p.File {
		case "--by":
			at, from, to = a.row.By, p.From, p.To
		case "--where":
			at, from, to = a.row.Where, p.From, p.To
		case "--weight":
			at, from, to = a.row.Weight, p.From, p.To
		case "--show":
			at = a.row.Show
			if k := strings.Index(at.Text, p.Text); k >= 0 {
				from = utf8.RuneCountInString(at.Text[:k])
				to = from + utf8.RuneCountInString(p.Text)
			}
		case "", CrossName(a.First, a.Second) + ".csv":
		default: // it stands in a file
			placed[i] = p
			continue
		}
		placed[i] = a.sheet.Problem(at, from, to, p.Message, p.Hint)
	}
	return placed
}
