package calc

import (
	"cmp"
	"math"
	"slices"

	"rambook/calc/optimum"
	"rambook/calc/tape"
	"rambook/units/sorting"
)

// keep collects the limits that depend on the choice. A given's own limit that
// is a number is an end of its range already.
func (c *chooser) keep(reached []bool) {
	for _, q := range c.model.Quantities {
		if q.IsText() || q.IsVerdict() || q.value == tape.None {
			continue
		}
		chosen := slices.ContainsFunc(c.Choices, func(o Choice) bool { return o.Quantity == q })
		for _, low := range []bool{true, false} {
			limit := q.highAt
			if low {
				limit = q.lowAt
			}
			if limit == tape.None || !reached[q.value] && !reached[limit] {
				continue
			}
			if chosen && !reached[limit] && c.isRanged(q) && !c.sure {
				continue
			}
			if v := c.base[limit]; tape.IsMissing(v) && !reached[limit] {
				c.leaveOut(q)
				continue
			}
			c.addKeeper(q, low, limit, false, math.NaN())
		}
	}
}

// keepSpreads takes the spread of each margin off it, so that what is chosen
// passes and is not only likely to.
func (c *chooser) keepSpreads() {
	var roots []tape.Register
	for _, k := range c.keepers {
		roots = append(roots, k.margin)
	}
	s := tape.Differentiate(c.tape, c.model.seeds(), roots)
	for i := range c.keepers {
		if spread := s.Spread(c.keepers[i].margin); spread != tape.None {
			kept := c.tape.Mul(c.tape.Constant(keptSpread), spread)
			c.keepers[i].margin = c.tape.Binary(tape.OpSub, c.keepers[i].margin, kept)
		}
	}
}

// keptSpread is how much of a spread limits are kept by: a formula that bends may
// have a longer tail than its derivatives say, and what is chosen is judged by
// samples.
const keptSpread = 1.03

func (c *chooser) isRanged(q *Quantity) bool {
	return slices.ContainsFunc(c.ranged, func(i int) bool { return c.Choices[i].Quantity == q })
}

func (c *chooser) leaveOut(q *Quantity) {
	if !slices.Contains(c.Unjudged, q) {
		c.Unjudged = append(c.Unjudged, q)
	}
}

// evaluate computes the goal and the margins for values of the ranged givens,
// with the listed ones as they are in sizes.
func (c *chooser) evaluate(sizes []float64, x, out [][]float64) {
	sign := 1.0
	if c.Most {
		sign = -1
	}
	for first := 0; first < len(out[0]); first += tape.BlockSize {
		n := min(tape.BlockSize, len(out[0])-first)
		b := c.worker.Run(0, n, func(b *tape.Block) {
			for k, i := range c.ranged {
				copy(b.In[i], x[k][first:first+n])
			}
			for k, i := range c.listed {
				for j := range n {
					b.In[i][j] = sizes[k]
				}
			}
		})
		for k := range out {
			for j, v := range b.Out[k] {
				if !tape.Usable(v) {
					v = math.NaN()
				}
				if k == 0 {
					v *= sign
				}
				out[k][first+j] = v
			}
		}
	}
}

// compile makes the program that evaluate runs.
func (c *chooser) compile() {
	outputs := []tape.Register{c.Goal.value}
	for _, k := range c.keepers {
		outputs = append(outputs, k.margin)
	}
	c.worker = tape.NewProgram(c.tape, c.inputs(), outputs, c.tape.Continue(c.base)).NewWorker(tape.BlockSize)
}

// middle is a choice from the middle of the ranges, and the first of what is listed.
func (c *chooser) middle() map[tape.Register]float64 {
	set := map[tape.Register]float64{}
	for k, i := range c.ranged {
		set[c.Choices[i].Quantity.value] = c.from[k] + 0.5*(c.to[k]-c.from[k])
	}
	for k, i := range c.listed {
		set[c.Choices[i].Quantity.value] = c.lists[k][0]
	}
	return set
}

// dropOpen leaves out limits that are open for every choice. It looks at the
// middle of the ranges.
func (c *chooser) dropOpen() {
	values := c.tape.Once(c.middle())
	c.keepers = slices.DeleteFunc(c.keepers, func(k keeper) bool {
		if !tape.IsMissing(values[k.margin]) {
			return false
		}
		c.leaveOut(k.Quantity)
		return true
	})
}

// search goes through the combinations of the lists, and for each of them, or
// for those that promise most, through the ranges.
func (c *chooser) search() {
	c.dropOpen()
	c.compile()
	count := 1
	for _, list := range c.lists {
		count *= len(list)
	}
	order := make([]int, count)
	for i := range order {
		order[i] = i
	}
	if len(c.ranged) > 0 && count > mostSearches {
		order = c.promising(count)
	}
	var best *optimum.Point
	var bestSizes []float64
	var closest *optimum.Point
	var closestSizes []float64
	for _, number := range order {
		sizes := c.sizes(number)
		task := &optimum.Task{From: c.from, To: c.to, Limits: len(c.keepers),
			Values: func(x, out [][]float64) { c.evaluate(sizes, x, out) }}
		found := task.Least()
		c.Starts += found.Starts
		if found.Best != nil && (best == nil || found.Best.Value < best.Value) {
			best, bestSizes = found.Best, sizes
			c.Ended = found.Best.Starts
			c.Others = nil
			for _, o := range found.Others {
				c.Others = append(c.Others, c.other(o, sizes))
			}
		}
		if found.Closest != nil && (closest == nil || c.broken(found.Closest) < c.broken(closest)) {
			closest, closestSizes = found.Closest, sizes
		}
	}
	switch {
	case best != nil:
		c.settle(best, bestSizes)
	case closest != nil:
		c.choose(closest.X, closestSizes)
		for k, v := range closest.Limits {
			if keeper := c.keepers[k]; v < 0 {
				b := c.bound(keeper)
				if b.Price = b.Unit.DiffFromSI(-v); -v > limitSlack*math.Abs(b.Unit.ToSI(b.Limit)) { // less is rounding
					c.Broken = append(c.Broken, b)
				}
			}
		}
	default:
		c.explain()
	}
}

// broken is how far a point is from being allowed: the sum of what the limits
// are broken by, as shares of them.
func (c *chooser) broken(p *optimum.Point) float64 {
	sum := 0.0
	for k, v := range p.Limits {
		if keeper := c.keepers[k]; v < 0 {
			limit := c.bound(keeper)
			sum += -v / math.Max(math.Abs(limit.Unit.DiffToSI(limit.Limit)), math.SmallestNonzeroFloat64)
		}
	}
	return sum
}

// sizes gives one combination of the lists.
func (c *chooser) sizes(number int) []float64 {
	sizes := make([]float64, len(c.lists))
	for k, list := range c.lists {
		sizes[k] = list[number%len(list)]
		number /= len(list)
	}
	return sizes
}

// promising orders the combinations by the best that a coarse look finds, and
// keeps the first.
func (c *chooser) promising(count int) []int {
	const looks = 5 // along each range
	points := 1
	for range c.ranged {
		points *= looks
	}
	x, out := make([][]float64, len(c.ranged)), make([][]float64, 1+len(c.keepers))
	for k := range x {
		x[k] = make([]float64, points)
		step := 1
		for range k {
			step *= looks
		}
		for i := range x[k] {
			x[k][i] = c.from[k] + (c.to[k]-c.from[k])*float64(i/step%looks)/(looks-1)
		}
	}
	for k := range out {
		out[k] = make([]float64, points)
	}
	merits, order := make([]float64, count), make([]int, count)
	for number := range merits {
		c.evaluate(c.sizes(number), x, out)
		merits[number], order[number] = math.Inf(1), number
		for i := range points {
			merit := out[0][i]
			for k := range c.keepers {
				if v := out[1+k][i]; v < 0 {
					merit += 10 * math.Abs(merit) * -v
				}
			}
			if merit < merits[number] {
				merits[number] = merit
			}
		}
	}
	sorting.Stable(order, func(a, b int) int { return cmp.Compare(merits[a], merits[b]) })
	return order[:mostSearches]
}
