// Package sheets reads and writes the files of a notebook.
//
// A notebook is a folder of CSV files, the sheets: UTF-8, comma separated,
// quoted as in RFC 4180, with a header. [Open] reads one into cells with
// their place; nothing in this package has to do with units or formulas. A
// sheet's name is its file name without .csv and without a leading number and
// dash. These are the kinds:
//
// A quantity sheet begins with the header `name` and holds the rows of the
// model: numbers that are given and formulas.
//
//	name,entry,unit,spread,note
//	## Cylinder
//	bore,80,mm,0.05,
//	# Annulus not needed: the press works forward only.
//	area,=pi/4*bore^2,cm2,,"bore side, full"
//
// A case sheet holds a list, of jobs or pumps or visits. The row below its
// header begins with `:unit`, and the rows `:spread`, `:low`, `:high` and `:note` may
// follow.
//
//	job,setting,force
//	:unit,MPa,kN
//	bending,12,
//	straightening,20,
//
// A suspect sheet begins with the header `suspect` and names the given
// quantities that may be off. A sheet of charts begins with the header `chart`
// and names what the report draws.
//
// A log begins with the header `time` and holds what a recorder sampled. It may
// be far larger than memory, and is left in its file: see package log. A phase
// sheet begins with the header `phase` and says how a log is cut into cycles.
//
// A physical line that begins with # outside quotes is a comment, one that
// begins with ## and has text is a heading over the rows that follow. Columns
// that are not known are kept and ignored.
//
// A file holds at most [MaxFileSize] bytes, a cell [MaxCellSize], a record
// 1 MiB, a sheet [MaxRows] records below its header and 1,000 columns, and a
// case sheet 16 million cells. What is larger is refused with the limit.
//
// [ReplaceAt], [SetCell] and [AppendRecord] change one thing in the bytes of
// a file and keep all others; [Update] and [WriteFile] put the result in place
// at once or not at all, of several files in all or in none.
package sheets

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"rambook/units/cores"
	"rambook/units/sorting"
	"rambook/units/words"
)

// Notebook is a set of sheets that form one model.
type Notebook struct {
	Path     string   // as the user typed it; the starter's name if Embedded
	Embedded bool     // one of the starters built into the program
	Sheets   []*Sheet // in the order of the file names, 2-x before 10-x
	Aside    []*Sheet // those in the folder aside: shown and judged nowhere, but their names are known

	pending map[string][]byte // contents that files will have when a change is finished
	shelf   *Shelf            // that has sheets of other notebooks; nil for none
}

// AsideFolder is the folder in a notebook that holds the sheets set aside.
const AsideFolder = "aside"

// IsAside reports whether a sheet of that name is set aside.
func (n *Notebook) IsAside(name string) bool {
	return n.Sheet(name) == nil && slices.ContainsFunc(n.Aside, func(s *Sheet) bool { return s.Name == name })
}

// HasPhasesAside reports whether a sheet of phases is set aside.
func (n *Notebook) HasPhasesAside() bool {
	return slices.ContainsFunc(n.Aside, func(s *Sheet) bool { return s.Kind == Phases })
}

// IsPhaseAside reports whether a phase of that name is in a sheet set aside.
func (n *Notebook) IsPhaseAside(name string) bool {
	return slices.ContainsFunc(n.Aside, func(s *Sheet) bool {
		return slices.ContainsFunc(s.Phases, func(p PhaseRow) bool { return p.Phase.Text == name })
	})
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

// IsAs reports whether two readings of a notebook have found the same files with
// the same content. A log is left in its file, and is the same while nobody has
// put another one there or written to it.
func (n *Notebook) IsAs(other *Notebook) bool {
	return slices.EqualFunc(n.Sheets, other.Sheets, (*Sheet).isAs) &&
		slices.EqualFunc(n.Aside, other.Aside, (*Sheet).isAs)
}

func (s *Sheet) isAs(other *Sheet) bool {
	if s.File != other.File || s.data != other.data || (s.info == nil) != (other.info == nil) {
		return false
	}
	return s.info == nil || os.SameFile(s.info, other.info) && s.info.Size() == other.info.Size() &&
		s.info.ModTime().Equal(other.info.ModTime())
}

// Open reads a notebook from a folder or from a single CSV file. The notebook
// is never nil; it holds every sheet that could be read.
func Open(path string) (*Notebook, []Problem) { return open(&Notebook{Path: path}) }

// open reads a notebook into n.
func open(n *Notebook) (*Notebook, []Problem) {
	path := n.Path
	info, err := os.Stat(path)
	if err != nil {
		return n, []Problem{{File: path, Message: PlainError(err).Error()}}
	}
	folder := path
	if !info.IsDir() {
		folder = filepath.Dir(path)
	}
	if n.pending, err = pending(folder); err != nil {
		if problem := (Problem{}); errors.As(err, &problem) {
			return n, []Problem{problem}
		}
		return n, []Problem{{File: path, Message: err.Error()}}
	}
	if info.IsDir() {
		return n, n.readFolder(os.DirFS(path))
	}
	file := filepath.Base(path)
	sheet, wrong := n.readFile(os.DirFS(folder), file, path)
	return n, n.add(file, path, sheet, wrong)
}

// readFolder reads all sheets of a folder, which is shown to the user as
// n.Path.
func (n *Notebook) readFolder(folder fs.FS) []Problem {
	files, err := sheetFiles(folder)
	if err != nil {
		return []Problem{{File: n.Path, Message: PlainError(err).Error()}}
	}
	if len(files) == 0 {
		return []Problem{{File: n.Path, Message: "found no CSV file in this folder",
			Hint: "`rambook new` writes a starter notebook"}}
	}
	join := filepath.Join
	if n.Embedded {
		join = path.Join
	}
	sheets, told := make([]*Sheet, len(files)), make([][]Problem, len(files))
	cores.Each(len(files), func(i int) {
		sheets[i], told[i] = n.readFile(folder, files[i], join(n.Path, files[i]))
	})
	var problems []Problem
	for i, file := range files {
		problems = append(problems, n.add(file, join(n.Path, file), sheets[i], told[i])...)
	}
	n.readAside(folder, join)
	return problems
}

// readAside reads the sheets that are set aside. What is wrong with them is reported
// once they are back.
func (n *Notebook) readAside(folder fs.FS, join func(...string) string) {
	within, err := fs.Sub(folder, AsideFolder)
	if err != nil {
		return
	}
	files, err := sheetFiles(within)
	if err != nil {
		return // mostly since there is no such folder
	}
	for _, file := range files {
		data, err := readHead(within, file, MaxFileSize+1)
		if err != nil || n.Sheet(SheetName(file)) != nil {
			continue
		}
		if sheet, _ := Read(join(n.Path, AsideFolder, file), data); sheet != nil {
			n.Aside = append(n.Aside, sheet)
		}
	}
}

// add adds the sheet that a file holds, nil for none, behind those before it. It
// returns what is wrong with its name, else what was wrong in the file.
func (n *Notebook) add(file, shown string, sheet *Sheet, wrong []Problem) []Problem {
	name := SheetName(file)
	if name == "" {
		return []Problem{{File: shown, Message: "the file name leaves no name for the sheet",
			Hint: "put a word behind the number: 1-force.csv"}}
	}
	if twin := n.Sheet(name); twin != nil {
		return []Problem{{
			File: shown,
			Message: fmt.Sprintf("this file and %s both give the sheet %s", filepath.Base(twin.File),
				words.Quoted(name)),
			Hint: "rename one of them: a leading number and dash only order the sheets",
		}}
	}
	if sheet != nil {
		n.Sheets = append(n.Sheets, sheet)
	}
	return wrong
}

// readFile reads one file of a folder, which is shown to the user as shown. It
// changes nothing, so that several files are read at once.
func (n *Notebook) readFile(folder fs.FS, file, shown string) (*Sheet, []Problem) {
	data, found := n.pending[file]
	text := string(data)
	if !found {
		var log *Sheet
		var err error
		switch text, log, err = readContent(folder, file, shown); {
		case err != nil:
			return nil, []Problem{{File: shown, Message: PlainError(err).Error()}}
		case log != nil:
			return log, nil
		}
	}
	if n.Embedded {
		text = exampleCases(text)
	}
	return n.shelf.read(shown, text)
}

// readHead reads a file, at most size bytes of it.
func readHead(folder fs.FS, name string, size int64) ([]byte, error) {
	f, err := openPatiently(folder, name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, size))
}

// openPatiently opens a file that another program may just be writing.
func openPatiently(folder fs.FS, name string) (f fs.File, err error) {
	err = patiently(func() (err error) {
		f, err = folder.Open(name)
		return err
	})
	return f, err
}

// isSheetFile reports whether a file of that name may be a sheet. Hidden files
// belong to editors and systems.
func isSheetFile(name string) bool {
	return !strings.HasPrefix(name, ".") && strings.EqualFold(filepath.Ext(name), ".csv")
}

// sheetFiles lists the CSV files of a folder in the order of the sheets.
// Folders, and pipes at which a reader would wait for ever, are no sheets.
func sheetFiles(folder fs.FS) ([]string, error) {
	entries, err := fs.ReadDir(folder, ".")
	if err != nil {
		return nil, err
	}
	var files []string
	for _, e := range entries {
		name := e.Name()
		if !isSheetFile(name) {
			continue
		}
		if !e.Type().IsRegular() { // but a link to a file is as good as one
			if info, err := fs.Stat(folder, name); err == nil && !info.Mode().IsRegular() {
				continue
			}
		}
		files = append(files, name)
	}
	sorting.Stable(files, compareNatural)
	return files, nil
}

// compareNatural compares names with their runs of digits as numbers.
func compareNatural(a, b string) int {
	x, y := a, b
	for x != "" && y != "" {
		n, m := leadingDigits(x), leadingDigits(y)
		if n == 0 || m == 0 {
			if x[0] != y[0] {
				return cmp.Compare(x[0], y[0])
			}
			x, y = x[1:], y[1:]
			continue
		}
		i, j := strings.TrimLeft(x[:n], "0"), strings.TrimLeft(y[:m], "0")
		if c := cmp.Or(cmp.Compare(len(i), len(j)), cmp.Compare(i, j)); c != 0 {
			return c
		}
		x, y = x[n:], y[m:]
	}
	return cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(a, b))
}

func leadingDigits(s string) int {
	return len(s) - len(strings.TrimLeft(s, "0123456789"))
}

// IsNotebook reports whether dir holds at least one CSV file whose first header
// is `name`. A spreadsheet may have written it with semicolons, or somebody with
// a capital: that is a notebook too, if one that will be refused, and not a
// reason to look elsewhere.
func IsNotebook(dir string) bool {
	folder := os.DirFS(dir)
	files, err := sheetFiles(folder)
	if err != nil {
		return false
	}
	return slices.ContainsFunc(files, func(file string) bool {
		data, err := readHead(folder, file, maxRecord)
		if err != nil {
			return false
		}
		first := newScanner(string(data))
		if first.row() != nil {
			return false
		}
		header := strings.FieldsFunc(first.fields[0].text, func(r rune) bool { return r == ';' || r == '\t' })
		return len(header) > 0 && strings.EqualFold(strings.TrimSpace(header[0]), "name")
	})
}

// PlainError takes the operation and the path off an error of the file system,
// for messages that name the file themselves.
func PlainError(err error) error {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		err = path.Err
	case errors.As(err, &link):
		err = link.Err
	}
	return inOurWords(err)
}
