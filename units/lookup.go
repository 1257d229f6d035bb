package units

import (
	"cmp"
	"slices"
	"strconv"
	"sync"
	"unicode"

	"rambook/units/sorting"
	"rambook/units/words"
)

// A Symbol is one entry of the table of units.
type Symbol struct {
	Name       string   // what is typed, such as "kN"
	Also       []string // other spellings, such as "tonne" for "t"
	Meaning    string   // in words, such as "kilonewton"
	Unit       Unit
	Quantity   string // what it measures, such as "force"
	Definition string // exact, such as "10³ N"
	Source     string // of the definition
	InFormulas bool   // false for units of unit columns and cells only
}

// A symbol is an entry of the tables, prepared for the parser.
type symbol struct {
	row
	term
	kind     Kind
	zero     float64
	column   bool   // not for formulas
	reserved bool   // not a name for a quantity
	aliasOf  string // the spelling in the table, if this is another
}

func (s *symbol) unit(written string) Unit {
	u := s.term.unit(written)
	u.Kind, u.zero = s.kind, s.zero
	return u
}

// symbols is the list of all entries, and index finds them by symbol. Both are
// built on first use, so that starting a program costs nothing.
var (
	symbols = sync.OnceValue(buildSymbols)
	index   = sync.OnceValue(func() map[string]*symbol { return buildIndex(symbols()) })
)

// buildSymbols joins the tables and adds the squares and cubes of lengths.
func buildSymbols() []symbol {
	all := make([]symbol, 0, 200)
	for _, g := range table {
		for _, r := range g.rows {
			all = append(all, symbol{row: r, term: term{g.dim, r.num, r.den, g.pi * one}, reserved: true})
		}
	}
	for _, c := range columnTable {
		t := term{c.dim, c.num, c.den, 0}
		all = append(all, symbol{row: c.row, term: t, kind: c.kind, zero: c.zero, column: true, reserved: c.reserved})
	}
	for _, a := range aliases {
		i := slices.IndexFunc(all, func(s symbol) bool { return s.symbol == a.symbol })
		s := all[i]
		s.symbol, s.aliasOf = a.alias, a.symbol
		s.column = s.column || a.column
		s.reserved = isWord(a.alias)
		all = append(all, s)
	}
	for _, s := range all {
		if s.dim == Length {
			all = append(all, s.raised(2, "²", "square "), s.raised(3, "³", "cubic "))
		}
	}
	return all
}

// raised returns the area or volume that goes with a length, such as mm2 with
// mm. Its symbol has no `^`, so that it is a single name in a formula.
func (s symbol) raised(power int, superscript, name string) symbol {
	ending := strconv.Itoa(power)
	t, err := s.term.pow(float64(power))
	if err != nil {
		panic("units: " + s.symbol + ending + ": " + err.Error())
	}
	r := row{s.symbol + ending, name + s.name, t.num, t.den, "1 " + s.symbol + superscript, byDefinition}
	raised := symbol{row: r, term: t, reserved: true}
	if s.aliasOf != "" {
		raised.aliasOf = s.aliasOf + ending
	}
	return raised
}

// isWord reports whether a name in a formula could be spelled like symbol.
func isWord(symbol string) bool {
	for i, r := range symbol {
		if i == 0 && !unicode.IsLetter(r) || !isSymbolPart(r) {
			return false
		}
	}
	return true
}

func buildIndex(all []symbol) map[string]*symbol {
	m := make(map[string]*symbol, len(all))
	for i := range all {
		m[all[i].symbol] = &all[i]
	}
	return m
}

// Lookup finds a single unit symbol that may stand in a formula, such as
// "kN", "mm2" or "in3". Units of unit columns and cells only, such as
// degC, % and in, are not found.
func Lookup(symbol string) (Unit, bool) {
	s, ok := index()[symbol]
	if !ok || s.column {
		return Unit{}, false
	}
	return s.unit(symbol), true
}

// Symbols returns the whole table of units, sorted by quantity, then by size.
func Symbols() []Symbol {
	spellings := map[string][]string{}
	for _, s := range symbols() {
		if s.aliasOf != "" {
			spellings[s.aliasOf] = append(spellings[s.aliasOf], s.symbol)
		}
	}
	var all []Symbol
	for _, s := range symbols() {
		if s.aliasOf != "" {
			continue
		}
		u := s.unit(s.symbol)
		all = append(all, Symbol{s.symbol, spellings[s.symbol], s.name, u, u.quantity(), s.definition, s.source,
			!s.column})
	}
	sorting.Stable(all, func(a, b Symbol) int {
		return cmp.Or(
			cmp.Compare(a.Quantity, b.Quantity),
			cmp.Compare(a.Unit.DiffToSI(1), b.Unit.DiffToSI(1)),
		)
	})
	return all
}

// Reserved reports whether a quantity cannot have this name because it stands
// for a unit or a constant, and for which: "the unit hour".
func Reserved(name string) (meaning string, ok bool) {
	if s, ok := index()[name]; ok && s.reserved {
		return "the unit " + s.name, true
	}
	if choices, ok := Ambiguous(name); ok {
		return "a trade name of several units, " + words.Choices(choices), true
	}
	for _, c := range Constants {
		if c.Name == name {
			return "the constant " + c.Name, true
		}
	}
	return "", false
}

// ReservedNames lists, sorted, all names for which Reserved is true.
func ReservedNames() []string {
	var names []string
	for _, s := range symbols() {
		if s.reserved {
			names = append(names, s.symbol)
		}
	}
	for _, a := range ambiguous {
		names = append(names, a.symbol)
	}
	for _, c := range Constants {
		names = append(names, c.Name)
	}
	slices.Sort(names)
	return names
}
