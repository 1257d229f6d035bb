package calc

import (
	"math"
	"slices"

	"rambook/units"
)

// Glance is one notebook in a line: what someone who looks after many machines
// asks of each.
type Glance struct {
	Verdict Verdict    // the worst of all
	Worst   *Judged    // what makes it so, worst of all; nil where everything passes or nothing is judged
	Where   *Placed    // where Worst stands
	More    int        // how many others have that verdict
	Due     *Placed    // the computed date that comes first; nil if there is none
	DueOn   float64    // SI
	Meets   *Foresight // nil if no trend goes to a limit
}

// Placed is a quantity, in a case of a sheet where Case is not "".
type Placed struct{ Name, Sheet, Case string }

// Foresight is a trend that meets a limit.
type Foresight struct {
	*Trend
	On float64 // the date, SI
}

// Glance looks at a report of the model for what comes first.
func (m *Model) Glance(r *Report) Glance {
	g := Glance{DueOn: math.Inf(1)}
	look := func(j *Judged, p Placed) {
		if j.Quantity.IsVerdict() {
			return // it is of other rows
		}
		g.Verdict = max(g.Verdict, j.Verdict)
		switch {
		case j.Verdict <= Pass || g.Worst != nil && j.Verdict < g.Worst.Verdict:
		case g.Worst == nil || j.Verdict > g.Worst.Verdict:
			g.Worst, g.Where, g.More = j, &p, 0
		default:
			g.More++
			if j.gravity() > g.Worst.gravity() {
				g.Worst, g.Where = j, &p
			}
		}
		if on := j.Unit.ToSI(j.Value); j.Unit.Kind == units.Date && j.Quantity.IsFormula() && Has(j.Value) &&
			on < g.DueOn {
			g.DueOn, g.Due = on, &p
		}
	}
	for i := range r.Quantities {
		j := &r.Quantities[i]
		look(j, Placed{j.Quantity.Name, j.Quantity.Sheet.Name, ""})
	}
	for i := range r.Cases {
		result := &r.Cases[i]
		for k := range result.Cases {
			c := &result.Cases[k]
			for n := range c.Values {
				look(&c.Values[n], Placed{c.Values[n].Quantity.Name, result.Sheet.Name, c.Name})
			}
		}
		m.foresee(&g, result)
	}
	return g
}

// gravity orders values of one verdict: by how far beyond the limit they are, as
// a share of it, or by how unlikely they are within.
func (j *Judged) gravity() float64 {
	x, _, _ := j.Subject()
	switch {
	case j.Verdict == Unsure && Has(j.Inside):
		return 1 - j.Inside
	case j.Verdict == Fail && j.Unit.Kind == units.Ordinary:
		over := 0.0
		for _, d := range []float64{(j.Low - x) / math.Abs(j.Low), (x - j.High) / math.Abs(j.High)} {
			if d > over {
				over = d
			}
		}
		return over
	}
	return 0
}

// foresee looks whether what a dated sheet asks for, or records, goes to a limit, and keeps
// the one that comes first. A line that its points speak against, or that goes
// through computed values only, foretells nothing.
func (m *Model) foresee(g *Glance, result *CaseResult) {
	const fewest = 3 // points of a line that can be judged
	dates := m.dates(result.Sheet)
	if len(result.Cases) < fewest || dates == nil {
		return
	}
	at := slices.IndexFunc(m.caseSheets, func(cs *caseSheet) bool { return cs.sheet == result.Sheet })
	if at < 0 {
		return
	}
	var x *series
	for k, asked := range m.caseSheets[at].judged() {
		if k >= len(result.Asked) || asked.quantity != result.Asked[k] {
			return // only part of the sheet was asked for
		}
		limited := false
		values := make([]Judged, len(result.Cases))
		for i := range values {
			values[i] = result.Cases[i].Values[k]
			limited = limited || Has(values[i].Low) || Has(values[i].High)
		}
		if !limited {
			continue
		}
		if x == nil {
			if x, _ = m.series(result.Sheet, dates.name); x == nil {
				return
			}
		}
		y := seriesOf(asked.quantity, asked.unit, values)
		y.idle = m.idle(m.caseSheets[at], asked.quantity, m.tables[result.Sheet.Name].column(asked.quantity.Name))
		t := &Trend{Sheet: result.Sheet, Name: asked.quantity.Name, Against: dates.name}
		if len(t.draw(x, y)) > 0 || !t.Foretells() || t.Meets.Past || t.Meets.Far ||
			t.OfModel() == len(t.Points) {
			continue
		}
		if on := t.Origin + t.Meets.When*units.Day; g.Meets == nil || on < g.Meets.On {
			g.Meets = &Foresight{t, on}
		}
	}
}
