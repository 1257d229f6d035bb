package calc

import (
	"strings"
	"testing"
)

// TestTypeFaults gives formulas whose parts do not fit each other, and all that
// is said about each. TestRefusals has more of them, without the hints.
func TestTypeFaults(t *testing.T) {
	for _, test := range []struct {
		formula, unit string
		want          string // after the file and the line
	}{
		{"1 + bore", "mm", "5: cannot add a plain number to length (give the plain number a unit, as in 24*MPa)"},
		{"bore - 1", "mm", "5: cannot subtract a plain number from length " +
			"(give the plain number a unit, as in 24*MPa)"},
		{"setting > 20 ? 1 : 2", "", "5: cannot compare pressure with a plain number " +
			"(give the plain number a unit, as in 24*MPa)"},
		{"setting > 2*bar/m ? 1 : 2", "", "5: cannot compare pressure with kg m^-2 s^-2"},
		{"setting + setting*bore", "MPa", "5: cannot add pressure to stiffness"},
		{"setting*disp + 3*N*m", "N*m", "5: cannot add torque per angle to energy or torque (divide by `rad`)"},
		{"t_room < rise ? 1 : 2", "", "5: cannot compare a temperature point with a temperature difference " +
			"(a quantity in K is a difference; give a temperature in its own row in degC)"},
		{"t_room - 20", "K", "5: cannot subtract a plain number from a temperature point " +
			"(write a difference as in 20*K, and give a temperature a row of its own in degC)"},
		{"t_room > 20 ? 1 : 2", "", "5: cannot compare a temperature point with a plain number " +
			"(give that temperature a row of its own in degC, and write its name here)"},
		{"rise > 20 ? 1 : 2", "", "5: cannot compare a temperature difference with a plain number " +
			"(give the plain number a unit, as in 20*K)"},
		{"today - 30", "date", "5: cannot subtract a plain number from a date " +
			"(give a time its unit, as in 30*d, and a date a row of its own)"},
		{"3*C", "K", "5: the formula yields an electric charge, but the row is in K " +
			"(`C` is the coulomb; degrees Celsius are `degC`)"},
		{"mode == 3 ? 1 : 2", "", "5: a number is needed here, not a text (texts can only be compared, with == or !=)"},
		{`mode < "a" ? 1 : 2`, "", "5: a number is needed here, not a text " +
			"(texts can only be compared, with == or !=)\n" +
			"12: a number is needed here, not a text (texts can only be compared, with == or !=)"},
		{"ratio > 0 ? mode : grade", "", "5: a text is no result (texts can only be compared, with == or !=; " +
			"a row that is one has the unit text)"},
		{"not ratio ? 1 : 2", "", "9: a condition is needed here, not a plain number " +
			"(compare two values, as in setting > 24*MPa)"},
		{"ratio and true ? 1 : 2", "", "5: a condition is needed here, not a plain number " +
			"(compare two values, as in setting > 24*MPa)"},
		{"(ratio > 1) + 1", "", "6: a number is needed here, not a truth value (write condition ? 1 : 0)"},
		{"-(ratio > 1)", "", "7: a number is needed here, not a truth value (write condition ? 1 : 0)"},
		{"-mode", "", "6: a number is needed here, not a text (texts can only be compared, with == or !=)"},
		{"today^2", "", "5: a date has no powers"},
		{"today/2", "", "5: a date cannot be multiplied or divided (subtract another date first, to have a time)"},
		{"today + today", "date", "5: cannot add a date to a date (a mean is a + (b - a)/2)"},
		{"rise - today", "K", "5: cannot subtract a date from a temperature difference"},
		{"bore^2^ratio", "mm", "10: the exponent of length must be a literal number " +
			"(write it out, as in x^2 or x^0.5, or divide by a unit first)"},
		{"bore^0.1", "mm", "5: a power of m that is no multiple of 1/6"},
		{"(bore^10)^10", "mm", "6: a power of m beyond 21"},
		{"bore^11*bore^11", "mm", "5: a power of m beyond 21"},
		{"1/(bore^11*bore^10)/bore", "mm", "5: a power of m beyond 21"},
		{"sqrt(sqrt(sqrt(bore)))", "mm", "15: sqrt: a power of m that is no multiple of 1/6"},
		{"curve[bore].flow", "L/min", `11: the key of a look-up is a text, here stands a length ` +
			`(write a text quantity or a literal, as in materials["S235"].strength)`},
		{"min(curve.pressure, curve.flow)", "MPa",
			"5: min takes single values, or one expression over the rows of a sheet " +
				"(write min(a, b, ... or sheet.column))"},
		{"sum(t_oil, t_room)", "degC", "9: sum: cannot add up a temperature point " +
			"(subtract another one first, to have a difference)"},
		{"sign(t_oil)", "", "10: sign: a temperature point has no sign " +
			"(subtract another one first, to have a difference)"},
		{"abs(t_oil)", "degC", "9: abs: a temperature point has no size " +
			"(subtract another one first, to have a difference)"},
		{"mean(t_oil, today)", "degC", "17: mean: needs equal dimensions, found a date beside a temperature point"},
		{"sin(0.5)", "", "9: sin: needs an angle, found a plain number (give it a unit of angle, as in sin(30*deg))"},
		{"sqrt(mode)", "", "10: a number is needed here, not a text (texts can only be compared, with == or !=)"},
		{"frob(bore + 1)", "", "5: no function is named `frob` (`rambook functions` lists them)" + "\n" +
			"10: cannot add length to a plain number (give the plain number a unit, as in 24*MPa)"},
		{"max()", "", "5: max needs at least 1 argument, here are 0 (write max(a, b, ... or sheet.column))"},
		{"slope(curve.pressure, curve.flow, 3, 4)", "",
			"5: slope takes 2 expressions over the rows of one sheet and may have a weight, here are 4 " +
				"(write slope(sheet.x, sheet.y, weight))"},
		{"slope(curve.pressure, curve.label)", "L/min/MPa",
			"27: a number is needed here, not a text (texts can only be compared, with == or !=)"},
		{"bore > 1*m ? t_oil : rise", "degC", "18: the two arms of ? : are a temperature point and a temperature " +
			"difference (a quantity in K is a difference; give a temperature in its own row in degC)"},
		{"t_oil == 300*K ? 1 : 2", "", "5: cannot compare a temperature point with a temperature difference " +
			"(a quantity in K is a difference; give a temperature in its own row in degC)"},
		{"min(1, curve.nothing)", "", "5: min takes single values, or one expression over the rows of a sheet " +
			"(write min(a, b, ... or sheet.column))\n" +
			"18: sheet curve has no column `nothing` (its columns are pressure, flow and label)"},
	} {
		_, problems := Compile(files(t, "base.csv", base, "curve.csv", curves, "materials.csv", materials,
			"x.csv", "name,entry,unit\nx,\"="+strings.ReplaceAll(test.formula, `"`, `""`)+"\","+test.unit+"\n"),
			Options{})
		if got := strings.ReplaceAll(withHints(problems), "x.csv:2:", ""); got != test.want {
			t.Errorf("%s: got\n%s\nexpected\n%s\n", test.formula, got, test.want)
		}
	}
}

// TestExponents gives powers with an exponent that is written out in numbers,
// and the unit that the result has.
func TestExponents(t *testing.T) {
	for _, test := range []struct {
		formula, unit string
		want          float64
	}{
		{"bore^2", "mm^2", 170 * 170},
		{"bore^-1", "1/mm", 1. / 170},
		{"bore^(1 + 1)", "mm^2", 170 * 170},
		{"bore^(3 - 1)", "mm^2", 170 * 170},
		{"bore^(2*1)", "mm^2", 170 * 170},
		{"(bore^2)^(1/2)", "mm", 170},
		{"(bore^2)^-(1/2)", "1/mm", 1. / 170},
		{"bore^0", "", 1},
		{"2^ratio", "", 1.4142135623730951},
		{"2^-ratio", "", 0.7071067811865476},
	} {
		r, problems := expressionBook(t, test.formula, test.unit)
		if r == nil {
			t.Errorf("%s: %s", test.formula, problems)
			continue
		}
		if got := r.find(t, "x").Value; !near(got, test.want, 1e-12) {
			t.Errorf("%s in %s is %v, expected %v", test.formula, test.unit, got, test.want)
		}
	}
}
