package function

import (
	"fmt"

	"rambook/calc/line"
	"rambook/calc/tape"
	"rambook/units"
)

// aggregateFunctions make one value of many: of a list, or of an expression
// over the rows of a sheet. They are written in plain operations of the tape,
// row by row, so that whatever a row depends on, a cell with a spread or a given,
// is carried through by the derivatives of those operations.
var aggregateFunctions = []*Function{
	{Name: "min", LeavesOut: true, fold: tape.OpMin, Params: "a, b, ... or sheet.column", Doc: "smallest of the values",
		Source: "ISO 80000-2",
		least:  1, most: -1, rows: 1, Rule: alike, Lower: folded(tape.OpMin), Fold: overRows(folded(tape.OpMin))},
	{Name: "max", LeavesOut: true, fold: tape.OpMax, Params: "a, b, ... or sheet.column", Doc: "largest of the values",
		Source: "ISO 80000-2",
		least:  1, most: -1, rows: 1, Rule: alike, Lower: folded(tape.OpMax), Fold: overRows(folded(tape.OpMax))},
	{Name: "sum", LeavesOut: true, fold: tape.OpAdd, Params: "a, b, ... or sheet.column", Doc: "sum of the values",
		Source: "ISO 80000-2",
		least:  1, most: -1, rows: 1, Rule: differences, Lower: sum, Fold: overRows(sum)},
	{Name: "mean", LeavesOut: true, fold: tape.OpAdd, mean: true, Params: "a, b, ... or sheet.column",
		Doc: "arithmetic mean of the values", Source: "ISO 3534-1",
		least: 1, most: -1, rows: 1, Rule: alike, Lower: (*tape.Tape).Mean, Fold: overRows((*tape.Tape).Mean)},
	{Name: "count", Params: "sheet.column", Doc: "number of rows that are not blank, or in which a condition holds",
		Source: "by definition",
		rows:   1, Counts: true, Rule: func([]Type) (Type, *Refusal) { return Plain, nil }, Fold: overRows(sum)},
	{Name: "rms", Params: "sheet.column", Doc: "root of the mean of the squares", Source: "IEC 60050-103, 103-02-03",
		rows: 1, Rule: differences, Fold: overRows(func(t *tape.Tape, args []tape.Register) tape.Register {
			squares := make([]tape.Register, len(args))
			for i, a := range args {
				squares[i] = t.Power(a, 2)
			}
			return t.Unary(tape.SquareRoot, t.Mean(squares))
		})},
	{Name: "first", Params: "sheet.column", Doc: "value in the first row that is not blank", Source: "by definition",
		rows: 1, Rule: alike, Fold: overRows(func(_ *tape.Tape,
			args []tape.Register) tape.Register {
			return args[0]
		})},
	{Name: "last", Params: "sheet.column", Doc: "value in the last row that is not blank", Source: "by definition",
		rows: 1, Rule: alike, Fold: overRows(func(_ *tape.Tape,
			args []tape.Register) tape.Register {
			return args[len(args)-1]
		})},
	{Name: "total", Params: "sheet.column",
		Doc:    "sum from the first row up to the case's own, in a formula that the sheet asks for",
		Source: "by definition",
		rows:   1, Running: true, Rule: differences, Fold: overRows(sum)},
	{Name: "integral", Params: "sheet.x, sheet.y", Doc: "area under straight lines between the points, row by row",
		Source: "trapezoidal rule, NIST DLMF 3.5(i)", rows: 2, Fewest: 2,
		Rule: func(args []Type) (Type, *Refusal) {
			if args[1].Point {
				return Type{}, &Refusal{1, "cannot add up " + args[1].String(),
					"subtract another one first, to have a difference"}
			}
			d, err := args[0].Dim.Mul(args[1].Dim)
			if err != nil {
				return Type{}, &Refusal{-1, err.Error(), ""}
			}
			return Type{Dim: d}, nil
		},
		Fold: func(t *tape.Tape, rows [][]tape.Register) tape.Register {
			x, y := rows[0], rows[1]
			areas := make([]tape.Register, len(x)-1)
			for i := range areas {
				width := t.Binary(tape.OpSub, x[i+1], x[i])
				areas[i] = t.Mul(width, t.Binary(tape.OpAdd, y[i], y[i+1]))
			}
			return t.Mul(t.Constant(0.5), sum(t, areas))
		}},
	{Name: "slope", Params: "sheet.x, sheet.y, weight",
		Doc: "slope of the least-squares straight line through the points, each with its weight if one is given, " +
			"such as 1/spread^2",
		Source: leastSquares, rows: 2, weighs: true, Fewest: 2, Rule: slopeRule,
		Fold: func(t *tape.Tape, rows [][]tape.Register) tape.Register {
			return line.OnTape(t, rows[0], rows[1], rows[2:]...).Slope
		}},
	{Name: "intercept", Params: "sheet.x, sheet.y, weight",
		Doc: "value at x = 0 of the least-squares straight line through the points, " +
			"each with its weight if one is given",
		Source: leastSquares, rows: 2, weighs: true, Fewest: 2,
		Rule: func(args []Type) (Type, *Refusal) {
			if args[0] == (Type{Dim: units.Time, Point: true}) {
				return Type{}, &Refusal{0, "a date is never 0",
					"make x a column of times, such as the days since the first visit"}
			}
			if _, wrong := slopeRule(args); wrong != nil {
				return Type{}, wrong
			}
			return args[1], nil
		},
		Fold: func(t *tape.Tape, rows [][]tape.Register) tape.Register {
			return line.OnTape(t, rows[0], rows[1], rows[2:]...).Intercept(t)
		}},
}

const leastSquares = "ordinary and weighted least squares, NIST/SEMATECH e-Handbook 4.4.3.1 and 4.4.3.2"

func slopeRule(args []Type) (Type, *Refusal) {
	if len(args) > 2 && args[2].Point {
		return Type{}, &Refusal{2, "is " + args[2].String() + ", and a weight is a number or a difference",
			"subtract another one first"}
	}
	d, err := args[1].Dim.Div(args[0].Dim)
	if err != nil {
		return Type{}, &Refusal{-1, err.Error(), ""}
	}
	return Type{Dim: d}, nil
}

// overRows makes a fold of what works on a list: the only argument, row by row.
//
//go:noinline
func overRows(list func(*tape.Tape, []tape.Register) tape.Register) func(*tape.Tape, [][]tape.Register) tape.Register {
	return func(t *tape.Tape, rows [][]tape.Register) tape.Register { return list(t, rows[0]) }
}

// folded joins a list with one operation.
func folded(code tape.Opcode) func(*tape.Tape, []tape.Register) tape.Register {
	return func(t *tape.Tape, args []tape.Register) tape.Register { return t.Fold(code, args) }
}

var sum = folded(tape.OpAdd)

// TooFew is why an aggregate has no value over so few rows, "" if it has one.
func (f *Function) TooFew(rows int) string {
	switch {
	case rows >= max(1, f.Fewest):
		return ""
	case f.Counts: // none is a number, too
		return ""
	case f.Fewest > 1:
		return fmt.Sprintf("%s needs %d rows in which no cell is blank, here %s", f.Name, f.Fewest, areHere(rows))
	}
	return f.Name + " finds no row that has a value"
}
