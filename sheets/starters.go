package sheets

import (
	"embed"
	"io/fs"
	"path"
	"slices"
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
	folders, _ := fs.ReadDir(starters, "starters")
	var names []string
	for _, f := range folders {
		if f.IsDir() {
			names = append(names, f.Name())
		}
	}
	return names
}

// StarterFiles returns the files of a starter in the order of its sheets, and
// whether there is a starter of that name.
func StarterFiles(name string) ([]StarterFile, bool) {
	if !slices.Contains(StarterNames(), name) {
		return nil, false
	}
	folder, err := fs.Sub(starters, path.Join("starters", name))
	if err != nil {
		return nil, false
	}
	names, err := sheetFiles(folder)
	if err != nil {
		return nil, false
	}
	var files []StarterFile
	for _, n := range names {
		data, err := fs.ReadFile(folder, n)
		if err != nil {
			return nil, false
		}
		files = append(files, StarterFile{Name: n, Data: data})
	}
	return files, true
}

// Starter reads a starter notebook. Its files are shown as "press/1-plate.csv".
func Starter(name string) (*Notebook, []Problem) {
	n := &Notebook{Path: name, Embedded: true}
	if !slices.Contains(StarterNames(), name) {
		return n, []Problem{{Text: name, To: len([]rune(name)), Message: "no starter notebook has this name"}}
	}
	folder, err := fs.Sub(starters, path.Join("starters", name))
	if err != nil {
		return n, []Problem{{File: name, Message: err.Error()}}
	}
	return n, n.readFolder(folder)
}
