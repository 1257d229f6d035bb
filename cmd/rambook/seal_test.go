package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestSealOfThePage changes one byte of a sealed page at a time: wherever it is, the
// page is not what was written, and no number of it may be relied on.
func TestSealOfThePage(t *testing.T) {
	dir := notebook(t, "1-press.csv\n"+
		"name,entry,unit,low\n"+
		"bore,200,mm,\n"+
		"setting,20,MPa,\n"+
		"force,setting*pi/4*bore^2,kN,500\n")
	for _, page := range []string{"page.html", "page.md"} {
		file := filepath.Join(t.TempDir(), page)
		if status, _, said := obey("report", "-o", file, dir); status != exitFine {
			t.Fatal(said)
		}
		whole, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if status, out, said := obey("report", "--verify", file, dir); status != exitFine ||
			!strings.Contains(out, "They belong together") {
			t.Fatalf("%s as it was written: status %d, %s%s", page, status, out, said)
		}
		seal := bytes.LastIndex(whole, []byte("<!-- rambook seal"))
		places := []int{0, bytes.Index(whole, []byte("628")), seal / 2, seal - 1}
		for _, at := range places {
			changed := bytes.Clone(whole)
			changed[at]++
			if err := os.WriteFile(file, changed, 0o600); err != nil {
				t.Fatal(err)
			}
			status, out, _ := obey("report", "--verify", file, dir)
			if status != exitFails || !strings.Contains(out, "The page itself has been changed since") {
				t.Errorf("%s with byte %d changed: status %d\n%s", page, at, status, out)
			}
		}
	}
}
