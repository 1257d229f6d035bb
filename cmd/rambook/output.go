package main

import (
	"bytes"
	"errors"
	"fmt"
	"html"
	"os"
	"sync"

	"golang.org/x/term"

	"rambook/sheets/table"
)

const (
	usualWidth = 80   // of a screen that does not say, and of a file
	mostRows   = 1000 // of one table on a screen or page
)

// print writes tables in the session's format, with a blank line between them.
// A table without columns is a paragraph, its note. Laying out is the slowest
// part of a check, so the tables are laid out at the same time.
func (s *session) print(tables ...table.Table) error {
	texts := make([]bytes.Buffer, len(tables))
	errs := make([]error, len(tables))
	width := s.width()
	var wait sync.WaitGroup
	for i := range tables {
		wait.Go(func() {
			errs[i] = tables[i].Render(&texts[i], table.Format(s.output.Format), width)
		})
	}
	wait.Wait()
	for _, text := range texts {
		if s.out.Len() > 0 && s.output.Format != "csv" {
			s.out.WriteByte('\n')
		}
		s.out.Write(bytes.TrimLeft(text.Bytes(), "\n"))
	}
	return errors.Join(errs...)
}

// printPage writes tables under a title.
func (s *session) printPage(title string, tables ...table.Table) error {
	if s.output.Format == "html" {
		fmt.Fprintf(&s.out, "<!doctype html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n<title>%s</title>\n", html.EscapeString(title))
	}
	return s.print(append([]table.Table{{Note: title}}, tables...)...)
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
	file := s.terminal()
	return file != nil && s.output.Format == "table" && os.Getenv("NO_COLOR") == "" && knowsEscapes(file)
}
