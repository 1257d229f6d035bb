package main

import (
	"os"

	"golang.org/x/term"

	"rambook/sheets"
)

const (
	usualWidth = 80   // of a screen that does not say, and of a file
	mostRows   = 1000 // of one table on a screen or page
)

// print writes tables in the session's format.
func (s *session) print(tables ...sheets.Table) error {
	for i, table := range tables {
		if i > 0 {
			s.out.WriteByte('\n')
		}
		if err := table.Render(&s.out, sheets.Format(s.output.Format), s.width()); err != nil {
			return err
		}
	}
	return nil
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
	return usualWidth
}

// colour reports whether words may be strengthened with colour.
func (s *session) colour() bool {
	return s.terminal() != nil && s.output.Format == "table" &&
		os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb"
}
