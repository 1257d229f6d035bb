package implicit

import (
	"math"

	"rambook/calc/tape"
)

// mostRounds are the steps that a block of cases takes together.
const mostRounds = 12

// Many finds the unknown of a system of one in a block of cases, given by
// argument and case. x is tape.Failed where it has no single solution.
//
// All cases start from the solution of the first and go on together, which takes
// a fraction of what they take one by one. Those whose steps lead away, as across
// a bend, are solved by themselves.
func (s *System) Many(args [][]float64, x []float64) {
	own := make([]float64, len(args))
	ownArgs := func(i int) []float64 {
		for k := range args {
			own[k] = args[k][i]
		}
		return own
	}
	value := func(found *Solution) float64 {
		if found.X == nil || len(found.Others) > 0 {
			return tape.Failed
		}
		return found.X[0]
	}
	x[0] = value(s.Solve(ownArgs(0)))
	var all []int // that take part
	for i := 1; i < len(x); i++ {
		x[i] = x[0]
		if usable(ownArgs(i)) {
			all = append(all, i)
		}
	}
	d := s.steps.Get()
	defer s.steps.Put(d)
	lost := all
	if tape.Usable(x[0]) {
		lost = s.together(d, args, x, all)
	}
	for _, i := range lost {
		x[i] = value(s.Solve(ownArgs(i)))
	}
	alone := map[int]bool{}
	for _, i := range lost {
		alone[i] = true // and looked over
	}
	for _, i := range all {
		if alone[i] {
			continue
		}
		s.mu.Lock()
		places := s.places()
		s.mu.Unlock()
		if places == 0 {
			break
		}
		c := &attempt{System: s, desk: d, args: ownArgs(i)}
		if !c.crossing(places).once {
			x[i] = value(s.find(d, c.args, &Solution{X: []float64{x[i]}}, places))
		}
	}
}

// together follows the derivatives in these cases at once, from where x is. It
// returns the cases in which that leads nowhere.
func (s *System) together(d *desk, args [][]float64, x []float64, cases []int) (lost []int) {
	width := s.hi[0] - s.lo[0]
	slope := s.partial[0][0]
	if slope < 0 {
		return cases
	}
	gap, before := make([]float64, len(x)), make([]float64, len(x))
	going := append([]int{}, cases...)
	for round := 0; len(going) > 0; round++ {
		if round == mostRounds {
			return append(lost, going...)
		}
		b := d.Run(0, len(going), func(b *tape.Block) {
			for at, i := range going {
				b.In[0][at] = x[i]
			}
			for k, arg := range args {
				in := b.In[1+k]
				for at, i := range going {
					in[at] = arg[i]
				}
			}
		})
		still := going[:0]
		for at, i := range going {
			left, right := b.Out[0][at], b.Out[1][at]
			scale := math.Abs(left) + math.Abs(right)
			gap[i] = left - right
			next := min(max(x[i]-gap[i]/b.Out[slope][at], s.lo[0]), s.hi[0])
			switch size := math.Abs(gap[i]); {
			case size <= 0x1p-50*scale:
			case !tape.Usable(gap[i]), !tape.Usable(next), round > 0 && size >= before[i]:
				lost = append(lost, i)
			case math.Abs(next-x[i]) <= tiny*math.Max(math.Abs(x[i]), 1e-3*width):
				if x[i] = next; size > 1e-9*scale {
					lost = append(lost, i)
				}
			default:
				x[i], before[i] = next, size
				still = append(still, i)
			}
		}
		going = still
	}
	return lost
}
