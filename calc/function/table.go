// Package function is the table of functions that formulas can call. One entry
// holds all that is known of a function: its name and parameters, the rule for
// the dimensions of its arguments and its result, its value, its derivatives,
// why it may have no result, and the source of its definition. To add a
// function is to add an entry; nothing else names one.
//
// Values are SI. A [Type] is the dimension of a value and whether it is a point
// on a scale, such as a temperature or a date, or a difference.
package function

import (
	"fmt"
	"math"
	"strings"

	"rambook/calc/tape"
	"rambook/units"
)

// Function is one entry of the function table: all that the parser's calls,
// the dimension check, the tape, the derivatives, `rambook functions` and the
// documentation know of it.
type Function struct {
	Name   string
	Params string // as shown to users; whole columns are written sheet.column
	Doc    string // one line
	Source string // where the definition comes from

	columns int  // so many leading arguments are whole columns
	least   int  // fewest arguments after the columns
	most    int  // most arguments after the columns, -1 for any number
	List    bool // the arguments may also be one whole column, blank cells skipped

	Rule   func(args []Type) (Type, *Refusal)
	Unary  func(x float64) float64                                     // of one number
	slope  func(x, y float64) float64                                  // its derivative at x, where it is y
	Eval   func(x []float64, columns []Column) float64                 // of several
	slopes func(x []float64, y float64, columns []Column, d []float64) // its partial derivatives
	Lower  func(t *tape.Tape, args []tape.Register) tape.Register      // written in other operations
	domain func(x []float64, columns []Column) string                  // why the result is not a number
	Curve  bool                                                        // its first column is the x of a curve and has to increase
	corner func(x float64, columns []Column) float64                   // distance of the first number from the nearest jump of the slope
}

// Column is a whole column of a case sheet as a function's argument. Blank
// cells are left out, of all columns of a call together.
type Column struct {
	Name   string
	Unit   units.Unit
	Values []float64 // SI
}

// Bind makes a function ready for the tape, with its columns put in.
func (f *Function) Bind(columns []Column) *tape.Callee {
	c := &tape.Callee{Name: f.Name, Unary: f.Unary, Slope: f.slope,
		Complaint: func(x []float64) string { return f.Complaint(x, columns) }}
	if f.Eval != nil {
		c.Eval = func(x []float64) float64 { return f.Eval(x, columns) }
	}
	if f.slopes != nil {
		c.Slopes = func(x []float64, y float64, d []float64) { f.slopes(x, y, columns, d) }
	}
	if f.corner != nil {
		c.Corner = func(x float64) float64 { return f.corner(x, columns) }
	}
	return c
}

// Complaint says why a function has no result for these arguments.
func (f *Function) Complaint(x []float64, columns []Column) string {
	if f.domain != nil {
		return f.domain(x, columns)
	}
	return f.Name + " has no result here"
}

// Refusal says which argument does not suit a function, and why.
type Refusal struct {
	Arg           int // -1 for the call as a whole
	Message, Hint string
}

// Fits reports whether the number and kinds of a call's arguments are right.
// whole says of each argument whether it is a whole column.
func (f *Function) Fits(whole []bool) bool {
	if f.List && len(whole) == 1 && whole[0] {
		return true
	}
	rest := len(whole) - f.columns
	if rest < f.least || f.most >= 0 && rest > f.most {
		return false
	}
	for i, column := range whole {
		if column != (i < f.columns) {
			return false
		}
	}
	return true
}

// Misfit describes a call that does not fit, of so many arguments.
func (f *Function) Misfit(given int) string {
	rest := given - f.columns
	switch {
	case f.most == f.least && rest != f.least:
		return fmt.Sprintf("%s takes %s, here %s", f.Name, Counted(f.columns+f.least, "argument"), areHere(given))
	case rest < f.least || f.most >= 0 && rest > f.most:
		return fmt.Sprintf("%s needs at least %s, here %s", f.Name, Counted(f.columns+f.least, "argument"), areHere(given))
	}
	return f.Name + " needs whole columns and single values where its definition shows them"
}

func areHere(n int) string {
	if n == 1 {
		return "is 1"
	}
	return fmt.Sprintf("are %d", n)
}

// Counted writes a number of things: 1 case, 13 cases.
func Counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// Rules that several functions share.

// alike demands arguments of one type and yields that type.
func alike(args []Type) (Type, *Refusal) {
	for i, a := range args[1:] {
		if a != args[0] {
			return Type{}, &Refusal{i + 1, fmt.Sprintf("needs equal dimensions, found %v beside %v", a, args[0]), ""}
		}
	}
	return args[0], nil
}

// differences is alike for values that can be added: no points.
func differences(args []Type) (Type, *Refusal) {
	for i, a := range args {
		if a.Point {
			return Type{}, &Refusal{i, "cannot add up " + a.String(), "subtract another one first, to have a difference"}
		}
	}
	return alike(args)
}

// takes demands the given dimensions, in order, and yields result.
func takes(result Type, wanted ...Type) func([]Type) (Type, *Refusal) {
	return func(args []Type) (Type, *Refusal) {
		for i, a := range args {
			if w := wanted[min(i, len(wanted)-1)]; a != w {
				return Type{}, &Refusal{i, fmt.Sprintf("needs %s, found %s", WithArticle(w), WithArticle(a)), units.MismatchHint(a.Dim, w.Dim)}
			}
		}
		return result, nil
	}
}

var (
	angle     = Type{Dim: units.Angle}
	plainRule = takes(Plain, Plain)
	angleRule = func(args []Type) (Type, *Refusal) {
		result, wrong := takes(Plain, angle)(args)
		if wrong != nil {
			wrong.Hint = "give it a unit of angle, as in sin(30*deg)"
		}
		return result, wrong
	}
	toAngle   = takes(angle, Plain)
	countRule = func(args []Type) (Type, *Refusal) { return Plain, nil }
	signRule  = func(args []Type) (Type, *Refusal) {
		if args[0].Point {
			return Type{}, &Refusal{0, args[0].String() + " has no sign", "subtract another one first, to have a difference"}
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

func says(message string) func([]float64, []Column) string {
	return func([]float64, []Column) string { return message }
}

// saysAs takes the complaint of a function that the tape has itself.
func saysAs(c *tape.Callee) func([]float64, []Column) string {
	return func(x []float64, _ []Column) string { return c.Complaint(x) }
}

func constantSlope(k float64) func(x, y float64) float64 {
	return func(x, y float64) float64 { return k }
}

// Table is the whole table, in the order in which it is listed. The list
// in the README and the output of `rambook functions` are printed from it.
var Table = append([]*Function{
	{Name: "abs", Params: "x", Doc: "x without its sign", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: func(args []Type) (Type, *Refusal) {
			if args[0].Point {
				return Type{}, &Refusal{0, args[0].String() + " has no size", "subtract another one first, to have a difference"}
			}
			return args[0], nil
		}, Unary: tape.Absolute.Unary, slope: tape.Absolute.Slope, corner: corners(0)},
	{Name: "sign", Params: "x", Doc: "-1, 0 or 1", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: signRule, Unary: tape.Sign, slope: constantSlope(0), corner: corners(0)},
	{Name: "sqrt", Params: "x", Doc: "square root, of a dimension too", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: root(0.5), Unary: tape.SquareRoot.Unary, slope: tape.SquareRoot.Slope, domain: saysAs(tape.SquareRoot)},
	{Name: "exp", Params: "x", Doc: "e to the power x", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: plainRule, Unary: tape.Finite(math.Exp), slope: func(x, y float64) float64 { return y },
		domain: says("exp is too large to hold")},
	{Name: "ln", Params: "x", Doc: "natural logarithm", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: plainRule, Unary: tape.NaturalLog.Unary, slope: tape.NaturalLog.Slope, domain: saysAs(tape.NaturalLog)},
	{Name: "log10", Params: "x", Doc: "logarithm to the base 10", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: plainRule, Unary: tape.Finite(math.Log10), slope: func(x, y float64) float64 { return 1 / (x * math.Ln10) },
		domain: saysAs(tape.NaturalLog)},
	{Name: "sin", Params: "angle", Doc: "sine of an angle", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: angleRule, Unary: math.Sin, slope: func(x, y float64) float64 { return math.Cos(x) }},
	{Name: "cos", Params: "angle", Doc: "cosine of an angle", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: angleRule, Unary: math.Cos, slope: func(x, y float64) float64 { return -math.Sin(x) }},
	{Name: "tan", Params: "angle", Doc: "tangent of an angle", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: angleRule, Unary: math.Tan, slope: func(x, y float64) float64 { return 1 + y*y }},
	{Name: "asin", Params: "x", Doc: "angle whose sine is x", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: toAngle, Unary: math.Asin, slope: func(x, y float64) float64 { return 1 / math.Sqrt(1-x*x) },
		domain: says("no angle has that sine: it must lie between -1 and 1")},
	{Name: "acos", Params: "x", Doc: "angle whose cosine is x", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: toAngle, Unary: math.Acos, slope: func(x, y float64) float64 { return -1 / math.Sqrt(1-x*x) },
		domain: says("no angle has that cosine: it must lie between -1 and 1")},
	{Name: "atan", Params: "x", Doc: "angle whose tangent is x", Source: "ISO 80000-2",
		least: 1, most: 1, Rule: toAngle, Unary: tape.Finite(math.Atan), slope: func(x, y float64) float64 { return 1 / (1 + x*x) }},
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
		least: 1, most: 1, Rule: plainRule, Unary: math.Round, slope: constantSlope(0), corner: func(x float64, _ []Column) float64 { return 0.5 - wholeNumbers(x, nil) }},
	{Name: "min", Params: "a, b, ... or sheet.column", Doc: "smallest of the values", Source: "ISO 80000-2",
		least: 1, most: -1, List: true, Rule: alike, Lower: chain(tape.OpMin)},
	{Name: "max", Params: "a, b, ... or sheet.column", Doc: "largest of the values", Source: "ISO 80000-2",
		least: 1, most: -1, List: true, Rule: alike, Lower: chain(tape.OpMax)},
	{Name: "sum", Params: "a, b, ... or sheet.column", Doc: "sum of the values", Source: "ISO 80000-2",
		least: 1, most: -1, List: true, Rule: differences, Lower: chain(tape.OpAdd)},
	{Name: "mean", Params: "a, b, ... or sheet.column", Doc: "arithmetic mean of the values", Source: "ISO 3534-1",
		least: 1, most: -1, List: true, Rule: alike, Lower: func(t *tape.Tape, args []tape.Register) tape.Register {
			return t.Binary(tape.OpDiv, chain(tape.OpAdd)(t, args), t.Constant(float64(len(args))))
		}},
	{Name: "count", Params: "sheet.column", Doc: "number of cells that are not blank", Source: "by definition",
		columns: 1, Rule: countRule, Eval: func(_ []float64, columns []Column) float64 { return float64(len(columns[0].Values)) }},
	{Name: "interp", Params: "sheet.x, sheet.y, x", Doc: "straight lines between the points of a curve; outside its range is an error",
		Source: "straight line through two points; its slope is the derivative", columns: 2, least: 1, most: 1,
		Rule: func(args []Type) (Type, *Refusal) {
			if args[2] != args[0] {
				return Type{}, &Refusal{2, fmt.Sprintf("needs %v like the curve's x, found %v", args[0], args[2]), ""}
			}
			return args[1], nil
		},
		Eval: func(x []float64, columns []Column) float64 {
			xs, ys := columns[0].Values, columns[1].Values
			i := segment(xs, x[0])
			if i < 0 {
				return tape.Failed
			}
			return ys[i] + (x[0]-xs[i])*(ys[i+1]-ys[i])/(xs[i+1]-xs[i])
		},
		slopes: func(x []float64, _ float64, columns []Column, d []float64) {
			xs, ys := columns[0].Values, columns[1].Values
			d[0] = 0
			if i := segment(xs, x[0]); i >= 0 {
				d[0] = (ys[i+1] - ys[i]) / (xs[i+1] - xs[i])
			}
		},
		domain: func(x []float64, columns []Column) string {
			xs := columns[0].Values
			u := columns[0].Unit
			if len(xs) < 2 {
				return "the curve has fewer than two points"
			}
			return fmt.Sprintf("%s lies outside the curve, which runs from %s to %s",
				WithUnit(u.FromSI(x[0]), u), WithUnit(u.FromSI(xs[0]), u), WithUnit(u.FromSI(xs[len(xs)-1]), u))
		}, Curve: true, corner: func(x float64, columns []Column) float64 { return corners(columns[0].Values...)(x, nil) }},
}, hydraulicFunctions...)

// corners gives the distance from the nearest of some places.
func corners(at ...float64) func(float64, []Column) float64 {
	return func(x float64, _ []Column) float64 {
		nearest := math.Inf(1)
		for _, a := range at {
			nearest = math.Min(nearest, math.Abs(x-a))
		}
		return nearest
	}
}

// wholeNumbers gives the distance from the nearest whole number.
func wholeNumbers(x float64, _ []Column) float64 { return math.Abs(x - math.Round(x)) }

// chain folds a list with one operation, as a + b + c.
func chain(code tape.Opcode) func(*tape.Tape, []tape.Register) tape.Register {
	return func(t *tape.Tape, args []tape.Register) tape.Register {
		r := args[0]
		for _, a := range args[1:] {
			r = t.Binary(code, r, a)
		}
		return r
	}
}

// segment finds i with xs[i] ≤ x ≤ xs[i+1], or -1.
func segment(xs []float64, x float64) int {
	n := len(xs)
	if n < 2 || !(x >= xs[0] && x <= xs[n-1]) {
		return -1
	}
	lo, hi := 0, n-1
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; xs[mid] <= x {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// byFunctionName is filled in init, since the functions' own definitions use it.
var byFunctionName = map[string]*Function{}

func init() {
	for _, f := range Table {
		byFunctionName[f.Name] = f
	}
}

// Named finds an entry of the table, nil if there is none.
func Named(name string) *Function { return byFunctionName[name] }

// WithUnit writes a number with its unit for a message.
func WithUnit(v float64, u units.Unit) string {
	if u.Kind == units.Date {
		return units.FormatDate(v)
	}
	return strings.TrimSpace(fmt.Sprintf("%.6g %s", v, u.Symbol))
}
