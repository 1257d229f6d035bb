package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"rambook/sheets"
)

// TestSpreadsheet takes every starter, filled in and blank, through a real
// spreadsheet, into its own format and back: no record is lost, and the notebook
// gives the same answers.
func TestSpreadsheet(t *testing.T) {
	if testing.Short() {
		t.Skip("a spreadsheet takes its time")
	}
	office, err := exec.LookPath("soffice")
	if err != nil {
		t.Skip("no spreadsheet (soffice) here")
	}
	// Comma, double quote, UTF-8, from line 1; every column as it stands.
	const filter = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
	for _, starter := range sheets.StarterNames() {
		for _, form := range []string{"xlsx", "ods"} {
			t.Run(starter+" example "+form, func(t *testing.T) {
				throughSpreadsheet(t, office, form, filter, "--example", "--starter", starter)
			})
			if starter != "press" && os.Getenv("RAMBOOK_LONG") == "" {
				continue // the others have fewer kinds of sheets
			}
			t.Run(starter+" blank "+form, func(t *testing.T) {
				throughSpreadsheet(t, office, form, filter, "--starter", starter)
			})
		}
	}
}

func throughSpreadsheet(t *testing.T, office, form, filter string, starter ...string) {
	dir := filepath.Join(t.TempDir(), "book")
	if status, _, said := obey(append([]string{"new", dir}, starter...)...); status != exitFine {
		t.Fatal(said)
	}
	answer := func() (int, string) {
		status, out, said := obey("check", "--format", "csv", dir)
		if status == exitWrong {
			t.Fatal(said)
		}
		return status, out
	}
	wantStatus, want := answer()
	files, _ := filepath.Glob(filepath.Join(dir, "*.csv"))
	records := map[string][]string{}
	for _, file := range files {
		records[file] = recordsOf(t, file)
	}
	saveAs(t, office, dir, form, files)
	var made []string
	for _, file := range files {
		made = append(made, strings.TrimSuffix(file, ".csv")+"."+form)
		if err := os.Remove(file); err != nil {
			t.Fatal(err)
		}
	}
	saveAs(t, office, dir, filter, made)
	for _, file := range made {
		// it adds the name of the table
		written, _ := filepath.Glob(strings.TrimSuffix(file, "."+form) + "-*.csv")
		if len(written) == 1 {
			if err := os.Rename(written[0], strings.TrimSuffix(file, form)+"csv"); err != nil {
				t.Fatal(err)
			}
		}
	}
	if status, got := answer(); status != wantStatus || got != want {
		t.Errorf("status %d, expected %d\n%s", status, wantStatus, firstDifference(got, want))
	}
	for file, before := range records {
		after := recordsOf(t, file)
		if got, want := strings.Join(after, "\n"), strings.Join(before, "\n"); got != want {
			t.Errorf("%s: %d records, expected %d\n%s", filepath.Base(file), len(after), len(before),
				firstDifference(got, want))
		}
	}
}

// recordsOf reads the first cell of every record of a sheet, headings and comments
// included: what the records are, whatever form their numbers have.
func recordsOf(t *testing.T, file string) []string {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var first []string
	for line := range strings.Lines(string(data)) {
		cell, _, _ := strings.Cut(strings.Trim(strings.TrimSpace(line), `,"`), ",")
		if cell = strings.Trim(cell, `"`); cell != "" {
			first = append(first, cell)
		}
	}
	return first
}

// saveAs lets the spreadsheet open files and save them in another form.
func saveAs(t *testing.T, office, dir, form string, files []string) {
	t.Helper()
	args := []string{"-env:UserInstallation=file://" + filepath.ToSlash(filepath.Join(dir, "profile")), "--headless",
		"--infilter=CSV:44,34,76,1", "--convert-to", form, "--outdir", dir}
	if strings.HasPrefix(form, "csv:") {
		args = append(args[:2], args[3:]...)
	}
	out, err := exec.Command(office, append(args, files...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
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
