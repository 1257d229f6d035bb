// Package manual holds the help pages: what a notebook is made of, a subject
// each. They are written in a part of Markdown, so that they can be read in a
// repository too, and their examples are run by the tests.
package manual

import (
	"embed"
	"path"
	"strings"

	"rambook/units/words"
)

//go:embed pages
var files embed.FS

// Page is one subject.
type Page struct {
	Name  string // as it is asked for
	Title string // its first line
	Text  string // the page in Markdown, without its first line
}

// Kind is what a block of a page is.
type Kind int

const (
	Paragraph Kind = iota // Lines are one text
	Heading               // one line
	Item                  // of a list, Lines are one text
	Code                  // Lines stay as they are
	Table                 // Lines are rows, the header first; see Cells
)

// Block is a part of a page between blank lines.
type Block struct {
	Kind  Kind
	Lines []string
}

// Pages are all pages in their order.
func Pages() []Page {
	entries, err := files.ReadDir("pages")
	if err != nil {
		panic(err) // the folder is compiled in
	}
	var pages []Page
	for _, entry := range entries {
		text, err := files.ReadFile(path.Join("pages", entry.Name()))
		if err != nil {
			panic(err)
		}
		title, rest, _ := strings.Cut(string(text), "\n")
		_, name, _ := strings.Cut(strings.TrimSuffix(entry.Name(), ".md"), "-")
		pages = append(pages, Page{name, strings.TrimPrefix(title, "# "), rest})
	}
	return pages
}

// Blocks parts the text of the page.
func (p Page) Blocks() []Block {
	var blocks []Block
	open, fenced := false, false // whether a line goes on with the last block
	for line := range strings.Lines(p.Text) {
		line = strings.TrimRight(line, "\n")
		kind := Paragraph
		switch {
		case strings.HasPrefix(line, "```"):
			fenced = !fenced
			if fenced {
				blocks = append(blocks, Block{Kind: Code})
			}
			open = false
			continue
		case fenced:
			last := &blocks[len(blocks)-1]
			last.Lines = append(last.Lines, line)
			continue
		case line == "":
			open = false
			continue
		case ruler().MatchString(line):
			continue
		case strings.HasPrefix(line, "## "):
			kind, line, open = Heading, line[len("## "):], false
		case strings.HasPrefix(line, "- "):
			kind, line, open = Item, line[len("- "):], false
		case strings.HasPrefix(line, "|"):
			kind = Table
		}
		if !open {
			blocks = append(blocks, Block{Kind: kind})
		}
		last := &blocks[len(blocks)-1]
		last.Lines = append(last.Lines, strings.TrimSpace(line))
		open = true
	}
	return blocks
}

// ruler parts the header of a table from its rows.
var ruler = words.Pattern(`^\|[-| ]+\|$`)

// Cells parts the row of a table.
func Cells(row string) []string {
	cells := strings.Split(strings.Trim(row, "|"), "|")
	for i := range cells {
		cells[i] = strings.TrimSpace(cells[i])
	}
	return cells
}
