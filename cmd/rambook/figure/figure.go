// Package figure chooses what the figure of an answer shows: which quantities, along
// what, with which limits and readings, and what it is in words. How a figure is
// drawn is up to the package chart.
package figure

import (
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
)

// Captioned is a figure with its words.
type Captioned struct {
	*chart.Figure
	Caption []string
	Numbers *table.Table
	Sampled bool // of samples, which nobody reads as a table
}

// Artist draws what a layout lays out, to the same digits and in the same words.
type Artist struct{ page.Layout }
