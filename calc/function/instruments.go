package function

import (
	"fmt"
	"math"

	"rambook/calc/coverage"
	"rambook/calc/tape"
)

// instrumentFunctions give the spread (k = 2) of what instruments show.
var instrumentFunctions = []*Function{
	{Name: "gauge", Params: "class, span",
		Doc:    "spread of a gauge of an accuracy class, in % of its span: 2 a/sqrt(3) with a = class/100*span",
		Source: "class limits of EN 837-1 taken as a rectangular distribution, JCGM 100 4.3.7",
		least:  2, most: 2, Rule: gaugeRule,
		Eval: func(x []float64, _ []Column) float64 {
			if !(x[0] > 0) || !(x[1] > 0) {
				return tape.Failed
			}
			return gaugeFactor * x[0] * x[1]
		},
		slopes: func(x []float64, _ float64, _ []Column, d []float64) {
			d[0], d[1] = gaugeFactor*x[1], gaugeFactor*x[0]
		},
		domain: func(x []float64, _ []Column) string {
			if !(x[0] > 0) {
				return fmt.Sprintf("the class must be above 0, as in gauge(1.6, 40*MPa), here it is %.6g", x[0])
			}
			return "the span must be above 0"
		}},
	{Name: "reading_step", Params: "step",
		Doc:    "spread of a reading taken to the nearest step of a scale or display: 2 step/sqrt(12)",
		Source: "JCGM 100 F.2.2.1",
		least:  1, most: 1, Rule: func(args []Type) (Type, *Refusal) {
			if args[0].Point {
				return Type{}, &Refusal{0, "a step is a difference, found " + args[0].String(), stepHint}
			}
			return args[0], nil
		},
		Unary: tape.Finite(func(step float64) float64 {
			if step < 0 {
				return tape.Failed
			}
			return stepFactor * step
		}),
		slope:  constantSlope(stepFactor),
		domain: says("the step must not be below 0")},
	{Name: "repeat_spread", Params: "a, b, ... or sheet.column",
		Doc:    "spread of the mean of repeated readings: t s/sqrt(n) with Student's t for 95.45 %",
		Source: "JCGM 100 4.2 and G.3",
		least:  2, most: -1, rows: 1, Fewest: 2, Rule: func(args []Type) (Type, *Refusal) {
			t, wrong := alike(args)
			t.Point = false // what lies between two points is a difference
			return t, wrong
		},
		Eval: repeatSpread, slopes: repeatSlopes,
		domain: says("at least two readings are needed to see how they scatter")},
	{Name: "student", Params: "probability, degrees",
		Doc:    "Student's factor: the mean lies within ± this many standard uncertainties with the probability",
		Source: "JCGM 100 G.3; two-sided quantile of the t-distribution",
		least:  2, most: 2, Rule: plainRule,
		Eval: func(x []float64, _ []Column) float64 {
			if !(x[0] > 0 && x[0] < 1) || !(x[1] >= 1) {
				return tape.Failed
			}
			return coverage.Student(x[0], x[1])
		},
		slopes: func(x []float64, t float64, _ []Column, d []float64) {
			d[0], d[1] = coverage.Slopes(t, x[1])
		},
		domain: func(x []float64, _ []Column) string {
			if !(x[0] > 0 && x[0] < 1) {
				return fmt.Sprintf("the probability must lie between 0 and 1, as in student(0.95, 9), here it is %.6g",
					x[0])
			}
			return fmt.Sprintf("the degrees of freedom must be at least 1, here they are %.6g", x[1])
		}},
}

const (
	gaugeFactor = 2 / (100 * sqrt3)
	stepFactor  = 1 / sqrt3 // 2/√12
	sqrt3       = 1.7320508075688772935274463415058723669428052538103806

	stepHint = "write the step in K, or for a date in h or d"
)

func gaugeRule(args []Type) (Type, *Refusal) {
	switch class, span := args[0], args[1]; {
	case class != Plain:
		return Type{}, &Refusal{0, "the class is a plain number, found " + WithArticle(class),
			"write the class first, as in gauge(1.6, 40*MPa)"}
	case span.Point:
		return Type{}, &Refusal{1, "a span is a difference, found " + span.String(), "write the span in K"}
	default:
		return span, nil
	}
}

// RepeatSpread is the spread of the mean of repeated readings, two at least.
func RepeatSpread(x []float64) float64 { return repeatSpread(x, nil) }

// repeatSpread goes over the readings twice, so that a small scatter of large
// readings keeps its digits.
func repeatSpread(x []float64, _ []Column) float64 {
	n := len(x)
	if n < 2 {
		return tape.Failed
	}
	_, squares := scatter(x)
	return coverage.Factor(n-1) * math.Sqrt(squares/float64(n-1)/float64(n))
}

// repeatSlopes has no slope for readings that are all alike: their spread is
// 0, and grows whichever way one of them moves.
func repeatSlopes(x []float64, y float64, _ []Column, d []float64) {
	mean, squares := scatter(x)
	for i, v := range x {
		d[i] = 0
		if squares > 0 {
			d[i] = y * (v - mean) / squares
		}
	}
}

// scatter gives the mean of the readings and the sum of the squares of their
// distances from it. Counting from the first one makes equal readings scatter
// by 0 exactly.
func scatter(x []float64) (mean, squares float64) {
	for _, v := range x[1:] {
		mean += v - x[0]
	}
	mean = x[0] + mean/float64(len(x))
	for _, v := range x {
		squares += (v - mean) * (v - mean)
	}
	return mean, squares
}
