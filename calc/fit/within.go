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
	sign         float64 // -1 down, 1 up
	near, far    float64 // the last value that is possible, the first that is not
	nearG, farG  float64 // how far the score is from the bound, as the secant weighs them
	bounded      bool    // far is ruled out
	last         int     // which end moved last: -1 near, 1 far
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
			sides = append(sides, side{sign: sign, near: x, nearG: -deviations, start: x, limit: limit,
				reach: math.Min(reach, s.width()), done: x == limit || !(reach > 0)})
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
			s.take(&tries[i])
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
// secant in the Illinois manner.
func (s *side) next() float64 {
	if !s.bounded {
		x := s.start + s.sign*s.reach
		if s.sign*(s.limit-x) <= 0 {
			return s.limit
		}
		return x
	}
	return s.near + (s.far-s.near)*s.nearG/(s.nearG-s.farG)
}

// take narrows the search by a try. Where the model has no answer, a value is
// ruled out.
func (s *side) take(t *Trial) {
	g := float64(deviations)
	switch info := t.info[0][0]; {
	case t.usable && info > 0:
		g = -s.sign*t.score[0]/math.Sqrt(info) - deviations
	case t.usable:
		g = -deviations // nothing depends on it here
	}
	x := t.X[0]
	if math.Abs(g) <= sharpEnough {
		s.far, s.bounded, s.done = x, true, true
		return
	}
	if g < 0 {
		s.near, s.nearG = x, g
		if s.bounded && s.last < 0 {
			s.farG /= 2
		}
		s.last = -1
		s.reach *= 4
		s.done = x == s.limit
	} else {
		s.far, s.farG = x, g
		if s.bounded && s.last > 0 {
			s.nearG /= 2
		}
		s.bounded, s.last = true, 1
	}
	s.done = s.done || s.bounded && math.Abs(s.far-s.near) <= sharpEnough*math.Abs(s.far-s.start)
}

// end is where the search came to: the far side, that nothing possible is left
// out; the end of the range if nothing there is ruled out.
func (s *side) end() float64 {
	if s.bounded {
		return s.far
	}
	return s.limit
}
