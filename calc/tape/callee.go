package tape

import "math"

// Callee is what the tape needs of a function. It works on SI values
// and yields [Failed] where its definition has no result.
type Callee struct {
	Name  string
	Unary func(x float64) float64    // of one number
	Slope func(x, y float64) float64 // its derivative at x, where it is y
	Eval  func(x []float64) float64  // of several
	// of several, of many cases at once: by argument and case; nil if Eval does as well
	Many      func(x [][]float64, y []float64)
	Near      func(x [][]float64, y []float64) // Many of cases that lie around one of another run, see [Program.Around]
	Slopes    func(x []float64, y float64, d []float64)
	Complaint func(x []float64) string // why there is no result
	// distance of the first number from the nearest jump of the slope; nil if it has none
	Corner func(x float64) float64
}

// Three functions that powers and derivatives are made of.
var (
	Absolute = &Callee{Name: "abs", Unary: math.Abs,
		Slope:  func(x, y float64) float64 { return Sign(x) },
		Corner: math.Abs}
	SquareRoot = &Callee{Name: "sqrt", Unary: math.Sqrt,
		Slope:     func(x, y float64) float64 { return 0.5 / y },
		Complaint: func([]float64) string { return "square root of a negative number" }}
	NaturalLog = &Callee{Name: "ln", Unary: Finite(math.Log),
		Slope:     func(x, y float64) float64 { return 1 / x },
		Complaint: func([]float64) string { return "logarithm of a number that is not above 0" }}
)

// Sign is -1, 0 or 1, and NaN for NaN.
func Sign(x float64) float64 {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return x
}

// Finite keeps a function from hiding an infinite argument or yielding one.
func Finite(f func(float64) float64) func(float64) float64 {
	return func(x float64) float64 {
		if y := f(x); !math.IsInf(y, 0) && !math.IsInf(x, 0) {
			return y
		}
		return Failed
	}
}
