package calc

import (
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// MaxCases is the largest number of cases in one sweep.
const MaxCases = 1_000_000_000

// Range is a given with the values that it takes in a sweep, one after the
// other. Value i is (first + i·step)/den or stands in a list; nothing grows
// with the number of values of a range that has ends.
type Range struct {
	Quantity *Quantity
	Unit     units.Unit // of the values
	N        int        // number of values

	first, step, den float64
	last             float64 // the value of number N-1, to the last bit
	list             []float64
	texts            []string // the values of a text quantity
	indexes          []float64
}

// Value returns value i in Unit. It is NaN for a text.
func (r *Range) Value(i int) float64 {
	switch {
	case r.texts != nil:
		return math.NaN()
	case r.list != nil:
		return r.list[i]
	case i == r.N-1:
		return r.last
	}
	return (r.first + float64(i)*r.step) / r.den
}

// Text returns value i of a text quantity.
func (r *Range) Text(i int) string { return r.texts[i] }

// IsText reports whether the values are texts.
func (r *Range) IsText() bool { return r.texts != nil }

// si returns value i as the tape has it.
func (r *Range) si(i int) float64 {
	if r.texts != nil {
		return r.indexes[i]
	}
	return r.Unit.ToSI(r.Value(i))
}

// rangeForm is `A to B`, `A to B by STEP` or `A to B in N steps UNIT`. Each of
// A, B and STEP may have a unit of its own.
var rangeForm = words.Pattern(`^(.*?)\bto\b(.*?)(?:\bby\b(.*)|\bin\s+(\S+)\s+steps?\b(.*))?$`)

// The groups of rangeForm.
const (
	fromGroup = iota + 1
	toGroup
	byGroup
	stepsGroup
	unitGroup
)

// rangeReader reads what a quantity shall be, as an argument has it. It reports
// every problem with its place in the argument.
type rangeReader struct {
	place
	quantity *Quantity
	problems []sheets.Problem
}

// piece is a part of the argument with its place, in characters.
type piece struct {
	text string
	at   int
}

// numberPiece is a piece that was read: a number, with a unit or without.
type numberPiece struct {
	piece
	units.Value
}

// refuse reports what is wrong with a piece.
func (r *rangeReader) refuse(p piece, message, hint string) {
	r.problems = append(r.problems, r.problem(p.span(), message, hint))
}

// span is where a piece stands; where nothing does, it is the place before which something is missing.
func (p piece) span() span { return span{p.at, p.at + max(1, utf8.RuneCountInString(p.text))} }

// part cuts bytes from to of text out and trims its blanks.
func part(text string, from, to int) piece {
	cut := text[from:to]
	trimmed := strings.TrimLeftFunc(cut, unicode.IsSpace)
	from += len(cut) - len(trimmed)
	return piece{strings.TrimRightFunc(trimmed, unicode.IsSpace), utf8.RuneCountInString(text[:from])}
}

// readRange reads `A to B by STEP UNIT`, `A to B in N steps UNIT` or a list.
func (r *rangeReader) readRange(text string) *Range {
	if r.quantity.IsText() {
		return r.readTexts(text)
	}
	m := rangeForm().FindStringSubmatchIndex(text)
	if m == nil {
		return r.readList(text)
	}
	group := func(g int) piece {
		if m[2*g] < 0 {
			return piece{}
		}
		return part(text, m[2*g], m[2*g+1])
	}
	whole := part(text, 0, len(text))
	a, okA := r.number(group(fromGroup), "a first value is missing before `to`")
	b, okB := r.number(group(toGroup), "a last value is missing after `to`")
	switch {
	case m[2*byGroup] >= 0:
		step, ok := r.number(group(byGroup), "a step is missing after `by`")
		if !okA || !okB || !ok {
			return nil
		}
		return r.bySteps(a, b, step)
	case m[2*stepsGroup] >= 0:
		n, ok := r.count(group(stepsGroup))
		trailing, okUnit := r.unit(group(unitGroup))
		if !okA || !okB || !ok || !okUnit {
			return nil
		}
		return r.inSteps(a, b, n, trailing)
	case okA && okB:
		r.refuse(whole, "a range needs a step",
			"write A to B by STEP or A to B in N steps, and then the unit, as in 5 to 25 by 2.5 MPa")
	}
	return nil
}

// number reads a piece, which may have a unit of its own.
func (r *rangeReader) number(p piece, ifMissing string) (numberPiece, bool) {
	if p.text == "" {
		r.refuse(r.all(), ifMissing, "write 5 to 25 by 2.5 MPa, 5 to 25 in 8 steps MPa, or 5, 10, 24 MPa")
		return numberPiece{}, false
	}
	v, err := units.ParseValue(p.text)
	if err != nil {
		r.problems = append(r.problems, r.problem(span{p.at + err.From, p.at + err.To}, err.Message, err.Hint))
		return numberPiece{}, false
	}
	return numberPiece{p, v}, true
}

// all is the whole text after the name.
func (r *rangeReader) all() piece {
	text := string([]rune(r.cell.Text)[r.skip:])
	return piece{text, 0}
}

// count reads the number of steps.
func (r *rangeReader) count(p piece) (int, bool) {
	n, err := strconv.Atoi(p.text)
	if err != nil || n < 1 || n >= MaxCases {
		r.refuse(p, words.Quoted(p.text)+" is no number of steps",
			fmt.Sprintf("write a whole number from 1 to %d", MaxCases-1))
		return 0, false
	}
	return n, true
}

// unit reads a unit that stands alone; nil where there is none.
func (r *rangeReader) unit(p piece) (*units.Unit, bool) {
	if p.text == "" {
		return nil, true
	}
	u, err := units.Parse(p.text)
	if err != nil {
		r.problems = append(r.problems, r.problem(span{p.at + err.From, p.at + err.To}, err.Message, err.Hint))
		return nil, false
	}
	return &u, true
}

// common finds the unit of values of which some may be written without one:
// that of the last piece, else the quantity's own.
func (r *rangeReader) common(values []numberPiece, trailing *units.Unit, trailingAt piece) (units.Unit, bool) {
	u, bare, written := r.quantity.Unit, -1, map[string]bool{}
	for i, v := range values {
		if v.HasUnit {
			u = v.Unit
			written[u.Symbol] = true
		} else {
			bare = i
		}
	}
	if trailing != nil && bare >= 0 {
		u = *trailing
		written[u.Symbol] = true
	}
	if bare >= 0 && len(written) > 1 {
		r.refuse(values[bare].piece, "this value has no unit, and the others have several",
			"write each value with its unit, or one unit at the end")
		return u, false
	}
	if bare >= 0 && r.quantity.Unit.Kind == units.Point && u.Kind == units.Ordinary && u.Dim == units.Temperature {
		symbol := r.quantity.Unit.Symbol
		r.refuse(trailingAt, fmt.Sprintf("%s would make %s a number of kelvin from absolute zero",
			words.Quoted(u.Symbol), words.Quoted(values[bare].text)),
			"write the unit after each value, as in `20 "+symbol+" to 60 "+symbol+" by 5 K`, or "+symbol+" at the end")
		return u, false
	}
	for _, v := range values {
		own := u
		if v.HasUnit {
			own = v.Unit
		} else if u.Kind == units.Date {
			own = units.Unit{} // a bare number is no date
		}
		if !r.suits(v.piece, own) {
			return u, false
		}
	}
	if r.quantity.Unit.Kind == units.Point && u.Kind != units.Point {
		return r.quantity.Unit, true // kelvin is as good a temperature in a degC row
	}
	return u, true
}

// suits reports whether a value in unit u may stand in place of the quantity's.
func (r *rangeReader) suits(p piece, u units.Unit) bool {
	own, written := r.quantity.Unit, p.text
	if !strings.Contains(written, " ") && u.Kind != units.Date {
		written = strings.TrimSpace(written + " " + u.Symbol) // which stands at the end of the range
	}
	switch {
	case own.Kind == units.Date && u.Kind != units.Date:
		r.refuse(p, r.quantity.Name+" is a date, "+words.Quoted(p.text)+" is none",
			"write dates as in 2026-05-04, and a step as in 7 d")
	case u.Dim != own.Dim || u.Kind == units.Date && own.Kind != units.Date:
		r.refuse(p, fmt.Sprintf("%s is %s, but %s %s", written, function.WithArticle(typeOf(u)), r.quantity.Name,
			isIn(own)),
			units.MismatchHint(u.Dim, own.Dim))
	case u.Kind == units.Point && !r.quantity.typ.Point:
		r.refuse(p, fmt.Sprintf("%s is a temperature point, but %s is a difference", written, r.quantity.Name),
			"write the unit K")
	default:
		return true
	}
	return false
}

// in gives a value's number in unit u.
func (v numberPiece) in(u units.Unit) float64 {
	if !v.HasUnit || v.Unit.Symbol == u.Symbol {
		return v.Number
	}
	return u.FromSI(v.Unit.ToSI(v.Number))
}

// bySteps makes the range A to B by STEP.
func (r *rangeReader) bySteps(a, b, step numberPiece) *Range {
	var trailing *units.Unit
	if step.HasUnit && r.quantity.Unit.Kind != units.Date {
		trailing = &step.Unit
	}
	u, ok := r.common([]numberPiece{a, b}, trailing, step.piece)
	if !ok {
		return nil
	}
	stepUnit := u
	switch {
	case step.HasUnit:
		stepUnit = step.Unit
	case u.Kind == units.Date:
		r.refuse(step.piece, "the step between dates needs a unit of time", "write by "+step.text+" d")
		return nil
	}
	if stepUnit.Dim != u.Dim || stepUnit.Kind == units.Date {
		r.refuse(step.piece, fmt.Sprintf("a step of %s does not lead from one %s to another", step.text,
			r.quantity.Name), "write it in "+unitName(u))
		return nil
	}
	from, to, by := a.in(u), b.in(u), step.Number
	if stepUnit.Symbol != u.Symbol {
		by = u.DiffFromSI(stepUnit.DiffToSI(by))
	}
	if by == 0 || !tape.Usable(by) {
		r.refuse(step.piece, "a step of 0 leads nowhere", "write a step such as 2.5, or `in 10 steps`")
		return nil
	}
	if by < 0 && to > from {
		r.refuse(step.piece, "a negative step leads away from "+b.text, "leave the minus sign out, or swap the ends")
		return nil
	}
	if to < from {
		by = -math.Abs(by)
	}
	if !tape.Usable(to - from) {
		r.refuse(b.piece, "number is out of range", "")
		return nil
	}
	const near = 1e-9 // of a step: then the end counts
	n := math.Floor((to-from)/by + near)
	if !(n < MaxCases) {
		many := fmt.Sprintf("%.3g", n)
		if math.IsInf(n, 0) {
			many = "countless"
		}
		r.refuse(step.piece, fmt.Sprintf("the range has %s values, more than %d", many, MaxCases),
			"write a larger step")
		return nil
	}
	g := &Range{Quantity: r.quantity, Unit: u, N: int(n) + 1}
	g.straight(from, by, 1)
	if g.last = (g.first + n*g.step) / g.den; math.Abs(g.last-to) <= near*math.Abs(by) {
		g.last = to
	}
	return r.sound(g, a, b)
}

// inSteps makes the range A to B in n steps.
func (r *rangeReader) inSteps(a, b numberPiece, n int, trailing *units.Unit) *Range {
	u, ok := r.common([]numberPiece{a, b}, trailing, r.all())
	if !ok {
		return nil
	}
	from, to := a.in(u), b.in(u)
	g := &Range{Quantity: r.quantity, Unit: u, N: n + 1, last: to}
	g.straight(from, to-from, float64(n))
	return r.sound(g, a, b)
}

// straight sets value i to from + i·by/parts. As far as the numbers are short
// decimals they are scaled to whole ones first, so that 0.1 by 0.1 gives 0.3
// and not 0.30000000000000004.
func (g *Range) straight(from, by, parts float64) {
	const exact = 1 << 53 // whole numbers are exact up to here
	scale := math.Pow10(max(decimals(from), decimals(by)))
	first, step := math.Round(from*scale), math.Round(by*scale)
	if math.Abs(first)*parts+math.Abs(step)*float64(g.N) < exact && scale*parts < exact &&
		first/scale == from && step/scale == by {
		g.first, g.step, g.den = first*parts, step, scale*parts
		return
	}
	g.first, g.step, g.den = from*parts, by, parts
}

// decimals counts the decimals of the shortest text of x.
func decimals(x float64) int {
	text := strconv.FormatFloat(x, 'f', -1, 64)
	if dot := strings.IndexByte(text, '.'); dot >= 0 {
		return min(len(text)-dot-1, 300)
	}
	return 0
}

// sound refuses a range whose values are out of the numbers.
func (r *rangeReader) sound(g *Range, a, b numberPiece) *Range {
	for _, end := range []struct {
		numberPiece
		i int
	}{{a, 0}, {b, g.N - 1}} {
		if !tape.Usable(g.si(end.i)) || !tape.Usable(g.first+float64(g.N)*g.step) {
			r.refuse(end.piece, "number is out of range", "")
			return nil
		}
	}
	return g
}

// foreignRange is a range that is written in another way than with `to`.
var foreignRange = words.Pattern(`^\s*([-+]?[0-9.]*[0-9])\s*(?:\.\.+|…|–|-|:)\s*([0-9.][^,]*?)\s*$`)

// readList reads values separated by commas.
func (r *rangeReader) readList(text string) *Range {
	var values []numberPiece
	at := 0
	for _, item := range strings.Split(text, ",") {
		p := part(text, at, at+len(item))
		at += len(item) + 1
		v, ok := r.number(p, "a value is missing")
		if ok {
			values = append(values, v)
		}
	}
	if m := foreignRange().FindStringSubmatch(text); m != nil && len(r.problems) > 0 {
		r.problems[0].Hint = "a range is written " + words.Quoted(m[1]+" to "+m[2])
		if !strings.Contains(m[2], "by ") && !strings.Contains(m[2], "in ") {
			r.problems[0].Hint += ", with a step behind it, as in `by 2.5`"
		}
	}
	if len(r.problems) > 0 {
		return nil
	}
	last := values[len(values)-1]
	var trailing *units.Unit
	if last.HasUnit {
		trailing = &last.Unit
	}
	u, ok := r.common(values, trailing, last.piece)
	if !ok {
		return nil
	}
	g := &Range{Quantity: r.quantity, Unit: u, N: len(values)}
	for _, v := range values {
		g.list = append(g.list, v.in(u))
	}
	for i, v := range values {
		if !tape.Usable(g.si(i)) {
			r.refuse(v.piece, "number is out of range", "")
			return nil
		}
	}
	return g
}

// readTexts reads texts separated by commas, in double quotes where a text
// holds a comma.
func (r *rangeReader) readTexts(text string) *Range {
	reader := csv.NewReader(strings.NewReader(text))
	reader.TrimLeadingSpace = true
	fields, err := reader.Read()
	if _, more := reader.Read(); err != nil || more == nil {
		r.refuse(part(text, 0, len(text)), "cannot read the list of texts",
			`write first, second; a text with a comma in it goes into double quotes`)
		return nil
	}
	g := &Range{Quantity: r.quantity, Unit: r.quantity.Unit, N: len(fields)}
	for _, field := range fields {
		if field = strings.TrimSpace(field); field == "" {
			r.refuse(part(text, 0, len(text)), "a text of the list is empty", "leave out the comma")
			return nil
		}
		g.texts = append(g.texts, field)
	}
	return g
}

// readInterval reads `A to B UNIT`, the ends of a search, in SI.
func (r *rangeReader) readInterval(text string) (from, to float64, ok bool) {
	m := rangeForm().FindStringSubmatchIndex(text)
	if m == nil || m[2*byGroup] >= 0 || m[2*stepsGroup] >= 0 {
		r.refuse(part(text, 0, len(text)), "a search goes from one value to another", "write 5 to 30 MPa")
		return 0, 0, false
	}
	a, okA := r.number(part(text, m[2*fromGroup], m[2*fromGroup+1]), "a first value is missing before `to`")
	b, okB := r.number(part(text, m[2*toGroup], m[2*toGroup+1]), "a last value is missing after `to`")
	if !okA || !okB {
		return 0, 0, false
	}
	var trailing *units.Unit
	if b.HasUnit {
		trailing = &b.Unit
	}
	u, ok := r.common([]numberPiece{a, b}, trailing, b.piece)
	if !ok {
		return 0, 0, false
	}
	from, to = u.ToSI(a.in(u)), u.ToSI(b.in(u))
	if from > to {
		from, to = to, from
	}
	if from == to || !tape.Usable(to-from) {
		r.refuse(part(text, 0, len(text)), "there is nothing between these ends",
			"write two different values, as in 5 to 30 MPa")
		return 0, 0, false
	}
	return from, to, true
}
