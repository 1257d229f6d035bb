package fit

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"

	"rambook/calc/tape"
)

// line is the model y = a + b·x + zero + probe, with x and the probe's own error
// stated case by case, and zero an error that all cases share.
type line struct {
	*Survey
	a, b, x, zero, probe, y tape.Register
}

func newLine(n int, chance *rand.Rand) line {
	t := tape.New()
	l := line{a: t.Input(0), b: t.Input(0), x: t.Input(tape.Missing), zero: t.Input(0), probe: t.Input(0)}
	spreads := []tape.Register{t.Constant(0.6), t.Constant(0.4), t.Constant(0.2)}
	l.y = t.Binary(tape.OpAdd, t.Binary(tape.OpAdd, l.a, t.Mul(l.b, l.x)), t.Binary(tape.OpAdd, l.zero, l.probe))
	x, probe, read := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		x[i] = 1 + float64(i)*0.37
		read[i] = 2 + 3*x[i] + 0.25 + chance.NormFloat64()*0.14
	}
	l.Survey = &Survey{Tape: t, Base: t.Once(nil), Cases: n,
		Replaced: []Column{{l.x, x}, {l.probe, probe}},
		Readings: []Reading{{Formula: l.y, Values: read, Spread: spreads[2]}},
		Doubts:   []Doubt{{l.zero, spreads[0]}, {l.probe, spreads[1]}}}
	return l
}

func wide(r tape.Register) Free {
	return Free{Input: r, From: math.Inf(-1), To: math.Inf(1)}
}

// TestFitNormalEquations holds the joint fit of a straight line against the
// normal equations of generalized least squares, (JᵀV⁻¹J)·x = JᵀV⁻¹y, written
// out with a covariance matrix as wide as all readings (closed form).
func TestFitNormalEquations(t *testing.T) {
	const n = 300 // more than one block of cases
	l := newLine(n, rand.New(rand.NewPCG(1, 2)))
	l.Free = []Free{wide(l.a), wide(l.b)}
	l.Free[1].Start, l.Free[1].U = 2.5, 0.05 // what is known of b before
	got, err := l.Fit()
	if err != nil {
		t.Fatal(err)
	}

	v := mat.NewSymDense(n, nil)
	j := mat.NewDense(n, 2, nil)
	y := mat.NewVecDense(n, l.Readings[0].Values)
	for i := range n {
		for k := range i + 1 {
			v.SetSym(i, k, 0.3*0.3)
		}
		v.SetSym(i, i, 0.3*0.3+0.2*0.2+0.1*0.1)
		j.Set(i, 0, 1)
		j.Set(i, 1, l.Replaced[0].Values[i])
	}
	var weights, normal mat.Dense
	var right, x mat.VecDense
	var inverse mat.SymDense
	var chol mat.Cholesky
	if !chol.Factorize(v) || chol.InverseTo(&inverse) != nil {
		t.Fatal("no inverse")
	}
	weights.Mul(j.T(), &inverse)
	normal.Mul(&weights, j)
	right.MulVec(&weights, y)
	normal.Set(1, 1, normal.At(1, 1)+1/(0.05*0.05))
	right.SetVec(1, right.AtVec(1)+2.5/(0.05*0.05))
	if err := x.SolveVec(&normal, &right); err != nil {
		t.Fatal(err)
	}
	var covariance mat.Dense
	if err := covariance.Inverse(&normal); err != nil {
		t.Fatal(err)
	}
	var rest, weighed mat.VecDense
	rest.MulVec(j, &x)
	rest.SubVec(y, &rest)
	weighed.MulVec(&inverse, &rest)
	misfit := mat.Dot(&rest, &weighed) + math.Pow((x.AtVec(1)-2.5)/0.05, 2)

	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-7*math.Abs(want) {
			t.Errorf("%s %.12g, want %.12g", what, got, want)
		}
	}
	for k, name := range []string{"a", "b"} {
		near(name, got.Values[k], x.AtVec(k))
		near("u of "+name, got.U[k], math.Sqrt(covariance.At(k, k)))
	}
	near("correlation", got.Corr.At(0, 1), covariance.At(0, 1)/math.Sqrt(covariance.At(0, 0)*covariance.At(1, 1)))
	near("misfit", got.Misfit, misfit)
	if got.Count != n || got.Degrees != n+1-2 {
		t.Errorf("%d readings, %d degrees", got.Count, got.Degrees)
	}
}

func TestFitToldApart(t *testing.T) {
	l := newLine(20, rand.New(rand.NewPCG(3, 4)))
	other := l.Tape.Input(1)
	l.Readings[0].Formula = l.Tape.Binary(tape.OpAdd, l.y, other)
	idle := l.Tape.Input(5)
	l.Base = l.Tape.Once(nil)
	l.Free = []Free{wide(l.a), wide(other), wide(l.b), wide(idle)}
	got, err := l.Fit()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range [][]int{{0, 1}, {3}} {
		if !slices.ContainsFunc(got.Alike, func(group []int) bool { return slices.Equal(group, want) }) {
			t.Errorf("not told apart: %v, want %v among them", got.Alike, want)
		}
	}
	if got.U[2] != got.U[2] || got.U[0] == got.U[0] || got.U[3] == got.U[3] {
		t.Errorf("uncertainties %v: only that of the slope is known", got.U)
	}
}

func TestFitRefuses(t *testing.T) {
	l := newLine(20, rand.New(rand.NewPCG(3, 4)))
	l.Free = []Free{wide(l.a)}
	l.Readings[0].Formula = l.Tape.Binary(tape.OpDiv, l.y, l.b)
	l.Base = l.Tape.Once(nil)
	if _, err := l.Fit(); err != ErrNoValue {
		t.Errorf("a model without a value: %v", err)
	}
	l = newLine(1, rand.New(rand.NewPCG(3, 4)))
	l.Free = []Free{wide(l.a), wide(l.b)}
	if _, err := l.Fit(); err != ErrTooFew {
		t.Errorf("one reading for two givens: %v", err)
	}
}

func TestFitWithin(t *testing.T) {
	l := newLine(20, rand.New(rand.NewPCG(5, 6)))
	l.Free = []Free{wide(l.a), {Input: l.b, From: 0, To: 2.5, Start: 1}}
	got, err := l.Fit()
	if err != nil {
		t.Fatal(err)
	}
	if got.Values[1] != 2.5 || !got.AtEnd[1] || got.AtEnd[0] {
		t.Errorf("values %v, at an end %v", got.Values, got.AtEnd)
	}
}

// plant is a model with several readings of several givens that may be off.
func plant(cases int, readings int, faults []float64, chance *rand.Rand) *Survey {
	t := tape.New()
	var inputs []tape.Register
	for range faults {
		inputs = append(inputs, t.Input(1))
	}
	slope := rand.New(rand.NewPCG(7, 8)) // the same plant every time
	s := &Survey{Tape: t, Cases: cases}
	spread := t.Constant(0.02)
	drift := t.Input(0)
	s.Doubts = []Doubt{{drift, t.Constant(0.01)}}
	for range readings {
		y := drift
		for _, in := range inputs {
			y = t.Binary(tape.OpAdd, y, t.Mul(t.Constant(slope.NormFloat64()), t.Mul(in, in)))
		}
		s.Readings = append(s.Readings, Reading{Formula: y, Spread: spread, Values: make([]float64, cases)})
	}
	s.Base = t.Once(nil)
	for at := range cases {
		set := map[tape.Register]float64{}
		for k, in := range inputs {
			set[in] = 1
			if at%2 == 1 {
				set[in] = faults[k]
			}
		}
		values := t.Once(set)
		for j := range s.Readings {
			s.Readings[j].Values[at] = values[s.Readings[j].Formula] + chance.NormFloat64()*0.01
		}
	}
	for _, in := range inputs {
		s.Free = append(s.Free, Free{Input: in, From: 0.2, To: 2})
	}
	return s
}

// TestDiagnoseSeveral breaks three of six givens in every second case.
func TestDiagnoseSeveral(t *testing.T) {
	faults := []float64{1, 0.7, 1, 1.4, 1, 0.85}
	const cases = 200
	s := plant(cases, 8, faults, rand.New(rand.NewPCG(9, 10)))
	wrong, within, values := 0, 0, 0
	for at, f := range s.Diagnose() {
		if at%2 == 0 {
			if len(f.Found) > 0 {
				wrong++
			}
			continue
		}
		var given []int
		for _, g := range f.Found {
			given = append(given, g.Given)
			values++
			if math.Abs(g.Value-faults[g.Given]) <= 2*g.U {
				within++
			}
		}
		slices.Sort(given)
		if !slices.Equal(given, []int{1, 3, 5}) {
			wrong++
		}
	}
	if wrong > cases/20 {
		t.Errorf("%d of %d cases are wrong", wrong, cases)
	}
	if share := float64(within) / float64(values); share < 0.9 {
		t.Errorf("%.0f %% of the values lie within k = 2", 100*share)
	}
}

// TestDiagnoseTies has two givens that act alike.
func TestDiagnoseTies(t *testing.T) {
	s := plant(2, 8, []float64{0.7, 1}, rand.New(rand.NewPCG(11, 12)))
	twin := s.Tape.Input(1)
	for j, r := range s.Readings {
		product := s.Tape.Mul(s.Free[0].Input, twin)
		_ = product
		s.Readings[j].Formula = s.Tape.Mul(r.Formula, twin)
	}
	s.Base = s.Tape.Once(nil)
	scale := s.Tape.Input(1)
	for j, r := range s.Readings {
		s.Readings[j].Formula = s.Tape.Mul(r.Formula, scale)
		s.Readings[j].Values[1] = 0
	}
	s.Base = s.Tape.Once(nil)
	for j := range s.Readings { // a fault of the scale alone
		s.Readings[j].Values[1] = 1.3 * s.Base[s.Readings[j].Formula]
	}
	s.Free = append(s.Free, Free{Input: twin, From: 0.2, To: 2}, Free{Input: scale, From: 0.2, To: 2})
	f := s.Diagnose()[1]
	if len(f.Found) != 1 {
		t.Fatalf("found %+v", f.Found)
	}
	one := f.Found[0]
	if (one.Given != 2 || !slices.Equal(one.Tied, []int{3})) && (one.Given != 3 || !slices.Equal(one.Tied, []int{2})) {
		t.Errorf("given %d tied with %v, want 2 and 3", one.Given, one.Tied)
	}
	if math.Abs(one.Value-1.3) > 0.01 {
		t.Errorf("value %g, want 1.3", one.Value)
	}
}

// BenchmarkDiagnoseCases is the diagnosis of 2,000 cases with 8 readings and 6
// suspects of which half are off. Its baseline is one run of the readings with
// their derivatives.
func BenchmarkDiagnoseCases(b *testing.B) {
	s := plant(2000, 8, []float64{1, 0.7, 1, 1.4, 1, 0.85}, rand.New(rand.NewPCG(13, 14)))
	for b.Loop() {
		s.Diagnose()
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "ms/2000-cases")
}
