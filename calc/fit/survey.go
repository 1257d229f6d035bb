package fit

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
)

// Survey is what was read of a model, in one case or in many. All numbers are
// SI; readings and computed values are those of the tape's registers.
type Survey struct {
	Tape     *tape.Tape // the model; it is extended here, never changed
	Base     []float64  // every operation, as the notebook stands
	Cases    int        // 1 for a notebook as it stands
	Replaced []Column   // givens that have values of their own in the cases
	Readings []Reading
	Doubts   []Doubt // inputs with a spread, in the order of the tape
	Free     []Free  // givens to be found
	Equal    bool    // the readings have no spread: each weighs the same
}

// Column holds the values of a given, case by case; tape.Missing leaves the
// notebook's value.
type Column struct {
	Input  tape.Register
	Values []float64
}

// Reading is what was read of one formula, case by case.
type Reading struct {
	Formula tape.Register
	Values  []float64     // by case, SI; no number where nothing was read
	Spread  tape.Register // of a reading; tape.None where it is a share
	Share   float64       // the spread as a share of the reading
}

// Doubt is an input that is not known exactly.
type Doubt struct {
	Input, Spread tape.Register
}

// Free is a given to be found, between From and To.
type Free struct {
	Input    tape.Register
	From, To float64 // infinite where there is no bound
	Start    float64
	U        float64 // what is known of it before, as a standard uncertainty around Start; 0 for nothing
}

// surveyor is a survey made ready to run: one program that computes, in each
// case, the readings, their spreads, those of the doubtful inputs, and the
// derivatives of the readings by these inputs and by the givens to be found.
type surveyor struct {
	*Survey
	inputs []tape.Register // of the program: what a run may move
	moved  map[tape.Register]int
	own    []int // by Replaced: its place in inputs

	columns []tape.Register // the inputs that readings are differentiated by
	column  map[tape.Register]int
	slopes  [][]slope // by reading
	program *tape.Program
	steady  *tape.Worker // for runs of a few rows
	atU     []int        // by column: where its spread is found, -1 for none
	base    []float64
	tied    []int         // columns whose errors are correlated with others
	root    *mat.TriDense // of their correlations
}

// tie finds the columns whose errors are correlated.
func (v *surveyor) tie() {
	var inputs []tape.Register
	for k, a := range v.columns {
		for _, b := range v.columns {
			if a != b && v.Tape.Ties.Of(a, b) != 0 {
				v.tied, inputs = append(v.tied, k), append(inputs, a)
				break
			}
		}
	}
	v.root, _ = v.Tape.Ties.Root(inputs)
}

// slope is where the derivative of a reading by a column is found.
type slope struct{ column, out int }

// prepare plans the runs. moving are inputs that a run may move, beside the
// columns of the cases and the givens to be found.
func (s *Survey) prepare(moving []tape.Register) *surveyor {
	v := &surveyor{Survey: s, moved: map[tape.Register]int{}, column: map[tape.Register]int{}}
	input := func(r tape.Register) int {
		if at, known := v.moved[r]; known {
			return at
		}
		v.moved[r] = len(v.inputs)
		v.inputs = append(v.inputs, r)
		return len(v.inputs) - 1
	}
	for _, c := range s.Replaced {
		v.own = append(v.own, input(c.Input))
	}
	for _, f := range s.Free {
		input(f.Input)
	}
	for _, r := range moving {
		input(r)
	}
	t := s.Tape.Extend()
	one := t.Constant(1)
	seeds := map[tape.Register]tape.Register{}
	differentiate := func(r tape.Register) {
		if _, known := v.column[r]; !known {
			v.column[r] = len(v.columns)
			v.columns = append(v.columns, r)
			seeds[r] = one
		}
	}
	for _, f := range s.Free {
		differentiate(f.Input)
	}
	for _, d := range s.Doubts {
		differentiate(d.Input)
	}
	v.tie()
	var outputs, roots []tape.Register
	for _, r := range s.Readings {
		roots = append(roots, r.Formula)
	}
	slopes := tape.Differentiate(t, seeds, roots)
	v.base = t.Continue(s.Base)
	outputs = append(outputs, roots...)
	for _, r := range s.Readings {
		outputs = append(outputs, r.Spread)
	}
	v.atU = slices.Repeat([]int{-1}, len(v.columns))
	for _, d := range s.Doubts {
		v.atU[v.column[d.Input]] = len(outputs)
		outputs = append(outputs, d.Spread)
	}
	for _, r := range s.Readings {
		var row []slope
		for _, term := range slopes.Terms[r.Formula] {
			row = append(row, slope{v.column[term.Input], len(outputs)})
			outputs = append(outputs, term.Part)
		}
		v.slopes = append(v.slopes, row)
	}
	v.program = tape.NewProgram(t, v.inputs, outputs, v.base)
	return v
}

// sight is what a run has of one case: the readings that take part in it, and
// how far they lie from what is computed.
type sight struct {
	n        int       // readings that take part
	reading  []int     // which
	residual []float64 // reading minus computed
	u        []float64 // standard uncertainty of the reading
	slopes   []float64 // n × columns, by rows: derivative of the computed value
	doubt    []float64 // by column: standard uncertainty, 0 for none
	usable   bool      // every reading of the case has a computed value and derivatives
}

func (v *surveyor) newSight() *sight {
	n, c := len(v.Readings), len(v.columns)
	return &sight{reading: make([]int, n), residual: make([]float64, n), u: make([]float64, n),
		slopes: make([]float64, n*c), doubt: make([]float64, c)}
}

// look reads row i of a block, which is of the given case.
func (v *surveyor) look(s *sight, b *tape.Block, i, at int) {
	s.n, s.usable = 0, true
	c := len(v.columns)
	for k, out := range v.atU {
		s.doubt[k] = 0
		if out >= 0 && b.Out[out] != nil {
			if u := b.Out[out][i] / 2; tape.Usable(u) && u > 0 {
				s.doubt[k] = u
			}
		}
	}
	for j, r := range v.Readings {
		u := v.uncertainty(b, i, j, at)
		if !(u > 0) || !tape.Usable(b.Out[j][i]) && v.lacks(at) {
			continue
		}
		row := s.slopes[s.n*c : (s.n+1)*c]
		clear(row)
		for _, p := range v.slopes[j] {
			d := b.Out[p.out][i]
			row[p.column] = d
			s.usable = s.usable && tape.Usable(d)
		}
		s.reading[s.n], s.u[s.n], s.residual[s.n] = j, u, r.Values[at]-b.Out[j][i]
		s.usable = s.usable && tape.Usable(s.residual[s.n])
		s.n++
	}
}

// lacks reports whether something is n/a in a case, so that readings of what needs it
// are of nothing that could be computed, and take no part.
func (v *surveyor) lacks(at int) bool {
	return slices.ContainsFunc(v.Replaced, func(c Column) bool { return tape.IsAbsent(c.Values[at]) })
}

// uncertainty is the standard uncertainty of reading j in a case, NaN if it
// takes no part.
func (v *surveyor) uncertainty(b *tape.Block, i, j, at int) float64 {
	r := &v.Readings[j]
	value := r.Values[at]
	switch {
	case !tape.Usable(value):
		return math.NaN()
	case v.Equal:
		return 1
	case r.Spread == tape.None:
		return r.Share * math.Abs(value) / 2
	}
	if u := b.Out[len(v.Readings)+j][i] / 2; tape.Usable(u) {
		return u
	}
	return math.NaN()
}

// fill puts a case's own values, or the notebook's, into row i of a block.
func (v *surveyor) fill(b *tape.Block, i, at int) {
	for k, r := range v.inputs {
		b.In[k][i] = v.base[r]
	}
	for k, c := range v.Replaced {
		if x := c.Values[at]; !tape.IsMissing(x) {
			b.In[v.own[k]][i] = x
		}
	}
}

// run computes n rows; fill sets the inputs of one, see takes its numbers.
func (v *surveyor) run(n int, fill func(b *tape.Block, i int), see func(row int, s *sight), caseOf func(row int) int) {
	runBlocks(v.program, &v.steady, n, func(b *tape.Block) {
		for i := range b.N {
			fill(b, i)
		}
	}, func(b *tape.Block) {
		s := v.newSight()
		for i := range b.N {
			v.look(s, b, i, caseOf(b.First+i))
			see(b.First+i, s)
		}
	})
}

// fewRows is up to how many rows one worker that stays is quicker than several
// new ones.
const fewRows = 2 * tape.BlockSize

// runBlocks runs n rows: few of them on a worker that stays, many on every core.
func runBlocks(p *tape.Program, steady **tape.Worker, n int, fill, use func(*tape.Block)) {
	if n > fewRows {
		_ = p.Run(context.Background(), n, 0, fill, use)
		return
	}
	if *steady == nil {
		*steady = p.NewWorker(tape.BlockSize)
	}
	for first := 0; first < n; first += tape.BlockSize {
		use((*steady).Run(first, min(tape.BlockSize, n-first), fill))
	}
}
