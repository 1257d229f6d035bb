package fit

import "math"

// Stretch is the part of a suspect's range that the readings leave possible,
// SI. From and To are ends of the range where the readings do not rule out what
// lies there, as when a leak has emptied a ram: any larger one had done so too.
type Stretch struct {
	From, To         float64
	OpenFrom, OpenTo bool // the stretch goes on to that end of the range, and maybe beyond
}

// Half is the distance from a value to the farther end.
func (s Stretch) Half(x float64) float64 { return math.Max(x-s.From, s.To-x) }

const (
	deviations    = 2 // of the score, for the coverage of a spread with k = 2
	stretchRounds = 40
	sharpEnough   = 1e-9 // of the distance to the value, and of a deviation
)

// side is the search for one end of a stretch. The score of a suspect has the
// variance Jₛᵀ V⁻¹ Jₛ, so a value whose score is more than two standard
// deviations from zero is ruled out. Where the model is straight that is the
// value ± 2 u; where it bends, this still holds, which 2 u does not.
type side struct {
	bracket              // of how far the score is inside the bound: the last possible value, the first that is not
	sign         float64 // -1 down, 1 up
	bounded      bool    // the far end is ruled out
	limit        float64 // the end of the range
	start, reach float64
	done         bool
}

// Within finds which values the readings leave possible for suspects that were
// freed alone, in the order of the trials.
func (q *Inquiry) Within(fits []Trial) []Stretch {
	sides := make([]side, 0, 2*len(fits))
	for i := range fits {
		s := &q.Suspects[fits[i].Freed[0]]
		reach := deviations * q.U(&fits[i], 0)
		for _, sign := range []float64{-1, 1} {
			limit := s.From
			if sign > 0 {
				limit = s.To
			}
			x := fits[i].X[0]
			sides = append(sides, side{bracket: bracket{above: x, over: deviations}, sign: sign, start: x,
				limit: limit, reach: math.Min(reach, s.width()), done: x == limit || !(reach > 0)})
		}
	}
	for range stretchRounds {
		var tries []Trial
		var of []*side
		for i := range sides {
			if s := &sides[i]; !s.done {
				tries = append(tries, alone(fits[i/2].Freed[0], s.next()))
				of = append(of, s)
			}
		}
		if len(tries) == 0 {
			break
		}
		q.run(tries)
		for i, s := range of {
			s.narrow(&tries[i])
		}
	}
	found := make([]Stretch, len(fits))
	for i := range found {
		low, high := &sides[2*i], &sides[2*i+1]
		found[i] = Stretch{From: low.end(), To: high.end(), OpenFrom: !low.bounded, OpenTo: !high.bounded}
	}
	return found
}

// next is the value to try next: farther out until one is ruled out, then by the
// secant.
func (s *side) next() float64 {
	if !s.bounded {
		x := s.start + s.sign*s.reach
		if s.sign*(s.limit-x) <= 0 {
			return s.limit
		}
		return x
	}
	return s.secant()
}

// narrow takes a try. Where the model has no answer, a value is ruled out.
func (s *side) narrow(t *Trial) {
	inside := -float64(deviations)
	switch info := t.info[0][0]; {
	case t.usable && info > 0:
		inside = deviations + s.sign*t.score[0]/math.Sqrt(info)
	case t.usable:
		inside = deviations // nothing depends on it here
	}
	x := t.X[0]
	if math.Abs(inside) <= sharpEnough {
		s.below, s.bounded, s.done = x, true, true
		return
	}
	s.take(x, inside)
	if inside > 0 {
		s.reach *= 4
		s.done = x == s.limit
	} else {
		s.bounded = true
	}
	s.done = s.done || s.bounded && math.Abs(s.below-s.above) <= sharpEnough*math.Abs(s.below-s.start)
}

// end is where the search came to: the far side, that nothing possible is left
// out; the end of the range if nothing there is ruled out.
func (s *side) end() float64 {
	if s.bounded {
		return s.below
	}
	return s.limit
}
