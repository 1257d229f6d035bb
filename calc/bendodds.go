package calc

import (
	"fmt"
	"math"
	"slices"

	"rambook/calc/tape"
)

// odds counts where the samples of a quantity lie.
type odds struct {
	n            int
	below, above float64 // how many lie beyond a limit
	lost         int     // how many have no result
}

func (o *odds) join(more *odds) {
	o.n += more.n
	o.below += more.below
	o.above += more.above
	o.lost += more.lost
}

// drawn is what came out of the samples of one quantity.
type drawn struct {
	odds
	values []float64 // themselves, of a quantity without a verdict
}

// sample draws one case until the verdicts on some of its quantities are clear.
func (s *probedBlock) sample(i int, asked []int, subjects []subject) []drawn {
	sampler := s.sampler(asked)
	w := sampler.workers.Get()
	defer sampler.workers.Put(w)
	all := make([]drawn, len(asked))
	block := 0
	most := len(stages)
	if s.brief {
		most--
	}
	for _, stage := range stages[:most] {
		for ; block*tape.BlockSize < stage; block++ {
			drawn := s.draw(i, block, sampler.inputs)
			b := w.Run(0, tape.BlockSize, func(b *tape.Block) {
				for n, k := range sampler.inputs {
					in, z, center := b.In[n], drawn[k], s.center[k][i]
					if s.u[k] == nil {
						for x := range in {
							in[x] = z[x] + center
						}
						continue
					}
					u := s.u[k][i]
					for x := range in {
						in[x] = z[x]*u + center
					}
				}
			})
			for n, k := range asked {
				out := b.Out[facetsIn*n : facetsIn*n+facetsIn]
				all[n].add(out, &subjects[k])
				if !subjects[k].isJudged() {
					all[n].values = append(all[n].values, out[0]...)
				}
			}
		}
		clear := true
		for n, k := range asked {
			clear = clear && all[n].clear(&subjects[k])
		}
		if clear {
			break
		}
	}
	return all
}

// add counts the samples of a block.
func (o *odds) add(out [][]float64, v *subject) {
	for i, value := range out[0] {
		o.n++
		low, high := math.Inf(-1), math.Inf(1)
		if out[1] != nil && Has(v.low) {
			low = out[1][i]
		}
		if out[2] != nil && Has(v.high) {
			high = out[2][i]
		}
		u := 0.0
		if Has(v.reading) {
			value, u = v.reading, v.u
			if out[3] != nil {
				value -= out[3][i]
			}
		}
		if !tape.Usable(value) || math.IsNaN(low) || math.IsNaN(high) {
			o.lost++
			continue
		}
		o.below += beyondBy(low-value, u, value, low)
		o.above += beyondBy(value-high, u, value, high)
	}
}

// beyondBy is the probability that a sample is beyond a limit, of which it is
// the distance away, where it has a standard uncertainty u of its own.
func beyondBy(distance, u, value, limit float64) float64 {
	switch {
	case math.IsInf(limit, 0):
		return 0
	case u > 0:
		const grid = 1 << 22 // on which the sum of a billion is exact, in whatever order they come
		return math.Round(math.Erfc(-distance/u/math.Sqrt2)/2*grid) / grid
	case distance > limitSlack*math.Max(math.Abs(value), math.Abs(limit)):
		return 1
	}
	return 0
}

// clear reports whether more samples would hardly change the verdict on a
// quantity: that of its verdict, or of its spread where there is none.
func (o *odds) clear(v *subject) bool {
	if !v.isJudged() {
		return o.n >= stages[1]
	}
	const sure = 3.5 // standard deviations of a count
	n := float64(o.n)
	for _, outside := range [...]float64{o.below, o.above, n - o.below - float64(o.lost),
		n - o.above - float64(o.lost)} {
		if off := outside - lowTail*n; outside > 0 && math.Abs(off) < sure*math.Sqrt(lowTail*n) {
			return false
		}
	}
	return o.verdict() != Unsure || o.n >= stages[1]
}

// verdict judges by the samples, with the same probability of being beyond a
// limit as value ± spread has: pass if at most 2.3 % of them lie beyond it, fail
// if at most as many do not. One without a result is on neither side.
func (o *odds) verdict() Verdict {
	n, lost := float64(o.n), float64(o.lost)
	side := func(outside float64) Verdict {
		switch tail := lowTail * n; {
		case outside+lost <= tail:
			return Pass
		case n-outside <= tail:
			return Fail
		}
		return Unsure
	}
	return max(side(o.below), side(o.above))
}

// inside is the share of the samples that keep both limits.
func (o *odds) inside() float64 {
	return math.Max(0, 1-(o.below+o.above+float64(o.lost))/float64(o.n))
}

// tenth is how much of a spread may be in doubt without a word.
const tenth = 0.1

// interval gives half the width of the interval that holds 95.45 % of the
// samples, and how far their mean is from a value.
func (o *drawn) interval(value float64) (half, shift float64) {
	o.values = slices.DeleteFunc(o.values, func(x float64) bool { return !tape.Usable(x) })
	if len(o.values) == 0 {
		return 0, 0
	}
	slices.Sort(o.values)
	sum := 0.0
	for _, x := range o.values {
		sum += x - value
	}
	at := func(p float64) float64 { return o.values[int(p*float64(len(o.values)-1))] }
	return (at(1-lowTail) - at(lowTail)) / 2, sum / float64(len(o.values))
}

// percent writes a share.
func percent(share float64) string { return fmt.Sprintf("%.2g %%", 100*share) }
