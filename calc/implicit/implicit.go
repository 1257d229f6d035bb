// Package implicit finds the values of several unknowns at which as many pairs
// of sides are equal, and how these values move with everything else the sides
// depend on. It stands on the tape and has nothing to do with models.
//
// The unknowns are found by Newton's method on the derivatives of the tape,
// with steps that are shortened where they lead away and kept inside the range
// of each unknown. All cases start from the solution that was found first, that
// of the notebook's own numbers: a case costs few steps, and its last digits do
// not depend on the order in which several cores come to it. The first cases are looked
// over besides, since a second solution would make the answer a matter of luck:
// a coarse look at the whole range, and a close one where it finds more than a
// single crossing.
//
// Where F(x, a) = 0, dx/da = -(∂F/∂x)⁻¹ ∂F/∂a (the implicit function theorem,
// as in NIST DLMF 1.5(iii)); this is what carries spreads through unknowns.
package implicit

import (
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
)

const (
	searched    = 250  // cases that are looked over in the whole range,
	first       = 16   // the first of them at more places,
	straight    = 4    // or fewer of them, as long as in none the sides come closer and part again
	coarse      = 128  // places of a coarse look,
	coarser     = 16   // and of one at the later cases
	thorough    = 40   // cases with one unknown that are searched closely: thousands of samples may have no solution
	remembered  = 1024 // solutions that are kept: more than the cases in flight
	mostSteps   = 60
	mostHalves  = 40
	starts      = 48    // of a search for several unknowns
	mergeWithin = 1e-6  // of the ranges: solutions further apart are two
	tiny        = 1e-13 // of a value: a step so short changes nothing
)

// System is a set of pairs of sides.
type System struct {
	lo, hi []float64 // ranges of the unknowns, SI
	pairs  int
	// by pair and input, unknowns first: the place of the derivative in the outputs, -1 if it is 0
	partial [][]int
	sides   tape.Spare[*tape.Worker] // that compute the sides alone,
	steps   tape.Spare[*desk]        // with their derivatives by the unknowns,
	all     tape.Spare[*desk]        // and those by the arguments too

	mu     sync.Mutex
	known  map[uint64]*Solution
	order  []uint64 // of the known: a ring, the oldest at oldest
	oldest int
	start  *Solution    // the first that was found
	solve  int          // cases so far
	close  atomic.Int64 // of them were searched closely
	turns  atomic.Bool  // in some case the sides come closer and part again
}

// Solution is what was found for one set of arguments. All numbers are SI.
type Solution struct {
	args []float64

	X      []float64   // the unknowns; nil if they were not found
	Others [][]float64 // further solutions, if the range was searched
	Best   []float64   // without a solution: where the sides come closest
	Left   []float64   // there
	Right  []float64

	once   sync.Once
	slopes [][]float64 // see System.Slopes
}

// New prepares a system. t must be the system's own tape; unknowns and args are
// inputs of it, and each pair of sides has to be equal.
func New(t *tape.Tape, unknowns, args []tape.Register, pairs [][2]tape.Register, lo, hi []float64) *System {
	s := &System{lo: lo, hi: hi, pairs: len(pairs), known: map[uint64]*Solution{}}
	inputs := append(append([]tape.Register{}, unknowns...), args...)
	gaps := make([]tape.Register, len(pairs))
	var outputs []tape.Register
	for i, p := range pairs {
		gaps[i] = t.Binary(tape.OpSub, p[0], p[1])
		outputs = append(outputs, p[0], p[1])
	}
	t = t.Extend()
	seeds := map[tape.Register]tape.Register{}
	one := t.Constant(1)
	indexOf := map[tape.Register]int{}
	for k, r := range inputs {
		seeds[r], indexOf[r] = one, k
	}
	d := tape.Differentiate(t, seeds, gaps)
	terms := make([]map[int]tape.Register, len(gaps))
	for i, gap := range gaps {
		terms[i] = map[int]tape.Register{}
		row := make([]int, len(inputs))
		for k := range row {
			row[k] = -1
		}
		for _, term := range d.Terms[gap] {
			terms[i][indexOf[term.Input]] = term.Part
		}
		s.partial = append(s.partial, row)
	}
	values := t.Once(nil)
	program := func(outputs []tape.Register) *tape.Program {
		return tape.NewProgram(t, inputs, slices.Clone(outputs), values)
	}
	sides := program(outputs)
	s.sides.New = func() *tape.Worker { return sides.NewWorker(tape.BlockSize) }
	take := func(from, to int) {
		for i := range gaps {
			for k := from; k < to; k++ {
				if part, ok := terms[i][k]; ok {
					s.partial[i][k] = len(outputs)
					outputs = append(outputs, part)
				}
			}
		}
	}
	take(0, len(unknowns))
	steps := program(outputs)
	s.steps.New = func() *desk { return newDesk(steps.NewWorker(tape.BlockSize), len(lo)) }
	take(len(unknowns), len(inputs))
	all := program(outputs)
	s.all.New = func() *desk { return newDesk(all.NewWorker(1), len(lo)) }
	return s
}

// Solve finds the unknowns for a set of arguments.
func (s *System) Solve(args []float64) *Solution {
	key := hash(args)
	s.mu.Lock()
	if found := s.known[key]; found != nil && same(found.args, args) {
		s.mu.Unlock()
		return found
	}
	from, places := s.start, s.places()
	s.mu.Unlock()

	d := s.steps.Get()
	found := s.find(d, args, from, places)
	s.steps.Put(d)

	s.mu.Lock()
	defer s.mu.Unlock()
	if s.known[key] == nil {
		if len(s.order) < remembered {
			s.order = append(s.order, key)
		} else {
			delete(s.known, s.order[s.oldest])
			s.order[s.oldest] = key
			s.oldest = (s.oldest + 1) % remembered
		}
	}
	s.known[key] = found
	if found.X != nil && s.start == nil {
		s.start = found
	}
	return found
}

// places counts a case, and gives at how many places it is looked over.
func (s *System) places() int {
	s.solve++
	switch {
	case s.solve <= straight, s.solve <= first && s.turns.Load():
		return coarse
	case s.solve <= searched:
		return coarser
	}
	return 0
}

// find solves one case, and looks the range over at a number of places.
func (s *System) find(d *desk, args []float64, near *Solution, places int) *Solution {
	found := &Solution{args: slices.Clone(args)}
	for _, a := range args {
		if !tape.Usable(a) {
			return found
		}
	}
	c := &attempt{System: s, desk: d, args: args}
	hasty := len(s.lo) == 1 && s.close.Load() >= thorough
	if near != nil && !hasty {
		found.X = c.reach(near.X)
	}
	once := false
	if places == 0 && found.X == nil {
		places = coarser // so that what has no solution costs no search
	}
	if places > 0 && len(s.lo) == 1 {
		at := c.crossing(places)
		if once = at.once; found.X == nil && !at.none {
			found.X = c.reach([]float64{at.near})
		}
		if hasty || once && found.X == nil && at.none {
			if found.X == nil {
				c.at([]float64{at.near}, c.gaps)
				found.Best, found.Left, found.Right = c.best.x, c.best.left, c.best.right
			}
			return found
		}
	}
	if found.X == nil || places > 0 && !once {
		s.close.Add(1)
	}
	if found.X == nil && !c.computable() {
		return found
	}
	if found.X == nil || places > 0 && !once {
		all := c.search()
		if len(all) > 1 || len(all) > 0 && found.X == nil {
			found.X = all[0]
		}
		for _, x := range all {
			if found.X != nil && s.differ(x, found.X) {
				found.Others = append(found.Others, x)
			}
		}
	}
	if found.X == nil {
		found.Best, found.Left, found.Right = c.best.x, c.best.left, c.best.right
		return found
	}
	return found
}

// Slopes is, by unknown and argument, how the unknowns of a solution move with
// the arguments. Cases that are only sampled never ask.
func (s *System) Slopes(found *Solution) [][]float64 {
	found.once.Do(func() {
		d := s.all.Get()
		c := &attempt{System: s, desk: d, args: found.args}
		found.slopes = c.moves(found.X)
		s.all.Put(d)
	})
	return found.slopes
}

// alike is how near to zero a determinant of derivatives has to be, as a share of
// what it can be, for the pairs to be one condition.
const alike = 1e-10

// Dependent reports whether the pairs move together with the unknowns, or one of
// them does not move at all, wherever one looks: then they cannot fix the
// unknowns. It is false where the sides cannot be computed.
func (s *System) Dependent(args []float64) bool {
	d := s.steps.Get()
	defer s.steps.Put(d)
	c := &attempt{System: s, desk: d, args: args}
	n, looked := len(s.lo), false
	x, slopes := make([]float64, n), mat.NewDense(n, n, nil)
	for k := range starts {
		for j := range x {
			x[j] = s.lo[j] + halton(k+1, primes[j%len(primes)])*(s.hi[j]-s.lo[j])
		}
		out := c.at(x, d.gaps)
		if !usable(d.gaps) {
			continue
		}
		sound := true
		for i := range n {
			row := make([]float64, n)
			for j := range row {
				row[j] = c.derivative(out, i, j) * (s.hi[j] - s.lo[j])
			}
			size := mat.Norm(mat.NewVecDense(n, row), 2)
			sound = sound && tape.Usable(size)
			for j := range row {
				slopes.Set(i, j, tape.Divide(row[j], math.Max(size, math.SmallestNonzeroFloat64)))
			}
		}
		if !sound {
			continue
		}
		if looked = true; math.Abs(mat.Det(slopes)) > alike {
			return false
		}
	}
	return looked
}

// differ reports whether two solutions are two.
func (s *System) differ(a, b []float64) bool {
	for j := range a {
		if math.Abs(a[j]-b[j]) > mergeWithin*(s.hi[j]-s.lo[j]) {
			return true
		}
	}
	return false
}

// desk is a worker with room for what one case is solved with.
type desk struct {
	*tape.Worker
	gaps, other, next, scale []float64
	slopes                   *mat.Dense
	step, right              *mat.VecDense
}

func newDesk(w *tape.Worker, unknowns int) *desk {
	room := func() []float64 { return make([]float64, unknowns) }
	return &desk{Worker: w, gaps: room(), other: room(), next: room(), scale: room(),
		slopes: mat.NewDense(unknowns, unknowns, nil),
		step:   mat.NewVecDense(unknowns, nil), right: mat.NewVecDense(unknowns, nil)}
}

// attempt is the solving of one case.
type attempt struct {
	*System
	*desk
	args []float64
	best struct {
		x, left, right []float64
		gap            float64
	}
}

// at runs the sides at one place. The outputs are overwritten by the next call.
func (c *attempt) at(x, gaps []float64) (out [][]float64) {
	b := c.Run(0, 1, func(b *tape.Block) {
		for k, v := range x {
			b.In[k][0] = v
		}
		for k, v := range c.args {
			b.In[len(x)+k][0] = v
		}
	})
	total := 0.0
	for i := range gaps {
		left, right := b.Out[2*i][0], b.Out[2*i+1][0]
		gaps[i] = left - right
		total += math.Abs(gaps[i]) / (math.Abs(left) + math.Abs(right) + math.SmallestNonzeroFloat64)
	}
	if tape.Usable(total) && (c.best.x == nil || total < c.best.gap) {
		c.best.gap = total
		c.best.x = append(c.best.x[:0], x...)
		c.best.left, c.best.right = c.best.left[:0], c.best.right[:0]
		for i := range gaps {
			c.best.left, c.best.right = append(c.best.left, b.Out[2*i][0]), append(c.best.right, b.Out[2*i+1][0])
		}
	}
	return b.Out
}

// derivative is a pair's derivative by an input, at the place that was run last.
func (c *attempt) derivative(out [][]float64, pair, input int) float64 {
	if at := c.partial[pair][input]; at >= 0 {
		return out[at][0]
	}
	return 0
}

// level reports whether all pairs are equal but for rounding.
func level(gaps []float64, out [][]float64) bool {
	for i, g := range gaps {
		if !(math.Abs(g) <= 0x1p-50*(math.Abs(out[2*i][0])+math.Abs(out[2*i+1][0]))) {
			return false
		}
	}
	return true
}

// newton follows the derivatives from a place. ok is false if that leads nowhere
// inside the ranges.
func (c *attempt) newton(from []float64) (x []float64, ok bool) {
	x = slices.Clone(from)
	gaps, other, next, scale := c.gaps, c.other, c.next, c.scale
	out := c.at(x, gaps)
	if !usable(gaps) {
		return nil, false
	}
	for i := range scale { // of the pairs, so that their gaps can be compared
		scale[i] = math.Abs(out[2*i][0]) + math.Abs(out[2*i+1][0])
		if scale[i] == 0 {
			scale[i] = 1
		}
	}
	for range mostSteps {
		if level(gaps, out) {
			return x, true
		}
		if !c.direct(out, gaps) {
			return nil, false
		}
		was := size(gaps, scale)
		share, moved := 1.0, false
		for range mostHalves {
			still := true
			for j := range next {
				width := c.hi[j] - c.lo[j]
				next[j] = math.Min(math.Max(x[j]+share*c.step.AtVec(j)*width, c.lo[j]), c.hi[j])
				still = still && math.Abs(next[j]-x[j]) <= tiny*math.Max(math.Abs(x[j]), 1e-3*width)
			}
			out = c.at(next, other)
			if usable(other) && (still || size(other, scale) < was) {
				copy(x, next)
				gaps, other, moved = other, gaps, true
				if still {
					return x, size(gaps, scale) < 1e-9
				}
				break
			}
			share /= 2
		}
		if !moved {
			return x, was < 1e-12
		}
	}
	return nil, false
}

// reach is newton, nil where that leads nowhere.
func (c *attempt) reach(from []float64) []float64 {
	if x, ok := c.newton(from); ok {
		return x
	}
	return nil
}

// direct finds the step from the place that was run last, in parts of the
// ranges. It is false where the derivatives lead nowhere.
func (c *attempt) direct(out [][]float64, gaps []float64) bool {
	n := len(gaps)
	for i := range n {
		for j := range n {
			c.slopes.Set(i, j, c.derivative(out, i, j)*(c.hi[j]-c.lo[j])/c.scale[i])
		}
		c.right.SetVec(i, -gaps[i]/c.scale[i])
	}
	if n == 1 { // most often; a thousand samples of it are no place for matrices
		c.step.SetVec(0, c.right.AtVec(0)/c.slopes.At(0, 0))
		return tape.Usable(c.step.AtVec(0))
	}
	err := c.step.SolveVec(c.slopes, c.right)
	_, bad := err.(mat.Condition)
	return err == nil || bad && usable(c.step.RawVector().Data)
}

func usable(values []float64) bool {
	for _, v := range values {
		if !tape.Usable(v) {
			return false
		}
	}
	return true
}

// size is how far the pairs are from being equal.
func size(gaps, scale []float64) float64 {
	sum := 0.0
	for i, g := range gaps {
		sum = math.Hypot(sum, g/scale[i])
	}
	return sum
}

func same(a, b []float64) bool {
	for i := range a {
		if math.Float64bits(a[i]) != math.Float64bits(b[i]) {
			return false
		}
	}
	return len(a) == len(b)
}

// hash is FNV-1a over the bits of the arguments.
func hash(args []float64) uint64 {
	h := uint64(14695981039346656037)
	for _, a := range args {
		h = (h ^ math.Float64bits(a)) * 1099511628211
	}
	return h
}
