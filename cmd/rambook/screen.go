package main

import (
	"rambook/cmd/rambook/page"
)

// screen returns the layout that the flags and the terminal ask for. Only the
// plain tables have an edge to keep to.
func (s *session) screen() page.Layout {
	layout := page.Layout{Numbers: s.output.numbers(), Colour: s.colour(), Width: page.Unbounded}
	if s.form.Screen {
		layout.Width = s.width()
	}
	return layout
}
