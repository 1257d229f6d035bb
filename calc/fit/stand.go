package fit

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
)

// stand is how a case stands with some of the givens freed and set to values:
// its residuals with the covariance V = diag(u²) + J·U·Jᵀ, where U holds the
// doubtful givens but those freed. Everything is kept in units of the readings'
// own standard uncertainties, so V is 1 plus a square.
type stand struct {
	at  int       // the case
	set []int     // of Survey.Free: what is freed, in the order in which it was
	x   []float64 // its values

	usable bool
	n      int
	white  blas64.General // n × (1 + Free): L⁻¹ of the residuals, and of the slopes by each given that may be freed
	lower  blas64.Triangular
	scale  []float64 // by reading of the survey: 1/u where it takes part, else 0
	misfit float64   // rᵀ V⁻¹ r
	logDet float64   // ln det V
	info   *mat.SymDense
	score  []float64 // Jᵀ V⁻¹ r by what is freed, in shares of the ranges: it points to where the misfit falls
}

// likelihood is -2 times the logarithm of the likelihood, but for a constant:
// the misfit, and the price of a V that is wide enough to allow everything.
func (s *stand) likelihood() float64 { return s.misfit + s.logDet }

func (f *Free) width() float64 { return f.To - f.From }

// clamp moves a value into the range of a given.
func (f *Free) clamp(x float64) float64 { return clamp(x, f.From, f.To) }

// weigh fills in what a run gives for a stand.
func (v *surveyor) weigh(s *stand, l *sight) {
	s.n, s.usable = l.n, false
	if !l.usable {
		return
	}
	c, f := len(v.columns), len(v.Free)
	s.scale = make([]float64, len(v.Readings))
	s.white = blas64.General{Rows: l.n, Cols: 1 + f, Stride: 1 + f, Data: make([]float64, l.n*(1+f))}
	for i := range l.n {
		w := 1 / l.u[i]
		s.scale[l.reading[i]] = w
		s.white.Data[i*(1+f)] = w * l.residual[i]
		for k := range f {
			s.white.Data[i*(1+f)+1+k] = w * l.slopes[i*c+k]
		}
	}
	pull := v.pull(s, l)
	square := make([]float64, l.n*l.n)
	for i := range l.n {
		for k := range i + 1 {
			sum := 0.0
			a, b := pull[i*c:(i+1)*c], pull[k*c:(k+1)*c]
			for m, x := range a {
				sum += x * b[m]
			}
			if i == k {
				sum++
			}
			square[i*l.n+k] = sum
		}
	}
	var ok bool
	s.lower, ok = lapack64.Potrf(blas64.Symmetric{N: l.n, Stride: max(1, l.n), Data: square, Uplo: blas.Lower})
	if !ok && l.n > 0 {
		return
	}
	s.logDet = 0
	for i := range l.n {
		s.logDet += 2 * math.Log(square[i*l.n+i])
	}
	if l.n > 0 {
		blas64.Trsm(blas.Left, blas.NoTrans, 1, s.lower, s.white)
	}
	s.misfit = s.product(0, 0)
	s.score = make([]float64, len(s.set))
	s.info = nil
	if len(s.set) > 0 {
		s.info = mat.NewSymDense(len(s.set), nil)
	}
	for a, k := range s.set {
		s.score[a] = s.product(1+k, 0) * v.Free[k].width()
		for b, m := range s.set[:a+1] {
			s.info.SetSym(a, b, s.product(1+k, 1+m)*v.Free[k].width()*v.Free[m].width())
		}
	}
	s.usable = tape.Usable(s.misfit) && tape.Usable(s.logDet)
}

// product is aᵀ V⁻¹ b of two columns of white.
func (s *stand) product(a, b int) float64 {
	sum := 0.0
	for i := range s.n {
		sum += s.white.Data[i*s.white.Stride+a] * s.white.Data[i*s.white.Stride+b]
	}
	return sum
}

// pull is J·√U, by rows of the readings, without what the stand has freed.
func (v *surveyor) pull(s *stand, l *sight) []float64 {
	c := len(v.columns)
	pull := make([]float64, l.n*c)
	held := make([]bool, c)
	for k := range c {
		held[k] = l.doubt[k] > 0 && !(k < len(v.Free) && slices.Contains(s.set, k))
	}
	for i := range l.n {
		for k := range c {
			if held[k] {
				pull[i*c+k] = l.slopes[i*c+k] * l.doubt[k] / l.u[i]
			}
		}
	}
	if len(v.tied) > 0 { // what is freed contributes nothing and takes no part
		row := make([]float64, len(v.tied))
		for i := range l.n {
			own := pull[i*c : (i+1)*c]
			for a, k := range v.tied {
				row[a] = own[k]
			}
			tape.Mix(v.root, row)
			for a, k := range v.tied {
				own[k] = row[a]
			}
		}
	}
	return pull
}

// look runs stands, all in one go.
func (v *surveyor) lookAll(stands []*stand) {
	v.run(len(stands), func(b *tape.Block, i int) {
		s := stands[b.First+i]
		v.fill(b, i, s.at)
		for a, k := range s.set {
			b.In[v.moved[v.Free[k].Input]][i] = s.x[a]
		}
	}, func(row int, l *sight) { v.weigh(stands[row], l) }, func(row int) int { return stands[row].at })
}

// step is the Gauss-Newton step of a stand, in shares of the ranges, and what it
// should gain. A given at an end of its range stays there if the step leads out.
func (v *surveyor) step(s *stand) (step []float64, gain float64) {
	n := len(s.set)
	held := make([]bool, n)
	for a := range held {
		held[a] = s.info.At(a, a) == 0
	}
	for range n + 1 {
		step = v.solve(s, held)
		again := false
		for a, k := range s.set {
			f := &v.Free[k]
			if out := s.x[a] <= f.From && step[a] < 0 || s.x[a] >= f.To && step[a] > 0; out && !held[a] {
				held[a], again = true, true
			}
		}
		if !again {
			break
		}
	}
	for a := range step {
		gain += step[a] * s.score[a]
	}
	return step, gain
}

// leastOwnPart is the share of a given's information that must not be common
// to others freed with it; two that act alike share the step.
const leastOwnPart = 1e-10

func (v *surveyor) solve(s *stand, held []bool) []float64 {
	var open []int
	for a := range held {
		if !held[a] {
			open = append(open, a)
		}
	}
	step := make([]float64, len(held))
	if len(open) == 0 {
		return step
	}
	m := mat.NewSymDense(len(open), nil)
	b := mat.NewVecDense(len(open), nil)
	for i, a := range open {
		for k, c := range open[:i+1] {
			x := s.info.At(a, c)
			if i == k {
				x *= 1 + leastOwnPart
			}
			m.SetSym(i, k, x)
		}
		b.SetVec(i, s.score[a])
	}
	var chol mat.Cholesky
	var x mat.VecDense
	if !chol.Factorize(m) {
		return step
	}
	if err := chol.SolveVecTo(&x, b); err != nil && !conditionOnly(err) {
		return step
	}
	for i, a := range open {
		step[a] = x.AtVec(i)
	}
	return step
}

// uncertainty is the standard uncertainty of what a stand has freed, NaN where
// the readings do not tell it.
func (v *surveyor) uncertainties(s *stand) []float64 {
	u := make([]float64, len(s.set))
	for a := range u {
		u[a] = math.NaN()
	}
	var open []int
	for a := range u {
		if s.info.At(a, a) > 0 {
			open = append(open, a)
		}
	}
	if len(open) == 0 {
		return u
	}
	scaled := mat.NewSymDense(len(open), nil)
	for i, a := range open {
		for k, b := range open[:i+1] {
			scaled.SetSym(i, k, s.info.At(a, b)/math.Sqrt(s.info.At(a, a)*s.info.At(b, b)))
		}
	}
	var chol mat.Cholesky
	var inverse mat.SymDense
	if !chol.Factorize(scaled) || chol.Cond() > 1/leastOwnPart || chol.InverseTo(&inverse) != nil {
		return u
	}
	for i, a := range open {
		u[a] = v.Free[s.set[a]].width() * math.Sqrt(inverse.At(i, i)/s.info.At(a, a))
	}
	return u
}

const (
	mostRefines = 40
	closeGain   = 1e-9 // what a further step would still gain of the misfit
	leastShare  = 1.0 / 1024
)

// refine moves each stand to where its score is zero, by Gauss-Newton steps
// with the V of each place.
func (v *surveyor) refine(stands []*stand) {
	v.lookAll(stands)
	damped(len(stands), mostRefines, leastShare, func(i int, share float64) (*stand, bool) {
		s := stands[i]
		if !s.usable || len(s.set) == 0 {
			return nil, false
		}
		step, gain := v.step(s)
		t := &stand{at: s.at, set: s.set, x: make([]float64, len(s.x))}
		for a, k := range s.set {
			f := &v.Free[k]
			t.x[a] = f.clamp(s.x[a] + share*step[a]*f.width())
		}
		return t, gain > closeGain*(1+s.misfit)
	}, v.lookAll, func(i int, t *stand) bool {
		better := t.usable && t.likelihood() < stands[i].likelihood()+1e-9
		if better {
			*stands[i] = *t
		}
		return better
	})
}
