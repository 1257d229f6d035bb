package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"

	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/units/words"
)

type plotCommand struct {
	Log string `arg:"" complete:"sheet" help:"The log: a sheet of the notebook, such as log, or the file of one."`
	notebookFlags
	Show list   `placeholder:"COLUMN,…" help:"These columns, each in a panel of its own. Default: all, up to six."`
	From string `placeholder:"TIME" help:"Begin here: a time of the log, such as \"12 s\", or a date with a time of day."`
	To   string `placeholder:"TIME" help:"End here."`
	outputFlags
}

func (plotCommand) Help() string {
	return "The phases that the notebook cuts out of the log are shaded and named while there is room for their " +
		"names, limits are lines. Of a long log each stretch keeps its least and its greatest sample. " +
		"Without -o it is drawn with characters. The file of a log is drawn by itself. Example:\n\n" +
		"  rambook plot log mypress --show pressure,position --from \"12 s\" --to \"24 s\"\n" +
		"  rambook plot log mypress -o log.svg\n" +
		"  rambook plot mypress/log.csv --show pressure -o pressure.png"
}

// Run draws the log.
func (c *plotCommand) Run(s *session) error {
	if picture := pictureOf(s.output.Output); s.output.Output != "" && picture == nil || s.chosen && !s.form.Screen {
		return problem("plot draws a picture",
			"-o FILE.svg and -o FILE.png make files; without -o it is drawn with characters")
	}
	if c.Path == "" && isFile(c.Log) && !(filepath.Dir(c.Log) == "." && sheets.IsNotebook(".")) {
		c.Path = c.Log // a log by itself, of no notebook
	}
	model, report, err := c.check(sampleFlags{})
	if err != nil {
		return err
	}
	layout := page.Layout{Numbers: s.output.numbers()}
	sheet, err := c.sheet(model.Book)
	if err != nil {
		return err
	}
	printWarnings(s.stderr, report.Warnings) // they say why no phases are shaded
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
	figure, err := figure.Artist{Layout: layout}.LogFigure(model, report, page.LoggedSheet{Sheet: sheet, Log: l},
		c.Show, from, to)
	if err != nil {
		return err
	}
	if figure.Empty() {
		return problem("there is no sample to draw", "`rambook check --only "+sheet.Name+"` shows what the log holds")
	}
	return s.showFigure(c.title(model), model.Book.Invented(), figure)
}

// sheet finds the log in a notebook, by its name or by its file.
func (c *plotCommand) sheet(book *sheets.Notebook) (*sheets.Sheet, error) {
	sheet := book.Sheet(words.Spelled(c.Log, sheetNames(book.Sheets)))
	var logs []string
	for _, other := range book.Sheets {
		if !book.Embedded && sameFile(c.Log, other.File) {
			sheet = other
		}
		if other.Kind == sheets.Log {
			logs = append(logs, other.Name)
		}
	}
	if sheet != nil && sheet.Kind == sheets.Log {
		return sheet, nil
	}
	hint := words.DidYouMean(c.Log, logs, "")
	switch {
	case sheet != nil:
		return nil, problem(fmt.Sprintf("%s is a sheet of %v, not a log", c.Log, sheet.Kind),
			"a log begins with the header `time`")
	case isFile(c.Log):
		hint = "`rambook plot " + quoteArgument(c.Log) + "` draws that file by itself"
	case len(logs) == 0:
		hint = "put a log beside the sheets; `rambook take` makes one of what a recorder exports"
	}
	return nil, problem("there is no log "+words.Quoted(c.Log)+" in "+book.Path, hint)
}

// isFile reports whether a path is that of a file.
func isFile(path string) bool {
	info, err := os.Stat(path)
	return err == nil && !info.IsDir()
}
