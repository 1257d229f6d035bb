package line

import "rambook/calc/tape"

// Taped is a straight line on a tape.
type Taped struct{ Slope, MeanX, MeanY tape.Register }

// Intercept is its value at x = 0.
func (l Taped) Intercept(t *tape.Tape) tape.Register {
	return t.Binary(tape.OpSub, l.MeanY, t.Mul(l.Slope, l.MeanX))
}

// OnTape fits a line by least squares. Both coordinates are taken from their
// first value and then from their mean, so that nothing is lost where they are
// large beside their differences, and equal x leave exactly nothing.
func OnTape(t *tape.Tape, x, y []tape.Register) Taped {
	dx, meanX := fromMean(t, x)
	dy, meanY := fromMean(t, y)
	squares, products := make([]tape.Register, len(x)), make([]tape.Register, len(x))
	for i := range dx {
		squares[i], products[i] = t.Power(dx[i], 2), t.Mul(dx[i], dy[i])
	}
	width := t.Unary(someWidth, t.Fold(tape.OpAdd, squares))
	return Taped{t.Binary(tape.OpDiv, t.Fold(tape.OpAdd, products), width), meanX, meanY}
}

// fromMean takes values from their mean.
func fromMean(t *tape.Tape, values []tape.Register) (from []tape.Register, mean tape.Register) {
	from = make([]tape.Register, len(values))
	for i, v := range values {
		from[i] = t.Binary(tape.OpSub, v, values[0])
	}
	shift := t.Mean(from)
	mean = t.Binary(tape.OpAdd, values[0], shift)
	for i := range from {
		from[i] = t.Binary(tape.OpSub, from[i], shift)
	}
	return from, mean
}

// someWidth passes on how far the x of a line lie apart, unless all are alike.
var someWidth = &tape.Callee{Name: "line",
	Unary: func(x float64) float64 {
		if x == 0 {
			return tape.Failed
		}
		return x
	},
	Slope:     func(x, y float64) float64 { return 1 },
	Complaint: func([]float64) string { return "a line needs two different values of x, here all are alike" }}
