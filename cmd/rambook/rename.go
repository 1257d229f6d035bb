package main

import (
	"cmp"
	"fmt"
	"slices"

	"rambook/calc"
	"rambook/sheets"
)

type renameCommand struct {
	Old  string `arg:"" complete:"quantity" help:"The quantity's name as it is."`
	New  string `arg:"" help:"The name it gets."`
	Path string `arg:"" optional:"" help:"Folder or CSV file. Default: this folder."`
}

func (renameCommand) Help() string {
	return "The name is changed in its row, in every formula and limit that uses it, in case sheets and suspects; " +
		"every other byte stays as it is. Example:\n\n  rambook rename setting relief_setting mypress"
}

// Run renames a quantity in all files that use it. The notebook is compiled with
// all of them changed before the first is written.
func (c *renameCommand) Run(s *session) error {
	book, broken, err := ownNotebook(c.Path)
	if err != nil {
		return err
	}
	if len(broken) > 0 {
		return &problemsError{problems: broken}
	}
	model, problems := compile(book, nil)
	if len(problems) > 0 {
		return &problemsError{problems: problems}
	}
	edits, problems := model.Rename(c.Old, c.New)
	if len(problems) > 0 {
		return &problemsError{problems: problems}
	}
	bySheet := map[*sheets.Sheet][]calc.CellEdit{}
	for _, e := range edits {
		bySheet[e.Sheet] = append(bySheet[e.Sheet], e)
	}
	var changing []*sheets.Sheet
	var files []string
	for _, sheet := range book.Sheets {
		if len(bySheet[sheet]) > 0 {
			changing, files = append(changing, sheet), append(files, sheet.File)
		}
	}
	err = sheets.UpdateAll(files, func(old [][]byte) ([][]byte, error) {
		renamed := book
		for i, sheet := range changing {
			var err error
			if old[i], err = applied(sheet, old[i], bySheet[sheet]); err != nil {
				return nil, err
			}
			replacement, problems := sheets.Read(sheet.File, old[i])
			if len(problems) > 0 {
				return nil, &problemsError{problems: problems}
			}
			renamed = withSheet(renamed, sheet, replacement)
		}
		if _, problems := compile(renamed, nil); len(problems) > 0 {
			return nil, &problemsError{problems: problems}
		}
		return old, nil
	})
	if err != nil {
		return err
	}
	for _, sheet := range changing {
		fmt.Fprintf(&s.out, "%s: %s\n", sheet.File, counted(len(bySheet[sheet]), "cell"))
	}
	return nil
}

// applied writes new texts into the cells of one file, from its end to its
// start, so that the places of the cells stay true. The file must still be the
// one that was read.
func applied(sheet *sheets.Sheet, old []byte, changes []calc.CellEdit) ([]byte, error) {
	if !sheet.IsFrom(old) {
		return nil, fmt.Errorf("%s was changed meanwhile; run the command again", sheet.File)
	}
	slices.SortFunc(changes, func(a, b calc.CellEdit) int {
		return cmp.Or(b.Cell.Line-a.Cell.Line, b.Cell.Column-a.Cell.Column)
	})
	data := old
	for _, e := range changes {
		var err error
		if data, err = sheets.ReplaceAt(data, e.Cell, e.Text); err != nil {
			return nil, err
		}
	}
	return data, nil
}
