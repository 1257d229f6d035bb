// Package sheets reads and writes the files of a notebook.
package sheets

// Notebook is a set of sheets that form one model.
type Notebook struct {
	Path     string   // as the user typed it; a starter's name if Embedded
	Embedded bool     // one of the starters built into the program
	Sheets   []*Sheet // in the order of the file names, 2-x before 10-x
}

// Sheet returns the sheet of that name, nil if there is none.
func (n *Notebook) Sheet(name string) *Sheet {
	for _, s := range n.Sheets {
		if s.Name == name {
			return s
		}
	}
	return nil
}

// Open reads a notebook from a folder or from a single CSV file.
func Open(path string) (*Notebook, []Problem) {
	return &Notebook{Path: path}, []Problem{{File: path, Message: "opening is not written yet"}}
}

// IsNotebook reports whether dir holds at least one CSV file whose first
// header cell is `name`.
func IsNotebook(dir string) bool { return false }
