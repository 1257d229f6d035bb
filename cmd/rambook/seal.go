package main

import (
	"time"

	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/cmd/rambook/seal"
	"rambook/sheets"
)

// seal takes the digests that a page in a file is sealed with, nil where there is
// none: on a screen, and for a class.
func (c *reportCommand) seal(s *session) (*seal.Seal, error) {
	if s.output.Output == "" && !s.chosen || c.Blind {
		return nil, nil
	}
	book, err := openNotebook(c.Path)
	if err != nil {
		return nil, err
	}
	files, err := seal.Files(book)
	return &seal.Seal{Made: s.now().Format(time.DateOnly), With: "rambook " + version(), Set: c.Set,
		Units: string(c.Units),
		Files: files}, err
}

// verify compares a page with a notebook.
func (c *reportCommand) verify(s *session) error {
	sealed, text, err := seal.Read(c.Verify)
	if err != nil {
		return err
	}
	var book *sheets.Notebook
	switch {
	case c.Path != "":
		book, _ = sheets.Open(c.Path) // a sheet that cannot be used has changed all the same
		if len(book.Sheets) == 0 {
			return problem("there is no notebook at "+c.Path, "")
		}
	case sheets.IsNotebook("."):
		book, _ = sheets.Open(".")
	default:
		book, _ = sheets.Starter(builtIn)
	}
	v, err := sealed.Verify(text, book)
	if err != nil {
		return err
	}
	v.Page = c.Verify
	view := &page.VerificationView{Verification: v, Layout: s.screen()}
	if err := s.answer(answer.Of(view.Title(), false, view)); err != nil {
		return err
	}
	if !v.Together {
		return errFails
	}
	return nil
}
