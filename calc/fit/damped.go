package fit

import (
	"math"
	"slices"
)

// damped takes steps from n places side by side, so that each round is one run of
// the model. next gives what to try from place i with that share of its full step,
// and whether a step is worth it; run looks at all tries of a round; take moves
// place i if the try is better there, and reports whether it was. A step that leads
// away is halved, down to the least share; after one that does not it may be twice
// as long again.
func damped[T any](n, rounds int, least float64, next func(i int, share float64) (T, bool), run func([]T),
	take func(i int, t T) bool) {
	share := slices.Repeat([]float64{1}, n)
	for range rounds {
		var tries []T
		var of []int
		for i := range n {
			if share[i] < least {
				continue
			}
			if t, worth := next(i, share[i]); worth {
				tries, of = append(tries, t), append(of, i)
			}
		}
		if len(tries) == 0 {
			return
		}
		run(tries)
		for k, t := range tries {
			if i := of[k]; take(i, t) {
				share[i] = math.Min(1, 2*share[i])
			} else {
				share[i] /= 2
			}
		}
	}
}
