package page

import (
	"fmt"
	"strings"

	"rambook/cmd/rambook/seal"
	"rambook/sheets/table"
	"rambook/units/words"
)

// VerificationView is whether a page and a notebook belong together.
type VerificationView struct {
	Verification *seal.Verification
	Layout       Layout
}

// Title names the two.
func (v *VerificationView) Title() string {
	return fmt.Sprintf("page %s and notebook %s", Printable(v.Verification.Page), Printable(v.Verification.Notebook))
}

// Object is what `report --verify --format json` promises.
func (v *VerificationView) Object() any { return v.Verification }

// Rows are the cells that have changed since the page was made.
func (v *VerificationView) Rows() table.Table {
	t := table.Table{Columns: []table.Column{{Header: "cell"}, {Header: "file"}, {Header: "line"}, {Header: "was"},
		{Header: "is"}}}
	for _, c := range v.Verification.Cells {
		line := ""
		if c.Line > 0 {
			line = fmt.Sprint(c.Line)
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{c.Cell, c.File, line, c.Was, c.Is}})
	}
	return t
}

// Page answers first, then shows the cells.
func (v *VerificationView) Page() []table.Table {
	made := "made on " + v.Verification.Made + " with " + v.Verification.With
	if len(v.Verification.Set) > 0 {
		made += ", with --set " + strings.Join(v.Verification.Set, " and --set ")
	}
	var lines []string
	if v.Verification.Together {
		lines = append(lines, fmt.Sprintf(
			"They belong together: the page is as it was written, and all %s are as they were.",
			words.Counted(len(v.Verification.Files), "file")))
	} else {
		lines = append(lines, "They do not belong together any more.")
	}
	lines = append(lines, "The page was "+Printable(made)+".")
	if v.Verification.Touched {
		lines = append(lines, "The page itself has been changed since: rely on no number in it, and write it anew.")
	}
	for _, f := range v.Verification.Files {
		if f.State != seal.Same {
			lines = append(lines, Printable(f.File)+": "+f.State)
		}
	}
	lines = append(lines, "A seal shows what has changed; it is no signature.")
	tables := []table.Table{v.Layout.Sentences(2, lines...)}
	if len(v.Verification.Cells) > 0 {
		t := v.Rows()
		for i := range t.Rows {
			for k, cell := range t.Rows[i].Cells {
				if k > 2 && cell == "" {
					cell = "(blank)"
				}
				t.Rows[i].Cells[k] = Printable(cell)
			}
		}
		t.Title = "Cells that have changed since"
		t.Rows = t.Rows[:v.Layout.Cut(&t, len(t.Rows))]
		tables = append(tables, t)
	}
	return tables
}
