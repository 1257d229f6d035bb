package calc

import (
	"slices"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// Evaluate computes one expression that stands alone: numbers, units,
// constants and functions. The value is SI; problems point into expression.
func Evaluate(expression string) (value float64, dim units.Dimension, problems []sheets.Problem) {
	c := newCompiler(&sheets.Notebook{}, 0)
	f := &formula{place: inArgument("", expression), text: expression, out: tape.None}
	c.formulas = append(c.formulas, f)
	c.parse()
	if f.root = f.tree(); f.root == nil {
		return 0, dim, c.problems
	}
	c.resolve(f, f.root)
	t := c.inferFormula(f)
	if t.Sort == function.Truth || t.Sort == function.Text {
		c.report(f.problem(f.tree().span(), t.String()+" is no result", "write a number with units, as in 24*MPa"))
	}
	if len(c.problems) > 0 {
		return 0, dim, c.problems
	}
	l := &lowering{compiler: c, tape: c.model.tape}
	r := l.formula(f)
	if len(c.problems) > 0 {
		return 0, dim, c.problems
	}
	values := c.model.tape.Once(nil)
	tr := c.model.newTrace(c.model.tape, values)
	if why := tr.explain(r); why.failed != tape.None {
		return 0, dim, []sheets.Problem{tr.failure(why.failed)}
	}
	return values[r], t.Dim, nil
}

// UnitOf is the unit to show an expression in where none is asked for: that of the
// first quantity in it that is of its dimension, else the shortest one for it in the
// notebook, else the coherent one. It is blank for a plain number, and where the
// expression cannot be read.
func (m *Model) UnitOf(expression string) string {
	c := m.compiler()
	f := &formula{place: inArgument("", expression), text: expression, out: tape.None}
	root, fault := parseFormula(expression)
	if fault != nil {
		return ""
	}
	f.root = root
	c.resolve(f, root)
	t := c.inferFormula(f)
	if t.Sort != function.Number || t == function.Plain {
		return ""
	}
	alike := func(q *Quantity) bool { return typeOf(q.Unit) == t }
	if list := f.uses(); slices.ContainsFunc(list, alike) {
		return list[slices.IndexFunc(list, alike)].Unit.Symbol
	}
	shortest := t.Dim.String()
	for _, q := range m.Quantities {
		if alike(q) && (len(q.Unit.Symbol) < len(shortest) || t.Point) {
			shortest = q.Unit.Symbol
		}
	}
	return shortest
}
