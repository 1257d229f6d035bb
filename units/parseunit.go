package units

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"rambook/units/problem"
	"rambook/units/words"
)

const (
	maxUnitLength = 200 // bytes; no unit of the trade comes near
	maxUnitDepth  = 20  // brackets within brackets
)

// Parse reads the text of a unit column: symbols joined by * and /, brackets,
// and powers with ^ or superscripts, as in "L/min", "mm²" or "W/(m^2*K)".
// Blanks around it, no-break ones too, do not count. Products and quotients
// are taken from left to right, as in a formula. An empty text is the unit of
// plain numbers.
//
// The error is of type *problem.Problem, not error, so that its span is at hand; compare
// it with nil before it is stored in an error.
func Parse(text string) (Unit, *problem.Problem) {
	start, end := trim(text)
	return parseUnit(text, start, end)
}

// parseUnit reads the unit between the bytes start and end of text.
func parseUnit(text string, start, end int) (Unit, *problem.Problem) {
	written := text[start:end]
	if written == "" {
		return Unit{}, nil
	}
	if s, ok := index()[written]; ok {
		return s.unit(written), nil
	}
	if len(written) > maxUnitLength {
		return Unit{}, problem.In(text, start, end,
			fmt.Sprintf("the unit has %d bytes, at most %d are read", len(written),
				maxUnitLength), "")
	}
	p := &unitParser{text: text, start: start, end: end, pos: start}
	t, err := p.product()
	if err == nil && p.peek() != 0 {
		err = p.unexpected()
	}
	if err != nil {
		// A spelling from elsewhere is better explained as a whole.
		if hint, ok := Advice(written); ok {
			err = p.unknown(start, end)
			err.Hint = hint
		}
		return Unit{}, err
	}
	return t.unit(written), nil
}

const joinHint = "join units with `*` or `/`, as in `N*m`"

// A unitParser reads text[start:end] by recursive descent.
type unitParser struct {
	text       string
	start, end int
	pos, depth int
}

// peek skips blanks and returns the rune that follows, 0 at the end.
func (p *unitParser) peek() rune {
	for p.pos < p.end {
		r, size := p.rune()
		if !isBlank(r) {
			return r
		}
		p.pos += size
	}
	return 0
}

func (p *unitParser) rune() (rune, int) {
	return utf8.DecodeRuneInString(p.text[p.pos:p.end])
}

// next steps over the rune that peek saw.
func (p *unitParser) next() {
	_, size := p.rune()
	p.pos += size
}

// product = power { ("*" | "/") power }
func (p *unitParser) product() (term, *problem.Problem) {
	p.peek()
	from := p.pos
	t, err := p.power()
	for err == nil {
		var join func(term, term) (term, error)
		switch p.peek() {
		case '*', '·', '⋅', '×':
			join = term.mul
		case '/':
			join = term.div
		default:
			return t, nil
		}
		p.next()
		var right term
		if right, err = p.power(); err != nil {
			break
		}
		var failed error
		if t, failed = join(t, right); failed != nil {
			err = p.errorAt(from, p.pos, failed.Error(), "")
		}
	}
	return t, err
}

// power = atom [ ("^" | "**") exponent | superscripts ]
func (p *unitParser) power() (term, *problem.Problem) {
	p.peek()
	from := p.pos
	t, err := p.atom()
	if err != nil {
		return t, err
	}
	var exponent float64
	var found bool
	switch r := p.peek(); {
	case r == '^':
		p.next()
		exponent, found = p.exponent()
	case strings.HasPrefix(p.text[p.pos:p.end], "**"):
		p.pos += 2
		exponent, found = p.exponent()
	case superscript(r) != 0:
		exponent, found = p.superscripts()
	default:
		return t, nil
	}
	if !found {
		return t, p.errorAt(from, p.pos, "a power that is no number", "write `m^2`, `m^-1` or `m^(1/2)`")
	}
	t, failed := t.pow(exponent)
	if failed != nil {
		return t, p.errorAt(from, p.pos, failed.Error(), "")
	}
	return t, nil
}

// atom = symbol | "1" | "(" product ")"
func (p *unitParser) atom() (term, *problem.Problem) {
	switch r := p.peek(); {
	case r == '(':
		return p.brackets()
	case isSymbolStart(r):
		return p.symbol()
	case r == '1' && p.digits() == 1:
		p.pos++
		return term{num: 1, den: 1}, nil
	}
	return term{}, p.unexpected()
}

func (p *unitParser) brackets() (term, *problem.Problem) {
	open := p.pos
	if p.depth++; p.depth > maxUnitDepth {
		return term{}, p.errorAt(open, open+1, "too many brackets within brackets", "")
	}
	p.next()
	t, err := p.product()
	if err != nil {
		return t, err
	}
	switch p.peek() {
	case ')':
		p.next()
		p.depth--
		return t, nil
	case 0:
		return t, p.errorAt(open, open+1, "a bracket that is not closed", "add `)`")
	}
	return t, p.unexpected()
}

func (p *unitParser) symbol() (term, *problem.Problem) {
	from := p.pos
	for p.next(); p.pos < p.end; p.next() {
		if r, _ := p.rune(); !isSymbolPart(r) {
			break
		}
	}
	name := p.text[from:p.pos]
	s, ok := index()[name]
	switch {
	case !ok:
		return term{}, p.unknown(from, p.pos)
	case s.kind == Point:
		difference := "K"
		if s.term.den != 1 {
			difference = "degR"
		}
		return term{}, p.errorAt(from, p.pos,
			"the temperature scale "+words.Quoted(name)+" cannot be part of a larger unit",
			"write "+words.Quoted(p.text[p.start:from]+difference+p.text[p.pos:p.end]))
	case s.kind != Ordinary:
		return term{}, p.errorAt(from, p.pos, words.Quoted(name)+" cannot be part of a larger unit", "")
	}
	return s.term, nil
}

// exponent = number | "(" number [ "/" number ] ")"
func (p *unitParser) exponent() (float64, bool) {
	if p.peek() != '(' {
		return p.number()
	}
	p.next()
	v, ok := p.number()
	if ok && p.peek() == '/' {
		p.next()
		var divisor float64
		divisor, ok = p.number()
		v /= divisor
	}
	if !ok || p.peek() != ')' {
		return 0, false
	}
	p.next()
	return v, true
}

// number reads a sign, digits and a decimal point.
func (p *unitParser) number() (float64, bool) {
	r := p.peek()
	from := p.pos
	if r == '-' || r == '+' || r == '−' {
		p.next()
	}
	p.pos += p.digits()
	v, err := strconv.ParseFloat(strings.Replace(p.text[from:p.pos], "−", "-", 1), 64)
	return v, err == nil
}

// digits counts the bytes of the digits and decimal points that follow.
func (p *unitParser) digits() int {
	rest := p.text[p.pos:p.end]
	return len(rest) - len(strings.TrimLeft(rest, "0123456789."))
}

func (p *unitParser) superscripts() (float64, bool) {
	var digits []byte
	for p.pos < p.end {
		r, size := p.rune()
		c := superscript(r)
		if c == 0 {
			break
		}
		digits = append(digits, c)
		p.pos += size
	}
	n, err := strconv.Atoi(string(digits))
	return float64(n), err == nil
}

// superscript returns the plain character of a raised digit or sign, else 0.
func superscript(r rune) byte {
	switch r {
	case '¹':
		return '1'
	case '²':
		return '2'
	case '³':
		return '3'
	case '⁻':
		return '-'
	case '⁺':
		return '+'
	}
	if r == '⁰' || r >= '⁴' && r <= '⁹' {
		return byte(r-'⁰') + '0'
	}
	return 0
}

func isSymbolStart(r rune) bool {
	return unicode.IsLetter(r) || r == '%' || r == '°'
}

func isSymbolPart(r rune) bool {
	return unicode.IsLetter(r) || r == '_' || r >= '0' && r <= '9'
}

//go:noinline
func (p *unitParser) errorAt(from, to int, message, hint string) *problem.Problem {
	return problem.In(p.text, from, to, message, hint)
}

// unknown explains a symbol that is not in the tables.
func (p *unitParser) unknown(from, to int) *problem.Problem {
	name := p.text[from:to]
	if choices, ok := Ambiguous(name); ok {
		return p.errorAt(from, to, "the unit "+words.Quoted(name)+" is ambiguous", "write "+words.Choices(choices))
	}
	hint := unknownHint(name)
	if hint == "" && p.text[p.start] == '(' {
		hint = "remarks go in the note"
	}
	return p.errorAt(from, to, "unknown unit "+words.Quoted(name), hint)
}

func unknownHint(name string) string {
	if hint, ok := Advice(name); ok {
		return hint
	}
	bare, power := name[:len(name)-1], name[len(name)-1:]
	if s, ok := index()[bare]; ok && s.dim != Length && s.dim != Area && s.dim != Volume &&
		(power == "2" || power == "3") {
		return "write " + words.Quoted(bare+"^"+power) + "; only lengths take a bare 2 or 3"
	}
	if near := nearestSymbols(name); len(near) > 0 {
		return "did you mean " + words.Choices(near) + "?"
	}
	return ""
}

// unexpected explains a character that cannot stand at the current position.
func (p *unitParser) unexpected() *problem.Problem {
	r := p.peek()
	from := p.pos
	if r == 0 {
		return p.errorAt(p.start, p.end, "the unit "+words.Quoted(p.text[p.start:p.end])+" is not complete", "")
	}
	_, size := p.rune()
	switch n := p.digits(); {
	case r == '-' || r == '.':
		return p.errorAt(from, from+1, "unexpected "+words.Quoted(string(r))+" in a unit", joinHint)
	case n > 0 && strings.ContainsAny(p.text[p.start:from], "^²³"):
		return p.errorAt(from, from+n, "the number "+words.Quoted(p.text[from:from+n])+" in a unit",
			"put a power that is a fraction in brackets, as in `m^(1/2)`")
	case n > 0:
		return p.errorAt(from, from+n, "the number "+words.Quoted(p.text[from:from+n])+" in a unit",
			"a unit holds symbols and no numbers but `1`, as in `1/min`")
	case r == '(':
		if _, err := p.brackets(); err != nil {
			return p.remark(from)
		}
		return p.errorAt(from, from+size, "two units with no sign between them", joinHint)
	case r == '[', r == '{':
		return p.errorAt(from, from+size, "unexpected "+words.Quoted(string(r))+" in a unit",
			"write the unit alone; only round brackets group")
	case isSymbolStart(r):
		_, err := p.symbol()
		if err != nil {
			return p.remark(from)
		}
		return p.errorAt(from, p.pos, "two units with no sign between them", joinHint)
	}
	return p.errorAt(from, from+size, "unexpected "+words.Quoted(string(r))+" in a unit", "")
}

// remark explains words that follow a unit.
func (p *unitParser) remark(from int) *problem.Problem {
	return p.errorAt(from, p.end, "unexpected "+words.Quoted(p.text[from:p.end])+" after a unit",
		"remarks go in the note")
}
