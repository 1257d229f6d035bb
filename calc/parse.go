package calc

import (
	"slices"
	"sync"
	"sync/atomic"
	"unicode"

	"rambook/sheets"
)

// parsed keeps the trees of formulas by their text, as they come from the parser:
// the notebooks of a floor have most of their formulas in common.
var parsed struct {
	trees sync.Map // from string to *node
	count atomic.Int64
}

// mostParsed keeps a very large notebook from holding every tree twice.
const mostParsed = 4096

// parseFormula turns the text of a formula, without its `=`, into a tree.
func parseFormula(text string) (*node, *sheets.Problem) {
	if tree, found := parsed.trees.Load(text); found {
		return tree.(*node).clone(), nil
	}
	root, fault := parseAnew(text)
	if fault == nil && parsed.count.Load() < mostParsed {
		parsed.count.Add(1)
		parsed.trees.Store(text, root.clone())
	}
	return root, fault
}

// ahead parses the entries of a notebook from the last to the first, while the
// compiler reads them from the first to the last, until they meet. Parsing is half
// of the time that rows take to read.
type ahead struct {
	trees []atomic.Pointer[node] // of each row of the notebook; nil where it is not parsed, or is no formula
	read  atomic.Int64           // rows that the compiler has come to
}

func newAhead(book *sheets.Notebook) *ahead {
	rows := 0
	for _, s := range book.Sheets {
		rows += len(s.Rows)
	}
	return &ahead{trees: make([]atomic.Pointer[node], rows)}
}

// parse goes up the rows.
func (a *ahead) parse(book *sheets.Notebook) {
	at := len(a.trees)
	for _, s := range slices.Backward(book.Sheets) {
		for i := range s.Rows {
			if at--; int(a.read.Load()) > at {
				return
			}
			text := s.Rows[len(s.Rows)-1-i].Entry.Text
			if text == "" || IsName(text) || text[0] != '(' && !unicode.IsLetter(rune(text[0])) {
				continue // most probably no formula, or none that takes time
			}
			if root, fault := parseFormula(text); fault == nil {
				a.trees[at].Store(root)
			}
		}
	}
}

// tree is the tree of the entry that the compiler reads, the next row's each time,
// nil where it is not parsed yet.
func (a *ahead) tree(row int) *node {
	a.read.Store(int64(row) + 1)
	return a.trees[row].Swap(nil)
}

// clone copies a tree that the parser has made, of which nothing is resolved yet.
func (n *node) clone() *node {
	nodes, args, links := 0, 0, 0
	n.walk(func(part *node) {
		nodes++
		args += len(part.args)
		if part.link != nil {
			links++
		}
	})
	c := cloner{make([]node, 0, nodes), make([]*node, 0, args), make([]link, 0, links)}
	return c.clone(n)
}

// cloner holds the memory of all parts of a tree, in three pieces.
type cloner struct {
	nodes []node
	args  []*node
	links []link
}

func (c *cloner) clone(n *node) *node {
	c.nodes = append(c.nodes, *n)
	made := &c.nodes[len(c.nodes)-1]
	if n.link != nil {
		c.links = append(c.links, *n.link)
		made.link = &c.links[len(c.links)-1]
	}
	if n.args != nil {
		from := len(c.args)
		c.args = c.args[:from+len(n.args)]
		made.args = c.args[from:len(c.args):len(c.args)]
		for i, a := range n.args {
			made.args[i] = c.clone(a)
		}
	}
	return made
}
