package units

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"sync"
)

// A Symbol is one entry of the table of units.
type Symbol struct {
	Name       string // what is typed, such as "kN"
	Meaning    string // in words, such as "kilonewton"
	Unit       Unit
	Quantity   string // what it measures, such as "force"
	Definition string // exact, such as "10³ N"
	Source     string // where the definition comes from
	InFormulas bool   // false for units known to unit columns and cells only
}

// symbol is a table entry prepared for the parser.
type symbol struct {
	term
	kind    Kind
	zero    float64
	column  bool // known to unit columns and cells only
	alone   bool
	meaning string
}

func (s symbol) unit(text string) Unit {
	u := s.term.unit(text)
	u.Kind, u.zero = s.kind, s.zero
	return u
}

// index finds the entries of both tables by symbol. It is built on first use,
// so that a program which needs no units does not pay for it.
var index = sync.OnceValue(func() map[string]symbol {
	m := make(map[string]symbol, 256)
	for _, g := range table {
		for _, r := range g.rows {
			s := symbol{term: term{g.dim, r.num, r.den, g.pi * one}, meaning: r.name}
			m[r.symbol] = s
			addPowers(m, r.symbol, s)
		}
	}
	for _, c := range columnTable {
		s := symbol{
			term: term{c.dim, c.num, c.den, 0}, meaning: c.name,
			kind: c.kind, zero: c.zero, column: true, alone: c.alone || c.kind == Point,
		}
		m[c.symbol] = s
		if isWord(c.symbol) {
			addPowers(m, c.symbol, s)
		}
	}
	return m
})

// lengthPowers are the endings that length symbols may carry without a `^`.
var lengthPowers = []struct {
	ending string
	power  int
	name   string
}{
	{"2", 2, "square "},
	{"3", 3, "cubic "},
}

// addPowers adds mm2 and mm3 for mm, and so on for every length.
func addPowers(m map[string]symbol, name string, s symbol) {
	if s.dim != Length {
		return
	}
	for _, p := range lengthPowers {
		t, err := s.term.pow(float64(p.power))
		if err != nil {
			panic("units: " + name + p.ending + ": " + err.Error())
		}
		m[name+p.ending] = symbol{term: t, meaning: p.name + s.meaning}
	}
}

// isWord reports whether a symbol is made of letters only, so that a name in
// a formula could be spelled like it.
func isWord(symbol string) bool {
	return !strings.ContainsAny(symbol, "%°")
}

// Lookup finds a single unit symbol that may stand in a formula, such as
// "kN", "mm2" or "in3". Units that only unit columns and cells know, such as
// degC, % and in, are not found.
func Lookup(symbol string) (Unit, bool) {
	s, ok := index()[symbol]
	if !ok || s.column {
		return Unit{}, false
	}
	return s.unit(symbol), true
}

// Ambiguous reports whether a symbol is a trade name of several units, such
// as ton, and which symbols to choose from instead.
func Ambiguous(symbol string) (choices []string, ok bool) {
	for _, a := range ambiguous {
		if a.symbol == symbol {
			return slices.Clone(a.choices), true
		}
	}
	return nil, false
}

// Advice says what to write instead of a spelling that is common elsewhere
// but no unit symbol here, such as gpm or psig.
func Advice(word string) (hint string, ok bool) {
	if choices, ok := Ambiguous(word); ok {
		return "write " + orList(choices), true
	}
	hint, ok = advice[word]
	return hint, ok
}

// Reserved reports whether a quantity cannot have this name because it
// already stands for a unit or a constant, and what it stands for, such as
// "the unit hour".
func Reserved(name string) (meaning string, ok bool) {
	if s, ok := index()[name]; ok && (!s.column || s.kind == Point) {
		return "the unit " + s.meaning, true
	}
	if choices, ok := Ambiguous(name); ok {
		return "a unit of several sizes, " + orList(choices), true
	}
	for _, c := range Constants {
		if c.Name == name {
			return "the constant " + c.Name + ", " + c.Doc, true
		}
	}
	return "", false
}

// Symbols returns the whole table of units, sorted by quantity, then by size.
func Symbols() []Symbol {
	var all []Symbol
	add := func(r row, u Unit, quantity string, inFormulas bool) {
		all = append(all, Symbol{r.symbol, r.name, u, quantity, r.definition, r.source, inFormulas})
	}
	for _, g := range table {
		for _, r := range g.rows {
			add(r, index()[r.symbol].unit(r.symbol), g.dim.Name(), true)
		}
	}
	for _, c := range columnTable {
		quantity := c.dim.Name()
		switch c.kind {
		case Date, Text:
			quantity = c.name
		}
		add(c.row, index()[c.symbol].unit(c.symbol), quantity, false)
	}
	slices.SortStableFunc(all, func(a, b Symbol) int {
		return cmp.Or(
			cmp.Compare(a.Quantity, b.Quantity),
			cmp.Compare(a.Unit.Kind, b.Unit.Kind),
			cmp.Compare(math.Abs(a.Unit.DiffToSI(1)), math.Abs(b.Unit.DiffToSI(1))),
		)
	})
	return all
}
