package units

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

const (
	maxUnitLength = 200 // bytes; no real unit comes near
	maxUnitDepth  = 20  // brackets in brackets
)

// A term is a unit under construction: num/den × pi^(pi/6) of the coherent SI
// unit of its dimension. The power of pi is kept apart, in sixths, so that it
// cancels exactly.
type term struct {
	dim      Dimension
	num, den float64
	pi       int
}

var errScale = errors.New("a scale beyond 1e±300")

func (t term) mul(o term) (term, error) {
	dim, err := t.dim.Mul(o.dim)
	if err != nil {
		return t, err
	}
	return term{dim, t.num * o.num, t.den * o.den, t.pi + o.pi}.checked()
}

func (t term) div(o term) (term, error) {
	dim, err := t.dim.Div(o.dim)
	if err != nil {
		return t, err
	}
	return term{dim, t.num * o.den, t.den * o.num, t.pi - o.pi}.checked()
}

func (t term) pow(p float64) (term, error) {
	dim, err := t.dim.Pow(p)
	if err != nil {
		return t, err
	}
	num, den := power(t.num, math.Abs(p)), power(t.den, math.Abs(p))
	if p < 0 {
		num, den = den, num
	}
	pi := float64(t.pi) * p
	if pi != math.Trunc(pi) {
		num, pi = num*math.Pow(math.Pi, pi/one), 0
	}
	return term{dim, num, den, int(pi)}.checked()
}

// power is x^p, by repeated multiplication where that is exact longer.
func power(x, p float64) float64 {
	if p != math.Trunc(p) {
		return math.Pow(x, p)
	}
	y := 1.0
	for range int(p) {
		y *= x
	}
	return y
}

// checked cancels common factors of numerator and denominator, which keeps
// them whole numbers for as long as possible, and refuses scales that a
// float64 cannot hold.
func (t term) checked() (term, error) {
	const exact = 1 << 53
	if a, b := t.num, t.den; a < exact && b < exact && a == math.Trunc(a) && b == math.Trunc(b) {
		for b != 0 {
			a, b = b, math.Mod(a, b)
		}
		if a > 1 {
			t.num, t.den = t.num/a, t.den/a
		}
	}
	const small, large = 1e-300, 1e300
	if !(t.num > small && t.num < large && t.den > small && t.den < large) {
		return t, errScale
	}
	if f := t.num / t.den; !(f > small && f < large) {
		return t, errScale
	}
	return t, nil
}

func (t term) unit(symbol string) Unit {
	u := Unit{Symbol: symbol, Dim: t.dim, num: t.num, den: t.den}
	switch {
	case t.pi > 0:
		u.num *= math.Pow(math.Pi, float64(t.pi)/one)
	case t.pi < 0:
		u.den *= math.Pow(math.Pi, float64(-t.pi)/one)
	}
	return u
}

// Parse reads the text of a unit column: symbols joined by * and /, brackets,
// powers with ^ or superscripts, as in "L/min", "mm²" or "W/(m^2*K)". Blanks
// around it, no-break ones too, do not count. Products and quotients are taken
// from left to right, as in a formula. An empty text is the unit of a plain
// number.
func Parse(text string) (Unit, *Error) {
	start, end := trim(text)
	return parseUnit(text, start, end)
}

// parseUnit reads the unit between the bytes start and end of text.
func parseUnit(text string, start, end int) (Unit, *Error) {
	written := text[start:end]
	if written == "" {
		return Unit{}, nil
	}
	if s, ok := index()[written]; ok {
		return s.unit(written), nil
	}
	if len(written) > maxUnitLength {
		return Unit{}, errorAt(text, start, end, fmt.Sprintf("a unit of %d characters", utf8.RuneCountInString(written)), "")
	}
	p := &unitParser{text: text, start: start, end: end, pos: start}
	t, err := p.product()
	if err == nil && p.pos < p.end {
		err = p.unexpected()
	}
	if err != nil {
		return Unit{}, err
	}
	return t.unit(written), nil
}

type unitParser struct {
	text       string
	start, end int // of the unit in text
	pos, depth int
}

// peek returns the rune at the current position, after blanks; 0 at the end.
func (p *unitParser) peek() (rune, int) {
	for p.pos < p.end {
		r, size := utf8.DecodeRuneInString(p.text[p.pos:p.end])
		if !isBlank(r) {
			return r, size
		}
		p.pos += size
	}
	return 0, 0
}

// product = power { ("*" | "/") power }
func (p *unitParser) product() (term, *Error) {
	from := p.pos
	t, err := p.power()
	for err == nil {
		r, size := p.peek()
		join := term.mul
		switch r {
		case '*', '·', '⋅', '×':
		case '/':
			join = term.div
		default:
			return t, nil
		}
		p.pos += size
		var right term
		if right, err = p.power(); err != nil {
			break
		}
		var failed error
		if t, failed = join(t, right); failed != nil {
			err = p.errorFrom(from, failed.Error(), "")
		}
	}
	return t, err
}

// power = atom [ ("^" | "**") exponent | superscripts ]
func (p *unitParser) power() (term, *Error) {
	from := p.pos
	t, err := p.atom()
	if err != nil {
		return t, err
	}
	exp, found, err := p.exponent()
	if err != nil || !found {
		return t, err
	}
	t, failed := t.pow(exp)
	if failed != nil {
		return t, p.errorFrom(from, failed.Error(), "")
	}
	return t, nil
}

// atom = symbol | "1" | "(" product ")"
func (p *unitParser) atom() (term, *Error) {
	r, size := p.peek()
	switch {
	case r == '(':
		return p.brackets()
	case isSymbolStart(r):
		return p.symbol()
	case r == '1' && !startsWithDigit(p.text[p.pos+size:p.end]):
		p.pos += size
		return term{num: 1, den: 1}, nil
	}
	return term{}, p.unexpected()
}

func (p *unitParser) brackets() (term, *Error) {
	open := p.pos
	if p.depth++; p.depth > maxUnitDepth {
		return term{}, errorAt(p.text, open, open+1, "brackets nested too deep", "")
	}
	p.pos++
	t, err := p.product()
	if err != nil {
		return t, err
	}
	if r, _ := p.peek(); r != ')' {
		if p.pos == p.end {
			return t, errorAt(p.text, open, open+1, "a bracket is not closed", "add `)`")
		}
		return t, p.unexpected()
	}
	p.pos++
	p.depth--
	return t, nil
}

// symbol reads one unit symbol and finds its meaning.
func (p *unitParser) symbol() (term, *Error) {
	from := p.pos
	for p.pos < p.end {
		r, size := utf8.DecodeRuneInString(p.text[p.pos:p.end])
		if !isSymbolPart(r) {
			break
		}
		p.pos += size
	}
	name := p.text[from:p.pos]
	s, ok := index()[name]
	switch {
	case !ok:
		return term{}, p.unknown(from, name)
	case s.kind == Point:
		difference := "K"
		if s.num != s.den {
			difference = "degR"
		}
		hint := "a difference is written " + quote(strings.Replace(p.text[p.start:p.end], name, difference, 1))
		return term{}, errorAt(p.text, from, p.pos, "the temperature scale "+quote(name)+" cannot be part of a unit", hint)
	case s.alone:
		return term{}, errorAt(p.text, from, p.pos, quote(name)+" cannot be part of a unit", "")
	}
	return s.term, nil
}

// exponent reads what may follow an atom: ^2, ^-1, ^0.5, ^(1/2), **2 or
// superscripts.
func (p *unitParser) exponent() (value float64, found bool, err *Error) {
	p.peek()
	rest := p.text[p.pos:p.end]
	switch {
	case strings.HasPrefix(rest, "^"):
		p.pos++
	case strings.HasPrefix(rest, "**"):
		p.pos += 2
	default:
		return p.superscripts()
	}
	p.peek()
	from := p.pos
	bracket := strings.HasPrefix(p.text[p.pos:p.end], "(")
	if bracket {
		p.pos++
	}
	value, ok := p.decimal()
	if bracket {
		if r, _ := p.peek(); r == '/' {
			p.pos++
			divisor, found := p.decimal()
			ok = ok && found && divisor != 0
			value /= divisor
		}
		r, _ := p.peek()
		ok = ok && r == ')'
		p.pos++
	}
	if !ok {
		to := min(max(p.pos, from+1), p.end)
		for to > from && !utf8.RuneStart(p.text[to-1]) {
			to++
		}
		return 0, false, p.errorFrom(from, "a power that is no number", "write `m^2`, `m^-1` or `m^(1/2)`")
	}
	return value, true, nil
}

// decimal reads a sign, digits and a decimal point.
func (p *unitParser) decimal() (float64, bool) {
	p.peek()
	rest := p.text[p.pos:p.end]
	n := 0
	if strings.HasPrefix(rest, "-") || strings.HasPrefix(rest, "+") {
		n++
	}
	for n < len(rest) && (rest[n] >= '0' && rest[n] <= '9' || rest[n] == '.') {
		n++
	}
	v, err := strconv.ParseFloat(rest[:n], 64)
	p.pos += n
	return v, err == nil
}

var superscriptDigits = map[rune]byte{
	'⁰': '0', '¹': '1', '²': '2', '³': '3', '⁴': '4',
	'⁵': '5', '⁶': '6', '⁷': '7', '⁸': '8', '⁹': '9',
	'⁻': '-', '⁺': '+',
}

func (p *unitParser) superscripts() (value float64, found bool, err *Error) {
	from := p.pos
	var digits []byte
	for p.pos < p.end {
		r, size := utf8.DecodeRuneInString(p.text[p.pos:p.end])
		c, ok := superscriptDigits[r]
		if !ok {
			break
		}
		digits = append(digits, c)
		p.pos += size
	}
	if len(digits) == 0 {
		return 0, false, nil
	}
	n, failed := strconv.Atoi(string(digits))
	if failed != nil {
		return 0, false, p.errorFrom(from, "a power that is no number", "write `m²` or `m⁻¹`")
	}
	return float64(n), true, nil
}

func isSymbolStart(r rune) bool {
	return unicode.IsLetter(r) || r == '%' || r == '°'
}

func isSymbolPart(r rune) bool {
	return isSymbolStart(r) || r == '_' || r >= '0' && r <= '9'
}

func startsWithDigit(s string) bool {
	return s != "" && (s[0] >= '0' && s[0] <= '9' || s[0] == '.' || s[0] == ',')
}

func (p *unitParser) errorFrom(from int, message, hint string) *Error {
	return errorAt(p.text, from, max(p.pos, from), message, hint)
}

// unknown explains a symbol that is not in the table.
func (p *unitParser) unknown(from int, name string) *Error {
	if choices, ok := Ambiguous(name); ok {
		return p.errorFrom(from, "the unit "+quote(name)+" is ambiguous", "write "+orList(choices))
	}
	message := "unknown unit " + quote(name)
	if hint, ok := Advice(name); ok {
		return p.errorFrom(from, message, hint)
	}
	bare := strings.TrimRight(name, "23")
	if _, ok := index()[bare]; ok && len(bare) == len(name)-1 {
		return p.errorFrom(from, message, "write "+quote(bare+"^"+name[len(bare):])+"; only lengths take a bare 2 or 3")
	}
	if near, ok := nearestSymbol(name); ok {
		return p.errorFrom(from, message, "did you mean "+quote(near)+"?")
	}
	return p.errorFrom(from, message, "")
}

// unexpected explains a character that cannot stand at the current position.
func (p *unitParser) unexpected() *Error {
	r, size := p.peek()
	from, to := p.pos, p.pos+size
	switch {
	case r == 0:
		return errorAt(p.text, p.start, p.end, "the unit "+quote(p.text[p.start:p.end])+" ends too early", "")
	case r == '-' || r == '.':
		return errorAt(p.text, from, to, fmt.Sprintf("unexpected %s in a unit", quote(string(r))), "join units with `*` or `/`")
	case r >= '0' && r <= '9':
		for startsWithDigit(p.text[to:p.end]) {
			to++
		}
		return errorAt(p.text, from, to, "a number in a unit", "")
	case isSymbolStart(r) || r == '(':
		return errorAt(p.text, from, to, "two units without a sign between them", "join units with `*` or `/`")
	}
	return errorAt(p.text, from, to, fmt.Sprintf("unexpected %s in a unit", quote(string(r))), "")
}
