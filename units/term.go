package units

import (
	"errors"
	"math"
)

// A term is a unit under construction: num/den × pi^(pi/6) of the coherent SI
// unit of its dimension. The power of pi is kept apart, in sixths, so that it
// cancels exactly.
type term struct {
	dim      Dimension
	num, den float64
	pi       int
}

var (
	errScale = errors.New("a unit too large or too small to compute with")
	errPower = errors.New("a power of a unit beyond 21 or no multiple of 1/6")
)

func (t term) mul(o term) (term, error) {
	dim, err := t.dim.Mul(o.dim)
	if err != nil {
		return t, err
	}
	return term{dim, t.num * o.num, t.den * o.den, t.pi + o.pi}.checked()
}

func (t term) div(o term) (term, error) {
	dim, err := t.dim.Div(o.dim)
	if err != nil {
		return t, err
	}
	return term{dim, t.num * o.den, t.den * o.num, t.pi - o.pi}.checked()
}

// pow raises a term to a power that is a multiple of 1/6.
func (t term) pow(p float64) (term, error) {
	dim, err := t.dim.Pow(p)
	if err != nil {
		return t, err
	}
	sixths := math.Round(p * one)
	if math.Abs(p*one-sixths) > sixthSlack || math.Abs(sixths) > maxSixths {
		return t, errPower
	}
	n := int(sixths)
	num, den := power(t.num, max(n, -n)), power(t.den, max(n, -n))
	if n < 0 {
		num, den = den, num
	}
	pi := t.pi * n
	if pi%one != 0 {
		num, pi = num*math.Pow(math.Pi, float64(pi)/(one*one)), 0
	}
	return term{dim, num, den, pi / one}.checked()
}

// power is x to a number of sixths, taking roots only where they are needed,
// so that whole numbers stay whole.
func power(x float64, sixths int) float64 {
	if sixths%2 != 0 {
		x = math.Sqrt(x)
	} else {
		sixths /= 2
	}
	if sixths%3 != 0 {
		x = math.Cbrt(x)
	} else {
		sixths /= 3
	}
	y := 1.0
	for range sixths {
		y *= x
	}
	return y
}

// checked cancels the common factors of numerator and denominator, which
// keeps them whole numbers for longer, and refuses scales that a float64
// cannot hold with room to spare.
func (t term) checked() (term, error) {
	if isExactInteger(t.num) && isExactInteger(t.den) {
		a, b := int64(t.num), int64(t.den)
		for b != 0 {
			a, b = b, a%b
		}
		t.num, t.den = t.num/float64(a), t.den/float64(a)
	}
	for _, f := range []float64{t.num, t.den, t.num / t.den} {
		if !(f > 1e-150 && f < 1e150) {
			return t, errScale
		}
	}
	return t, nil
}

func isExactInteger(x float64) bool {
	return x >= 1 && x < 1<<53 && x == math.Trunc(x)
}

// unit closes the term under the symbol that the user wrote for it.
func (t term) unit(symbol string) Unit {
	u := Unit{Symbol: symbol, Dim: t.dim, num: t.num, den: t.den}
	switch {
	case t.pi > 0:
		u.num *= math.Pow(math.Pi, float64(t.pi)/one)
	case t.pi < 0:
		u.den *= math.Pow(math.Pi, float64(-t.pi)/one)
	}
	return u
}
