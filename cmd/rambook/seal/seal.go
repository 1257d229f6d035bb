// Package seal finds out whether a page and a notebook still belong together.
//
// A report that is written to a file is sealed: behind the page stands a comment
// with a digest of every file that it was made from, of the page itself, and the
// sheets as they were, so that verify can find which cells have changed since. A
// seal shows what has changed by mistake or by time; it is no signature, and
// whoever wants to forge a page can seal it anew.
package seal

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"rambook/sheets"
	"rambook/units/problem"
)

// Seal is what the comment holds.
type Seal struct {
	Made  string   `json:"made"`
	With  string   `json:"with"`
	Set   []string `json:"set,omitempty"`
	Units string   `json:"units,omitempty"`
	Files []File   `json:"files"`
	Page  string   `json:"page"` // digest of the page without its seal
}

// File is a file of a notebook as it was.
type File struct {
	File   string  `json:"file"`
	Size   int64   `json:"size"`
	Digest string  `json:"sha256"`
	Log    bool    `json:"log,omitempty"`
	Text   *string `json:"text,omitempty"` // of a sheet that is not too large
}

const (
	sealBegins = "<!-- rambook seal\n"
	sealEnds   = "-->\n"
	mostSealed = 1 << 20 // bytes of a file whose text goes into the seal, as an answer to which cells have changed
)

// Files takes the digests of the files of a notebook.
func Files(book *sheets.Notebook) ([]File, error) {
	var list []File
	for _, s := range book.Sheets {
		one := File{File: filepath.Base(s.File)}
		if one.Log = s.Kind == sheets.Log; one.Log {
			f, err := s.Open()
			if err != nil {
				return nil, problem.Wrong(sheets.Problem{File: s.File, Message: sheets.PlainError(err).Error()})
			}
			sum := sha256.New()
			one.Size, err = io.Copy(sum, f)
			f.Close()
			if err != nil {
				return nil, problem.Wrong(sheets.Problem{File: s.File, Message: sheets.PlainError(err).Error()})
			}
			one.Digest = hex.EncodeToString(sum.Sum(nil))
		} else {
			text := s.Text()
			one.Size, one.Digest = int64(len(text)), digest([]byte(text))
			if len(text) <= mostSealed {
				one.Text = &text
			}
		}
		list = append(list, one)
	}
	return list, nil
}

func digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// digestOfPage leaves out what a repository or a mail may do to the ends of lines.
func digestOfPage(page []byte) string { return digest(bytes.ReplaceAll(page, []byte("\r"), nil)) }

// OfFiles is one digest of all files, short enough to be compared on paper.
func (s *Seal) OfFiles() string {
	var all strings.Builder
	for _, f := range s.Files {
		fmt.Fprintln(&all, f.File, f.Digest)
	}
	return digest([]byte(all.String()))[:16]
}

// On puts the seal behind a page.
func (s *Seal) On(page []byte) ([]byte, error) {
	s.Page = digestOfPage(page)
	var packed bytes.Buffer
	zip := gzip.NewWriter(&packed)
	if err := json.NewEncoder(zip).Encode(s); err != nil {
		return nil, err
	}
	if err := zip.Close(); err != nil {
		return nil, err
	}
	out := bytes.NewBuffer(append([]byte(nil), page...))
	out.WriteString(sealBegins)
	text := base64.StdEncoding.EncodeToString(packed.Bytes())
	for len(text) > 0 {
		n := min(len(text), 100)
		out.WriteString(text[:n] + "\n")
		text = text[n:]
	}
	out.WriteString(sealEnds)
	return out.Bytes(), nil
}

// Read parts a page from its seal.
func Read(file string) (s *Seal, page []byte, err error) {
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, nil, problem.Wrong(sheets.Problem{File: file, Message: sheets.PlainError(err).Error()})
	}
	broken := problem.Wrong(sheets.Problem{File: file,
		Message: "the seal of this page is damaged, so that nothing can be compared with it",
		Hint:    "take the page as it was written, or write it anew"})
	data = bytes.ReplaceAll(data, []byte("\r"), nil)
	at := bytes.LastIndex(data, []byte(sealBegins))
	if at < 0 {
		return nil, nil, problem.Wrong(sheets.Problem{File: file, Message: "this page carries no seal",
			Hint: "a page that `rambook report -o FILE` writes carries one"})
	}
	text, after, ended := bytes.Cut(data[at+len(sealBegins):], []byte(sealEnds))
	packed, err := base64.StdEncoding.DecodeString(strings.Join(strings.Fields(string(text)), ""))
	if !ended || err != nil {
		return nil, nil, broken
	}
	zip, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, nil, broken
	}
	s = &Seal{}
	if err := json.NewDecoder(io.LimitReader(zip, 1<<28)).Decode(s); err != nil {
		return nil, nil, broken
	}
	return s, append(data[:at:at], after...), nil
}

// Verification is whether a page and a notebook belong together.
type Verification struct {
	Page     string        `json:"page"`
	Notebook string        `json:"notebook"`
	Together bool          `json:"together"`
	Made     string        `json:"made"`
	With     string        `json:"with"`
	Set      []string      `json:"set,omitempty"`
	Touched  bool          `json:"page_changed"` // the page itself is not as it was written
	Files    []FileState   `json:"files"`
	Cells    []ChangedCell `json:"cells"`
}

// FileState is what has become of a file.
type FileState struct {
	File  string `json:"file"`
	State string `json:"state"`
}

// ChangedCell is a cell that holds something else than when the page was made.
type ChangedCell struct {
	File string `json:"file"`
	Line int    `json:"line,omitempty"`
	Cell string `json:"cell"`
	Was  string `json:"was"`
	Is   string `json:"is"`
}

// The states of a file since the page was made.
const (
	Same         = "same"
	otherCells   = "changed"
	otherLayout  = "changed, but in no cell: comments, blanks or the order of rows"
	otherAtLarge = "changed; too large for the seal to show which cells"
	otherLog     = "changed; a log, of which the seal holds the digest alone"
	fileIsGone   = "gone"
	fileIsNew    = "new"
)

// Verify compares the seal of a page, and the page that was read with it, with a
// notebook.
func (s *Seal) Verify(page []byte, book *sheets.Notebook) (*Verification, error) {
	files, err := Files(book)
	if err != nil {
		return nil, err
	}
	v := &Verification{Notebook: book.Path, Made: s.Made, With: s.With, Set: s.Set,
		Touched: digestOfPage(page) != s.Page, Cells: []ChangedCell{}}
	v.compare(s.Files, files)
	v.Together = !v.Touched
	for _, f := range v.Files {
		v.Together = v.Together && f.State == Same
	}
	return v, nil
}

// compare finds what has become of each file.
func (v *Verification) compare(sealed, now []File) {
	standing := map[string]File{}
	for _, f := range now {
		standing[f.File] = f
	}
	known := map[string]bool{}
	for _, was := range sealed {
		known[was.File] = true
		is, found := standing[was.File]
		state := Same
		switch {
		case !found:
			state = fileIsGone
		case is.Digest == was.Digest:
		case was.Log || is.Log:
			state = otherLog
		case was.Text == nil || is.Text == nil:
			state = otherAtLarge
		default:
			state = v.compareCells(was.File, *was.Text, *is.Text)
		}
		v.Files = append(v.Files, FileState{was.File, state})
	}
	for _, is := range now {
		if !known[is.File] {
			v.Files = append(v.Files, FileState{is.File, fileIsNew})
		}
	}
}

func (v *Verification) compareCells(file, was, is string) string {
	sheet, _ := sheets.Read(file, []byte(is))
	name := strings.TrimSuffix(file, filepath.Ext(file))
	if sheet != nil {
		name = sheet.Name
	}
	changes, err := sheets.Changes(name, was, is)
	if err != nil {
		return otherCells
	}
	if len(changes) == 0 {
		return otherLayout
	}
	for _, ch := range changes {
		v.Cells = append(v.Cells, ChangedCell{file, ch.Line, ch.What, ch.Was, ch.Is})
	}
	return otherCells
}
