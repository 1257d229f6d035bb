package calc

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
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
	evenPoints  = 65 // over the whole range
	nearPoints  = 14 // to each side of the notebook's value, each half as far away as the one before
	mostRounds  = 60 // of narrowing down
	sharpness   = 1e-12
	pairPoints  = 17 // over each of two ranges
	pairRounds  = 40
	leastPairs  = 1e-10 // share of a pair's information that must not be common to both
	closeEnough = 1e-14 // what a further step would still gain of the misfit
)

// fitAlone finds the best value of each suspect, freed alone, in the order of
// the suspects.
func (q *inquiry) fitAlone() []trial {
	var trials []trial
	ends := make([]int, len(q.suspects)) // of each suspect's trials
	for i, s := range q.suspects {
		for _, x := range s.grid(q.base[s.Quantity.value]) {
			trials = append(trials, alone(i, x))
		}
		ends[i] = len(trials)
	}
	q.run(trials)
	var found []trial
	var brackets []*bracket
	for i, s := range q.suspects {
		own := trials[:ends[i]]
		if i > 0 {
			own = trials[ends[i-1]:ends[i]]
		}
		f, b := turns(own, q.base[s.Quantity.value])
		found = append(found, f...)
		brackets = append(brackets, b...)
	}
	found = append(found, q.narrow(brackets)...)
	best := make([]trial, len(q.suspects))
	for _, t := range found {
		if b := &best[t.freed[0]]; !b.usable || t.likelihood() < b.likelihood() {
			*b = t
		}
	}
	for i, s := range q.suspects {
		if !best[i].usable { // then nothing of the range is, but the notebook's own value is
			best[i] = alone(i, q.base[s.Quantity.value])
			q.weighOnce(&best[i])
		}
	}
	return best
}

// grid lists the values at which a suspect is tried first, rising: evenly over
// its range, and closer and closer around the notebook's value, since a fault
// may be small against the range.
func (s *Suspect) grid(nominal float64) []float64 {
	x := floats.Span(make([]float64, evenPoints), s.from, s.to)
	near := s.clamp(nominal)
	x = append(x, near)
	step := s.width() / evenPoints
	for range nearPoints {
		step /= 2
		for _, v := range []float64{near - step, near + step} {
			if s.from < v && v < s.to {
				x = append(x, v)
			}
		}
	}
	slices.Sort(x)
	return slices.Compact(x)
}

// bracket is a stretch of a suspect's range in which the score passes zero
// from above.
type bracket struct {
	low, high           trial
	lowScore, highScore float64 // as the secant weighs them
	last                trial   // the latest try
	side                int     // which end moved last: -1 low, 1 high
}

// turns goes through a suspect's trials in the order of their values and finds
// where its score passes from above zero to below: as a trial, if at an end
// or on a stretch where the suspect changes nothing, else as a bracket. Beyond
// an end, or where the model has no answer, the score counts as pointing back.
func turns(trials []trial, nominal float64) (found []trial, brackets []*bracket) {
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
func nearestTo(trials []trial, x float64) trial {
	return slices.MinFunc(trials, func(a, b trial) int {
		return cmp.Compare(math.Abs(a.x[0]-x), math.Abs(b.x[0]-x))
	})
}

// narrow finds the zero of the score in each bracket, all of them side by
// side, by the secant of the two ends in the Illinois manner; every third step
// halves the bracket, so that a score that jumps cannot hold it up. Source:
// Dowell and Jarratt, BIT 11 (1971), from memory.
func (q *inquiry) narrow(brackets []*bracket) []trial {
	active := slices.Clone(brackets)
	for round := range mostRounds {
		tries := make([]trial, len(active))
		for i, b := range active {
			tries[i] = alone(b.low.freed[0], b.next(round%3 == 2, q.tolerance(b)))
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
	found := make([]trial, len(brackets))
	for i, b := range brackets {
		found[i] = b.last
	}
	return found
}

// tolerance is how narrow a bracket has to be.
func (q *inquiry) tolerance(b *bracket) float64 {
	return q.suspects[b.low.freed[0]].width() * sharpness
}

// next is the value to try next. A secant that falls on an end, because the
// zero is there but for rounding, is moved inside by a step that closes the
// bracket if so.
func (b *bracket) next(halve bool, tolerance float64) float64 {
	low, high := b.low.x[0], b.high.x[0]
	middle := low + (high-low)/2
	x := low + (high-low)*b.lowScore/(b.lowScore-b.highScore)
	if halve || high-low <= tolerance || math.IsNaN(x) {
		return middle
	}
	return math.Max(low+tolerance/2, math.Min(high-tolerance/2, x))
}

// take narrows the bracket by a try and reports whether it is narrow enough.
func (b *bracket) take(t trial, tolerance float64) bool {
	if !t.usable {
		return true // a gap in the model: the best on this side of it stays
	}
	step := math.Abs(t.x[0] - b.last.x[0])
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
	return step <= tolerance || b.high.x[0]-b.low.x[0] <= tolerance
}

// fitPairs frees the suspects two at a time: a coarse grid over both ranges and
// the two fits of each alone give the start, from which Newton steps with the
// information matrix follow the score to zero.
func (q *inquiry) fitPairs(single []trial, nominal float64) []PairFit {
	var starts []trial
	var pairs [][2]int
	for a := range q.suspects {
		for b := a + 1; b < len(q.suspects); b++ {
			pairs = append(pairs, [2]int{a, b})
			starts = append(starts, q.pairStarts(a, b, single)...)
		}
	}
	q.run(starts)
	best := make([]trial, len(pairs))
	per := 0
	if len(pairs) > 0 {
		per = len(starts) / len(pairs)
	}
	for i := range pairs {
		for _, t := range starts[i*per : (i+1)*per] {
			if t.usable && (!best[i].usable || t.likelihood() < best[i].likelihood()) {
				best[i] = t
			}
		}
	}
	best = slices.DeleteFunc(best, func(t trial) bool { return !t.usable })
	q.descend(best)
	fits := make([]PairFit, len(best))
	for i := range best {
		fits[i] = q.pairFit(&best[i], nominal)
	}
	slices.SortStableFunc(fits, func(a, b PairFit) int { return cmp.Compare(a.Misfit, b.Misfit) })
	return fits
}

func (q *inquiry) pairStarts(a, b int, single []trial) []trial {
	sa, sb := q.suspects[a], q.suspects[b]
	both := func(x, y float64) trial { return trial{freed: [2]int{a, b}, x: [2]float64{x, y}} }
	starts := []trial{
		both(single[a].x[0], sb.clamp(q.base[sb.Quantity.value])),
		both(sa.clamp(q.base[sa.Quantity.value]), single[b].x[0]),
	}
	for i := range pairPoints {
		for j := range pairPoints {
			starts = append(starts, both(sa.from+sa.width()*float64(i)/(pairPoints-1),
				sb.from+sb.width()*float64(j)/(pairPoints-1)))
		}
	}
	return starts
}

// descend takes Newton steps from each trial, halving a step that leads away.
func (q *inquiry) descend(trials []trial) {
	length := make([]float64, len(trials))
	for i := range length {
		length[i] = 1
	}
	for range pairRounds {
		var tries []trial
		var of []int
		for i := range trials {
			t := &trials[i]
			step, gain := q.step(t)
			if length[i] < 1e-6 || gain <= closeEnough*(1+t.misfit) {
				continue
			}
			next := trial{freed: t.freed}
			for k := range step {
				s := q.suspects[t.freed[k]]
				next.x[k] = s.clamp(t.x[k] + length[i]*step[k]*s.width())
			}
			tries, of = append(tries, next), append(of, i)
		}
		if len(tries) == 0 {
			return
		}
		q.run(tries)
		for k, t := range tries {
			i := of[k]
			_, before := q.step(&trials[i])
			_, after := q.step(&t)
			if t.usable && after < before && t.likelihood() < trials[i].likelihood()+1 {
				trials[i], length[i] = t, math.Min(1, 2*length[i])
			} else {
				length[i] /= 2
			}
		}
	}
}

// step is the Newton step from a trial, in shares of the ranges, and what it
// should gain. A suspect at an end of its range stays there if the step leads
// out.
func (q *inquiry) step(t *trial) (step [2]float64, gain float64) {
	held := [2]bool{t.info[0][0] == 0, t.info[1][1] == 0}
	for range 3 {
		step = [2]float64{}
		a, b, c := t.info[0][0], t.info[0][1], t.info[1][1]
		switch {
		case held[0] && held[1]:
		case held[0]:
			step[1] = t.score[1] / c
		case held[1]:
			step[0] = t.score[0] / a
		default:
			a, c = a*(1+leastPairs), c*(1+leastPairs) // two that act alike share the step
			det := a*c - b*b
			step[0] = (c*t.score[0] - b*t.score[1]) / det
			step[1] = (a*t.score[1] - b*t.score[0]) / det
		}
		again := false
		for k := range step {
			s := q.suspects[t.freed[k]]
			if out := t.x[k] == s.from && step[k] < 0 || t.x[k] == s.to && step[k] > 0; out && !held[k] {
				held[k], again = true, true
				break
			}
		}
		if !again {
			break
		}
	}
	return step, step[0]*t.score[0] + step[1]*t.score[1]
}

func (q *inquiry) pairFit(t *trial, nominal float64) PairFit {
	f := PairFit{Misfit: t.misfit, Explains: 1 - t.misfit/nominal, P: survival(t.misfit, len(q.readings)-2),
		Spreads: [2]float64{math.NaN(), math.NaN()}}
	a, b, c := t.info[0][0], t.info[0][1], t.info[1][1]
	det := a*c - b*b
	for k := range t.freed {
		s := q.suspects[t.freed[k]]
		u := s.Quantity.Unit
		f.Suspects[k], f.Values[k] = s, u.FromSI(t.x[k])
		if det > leastPairs*a*c {
			f.Spreads[k] = spreadIn(u, 2*s.width()*math.Sqrt(t.info[1-k][1-k]/det))
		}
	}
	return f
}
