package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units/sorting"
	"rambook/units/words"
)

type renameCommand struct {
	Old  string `arg:"" complete:"quantity" help:"The quantity's name as it is."`
	New  string `arg:"" help:"The name it gets."`
	Path string `arg:"" optional:"" help:"Folder or CSV file. Default: this folder."`
	entryFlags
}

func (renameCommand) Help() string {
	return "The name is changed in its row, in every formula and limit that uses it, in case sheets and suspects, " +
		"and in sheets set aside; every other byte stays as it is. Example:\n\n" +
		"  rambook rename setting relief_setting mypress"
}

// Run renames a quantity in all files that use it, together or in none.
func (c *renameCommand) Run(s *session) error {
	return anew(c.Path, func(r *revision) error { return c.in(s, r) })
}

// in renames a quantity of a notebook that has been read.
func (c *renameCommand) in(s *session, r *revision) error {
	if r.model == nil {
		return wrong(r.problems...)
	}
	edits, problems := r.model.Rename(c.Old, c.New)
	if len(problems) > 0 {
		return wrong(problems...)
	}
	bySheet := map[*sheets.Sheet][]calc.CellEdit{}
	for _, e := range edits {
		bySheet[e.Sheet] = append(bySheet[e.Sheet], e)
	}
	var changing []*sheets.Sheet
	for _, sheet := range r.book.Sheets {
		if len(bySheet[sheet]) > 0 {
			changing = append(changing, sheet)
		}
	}
	r.whole = true
	r.enters(s, c.entryFlags, func() []sheets.Entry {
		return []sheets.Entry{{What: c.New + nameColumn, Was: c.Old,
			Is: c.New}}
	})
	aside, back, err := renameAside(r.book.Aside, bySheet)
	if err != nil {
		return err
	}
	if len(aside) > 0 {
		now, _ := sheets.Open(r.path)
		r.book.Aside = now.Aside
	}
	err = r.change(changing, func(now *sheets.Sheet, data []byte) ([]byte, error) {
		sheet := r.book.Sheet(now.Name)
		return applied(sheet, data, bySheet[sheet])
	})
	if err != nil {
		return errors.Join(err, back())
	}
	for _, sheet := range append(changing, aside...) {
		fmt.Fprintf(&s.out, "%s: %s\n", sheet.File, words.Counted(len(bySheet[sheet]), "cell"))
	}
	return nil
}

// renameAside changes the sheets set aside, which lie in a folder of their own,
// before the others: where the program dies between the two, the same command
// does the rest. back takes the change back.
func renameAside(aside []*sheets.Sheet, bySheet map[*sheets.Sheet][]calc.CellEdit) (changed []*sheets.Sheet,
	back func() error, err error) {
	var files []string
	for _, sheet := range aside {
		if len(bySheet[sheet]) > 0 {
			changed, files = append(changed, sheet), append(files, sheet.File)
		}
	}
	var before, after [][]byte
	err = sheets.Update(files, func(data [][]byte) ([][]byte, error) {
		for i, sheet := range changed {
			now, err := applied(sheet, data[i], bySheet[sheet])
			if err != nil {
				return nil, err
			}
			before, after = append(before, data[i]), append(after, now)
		}
		return after, nil
	})
	back = func() error {
		return sheets.Update(files, func(data [][]byte) ([][]byte, error) {
			for i := range data {
				if !bytes.Equal(data[i], after[i]) {
					return nil, fmt.Errorf("%s was changed meanwhile and keeps the new name", files[i])
				}
			}
			return before, nil
		})
	}
	return changed, back, err
}

// applied writes new texts into the cells of one file, from its end to its
// start, so that the places of the cells stay true. The file must still be the
// one that was read.
func applied(sheet *sheets.Sheet, old []byte, changes []calc.CellEdit) ([]byte, error) {
	if !sheet.IsFrom(old) {
		return nil, &meanwhileError{sheet.File}
	}
	sorting.Stable(changes, func(a, b calc.CellEdit) int {
		return int(cmp.Or(b.Cell.Line-a.Cell.Line, b.Cell.Column-a.Cell.Column))
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
