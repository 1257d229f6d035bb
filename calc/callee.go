package calc

import "math"

// callee is what the tape needs to know of a function. It works on SI values
// and has no result (failed) where its definition has none.
type callee struct {
	name      string
	unary     func(x float64) float64    // of one number
	slope     func(x, y float64) float64 // its derivative at x, where it is y
	eval      func(x []float64) float64  // of several
	slopes    func(x []float64, y float64, d []float64)
	complaint func(x []float64) string // why there is no result
	corner    func(x float64) float64  // distance of the first number from the nearest jump of the slope; nil if it has none
}

// Three functions that powers and derivatives are made of.
var (
	absolute = &callee{name: "abs", unary: math.Abs,
		slope:  func(x, y float64) float64 { return sign(x) },
		corner: math.Abs}
	squareRoot = &callee{name: "sqrt", unary: math.Sqrt,
		slope:     func(x, y float64) float64 { return 0.5 / y },
		complaint: func([]float64) string { return "square root of a negative number" }}
	naturalLog = &callee{name: "ln", unary: finite(math.Log),
		slope:     func(x, y float64) float64 { return 1 / x },
		complaint: func([]float64) string { return "logarithm of a number that is not above 0" }}
)

// sign is -1, 0 or 1, and NaN for NaN.
func sign(x float64) float64 {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return x
}

// finite keeps a function from hiding an infinite argument or yielding one.
func finite(f func(float64) float64) func(float64) float64 {
	return func(x float64) float64 {
		if y := f(x); !math.IsInf(y, 0) && !math.IsInf(x, 0) {
			return y
		}
		return failed
	}
}
