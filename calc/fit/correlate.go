package fit

import (
	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
)

// whiten gives W with WᵀW the inverse of the covariance of inputs with standard
// uncertainties u.
func whiten(ties *tape.Correlations, inputs []tape.Register, u []float64) *mat.Dense {
	n := len(inputs)
	if n == 0 {
		return nil
	}
	w := mat.NewDense(n, n, nil)
	for i := range n {
		w.Set(i, i, 1/u[i])
	}
	l, _ := ties.Regular(inputs)
	if l == nil {
		return w
	}
	var solved mat.Dense // W = L⁻¹·diag(1/u)
	if err := solved.Solve(l, w); err != nil && !conditionOnly(err) {
		return w
	}
	return &solved
}
