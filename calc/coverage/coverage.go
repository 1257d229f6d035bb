// Package coverage holds what every spread stands for, and the factors that
// bring a standard uncertainty known from a few readings to it.
package coverage

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Probability is that of a normal value to lie within two standard deviations,
// which is what every spread (k = 2) stands for.
const Probability = 0.9545

// Student solves P(|T| ≤ t) = p for t. P is an incomplete beta function of
// t²/(ν + t²), and its complement one of ν/(ν + t²); the smaller of the two
// probabilities has the digits.
func Student(p, nu float64) float64 {
	if p < 0.5 {
		x := mathext.InvRegIncBeta(0.5, nu/2, p)
		return math.Sqrt(nu * x / (1 - x))
	}
	x := mathext.InvRegIncBeta(nu/2, 0.5, 1-p)
	return math.Sqrt(nu * (1 - x) / x)
}

// Factor is Student's factor with nu degrees of freedom for the probability of a
// spread. It takes some microseconds to find, so those for a few readings are
// kept.
func Factor(nu int) float64 {
	if kept := factors(); nu < len(kept) {
		return kept[nu]
	}
	return Student(Probability, float64(nu))
}

var factors = sync.OnceValue(func() *[20]float64 {
	var kept [20]float64
	for nu := 1; nu < len(kept); nu++ {
		kept[nu] = Student(Probability, float64(nu))
	}
	return &kept
})

// Near is Factor to four digits in nanoseconds, for what is wanted millions of
// times: beyond the few that are kept by the expansion about the normal
// distribution (Abramowitz and Stegun, 26.7.5).
func Near(nu int) float64 {
	if kept := factors(); nu < len(kept) {
		return kept[nu]
	}
	const z = 2.00002 // of a normal value
	const z3, z5, z7 = z * z * z, z * z * z * z * z, z * z * z * z * z * z * z
	v := float64(nu)
	return z + (z3+z)/(4*v) + (5*z5+16*z3+3*z)/(96*v*v) + (3*z7+19*z5+17*z3-15*z)/(384*v*v*v)
}

// Slopes differentiates t = Student(p, ν) by both. With u = √ν tan θ for the
// variable of the density f, ∂P/∂ν = 2∫f·∂ln f/∂ν du is an integral of smooth
// functions over θ, in which the constant of f cancels against that of f(t).
func Slopes(t, nu float64) (byP, byNu float64) {
	end := math.Atan(t / math.Sqrt(nu))
	constant := 0.5 * (mathext.Digamma((nu+1)/2) - mathext.Digamma(nu/2) - 1/nu)
	sum := 0.0
	for _, at := range legendre() {
		sin, cos := math.Sincos(at.x * end)
		sum += at.weight * math.Pow(cos, nu-1) * (constant + math.Log(cos) + (nu+1)/(2*nu)*sin*sin)
	}
	return 0.5 / distuv.StudentsT{Sigma: 1, Nu: nu}.Prob(t), -math.Sqrt(nu) * end * sum / math.Pow(math.Cos(end), nu+1)
}

// legendre gives the places and weights of a Gauss-Legendre rule on 0 to 1.
var legendre = sync.OnceValue(func() *[48]struct{ x, weight float64 } {
	var rule [48]struct{ x, weight float64 }
	x, weight := make([]float64, len(rule)), make([]float64, len(rule))
	quad.Legendre{}.FixedLocations(x, weight, 0, 1)
	for i := range rule {
		rule[i].x, rule[i].weight = x[i], weight[i]
	}
	return &rule
})
