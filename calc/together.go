package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"rambook/calc/implicit"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/sorting"
	"rambook/units/words"
)

// Together is the answer to the question which values of several givens make as
// many pairs of sides equal, all at once.
type Together struct {
	Givens    []Sought
	Until     []string // as they were asked
	Solutions []JointSolution

	// Without a solution: where the sides come closest, by given and in its unit,
	// and what they are there. Closest is nil if they cannot be computed anywhere,
	// for the reason in Needs or Failure.
	Closest []float64
	Sides   [][2]Side // by condition
	Needs   []Need
	Failure *sheets.Problem
}

// Sought is a given that is looked for. Numbers are in Unit, which is the given's.
type Sought struct {
	Quantity *Quantity
	Unit     units.Unit
	Now      float64 // in the notebook; NaN if it is open
	From, To float64 // where it was looked for
}

// JointSolution is one value for each given, at which all pairs of sides are equal.
type JointSolution struct {
	Values  []float64 // in the units of the givens
	Spreads []float64 // from the spreads of all other givens; NaN where there is none
	At      Case      // the formulas with limits that depend on the givens, and the givens themselves
}

// mostSought is how many givens are looked for at once: starts over the range of
// more of them leave most of it unseen.
const mostSought = 4

// together is a search for several givens.
type together struct {
	*Together
	model     *Model
	tape      *tape.Tape
	equations []*equation
	base      []float64
	lo, hi    []float64 // SI
}

// SolveTogether finds the values of the givens that make both sides of every
// until equal, as many conditions as givens. between is where to look, as in
// `setting = 5 to 30 MPa`; a given that it does not name is looked for where
// [Model.Solve] looks. All solutions that are found from starts over the whole
// range are given.
func (m *Model) SolveTogether(names, untils, between []string) (*Together, []sheets.Problem) {
	c := m.compiler()
	s := &together{Together: &Together{Until: untils}, model: c.model, tape: m.tape.Extend(), base: m.tape.Once(nil)}
	problems := s.readGivens(names)
	problems = append(problems, s.readRanges(between)...)
	for _, until := range untils {
		s.equations = append(s.equations, c.equation(s.tape, until))
	}
	if problems = append(problems, c.problems...); len(problems) > 0 {
		return nil, problems
	}
	if len(names) != len(untils) {
		return nil, refusal(words.Counted(len(names), "given")+" for "+
			words.Counted(len(untils), "condition"),
			"every --until needs one given to be looked for, and every given one --until")
	}
	if n := len(names); n > mostSought {
		return nil, refusal(fmt.Sprintf("%d givens are looked for at once, and %d is the most", n, mostSought),
			"fix some with --set")
	}
	if problems := s.checkReach(); len(problems) > 0 {
		return nil, problems
	}
	system := s.system()
	if system.Dependent(nil) {
		return nil, refusal(fmt.Sprintf("%s move together, so they are one condition on %s and cannot fix %s",
			words.Listed(quotedAll(untils), len(untils)), s.names(),
			map[bool]string{true: "both", false: "all"}[len(names) == 2]),
			"solve for one of them, or ask for something that only one of them changes")
	}
	found := system.Solve(nil)
	if found.X != nil {
		s.settle(append([][]float64{found.X}, found.Others...))
		return s.Together, nil
	}
	for _, e := range s.equations {
		s.Sides = append(s.Sides, [2]Side{e.left.Side, e.right.Side})
	}
	if found.Best == nil {
		s.explain()
		return s.Together, nil
	}
	for k := range s.Givens {
		s.Closest = append(s.Closest, s.Givens[k].Unit.FromSI(found.Best[k]))
	}
	for i := range s.Sides {
		left, right := &s.Sides[i][0], &s.Sides[i][1]
		left.Value, right.Value = left.Unit.FromSI(found.Left[i]), right.Unit.FromSI(found.Right[i])
	}
	return s.Together, nil
}

func quotedAll(texts []string) []string {
	var list []string
	for _, text := range texts {
		list = append(list, words.Quoted(strings.TrimSpace(text)))
	}
	return list
}

// readGivens finds what is looked for.
func (s *together) readGivens(names []string) (problems []sheets.Problem) {
	for _, name := range names {
		q, faults := s.model.given(inArgument("GIVEN", name), name)
		problems = append(problems, faults...)
		switch {
		case q == nil:
		case q.IsText():
			problems = append(problems, sheets.Problem{Message: q.Name + " is a text",
				Hint: "compare the texts with `sweep --over \"" + q.Name + " = first, second\"`"})
		case slices.ContainsFunc(s.Givens, func(g Sought) bool { return g.Quantity == q }):
			problems = append(problems, sheets.Problem{Message: q.Name + " is named twice"})
		default:
			now := math.NaN()
			if v := s.base[q.value]; tape.Usable(v) {
				now = q.Unit.FromSI(v)
			}
			s.Givens = append(s.Givens, Sought{Quantity: q, Unit: q.Unit, Now: now})
		}
	}
	return problems
}

// readRanges finds where each given is looked for.
func (s *together) readRanges(between []string) (problems []sheets.Problem) {
	own := make([]string, len(s.Givens))
	for _, text := range between {
		name, _, found := strings.Cut(text, "=")
		at := slices.IndexFunc(s.Givens, func(g Sought) bool { return g.Quantity.Name == strings.TrimSpace(name) })
		p := inArgument("--between", text)
		switch {
		case !found:
			problems = append(problems, p.fault("a range needs the name of its given here",
				`write --between "setting = 5 to 30 MPa"`))
		case at < 0:
			problems = append(problems, p.fault(words.Quoted(strings.TrimSpace(name))+" is not looked for",
				"looked for is "+s.names()))
		case own[at] != "":
			problems = append(problems, p.fault(s.Givens[at].Quantity.Name+" has two ranges", ""))
		default:
			own[at] = text
		}
	}
	for k := range s.Givens {
		g := &s.Givens[k]
		lo, hi, faults := s.model.readBetween(g.Quantity, own[k], s.base)
		for i := range faults {
			faults[i].Hint = strings.Replace(faults[i].Hint, `--between "`, `--between "`+g.Quantity.Name+" = ", 1)
		}
		problems = append(problems, faults...)
		g.From, g.To = g.Unit.FromSI(lo), g.Unit.FromSI(hi)
		s.lo, s.hi = append(s.lo, lo), append(s.hi, hi)
	}
	return problems
}

func (s *together) names() string {
	var list []string
	for i := range s.Givens {
		list = append(list, s.Givens[i].Quantity.Name)
	}
	return words.Listed(list, len(list))
}

// checkReach demands that every given changes a side and every condition is changed.
func (s *together) checkReach() (problems []sheets.Problem) {
	var inputs []tape.Register
	for i := range s.Givens {
		q := s.Givens[i].Quantity
		inputs = append(inputs, q.value)
		reached := s.tape.Reached([]tape.Register{q.value})
		if !slices.ContainsFunc(s.equations, func(e *equation) bool {
			return reached[e.left.value] ||
				reached[e.right.value]
		}) {
			problems = append(problems, sheets.Problem{Message: "no condition depends on " + q.Name,
				Hint: s.equations[0].dependsOn(s.model)})
		}
	}
	reached := s.tape.Reached(inputs)
	for i, e := range s.equations {
		if !reached[e.left.value] && !reached[e.right.value] {
			problems = append(problems, sheets.Problem{Message: words.Quoted(strings.TrimSpace(s.Until[i])) +
				" depends on none of " + s.names(), Hint: e.dependsOn(s.model)})
		}
	}
	return problems
}

func (s *together) system() *implicit.System {
	var inputs []tape.Register
	for i := range s.Givens {
		inputs = append(inputs, s.Givens[i].Quantity.value)
	}
	var pairs [][2]tape.Register
	for _, e := range s.equations {
		pairs = append(pairs, [2]tape.Register{e.left.value, e.right.value})
	}
	return implicit.New(s.tape.Extend(), inputs, nil, pairs, s.lo, s.hi)
}

// settle writes the solutions down, in rising order of the first given.
func (s *together) settle(found [][]float64) {
	sorting.Stable(found, slices.Compare)
	doubt := s.doubt()
	for _, x := range found {
		one := JointSolution{Spreads: doubt(x)}
		for k, g := range s.Givens {
			one.Values = append(one.Values, g.Unit.FromSI(x[k]))
		}
		sweep := &Sweep{model: s.model, base: s.base}
		for k, g := range s.Givens {
			sweep.Over = append(sweep.Over, &Range{Quantity: g.Quantity, Unit: g.Unit, N: 1,
				list: []float64{one.Values[k]}})
		}
		if sweep.choose() != nil || sweep.NoLimit {
			sweep.Show = nil
		}
		result, _ := sweep.Judge([]int{0})
		one.At = result.Cases[0]
		s.Solutions = append(s.Solutions, one)
	}
}

// doubt returns a function that gives the spreads of a solution, in the units of
// the givens. By the implicit function theorem a solution moves by
// -(∂d/∂x)⁻¹·(∂d/∂y) when another given y moves, d being the differences of the
// sides: row k of that inverse makes one sum of the differences whose spread is
// that of given k. The givens' own spreads have no part in it.
func (s *together) doubt() func(x []float64) []float64 {
	t := s.tape.Extend()
	var gaps []tape.Register
	for _, e := range s.equations {
		gaps = append(gaps, t.Binary(tape.OpSub, e.left.value, e.right.value))
	}
	seeds, indexOf := map[tape.Register]tape.Register{}, map[tape.Register]int{}
	for k := range s.Givens {
		r := s.Givens[k].Quantity.value
		seeds[r], indexOf[r] = t.Constant(1), k
	}
	slopes := tape.Differentiate(t, seeds, gaps)
	others := s.model.seeds()
	for r := range indexOf {
		delete(others, r)
	}
	n := len(gaps)
	return func(x []float64) []float64 {
		set := map[tape.Register]float64{}
		spreads := make([]float64, n)
		for k := range s.Givens {
			set[s.Givens[k].Quantity.value], spreads[k] = x[k], math.NaN()
		}
		// Rows and columns are made alike in size, since pascals and metres are not.
		values, byGiven, size := t.Once(set), mat.NewDense(n, n, nil), make([]float64, n)
		for i, gap := range gaps {
			for _, term := range slopes.Terms[gap] {
				k := indexOf[term.Input]
				byGiven.Set(i, k, values[term.Part]*(s.hi[k]-s.lo[k]))
			}
			if size[i] = mat.Norm(byGiven.RowView(i), 2); !(size[i] > 0) || !tape.Usable(size[i]) {
				return spreads
			}
			for k := range n {
				byGiven.Set(i, k, byGiven.At(i, k)/size[i])
			}
		}
		var inverse mat.Dense
		if inverse.Inverse(byGiven) != nil {
			return spreads
		}
		own := t.Extend()
		var moves []tape.Register
		for k := range n {
			sum := own.Constant(0)
			for i, gap := range gaps {
				sum = own.Binary(tape.OpAdd, sum, own.Mul(own.Constant(inverse.At(k, i)*(s.hi[k]-s.lo[k])/size[i]),
					gap))
			}
			moves = append(moves, sum)
		}
		d := tape.Differentiate(own, others, moves)
		var outputs []tape.Register
		for _, move := range moves {
			outputs = append(outputs, d.Spread(move))
		}
		values = own.Once(set)
		for k, r := range outputs {
			if r == tape.None || !tape.Usable(values[r]) {
				continue
			}
			spreads[k] = spreadIn(s.Givens[k].Unit, values[r])
		}
		return spreads
	}
}

// explain is why the sides cannot be computed anywhere: in the middle of the
// ranges.
func (s *together) explain() {
	set := map[tape.Register]float64{}
	for k := range s.Givens {
		set[s.Givens[k].Quantity.value] = s.lo[k] + (s.hi[k]-s.lo[k])/2
	}
	for _, e := range s.equations {
		needs, failure := e.explain(set)
		if s.Needs = union(s.Needs, needs); s.Failure == nil {
			s.Failure = failure
		}
	}
}
