package fit

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
)

// The joint fit looks for the values of several givens at which the readings of
// all cases fit best, by the method of Levenberg and Marquardt: damped
// Gauss-Newton steps on the tape's derivatives. Givens that have a spread and
// are the same in all cases are moved along, each held by its own spread; that
// is the same as weighing the readings with V = diag(u²) + J·U·Jᵀ, without a
// matrix as wide as all readings together. Givens that a case states itself
// err in that case alone, and widen V there.
//
// The equations are solved through orthogonal triangles, never through the
// normal equations, which would halve the digits.

const (
	mostWeights = 30   // times that the weights of cases are found anew
	tellsApart  = 1e-9 // least singular value of the scaled slopes, as a share of the largest
)

// Fitted is what the readings say of the givens to be found. Numbers are SI.
type Fitted struct {
	Values []float64     // in the order of Survey.Free
	U      []float64     // standard uncertainties; NaN where the readings do not tell
	Corr   *mat.SymDense // correlations of their errors; nil if there is no fit
	AtEnd  []bool        // the value is an end of its range: the best may lie beyond
	Alike  [][]int       // groups of givens that the readings cannot tell apart; one alone has no effect
	// what is left, what is known before counted as readings; with Survey.Equal the sum of squares
	Misfit  float64
	Degrees int     // readings, and what is known before, less givens found
	Count   int     // readings
	Cases   int     // cases with readings
	Scatter float64 // with Survey.Equal: residual standard deviation
	Steps   int
}

// ErrNoValue is returned where the model has no value at the start, or with
// fewer readings than givens to be found.
var (
	ErrNoValue = errors.New("the model has no value there")
	ErrTooFew  = errors.New("there are fewer readings than givens to be found")
)

// parameter is one unknown of the joint fit.
type parameter struct {
	input    tape.Register
	column   int
	at       int // in the inputs of the program
	from, to float64
	start    float64
	u        float64 // what is known before; 0 for nothing
}

type joint struct {
	*surveyor
	parameters []parameter
	before     *mat.Dense // rows that hold the parameters to what is known: whitened
	known      []int      // parameters that these rows are about
	ownDoubt   bool
	weights    []*mat.Cholesky // by case, where own doubts widen V
}

// Fit finds the givens. Where the model has no answer at the start it fails.
func (s *Survey) Fit() (*Fitted, error) {
	j := s.join()
	x := make([]float64, len(j.parameters))
	for k, p := range j.parameters {
		x[k] = clamp(p.start, p.from, p.to)
	}
	state := j.evaluate(x)
	if !state.usable {
		return nil, ErrNoValue
	}
	if state.count+len(j.known) < len(j.parameters) {
		return nil, ErrTooFew
	}
	steps := 0
	for round := range mostWeights {
		j.weights = nil
		state = j.evaluate(x)
		before := slices.Clone(x)
		n := 0
		if round == 0 {
			state, n = j.descendBest(x, state)
		} else {
			state, n = j.descend(x, state, ways[0])
		}
		steps += n
		if !j.ownDoubt || near(before, x, j.scales(x)) {
			break
		}
	}
	return j.conclude(x, state, steps), nil
}

func clamp(x, from, to float64) float64 { return math.Min(math.Max(x, from), to) }

// join lists the unknowns: the givens to be found, and those in doubt that are
// the same in all cases and that some reading depends on.
func (s *Survey) join() *joint {
	reached := s.reached()
	var moving []tape.Register
	j := &joint{}
	free := map[tape.Register]bool{}
	for _, f := range s.Free {
		free[f.Input] = true
	}
	if !s.Equal {
		for _, d := range s.Doubts {
			if !free[d.Input] && reached[d.Input] {
				moving = append(moving, d.Input)
			}
		}
	}
	j.surveyor = s.prepare(moving)
	for _, f := range s.Free {
		p := parameter{input: f.Input, column: j.column[f.Input], at: j.moved[f.Input], from: f.From, to: f.To,
			start: f.Start, u: f.U}
		if s.Equal {
			p.u = 0
		}
		j.parameters = append(j.parameters, p)
	}
	for _, d := range s.Doubts {
		u := j.base[d.Spread] / 2
		if slices.Contains(moving, d.Input) && tape.Usable(u) && u > 0 && tape.Usable(j.base[d.Input]) &&
			!s.replacedEverywhere(d.Input) {
			j.parameters = append(j.parameters, parameter{input: d.Input, column: j.column[d.Input],
				at:   j.moved[d.Input],
				from: math.Inf(-1), to: math.Inf(1), start: j.base[d.Input], u: u})
		}
	}
	for _, c := range s.Replaced {
		for _, d := range s.Doubts {
			j.ownDoubt = j.ownDoubt || d.Input == c.Input && !s.Equal
		}
	}
	var u []float64
	var inputs []tape.Register
	for k, p := range j.parameters {
		if p.u > 0 {
			j.known, u, inputs = append(j.known, k), append(u, p.u), append(inputs, p.input)
		}
	}
	j.before = whiten(s.Tape.Ties, inputs, u)
	return j
}

// reached are the doubtful inputs that some reading depends on.
func (s *Survey) reached() map[tape.Register]bool {
	var roots []tape.Register
	for _, r := range s.Readings {
		roots = append(roots, r.Formula)
	}
	needed := s.Tape.Needed(roots)
	marks := map[tape.Register]bool{}
	for _, d := range s.Doubts {
		marks[d.Input] = needed[d.Input]
	}
	return marks
}

func (s *Survey) replacedEverywhere(r tape.Register) bool {
	for _, c := range s.Replaced {
		if c.Input == r && !slices.ContainsFunc(c.Values, tape.IsMissing) {
			return true
		}
	}
	return false
}

// replaced reports whether a case has a value of its own for an input.
func (s *Survey) replaced(r tape.Register, at int) bool {
	for _, c := range s.Replaced {
		if c.Input == r && !tape.IsMissing(c.Values[at]) {
			return true
		}
	}
	return false
}

// state is how the readings stand to one set of values: a triangle R and c with
// |R·step - c|² the misfit after a step, but for what no step can change.
type state struct {
	usable   bool
	triangle *mat.Dense // (P+1) × (P+1), upper: R, and c as last column; the corner is what is left
	misfit   float64
	count    int // readings
	cases    int // cases with readings
}

// evaluate runs all cases at x.
func (j *joint) evaluate(x []float64) state {
	p := len(j.parameters)
	blocks := make([]state, (j.Cases+tape.BlockSize-1)/tape.BlockSize)
	if j.ownDoubt && j.weights == nil {
		j.weights = make([]*mat.Cholesky, j.Cases)
	}
	rows := make([]*mat.Dense, len(blocks))
	used := make([]int, len(blocks))
	for i := range blocks {
		blocks[i].usable = true
	}
	j.run(j.Cases, func(b *tape.Block, i int) {
		at := b.First + i
		j.fill(b, i, at)
		for k := range j.parameters {
			if q := &j.parameters[k]; !j.replaced(q.input, at) {
				b.In[q.at][i] = x[k]
			}
		}
	}, func(at int, s *sight) {
		n := at / tape.BlockSize
		b := &blocks[n]
		if !b.usable || s.n == 0 {
			return
		}
		if !s.usable {
			b.usable = false
			return
		}
		if rows[n] == nil {
			rows[n] = mat.NewDense(min(tape.BlockSize, j.Cases-n*tape.BlockSize)*len(j.Readings)+p+1, p+1, nil)
		}
		b.count += s.n
		b.cases++
		part := rows[n].Slice(used[n], used[n]+s.n, 0, p+1).(*mat.Dense)
		used[n] += s.n
		j.weigh(at, s, part)
	}, func(row int) int { return row })
	total := mat.NewDense(p+1, p+1, nil)
	out := state{usable: true, triangle: total}
	for n := range blocks {
		if !blocks[n].usable {
			return state{}
		}
		out.count += blocks[n].count
		out.cases += blocks[n].cases
		if rows[n] == nil {
			continue
		}
		stack := rows[n].Slice(0, used[n]+p+1, 0, p+1).(*mat.Dense)
		stack.Slice(used[n], used[n]+p+1, 0, p+1).(*mat.Dense).Copy(total)
		triangularize(total, stack)
	}
	if len(j.known) > 0 {
		stack := mat.NewDense(len(j.known)+p+1, p+1, nil)
		for a := range j.known {
			for b, k := range j.known {
				w := j.before.At(a, b)
				stack.Set(a, k, w)
				stack.Set(a, p, stack.At(a, p)-w*(x[k]-j.parameters[k].start))
			}
		}
		stack.Slice(len(j.known), len(j.known)+p+1, 0, p+1).(*mat.Dense).Copy(total)
		triangularize(total, stack)
	}
	for i := range p + 1 {
		out.misfit += total.At(i, p) * total.At(i, p)
	}
	out.usable = tape.Usable(out.misfit)
	return out
}

// weigh writes the readings of a case into rows of their own, each in units of
// its uncertainty and independent of the others.
func (j *joint) weigh(at int, s *sight, rows *mat.Dense) {
	c := len(j.columns)
	for i := range s.n {
		for k := range j.parameters {
			d := s.slopes[i*c+j.parameters[k].column]
			if j.replaced(j.parameters[k].input, at) {
				d = 0
			}
			rows.Set(i, k, d)
		}
		rows.Set(i, len(j.parameters), s.residual[i])
	}
	scale := func() {
		for i := range s.n {
			floats.Scale(1/s.u[i], rows.RawRowView(i))
		}
	}
	if !j.ownDoubt {
		scale()
		return
	}
	if j.weights[at] == nil {
		j.weights[at] = &mat.Cholesky{}
		v := mat.NewSymDense(s.n, nil)
		for i := range s.n {
			for k := range i + 1 {
				sum := 0.0
				for _, col := range j.Replaced {
					at, known := j.column[col.Input]
					if known && s.doubt[at] > 0 {
						sum += s.slopes[i*c+at] * s.slopes[k*c+at] * s.doubt[at] * s.doubt[at]
					}
				}
				if i == k {
					sum += s.u[i] * s.u[i]
				}
				v.SetSym(i, k, sum)
			}
		}
		j.weights[at].Factorize(v)
	}
	var l mat.TriDense
	j.weights[at].LTo(&l)
	var white mat.Dense
	if white.Solve(&l, rows) == nil {
		rows.Copy(&white)
	} else {
		scale()
	}
}

// conclude finds how sure the values are.
func (j *joint) conclude(x []float64, now state, steps int) *Fitted {
	n, p := len(j.Free), len(x)
	f := &Fitted{Values: slices.Clone(x[:n]), U: make([]float64, n), AtEnd: make([]bool, n),
		Corr:   mat.NewSymDense(max(n, 1), nil),
		Misfit: now.misfit, Count: now.count, Cases: now.cases, Steps: steps}
	known := 0
	for k, q := range j.parameters[:n] {
		f.AtEnd[k] = x[k] == q.from || x[k] == q.to
		f.U[k] = math.NaN()
		if q.u > 0 {
			known++
		}
	}
	f.Degrees = now.count + known - n
	// The columns of R are scaled to the same length before they are compared, so
	// that units do not matter for what can be told apart.
	r := now.triangle
	var open []int
	var length []float64
	for k := range p {
		sum := 0.0
		for i := 0; i <= k; i++ {
			sum += r.At(i, k) * r.At(i, k)
		}
		switch {
		case sum == 0:
			if k < n {
				f.Alike = append(f.Alike, []int{k})
			}
		default:
			open, length = append(open, k), append(length, math.Sqrt(sum))
		}
	}
	if len(open) == 0 {
		return f
	}
	a := mat.NewDense(p, len(open), nil)
	for i := range p {
		for m, k := range open {
			if k >= i {
				a.Set(i, m, r.At(i, k)/length[m])
			}
		}
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) {
		return f
	}
	var v mat.Dense
	svd.VTo(&v)
	values := svd.Values(nil)
	lost := make([]bool, len(open))
	for s, value := range values {
		if value > tellsApart*values[0] {
			continue
		}
		var group []int
		for m, k := range open {
			if math.Abs(v.At(m, s)) > 0.05 {
				lost[m] = true
				if k < n {
					group = append(group, k)
				}
			}
		}
		if len(group) > 0 {
			f.Alike = append(f.Alike, group)
		}
	}
	if j.Equal {
		f.Scatter = math.Sqrt(now.misfit / float64(max(1, f.Degrees)))
		if f.Degrees < 1 {
			f.Scatter = math.NaN()
		}
	}
	covariance := func(a, b int) float64 {
		sum := 0.0
		for s, value := range values {
			if value > tellsApart*values[0] {
				sum += v.At(a, s) * v.At(b, s) / (value * value)
			}
		}
		sum /= length[a] * length[b]
		if j.Equal {
			sum *= f.Scatter * f.Scatter
		}
		return sum
	}
	for a, k := range open {
		if k < n && !lost[a] {
			f.U[k] = math.Sqrt(covariance(a, a))
		}
	}
	for k := range n {
		f.Corr.SetSym(k, k, 1)
	}
	for a, k := range open {
		for b, l := range open[:a] {
			if k < n && l < n && !lost[a] && !lost[b] {
				f.Corr.SetSym(k, l, covariance(a, b)/(f.U[k]*f.U[l]))
			}
		}
	}
	return f
}
