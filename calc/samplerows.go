package calc

import (
	"context"
	"math"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// Samples are the samples themselves, those that [Model.Check] draws with the same
// options: the givens that have a spread, and the formulas computed from them.
type Samples struct {
	Givens, Formulas []Drawn

	sampling sampling
}

// Drawn is a column of the samples: a given as formulas take it, without the error
// of the gauge that it was read with; a reading that is used in place of what is
// computed, as `force.reading`; or what is computed.
type Drawn struct {
	Name string
	Unit units.Unit
}

// Samples prepares the samples of some formulas, of all that depend on a spread if
// there are none, with the givens that they depend on.
func (m *Model) Samples(formulas []*Quantity, opt CheckOptions) (*Samples, []sheets.Problem) {
	base := m.tape.Once(nil)
	s := &Samples{sampling: sampling{opt: opt}}
	var inputs []tape.Register
	for _, d := range m.doubts(base) {
		inputs = append(inputs, d.Input)
		s.sampling.in = append(s.sampling.in, source{base[d.Input], d.U})
	}
	doubtful := m.tape.Reached(inputs)
	if len(formulas) == 0 {
		formulas = m.Quantities
	}
	var givens, outputs []tape.Register
	for _, q := range formulas {
		if q.IsFormula() && !q.IsText() && !q.IsVerdict() && q.value != tape.None && doubtful[q.value] &&
			tape.Usable(base[q.value]) {
			s.Formulas, outputs = append(s.Formulas, Drawn{q.Name, q.Unit}), append(outputs, q.value)
		}
	}
	if len(outputs) == 0 {
		what := "no formula"
		if len(formulas) == 1 {
			what = formulas[0].Name
		}
		return nil, refusal(what+" depends on a given with a spread, so there is nothing to sample",
			"state spreads in the column `spread` of the givens")
	}
	needed := m.tape.Needed(outputs)
	for _, q := range m.Quantities {
		name := q.Name
		switch {
		case q.IsText() || q.IsVerdict() || q.passed == tape.None || !needed[q.passed] || !doubtful[q.passed]:
			continue
		case q.use:
			name += ".reading"
		case q.IsFormula():
			continue
		}
		s.Givens, givens = append(s.Givens, Drawn{name, q.Unit}), append(givens, q.passed)
	}
	outputs = append(givens, outputs...)
	s.sampling.program = tape.NewProgram(m.tape, inputs, outputs, base)
	s.sampling.root, _ = m.tape.Ties.Root(inputs)
	return s, nil
}

// SampleRows are consecutive samples, in the units of the quantities; NaN where a
// formula could not be computed. The memory is used again for others.
type SampleRows struct {
	First, N         int
	Givens, Formulas [][]float64
	Text             []byte // the caller's, to write the rows into; empty at first
}

// Run draws all samples. It calls format for each run of rows in any goroutine,
// and then emit in the calling one, in order. The error is that of emit or of the
// context.
func (s *Samples) Run(ctx context.Context, format func(*SampleRows), emit func(*SampleRows) error) error {
	columns := func(n int) [][]float64 {
		list := make([][]float64, n)
		for k := range list {
			list[k] = make([]float64, 0, tape.BatchSize)
		}
		return list
	}
	return tape.RunOrdered(ctx, s.sampling.program, s.sampling.opt.Samples, 0,
		func() *SampleRows {
			return &SampleRows{Givens: columns(len(s.Givens)), Formulas: columns(len(s.Formulas))}
		},
		func(b *tape.Block, r *SampleRows) {
			if b.First%tape.BatchSize == 0 {
				r.First, r.N, r.Text = b.First, 0, r.Text[:0]
				for k := range r.Givens {
					r.Givens[k] = r.Givens[k][:0]
				}
				for k := range r.Formulas {
					r.Formulas[k] = r.Formulas[k][:0]
				}
			}
			s.sampling.draw(b)
		},
		func(b *tape.Block, r *SampleRows) {
			take := func(to []float64, u units.Unit, from []float64) []float64 {
				for _, x := range from {
					if x = u.FromSI(x); !tape.Usable(x) {
						x = math.NaN()
					}
					to = append(to, x)
				}
				return to
			}
			for k, d := range s.Givens {
				r.Givens[k] = take(r.Givens[k], d.Unit, b.Out[k])
			}
			for k, d := range s.Formulas {
				r.Formulas[k] = take(r.Formulas[k], d.Unit, b.Out[len(s.Givens)+k])
			}
			r.N += b.N
		}, format, emit)
}
