package main

import (
	"bytes"
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rambook/sheets"
)

// TestForSpreadsheet writes every starter for a spreadsheet, takes it through
// one, and checks that the notebook gives the same values as before.
func TestForSpreadsheet(t *testing.T) {
	for _, starter := range sheets.StarterNames() {
		t.Run(starter, func(t *testing.T) {
			answer := func(dir string) (int, string) {
				status, out, said := obey("check", "--format", "csv", dir)
				if status == exitWrong {
					t.Fatal(said)
				}
				return status, out
			}
			write := func(flags ...string) string {
				dir := filepath.Join(t.TempDir(), "book")
				if status, _, said := obey(append([]string{"new", dir, "--starter", starter}, flags...)...); status != exitFine {
					t.Fatal(said)
				}
				return dir
			}
			wantStatus, want := answer(write())
			dir := write("--for-spreadsheet")
			if status, got := answer(dir); status != wantStatus || got != want {
				t.Errorf("as written: status %d, expected %d\n%s", status, wantStatus, firstDifference(got, want))
			}
			files, err := filepath.Glob(filepath.Join(dir, "*.csv"))
			if err != nil || len(files) == 0 {
				t.Fatal(files, err)
			}
			for _, file := range files {
				throughSpreadsheet(t, file)
			}
			if status, got := answer(dir); status != wantStatus || got != want {
				t.Errorf("through a spreadsheet: status %d, expected %d\n%s", status, wantStatus, firstDifference(got, want))
			}
		})
	}
}

// throughSpreadsheet rewrites a file as a spreadsheet that opens and saves it:
// all lines as wide as the widest, quotes only where they are needed, CRLF, a
// byte order mark. A cell that begins with = would be evaluated, so there must
// be none.
func throughSpreadsheet(t *testing.T, file string) {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord, r.LazyQuotes = -1, true
	records, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	width := 0
	for _, record := range records {
		width = max(width, len(record))
		for _, cell := range record {
			if strings.HasPrefix(strings.TrimSpace(cell), "=") {
				t.Errorf("%s: a spreadsheet evaluates %q", filepath.Base(file), cell)
			}
		}
	}
	out := bytes.NewBufferString("\ufeff")
	w := csv.NewWriter(out)
	w.UseCRLF = true
	for _, record := range records {
		if err := w.Write(append(record, make([]string, width-len(record))...)); err != nil {
			t.Fatal(err)
		}
	}
	if w.Flush(); w.Error() != nil {
		t.Fatal(w.Error())
	}
	if err := os.WriteFile(file, out.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
}

// firstDifference shows the first line in which two texts differ.
func firstDifference(got, want string) string {
	a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return "got      " + a[i] + "\nexpected " + b[i]
		}
	}
	return "one is longer"
}
