package sheets

import "embed"

//go:embed all:starters
var starters embed.FS

// StarterFile is one file of a starter notebook.
type StarterFile struct {
	Name string // such as "1-plate.csv"
	Data []byte
}

// StarterNames returns the names of the starter notebooks, sorted.
func StarterNames() []string { return nil }

// StarterFiles returns the files of a starter in the order of its sheets, and
// whether there is a starter of that name.
func StarterFiles(name string) ([]StarterFile, bool) { return nil, false }

// Starter reads a starter notebook. Its files are named as "press/1-plate.csv".
func Starter(name string) (*Notebook, []Problem) {
	return nil, []Problem{{Message: "starters are not written yet"}}
}
