package units

import (
	"fmt"
	"math"
)

// factor is a slip that makes a number too large or too small by a number that
// has to do with circles or with counting.
type factor struct {
	times float64
	why   string
}

// factors are looked for in this order.
var factors = []factor{
	{2, "a factor of 2"},
	{4, "a factor of 4, as between a radius and a diameter squared"},
	{math.Pi, "a factor of pi"},
	{4 / math.Pi, "a factor of 4/pi, as between a square and a circle"},
	{2 * math.Pi, "a factor of 2 pi, as between a radius and a circumference, or rev and rad"},
}

// mostZeros is how far a decimal point slips.
const mostZeros = 6

// Misreadings lists the slips that explain by themselves why a number is ratio
// times what is right: a power of ten, another unit of the same scale, a factor
// of the circle. within is how near to it they must come, as a share. They name
// the slip and not the answer.
func Misreadings(ratio float64, u Unit, within float64) []string {
	near := func(times float64) bool { return math.Abs(ratio/times-1) <= within }
	var list []string
	for zeros := 1; zeros <= mostZeros; zeros++ {
		switch tens := math.Pow10(zeros); {
		case near(tens):
			list = append(list, "a power of ten, too large")
		case near(1 / tens):
			list = append(list, "a power of ten, too small")
		}
	}
	for _, other := range Alike(u) {
		if near(u.DiffToSI(1) / other.DiffToSI(1)) {
			list = append(list, fmt.Sprintf("the unit: it would be right in %s", other.Symbol))
		}
	}
	for _, f := range factors {
		switch {
		case near(f.times):
			list = append(list, f.why+", too large")
		case near(1 / f.times):
			list = append(list, f.why+", too small")
		}
	}
	return list
}

// Alike lists the units that stand on the scales of instruments, or in books,
// beside a unit.
func Alike(u Unit) []Unit {
	var list []Unit
	if u.Kind != Ordinary {
		return nil
	}
	for _, family := range readLike {
		for _, symbol := range family {
			if other, err := Parse(symbol); err == nil && other.Kind == Ordinary && other.Dim == u.Dim &&
				other.DiffToSI(1) != u.DiffToSI(1) {
				list = append(list, other)
			}
		}
	}
	return list
}
