package calc

import (
	"context"
	"math"
	"sync"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
)

// inquiry is what all fits of one diagnosis share: the readings, the givens in
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
type inquiry struct {
	model    *Model
	tape     *tape.Tape
	base     []float64     // every operation, as the notebook stands
	slopes   *tape.Spreads // derivatives by the givens in doubt and the suspects
	readings []observed
	suspects []*Suspect
	planned  []*Quantity // formulas that may be read next
	givens   []doubted
	column   map[tape.Register]int // of a given's register: its number in givens
	partials [][]partial           // by reading
	program  *tape.Program
	root     *mat.TriDense // of the correlations of the givens; nil for none
	steady   *tape.Worker  // for runs of a few cases

	mu    sync.Mutex
	moved []bool // by reading: some suspect changes its computed value
}

// observed is a reading that takes part, SI.
type observed struct {
	quantity *Quantity
	reading  float64
	u        float64 // its standard uncertainty, half its spread
}

// partial says where the derivative of a reading by a given is found.
type partial struct {
	given int // in inquiry.givens
	out   int // in the outputs of the program
	at    tape.Register
}

// nobody stands where no further suspect is freed.
const nobody = -1

// trial is one fit: one or two suspects set to a value, and what the readings
// say to it. It is unusable if the model has no answer there.
type trial struct {
	freed [2]int // in inquiry.suspects; nobody
	x     [2]float64

	usable bool
	misfit float64 // rᵀ V⁻¹ r
	logDet float64 // ln det V
	// score is Jₛᵀ V⁻¹ r by freed suspect, and info is Jₛᵀ V⁻¹ Jₛ, both with the
	// suspects measured in shares of their ranges. The score points to where the
	// misfit falls; it is 0 at the best value.
	score [2]float64
	info  [2][2]float64
}

// likelihood is -2 times the log likelihood of the readings, but for a
// constant: the misfit, and the price of a V that is wide enough to allow
// everything.
func (t *trial) likelihood() float64 { return t.misfit + t.logDet }

// alone is a trial of one suspect.
func alone(suspect int, x float64) trial {
	return trial{freed: [2]int{suspect, nobody}, x: [2]float64{x, 0}}
}

// newInquiry prepares the fits. Readings, suspects and planned readings must
// have a value as the notebook stands.
func newInquiry(m *Model, readings []observed, suspects []*Suspect, planned []*Quantity) *inquiry {
	q := &inquiry{model: m, tape: m.tape.Extend(), readings: readings, suspects: suspects, planned: planned,
		column: map[tape.Register]int{}, moved: make([]bool, len(readings))}
	values := m.tape.Once(nil)
	one := q.tape.Constant(1)
	seeds := map[tape.Register]tape.Register{}
	doubt := func(input tape.Register, u float64) {
		if _, known := seeds[input]; !known {
			q.column[input] = len(q.givens)
			q.givens = append(q.givens, doubted{input, u})
			seeds[input] = one
		}
	}
	for _, d := range m.doubts(values) {
		doubt(d.input, d.u)
	}
	for _, s := range suspects {
		doubt(s.Quantity.value, 0)
	}
	var roots []tape.Register
	for _, o := range readings {
		roots = append(roots, o.quantity.shownAt())
	}
	outputs := roots[:len(roots):len(roots)]
	for _, c := range planned {
		roots = append(roots, c.shownAt())
	}
	inputsInDoubt := make([]tape.Register, len(q.givens))
	for i, g := range q.givens {
		inputsInDoubt[i] = g.input
	}
	q.root, _ = m.tape.Ties.Root(inputsInDoubt)
	q.slopes = tape.Differentiate(q.tape, seeds, roots)
	q.base = q.tape.Continue(values)

	for _, o := range readings {
		var row []partial
		for _, t := range q.slopes.Terms[o.quantity.shownAt()] {
			row = append(row, partial{q.column[t.Input], len(outputs), t.Part})
			outputs = append(outputs, t.Part)
		}
		q.partials = append(q.partials, row)
	}
	var inputs []tape.Register
	for _, s := range suspects {
		inputs = append(inputs, s.Quantity.value)
	}
	q.program = tape.NewProgram(q.tape, inputs, outputs, q.base)
	return q
}

// fewTrials is up to how many trials one worker that stays is quicker than
// several new ones.
const fewTrials = 2 * tape.BlockSize

// run computes the trials, all in one go.
func (q *inquiry) run(trials []trial) {
	fill := func(b *tape.Block) {
		for k, s := range q.suspects {
			in := b.In[k]
			for i := range in {
				in[i] = q.base[s.Quantity.value]
			}
		}
		for i := range b.N {
			for k, s := range trials[b.First+i].freed {
				if s != nobody {
					b.In[s][i] = trials[b.First+i].x[k]
				}
			}
		}
	}
	use := func(b *tape.Block) {
		w := newWeigher(q)
		moved := make([]bool, len(q.readings))
		for i := range b.N {
			at := func(p partial) float64 { return b.Out[p.out][i] }
			for j := range q.readings {
				w.computed[j] = b.Out[j][i]
				moved[j] = moved[j] || tape.Usable(w.computed[j]) &&
					w.computed[j] != q.base[q.readings[j].quantity.shownAt()]
			}
			w.weigh(&trials[b.First+i], at)
		}
		q.mu.Lock()
		defer q.mu.Unlock()
		for j := range moved {
			q.moved[j] = q.moved[j] || moved[j]
		}
	}
	if len(trials) > fewTrials {
		_ = q.program.Run(context.Background(), len(trials), 0, fill, use)
		return
	}
	if q.steady == nil {
		q.steady = q.program.NewWorker()
	}
	for first := 0; first < len(trials); first += tape.BlockSize {
		use(q.steady.Run(first, min(tape.BlockSize, len(trials)-first), fill))
	}
}

// weigher weighs the residuals of one trial after another. It factorises V
// with LAPACK itself: V is at least 1, so nobody needs to know its condition,
// which takes mat.Cholesky longer to find than all the rest.
type weigher struct {
	*inquiry
	computed []float64
	pull     *mat.Dense    // J·√U
	v        *mat.SymDense // V, then its triangle
	triangle blas64.Triangular
	variance []float64  // of the computed values
	given    *mat.Dense // r, then Jₛ of each freed suspect, as columns
	solved   *mat.Dense // V⁻¹ of the same
}

func newWeigher(q *inquiry) *weigher {
	n := len(q.readings)
	return &weigher{inquiry: q, computed: make([]float64, n), variance: make([]float64, n),
		pull: mat.NewDense(n, len(q.givens)+1, nil), // a spare column, as there may be no given
		v:    mat.NewSymDense(n, nil), given: mat.NewDense(n, 3, nil), solved: mat.NewDense(n, 3, nil)}
}

// weigh fills in what the readings say to a trial. w.computed holds the
// computed values, and at finds the derivatives.
func (w *weigher) weigh(t *trial, at func(partial) float64) {
	w.pull.Zero()
	w.given.Zero()
	freed := [2]int{nobody, nobody} // as givens
	for k, s := range t.freed {
		if s != nobody {
			freed[k] = w.column[w.suspects[s].Quantity.value]
		}
	}
	for i, o := range w.readings {
		r := (o.reading - w.computed[i]) / o.u
		if !tape.Usable(r) {
			return
		}
		w.given.Set(i, 0, r)
		for _, p := range w.partials[i] {
			d := at(p) / o.u
			switch p.given {
			case freed[0]:
				w.given.Set(i, 1, d*w.suspects[t.freed[0]].width())
			case freed[1]:
				w.given.Set(i, 2, d*w.suspects[t.freed[1]].width())
			default:
				w.pull.Set(i, p.given, d*w.givens[p.given].u)
			}
			if !tape.Usable(d) {
				return
			}
		}
	}
	w.untie(w.pull)
	w.v.SymOuterK(1, w.pull)
	for i := range w.readings {
		w.variance[i] = w.v.At(i, i)
		w.v.SetSym(i, i, w.variance[i]+1)
	}
	var ok bool
	if w.triangle, ok = lapack64.Potrf(w.v.RawSymmetric()); !ok {
		return
	}
	for i := range w.readings {
		t.logDet += 2 * math.Log(w.triangle.Data[i*w.triangle.Stride+i])
	}
	w.solved.Copy(w.given)
	lapack64.Potrs(w.triangle, w.solved.RawMatrix())
	t.misfit = w.product(0, 0)
	for k := range freed {
		t.score[k] = w.product(k+1, 0)
		for l := range freed {
			t.info[k][l] = w.product(k+1, l+1)
		}
	}
	t.usable = tape.Usable(t.misfit) && tape.Usable(t.logDet)
}

// untie turns contributions of the givens, as rows, into those of errors that are
// independent of each other: rows·L, with L·Lᵀ the correlations. What is freed
// contributes nothing and takes no part.
func (q *inquiry) untie(rows *mat.Dense) {
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

func (s *Suspect) width() float64 { return s.to - s.from }

// clamp moves a value into the suspect's range.
func (s *Suspect) clamp(x float64) float64 { return math.Min(math.Max(x, s.from), s.to) }

// weighOnce weighs one trial from a run of the whole tape, and returns that
// run's values with the weigher, from which further answers can be drawn.
func (q *inquiry) weighOnce(t *trial) (values []float64, w *weigher) {
	set := map[tape.Register]float64{}
	for k, s := range t.freed {
		if s != nobody {
			set[q.suspects[s].Quantity.value] = t.x[k]
		}
	}
	values = q.tape.Once(set)
	w = newWeigher(q)
	for j, o := range q.readings {
		w.computed[j] = values[o.quantity.shownAt()]
	}
	w.weigh(t, func(p partial) float64 { return values[p.at] })
	return values, w
}

// predict says what a quantity would read if a trial were the truth: the model
// at that value, moved by what the readings say of the givens in doubt, with
// its standard uncertainty. w and values are of the trial.
func (w *weigher) predict(t *trial, values []float64, c *Quantity) (mean, u float64) {
	s := t.freed[0]
	own := mat.NewVecDense(len(w.givens)+1, nil)
	slope := 0.0
	for _, term := range w.slopes.Terms[c.shownAt()] {
		given := w.column[term.Input]
		if s != nobody && term.Input == w.suspects[s].Quantity.value {
			slope = values[term.Part] * w.suspects[s].width()
			continue
		}
		own.SetVec(given, values[term.Part]*w.givens[given].u)
	}
	w.untie(mat.NewDense(1, own.Len(), own.RawVector().Data))
	shared := mat.NewDense(len(w.readings), 1, nil)
	shared.Mul(w.pull, own) // covariance of the quantity with the residuals
	weights := mat.DenseCopyOf(shared)
	lapack64.Potrs(w.triangle, weights.RawMatrix())
	mean = values[c.shownAt()] + blas64.Dot(columnOf(weights, 0), columnOf(w.given, 0))
	variance := mat.Dot(own, own) - blas64.Dot(columnOf(weights, 0), columnOf(shared, 0))
	if s != nobody && t.info[0][0] > 0 {
		left := slope - blas64.Dot(columnOf(weights, 0), columnOf(w.given, 1))
		variance += left * left / t.info[0][0]
	}
	return mean, math.Sqrt(math.Max(0, variance))
}
