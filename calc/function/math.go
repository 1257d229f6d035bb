package function

import (
	"math"

	"rambook/calc/tape"
	"rambook/units"
)

// mathFunctions are those of any trade that work on single numbers.
var mathFunctions = []*Function{
	{Name: "abs", Params: "x", Doc: "x without its sign", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: func(args []Type) (Type, *Refusal) {
			if args[0].Point {
				return Type{}, &Refusal{0, args[0].String() + " has no size",
					"subtract another one first, to have a difference"}
			}
			return args[0], nil
		}, Unary: tape.Absolute.Unary, slope: tape.Absolute.Slope, corner: corners(0)},
	{Name: "sign", Params: "x", Doc: "-1, 0 or 1", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: signRule, Unary: tape.Sign, slope: constantSlope(0), corner: corners(0)},
	{Name: "sqrt", Params: "x", Doc: "square root, of a dimension too", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: root(0.5), Unary: tape.SquareRoot.Unary, slope: tape.SquareRoot.Slope,
		domain: saysAs(tape.SquareRoot)},
	{Name: "exp", Params: "x", Doc: "e to the power x", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: plainRule, Unary: tape.Finite(math.Exp),
		slope:  func(x, y float64) float64 { return y },
		domain: says("exp is too large to hold")},
	{Name: "ln", Params: "x", Doc: "natural logarithm", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: plainRule, Unary: tape.NaturalLog.Unary, slope: tape.NaturalLog.Slope,
		domain: saysAs(tape.NaturalLog)},
	{Name: "log10", Params: "x", Doc: "logarithm to the base 10", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: plainRule, Unary: tape.Finite(math.Log10),
		slope:  func(x, y float64) float64 { return 1 / (x * math.Ln10) },
		domain: saysAs(tape.NaturalLog)},
	{Name: "sin", Params: "angle", Doc: "sine of an angle", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: angleRule, Unary: math.Sin, slope: func(x, y float64) float64 { return math.Cos(x) }},
	{Name: "cos", Params: "angle", Doc: "cosine of an angle", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: angleRule, Unary: math.Cos, slope: func(x, y float64) float64 { return -math.Sin(x) }},
	{Name: "tan", Params: "angle", Doc: "tangent of an angle", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: angleRule, Unary: math.Tan, slope: func(x, y float64) float64 { return 1 + y*y }},
	{Name: "asin", Params: "x", Doc: "angle whose sine is x", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: toAngle, Unary: math.Asin,
		slope:  func(x, y float64) float64 { return 1 / math.Sqrt(1-x*x) },
		domain: says("no angle has that sine: it must lie between -1 and 1")},
	{Name: "acos", Params: "x", Doc: "angle whose cosine is x", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: toAngle, Unary: math.Acos,
		slope:  func(x, y float64) float64 { return -1 / math.Sqrt(1-x*x) },
		domain: says("no angle has that cosine: it must lie between -1 and 1")},
	{Name: "atan", Params: "x", Doc: "angle whose tangent is x", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: toAngle, Unary: tape.Finite(math.Atan),
		slope: func(x, y float64) float64 { return 1 / (1 + x*x) }},
	{Name: "atan2", Params: "y, x", Doc: "angle of the point (x, y)", Source: "ISO 80000-2",
		least: 2, most: 2, Rule: func(args []Type) (Type, *Refusal) {
			_, wrong := differences(args)
			return angle, wrong
		}, Eval: func(x []float64, _ []Column) float64 { return math.Atan2(x[0], x[1]) },
		slopes: func(x []float64, _ float64, _ []Column, d []float64) {
			r2 := x[0]*x[0] + x[1]*x[1]
			d[0], d[1] = x[1]/r2, -x[0]/r2
		}},
	{Name: "floor", Params: "x", Doc: "next whole number below", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: plainRule, Unary: math.Floor, slope: constantSlope(0), corner: wholeNumbers},
	{Name: "ceil", Params: "x", Doc: "next whole number above", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: plainRule, Unary: math.Ceil, slope: constantSlope(0), corner: wholeNumbers},
	{Name: "round", Params: "x", Doc: "nearest whole number, halves away from 0", Source: "ISO 80000-1 Annex B, rule B",
		least: 1, most: 1, Rule: plainRule, Unary: math.Round, slope: constantSlope(0),
		corner: func(x float64, _ []Column) float64 { return 0.5 - wholeNumbers(x, nil) }},
}

var (
	angle     = Type{Dim: units.Angle}
	angleRule = func(args []Type) (Type, *Refusal) {
		result, wrong := takes(Plain, angle)(args)
		if wrong != nil {
			wrong.Hint = "give it a unit of angle, as in sin(30*deg)"
		}
		return result, wrong
	}
	toAngle  = takes(angle, Plain)
	signRule = func(args []Type) (Type, *Refusal) {
		if args[0].Point {
			return Type{}, &Refusal{0, args[0].String() + " has no sign",
				"subtract another one first, to have a difference"}
		}
		return Plain, nil
	}
)

// root is the dimension rule of a power.
func root(p float64) func([]Type) (Type, *Refusal) {
	return func(args []Type) (Type, *Refusal) {
		d, err := args[0].Dim.Pow(p)
		if err != nil {
			return Type{}, &Refusal{0, err.Error(), ""}
		}
		return Type{Dim: d}, nil
	}
}

// saysAs takes the complaint of a function that the tape has itself.
func saysAs(c *tape.Callee) func([]float64, []Column) string {
	return func(x []float64, _ []Column) string { return c.Complaint(x) }
}

// wholeNumbers gives the distance from the nearest whole number.
func wholeNumbers(x float64, _ []Column) float64 { return math.Abs(x - math.Round(x)) }
