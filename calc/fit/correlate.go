package fit

import (
	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
)

// Correlations are those between the errors of givens (JCGM 100, 5.2). A nil
// one has none.
type Correlations struct {
	between map[[2]tape.Register]float64
}

// Set states the correlation of two inputs.
func (c *Correlations) Set(a, b tape.Register, r float64) {
	if c.between == nil {
		c.between = map[[2]tape.Register]float64{}
	}
	c.between[[2]tape.Register{a, b}] = r
	c.between[[2]tape.Register{b, a}] = r
}

// Of is the correlation of two inputs; 1 of an input with itself.
func (c *Correlations) Of(a, b tape.Register) float64 {
	switch {
	case a == b:
		return 1
	case c == nil:
		return 0
	}
	return c.between[[2]tape.Register{a, b}]
}

// leastOwn is the part of an input's variance that is never held to be that of
// others: full correlation leaves none, and could not be inverted.
const leastOwn = 1e-12

// whiten gives W with WᵀW the inverse of the covariance of inputs with standard
// uncertainties u.
func (c *Correlations) whiten(inputs []tape.Register, u []float64) *mat.Dense {
	n := len(inputs)
	if n == 0 {
		return nil
	}
	w := mat.NewDense(n, n, nil)
	l := c.root(inputs)
	for i := range n {
		w.Set(i, i, 1/u[i])
	}
	if l == nil {
		return w
	}
	// W = L⁻¹·diag(1/u)
	var solved mat.Dense
	if err := solved.Solve(l, w); err != nil && !conditionOnly(err) {
		return w
	}
	return &solved
}

// root gives the lower triangle L with L·Lᵀ the correlations of inputs; nil if
// there are none.
func (c *Correlations) root(inputs []tape.Register) *mat.TriDense {
	if c == nil || len(c.between) == 0 {
		return nil
	}
	n := len(inputs)
	r := mat.NewSymDense(n, nil)
	any := false
	for i := range n {
		r.SetSym(i, i, 1+leastOwn)
		for k := range i {
			x := c.Of(inputs[i], inputs[k])
			any = any || x != 0
			r.SetSym(i, k, x)
		}
	}
	var chol mat.Cholesky
	if !any || !chol.Factorize(r) {
		return nil
	}
	var l mat.TriDense
	chol.LTo(&l)
	return &l
}
