package calc

import (
	"fmt"
	"slices"
	"strings"

	"rambook/sheets"
	"rambook/units/sorting"
	"rambook/units/words"
)

// A row with the unit `verdict` has no number. Its formula worst(NAME or SHEET,
// ...) lists what it judges, and its verdict is the worst of theirs.

// judges is what a row with the unit verdict looks at.
type judges struct {
	formula    *formula
	quantities []*Quantity
	sheets     []*sheets.Sheet // case sheets and all their cases
}

// readVerdict reads the entry of a row with the unit verdict.
func (c *compiler) readVerdict(e entry, r role) entry {
	const how = "write worst(NAME or SHEET, ...), as in worst(force, delivery, jobs)"
	if !r.whole {
		c.report(e.fault("a verdict has no "+r.what, "leave the cell blank"))
		return e
	}
	e.skip += formulaMark(e.cell.Text)
	root, fault := parseFormula(e.own())
	switch {
	case fault != nil:
		fault.Hint = how
		c.report(e.placed(fault))
		return e
	case root.kind != callNode || root.name != "worst" || len(root.args) == 0:
		c.report(e.fault("a verdict is the worst of other rows, here stands something else", how))
		return e
	}
	for _, a := range root.args {
		if a.kind != nameNode {
			c.report(e.problem(a.span(), "a name of a row or of a sheet is needed here", how))
			return e
		}
	}
	e.kind, e.typ = verdictEntry, verdictType
	e.formula = &formula{place: *e.place, text: e.own(), parsed: parsed{root: root}}
	return e
}

// resolveVerdicts finds what the rows with the unit verdict look at. A sheet of
// quantities stands for its rows that can have a verdict.
func (c *compiler) resolveVerdicts() {
	m := c.model
	for _, q := range m.Quantities {
		if q.entry.kind != verdictEntry {
			continue
		}
		q.judges = &judges{formula: q.entry.formula}
		for _, a := range q.entry.formula.tree().args {
			c.resolveJudged(q, a)
		}
	}
	for _, q := range m.Quantities {
		if q.judges != nil && q.judges.reaches(q, map[*Quantity]bool{}) {
			c.report(q.entry.fault(q.Name+" is judged by itself", "take it out, or what leads back to it"))
		}
	}
}

func (c *compiler) resolveJudged(q *Quantity, a *node) {
	m, f := c.model, q.judges.formula
	if other := m.byName[a.name]; other != nil {
		a.kind, a.quantity = quantityNode, other
		q.judges.quantities = append(q.judges.quantities, other)
		return
	}
	if s := c.sheets[a.name]; s != nil {
		if s.Kind == sheets.Cases {
			q.judges.sheets = append(q.judges.sheets, s)
			return
		}
		for _, row := range m.Quantities {
			if row.Sheet == s && row != q {
				q.judges.quantities = append(q.judges.quantities, row)
			}
		}
		return
	}
	if m.aside[a.name] != nil || m.Book.IsAside(a.name) {
		return // left out, as all that is n/a
	}
	names := m.Names()
	for _, s := range m.Book.Sheets {
		names = append(names, s.Name)
	}
	message, hint := c.noSuchName(a.name, names, "add a row with that name, or take it out")
	c.report(f.problem(a.span(), message, hint))
}

// reaches reports whether a verdict leads back to q.
func (j *judges) reaches(q *Quantity, seen map[*Quantity]bool) bool {
	for _, other := range j.quantities {
		if other == q {
			return true
		}
		if other.judges != nil && !seen[other] {
			seen[other] = true
			if other.judges.reaches(q, seen) {
				return true
			}
		}
	}
	return false
}

// concern orders verdicts for a row of verdicts: what is open is worse than
// what is unsure, since nobody has looked.
func concern(v Verdict) int {
	return slices.Index([]Verdict{NoVerdict, Pass, Unsure, Open, Fail}, v)
}

// judgeLater leaves a row of the unit verdict to judgeVerdicts. What is blank is
// open, and what the machine has none of is not judged.
func (m *Model) judgeLater(out *Judged) {
	switch q := out.Quantity; {
	case q.judges != nil:
		out.State = Computed
	case q.IsAbsent():
		out.State = Absent
	default:
		out.State, out.Verdict = Waiting, Open
		out.Needs = []Need{{Name: q.Name, Sheet: q.Sheet.Name, File: q.Sheet.File, Line: q.Row.Name.Line}}
	}
}

// judgeVerdicts fills in the rows with the unit verdict, once all others are
// judged.
func (m *Model) judgeVerdicts(r *Report) {
	if len(r.Quantities) < len(m.Quantities) {
		return
	}
	done := map[*Quantity]bool{}
	for _, q := range m.Quantities {
		m.judgeVerdict(r, q, done)
	}
}

func (m *Model) judgeVerdict(r *Report, q *Quantity, done map[*Quantity]bool) *Judged {
	out := &r.Quantities[q.index]
	if q.judges == nil || done[q] {
		return out
	}
	done[q] = true
	out.Verdict, out.Blames, out.Needs = NoVerdict, nil, nil
	add := func(v Verdict, name string, needs []Need) {
		if concern(v) > concern(out.Verdict) {
			out.Verdict = v
		}
		if v > Pass {
			out.Blames = append(out.Blames, Blame{name, v})
			out.Needs = union(out.Needs, needs)
		}
	}
	for _, other := range q.judges.quantities {
		j := m.judgeVerdict(r, other, done)
		add(j.Verdict, other.Name, j.Needs)
	}
	for _, s := range q.judges.sheets {
		for _, result := range r.Cases {
			if result.Sheet != s {
				continue
			}
			for i := range result.Cases {
				c := &result.Cases[i]
				add(c.Verdict, fmt.Sprintf("%s[%s]", s.Name, c.Name), c.needs())
			}
		}
	}
	sorting.Stable(out.Blames, func(a, b Blame) int { return concern(b.Verdict) - concern(a.Verdict) })
	return out
}

// Blame is one thing that keeps a row of the unit verdict from passing.
type Blame struct {
	Name    string // of a quantity, or `jobs[bush]`
	Verdict Verdict
}

// needs lists what is open in a case.
func (c *Case) needs() []Need {
	var needs []Need
	for i := range c.Values {
		needs = union(needs, c.Values[i].Needs)
	}
	return needs
}

// readTicks finds what must pass before each tick.
func (c *compiler) readTicks() {
	for _, q := range c.model.Quantities {
		cell := q.Row.After
		if cell.Blank() {
			continue
		}
		p := placeIn(q.Sheet, cell)
		if !q.IsTick() {
			c.report(p.fault("`after` is for ticks, and "+q.Name+" "+isIn(q.Unit),
				"leave the cell blank, or give the row the unit tick"))
			continue
		}
		for _, name := range strings.FieldsFunc(cell.Text,
			func(r rune) bool { return r == ',' || r == ' ' || r == '\t' || r == '\n' }) {
			other := c.model.byName[name]
			switch {
			case other == q:
				c.report(p.fault(q.Name+" cannot come after itself", "take it out"))
			case other != nil:
				q.after = append(q.after, other)
			case c.model.aside[name] == nil:
				message, hint := c.noSuchName(name, c.model.Names(), "name ticks or quantities that must pass before")
				c.report(p.fault(message, hint))
			}
		}
	}
}

// warnOrder warns of ticks that were set before what has to come first.
func (m *Model) warnOrder(r *Report) []sheets.Problem {
	if len(r.Quantities) < len(m.Quantities) {
		return nil
	}
	var warnings []sheets.Problem
	for _, q := range m.Quantities {
		j := &r.Quantities[q.index]
		if len(q.after) == 0 || !Has(j.Value) || j.Value == 0 {
			continue
		}
		var early []string
		for _, other := range q.after {
			if o := &r.Quantities[other.index]; o.Verdict > Pass {
				early = append(early, other.Name+" ("+o.Verdict.String()+")")
			}
		}
		if len(early) > 0 {
			warnings = append(warnings, q.entry.fault(q.Name+" is ticked, but comes after "+words.Listed(early,
				mostNames),
				"do these first, or untick it"))
		}
	}
	return warnings
}
