package calc

import "math"

// interval is a value to be judged, with what is known of its limits. All
// numbers are SI; a number that is absent is NaN.
type interval struct {
	value     float64
	low, high float64
	// The spreads of value - low and of value - high. They differ from the
	// value's own spread only where a limit is a formula with a spread.
	lowSpread, highSpread float64
}

// limitSlack is the relative distance within which a value counts as being on its
// limit, and so inside.
const limitSlack = 1e-12

// verdict judges with guarded acceptance and guarded rejection, the guard
// band being the spread (JCGM 106:2012, 8.3): pass if value ± spread is
// wholly inside, fail if it is wholly above high or below low, else unsure.
func (v interval) verdict() Verdict {
	low := side(v.value-v.low, v.lowSpread, math.Max(math.Abs(v.value), math.Abs(v.low)))
	high := side(v.high-v.value, v.highSpread, math.Max(math.Abs(v.value), math.Abs(v.high)))
	return max(low, high)
}

// side judges one limit by the distance of the value from it, inwards.
func side(margin, spread, size float64) Verdict {
	if !Has(margin) {
		return NoVerdict
	}
	if !Has(spread) {
		spread = 0
	}
	tiny := limitSlack * size
	switch {
	case margin-spread >= -tiny:
		return Pass
	case margin+spread < -tiny:
		return Fail
	}
	return Unsure
}

// inside is the probability that the true value lies within the limits, if it
// is normal with a standard uncertainty of half the spread (JCGM 106:2012,
// 7). It is NaN without a limit or without a spread.
func (v interval) inside() float64 {
	below, above := beyond(v.value-v.low, v.lowSpread), beyond(v.high-v.value, v.highSpread)
	switch {
	case !Has(below) && !Has(above):
		return math.NaN()
	case !Has(below):
		return above
	case !Has(above):
		return below
	}
	return math.Max(0, below+above-1)
}

// beyond is the probability that a margin is positive.
func beyond(margin, spread float64) float64 {
	if !Has(margin) || !Has(spread) || spread == 0 || math.IsInf(spread, 0) {
		return math.NaN()
	}
	return math.Erfc(-margin/(spread/2)/math.Sqrt2) / 2
}

// agreement is E_n (ISO 13528): the difference of reading and computed value
// over their joint spread. They agree up to 1. NaN without any spread.
func agreement(reading, readingSpread, computed, spread float64) float64 {
	joint := hypot(readingSpread, spread)
	if !Has(joint) || joint == 0 {
		return math.NaN()
	}
	return math.Abs(reading-computed) / joint
}

// hypot joins two independent spreads; an absent one counts as none.
func hypot(a, b float64) float64 {
	switch {
	case !Has(a):
		return b
	case !Has(b):
		return a
	}
	return math.Hypot(a, b)
}
