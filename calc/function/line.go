package function

import (
	"fmt"

	"gonum.org/v1/gonum/stat"

	"rambook/calc/tape"
	"rambook/units"
)

// lineFunctions fit a straight line through the points of two columns.
var lineFunctions = []*Function{
	{Name: "slope", Params: "sheet.x, sheet.y",
		Doc:     "slope of the least-squares straight line through the points of two columns; rows with a blank are left out",
		Source:  leastSquares,
		columns: 2, Rule: func(args []Type) (Type, *Refusal) {
			d, err := args[1].Dim.Div(args[0].Dim)
			if err != nil {
				return Type{}, &Refusal{-1, err.Error(), ""}
			}
			return Type{Dim: d}, nil
		},
		Eval: func(_ []float64, columns []Column) float64 {
			_, slope := fitLine(columns)
			return slope
		},
		domain: lineDomain},
	{Name: "intercept", Params: "sheet.x, sheet.y",
		Doc:     "value at x = 0 of the least-squares straight line through the points of two columns; rows with a blank are left out",
		Source:  leastSquares,
		columns: 2, Rule: func(args []Type) (Type, *Refusal) {
			if args[0] == (Type{Dim: units.Time, Point: true}) {
				return Type{}, &Refusal{0, "a date is never 0", "make x a column of times, such as the days since the first visit"}
			}
			return args[1], nil
		},
		Eval: func(_ []float64, columns []Column) float64 {
			intercept, _ := fitLine(columns)
			return intercept
		},
		domain: lineDomain},
}

const leastSquares = "ordinary least squares, NIST/SEMATECH e-Handbook 4.4.3.1"

// fitLine fits y = intercept + slope·x. Without two different x there is no
// such line.
func fitLine(columns []Column) (intercept, slope float64) {
	x, y := columns[0].Values, columns[1].Values
	for _, v := range x {
		if v != x[0] {
			return stat.LinearRegression(x, y, nil, false)
		}
	}
	return tape.Failed, tape.Failed
}

func lineDomain(_ []float64, columns []Column) string {
	x, y := columns[0], columns[1]
	if n := len(x.Values); n < 2 {
		return fmt.Sprintf("a line needs two rows with both %s and %s, here %s", x.Name, y.Name, areHere(n))
	}
	return fmt.Sprintf("a line needs two different values of %s, here all are alike", x.Name)
}
