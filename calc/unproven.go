package calc

import (
	"math"
	"slices"

	"rambook/calc/tape"
)

// unproven are the numbers that were read with a gauge whose error nobody has stated,
// in a row that states no spread either. That is another thing than a number without
// any gauge, which counts as exact: somebody measured here, and how well is not known.
// So nothing that such a number has a part in passes.
type unproven struct {
	from    map[tape.Register]*Quantity // where they come onto the tape
	reached []bool                      // by register: one of them has a part in it
}

// unprovenIn finds the unproven numbers of a run, that of the notebook's own values
// where cs is nil; nil where there are none. A column that states the spread of its
// cells says how sure they are.
func (m *Model) unprovenIn(cs *caseSheet) *unproven {
	if len(m.unproven) == 0 {
		return nil
	}
	u := &unproven{from: map[tape.Register]*Quantity{}}
	var origins []tape.Register
	add := func(r tape.Register, q *Quantity) {
		if u.from[r] == nil {
			u.from[r], origins = q, append(origins, r)
		}
	}
	for _, q := range m.unproven {
		stated := cs != nil && slices.ContainsFunc(cs.given,
			func(g *givenColumn) bool { return g.quantity == q && g.spread.kind != blankEntry })
		if !stated && (!q.IsFormula() || q.use) {
			add(q.input(), q)
		}
	}
	for _, q := range m.order {
		if f := q.entry.formula; f != nil && q.value != tape.None {
			f.each(func(_ nodeKind, n *meaning) {
				if n.link != nil && n.data != nil && n.data.isUnproven() {
					add(q.value, n.data.quantity)
				}
			})
		}
	}
	u.reached = m.tape.Reached(origins)
	return u
}

// isUnproven reports whether a formula that reads the cells of a column goes on with
// what a gauge of unknown error has shown.
func (col *column) isUnproven() bool {
	return col.quantity != nil && col.quantity.unproven && !col.asks &&
		col.sheet.Columns[col.index].Spread.Blank() && slices.ContainsFunc(col.values, tape.Usable)
}

// of is the unproven number that a judgement rests on: the reading itself, else one
// that the value, or a limit, is computed with; nil if there is none.
func (u *unproven) of(j *judgement, q *Quantity, reading float64, known map[tape.Register]tape.Register,
	tr func() *trace) *Quantity {
	if Has(reading) && j.unproven {
		return q
	}
	roots := []tape.Register{j.at[theValue], j.at[theLow], j.at[theHigh]}
	if Has(reading) {
		roots = roots[1:]
	}
	for _, r := range roots {
		if from := u.behind(r, known, tr); from != nil {
			return from
		}
	}
	return nil
}

// behind is the unproven number that a register is computed with, nil if there is none.
//
//go:noinline
func (u *unproven) behind(r tape.Register, known map[tape.Register]tape.Register, tr func() *trace) *Quantity {
	if u == nil || r == tape.None || int(r) >= len(u.reached) || !u.reached[r] {
		return nil
	}
	if at := tr().originOf(u.reached, r, known); at != tape.None {
		return u.from[at]
	}
	return nil
}

// doubted is why the difference of a reading to the value in a register is no sign of a
// fault: it may be the error of an unproven number; "" where it may be one.
func (u *unproven) doubted(value tape.Register, tr *trace) string {
	from := u.behind(value, map[tape.Register]tape.Register{}, func() *trace { return tr })
	if from == nil {
		return ""
	}
	return "its computed value rests on " + from.Name + ", which was read with " + from.With +
		", whose error is not known"
}

// compare takes back E_n where the computed value rests on an unproven number: any
// difference may be the error of that, and so may there being none.
//
//go:noinline
func (u *unproven) compare(out *Judged, j *judgement, known map[tape.Register]tape.Register, tr func() *trace) {
	if !Has(out.Reading) || !Has(out.Value) || out.Unproven == out.Quantity {
		return
	}
	if out.UnprovenValue = u.behind(j.at[theValue], known, tr); out.UnprovenValue != nil {
		out.Agreement = math.NaN()
	}
}

// withhold takes back what cannot be said of a number that rests on one of unknown
// error: that it passes, how likely it keeps its limits, and E_n. A fail stands. An
// error that nobody has stated may have made a good machine look bad as well, but it
// gives no leave to go on: else a gauge without a class would clear a part that
// is beyond its rating, where a number without any gauge fails.
func (j *Judged) withhold() {
	if j.Unproven == nil {
		return
	}
	j.Inside, j.Agreement = math.NaN(), math.NaN()
	if j.Verdict == Pass {
		j.Verdict = Unsure
	}
}
