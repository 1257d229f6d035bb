// Package implicit finds the values of several unknowns at which as many pairs
// of sides are equal, and how these values move with everything else the sides
// depend on. It stands on the tape and knows nothing of models.
//
// The unknowns are found by Newton's method on the derivatives of the tape,
// with steps that are shortened where they lead away and kept inside the range
// of each unknown. A run over many cases starts from the solution found last,
// so that a case costs little more than one step. The first cases are looked
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

	"gonum.org/v1/gonum/mat"

	"rambook/calc/root"
	"rambook/calc/tape"
)

const (
	searched   = 250  // cases that are looked over in the whole range
	coarse     = 128  // places of a coarse look
	remembered = 1024 // solutions that are kept: more than the cases in flight
	mostSteps  = 60
	mostHalves = 40
	starts     = 48    // of a search for several unknowns
	apart      = 1e-6  // of the ranges: solutions further apart are two
	tiny       = 1e-13 // of a value: a step so short changes nothing
)

// System is a set of pairs of sides.
type System struct {
	lo, hi  []float64 // ranges of the unknowns, SI
	pairs   int
	partial [][]int   // by pair and input, unknowns first: the place of the derivative in the outputs, -1 if it is 0
	sides   sync.Pool // workers that compute the sides alone,
	steps   sync.Pool // and their derivatives by the unknowns,
	all     sync.Pool // and those by the arguments too

	mu    sync.Mutex
	known map[uint64]*Solution
	order []uint64 // of the known, oldest first
	last  *Solution
	solve int // cases so far
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
	place := map[tape.Register]int{}
	for k, r := range inputs {
		seeds[r], place[r] = one, k
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
			terms[i][place[term.Input]] = term.Part
		}
		s.partial = append(s.partial, row)
	}
	values := t.Once(nil)
	workers := func(pool *sync.Pool, outputs []tape.Register) {
		p := tape.NewProgram(t, inputs, slices.Clone(outputs), values)
		pool.New = func() any { return p.NewWorker(tape.BlockSize) }
	}
	workers(&s.sides, outputs)
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
	workers(&s.steps, outputs)
	take(len(unknowns), len(inputs))
	workers(&s.all, outputs)
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
	from, search := s.last, s.solve < searched
	s.solve++
	s.mu.Unlock()

	w := s.steps.Get().(*tape.Worker)
	found := s.find(w, args, from, search)
	s.steps.Put(w)

	s.mu.Lock()
	defer s.mu.Unlock()
	if s.known[key] == nil {
		if len(s.order) >= remembered {
			delete(s.known, s.order[0])
			s.order = s.order[1:]
		}
		s.order = append(s.order, key)
	}
	s.known[key] = found
	if found.X != nil {
		s.last = found
	}
	return found
}

// find solves one case.
func (s *System) find(w *tape.Worker, args []float64, near *Solution, search bool) *Solution {
	found := &Solution{args: append([]float64{}, args...)}
	for _, a := range args {
		if !tape.Usable(a) {
			return found
		}
	}
	c := &attempt{System: s, w: w, args: args}
	if near != nil {
		if x, ok := c.newton(near.X); ok {
			found.X = x
		}
	}
	if found.X == nil && !c.computable() {
		return found
	}
	if found.X == nil || search && !c.crossesOnce() {
		all := c.search()
		if len(all) > 0 && found.X == nil {
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

// Slopes says, by unknown and argument, how the unknowns of a solution move with
// the arguments. Cases that are only sampled never ask.
func (s *System) Slopes(found *Solution) [][]float64 {
	found.once.Do(func() {
		w := s.all.Get().(*tape.Worker)
		c := &attempt{System: s, w: w, args: found.args}
		found.slopes = c.slopes(found.X)
		s.all.Put(w)
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
	w := s.steps.Get().(*tape.Worker)
	defer s.steps.Put(w)
	c := &attempt{System: s, w: w, args: args}
	n, looked := len(s.lo), false
	x, slopes := make([]float64, n), mat.NewDense(n, n, nil)
	for k := range starts {
		for j := range x {
			x[j] = s.lo[j] + halton(k+1, primes[j%len(primes)])*(s.hi[j]-s.lo[j])
		}
		gaps, out := c.at(x)
		if !usable(gaps) {
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
		if math.Abs(a[j]-b[j]) > apart*(s.hi[j]-s.lo[j]) {
			return true
		}
	}
	return false
}

// attempt is the solving of one case.
type attempt struct {
	*System
	w    *tape.Worker
	args []float64
	best struct {
		x, left, right []float64
		gap            float64
	}
}

// at runs the sides at one place. The slices are used again by the next call.
func (c *attempt) at(x []float64) (gaps []float64, out [][]float64) {
	n := len(c.lo)
	b := c.w.Run(0, 1, func(b *tape.Block) {
		for k := range b.In {
			if k < n {
				b.In[k][0] = x[k]
			} else {
				b.In[k][0] = c.args[k-n]
			}
		}
	})
	gaps = make([]float64, c.pairs)
	total := 0.0
	for i := range gaps {
		gaps[i] = b.Out[2*i][0] - b.Out[2*i+1][0]
		total += math.Abs(gaps[i]) / (math.Abs(b.Out[2*i][0]) + math.Abs(b.Out[2*i+1][0]) + math.SmallestNonzeroFloat64)
	}
	if tape.Usable(total) && (c.best.x == nil || total < c.best.gap) {
		c.best.gap = total
		c.best.x = append(c.best.x[:0], x...)
		c.best.left, c.best.right = c.best.left[:0], c.best.right[:0]
		for i := range gaps {
			c.best.left, c.best.right = append(c.best.left, b.Out[2*i][0]), append(c.best.right, b.Out[2*i+1][0])
		}
	}
	return gaps, b.Out
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
	n := len(c.lo)
	x = append([]float64{}, from...)
	slopes, step := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
	next := make([]float64, n)
	gaps, out := c.at(x)
	if !usable(gaps) {
		return nil, false
	}
	scale := make([]float64, n) // of the pairs, so that their gaps can be compared
	for i := range scale {
		scale[i] = math.Abs(out[2*i][0]) + math.Abs(out[2*i+1][0])
		if scale[i] == 0 {
			scale[i] = 1
		}
	}
	for range mostSteps {
		if level(gaps, out) {
			return x, true
		}
		for i := range n {
			for j := range n {
				slopes.Set(i, j, c.derivative(out, i, j)*(c.hi[j]-c.lo[j])/scale[i])
			}
		}
		right := mat.NewVecDense(n, nil)
		for i := range n {
			right.SetVec(i, -gaps[i]/scale[i])
		}
		if err := step.SolveVec(slopes, right); err != nil {
			if _, bad := err.(mat.Condition); !bad || !usable(step.RawVector().Data) {
				return nil, false
			}
		}
		was := size(gaps, scale)
		share, moved := 1.0, false
		for range mostHalves {
			still := true
			for j := range n {
				width := c.hi[j] - c.lo[j]
				next[j] = math.Min(math.Max(x[j]+share*step.AtVec(j)*width, c.lo[j]), c.hi[j])
				still = still && math.Abs(next[j]-x[j]) <= tiny*math.Max(math.Abs(x[j]), 1e-3*width)
			}
			nextGaps, nextOut := c.at(next)
			if usable(nextGaps) && (still || size(nextGaps, scale) < was) {
				copy(x, next)
				gaps, out, moved = nextGaps, nextOut, true
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

// search looks over the whole range: a single unknown on a grid that is refined
// wherever the sides cross, several from many starting points.
func (c *attempt) search() [][]float64 {
	if len(c.lo) == 1 {
		return c.searchLine()
	}
	var found [][]float64
	for k := range starts {
		from := make([]float64, len(c.lo))
		for j := range from {
			from[j] = c.lo[j] + halton(k+1, primes[j%len(primes)])*(c.hi[j]-c.lo[j])
		}
		x, ok := c.newton(from)
		if !ok {
			continue
		}
		isNew := true
		for _, known := range found {
			isNew = isNew && c.differ(x, known)
		}
		if isNew {
			found = append(found, x)
		}
	}
	return found
}

var primes = []int{2, 3, 5, 7, 11, 13, 17, 19}

// halton is a number between 0 and 1 of a sequence that fills it evenly.
func halton(k, base int) float64 {
	x, share := 0.0, 1.0
	for ; k > 0; k /= base {
		share /= float64(base)
		x += share * float64(k%base)
	}
	return x
}

// both computes the sides of a single pair at many values of a single unknown.
func (c *attempt) both(x, left, right []float64) {
	w := c.sides.Get().(*tape.Worker)
	defer c.sides.Put(w)
	for first := 0; first < len(x); first += tape.BlockSize {
		n := min(tape.BlockSize, len(x)-first)
		b := w.Run(first, n, func(b *tape.Block) {
			copy(b.In[0], x[first:first+n])
			for k, a := range c.args {
				for i := range n {
					b.In[1+k][i] = a
				}
			}
		})
		copy(left[first:], b.Out[0])
		copy(right[first:], b.Out[1])
	}
}

// computable reports whether the sides have values anywhere. Where something
// that they need is missing they have none.
func (c *attempt) computable() bool {
	x := make([]float64, len(c.lo))
	for k := range coarse {
		for j := range x {
			x[j] = c.lo[j] + halton(k+1, primes[j%len(primes)])*(c.hi[j]-c.lo[j])
		}
		if gaps, _ := c.at(x); usable(gaps) {
			return true
		}
	}
	return false
}

// crossesOnce reports whether a coarse look over the range of a single unknown
// shows one crossing and no place besides where the sides come close to another:
// the gap falls or rises all the way.
func (c *attempt) crossesOnce() bool {
	if len(c.lo) > 1 {
		return false
	}
	var x, left, right [coarse]float64
	for i := range x {
		x[i] = c.lo[0] + (c.hi[0]-c.lo[0])*float64(i)/(coarse-1)
	}
	c.both(x[:], left[:], right[:])
	rises, falls := false, false
	for i := range x {
		gap := left[i] - right[i]
		if !tape.Usable(gap) {
			return false
		}
		if i > 0 {
			before := left[i-1] - right[i-1]
			rises, falls = rises || gap >= before, falls || gap <= before
		}
	}
	return rises != falls
}

func (c *attempt) searchLine() [][]float64 {
	found := root.Find(c.lo[0], c.hi[0], c.both)
	if best := found.Best; best.Usable() {
		c.at([]float64{best.X})
	}
	var list [][]float64
	for _, r := range found.Roots {
		list = append(list, []float64{r.From})
		if r.To > r.From {
			list = append(list, []float64{r.To})
		}
	}
	return list
}

// slopes is how the unknowns move with the arguments.
func (c *attempt) slopes(x []float64) [][]float64 {
	n := len(c.lo)
	_, out := c.at(x)
	byUnknown, byArg := mat.NewDense(n, n, nil), mat.NewDense(n, max(1, len(c.args)), nil)
	for i := range n {
		for j := range n {
			byUnknown.Set(i, j, c.derivative(out, i, j))
		}
		for k := range c.args {
			byArg.Set(i, k, -c.derivative(out, i, n+k))
		}
	}
	var moved mat.Dense
	slopes := make([][]float64, n)
	if err := moved.Solve(byUnknown, byArg); err != nil {
		if _, bad := err.(mat.Condition); !bad || math.IsInf(float64(err.(mat.Condition)), 0) {
			for i := range slopes { // the sides touch and do not cross: no slope has a bound
				slopes[i] = make([]float64, len(c.args))
				for k := range slopes[i] {
					if byArg.At(0, k) != 0 {
						slopes[i][k] = math.Inf(1)
					}
				}
			}
			return slopes
		}
	}
	for i := range slopes {
		slopes[i] = moved.RawRowView(i)[:len(c.args)]
	}
	return slopes
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
