package tape

import "gonum.org/v1/gonum/mat"

// Correlations are those between the errors of inputs (JCGM 100, 5.2). A nil
// one has none.
type Correlations struct {
	between map[[2]Register]float64
}

// Set states the correlation of two inputs.
func (c *Correlations) Set(a, b Register, r float64) {
	if c.between == nil {
		c.between = map[[2]Register]float64{}
	}
	c.between[[2]Register{a, b}] = r
	c.between[[2]Register{b, a}] = r
}

// Of is the correlation of two inputs; 1 of an input with itself.
func (c *Correlations) Of(a, b Register) float64 {
	switch {
	case a == b:
		return 1
	case c == nil:
		return 0
	}
	return c.between[[2]Register{a, b}]
}

const (
	// leastOwn is the part of an input's variance that is never held to be that of
	// others: full correlation leaves none, and could not be inverted.
	leastOwn = 1e-12

	// mostOwn is how much own variance may be added where rounded correlations are
	// a little out of what is possible.
	mostOwn = 1e-4

	// noneOwn is up to which an input's own part is none but for leastOwn.
	noneOwn = 1e-5
)

// Root gives the lower triangle L with L·Lᵀ the correlations of inputs; nil if
// there are none. ok is false if no errors can be correlated in this way.
func (c *Correlations) Root(inputs []Register) (l *mat.TriDense, ok bool) {
	l, ok = c.Regular(inputs)
	if l != nil {
		for k := range inputs {
			if l.At(k, k) < noneOwn {
				l.SetTri(k, k, 0)
			}
		}
	}
	return l, ok
}

// Regular is Root with a little of its own left to each input, so that the
// triangle can be inverted.
func (c *Correlations) Regular(inputs []Register) (l *mat.TriDense, ok bool) {
	if c == nil || len(c.between) == 0 || len(inputs) == 0 {
		return nil, true
	}
	n := len(inputs)
	r := mat.NewSymDense(n, nil)
	tied := false
	for i := range n {
		r.SetSym(i, i, 1+leastOwn)
		for k := range i {
			x := c.Of(inputs[i], inputs[k])
			tied = tied || x != 0
			r.SetSym(i, k, x)
		}
	}
	if !tied {
		return nil, true
	}
	var chol mat.Cholesky
	ok = chol.Factorize(r)
	for ridge := leastOwn; !ok && ridge < mostOwn; ridge *= 10 { // correlations are written with so many digits only
		for i := range n {
			r.SetSym(i, i, 1+ridge)
		}
		ok = chol.Factorize(r)
	}
	if !ok {
		return nil, false
	}
	l = &mat.TriDense{}
	chol.LTo(l)
	return l, true
}

// Mix turns what inputs contribute to a result, each by its own error, into the
// contributions of as many errors that are independent of each other: Lᵀ·parts,
// in place. Their squares add up.
func Mix(l *mat.TriDense, parts []float64) {
	raw := l.RawTriangular()
	for k := range parts {
		sum := 0.0
		for i := k; i < len(parts); i++ {
			sum += raw.Data[i*raw.Stride+k] * parts[i]
		}
		parts[k] = sum
	}
}

// Impossible names the inputs whose errors cannot be correlated as stated, since
// the variance of a sum of them would be negative; nil where all can.
func (c *Correlations) Impossible(inputs []Register) []Register {
	if _, ok := c.Regular(inputs); ok {
		return nil
	}
	r := mat.NewSymDense(len(inputs), nil)
	for i := range inputs {
		for k := range i + 1 {
			r.SetSym(i, k, c.Of(inputs[i], inputs[k]))
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(r, true) {
		return inputs
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	const part = 0.1 // of the sum of least variance
	var worst []Register
	for i, at := range inputs {
		if x := vectors.At(i, 0); x > part || x < -part {
			worst = append(worst, at)
		}
	}
	return worst
}
