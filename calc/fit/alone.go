package fit

import (
	"cmp"
	"math"
	"slices"
)

// The search for a suspect's best value looks at its whole range first, so
// that it cannot be caught in a hollow beside the deepest one.
//
// The best value is where the score Jₛᵀ V⁻¹ r passes from above zero to below,
// that is, where no step makes the readings fit better with the V of that
// place. It is not quite where rᵀ V⁻¹ r is least: that would also be lowered by
// going where V is wide, as it gets near any pole of the model, and so by
// explaining nothing.

const (
	alonePoints = 65 // over the whole range
	aloneNear   = 14 // to each side of the notebook's value, each half as far away as the one before
	mostRounds  = 60 // of narrowing down
	sharpness   = 1e-12
	pairPoints  = 17 // over each of two ranges
	pairRounds  = 40
	pairLeast   = 1e-6  // share of a step
	closeEnough = 1e-14 // what a further step would still gain of the misfit
)

// Alone finds the best value of each suspect, freed alone, in the order of
// the suspects.
func (q *Inquiry) Alone() []Trial {
	var trials []Trial
	ends := make([]int, len(q.Suspects)) // of each suspect's trials
	for i := range q.Suspects {
		s := &q.Suspects[i]
		for _, x := range s.grid(s.clamp(q.base[s.Input]), alonePoints, aloneNear) {
			trials = append(trials, alone(i, x))
		}
		ends[i] = len(trials)
	}
	q.run(trials)
	var found []Trial
	var brackets []*bracket
	for i := range q.Suspects {
		s := &q.Suspects[i]
		own := trials[:ends[i]]
		if i > 0 {
			own = trials[ends[i-1]:ends[i]]
		}
		f, b := turns(own, q.base[s.Input])
		found = append(found, f...)
		brackets = append(brackets, b...)
	}
	found = append(found, q.narrow(brackets)...)
	best := make([]Trial, len(q.Suspects))
	for _, t := range found {
		if b := &best[t.Freed[0]]; !b.usable || t.Likelihood() < b.Likelihood() {
			*b = t
		}
	}
	for i := range q.Suspects {
		s := &q.Suspects[i]
		if !best[i].usable { // then nothing of the range is, but the notebook's own value is
			best[i] = alone(i, q.base[s.Input])
			q.Answer(&best[i])
		}
	}
	return best
}

// bracket is a stretch of a suspect's range in which the score passes zero
// from above.
type bracket struct {
	low, high           Trial
	lowScore, highScore float64 // as the secant weighs them
	last                Trial   // the latest try
	side                int     // which end moved last: -1 low, 1 high
}

// turns goes through a suspect's trials in the order of their values and finds
// where its score passes from above zero to below: as a trial, if at an end
// or on a stretch where the suspect changes nothing, else as a bracket. Beyond
// an end, or where the model has no answer, the score counts as pointing back.
func turns(trials []Trial, nominal float64) (found []Trial, brackets []*bracket) {
	for len(trials) > 0 {
		if !trials[0].usable {
			trials = trials[1:]
			continue
		}
		n := 1
		for n < len(trials) && trials[n].usable {
			n++
		}
		stretch := trials[:n]
		trials = trials[n:]
		from := nobody // the last trial with a score above zero; nobody is before the first
		rising := true
		for i := 0; i <= n; i++ {
			switch {
			case i < n && stretch[i].score[0] == 0:
				continue
			case i < n && stretch[i].score[0] > 0:
				from, rising = i, true
				continue
			case rising && (i-from > 1 || from == nobody || i == n):
				// Anything between the two is as good; an end has nothing between.
				level := stretch[from+1 : i]
				if len(level) == 0 {
					level = stretch[max(0, from) : max(0, from)+1]
				}
				found = append(found, nearestTo(level, nominal))
			case rising:
				brackets = append(brackets, &bracket{low: stretch[from], high: stretch[i],
					lowScore: stretch[from].score[0], highScore: stretch[i].score[0], last: stretch[from]})
			}
			rising = false
		}
	}
	return found, brackets
}

// nearestTo picks the trial whose value is nearest to x.
func nearestTo(trials []Trial, x float64) Trial {
	return slices.MinFunc(trials, func(a, b Trial) int {
		return cmp.Compare(math.Abs(a.X[0]-x), math.Abs(b.X[0]-x))
	})
}

// narrow finds the zero of the score in each bracket, all of them side by
// side, by the secant of the two ends in the Illinois manner; every third step
// halves the bracket, so that a score that jumps cannot hold it up. Source:
// Dowell and Jarratt, BIT 11 (1971), from memory.
func (q *Inquiry) narrow(brackets []*bracket) []Trial {
	active := slices.Clone(brackets)
	for round := range mostRounds {
		tries := make([]Trial, len(active))
		for i, b := range active {
			tries[i] = alone(b.low.Freed[0], b.next(round%3 == 2, q.tolerance(b)))
		}
		if len(tries) == 0 {
			break
		}
		q.run(tries)
		still := active[:0]
		for i, b := range active {
			if !b.take(tries[i], q.tolerance(b)) {
				still = append(still, b)
			}
		}
		active = still
	}
	found := make([]Trial, len(brackets))
	for i, b := range brackets {
		found[i] = b.last
	}
	return found
}

// tolerance is how narrow a bracket has to be.
func (q *Inquiry) tolerance(b *bracket) float64 {
	return q.Suspects[b.low.Freed[0]].width() * sharpness
}

// next is the value to try next. A secant that falls on an end, because the
// zero is there but for rounding, is moved inside by a step that closes the
// bracket if so.
func (b *bracket) next(halve bool, tolerance float64) float64 {
	low, high := b.low.X[0], b.high.X[0]
	middle := low + (high-low)/2
	x := low + (high-low)*b.lowScore/(b.lowScore-b.highScore)
	if halve || high-low <= tolerance || math.IsNaN(x) {
		return middle
	}
	return math.Max(low+tolerance/2, math.Min(high-tolerance/2, x))
}

// take narrows the bracket by a try and reports whether it is narrow enough.
func (b *bracket) take(t Trial, tolerance float64) bool {
	if !t.usable {
		return true // a gap in the model: the best on this side of it stays
	}
	step := math.Abs(t.X[0] - b.last.X[0])
	b.last = t
	switch {
	case t.score[0] == 0:
		return true
	case t.score[0] > 0:
		if b.side < 0 {
			b.highScore /= 2
		}
		b.low, b.lowScore, b.side = t, t.score[0], -1
	default:
		if b.side > 0 {
			b.lowScore /= 2
		}
		b.high, b.highScore, b.side = t, t.score[0], 1
	}
	return step <= tolerance || b.high.X[0]-b.low.X[0] <= tolerance
}
