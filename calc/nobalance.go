package calc

import (
	"math"

	"rambook/calc/implicit"
	"rambook/calc/tape"
)

// Where the sides of an unknown meet nowhere in its range, as those of an oil temperature
// that a cooler no longer holds there, there is no value to judge. Still its limit may be
// known to be broken: if the sides come closer all the way to one end of the range, and
// at a limit before that end are further apart than their spread, then no value that
// keeps to this limit makes them equal. What lies off the other end counts for nothing:
// the range is where the notebook says that the unknown lies, and there the sides part.

// balance is the difference of both sides at a limit of an unknown, with its spread, on a
// tape that goes on from the model's.
type balance struct {
	on          *tape.Tape
	gap, spread tape.Register
}

// balanceAt prepares that for all cases of a run.
func (d *differentiated) balanceAt(m *Model, sys *implicit.System, limit tape.Register, args []tape.Register) *balance {
	if known, found := d.balances.Load(limit); found {
		return known.(*balance)
	}
	b := &balance{on: m.tape.Extend()}
	b.gap = b.on.Call(&tape.Callee{Name: "balance",
		Eval:   func(x []float64) float64 { return sys.Gap(x[0], x[1:], nil) },
		Slopes: func(x []float64, _ float64, slopes []float64) { sys.Gap(x[0], x[1:], slopes) },
	}, append([]tape.Register{limit}, args...))
	b.spread = tape.Differentiate(b.on, d.seeds, []tape.Register{b.gap}).Spread(b.gap)
	d.balances.Store(limit, b)
	return b
}

// judgeUnbalanced makes a fail of an unknown without a solution that is known to break
// its limit.
func (r *judging) judgeUnbalanced(out *Judged, j *judgement, v *measured) {
	u := out.Quantity.unknown
	if u == nil || u.sys == nil || out.Verdict != Open || out.Error == "" {
		return
	}
	tr := r.trace()
	tr.follow(tape.None)
	op := &tr.tape.Ops[j.at[theValue]]
	if op.Code != tape.OpCall {
		return
	}
	registers := r.model.tape.More(op).Args
	args := make([]float64, len(registers))
	for k, at := range registers {
		args[k] = tr.values[at]
	}
	end, facet := u.sys().Nearer(args), theHigh
	if end < 0 {
		facet = theLow
	}
	limit := v[facet]
	if end == 0 || j.at[facet] == tape.None || !(limit >= u.lo && limit <= u.hi) {
		return
	}
	b := r.differentiated.balanceAt(r.model, u.sys(), j.at[facet], registers)
	values := b.on.Continue(tr.values[:len(r.model.tape.Ops)])
	spread := 0.0
	if b.spread != tape.None {
		spread = values[b.spread]
	}
	if math.Abs(values[b.gap]) > spread {
		out.Verdict, out.Unbalanced = Fail, int8(end)
		out.Error = NoBalance(out.Unbalanced, shown(limit, u.Unit)) + ": " + out.Error
	}
}

// NoBalance says which limit an unbalanced unknown breaks.
func NoBalance(end int8, limit string) string {
	if end < 0 {
		return "no balance from its low limit " + limit + " on"
	}
	return "no balance up to its high limit " + limit
}
