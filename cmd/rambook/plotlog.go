package main

import (
	"math"

	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/units/words"
)

type plotCommand struct {
	Log string `arg:"" complete:"sheet" help:"The log: a sheet of the notebook, such as log."`
	notebookFlags
	Show []string `placeholder:"COLUMN,…" help:"These columns, each in a panel of its own. Default: all, up to six."`
	From string   `placeholder:"TIME" help:"Begin here: a time of the log, such as \"12 s\", or a date with a time of day."`
	To   string   `placeholder:"TIME" help:"End here."`
	outputFlags
}

func (plotCommand) Help() string {
	return "The phases that the notebook cuts out of the log are shaded and named while there is room for their names, limits are lines. Of a " +
		"long log each stretch keeps its least and its greatest sample. Without -o it is drawn with characters. Example:\n\n" +
		"  rambook plot log mypress --show pressure,position --from \"12 s\" --to \"24 s\"\n  rambook plot log mypress -o log.svg"
}

// Run draws the log.
func (c *plotCommand) Run(s *session) error {
	if picture := pictureOf(s.output.Output); s.output.Output != "" && picture == nil || s.chosen && !s.form.Screen {
		return problem("plot draws a picture", "-o FILE.svg and -o FILE.png make files; without -o it is drawn with characters")
	}
	model, report, err := c.check(sampleFlags{})
	if err != nil {
		return err
	}
	layout := page.Layout{Numbers: s.output.numbers()}
	sheet := model.Book.Sheet(words.Spelled(c.Log, sheetNames(model.Book.Sheets)))
	if sheet == nil || sheet.Kind != sheets.Log {
		var logs []string
		for _, other := range model.Book.Sheets {
			if other.Kind == sheets.Log {
				logs = append(logs, other.Name)
			}
		}
		hint := words.DidYouMean(c.Log, logs, "")
		if len(logs) == 0 {
			hint = "put a log beside the sheets; `rambook take` makes one of what a recorder exports"
		}
		return problem("there is no log "+words.Quoted(c.Log)+" in "+model.Book.Path, hint)
	}
	l, problems := log.Open(sheet.File, sheet.Open)
	if l == nil {
		return wrong(problems...)
	}
	from, to := math.Inf(-1), math.Inf(1)
	for _, end := range []struct {
		text string
		at   *float64
	}{{c.From, &from}, {c.To, &to}} {
		if end.text == "" {
			continue
		}
		v, ok := page.TimeOf(l, end.text)
		if !ok {
			return problem(words.Quoted(end.text)+" is no time of this log",
				"write it like 12.5, \"12.5 s\", or 2026-05-04 08:30")
		}
		*end.at = v
	}
	figure, err := figure.Artist{Layout: layout}.LogFigure(model, report, page.LoggedSheet{Sheet: sheet, Log: l}, c.Show, from, to)
	if err != nil {
		return err
	}
	if figure.Empty() {
		return problem("there is no sample to draw", "`rambook check --only "+sheet.Name+"` shows what the log holds")
	}
	return s.showFigure(c.title(model), model.Book.Invented(), figure)
}
