package main

import (
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units"
)

// TestThereAndBack restates every notebook that there is, in each system of
// units and back: the same values to 1e-12 and the same verdicts, in the rows and
// in all cases. Between them the notebooks have sheets of every kind.
func TestThereAndBack(t *testing.T) {
	kinds := map[sheets.Kind]int{}
	restated := 0
	for _, folder := range everyNotebook(t) {
		book, problems := sheets.Open(folder)
		if len(problems) > 0 {
			continue // a notebook that is wrong on purpose
		}
		model, problems := calc.Compile(book, calc.Options{})
		if model == nil || len(problems) > 0 {
			continue
		}
		before, _ := model.Check(calc.CheckOptions{})
		if before == nil {
			continue
		}
		restated++
		for _, s := range book.Sheets {
			kinds[s.Kind]++
		}
		same := func(system units.System) {
			after := rewritten(t, folder, system)
			if what := model.Different(before, after); what != "" {
				t.Errorf("%s in %s: %s", folder, system, what)
			}
			if what := otherSpread(before, after); what != "" && !strings.HasSuffix(folder, onCorner) {
				t.Errorf("%s in %s: the spread of %s differs", folder, system, what)
			}
		}
		same(units.US)
		same(units.SI)
		if !testing.Short() {
			same(units.Bar)
			same(units.SI)
		}
	}
	for kind := sheets.Quantities; kind <= sheets.Comparisons; kind++ {
		if kinds[kind] == 0 {
			t.Errorf("no notebook has a sheet of %v", kind)
		}
	}
	t.Logf("%d notebooks, sheets of each kind: %v", restated, kinds)
}

// onCorner is a notebook with a value that stands exactly on a corner, max(80 kN,
// 80 kN): its spread is that of either side.
var onCorner = filepath.Join("check.txtar", "rigs")

// otherSpread names the first quantity whose computed spread is another. The
// spread of a difference that is nothing but rounding has no size of its own.
func otherSpread(before, after *calc.Report) string {
	other := func(a, b *calc.Judged) bool {
		x, y := a.Unit.DiffToSI(a.Spread), b.Unit.DiffToSI(b.Spread)
		return calc.Has(x) != calc.Has(y) || calc.Has(x) &&
			math.Abs(x-y) > 1e-9*math.Max(math.Abs(x), math.Abs(a.Unit.DiffToSI(1e-3)))
	}
	for i := range before.Quantities {
		if other(&before.Quantities[i], &after.Quantities[i]) {
			return before.Quantities[i].Quantity.Name
		}
	}
	for i := range before.Cases {
		for k := range before.Cases[i].Cases {
			a, b := &before.Cases[i].Cases[k], &after.Cases[i].Cases[k]
			for v := range a.Values {
				if other(&a.Values[v], &b.Values[v]) {
					return before.Cases[i].Sheet.Name + "[" + a.Name + "]." + a.Values[v].Quantity.Name
				}
			}
		}
	}
	return ""
}

// TestDifferentFinds lets one number of the press slip in its seventh digit.
func TestDifferentFinds(t *testing.T) {
	judged := func(setting string) (*calc.Model, *calc.Report) {
		book, _ := sheets.Starter("press")
		for _, s := range book.Sheets {
			for i := range s.Rows {
				if s.Rows[i].Name.Text == "setting" {
					s.Rows[i].Entry.Text = setting
				}
			}
		}
		model, _ := calc.Compile(book, calc.Options{})
		report, _ := model.Check(calc.CheckOptions{})
		return model, report
	}
	model, before := judged("25")
	_, same := judged("25.00000000000001")
	if what := model.Different(before, same); what != "" {
		t.Errorf("found, where only the last digit is another: %s", what)
	}
	_, other := judged("25.00001")
	if what := model.Different(before, other); !strings.Contains(what, "25.00001 MPa in place of 25 MPa") {
		t.Errorf("not found: %q", what)
	}
}

// rewritten restates the files of a notebook, and recalculates it.
func rewritten(t *testing.T, folder string, system units.System) *calc.Report {
	t.Helper()
	book, problems := sheets.Open(folder)
	if len(problems) > 0 {
		t.Fatalf("%s: %v", folder, problems[0])
	}
	texts := map[*sheets.Sheet]map[sheets.Cell]string{}
	for _, e := range calc.Restate(book, system, 0) {
		if texts[e.Sheet] == nil {
			texts[e.Sheet] = map[sheets.Cell]string{}
		}
		texts[e.Sheet][e.Cell] = e.Text
	}
	for sheet, cells := range texts {
		data, err := os.ReadFile(sheet.File)
		if err != nil {
			t.Fatal(err)
		}
		if data, err = sheets.ReplaceCells(data, cells); err != nil {
			t.Fatalf("%s: %v", sheet.File, err)
		}
		if err := os.WriteFile(sheet.File, data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	book, problems = sheets.Open(folder)
	if len(problems) > 0 {
		t.Fatalf("%s in %s: %v", folder, system, problems[0])
	}
	if left := calc.Restate(book, system, 0); len(left) > 0 {
		t.Errorf("%s in %s: %s is not restated at once", folder, system, left[0].Cell.Text)
	}
	model, problems := calc.Compile(book, calc.Options{})
	if len(problems) > 0 {
		t.Fatalf("%s in %s: %v", folder, system, problems[0])
	}
	report, _ := model.Check(calc.CheckOptions{})
	return report
}

// everyNotebook makes copies of all notebooks in folders of their own: the
// starters, blank and filled in, those of testdata, and those in the archives of
// the command scripts.
func everyNotebook(t *testing.T) []string {
	t.Helper()
	root := t.TempDir()
	var folders []string
	for _, starter := range sheets.StarterNames() {
		for _, example := range [][]string{nil, {"--example"}} {
			dir := filepath.Join(root, starter+strings.Join(example, ""))
			if status, _, said := obey(append([]string{"new", "--starter", starter, dir},
				example...)...); status != exitFine {
				t.Fatal(said)
			}
			folders = append(folders, dir)
		}
	}
	put := func(folder, name string, data []byte) {
		dir := filepath.Join(root, "copies", folder)
		if err := os.MkdirAll(dir, 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o666); err != nil {
			t.Fatal(err)
		}
		if !slices.Contains(folders, dir) {
			folders = append(folders, dir)
		}
	}
	err := filepath.WalkDir("../../testdata", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		switch filepath.Ext(path) {
		case ".csv":
			data, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			put(strings.TrimPrefix(filepath.ToSlash(filepath.Dir(path)), "../../"), filepath.Base(path), data)
		case ".txtar":
			archive, err := txtar.ParseFile(path)
			if err != nil {
				return err
			}
			for _, file := range archive.Files {
				if filepath.Ext(file.Name) == ".csv" {
					put(filepath.Join(filepath.Base(path), filepath.Dir(file.Name)), filepath.Base(file.Name),
						file.Data)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return folders
}
