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
	var passed []*turn
	for i := range q.Suspects {
		s := &q.Suspects[i]
		own := trials[:ends[i]]
		if i > 0 {
			own = trials[ends[i-1]:ends[i]]
		}
		f, p := turns(own, q.base[s.Input])
		found = append(found, f...)
		passed = append(passed, p...)
	}
	found = append(found, q.narrow(passed)...)
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

// turn is a stretch of a suspect's range in which the score passes zero from above.
type turn struct {
	bracket
	suspect int
	last    Trial // the latest try
}

// turns goes through a suspect's trials in the order of their values and finds
// where its score passes from above zero to below: as a trial, if at an end
// or on a stretch where the suspect changes nothing, else as a turn. Beyond an
// end, or where the model has no answer, the score counts as pointing back.
func turns(trials []Trial, nominal float64) (found []Trial, passed []*turn) {
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
				low, high := &stretch[from], &stretch[i]
				passed = append(passed, &turn{suspect: low.Freed[0], last: *low, bracket: bracket{
					above: low.X[0], over: low.score[0], below: high.X[0], under: high.score[0]}})
			}
			rising = false
		}
	}
	return found, passed
}

// nearestTo picks the trial whose value is nearest to x.
func nearestTo(trials []Trial, x float64) Trial {
	return slices.MinFunc(trials, func(a, b Trial) int {
		return cmp.Compare(math.Abs(a.X[0]-x), math.Abs(b.X[0]-x))
	})
}

// narrow finds the zero of the score in each turn, all of them side by side; every
// third step halves the bracket, so that a score that jumps cannot hold it up.
func (q *Inquiry) narrow(passed []*turn) []Trial {
	active := slices.Clone(passed)
	for round := range mostRounds {
		tries := make([]Trial, len(active))
		for i, t := range active {
			tries[i] = alone(t.suspect, t.next(round%3 == 2, q.tolerance(t)))
		}
		if len(tries) == 0 {
			break
		}
		q.run(tries)
		still := active[:0]
		for i, t := range active {
			if !t.settles(tries[i], q.tolerance(t)) {
				still = append(still, t)
			}
		}
		active = still
	}
	found := make([]Trial, len(passed))
	for i, t := range passed {
		found[i] = t.last
	}
	return found
}

// tolerance is how narrow a bracket has to be.
func (q *Inquiry) tolerance(t *turn) float64 { return q.Suspects[t.suspect].width() * sharpness }

// next is the value to try next. A secant that falls on an end, because the
// zero is there but for rounding, is moved inside by a step that closes the
// bracket if so.
func (t *turn) next(halve bool, tolerance float64) float64 {
	low, high := t.above, t.below
	x := t.secant()
	if halve || high-low <= tolerance || math.IsNaN(x) {
		return low + (high-low)/2
	}
	return math.Max(low+tolerance/2, math.Min(high-tolerance/2, x))
}

// settles narrows the bracket by a try and reports whether it is narrow enough.
func (t *turn) settles(try Trial, tolerance float64) bool {
	if !try.usable {
		return true // a gap in the model: the best on this side of it stays
	}
	step := math.Abs(try.X[0] - t.last.X[0])
	t.last = try
	if try.score[0] == 0 {
		return true
	}
	t.take(try.X[0], try.score[0])
	return step <= tolerance || t.below-t.above <= tolerance
}
