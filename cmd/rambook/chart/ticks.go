package chart

import (
	"math"
	"strconv"
	"time"

	"rambook/units"
)

// tick is a labelled place on an axis.
type tick struct {
	at    float64
	label string
}

// ticks divides a range at round numbers, into about so many parts.
func (a Axis) ticks(r interval, parts int) []tick {
	if a.Date {
		return dateTicks(r, parts)
	}
	step, exponent := a.roundStep((r.max - r.min) / float64(max(1, parts)))
	const slack = 1e-9 // an end of the range counts as inside
	first, last := math.Ceil(r.min/step-slack), math.Floor(r.max/step+slack)
	var list []tick
	for i := first; i <= last; i++ {
		list = append(list, tick{i * step, tickLabel(i*step, exponent)})
	}
	return list
}

// roundStep is that of an axis, where nothing may stand between whole numbers.
func (a Axis) roundStep(step float64) (rounded float64, exponent int) {
	if a.Whole {
		step = math.Max(step, 1)
	}
	return roundStep(step)
}

// roundStep returns the least of 1, 2 and 5 times a power of ten that is not
// less than step, and that power.
func roundStep(step float64) (rounded float64, exponent int) {
	exponent = int(math.Floor(math.Log10(step)))
	unit := math.Pow10(exponent)
	for _, digit := range []float64{1, 2, 5} {
		if step <= digit*unit*(1+1e-9) {
			return digit * unit, exponent
		}
	}
	return 10 * unit, exponent + 1
}

// tickLabel writes a multiple of a step of that power of ten.
func tickLabel(x float64, exponent int) string {
	const longest = 1e6
	switch {
	case x == 0:
		return "0"
	case math.Abs(x) >= longest || exponent < -5:
		digits := int(math.Floor(math.Log10(math.Abs(x))*(1+1e-12))) - exponent
		return strconv.FormatFloat(x, 'e', max(0, digits), 64)
	}
	return strconv.FormatFloat(x, 'f', max(0, -exponent), 64)
}

// dateTicks divides a range at days.
func dateTicks(r interval, parts int) []tick {
	days := (r.max - r.min) / units.Day / float64(max(1, parts))
	step := 1.0
	for _, s := range []float64{1, 2, 7, 14, 28, 42, 56, 84, 112, 140, 182, 273, 364} {
		if step = s; days <= s {
			break
		}
	}
	if days > step { // years
		years, _ := roundStep(days / 364)
		step = 364 * years
	}
	var list []tick
	for at := math.Ceil(r.min/units.Day-1e-9) * units.Day; at <= r.max+1; at += step * units.Day {
		list = append(list, tick{at, dateLabel(at)})
	}
	return list
}

func dateLabel(at float64) string { return time.Unix(int64(at), 0).UTC().Format(time.DateOnly) }

// spacedOut places things of the given sizes as near as can be to where they want
// their centres, so that none overlaps its neighbour and all lie between low
// and high. It needs want in rising order, and returns the centres.
//
// With the sizes before each centre taken off, the centres only have to rise,
// and the nearest rising numbers are the means of the stretches that fall
// (pooling of adjacent violators).
func spacedOut(want, size []float64, low, high float64) []float64 {
	type pool struct {
		sum float64
		n   int
	}
	var pools []pool
	before := make([]float64, len(want))
	total := 0.0
	for i := range want {
		before[i] = total + size[i]/2
		total += size[i]
		pools = append(pools, pool{want[i] - before[i], 1})
		for k := len(pools) - 1; k > 0 && pools[k-1].sum*float64(pools[k].n) > pools[k].sum*float64(pools[k-1].n); k-- {
			pools[k-1] = pool{pools[k-1].sum + pools[k].sum, pools[k-1].n + pools[k].n}
			pools = pools[:k]
		}
	}
	var at []float64
	for _, p := range pools {
		mean := math.Max(low, math.Min(high-total, p.sum/float64(p.n)))
		for range p.n {
			at = append(at, mean+before[len(at)])
		}
	}
	return at
}
