package sheets

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"strings"
	"sync"
	"time"
)

// HeaderUnit takes the header of a log apart: `pressure [bar]` or `pressure (bar)`.
func HeaderUnit(header string) (name, unit string) {
	header = strings.TrimSpace(header)
	for _, brackets := range []string{"[]", "()"} {
		if rest, closed := strings.CutSuffix(header, brackets[1:]); closed {
			if i := strings.LastIndex(rest, brackets[:1]); i >= 0 {
				return strings.TrimSpace(rest[:i]), strings.TrimSpace(rest[i+1:])
			}
		}
	}
	return header, ""
}

// isTime reports whether the first header of a sheet makes it a log.
func isTime(header string) bool {
	name, _ := HeaderUnit(header)
	return strings.EqualFold(name, "time")
}

// logHead is how much of a file shows whether it is a log.
const logHead = 64 << 10

// isLog reports whether a file that begins so is a log, which is not read like a
// sheet: it may be larger than memory. A second record `:unit` makes it a case
// sheet.
func isLog(head string) bool {
	s := newScanner(head)
	if s.skip(); beginsWithOther(head[s.next:], "time") {
		return false
	}
	if s.row() != nil || len(s.fields) == 0 || !isTime(s.fields[0].text) {
		return false
	}
	return s.row() != nil || len(s.fields) == 0 || !strings.HasPrefix(strings.TrimSpace(s.fields[0].text), ":")
}

// beginsWithOther reports whether a text begins with another word, as most do: the first
// record need not be read then.
func beginsWithOther(text, word string) bool {
	const letters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
	text = strings.TrimPrefix(text, `"`)
	first := text[:len(text)-len(strings.TrimLeft(text, letters))]
	return first != "" && !strings.EqualFold(first, word)
}

// heads are buffers for the heads of files.
var heads = sync.Pool{New: func() any { return new(bytes.Buffer) }}

// readContent reads a file, or makes the sheet of a log whose rows are left in it.
func readContent(folder fs.FS, file, shown string) (text string, log *Sheet, err error) {
	f, err := openPatiently(folder, file)
	if err != nil {
		return "", nil, err
	}
	defer f.Close()
	head := heads.Get().(*bytes.Buffer)
	defer heads.Put(head)
	head.Reset()
	n, err := head.ReadFrom(io.LimitReader(f, logHead))
	if err != nil {
		return "", nil, err
	}
	text = head.String()
	switch {
	case isLog(text):
		info, err := f.Stat()
		if err != nil {
			return "", nil, err
		}
		return "", &Sheet{File: shown, Name: SheetName(file), Kind: Log, info: info,
			open: func() (fs.File, error) { return folder.Open(file) }}, nil
	case n < logHead:
		return text, nil, nil
	}
	var all strings.Builder
	if info, err := f.Stat(); err == nil && info.Size() <= MaxFileSize {
		all.Grow(int(info.Size()))
	}
	all.WriteString(text)
	_, err = io.Copy(&all, io.LimitReader(f, int64(MaxFileSize+1-n))) // one byte too many for Read to refuse
	return all.String(), nil, err
}

// Open opens the file of a log anew.
func (s *Sheet) Open() (fs.File, error) {
	if s.open == nil {
		return nil, errors.New("this sheet is no log")
	}
	f, err := s.open()
	return f, PlainError(err)
}

// memory is a file whose bytes are at hand.
type memory struct {
	*strings.Reader
	name string
}

func (m memory) Stat() (fs.FileInfo, error) { return m, nil }
func (m memory) Close() error               { return nil }
func (m memory) Name() string               { return m.name }
func (m memory) Mode() fs.FileMode          { return 0o400 }
func (m memory) ModTime() (t time.Time)     { return t }
func (m memory) IsDir() bool                { return false }
func (m memory) Sys() any                   { return nil }

// inMemory opens a text like a file.
func inMemory(name, data string) func() (fs.File, error) {
	return func() (fs.File, error) { return memory{strings.NewReader(data), name}, nil }
}
