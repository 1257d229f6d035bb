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
	"slices"

	"rambook/calc/tape"
	"rambook/units"
	"rambook/units/words"
)

// Function is one entry of the function table: all that the parser's calls,
// the dimension check, the tape, the derivatives, `rambook functions` and the
// documentation have of it.
type Function struct {
	Name   string
	Params string // as shown to users; whole columns are written sheet.column
	Doc    string // one line
	Source string // where the definition comes from

	columns int  // so many leading arguments are whole columns of one sheet
	least   int  // fewest arguments after the columns
	most    int  // most arguments after the columns, -1 for any number
	Picks   bool // a last argument may be a condition, which picks rows of the columns
	rows    int  // of an aggregate: so many arguments are expressions over the rows of one sheet; 0 for others
	weighs  bool // an expression more may be a weight of each row
	Counts  bool // its expressions may be conditions, of which it counts those that hold, or texts
	Running bool // it runs from the first row to that of the case only

	LeavesOut bool // of its arguments, what the machine does not have does not count

	Rule   func(args []Type) (Type, *Refusal)
	Unary  func(x float64) float64                                     // of one number
	slope  func(x, y float64) float64                                  // its derivative at x, where it is y
	Eval   func(x []float64, columns []Column) float64                 // of several
	slopes func(x []float64, y float64, columns []Column, d []float64) // its partial derivatives
	pulls  func(x []float64, columns []Column, d [][]float64)          // those by the cells of its columns
	Lower  func(t *tape.Tape, args []tape.Register) tape.Register      // written in other operations
	mean   bool                                                        // divided by the number of arguments
	// what joins two arguments, of those that leave out
	fold tape.Opcode
	// of an aggregate: rows[j][i] is argument j in row i; nil: as a list
	Fold   func(t *tape.Tape, rows [][]tape.Register) tape.Register
	Fewest int                                        // rows that an aggregate needs at least
	domain func(x []float64, columns []Column) string // why the result is not a number
	// its first column is the x of a curve and has to increase
	Curve bool
	// distance of the first number from the nearest jump of the slope
	corner func(x float64, columns []Column) float64
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

// Complaint is why a function has no result for these arguments.
func (f *Function) Complaint(x []float64, columns []Column) string {
	if f.domain != nil {
		return f.domain(x, columns)
	}
	return f.Name + " has no result here"
}

// Refusal is which argument does not suit a function, and why.
type Refusal struct {
	Arg           int // -1 for the call as a whole
	Message, Hint string
}

// Aggregates reports whether a call of so many arguments runs over the rows of
// a sheet, if its arguments read columns. A list such as max(a, b) does not.
func (f *Function) Aggregates(args int) bool {
	return f.rows > 0 && (args == f.rows || f.weighs && args == f.rows+1)
}

// Columns is how many leading arguments are whole columns of one sheet.
func (f *Function) Columns() int { return f.columns }

// Condition is the place of the argument that is a condition over the rows of
// its columns, -1 if the function takes none.
func (f *Function) Condition() int {
	if !f.Picks {
		return -1
	}
	return f.columns + f.most
}

// Fits reports whether the number and kinds of a call's arguments are right.
// whole is, of each argument, whether it is a whole column.
func (f *Function) Fits(whole []bool) bool {
	if f.Aggregates(len(whole)) && slices.Contains(whole, true) {
		return true
	}
	rest := len(whole) - f.columns
	most := f.most
	if f.Picks {
		most++
	}
	if f.rows > 0 && f.most == 0 || rest < f.least || most >= 0 && rest > most {
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
	case f.weighs:
		return fmt.Sprintf("%s takes %s over the rows of one sheet and may have a weight, here %s", f.Name,
			words.Counted(f.rows, "expression"), areHere(given))
	case f.rows > 0 && f.most == 0:
		return fmt.Sprintf("%s takes %s over the rows of one sheet", f.Name, words.Counted(f.rows, "expression"))
	case f.Picks && (rest < f.least || rest > f.most+1):
		return fmt.Sprintf("%s takes %s and may have a condition, here %s", f.Name,
			words.Counted(f.columns+f.least, "argument"), areHere(given))
	case f.most == f.least && rest != f.least:
		return fmt.Sprintf("%s takes %s, here %s", f.Name, words.Counted(f.columns+f.least, "argument"), areHere(given))
	case rest < f.least || f.most >= 0 && rest > f.most:
		return fmt.Sprintf("%s needs at least %s, here %s", f.Name, words.Counted(f.columns+f.least, "argument"),
			areHere(given))
	}
	if f.rows > 0 {
		return f.Name + " takes single values, or one expression over the rows of a sheet"
	}
	return f.Name + " needs whole columns and single values where its definition shows them"
}

func areHere(n int) string {
	if n == 1 {
		return "is 1"
	}
	return fmt.Sprintf("are %d", n)
}

// LowerPresent lowers a function that leaves out the arguments that are n/a.
// absent gives the truth value that says so of one, mostly a constant. Where all
// are n/a so is the result.
func (f *Function) LowerPresent(t *tape.Tape, args []tape.Register,
	absent func(tape.Register) tape.Register) tape.Register {
	none, one := t.Constant(0), t.Constant(1)
	count := func(gone tape.Register) tape.Register { return t.Chosen(gone, none, one) }
	result, gone := args[0], absent(args[0])
	n := count(gone)
	for _, a := range args[1:] {
		away := absent(a)
		switch {
		case t.Is(away, 1):
			continue
		case t.Is(gone, 1):
			result, gone, n = a, away, count(away)
			continue
		case t.Is(away, 0) && t.Is(gone, 0):
			result = t.Binary(f.fold, result, a)
		default:
			result = t.Choose(gone, a, t.Choose(away, result, t.Binary(f.fold, result, a)))
			gone = t.Choose(gone, away, none)
		}
		n = t.Binary(tape.OpAdd, n, count(away))
	}
	if f.mean && !t.Is(gone, 1) {
		return t.Binary(tape.OpDiv, result, n)
	}
	return result
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
			return Type{}, &Refusal{i, "cannot add up " + a.String(),
				"subtract another one first, to have a difference"}
		}
	}
	return alike(args)
}

// takes demands the given dimensions, in order, and yields result.
//
//go:noinline
func takes(result Type, wanted ...Type) func([]Type) (Type, *Refusal) {
	return func(args []Type) (Type, *Refusal) {
		for i, a := range args {
			if w := wanted[min(i, len(wanted)-1)]; a != w {
				return Type{}, &Refusal{i, fmt.Sprintf("needs %s, found %s", WithArticle(w), WithArticle(a)),
					units.MismatchHint(a.Dim, w.Dim)}
			}
		}
		return result, nil
	}
}

// hinted adds hints to a dimension rule, by the type found in place of the
// right one.
//
//go:noinline
func hinted(rule func([]Type) (Type, *Refusal), hints map[Type]string) func([]Type) (Type, *Refusal) {
	return func(args []Type) (Type, *Refusal) {
		result, wrong := rule(args)
		if wrong != nil && wrong.Hint == "" && wrong.Arg >= 0 {
			wrong.Hint = hints[args[wrong.Arg]]
		}
		return result, wrong
	}
}

// plainRule demands plain numbers and yields one.
var plainRule = takes(Plain, Plain)

// slack is how far beyond its range a number may lie by rounding, relatively.
const slack = 1e-12

func says(message string) func([]float64, []Column) string {
	return func([]float64, []Column) string { return message }
}

func constantSlope(k float64) func(x, y float64) float64 {
	return func(x, y float64) float64 { return k }
}

// corners gives the distance from the nearest of some places.
//
//go:noinline
func corners(at ...float64) func(float64, []Column) float64 {
	return func(x float64, _ []Column) float64 {
		nearest := math.Inf(1)
		for _, a := range at {
			nearest = math.Min(nearest, math.Abs(x-a))
		}
		return nearest
	}
}

// Table is the whole table, in the order in which `rambook functions` lists it.
var Table = slices.Concat(mathFunctions, aggregateFunctions, curveFunctions, hydraulicFunctions, oilFunctions,
	instrumentFunctions)

var byName = func() map[string]*Function {
	entries := make(map[string]*Function, len(Table))
	for _, f := range Table {
		entries[f.Name] = f
	}
	return entries
}()

// Named finds an entry of the table, nil if there is none.
func Named(name string) *Function { return byName[name] }
