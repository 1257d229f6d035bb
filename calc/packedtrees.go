package calc

import (
	"unicode/utf8"

	"rambook/calc/function"
)

// forest holds the trees of a notebook's formulas once their names are resolved. The
// passes of the compiler and what is reported of a formula go through one tree after
// another, so that each is kept in a sixth of the room and made anew where it is
// needed.
type forest struct {
	nodes    []packedNode          // the last block of them
	meanings [][]meaning           // in blocks
	types    []function.Type       // the first is Plain, which all have until theirs is found
	known    map[meaning]uint32    // of units and numbers, which many formulas have in common
	signs    [utf8.RuneSelf]uint32 // of names of one character, operators first of all: 1 + what known would have
	numbers  map[function.Type]uint16
	inner    int // nodes with operands
}

// packedNode is a node whose operands follow it, each with all below it.
type packedNode struct {
	kind     nodeKind
	args     uint16 // as many as [MaxFormulaNodes] at most
	at       uint16
	from, to uint16 // as many as [MaxFormulaBytes] at most
	typ      uint16 // index in the forest
	meaning  uint32 // index in the forest
}

// packedTree is the tree of a formula in a forest.
type packedTree struct {
	in    *forest
	nodes []packedNode // parents first
}

func newForest() *forest {
	return &forest{known: map[meaning]uint32{}, types: []function.Type{function.Plain},
		numbers: map[function.Type]uint16{}}
}

// forestBlock is how many nodes, and how many meanings, have their memory together.
const forestBlock = 1 << 10

// pack keeps the tree of a formula. That of one with a let stays as it is, since its
// nodes refer to each other.
func (fo *forest) pack(f *formula, root *node) {
	if size := root.count(); cap(fo.nodes)-len(fo.nodes) < size {
		fo.nodes = make([]packedNode, 0, max(forestBlock, size))
	}
	first := len(fo.nodes)
	if !fo.add(f, root) {
		f.root, f.parts, fo.nodes = root, 0, fo.nodes[:first]
		return
	}
	f.packedTree = packedTree{fo, fo.nodes[first:len(fo.nodes):len(fo.nodes)]}
	f.root = nil
}

// add packs n and all below it. It is false if a let is among them.
func (fo *forest) add(f *formula, n *node) bool {
	if n.kind == letNode {
		return false
	}
	f.parts = max(f.parts, n.at+1)
	if len(n.args) > 0 {
		fo.inner++
	}
	fo.nodes = append(fo.nodes, packedNode{n.kind, uint16(len(n.args)), n.at, uint16(n.from), uint16(n.to),
		fo.number(n.typ), fo.keep(n)})
	for _, a := range n.args {
		if !fo.add(f, a) {
			return false
		}
	}
	return true
}

// keep gives the meaning of a node a number.
func (fo *forest) keep(n *node) uint32 {
	own := n.quantity != nil || n.link != nil
	sign := !own && len(n.name) == 1 && n.number == 0 && n.name[0] < utf8.RuneSelf
	switch {
	case own:
	case sign:
		if at := fo.signs[n.name[0]]; at > 0 {
			return at - 1
		}
	default:
		if at, found := fo.known[n.meaning]; found {
			return at
		}
	}
	last := len(fo.meanings) - 1
	if last < 0 || len(fo.meanings[last]) == forestBlock {
		fo.meanings = append(fo.meanings, make([]meaning, 0, forestBlock))
		last++
	}
	at := uint32(last*forestBlock + len(fo.meanings[last]))
	fo.meanings[last] = append(fo.meanings[last], n.meaning)
	switch {
	case own:
	case sign:
		fo.signs[n.name[0]] = at + 1
	default:
		fo.known[n.meaning] = at
	}
	return at
}

// meaning is what keep has given a number.
func (fo *forest) meaning(at uint32) *meaning { return &fo.meanings[at/forestBlock][at%forestBlock] }

// number gives a type a number.
func (fo *forest) number(t function.Type) uint16 {
	if t == function.Plain {
		return 0
	}
	at, found := fo.numbers[t]
	if !found {
		at = uint16(len(fo.types))
		fo.types, fo.numbers[t] = append(fo.types, t), at
	}
	return at
}

// keepTypes keeps the types that have been found for a tree that was made anew.
func (f *formula) keepTypes(root *node) { f.in.keepTypes(f.nodes, root) }

// keepTypes is [formula.keepTypes] for n and all below it. It returns the nodes behind these.
func (fo *forest) keepTypes(nodes []packedNode, n *node) []packedNode {
	nodes[0].typ, nodes = fo.number(n.typ), nodes[1:]
	for _, a := range n.args {
		nodes = fo.keepTypes(nodes, a)
	}
	return nodes
}

// isParsed reports whether a formula has a tree.
func (f *formula) isParsed() bool { return f.root != nil || f.nodes != nil || f.shaped }

// tree is the tree of a formula, nil if it could not be parsed. What it refers to is
// shared by all trees that are made of one formula.
func (f *formula) tree() *node {
	if f.nodes == nil {
		return f.treeIn(nil)
	}
	return f.treeIn(roomFor(len(f.nodes)))
}

// treeIn is tree with the memory for it; nil is memory of its own for one that is not packed.
func (f *formula) treeIn(r *room) (root *node) {
	switch {
	case f.nodes != nil:
		u := unpacking{packedTree: f.packedTree, room: r}
		root = u.node()
	case f.root == nil && f.shaped:
		root, _ = parseInto(f.text, r)
	default:
		root = f.root
	}
	return root
}

// each visits the parts of a formula, parents first, as far as they can be told without
// a tree.
func (f *formula) each(visit func(kind nodeKind, m *meaning)) {
	if f.nodes == nil {
		if root := f.tree(); root != nil {
			root.walk(func(n *node) { visit(n.kind, &n.meaning) })
		}
		return
	}
	for i := range f.nodes {
		visit(f.nodes[i].kind, f.in.meaning(f.nodes[i].meaning))
	}
}

// any reports whether a formula has a part of which something is so.
func (f *formula) any(is func(kind nodeKind, m *meaning) bool) (found bool) {
	f.each(func(kind nodeKind, m *meaning) { found = found || is(kind, m) })
	return found
}

// has reports whether a formula has a part of some kind.
func (f *formula) has(kind nodeKind) bool {
	return f.any(func(k nodeKind, _ *meaning) bool { return k == kind })
}

// unpacking makes a tree.
type unpacking struct {
	packedTree
	*room
	next int // of its nodes
}

func (u *unpacking) node() *node {
	p := &u.packedTree.nodes[u.next]
	u.next++
	n := u.room.node(span{int(p.from), int(p.to)}, p.kind)
	n.at, n.typ, n.meaning = p.at, u.in.types[p.typ], *u.in.meaning(p.meaning)
	if p.args > 0 {
		n.args = u.list(int(p.args))
		for i := range n.args {
			n.args[i] = u.node()
		}
	}
	return n
}
