package main

import (
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/units"
	"rambook/units/words"
)

type convertCommand struct {
	Words []string `arg:"" name:"value unit" help:"A number with a unit, or an expression such as 33000*lbf*ft/min; then the unit to convert to, \"\" for a plain number."`
	outputFlags
}

func (convertCommand) Help() string {
	return "Example:\n\n" +
		"  rambook convert \"24 MPa\" psi\n" +
		"  rambook convert \"16*cm3/rev * 1450*rev/min\" L/min\n" +
		"  rambook convert \"-20 degC\" K"
}

// Run converts.
func (c *convertCommand) Run(s *session) error {
	if len(c.Words) < 2 {
		return problem("no unit to convert to", "rambook convert \"24 MPa\" psi")
	}
	last := len(c.Words) - 1
	value, unit, err := convert(strings.Join(c.Words[:last], " "), c.Words[last])
	if err != nil {
		return err
	}
	return s.answer(answer.Of("", false, &page.ConversionView{Value: value, Unit: unit, Numbers: c.numbers(),
		DigitsAsked: c.Digits != nil}))
}

// valueShape is how a number with a unit begins, and no expression.
const oneValue = `^\s*[-+]?[0-9.]+(?:[eE][-+]?[0-9]+)?\s+\pL`

var valueShape = words.Pattern(oneValue)

// sumShape is how two such numbers are added or subtracted.
var sumShape = words.Pattern(oneValue + `.*\s[-+]\s*[0-9]`)

// convert tries the value as a number with a unit first, since that form has
// temperature points and dates, and then as an expression.
func convert(text, to string) (float64, units.Unit, error) {
	expression, isExpression := strings.CutPrefix(text, "=")
	if _, err := units.ParseValue(text); err == nil {
		value, unit, err := units.Convert(text, to)
		if err != nil {
			return 0, unit, wrong(*err)
		}
		return value, unit, nil
	} else if !isExpression && sumShape().MatchString(text) {
		return 0, units.Unit{}, problem("in a sum, multiply each number by its unit",
			"write it as in 24*MPa + 3*bar, with temperatures in K")
	} else if !isExpression && (valueShape().MatchString(text) || !strings.ContainsAny(text, "*/^()+")) {
		return 0, units.Unit{}, wrong(*err)
	}
	unit, unitErr := units.Parse(to)
	if unitErr != nil {
		return 0, unit, wrong(*unitErr)
	}
	si, dimension, problems := calc.Evaluate(expression)
	switch {
	case len(problems) > 0:
		return 0, unit, wrong(problems...)
	case dimension != unit.Dim || unit.Kind == units.Date || unit.Kind == units.Text:
		return 0, unit, problem("cannot convert "+dimension.Name()+" to "+unit.Dim.Name(),
			units.MismatchHint(dimension, unit.Dim))
	}
	return unit.FromSI(si), unit, nil
}
