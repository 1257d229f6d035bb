package implicit

import (
	"math"
	"slices"

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
	followed := s.follow(args, x)
	d := s.steps.Get()
	defer s.steps.Put(d)
	for _, i := range followed {
		s.mu.Lock()
		places := s.places()
		s.mu.Unlock()
		if places == 0 {
			break
		}
		c := &attempt{System: s, desk: d, args: caseOf(args, i)}
		if !c.crossing(places).once {
			x[i] = single(s.find(d, c.args, &Solution{X: []float64{x[i]}}, places))
		}
	}
}

// Near is Many for samples around a case that is solved by itself. They are not looked
// over, or few of the cases that follow would be.
func (s *System) Near(args [][]float64, x []float64) { s.follow(args, x) }

// follow solves a block of cases. It returns those that were found from the solution of
// the first, and so have not been looked over.
func (s *System) follow(args [][]float64, x []float64) (followed []int) {
	x[0] = single(s.Solve(caseOf(args, 0)))
	var all []int // that take part
	for i := 1; i < len(x); i++ {
		x[i] = x[0]
		if !slices.ContainsFunc(args, func(arg []float64) bool { return !tape.Usable(arg[i]) }) {
			all = append(all, i)
		}
	}
	lost := all
	if tape.Usable(x[0]) {
		lost = s.together(args, x, all)
	}
	alone := map[int]bool{}
	for _, i := range lost {
		x[i], alone[i] = single(s.Solve(caseOf(args, i))), true
	}
	return slices.DeleteFunc(all, func(i int) bool { return alone[i] })
}

// caseOf are the arguments of one case.
func caseOf(args [][]float64, i int) []float64 {
	own := make([]float64, len(args))
	for k := range args {
		own[k] = args[k][i]
	}
	return own
}

// single is the value of the only unknown, tape.Failed if it has not one solution.
func single(found *Solution) float64 {
	if found.X == nil || len(found.Others) > 0 {
		return tape.Failed
	}
	return found.X[0]
}

// together follows the derivatives in these cases at once, from where x is. It
// returns the cases in which that leads nowhere.
func (s *System) together(args [][]float64, x []float64, cases []int) (lost []int) {
	width := s.hi[0] - s.lo[0]
	slope := s.partial[0][0]
	if slope < 0 {
		return cases
	}
	d := s.steps.Get()
	defer s.steps.Put(d)
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
