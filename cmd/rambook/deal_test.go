package main

import (
	"path/filepath"
	"testing"

	"rambook/sheets"
)

// TestNothingToCopy deals a large class: no two students share two of their three
// numbers, since an answer that follows from these two could be copied.
func TestNothingToCopy(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "lesson")
	if status, _, said := obey("new", "--starter", "lesson", dir); status != exitFine {
		t.Fatal(said)
	}
	if status, _, said := obey("deal", "class", "--students", "60", "--seed", "3", dir); status != exitFine {
		t.Fatal(said)
	}
	book, problems := sheets.Open(dir)
	if book == nil {
		t.Fatal(problems)
	}
	class := book.Sheet("class")
	if len(class.Cases) != 60 {
		t.Fatalf("%d students, want 60", len(class.Cases))
	}
	for i, one := range class.Cases {
		for _, other := range class.Cases[:i] {
			same := 0
			for k := range class.Columns {
				if one.Cells[k].Text != "" && one.Cells[k].Text == other.Cells[k].Text {
					same++
				}
			}
			if same > 1 {
				t.Errorf("%s and %s share %d numbers", one.Name.Text, other.Name.Text, same)
			}
		}
	}
}
