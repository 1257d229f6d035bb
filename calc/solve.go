package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"rambook/calc/function"
	"rambook/calc/root"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// Solved is the answer to the question which values of a given make two sides
// equal. Numbers are in Unit, which is the given's.
type Solved struct {
	Quantity  *Quantity
	Unit      units.Unit
	Until     string     // as it was asked
	Now       float64    // the given's value in the notebook; NaN if it is open
	From, To  float64    // where a solution was looked for
	Solutions []Solution // in rising order
	Jumps     []float64  // where the sides jump past each other without being equal

	// Without a solution: where the sides come closest, and what they are
	// there; NaN if they cannot be computed anywhere, for the reason in Needs
	// or Failure.
	Closest     float64
	Left, Right Side
	Needs       []Need
	Failure     *sheets.Problem
}

// Side is one side of an equation.
type Side struct {
	Text  string
	Unit  units.Unit
	Value float64 // in Unit, where the sides come closest
}

// Solution is a value of the given at which both sides are equal.
type Solution struct {
	Value  float64
	Spread float64 // from the spreads of all other givens; NaN if there is none
	To     float64 // the end of an interval in which every value is a solution, else Value
	Touch  bool    // the sides touch here and do not cross: the value is good to 1e-7
	At     Case    // the formulas with limits that depend on the given, and the given itself

	// Of an interval it takes more to decide: what is there at its other end, and
	// the worst of the whole, as far as looking at some values between shows it.
	End       Case
	Worst     Verdict
	FailsFrom float64 // the first of those values at which something fails; NaN if there is none
}

// Solve finds the values of the given name that make both sides of until
// equal, as in `force = 900 kN`. between is where to look, as in `5 to 30 MPa`;
// or `setting = 5 to 30 MPa`; if it is blank that is the given's low to high, or
// where it has none a decade below or above its value.
//
// A side that is a number without a unit is in the unit of the quantity that
// the other side names.
func (m *Model) Solve(name, until, between string) (*Solved, []sheets.Problem) {
	q, problems := m.given(inArgument("NAME", name), name)
	if q == nil {
		return nil, problems
	}
	if q.IsText() {
		return nil, refusal(q.Name+" is a text", "compare the texts with `sweep --over \""+q.Name+" = first, second\"`")
	}
	e, problems := m.readEquation(until)
	base := m.tape.Once(nil)
	lo, hi, faults := m.readBetween(q, between, base)
	if problems = append(problems, faults...); len(problems) > 0 {
		return nil, problems
	}
	reached := e.tape.Reached([]tape.Register{q.value})
	if !reached[e.left.value] && !reached[e.right.value] {
		return nil, refusal("nothing in "+words.Quoted(until)+" depends on "+q.Name, e.dependsOn(m))
	}
	out := &Solved{Quantity: q, Unit: q.Unit, Until: strings.TrimSpace(until), From: q.Unit.FromSI(lo),
		To:  q.Unit.FromSI(hi),
		Now: math.NaN(), Closest: math.NaN(), Left: e.left.Side, Right: e.right.Side}
	if v := base[q.value]; tape.Usable(v) {
		out.Now = q.Unit.FromSI(v)
	}
	found := root.Find(lo, hi, e.onBlocks(q))
	for _, x := range found.Jumps {
		out.Jumps = append(out.Jumps, q.Unit.FromSI(x))
	}
	doubt := e.doubt(q)
	for _, r := range found.Roots {
		out.Solutions = append(out.Solutions, Solution{Value: q.Unit.FromSI(r.From), To: q.Unit.FromSI(r.To),
			Touch: r.Touch && r.From == r.To, Spread: spreadIn(q.Unit, doubt(r.From))})
	}
	switch best := found.Best; {
	case len(out.Solutions) > 0:
		m.judgeSolutions(out)
	case best.Usable():
		out.Closest = q.Unit.FromSI(best.X)
		out.Left.Value, out.Right.Value = out.Left.Unit.FromSI(best.Left), out.Right.Unit.FromSI(best.Right)
	default:
		out.Needs, out.Failure = e.explain(map[tape.Register]float64{q.value: lo + (hi-lo)/2})
	}
	return out, nil
}

// equation is two sides, lowered behind the model.
type equation struct {
	model       *Model // the model and what the sides add to it
	tape        *tape.Tape
	left, right half
}

// half is one side of an equation while it is read.
type half struct {
	Side
	place
	named *Quantity // the side is this quantity and nothing else
	bare  bool      // the side is a number without a unit
	value tape.Register
	typ   function.Type
}

// readEquation reads `LEFT = RIGHT` and adds both sides to a copy of the tape.
func (m *Model) readEquation(until string) (*equation, []sheets.Problem) {
	c := m.compiler()
	e := c.equation(m.tape.Extend(), until)
	return e, c.problems
}

// equation adds both sides to a tape of the compiler's model.
func (c *compiler) equation(t *tape.Tape, until string) *equation {
	p, m := inArgument("--until", until), c.model
	at, fault := splitSides(until)
	if fault != nil {
		c.report(p.placed(fault))
		return nil
	}
	e := &equation{model: m, tape: t}
	l := &lowering{compiler: c, tape: t}
	before := len(c.problems)
	texts := [2]piece{part(until, 0, at), part(until, at+1, len(until))}
	e.left = m.newHalf(p, texts[0])
	e.right = m.newHalf(p, texts[1])
	l.half(&e.left, &e.right)
	l.half(&e.right, &e.left)
	if len(c.problems) == before {
		l.same(p, &e.left, &e.right)
	}
	e.shareUnit()
	return e
}

// shareUnit gives an expression the unit of the other side, or a coherent one.
func (e *equation) shareUnit() {
	l, r := &e.left, &e.right
	switch {
	case l.Unit.Symbol == "" && r.Unit.Symbol == "" && l.typ.Dim != units.Plain:
		l.Unit = units.Unit{Symbol: l.typ.Dim.String(), Dim: l.typ.Dim}
		r.Unit = l.Unit
	case l.Unit.Symbol == "":
		l.Unit = r.Unit
	case r.Unit.Symbol == "":
		r.Unit = l.Unit
	}
}

// splitSides finds the byte of the one `=` that stands between two sides.
func splitSides(until string) (int, *sheets.Problem) {
	signs, _ := withoutTexts(until)
	whole := span{0, len(signs)}
	at, n := -1, 0
	for i := 0; i < len(signs); i++ {
		switch {
		case signs[i] != '=':
		case i+1 < len(signs) && signs[i+1] == '=':
			i++
		case i > 0 && strings.ContainsRune("<>!", signs[i-1]):
		default:
			at, n = i, n+1
		}
	}
	switch {
	case n == 0:
		return 0, inText(whole, "two sides with `=` between them are needed", `write --until "force = 900 kN"`)
	case n > 1:
		return 0, inText(whole, "there are several `=`",
			"write two sides with one `=` between them, and == to compare inside a side")
	}
	return len(string([]rune(until)[:at])), nil
}

// newHalf places a side in the argument.
func (m *Model) newHalf(p place, text piece) half {
	p.skip = text.at
	return half{Side: Side{Text: text.text, Value: math.NaN()}, place: p, named: m.byName[text.text]}
}

// half reads a side: a number with a unit or without, or an expression.
func (l *lowering) half(s, other *half) {
	v, err := units.ParseValue(s.Text)
	switch {
	case err == nil:
		l.number(s, other, v)
	case s.Text == "":
		l.report(s.problem(span{0, 0}, "a side of the equation is missing", `write --until "force = 900 kN"`))
	case strings.ContainsAny(s.Text[:1], "0123456789.+-") && strings.Contains(s.Text, " ") &&
		!strings.ContainsAny(s.Text, "*/^()"):
		l.report(s.placed(err))
	default:
		l.expression(s)
	}
}

func (l *lowering) number(s, other *half, v units.Value) {
	if s.Unit = v.Unit; !v.HasUnit {
		s.bare = true
		if other.named != nil && !other.named.IsText() {
			s.Unit = other.named.Unit
		}
		if s.Unit.Kind == units.Date {
			l.report(s.problem(span{0, utf8.RuneCountInString(s.Text)}, "a date is needed here, found a number",
				"write it as 2026-05-04"))
			return
		}
	}
	l.mark(&formula{place: s.place, text: s.Text}, nil)
	s.typ = typeOf(s.Unit)
	s.value = l.tape.Constant(s.Unit.ToSI(v.Number))
}

func (l *lowering) expression(s *half) {
	f := &formula{place: s.place, text: s.Text, out: tape.None}
	root, fault := parseFormula(s.Text)
	if fault != nil {
		l.report(s.placed(fault))
		return
	}
	f.root = root
	before := len(l.problems)
	l.resolve(f, root)
	s.typ = l.inferFormula(f)
	if s.named != nil {
		s.Unit = s.named.Unit
	}
	if s.typ.Sort == function.Truth || s.typ.Sort == function.Text {
		l.report(s.problem(f.tree().span(), s.typ.String()+" is no number",
			"a side is a number or an expression that yields one"))
	}
	if len(l.problems) == before {
		s.value = l.formula(f)
	}
}

// same demands two sides that can be equal at all.
func (l *lowering) same(p place, a, b *half) {
	if a.typ == b.typ {
		return
	}
	for _, s := range [2][2]*half{{a, b}, {b, a}} {
		number, other := s[0], s[1]
		if number.bare && l.tape.Is(number.value, 0) && !other.typ.Point {
			return // nothing is nothing in any unit
		}
		if number.Unit.Dim == units.Temperature && number.Unit.Kind == units.Ordinary && other.typ.Point &&
			number.typ.Dim == other.typ.Dim {
			return // kelvin is as good a temperature as degC
		}
	}
	hint := units.MismatchHint(b.typ.Dim, a.typ.Dim)
	if a.bare || b.bare {
		hint = "write the unit after the number, as in 900 kN"
	}
	l.report(p.fault(fmt.Sprintf("the left side is %s, the right side %s", function.WithArticle(a.typ),
		function.WithArticle(b.typ)), hint))
}

// dependsOn hints at givens that a solution can be found for.
func (e *equation) dependsOn(m *Model) string {
	needed := e.tape.Needed([]tape.Register{e.left.value, e.right.value})
	var names []string
	for _, g := range m.Quantities {
		if !g.IsFormula() && !g.IsText() && needed[g.value] {
			names = append(names, g.Name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return "it depends on " + words.Listed(names, mostNames)
}

// readBetween finds where to look, in SI.
func (m *Model) readBetween(q *Quantity, between string, base []float64) (lo, hi float64, problems []sheets.Problem) {
	if strings.TrimSpace(between) != "" {
		p, text := inArgument("--between", between), between
		if name, after, found := strings.Cut(between, "="); found && strings.TrimSpace(name) == q.Name {
			p.skip, text = utf8.RuneCountInString(name)+1, after
		}
		r := &rangeReader{place: p, quantity: q}
		lo, hi, _ = r.readInterval(text)
		return lo, hi, r.problems
	}
	limit := func(r tape.Register) float64 {
		if r == tape.None || !tape.Usable(base[r]) {
			return math.NaN()
		}
		return base[r]
	}
	lo, hi = limit(q.lowAt), limit(q.highAt)
	if v := q.Unit.FromSI(base[q.value]); tape.Usable(v) && v != 0 && q.Unit.Kind != units.Date {
		below, above := v/10, v*10
		if v < 0 {
			below, above = above, below
		}
		if !Has(lo) {
			lo = q.Unit.ToSI(below)
		}
		if !Has(hi) {
			hi = q.Unit.ToSI(above)
		}
	}
	if !(lo < hi) {
		return 0, 0, refusal(q.Name+" has no range to look in",
			"add --between, as in --between \""+example(q.Unit)+"\"")
	}
	return lo, hi, nil
}

// example is a range in a unit.
func example(u units.Unit) string {
	if u.Kind == units.Date {
		return "2026-01-01 to 2026-12-31"
	}
	return strings.TrimSpace("5 to 30 " + u.Symbol)
}

// onBlocks computes both sides for values of the given.
func (e *equation) onBlocks(q *Quantity) func(x, left, right []float64) {
	p := tape.NewProgram(e.tape, []tape.Register{q.value}, []tape.Register{e.left.value, e.right.value},
		e.tape.Once(nil))
	w := p.NewWorker(tape.BlockSize)
	return func(x, left, right []float64) {
		for first := 0; first < len(x); first += tape.BlockSize {
			n := min(tape.BlockSize, len(x)-first)
			b := w.Run(first, n, func(b *tape.Block) { copy(b.In[0], x[first:]) })
			copy(left[first:], b.Out[0])
			copy(right[first:], b.Out[1])
		}
	}
}

// doubt returns a function that gives the spread of a solution, SI. By the
// implicit function theorem a solution moves by -(∂d/∂y)/(∂d/∂x) when another
// given y moves, d being the difference of the sides; the given's own spread
// has no part in it. It is NaN where no other given has a spread.
func (e *equation) doubt(q *Quantity) func(x float64) float64 {
	t := e.tape.Extend()
	difference := t.Binary(tape.OpSub, e.left.value, e.right.value)
	seeds := e.model.seeds()
	seeds[q.value] = t.Constant(1)
	s := tape.Differentiate(t, seeds, []tape.Register{difference})
	slope := tape.None
	others := slices.Clone(s.Terms[difference])
	for i, term := range others {
		if term.Input == q.value {
			slope = term.Part
			others = slices.Delete(others, i, i+1)
			break
		}
	}
	if slope == tape.None || len(others) == 0 {
		return func(float64) float64 { return math.NaN() }
	}
	spread := s.Joint(others)
	return func(x float64) float64 {
		values := t.Once(map[tape.Register]float64{q.value: x})
		if v := math.Abs(tape.Divide(values[spread], values[slope])); tape.Usable(v) {
			return v
		}
		return math.NaN()
	}
}

// judgeSolutions finds out how the limits of the notebook judge each
// solution.
func (m *Model) judgeSolutions(out *Solved) {
	const looks = 65 // at an interval
	over := &Range{Quantity: out.Quantity, Unit: out.Unit}
	for _, s := range out.Solutions {
		over.list = append(over.list, s.Value)
		for i := 1; i < looks && s.To != s.Value; i++ {
			over.list = append(over.list, s.Value+(s.To-s.Value)*float64(i)/(looks-1))
		}
	}
	over.N = len(over.list)
	cases := make([]int, over.N)
	for i := range cases {
		cases[i] = i
	}
	sweep := &Sweep{Over: []*Range{over}, model: m, base: m.tape.Once(nil)}
	if sweep.choose() != nil || sweep.NoLimit {
		sweep.Show = nil
	}
	result, _ := sweep.Judge(cases)
	next := 0
	for i := range out.Solutions {
		s := &out.Solutions[i]
		n := 1
		if s.To != s.Value {
			n = looks
		}
		along := result.Cases[next : next+n]
		s.At, s.End, s.FailsFrom = along[0], along[n-1], math.NaN()
		for k := range along {
			s.Worst = max(s.Worst, along[k].Verdict)
			if along[k].Verdict == Fail && !Has(s.FailsFrom) {
				s.FailsFrom = over.list[next+k]
			}
		}
		next += n
	}
}

// explain is why the sides cannot be computed with the inputs set: what they
// need, or what fails.
func (e *equation) explain(set map[tape.Register]float64) (needs []Need, failure *sheets.Problem) {
	tr := e.model.newTrace(e.tape, e.tape.Once(set))
	for _, r := range []tape.Register{e.left.value, e.right.value} {
		why := tr.explain(r)
		needs = union(needs, why.needs)
		if why.failed != tape.None && failure == nil {
			p := tr.failure(why.failed)
			failure = &p
		}
	}
	return needs, failure
}
