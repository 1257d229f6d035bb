package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"

	"golang.org/x/term"

	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
)

// answer writes what was found in the session's format. What is too large to be
// encoded at once goes out while it is, since nothing can be wrong with it any more.
func (s *session) answer(a *answer.Answer) error {
	s.tellInvented(a.Invented)
	if a.IsLarge(s.form) {
		return s.stream(func(_ context.Context, w io.Writer) error { return a.Write(w, s.form, s.width()) })
	}
	return a.Write(&s.out, s.form, s.width())
}

// tellInvented prints, of an answer about a machine that does not exist, what a bare
// table has no place for.
//
//go:noinline
func (s *session) tellInvented(invented bool) {
	if invented && s.form.Bare {
		fmt.Fprintln(s.stderr, answer.InventedMark)
	}
}

// terminal returns the terminal that the answer goes to, nil if it goes
// elsewhere.
func (s *session) terminal() *os.File {
	file, ok := s.stdout.(*os.File)
	if !ok || s.output.Output != "" || !term.IsTerminal(int(file.Fd())) {
		return nil
	}
	return file
}

// width is how many characters a line may have.
func (s *session) width() int {
	if file := s.terminal(); file != nil {
		if width, _, err := term.GetSize(int(file.Fd())); err == nil && width > 0 {
			return width
		}
	}
	return page.UsualWidth
}

// colour reports whether words may be strengthened with colour.
func (s *session) colour() bool {
	file := s.terminal()
	return file != nil && s.form.Screen && os.Getenv("NO_COLOR") == "" && knowsEscapes(file)
}

// answerInBrief answers in full, but on a terminal that has not so many lines with
// the page in brief alone, since its first sentences would scroll away.
func (s *session) answerInBrief(found *answer.Answer, brief func() []table.Table) error {
	before := s.out.Len()
	if err := s.answer(found); err != nil {
		return err
	}
	height := 0
	if s.form.Screen {
		height = s.height()
	}
	if height == 0 || bytes.Count(s.out.Bytes()[before:], []byte("\n")) < height {
		return nil
	}
	s.out.Truncate(before)
	found.Page = brief
	return s.answer(found)
}

// screen returns the layout that the flags and the terminal ask for. Only the
// plain tables have an edge to keep to.
func (s *session) screen() page.Layout {
	layout := page.Layout{Numbers: s.output.numbers(), Colour: s.colour(), Width: page.Unbounded}
	if s.form.Screen {
		layout.Width = s.width()
	}
	return layout
}
