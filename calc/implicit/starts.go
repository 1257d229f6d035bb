package implicit

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"rambook/calc/root"
	"rambook/calc/tape"
)

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
	w := c.sides.Get()
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
		if c.at(x, c.gaps); usable(c.gaps) {
			return true
		}
	}
	return false
}

// glance is what a look over the range of a single unknown shows.
type glance struct {
	once bool    // the gap falls or rises all the way: the sides come together once at most,
	none bool    // or not at all
	near float64 // where the gap is least, or one place behind
}

// crossing looks at so many places over the range of a single unknown.
func (c *attempt) crossing(places int) glance {
	var room [3][coarse]float64
	x, left, right := room[0][:places], room[1][:places], room[2][:places]
	for i := range x {
		x[i] = c.lo[0] + (c.hi[0]-c.lo[0])*float64(i)/float64(places-1)
	}
	c.both(x, left, right)
	rises, falls, before := false, false, 0.0
	g := glance{none: true}
	for i := range x {
		gap := left[i] - right[i]
		if !tape.Usable(gap) {
			c.turns.Store(true)
			return glance{near: c.lo[0]}
		}
		if i > 0 {
			rises, falls = rises || gap >= before, falls || gap <= before
			if gap == 0 || before == 0 || gap < 0 != (before < 0) {
				g.near, g.none = x[i], false
			}
		}
		before = gap
	}
	if g.none {
		if g.near = x[0]; math.Abs(left[places-1]-right[places-1]) < math.Abs(left[0]-right[0]) {
			g.near = x[places-1]
		}
	}
	if g.once = rises != falls; !g.once {
		c.turns.Store(true)
	}
	return g
}

// Nearer is the end of the range, -1 or 1, to which the sides of a single unknown come
// closer all the way without meeting; 0 if that is not so, or there are several unknowns.
func (s *System) Nearer(args []float64) int {
	d := s.steps.Get()
	defer s.steps.Put(d)
	c := &attempt{System: s, desk: d, args: args}
	if len(s.lo) > 1 || !usable(args) {
		return 0
	}
	switch g := c.crossing(coarse); {
	case !g.once || !g.none:
		return 0
	case g.near == s.lo[0]:
		return -1
	}
	return 1
}

// Gap is the difference of the sides of a single unknown at a value of it. slopes, if
// there are any, receives how it moves with that value and with the arguments.
func (s *System) Gap(x float64, args, slopes []float64) float64 {
	d := s.all.Get()
	defer s.all.Put(d)
	c := &attempt{System: s, desk: d, args: args}
	out := c.at([]float64{x}, c.gaps)
	for k := range slopes {
		slopes[k] = c.derivative(out, 0, k)
	}
	return c.gaps[0]
}

func (c *attempt) searchLine() [][]float64 {
	found := root.Find(c.lo[0], c.hi[0], c.both)
	if best := found.Best; best.Usable() {
		c.at([]float64{best.X}, c.gaps)
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

// moves is how the unknowns move with the arguments.
func (c *attempt) moves(x []float64) [][]float64 {
	n := len(c.lo)
	out := c.at(x, c.gaps)
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
