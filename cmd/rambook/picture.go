package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
	"rambook/units/words"
)

// pictures are the endings of -o that ask for a picture of a sweep.
var pictures = map[string]func(*chart.Figure) ([]byte, error){
	".svg": (*chart.Figure).SVG,
	".png": (*chart.Figure).PNG,
}

// draws reports whether the answer is a figure: --plot asks for one, and so does the
// ending of -o unless --format asks for something else.
//
//go:noinline
func (s *session) draws(plot bool) bool {
	return plot || !s.chosen && pictureOf(s.output.Output) != nil
}

func pictureOf(file string) func(*chart.Figure) ([]byte, error) {
	return pictures[strings.ToLower(filepath.Ext(file))]
}

// draw shows a sweep as a figure: in the file of -o if that is a picture, else
// with characters.
func (c *sweepCommand) draw(s *session, model *calc.Model, sweep *calc.Sweep, failures *calc.Failures) error {
	layout := page.Layout{Numbers: s.output.numbers()}
	draw := figure.Artist{Layout: layout}.SweepFigure
	if figure.WantsContours(sweep, c.Contours) {
		draw = figure.Artist{Layout: layout}.ContourFigure
	}
	drawn, err := draw(sweep, model.Standing(), failures)
	if err != nil {
		return err
	}
	if n := len(drawn.Panels) - figure.MostCurves; n > 0 {
		drawn.Panels = drawn.Panels[:figure.MostCurves]
		fmt.Fprintf(s.stderr, "%s left out of the figure; --show chooses\n", words.Counted(n, "panel"))
	}
	if drawn.Empty() {
		return problem("no case could be computed, so there is nothing to draw",
			"the same command without --plot and -o shows why")
	}
	err = s.showFigure(c.title(model), model.Book.Invented(), drawn)
	if pictureOf(s.output.Output) != nil {
		for _, line := range append([]string{drawn.About}, drawn.Notes...) {
			fmt.Fprintln(s.stderr, page.Wrapped(line, s.width(), 0))
		}
	}
	return err
}

// showFigure makes the picture that -o asks for, or else draws the figure with
// characters, below its title. A picture of an invented machine has that in it.
func (s *session) showFigure(title string, invented bool, figure *chart.Figure) error {
	if picture := pictureOf(s.output.Output); picture != nil {
		if invented {
			figure.Title = strings.TrimSpace(figure.Title + " (an invented machine)")
		}
		data, err := picture(figure)
		s.out.Write(data)
		return err
	}
	if !s.form.Screen {
		return problem("--plot draws with characters, it cannot go with --format "+s.form.Name,
			"-o FILE.svg and -o FILE.png make pictures")
	}
	figure.Title = title
	s.out.WriteString(figure.Text(chart.TextOptions{Width: s.width(), Height: s.height(), Colour: s.colour()}))
	return nil
}
