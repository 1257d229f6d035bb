package calc

// forest holds the trees of a notebook that is compiled. From then on only what is
// reported of a formula asks for its tree, so that it is kept in a quarter of the
// room and made anew each time.
type forest struct {
	nodes    []packedNode // tree by tree, parents first
	meanings []meaning
}

// packedNode is a node whose operands follow it, each with all below it.
type packedNode struct {
	kind     nodeKind
	args     uint16 // as many as [MaxFormulaNodes] at most
	at       uint16
	from, to uint16 // as many as [MaxFormulaBytes] at most
	meaning  uint32 // index in the forest
}

// packedAt is where the tree of a formula stands in a forest.
type packedAt struct {
	in          *forest
	first, size int32
}

// keepTrees packs the trees of all formulas but those with a let, whose nodes refer
// to each other.
func (m *Model) keepTrees() {
	f := &forest{}
	var packed []*formula
	nodes := 0
	for _, g := range m.formulas {
		if g.root == nil {
			continue
		}
		size, lets := 0, false
		g.root.walk(func(n *node) { size, lets = size+1, lets || n.kind == letNode })
		if !lets {
			g.packedAt = packedAt{f, int32(nodes), int32(size)}
			packed = append(packed, g)
			nodes += size
		}
	}
	f.nodes = make([]packedNode, 0, nodes)
	known := map[meaning]uint32{} // of signs, units and numbers, which many formulas have in common
	pack := func(n *node) {
		own := n.quantity != nil || n.link != nil
		at, found := uint32(0), false
		if !own {
			at, found = known[n.meaning]
		}
		if !found {
			at = uint32(len(f.meanings))
			f.meanings = append(f.meanings, n.meaning)
		}
		if !own && !found {
			known[n.meaning] = at
		}
		f.nodes = append(f.nodes, packedNode{n.kind, uint16(len(n.args)), n.at, uint16(n.from), uint16(n.to), at})
	}
	for _, g := range packed {
		g.root.walk(pack)
		g.root = nil
	}
}

// tree is the tree of a formula, nil if it could not be parsed. What it refers to is
// shared by all trees that are made of one formula.
func (f *formula) tree() *node {
	if f.root != nil || f.in == nil {
		return f.root
	}
	u := unpacking{forest: f.in, next: int(f.first), nodes: make([]node, 0, f.size), args: make([]*node, 0, f.size)}
	return u.node()
}

// unpacking makes a tree. Its parts have their memory together.
type unpacking struct {
	*forest
	next  int // in the forest's nodes
	nodes []node
	args  []*node
}

func (u *unpacking) node() *node {
	p := u.forest.nodes[u.next]
	u.next++
	u.nodes = append(u.nodes, node{kind: p.kind, at: p.at, from: int32(p.from), to: int32(p.to),
		meaning: u.meanings[p.meaning]})
	n := &u.nodes[len(u.nodes)-1]
	if p.args > 0 {
		first := len(u.args)
		u.args = u.args[:first+int(p.args)]
		n.args = u.args[first:len(u.args):len(u.args)]
		for i := range n.args {
			n.args[i] = u.node()
		}
	}
	return n
}
