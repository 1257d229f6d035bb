package calc

import (
	"slices"
	"strconv"
	"strings"
	"sync"

	"rambook/sheets"
)

// shapes keeps the trees of formulas by their shape, which is the text with x for
// each name that may be one of a quantity, and 1 for each plain number: the notebooks of a floor, and the rows of a
// long one, have most of their formulas in common but for these.
var shapes struct {
	sync.Mutex // and no lock for many readers, who would sleep while one shape is added
	known      map[string]*node
}

// shapeRooms are where the trees of shapes stand, one for each that learns some.
var shapeRooms = sync.Pool{New: func() any { return roomFor(roomSize) }}

// mostShapes keeps a very large notebook from holding every tree twice.
const mostShapes = 4096

// mould is the shape of a formula.
type mould struct {
	key  [longestShape]byte
	at   [longestShape + 1]uint8 // of each character of the key, and behind the last: where it stands in the formula
	size int                     // characters of the key
}

// longestShape is of formulas that are parsed by their shape. Longer ones are few.
const longestShape = 200

// take reads the shape of a text. It is false for a text that may hold more than names,
// numbers, texts, operators, calls and look-ups, where x would not do for every name.
func (m *mould) take(text string) bool {
	if len(text) > longestShape {
		return false
	}
	m.size = 0
	previous := byte(0) // the last character that is no blank
	for i := 0; i < len(text); {
		from := i
		for i < len(text) && inWord(text[i]) {
			i++
		}
		word := text[from:i]
		switch {
		case word == "" && text[i] == '"': // a text is part of the shape as it is
			length := 1 + strings.IndexByte(text[i+1:], '"')
			if i += 1 + length; length == 0 || !isPlainText(text[from:i]) {
				return false
			}
			word = text[from:i]
		case word == "":
			if strings.IndexByte(" +-*/^()<>=!&?:,.[]", text[i]) < 0 {
				return false
			}
			i++
			word = text[from:i]
		case previous != '.' && isLetter(word[0]) && standsAlone(text[i:]) && !slices.Contains(languageWords, word):
			word = "x"
		case previous != '.' && isDigit(word[0]) && plainNumber(text[from:]) > 0:
			i = from + plainNumber(text[from:])
			word = "1"
		default:
			end := behindExponent(text, i)
			if end > i && !isDigit(text[from]) {
				return false // 1.e-3 is a number, and sheet.e-3 is none
			}
			i = end
			word = text[from:i]
		}
		for k := range len(word) {
			m.key[m.size], m.at[m.size] = word[k], uint8(from+k)
			m.size++
		}
		if last := word[len(word)-1]; last != ' ' {
			previous = last
		}
	}
	m.at[m.size] = uint8(len(text))
	return true
}

// isPlainText reports whether a text in quotes has no escapes, and no character of more
// than a byte.
func isPlainText(quoted string) bool {
	return !strings.ContainsFunc(quoted, func(r rune) bool { return r == '\\' || r < ' ' || r >= 0x7f })
}

func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }

func inWord(c byte) bool { return isLetter(c) || isDigit(c) || c == '_' }

// standsAlone reports whether a name before this text is that of no function or sheet.
func standsAlone(behind string) bool {
	behind = strings.TrimLeft(behind, " ")
	return behind == "" || behind[0] != '(' && behind[0] != '.' && behind[0] != '['
}

// behindExponent is where a number goes on to of which the part that ends at i has a
// sign behind it, as in 1.5e-3.
func behindExponent(text string, i int) int {
	if i == len(text) || text[i-1] != 'e' && text[i-1] != 'E' || text[i] != '+' && text[i] != '-' {
		return i
	}
	for i++; i < len(text) && inWord(text[i]); {
		i++
	}
	return i
}

// plainNumber is how many characters the number has that a text begins with, if it is
// written with digits and a point alone; else 0.
func plainNumber(text string) int {
	whole := digitsOf(text)
	end := whole
	if fraction := digitsOf(strings.TrimPrefix(text[whole:], ".")); fraction > 0 && text[whole] == '.' {
		end += 1 + fraction
	}
	switch {
	case whole == 0, end > mostDigits, whole > 1 && text[0] == '0',
		end < len(text) && (inWord(text[end]) || text[end] == '.'):
		return 0
	}
	return end
}

// mostDigits is of numbers that are read as the parser does, whole ones too.
const mostDigits = 15

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func digitsOf(text string) int {
	n := 0
	for n < len(text) && isDigit(text[n]) {
		n++
	}
	return n
}

// tree is the tree of the shape, nil if it has none.
func (m *mould) tree() *node {
	shapes.Lock()
	root, full := shapes.known[string(m.key[:m.size])], len(shapes.known) >= mostShapes
	shapes.Unlock()
	if root == nil && !full {
		root = learn(string(m.key[:m.size]))
	}
	return root
}

// learn keeps the tree of a shape, if it has one.
func learn(key string) *node {
	tree, fault := parseText(key)
	if fault != nil {
		return nil
	}
	r := shapeRooms.Get().(*room)
	defer shapeRooms.Put(r)
	root, fault := translated(tree, r)
	if fault != nil {
		return nil
	}
	shapes.Lock()
	defer shapes.Unlock()
	if shapes.known == nil {
		shapes.known = map[string]*node{}
	}
	shapes.known[key] = root
	return root
}

// parsed is what is known of a formula's text: its tree, or that it has the shape of
// others, so that the tree is made where it is needed. Without fault it has one of both.
type parsed struct {
	root   *node
	shaped bool
}

// parse finds out whether a text can be parsed.
func parse(text string) (parsed, *sheets.Problem) {
	var m mould
	if m.take(text) && m.tree() != nil {
		return parsed{shaped: true}, nil
	}
	root, fault := parseAnew(text)
	return parsed{root: root}, fault
}

// parseFormula turns the text of a formula, without its `=`, into a tree.
func parseFormula(text string) (*node, *sheets.Problem) { return parseInto(text, nil) }

// parseInto is parseFormula with the memory for the tree, nil for memory of its own. It
// is used only for one whose shape is known.
func parseInto(text string, r *room) (*node, *sheets.Problem) {
	var m mould
	if !m.take(text) {
		return parseAnew(text)
	}
	of := m.tree()
	if of == nil {
		return parseAnew(text)
	}
	if r == nil {
		r = roomFor(of.count())
	}
	return m.filled(of, text, r), nil
}

// filled copies a tree of the shape for a text that has it.
func (m *mould) filled(of *node, text string, r *room) *node {
	made := r.node(span{int(m.at[of.from]), int(m.at[of.to])}, of.kind)
	made.at, made.meaning = of.at, of.meaning
	switch {
	case of.kind == nameNode:
		made.name = text[made.from:made.to]
	case of.kind == numberNode && of.to-of.from == 1:
		made.number, _ = strconv.ParseFloat(text[made.from:made.to], 64)
	}
	if of.link != nil {
		own := *of.link
		own.column = span{int(m.at[own.column.from]), int(m.at[own.column.to])}
		made.link = &own
	}
	if of.args != nil {
		made.args = r.list(len(of.args))
		for i, a := range of.args {
			made.args[i] = m.filled(a, text, r)
		}
	}
	return made
}
