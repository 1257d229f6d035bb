package line

import "rambook/calc/tape"

// Taped is a straight line on a tape.
type Taped struct{ Slope, MeanX, MeanY tape.Register }

// Intercept is its value at x = 0.
func (l Taped) Intercept(t *tape.Tape) tape.Register {
	return t.Binary(tape.OpSub, l.MeanY, t.Mul(l.Slope, l.MeanX))
}

// OnTape fits a line by least squares, each point with its weight if there are
// any. Both coordinates are taken from their
// first value and then from their mean, so that nothing is lost where they are
// large beside their differences, and equal x leave exactly nothing.
func OnTape(t *tape.Tape, x, y []tape.Register, weights ...[]tape.Register) Taped {
	sum := func(list []tape.Register) tape.Register { return t.Fold(tape.OpAdd, list) }
	weigh := func(list []tape.Register) []tape.Register { return list }
	mean := t.Mean
	if len(weights) > 0 {
		own := make([]tape.Register, len(x))
		for i, w := range weights[0] {
			own[i] = t.Unary(asWeight, w)
		}
		all := t.Unary(someWeight, sum(own))
		weigh = func(list []tape.Register) []tape.Register {
			weighed := make([]tape.Register, len(list))
			for i, r := range list {
				weighed[i] = t.Mul(own[i], r)
			}
			return weighed
		}
		mean = func(list []tape.Register) tape.Register { return t.Binary(tape.OpDiv, sum(weigh(list)), all) }
	}
	dx, meanX := fromMean(t, x, mean)
	dy, meanY := fromMean(t, y, mean)
	squares, products := make([]tape.Register, len(x)), make([]tape.Register, len(x))
	for i := range dx {
		squares[i], products[i] = t.Power(dx[i], 2), t.Mul(dx[i], dy[i])
	}
	width := t.Unary(someWidth, sum(weigh(squares)))
	return Taped{t.Binary(tape.OpDiv, sum(weigh(products)), width), meanX, meanY}
}

// fromMean takes values from their mean.
func fromMean(t *tape.Tape, values []tape.Register,
	average func([]tape.Register) tape.Register) (from []tape.Register, mean tape.Register) {
	from = make([]tape.Register, len(values))
	for i, v := range values {
		from[i] = t.Binary(tape.OpSub, v, values[0])
	}
	shift := average(from)
	mean = t.Binary(tape.OpAdd, values[0], shift)
	for i := range from {
		from[i] = t.Binary(tape.OpSub, from[i], shift)
	}
	return from, mean
}

// asWeight passes on what may be the weight of a point, someWeight the sum of
// weights unless all are 0.
var (
	asWeight = passing("weight", "the weight of a point is below 0", func(x float64) bool { return !(x < 0) })

	someWeight = passing("weight", "the weights of all points are 0", func(x float64) bool { return x != 0 })
)

// passing passes on the numbers that are sound.
func passing(name, complaint string, sound func(float64) bool) *tape.Callee {
	return &tape.Callee{Name: name,
		Unary: func(x float64) float64 {
			if !sound(x) {
				return tape.Failed
			}
			return x
		},
		Slope:     func(x, y float64) float64 { return 1 },
		Complaint: func([]float64) string { return complaint }}
}

// someWidth passes on how far the x of a line lie apart, unless all are alike.
var someWidth = passing("line", "a line needs two different values of x, here all are alike",
	func(x float64) bool { return x != 0 })
