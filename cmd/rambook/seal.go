package main

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
	"time"

	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units/words"
)

// A report that is written to a file is sealed: behind the page stands a comment
// with a digest of every file that it was made from, of the page itself, and the
// sheets as they were, so that verify can tell which cells have changed since. A
// seal shows what has changed by mistake or by time; it is no signature, and
// whoever wants to forge a page can seal it anew.

// seal is what the comment holds.
type seal struct {
	Made  string       `json:"made"`
	With  string       `json:"with"`
	Set   []string     `json:"set,omitempty"`
	Units string       `json:"units,omitempty"`
	Files []sealedFile `json:"files"`
	Page  string       `json:"page"` // digest of the page without its seal
}

type sealedFile struct {
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

// sealedFiles takes the digests of the files of a notebook.
func sealedFiles(book *sheets.Notebook) ([]sealedFile, error) {
	var list []sealedFile
	for _, s := range book.Sheets {
		one := sealedFile{File: filepath.Base(s.File)}
		if one.Log = s.Kind == sheets.Log; one.Log {
			f, err := s.Open()
			if err != nil {
				return nil, wrong(sheets.Problem{File: s.File, Message: cause(err).Error()})
			}
			sum := sha256.New()
			one.Size, err = io.Copy(sum, f)
			f.Close()
			if err != nil {
				return nil, wrong(sheets.Problem{File: s.File, Message: cause(err).Error()})
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

// ofFiles is one digest of all files, short enough to be compared on paper.
func (s *seal) ofFiles() string {
	var all strings.Builder
	for _, f := range s.Files {
		fmt.Fprintln(&all, f.File, f.Digest)
	}
	return digest([]byte(all.String()))[:16]
}

// on puts the seal behind a page.
func (s *seal) on(page []byte) ([]byte, error) {
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

// seal takes the digests that a page in a file is sealed with, nil where there is
// none: on a screen, and for a class.
func (c *reportCommand) seal(s *session) (*seal, error) {
	if s.output.Output == "" && !s.chosen || c.Blind {
		return nil, nil
	}
	book, err := openNotebook(c.Path)
	if err != nil {
		return nil, err
	}
	files, err := sealedFiles(book)
	return &seal{Made: s.now().Format(time.DateOnly), With: "rambook " + version(), Set: c.Set, Units: c.Units,
		Files: files}, err
}

// readSeal parts a page from its seal.
func readSeal(file string) (s *seal, page []byte, err error) {
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, nil, wrong(sheets.Problem{File: file, Message: cause(err).Error()})
	}
	broken := wrong(sheets.Problem{File: file, Message: "the seal of this page is damaged, so that nothing can be compared with it",
		Hint: "take the page as it was written, or write it anew"})
	data = bytes.ReplaceAll(data, []byte("\r"), nil)
	at := bytes.LastIndex(data, []byte(sealBegins))
	if at < 0 {
		return nil, nil, wrong(sheets.Problem{File: file, Message: "this page carries no seal",
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
	s = &seal{}
	if err := json.NewDecoder(io.LimitReader(zip, 1<<28)).Decode(s); err != nil {
		return nil, nil, broken
	}
	return s, append(data[:at:at], after...), nil
}

// verification is whether a page and a notebook belong together.
type verification struct {
	Page     string          `json:"page"`
	Notebook string          `json:"notebook"`
	Together bool            `json:"together"`
	Made     string          `json:"made"`
	With     string          `json:"with"`
	Set      []string        `json:"set,omitempty"`
	Touched  bool            `json:"page_changed"` // the page itself is not as it was written
	Files    []verifiedFile  `json:"files"`
	Cells    []verifiedCells `json:"cells"`
}

type verifiedFile struct {
	File  string `json:"file"`
	State string `json:"state"`
}

type verifiedCells struct {
	File string `json:"file"`
	Line int    `json:"line,omitempty"`
	Cell string `json:"cell"`
	Was  string `json:"was"`
	Is   string `json:"is"`
}

// The states of a file since the page was made.
const (
	sameFileState = "same"
	otherCells    = "changed"
	otherLayout   = "changed, but in no cell: comments, blanks or the order of rows"
	otherAtLarge  = "changed; too large for the seal to show which cells"
	otherLog      = "changed; a log, of which the seal holds the digest alone"
	fileIsGone    = "gone"
	fileIsNew     = "new"
)

// verify compares a page with a notebook.
func (c *reportCommand) verify(s *session) error {
	sealed, text, err := readSeal(c.Verify)
	if err != nil {
		return err
	}
	var book *sheets.Notebook
	switch {
	case c.Path != "":
		book, _ = sheets.Open(c.Path) // a sheet that cannot be used has changed all the same
		if len(book.Sheets) == 0 {
			return problem("there is no notebook at "+c.Path, "")
		}
	case sheets.IsNotebook("."):
		book, _ = sheets.Open(".")
	default:
		book, _ = sheets.Starter(builtIn)
	}
	files, err := sealedFiles(book)
	if err != nil {
		return err
	}
	v := &verification{Page: c.Verify, Notebook: book.Path, Made: sealed.Made, With: sealed.With, Set: sealed.Set,
		Touched: digestOfPage(text) != sealed.Page, Cells: []verifiedCells{}}
	v.compare(sealed.Files, files)
	v.Together = !v.Touched
	for _, f := range v.Files {
		v.Together = v.Together && f.State == sameFileState
	}
	layout := s.screen()
	found := answer.Answer{
		Title:  fmt.Sprintf("page %s and notebook %s", page.Printable(c.Verify), page.Printable(book.Path)),
		Page:   func() []table.Table { return v.tables(layout) },
		Rows:   v.rows,
		Object: func() any { return v },
	}
	if err := s.answer(&found); err != nil {
		return err
	}
	if !v.Together {
		return errFails
	}
	return nil
}

// compare finds what has become of each file.
func (v *verification) compare(sealed, now []sealedFile) {
	standing := map[string]sealedFile{}
	for _, f := range now {
		standing[f.File] = f
	}
	known := map[string]bool{}
	for _, was := range sealed {
		known[was.File] = true
		is, found := standing[was.File]
		state := sameFileState
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
		v.Files = append(v.Files, verifiedFile{was.File, state})
	}
	for _, is := range now {
		if !known[is.File] {
			v.Files = append(v.Files, verifiedFile{is.File, fileIsNew})
		}
	}
}

func (v *verification) compareCells(file, was, is string) string {
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
		v.Cells = append(v.Cells, verifiedCells{file, ch.Line, ch.What, ch.Was, ch.Is})
	}
	return otherCells
}

// rows are the changed cells.
func (v *verification) rows() table.Table {
	t := table.Table{Columns: []table.Column{{Header: "cell"}, {Header: "file"}, {Header: "line"}, {Header: "was"},
		{Header: "is"}}}
	for _, c := range v.Cells {
		line := ""
		if c.Line > 0 {
			line = fmt.Sprint(c.Line)
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{c.Cell, c.File, line, c.Was, c.Is}})
	}
	return t
}

// tables answer first, then show the cells.
func (v *verification) tables(layout page.Layout) []table.Table {
	made := "made on " + v.Made + " with " + v.With
	if len(v.Set) > 0 {
		made += ", with --set " + strings.Join(v.Set, " and --set ")
	}
	var lines []string
	if v.Together {
		lines = append(lines, fmt.Sprintf("They belong together: the page is as it was written, and all %s are as they were.",
			words.Counted(len(v.Files), "file")))
	} else {
		lines = append(lines, "They do not belong together any more.")
	}
	lines = append(lines, "The page was "+page.Printable(made)+".")
	if v.Touched {
		lines = append(lines, "The page itself has been changed since: do not rely on a number of it, write it anew.")
	}
	for _, f := range v.Files {
		if f.State != sameFileState {
			lines = append(lines, page.Printable(f.File)+": "+f.State)
		}
	}
	lines = append(lines, "A seal shows what has changed; it is no signature.")
	tables := []table.Table{layout.Sentences(2, lines...)}
	if len(v.Cells) > 0 {
		t := v.rows()
		for i := range t.Rows {
			for k, cell := range t.Rows[i].Cells {
				if k > 2 && cell == "" {
					cell = "(blank)"
				}
				t.Rows[i].Cells[k] = page.Printable(cell)
			}
		}
		t.Title = "Cells that have changed since"
		t.Rows = t.Rows[:layout.Cut(&t, len(t.Rows))]
		tables = append(tables, t)
	}
	return tables
}
