package calc

import (
	"slices"
	"strings"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/sorting"
)

// Step is one quantity of a derivation.
type Step struct {
	Judged
	Formula string // as it stands in the sheet, "" for a given
	Filled  string // the formula with numbers and units put in
	Units   []UnitStep
	From    []string // the quantities it is computed from
	Note    string
}

// Derivation explains one quantity down to the givens, each once.
type Derivation struct {
	Steps  []Step  // the asked quantity first, then formulas, then givens
	Shares []Share // largest first
}

// Show writes a number with its unit, as the caller prints numbers. typed is
// that the number stands in the notebook, as against a computed one.
type Show func(v float64, u units.Unit, typed bool) string

// Explain derives a quantity, with the numbers that are put into formulas
// written by show.
func (m *Model) Explain(name string, show Show) (*Derivation, []sheets.Problem) {
	q, problems := m.ask(inArgument("NAME", name), name)
	if q == nil {
		return nil, problems
	}
	if problems := m.ofGauge(inArgument("NAME", name), q, "and nothing is computed for it", ""); problems != nil {
		return nil, problems
	}
	report, values := m.checkQuantities(CheckOptions{})
	if q.IsVerdict() { // which may look at cases
		report, _ = m.Check(CheckOptions{})
	}
	if problems := report.errorsOf(q.ancestry()); len(problems) > 0 {
		return nil, problems
	}
	d := &Derivation{Shares: m.shares(q, values)}
	for _, part := range q.ancestry() {
		d.Steps = append(d.Steps, m.step(&report.Quantities[part.index], values, show))
	}
	return d, nil
}

// Steps derives all quantities of a report of this model, in its order.
func (m *Model) Steps(r *Report, show Show) []Step {
	values := m.tape.Once(nil)
	steps := make([]Step, len(r.Quantities))
	for i := range r.Quantities {
		steps[i] = m.step(&r.Quantities[i], values, show)
	}
	return steps
}

// step derives one quantity from those that its formula names.
func (m *Model) step(j *Judged, values []float64, show Show) Step {
	q := j.Quantity
	step := Step{Judged: *j, Formula: q.Formula, Note: q.Row.Note.Text}
	switch {
	case q.setAside:
		step.Formula = ""
	case q.unknown != nil:
		step.Formula = "found so that " + q.unknown.row.Until.Text
		step.Filled = step.Formula
	case q.IsFormula():
		step.Filled = m.filled(q.entry.formula, values, show)
		step.Units = q.unitSteps(q.entry.formula, j.Value)
	}
	for _, used := range q.computedFrom() {
		if !slices.Contains(step.From, used.Name) {
			step.From = append(step.From, used.Name)
		}
	}
	return step
}

// computedFrom lists the quantities that the formula of q reads, or the sides
// that it is found by.
func (q *Quantity) computedFrom() []*Quantity {
	if u := q.unknown; u != nil {
		return slices.Concat(u.of[0].uses(), u.of[1].uses())
	}
	return q.uses()
}

// ancestry lists a quantity and all it is computed from: formulas in the
// order in which a reader meets them, then the givens.
func (q *Quantity) ancestry() []*Quantity {
	var formulas, givens []*Quantity
	met := map[*Quantity]bool{q: true}
	for queue := []*Quantity{q}; len(queue) > 0; queue = queue[1:] {
		next := queue[0]
		if !next.IsFormula() || next.setAside {
			givens = append(givens, next)
			continue
		}
		formulas = append(formulas, next)
		for _, used := range next.computedFrom() {
			if !met[used] {
				met[used] = true
				queue = append(queue, used)
			}
		}
	}
	return append(formulas, givens...)
}

// filled writes a formula with the values of its quantities, look-ups and
// curves put in the place of their names.
func (m *Model) filled(f *formula, values []float64, show Show) string {
	type patch struct {
		span
		text string
	}
	var patches []patch
	text := []rune(f.text)
	put := func(s span, v float64, u units.Unit, typed bool) {
		shown := "?" // open
		if tape.Usable(v) {
			shown = show(u.FromSI(v), u, typed)
			if v < 0 || u.Symbol != "" && s.to < len(text) &&
				(text[s.to] == '^' || strings.HasPrefix(string(text[s.to:]), "**")) {
				shown = "(" + shown + ")"
			}
		}
		patches = append(patches, patch{s, shown})
	}
	var visit func(n *node)
	visit = func(n *node) {
		switch {
		case n.kind == quantityNode && n.quantity.IsText():
			shown := "?"
			if v := values[n.quantity.value]; tape.Usable(v) {
				shown = `"` + m.texts[int(v)] + `"`
			}
			patches = append(patches, patch{n.span(), shown})
		case n.kind == quantityNode:
			put(n.span(), values[n.quantity.value], n.quantity.Unit, !n.quantity.IsFormula())
		case n.kind == lookupNode && n.data.typ.Sort == function.Number:
			put(n.span(), values[n.out], n.data.unit, true)
		case n.kind == cycleNode:
			put(n.span(), values[n.cycle.value.value], n.cycle.value.Unit, false)
		default:
			if at, sign := n.operator(text); sign != "" {
				patches = append(patches, patch{at, sign})
			}
			for _, a := range n.args {
				visit(a)
			}
		}
	}
	visit(f.tree())
	sorting.Stable(patches, func(a, b patch) int { return a.from - b.from })
	var out strings.Builder
	at := 0
	for _, p := range patches {
		if p.from < at { // a name that a chain of comparisons holds twice
			continue
		}
		out.WriteString(string(text[at:p.from]))
		out.WriteString(p.text)
		at = p.to
	}
	out.WriteString(string(text[at:]))
	return strings.Join(strings.Fields(out.String()), " ")
}

// operator finds where the sign of an arithmetic operation stands, and gives it
// as a filled formula has it: with blanks around, since `4 m-2*m` would be
// hard to read, but for the sign of a power. sign is "" for other nodes.
func (n *node) operator(text []rune) (at span, sign string) {
	if n.kind != binaryNode || !strings.Contains("+-*/^", n.name) {
		return span{}, ""
	}
	from := int(n.args[0].to)
	for !strings.ContainsRune("+-−*/^", text[from]) { // blanks and brackets
		from++
	}
	if n.name != "^" {
		return span{from, from + 1}, " " + n.name + " "
	}
	to := from + 1
	if text[from] == '*' {
		to++
	}
	return span{from, to}, "^"
}
