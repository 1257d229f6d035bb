package fit

import (
	"cmp"
	"slices"

	"rambook/units/sorting"
)

// Pairs frees the suspects two at a time, and gives the pairs that have an
// answer, least misfit first. A coarse grid over both ranges and the two fits of
// each alone give the start, from which Newton steps with the information matrix
// follow the score to zero. single is what Alone has found.
func (q *Inquiry) Pairs(single []Trial) []Trial {
	var starts []Trial
	var pairs [][2]int
	for a := range q.Suspects {
		for b := a + 1; b < len(q.Suspects); b++ {
			pairs = append(pairs, [2]int{a, b})
			starts = append(starts, q.pairStarts(a, b, single)...)
		}
	}
	q.run(starts)
	best := make([]Trial, len(pairs))
	per := 0
	if len(pairs) > 0 {
		per = len(starts) / len(pairs)
	}
	for i := range pairs {
		for _, t := range starts[i*per : (i+1)*per] {
			if t.usable && (!best[i].usable || t.Likelihood() < best[i].Likelihood()) {
				best[i] = t
			}
		}
	}
	best = slices.DeleteFunc(best, func(t Trial) bool { return !t.usable })
	q.descend(best)
	sorting.Stable(best, func(a, b Trial) int { return cmp.Compare(a.Misfit, b.Misfit) })
	return best
}

func (q *Inquiry) pairStarts(a, b int, single []Trial) []Trial {
	sa, sb := &q.Suspects[a], &q.Suspects[b]
	both := func(x, y float64) Trial { return Trial{Freed: [2]int{a, b}, X: [2]float64{x, y}} }
	starts := []Trial{
		both(single[a].X[0], sb.clamp(q.base[sb.Input])),
		both(sa.clamp(q.base[sa.Input]), single[b].X[0]),
	}
	for i := range pairPoints {
		for j := range pairPoints {
			starts = append(starts, both(sa.From+sa.width()*float64(i)/(pairPoints-1),
				sb.From+sb.width()*float64(j)/(pairPoints-1)))
		}
	}
	return starts
}

// descend takes Newton steps from each trial.
func (q *Inquiry) descend(trials []Trial) {
	damped(len(trials), pairRounds, pairLeast, func(i int, share float64) (Trial, bool) {
		t := &trials[i]
		step, gain := q.step(t)
		next := Trial{Freed: t.Freed}
		for k := range step {
			s := &q.Suspects[t.Freed[k]]
			next.X[k] = s.clamp(t.X[k] + share*step[k]*s.width())
		}
		return next, gain > closeEnough*(1+t.Misfit)
	}, q.run, func(i int, t Trial) bool {
		_, before := q.step(&trials[i])
		_, after := q.step(&t)
		better := t.usable && after < before && t.Likelihood() < trials[i].Likelihood()+1
		if better {
			trials[i] = t
		}
		return better
	})
}

// step is the Newton step from a trial, in shares of the ranges, and what it
// should gain. A suspect at an end of its range stays there if the step leads
// out.
func (q *Inquiry) step(t *Trial) (step [2]float64, gain float64) {
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
			a, c = a*(1+leastOwnPart), c*(1+leastOwnPart) // two that act alike share the step
			det := a*c - b*b
			step[0] = (c*t.score[0] - b*t.score[1]) / det
			step[1] = (a*t.score[1] - b*t.score[0]) / det
		}
		again := false
		for k := range step {
			s := &q.Suspects[t.Freed[k]]
			if out := t.X[k] == s.From && step[k] < 0 || t.X[k] == s.To && step[k] > 0; out && !held[k] {
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
