package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rambook/calc"
	"rambook/sheets"
)

// TestLimits goes to every limit and one step beyond it, through the command
// line. At the limit everything works; beyond it the message says what the
// limit is.
func TestLimits(t *testing.T) {
	const header = "name,entry,unit,note\n"
	plate := func(entry string) string { return header + "x,3,,\ny,\"" + entry + "\",,\n" }
	for _, limit := range []struct {
		name    string
		at      func() string // the sheet at the limit
		beyond  func() string // and beyond it
		message string
		big     bool // takes seconds
	}{
		{"bytes of a file", func() string { return fileOf(sheets.MaxFileSize) },
			func() string { return fileOf(sheets.MaxFileSize + 1) },
			"press.csv: file holds more than 64 MiB\n  hint: split the sheet\n", true},
		{"rows of a sheet", func() string { return tableOf(sheets.MaxRows) },
			func() string { return tableOf(sheets.MaxRows + 1) },
			"press.csv:2000002:1: sheet has more than 2000000 rows\n" +
				"    k2000000\n" +
				"    ^^^^^^^^\n" +
				"  hint: split the sheet\n", true},
		{"cells of a case sheet", func() string { return wideTable(1000, 16_000) },
			func() string { return wideTable(1000, 16_001) },
			"press.csv:16003:1: sheet has more than 16000000 cells, blank ones included\n" +
				"    k16000\n" +
				"    ^^^^^^\n" +
				"  hint: split the sheet\n", true},
		{"columns of a sheet", func() string { return wideTable(1000, 1) }, func() string { return wideTable(1001, 1) },
			"press.csv:1:4891: sheet has 1001 columns, the limit is 1000\n    c1000\n    ^^^^^\n", false},
		{"bytes of a cell", func() string { return header + "x,3,," + strings.Repeat("n", sheets.MaxCellSize) + "\n" },
			func() string { return header + "x,3,," + strings.Repeat("n", sheets.MaxCellSize+1) + "\n" },
			"press.csv:2:6: cell holds 65537 bytes, the limit is 64 KiB\n", false},
		{"bytes of a formula", func() string { return plate("=" + padded("x", calc.MaxFormulaBytes)) },
			func() string { return plate("=" + padded("x", calc.MaxFormulaBytes+1)) },
			"press.csv:3:5: formula has 4097 bytes, at most 4096 are read", false},
		{"parts of a formula", func() string { return plate("=" + strings.Repeat("-", calc.MaxFormulaNodes-1) + "x") },
			func() string { return plate("=" + strings.Repeat("-", calc.MaxFormulaNodes) + "x") },
			"press.csv:3:5: formula has more than 1000 parts", false},
		{"brackets in brackets", func() string {
			return plate("=" + strings.Repeat("(", 2047) + "x" +
				strings.Repeat(")", 2047))
		},
			func() string { return plate("=" + strings.Repeat("(", 1<<15) + "x" + strings.Repeat(")", 1<<15)) },
			"press.csv:3:4: cell holds 65538 bytes, the limit is 64 KiB\n", false},
		{"bytes of a unit", func() string { return header + "x,3," + strings.Repeat("m/m*", 49) + "m*mm,\n" },
			func() string { return header + "x,3," + strings.Repeat("m/m*", 50) + "m,\n" },
			"press.csv:2:5: the unit has 201 bytes, at most 200 are read", false},
	} {
		t.Run(limit.name, func(t *testing.T) {
			if limit.big && testing.Short() {
				t.Skip("takes seconds")
			}
			t.Chdir(t.TempDir())
			if err := os.WriteFile("model.csv", []byte("name,entry\none,1\n"), 0o666); err != nil {
				t.Fatal(err)
			}
			try := func(sheet string) (int, string) {
				if err := os.WriteFile("press.csv", []byte(sheet), 0o666); err != nil {
					t.Fatal(err)
				}
				from := time.Now()
				status, _, said := obey("check", "--only", "model", ".")
				t.Logf("%d bytes: %v", len(sheet), time.Since(from).Round(time.Millisecond))
				return status, said
			}
			if status, said := try(limit.at()); status != exitFine {
				t.Errorf("at the limit: status %d, %.300s", status, said)
			}
			if status, said := try(limit.beyond()); status != exitWrong || !strings.HasPrefix(said, limit.message) {
				t.Errorf("beyond the limit: status %d, %.300q, expected %q", status, said, limit.message)
			}
		})
	}
}

// fileOf is a sheet of so many bytes, most of them in notes.
func fileOf(size int) string {
	var b bytes.Buffer
	b.WriteString("name,entry,note\n")
	note := strings.Repeat("n", sheets.MaxCellSize)
	for i := 0; b.Len()+len(note)+20 < size; i++ {
		fmt.Fprintf(&b, "q%d,1,%s\n", i, note)
	}
	fmt.Fprintf(&b, "#%s\n", strings.Repeat("-", size-b.Len()-2))
	return b.String()
}

// tableOf is a case sheet with so many records below its header.
func tableOf(rows int) string {
	var b bytes.Buffer
	b.WriteString("key,data\n:unit,\n")
	for i := 1; i < rows; i++ {
		fmt.Fprintf(&b, "k%d,1\n", i)
	}
	return b.String()
}

// wideTable is a case sheet with so many columns and cases.
func wideTable(columns, cases int) string {
	var b bytes.Buffer
	b.WriteString("c0")
	for i := 1; i < columns; i++ {
		fmt.Fprintf(&b, ",c%d", i)
	}
	b.WriteString("\n:unit,\n")
	for i := range cases {
		fmt.Fprintf(&b, "k%d\n", i)
	}
	return b.String()
}

// padded is an expression of so many bytes.
func padded(expression string, size int) string {
	return expression + strings.Repeat(" ", size-len(expression)-2) + "+0"
}

// TestCountLimits goes to the limits of what a run may be asked for. A run at
// these limits takes minutes, so only its plan is made.
func TestCountLimits(t *testing.T) {
	for _, n := range []int{leastSamples, calc.MaxSamples} {
		if _, err := (sampleFlags{Sample: &n}).options(); err != nil {
			t.Error(err)
		}
	}
	book, _ := sheets.Open(filepath.Join("..", "..", "sheets", "starters", "press"))
	model, problems := calc.Compile(book, calc.Options{})
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	for _, over := range [][]string{
		{fmt.Sprintf("setting = 5 to 25 in %d steps", calc.MaxCases-1)},
		{"setting = 5 to 25 in 39999 steps", "bore = 100 to 200 in 24999 steps"},
	} {
		sweep, problems := model.Sweep(over, []string{"force"})
		if len(problems) > 0 || sweep.Cases() != calc.MaxCases {
			t.Errorf("%q: %v", over, problems)
		}
	}
	for _, over := range [][]string{
		{fmt.Sprintf("setting = 5 to 25 in %d steps", calc.MaxCases)},
		{"setting = 5 to 25 in 40000 steps", "bore = 100 to 200 in 24999 steps"},
	} {
		if _, problems := model.Sweep(over, []string{"force"}); len(problems) != 1 {
			t.Errorf("%q: %v", over, problems)
		}
	}
}
