package report

import (
	"time"

	"rambook/calc"
	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
)

// Options are what a page shows beside what the model holds.
type Options struct {
	Numbers page.NumberStyle
	Title   string // which names the notebook
	Date    time.Time
	Program string // which has made it, with its version
	Read    []ReadCell
	Changed []sheets.EntryRow // of the logbook, what was not taken back

	// Crossed is the model with the cases of one sheet in those of another.
	Crossed func(model *calc.Model, first, second string) (*calc.Model, error)
}

// ReadCell is a cell of a case sheet that was read with a gauge.
type ReadCell struct {
	Sheet, Cell string
	Line        sheets.EntryRow // of the logbook
}

// writer lays out the chapters of a page.
type writer struct{ figure.Artist }

func newWriter(how *Options) writer {
	return writer{figure.Artist{Layout: page.Layout{Numbers: how.Numbers, Width: page.Unbounded, Handed: true}}}
}
