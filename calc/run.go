package calc

import (
	"context"
	"math"

	"rambook/calc/tape"
	"rambook/sheets"
)

// runCases runs a case sheet: the model once for each case.
func (m *Model) runCases(cs *CaseSheet, base []float64, opt CheckOptions) (CaseResult, []sheets.Problem) {
	t := m.tape.Extend()
	seeds := m.seeds()
	for _, g := range cs.Given {
		if g.spreadAt != tape.None {
			seeds[g.Quantity.value] = g.spreadAt
		}
	}
	judged := cs.judged()
	judgements := make([]judgement, len(judged))
	var roots, inputs []tape.Register
	for i, a := range judged {
		judgements[i] = a.judgement()
		roots = append(roots, judgements[i].roots()...)
	}
	s := tape.Differentiate(t, seeds, roots)
	var outputs []tape.Register
	for i := range judgements {
		judgements[i].addSpreads(s)
		outputs = append(outputs, judgements[i].at[:]...)
	}
	for _, g := range cs.Given {
		inputs = append(inputs, g.Quantity.value)
	}
	// The base values of what was appended are not known yet.
	values := append(append(make([]float64, 0, len(t.Ops)), base...), make([]float64, len(t.Ops)-len(base))...)
	t.Rerun(values, len(base), nil)

	n := len(cs.Sheet.Cases)
	result := CaseResult{Sheet: cs.Sheet, Cases: make([]Case, n)}
	for _, a := range judged {
		result.Asked = append(result.Asked, a.Quantity)
	}
	failures := make([][]sheets.Problem, n)
	program := tape.NewProgram(t, inputs, outputs, values)
	_ = program.Run(context.Background(), n, opt.Workers, func(b *tape.Block) {
		for i, g := range cs.Given {
			g.fill(b.In[i], b.First, base[g.Quantity.value])
		}
	}, func(b *tape.Block) {
		for i := range b.N {
			at := b.First + i
			result.Cases[at], failures[at] = m.judgeCase(cs, t, judgements, b, i)
		}
	})
	var all []sheets.Problem
	for _, f := range failures {
		all = append(all, f...)
	}
	return result, all
}

// fill copies a column's values for the cases from first on; a blank cell
// leaves the model's value.
func (g *Given) fill(to []float64, first int, model float64) {
	copy(to, g.column.values[first:])
	for i, v := range to {
		if tape.IsMissing(v) {
			to[i] = model
		}
	}
}

// judgeCase judges one case of a block.
func (m *Model) judgeCase(cs *CaseSheet, t *tape.Tape, judgements []judgement, b *tape.Block, i int) (Case, []sheets.Problem) {
	row := &cs.Sheet.Cases[b.First+i]
	result := Case{Name: row.Name.Text, Row: row, Values: make([]Judged, len(judgements))}
	var failures []sheets.Problem
	var tr *trace
	why := func() *trace {
		if tr == nil {
			tr = m.traceCase(cs, t, b, i)
		}
		return tr
	}
	for k, a := range cs.judged() {
		out, j := &result.Values[k], &judgements[k]
		*out = Judged{Quantity: a.Quantity, Unit: a.Unit, SampledMean: math.NaN(), SampledLow: math.NaN(), SampledHigh: math.NaN()}
		reading := a.column.values[b.First+i]
		if !tape.Usable(reading) {
			reading = math.NaN()
		}
		fail := func(p sheets.Problem) {
			out.Error = p.Message
			p.Message = row.Name.Text + ": " + a.Quantity.Name + ": " + p.Message
			failures = append(failures, p)
		}
		v := j.measure(func(facet int, _ tape.Register) float64 { return b.Out[k*facets+facet][i] })
		out.Needs = j.settle(&v, Has(reading), why, func(failed tape.Register) {
			if out.Error == "" {
				fail(cs.blame(why(), failed, row))
			}
		})
		failed := out.Error != ""
		j.judge(out, v, reading)
		if out.Error != "" && !failed {
			fail(a.Quantity.entry.problem(a.Quantity.entry.whole(), out.Error, largerUnit))
		}
		result.Verdict = max(result.Verdict, out.Verdict)
	}
	return result, failures
}

// traceCase runs the tape again for one case, to explain what went wrong.
func (m *Model) traceCase(cs *CaseSheet, t *tape.Tape, b *tape.Block, i int) *trace {
	set := map[tape.Register]float64{}
	for k, g := range cs.Given {
		set[g.Quantity.value] = b.In[k][i]
	}
	return m.newTrace(t, t.Once(set))
}

// blame reports a failure at the case's own cell where that cell gave the key
// of a look-up, else at the formula.
func (cs *CaseSheet) blame(tr *trace, failed tape.Register, row *sheets.CaseRow) sheets.Problem {
	p := tr.failure(failed)
	o := &tr.tape.Ops[failed]
	if o.Code != tape.OpLookup {
		return p
	}
	for _, g := range cs.Given {
		if cell := row.Cells[g.column.index]; g.Quantity.value == o.A && !cell.Blank() {
			return cs.Sheet.Problem(cell, 0, len([]rune(cell.Text)), p.Message, p.Hint)
		}
	}
	return p
}
