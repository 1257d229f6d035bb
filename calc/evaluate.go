package calc

import (
	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
)

// Evaluate computes one expression that stands alone: numbers, units,
// constants and functions. The value is SI; problems point into expression.
func Evaluate(expression string) (value float64, dim units.Dimension, problems []sheets.Problem) {
	c := newCompiler(&sheets.Notebook{})
	f := &formula{place: inArgument("", expression), text: expression, out: tape.None}
	c.formulas = append(c.formulas, f)
	c.parse()
	if f.root == nil {
		return 0, dim, c.problems
	}
	c.resolve(f)
	t := c.inferFormula(f)
	if t.Sort == function.Truth || t.Sort == function.Text {
		c.report(f.problem(f.root.span(), t.String()+" is no result", "write a number with units, as in 24*MPa"))
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
