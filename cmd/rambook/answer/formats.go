package answer

import (
	"io"
	"slices"
	"strings"

	"rambook/sheets/table"
)

// Format is a form that an answer can be written in. --format, the endings of
// -o and completion go by this table, and no other place compares its words.
type Format struct {
	Name    string
	Endings []string // of files, with the point, the usual one first; "" is a file without one
	Screen  bool     // for a terminal: it has an edge to keep to, and may have colour
	Exact   bool     // for programs: exact numbers, and no sentences
	Bare    bool     // the table and nothing else: what is about all of it has no place there
	JSON    bool     // problems are JSON too
	Paper   Paper    // what a report is in this format

	// Stream is how rows are written while they are computed; nil: the format has
	// only answers that are whole.
	Stream func(*Head) Rows

	write func(io.Writer, *Answer, int) error
}

// Formats are all formats. The first is the usual one.
var Formats = []*Format{
	Table,
	{Name: "md", Endings: []string{".md"}, Paper: Text, write: page(table.Markdown)},
	{Name: "csv", Endings: []string{".csv"}, Exact: true, Bare: true, Stream: csvRows, write: rows},
	{Name: "json", Endings: []string{".json"}, Exact: true, JSON: true, Stream: jsonRows, write: object},
	{Name: "xlsx", Endings: []string{".xlsx"}, Exact: true, write: workbook},
	{Name: "html", Endings: []string{".html", ".htm"}, Paper: Web, write: webPage},
}

// Paper is what a report is written as.
type Paper uint8

const (
	NoPaper Paper = iota // the format is for no report
	Text                 // Markdown, also on a screen
	Web                  // a page to print, with pictures
)

// Table is the usual format. The last element of a folder such as .. ends in a
// point.
var Table = &Format{Name: "table", Endings: []string{".txt", "", "."}, Screen: true, Paper: Text, write: onScreen}

// Named finds a format by its word, nil if there is none of that name.
func Named(word string) *Format {
	return find(func(f *Format) bool { return f.Name == word })
}

// OfEnding finds the format that the ending of a file stands for, nil if it
// stands for none.
func OfEnding(ending string) *Format {
	return find(func(f *Format) bool { return slices.Contains(f.Endings, strings.ToLower(ending)) })
}

func find(fits func(*Format) bool) *Format {
	if i := slices.IndexFunc(Formats, fits); i >= 0 {
		return Formats[i]
	}
	return nil
}

// Endings are the usual endings of all formats.
func Endings() []string {
	var endings []string
	for _, f := range Formats {
		endings = append(endings, f.Endings[0])
	}
	return endings
}

// Names are the words of all formats.
func Names() []string {
	var names []string
	for _, f := range Formats {
		names = append(names, f.Name)
	}
	return names
}
