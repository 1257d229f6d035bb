package sheets

import (
	"embed"
	"io/fs"
	"path"
	"slices"

	"rambook/units/sorting"
)

//go:embed all:starters
var starters embed.FS

// StarterFile is one file of a starter notebook.
type StarterFile struct {
	Name string // such as "1-plate.csv"
	Data []byte
}

// StarterNames returns the names of the starter notebooks in alphabetical
// order.
func StarterNames() []string {
	var names []string
	for _, f := range must(fs.ReadDir(starters, "starters")) {
		if f.IsDir() {
			names = append(names, f.Name())
		}
	}
	return names
}

// StarterFiles returns the files of a starter in the order of its sheets, and
// whether there is a starter of that name.
func StarterFiles(name string) ([]StarterFile, bool) {
	folder, ok := starterFolder(name)
	if !ok {
		return nil, false
	}
	var files []StarterFile
	for _, n := range must(sheetFiles(folder)) {
		files = append(files, StarterFile{Name: n, Data: must(fs.ReadFile(folder, n))})
	}
	return files, true
}

// Starter reads a starter notebook with its examples filled in. Its files are shown as "press/1-plate.csv".
func Starter(name string) (*Notebook, []Problem) {
	n := &Notebook{Path: name, Embedded: true}
	folder, ok := starterFolder(name)
	if !ok {
		return n, []Problem{{Text: name, To: len([]rune(name)), Message: "no starter notebook has this name"}}
	}
	problems := n.readFolder(folder)
	n.FillExamples()
	return n, problems
}

// StarterSheetOf finds the starter and the sheet in which a quantity stands, so
// that a name which is missing in a notebook can be told from a mistyped one.
func StarterSheetOf(name string) (starter, sheet string, found bool) {
	for _, starter := range starterOrder() {
		book, _ := Starter(starter)
		for _, s := range book.Sheets {
			if slices.ContainsFunc(s.Rows, func(r Row) bool { return r.Name.Text == name }) {
				return starter, s.Name, true
			}
		}
	}
	return "", "", false
}

// StarterWith finds the starter that has a sheet.
func StarterWith(sheet string) (starter string, found bool) {
	for _, starter := range starterOrder() {
		if book, _ := Starter(starter); book.Sheet(sheet) != nil {
			return starter, true
		}
	}
	return "", false
}

// starterOrder lists the starters, the largest first.
func starterOrder() []string {
	names := StarterNames()
	size := func(name string) int { return len(must(fs.ReadDir(must(fs.Sub(starters, "starters")), name))) }
	sorting.Stable(names, func(a, b string) int { return size(b) - size(a) })
	return names
}

// starterFolder finds the folder of a starter, and whether there is one.
func starterFolder(name string) (fs.FS, bool) {
	if !slices.Contains(StarterNames(), name) {
		return nil, false
	}
	return must(fs.Sub(starters, path.Join("starters", name))), true
}

// must gives what was read of the starters: they are part of the program, so
// reading them fails only if it was built wrong.
func must[T any](read T, err error) T {
	if err != nil {
		panic(err)
	}
	return read
}
