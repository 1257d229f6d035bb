package main

import (
	"path/filepath"
	"strings"
	"testing"

	"rambook/sheets"
)

// TestUndoByHand takes back what a logbook of another origin holds: two people in
// one second are two changes.
func TestUndoByHand(t *testing.T) {
	dir := notebook(t, "1-plate.csv\nname,entry,unit\nbore,161,mm\nrod,101,mm\n",
		"logbook.csv\nwhen,who,what,was,is,with,note\n2026-05-04 08:30:00,Ada,bore,160,161,,\n"+
			"2026-05-04 08:30:00,Ben,rod,100,101,,\n")
	sheet := func() string { return readText(t, filepath.Join(dir, "1-plate.csv")) }
	if status, _, said := obey("undo", dir); status != exitFine ||
		!strings.Contains(sheet(), "bore,161,mm\nrod,100,mm") {
		t.Errorf("one change taken back: %s\n%s", sheet(), said)
	}
	if status, _, said := obey("undo", dir); status != exitFine ||
		!strings.Contains(sheet(), "bore,160,mm\nrod,100,mm") {
		t.Errorf("both taken back: %s\n%s", sheet(), said)
	}
	book, _ := sheets.Open(dir)
	if left := standing(book.Logbook().Entries); len(book.Logbook().Entries) != 4 || len(left) > 0 {
		t.Errorf("of %d lines these stand: %+v", len(book.Logbook().Entries), left)
	}
	if status, _, said := obey("undo", dir); status != exitWrong || !strings.Contains(said, "holds no change") {
		t.Errorf("a third one: status %d, %s", status, said)
	}
}
