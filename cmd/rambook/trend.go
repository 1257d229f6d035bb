package main

import (
	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
)

type trendCommand struct {
	Sheet string `arg:"" complete:"cases" help:"The case sheet, such as visits."`
	Name  string `arg:"" complete:"quantity" help:"The quantity, or a column of numbers of the sheet."`
	notebookFlags
	Against string `placeholder:"COLUMN" help:"What to draw it against. Default: the first column with the unit date."`
	outputFlags
}

func (trendCommand) Help() string {
	return "Draws a straight line through the cases: through the reading where a case has one, else through the " +
		"computed value, which is marked. Where all points have a spread they are weighted by it, and what computed " +
		"points share, such as an area, counts once. " +
		"Shows the day on which the line meets a limit, unless the points do not lie on a straight line. Example:\n\n" +
		"  rambook trend visits efficiency_found mypress\n" +
		"  rambook trend visits case_drain --against working_temperature mypress"
}

// Run draws the line.
func (c *trendCommand) Run(s *session) error {
	model, err := c.load()
	if err != nil {
		return err
	}
	t, problems := model.Trend(c.Sheet, c.Name, calc.TrendOptions{Against: c.Against})
	if t == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	view := &page.TrendView{Trend: t, Layout: s.screen()}
	return s.answer(answer.Of(c.title(model), model.Book.Invented(), view))
}
