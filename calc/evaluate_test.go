package calc

import (
	"testing"

	"rambook/units"
)

// TestEvaluate computes expressions that stand alone.
func TestEvaluate(t *testing.T) {
	for _, test := range []struct {
		expression string
		want       float64
		dim        units.Dimension
	}{
		{"2*3", 6, units.Plain},
		{"20*MPa + 5*bar", 20.5e6, units.Pressure},
		{"pi/4*(170*mm)^2", 0.022698006922186257, units.Area},
		{"sqrt(4*m^2)", 2, units.Length},
		{"1 > 2 ? 3 : 4", 4, units.Plain},
	} {
		got, dim, problems := Evaluate(test.expression)
		if len(problems) > 0 || !near(got, test.want, 1e-15) || dim != test.dim {
			t.Errorf("%s is %v %v (%s), expected %v %v", test.expression, got, dim, withHints(problems), test.want,
				test.dim)
		}
	}
	for _, test := range []struct {
		expression, part, want string
	}{
		{"2*", "*", "the formula ends too early (something is missing after `2*`)"},
		{"2*widget", "widget", "no quantity, unit or constant is named `widget` " +
			"(add a row with that name, or correct it)"},
		{"1*m + 1*s", "1*m + 1*s", "cannot add length to a time"},
		{"1 > 2", "1 > 2", "a truth value is no result (write a number with units, as in 24*MPa)"},
		{`"a"`, `"a"`, "a text is no result (write a number with units, as in 24*MPa)"},
		{"1/0", "1/0", "division by zero"},
		{"1e300*1e300", "1e300*1e300", "the result is too large to hold (look for a unit that is missing or wrong)"},
		{"sheet.column", "sheet", "no sheet is named `sheet` (a sheet's name is its file name without .csv and " +
			"without a leading number)"},
	} {
		_, _, problems := Evaluate(test.expression)
		if len(problems) == 0 {
			t.Errorf("%s was computed", test.expression)
			continue
		}
		p := problems[0]
		if got := withHints(problems); got != test.want || p.Text != test.expression ||
			p.Text[p.From:p.To] != test.part {
			t.Errorf("%s: got\n%s\nat %d to %d of %s, expected\n%s\nat %s", test.expression, got, p.From, p.To, p.Text,
				test.want, test.part)
		}
	}
}
