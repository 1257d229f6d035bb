package fit

// bracket holds the place where a function of one number passes zero between two
// ends, and is narrowed by the secant in the Illinois manner: an end that stays twice
// running counts for half, so that the other cannot creep. Source: Dowell and Jarratt,
// BIT 11 (1971), from memory.
type bracket struct {
	above, below float64 // the ends: where the function is above zero, and where it is not
	over, under  float64 // the function there, as the secant weighs it
	moved        int     // the end that moved last: -1 above, 1 below, 0 none
}

// secant is where the straight line between the two ends passes zero.
func (b *bracket) secant() float64 {
	return b.above + (b.below-b.above)*b.over/(b.over-b.under)
}

// take moves the end to x on whose side of zero the function f is there.
func (b *bracket) take(x, f float64) {
	if f > 0 {
		if b.moved < 0 {
			b.under /= 2
		}
		b.above, b.over, b.moved = x, f, -1
		return
	}
	if b.moved > 0 {
		b.over /= 2
	}
	b.below, b.under, b.moved = x, f, 1
}
