package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units/words"
)

type asideCommand struct {
	Sheet string `arg:"" complete:"sheet" help:"The sheet to set aside, or to bring back."`
	Back  bool   `help:"Bring it back."`
	Path  string `arg:"" optional:"" help:"Folder. Default: this folder."`
}

func (asideCommand) Help() string {
	return "A sheet that is set aside is neither shown nor judged; what needs it is n/a, and all else goes on. " +
		"Its file lies in the folder " + sheets.AsideFolder + " of the notebook. Example:\n\n" +
		"  rambook aside hold mypress\n" +
		"  rambook aside hold --back mypress"
}

// Run moves a sheet out of the notebook or back.
func (c *asideCommand) Run(s *session) error {
	return anew(c.Path, func(r *revision) error { return c.in(s, r) })
}

// in moves the file, unless the notebook could not be read without it or with it.
func (c *asideCommand) in(s *session, r *revision) error {
	if info, err := os.Stat(r.path); err == nil && !info.IsDir() {
		return problem(r.path+" is one file, and nothing in it can be set aside", "name the notebook's folder")
	}
	from, to := &r.book.Sheets, &r.book.Aside
	where, other := "in "+r.path, "is set aside already"
	if c.Back {
		from, to = to, from
		where, other = "set aside in "+r.path, "is not set aside"
	}
	c.Sheet = words.Spelled(c.Sheet, sheetNames(*from))
	named := func(sheet *sheets.Sheet) bool { return sheet.Name == c.Sheet }
	at := slices.IndexFunc(*from, named)
	if at < 0 {
		if slices.ContainsFunc(*to, named) {
			return problem("sheet "+words.Quoted(c.Sheet)+" "+other, "")
		}
		known := sheetNames(*from)
		hint := "no sheet is set aside"
		if len(known) > 0 {
			hint = "the sheets are " + words.Listed(known, page.MostNames)
		}
		return problem("there is no sheet "+words.Quoted(c.Sheet)+" "+where, words.DidYouMean(c.Sheet, known, hint))
	}
	sheet := (*from)[at]
	if r.model != nil {
		changed := *r.book
		moved := func(list []*sheets.Sheet) []*sheets.Sheet {
			if i := slices.Index(list, sheet); i >= 0 {
				return slices.Delete(slices.Clone(list), i, i+1)
			}
			return append(slices.Clone(list), sheet)
		}
		changed.Sheets, changed.Aside = moved(r.book.Sheets), moved(r.book.Aside)
		if err := r.recalculate(&changed); err != nil {
			return err
		}
	}
	if err := sheets.MoveAside(r.path, filepath.Base(sheet.File), c.Back, r.stillAsRead); err != nil {
		return err
	}
	if c.Back {
		fmt.Fprintf(&s.out, "sheet %s is back\n", c.Sheet)
	} else {
		fmt.Fprintf(&s.out, "sheet %s is set aside; back with: rambook aside %s --back %s\n", c.Sheet,
			quoteArgument(c.Sheet), quoteArgument(r.path))
	}
	r.tell(s, nil)
	return nil
}
