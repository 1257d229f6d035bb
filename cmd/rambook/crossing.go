package main

import (
	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
)

// crossed loads the notebook with the sheet of all cases of one sheet in those of
// another.
func (f notebookFlags) crossed(model *calc.Model, first, second string) (*calc.Model, error) {
	sheet, problems := model.Cross(first, second)
	if sheet == nil {
		return nil, refused(model, problems)
	}
	return f.widened(model, sheet)
}

// runCrossed compares every case of one sheet in every case of another.
func (c *compareCommand) runCrossed(s *session, model *calc.Model, opt calc.CompareOptions) error {
	wider, err := c.crossed(model, c.Sheet, c.In)
	if err != nil {
		return err
	}
	x, problems := wider.CompareCrossed(c.Sheet, c.In, c.Weight, opt)
	if x == nil {
		return refused(wider, problems)
	}
	view := &page.CrossingView{Crossing: x, Layout: s.screen()}
	if s.draws(c.Plot) {
		err = c.draw(s, model, figure.Artist{Layout: view.Layout}.ComparisonFigure(x.Comparison))
	} else {
		err = s.answer(answer.Of(c.title(model), model.Book.Invented(), view))
	}
	if err != nil {
		return err
	}
	printWarnings(s.stderr, x.Warnings)
	return s.finishComparison(model, x.Comparison)
}

// draw shows a comparison as a figure: in the file of -o if that is a picture,
// else with characters.
func (c *compareCommand) draw(s *session, model *calc.Model, figure *chart.Figure) error {
	if figure == nil || figure.Empty() {
		return problem("there is nothing to draw: a picture needs two numbers of each case",
			"name both, as in --show price,energy")
	}
	return s.showFigure(c.title(model), model.Book.Invented(), figure)
}
