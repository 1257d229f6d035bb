package fit

import (
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"rambook/calc/tape"
)

// Inquiry is what all fits of one diagnosis share: the readings, the givens in
// doubt, the suspects, and one program that computes the readings and their
// derivatives from the suspects.
//
// Let r be the readings minus the computed values. Readings err independently;
// computed values err together, since they share the givens. So r has the
// covariance V = diag(u_reading²) + J·U·Jᵀ, where J holds the derivatives of
// the computed values by the givens with a spread and U their variances. A
// suspect that is freed has no spread of its own then and stays out of U. Both
// J and V are those at the suspect's trial value: far from the notebook's value
// a model often answers quite differently to its givens. Everything is kept in
// units of the readings' standard uncertainties, so V is 1 plus a square.
//
// All numbers are SI.
type Inquiry struct {
	Readings []Observed
	Suspects []Free // From and To are finite

	tape     *tape.Tape
	base     []float64     // every operation, as the notebook stands
	slopes   *tape.Spreads // derivatives by the givens in doubt and the suspects
	givens   []Doubted
	column   map[tape.Register]int // of a given's register: its number in givens
	partials [][]partial           // by reading
	program  *tape.Program
	root     *mat.TriDense // of the correlations of the givens; nil for none
	steady   *tape.Worker  // for runs of a few cases

	mu    sync.Mutex
	moved []bool // by reading: some suspect changes its computed value
}

// Observed is a reading that takes part.
type Observed struct {
	Formula tape.Register
	Value   float64
	U       float64 // its standard uncertainty
}

// Doubted is an input that is not known exactly; U is 0 for a suspect that has
// no spread.
type Doubted struct {
	Input tape.Register
	U     float64
}

// partial is where the derivative of a reading by a given is found.
type partial struct {
	given int // in Inquiry.givens
	out   int // in the outputs of the program
	at    tape.Register
}

// nobody stands where no further suspect is freed.
const nobody = -1

// Trial is one fit: one or two suspects set to a value, and what the readings
// say to it. It is unusable if the model has no answer there.
type Trial struct {
	Freed  [2]int // in Inquiry.Suspects; -1 for none
	X      [2]float64
	Misfit float64 // rᵀ V⁻¹ r

	usable bool
	logDet float64 // ln det V
	// score is Jₛᵀ V⁻¹ r by freed suspect, and info is Jₛᵀ V⁻¹ Jₛ, both with the
	// suspects measured in shares of their ranges. The score points to where the
	// misfit falls; it is 0 at the best value.
	score [2]float64
	info  [2][2]float64
}

// Likelihood is -2 times the logarithm of the likelihood of the readings, but
// for a constant: the misfit, and the price of a V that is wide enough to allow
// everything.
func (t *Trial) Likelihood() float64 { return t.Misfit + t.logDet }

// U is the standard uncertainty of what a trial has set its suspect k to, NaN if
// the readings do not tell it.
func (q *Inquiry) U(t *Trial, k int) float64 {
	a, b, c := t.info[0][0], t.info[0][1], t.info[1][1]
	width := q.Suspects[t.Freed[k]].width()
	switch {
	case t.Freed[1] == nobody && a > 0:
		return width / math.Sqrt(a)
	case t.Freed[1] != nobody && a*c-b*b > leastOwnPart*a*c:
		return width * math.Sqrt(t.info[1-k][1-k]/(a*c-b*b))
	}
	return math.NaN()
}

// AtEnd reports whether the value of the suspect freed alone is an end of its
// range.
func (q *Inquiry) AtEnd(t *Trial) bool {
	s := &q.Suspects[t.Freed[0]]
	return t.X[0] == s.From || t.X[0] == s.To
}

// Possible is how much of a suspect's range its fit leaves possible, 0 to 1:
// the integral of exp(-½((x - value)/u)²) over the range, as a share of it.
func (q *Inquiry) Possible(t *Trial) float64 {
	info := t.info[0][0]
	if info == 0 {
		return 1
	}
	s := &q.Suspects[t.Freed[0]]
	u := 1 / math.Sqrt(info) // as a share of the range
	at := (t.X[0] - s.From) / s.width()
	inside := distuv.UnitNormal.CDF((1-at)/u) - distuv.UnitNormal.CDF(-at/u)
	return math.Min(1, u*math.Sqrt(2*math.Pi)*inside)
}

// Moved reports whether some suspect that was tried changes what reading j is
// compared with.
func (q *Inquiry) Moved(j int) bool { return q.moved[j] }

// Differentiable reports whether the computed value of reading j has derivatives
// as the notebook stands: without them nobody can tell how far the givens' doubt
// moves it.
func (q *Inquiry) Differentiable(j int) bool {
	return !slices.ContainsFunc(q.partials[j], func(p partial) bool { return !tape.Usable(q.base[p.at]) })
}

// alone is a trial of one suspect.
func alone(suspect int, x float64) Trial {
	return Trial{Freed: [2]int{suspect, nobody}, X: [2]float64{x, 0}}
}

// NewInquiry prepares the fits. values are those of every operation of the
// model as the notebook stands; readings, suspects and the planned readings must
// have one.
func NewInquiry(model *tape.Tape, values []float64, doubts []Doubted, readings []Observed, suspects []Free,
	planned []tape.Register) *Inquiry {
	q := &Inquiry{tape: model.Extend(), Readings: readings, Suspects: suspects,
		column: map[tape.Register]int{}, moved: make([]bool, len(readings))}
	one := q.tape.Constant(1)
	seeds := map[tape.Register]tape.Register{}
	doubt := func(input tape.Register, u float64) {
		if _, known := seeds[input]; !known {
			q.column[input] = len(q.givens)
			q.givens = append(q.givens, Doubted{input, u})
			seeds[input] = one
		}
	}
	for _, d := range doubts {
		doubt(d.Input, d.U)
	}
	for _, s := range suspects {
		doubt(s.Input, 0)
	}
	var roots []tape.Register
	for _, o := range readings {
		roots = append(roots, o.Formula)
	}
	outputs := roots[:len(roots):len(roots)]
	roots = append(roots, planned...)
	inputsInDoubt := make([]tape.Register, len(q.givens))
	for i, g := range q.givens {
		inputsInDoubt[i] = g.Input
	}
	q.root, _ = model.Ties.Root(inputsInDoubt)
	q.slopes = tape.Differentiate(q.tape, seeds, roots)
	q.base = q.tape.Continue(values)

	for _, o := range readings {
		var row []partial
		for _, t := range q.slopes.Terms[o.Formula] {
			row = append(row, partial{q.column[t.Input], len(outputs), t.Part})
			outputs = append(outputs, t.Part)
		}
		q.partials = append(q.partials, row)
	}
	var inputs []tape.Register
	for _, s := range suspects {
		inputs = append(inputs, s.Input)
	}
	q.program = tape.NewProgram(q.tape, inputs, outputs, q.base)
	return q
}

// run computes the trials, all in one go.
func (q *Inquiry) run(trials []Trial) {
	fill := func(b *tape.Block) {
		for k, s := range q.Suspects {
			in := b.In[k]
			for i := range in {
				in[i] = q.base[s.Input]
			}
		}
		for i := range b.N {
			for k, s := range trials[b.First+i].Freed {
				if s != nobody {
					b.In[s][i] = trials[b.First+i].X[k]
				}
			}
		}
	}
	use := func(b *tape.Block) {
		w := newWeigher(q)
		moved := make([]bool, len(q.Readings))
		for i := range b.N {
			at := func(p partial) float64 { return b.Out[p.out][i] }
			for j := range q.Readings {
				w.computed[j] = b.Out[j][i]
				moved[j] = moved[j] || tape.Usable(w.computed[j]) &&
					w.computed[j] != q.base[q.Readings[j].Formula]
			}
			w.weigh(&trials[b.First+i], at)
		}
		q.mu.Lock()
		defer q.mu.Unlock()
		for j := range moved {
			q.moved[j] = q.moved[j] || moved[j]
		}
	}
	runBlocks(q.program, &q.steady, len(trials), fill, use)
}

// weigher weighs the residuals of one trial after another. It factorises V
// with LAPACK itself: V is at least 1, so nobody needs to know its condition,
// which takes mat.Cholesky longer to find than all the rest.
type weigher struct {
	*Inquiry
	computed []float64
	pull     *mat.Dense    // J·√U
	v        *mat.SymDense // V, then its triangle
	triangle blas64.Triangular
	variance []float64  // of the computed values
	given    *mat.Dense // r, then Jₛ of each freed suspect, as columns
	solved   *mat.Dense // V⁻¹ of the same
}

func newWeigher(q *Inquiry) *weigher {
	n := len(q.Readings)
	return &weigher{Inquiry: q, computed: make([]float64, n), variance: make([]float64, n),
		pull: mat.NewDense(n, len(q.givens)+1, nil), // a spare column, as there may be no given
		v:    mat.NewSymDense(n, nil), given: mat.NewDense(n, 3, nil), solved: mat.NewDense(n, 3, nil)}
}

// weigh fills in how the readings stand to a trial. w.computed holds the
// computed values, and at finds the derivatives.
func (w *weigher) weigh(t *Trial, at func(partial) float64) {
	w.pull.Zero()
	w.given.Zero()
	freed := [2]int{nobody, nobody} // as givens
	for k, s := range t.Freed {
		if s != nobody {
			freed[k] = w.column[w.Suspects[s].Input]
		}
	}
	for i, o := range w.Readings {
		r := (o.Value - w.computed[i]) / o.U
		if !tape.Usable(r) {
			return
		}
		w.given.Set(i, 0, r)
		for _, p := range w.partials[i] {
			d := at(p) / o.U
			switch p.given {
			case freed[0]:
				w.given.Set(i, 1, d*w.Suspects[t.Freed[0]].width())
			case freed[1]:
				w.given.Set(i, 2, d*w.Suspects[t.Freed[1]].width())
			default:
				w.pull.Set(i, p.given, d*w.givens[p.given].U)
			}
			if !tape.Usable(d) {
				return
			}
		}
	}
	w.untie(w.pull)
	w.v.SymOuterK(1, w.pull)
	for i := range w.Readings {
		w.variance[i] = w.v.At(i, i)
		w.v.SetSym(i, i, w.variance[i]+1)
	}
	var ok bool
	if w.triangle, ok = lapack64.Potrf(w.v.RawSymmetric()); !ok {
		return
	}
	for i := range w.Readings {
		t.logDet += 2 * math.Log(w.triangle.Data[i*w.triangle.Stride+i])
	}
	w.solved.Copy(w.given)
	lapack64.Potrs(w.triangle, w.solved.RawMatrix())
	t.Misfit = w.product(0, 0)
	for k := range freed {
		t.score[k] = w.product(k+1, 0)
		for l := range freed {
			t.info[k][l] = w.product(k+1, l+1)
		}
	}
	t.usable = tape.Usable(t.Misfit) && tape.Usable(t.logDet)
}

// untie turns contributions of the givens, as rows, into those of errors that are
// independent of each other: rows·L, with L·Lᵀ the correlations. What is freed
// contributes nothing and takes no part.
func (q *Inquiry) untie(rows *mat.Dense) {
	if q.root == nil {
		return
	}
	n, _ := rows.Dims()
	part := rows.Slice(0, n, 0, len(q.givens)).(*mat.Dense)
	part.Mul(mat.DenseCopyOf(part), q.root)
}

// product is aᵀ V⁻¹ b of two columns of given.
func (w *weigher) product(a, b int) float64 {
	return blas64.Dot(columnOf(w.given, a), columnOf(w.solved, b))
}

func columnOf(m *mat.Dense, j int) blas64.Vector {
	raw := m.RawMatrix()
	return blas64.Vector{N: raw.Rows, Data: raw.Data[j:], Inc: raw.Stride}
}

// Answer is what the model answers to a trial.
type Answer struct {
	Values   []float64 // of every operation
	Computed []float64 // by reading
	Variance []float64 // of the computed values
	trial    *Trial
	weigher  *weigher
}

// AsItStands weighs the notebook with nothing freed.
func (q *Inquiry) AsItStands() (Trial, *Answer) {
	t := Trial{Freed: [2]int{nobody, nobody}}
	return t, q.Answer(&t)
}

// Answer weighs one trial from a run of the whole tape.
func (q *Inquiry) Answer(t *Trial) *Answer {
	set := map[tape.Register]float64{}
	for k, s := range t.Freed {
		if s != nobody {
			set[q.Suspects[s].Input] = t.X[k]
		}
	}
	a := &Answer{Values: q.tape.Once(set), trial: t, weigher: newWeigher(q)}
	w := a.weigher
	for j, o := range q.Readings {
		w.computed[j] = a.Values[o.Formula]
	}
	w.weigh(t, func(p partial) float64 { return a.Values[p.at] })
	a.Computed, a.Variance = w.computed, w.variance
	return a
}

// Predict is what a planned reading would be if the trial were the truth: the
// model at that value, moved by what the readings say of the givens in doubt, with
// its standard uncertainty.
func (a *Answer) Predict(planned tape.Register) (mean, u float64) {
	t, w, values := a.trial, a.weigher, a.Values
	s := t.Freed[0]
	own := mat.NewVecDense(len(w.givens)+1, nil)
	slope := 0.0
	for _, term := range w.slopes.Terms[planned] {
		given := w.column[term.Input]
		if s != nobody && term.Input == w.Suspects[s].Input {
			slope = values[term.Part] * w.Suspects[s].width()
			continue
		}
		own.SetVec(given, values[term.Part]*w.givens[given].U)
	}
	w.untie(mat.NewDense(1, own.Len(), own.RawVector().Data))
	shared := mat.NewDense(len(w.Readings), 1, nil)
	shared.Mul(w.pull, own) // covariance of the quantity with the residuals
	weights := mat.DenseCopyOf(shared)
	lapack64.Potrs(w.triangle, weights.RawMatrix())
	mean = values[planned] + blas64.Dot(columnOf(weights, 0), columnOf(w.given, 0))
	variance := mat.Dot(own, own) - blas64.Dot(columnOf(weights, 0), columnOf(shared, 0))
	if s != nobody && t.info[0][0] > 0 {
		left := slope - blas64.Dot(columnOf(weights, 0), columnOf(w.given, 1))
		variance += left * left / t.info[0][0]
	}
	return mean, math.Sqrt(math.Max(0, variance))
}
