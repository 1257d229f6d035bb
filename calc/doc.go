// Package calc is the model behind a notebook: it checks formulas and their
// dimensions, recalculates, finds how sure each answer is, and judges it.
//
// Call [Compile] with a notebook, then ask the [Model]: [Model.Check] for all
// answers and verdicts, [Model.Explain] for the derivation of one, the methods
// named like the commands for the rest. The package reads no file, prints
// nothing and never exits: what is wrong comes back as [sheets.Problem] values
// with the place where it stands.
//
// # How a formula becomes a number
//
// Compile is a row of passes, each of which reports everything it finds:
//
//	rows     compile.go, entry.go, cases.go   cells become entries, readings, spreads, limits
//	phases   cutting.go, cycles.go            logs are cut; what is asked of phases becomes inputs
//	parse    syntax.go, node.go               text becomes a tree; expr-lang/expr is the parser
//	resolve  resolve.go                       names become quantities, units, columns, functions
//	order    order.go                         every quantity after the ones it uses; loops are reported
//	infer    infer.go                         dimensions, points and differences are checked
//	lower    lower.go                         trees become operations on a tape
//
// After that only float64 values in SI units are left, and no unit costs time.
//
// # One tape, many readings of it
//
// The tape (package tape) is a flat list of operations. Everything else is a
// walk over that list: running it for one case or over blocks of many,
// appending its derivatives, which give the spread (spread.go), and explaining a
// value that is no number (trace.go). Values and spreads are held to their limits
// in judge.go, whatever case they are of. Check, Explain, Sweep, Solve, Compare, Diagnose
// and Trend only choose which cases to run and what to ask of them.
//
// Functions come from the table of package function; the values of x at which
// two sides are equal are found by package root, and straight lines are fitted by
// package line.
//
// # Numbers
//
// Values on the tape are SI, temperatures in kelvin, dates in seconds since
// 1970-01-01. Numbers of a [Judged] are in its unit, NaN where absent. A
// spread is the half-width of the interval with coverage factor 2, about 95 %.
//
// What float64 cannot hold is an error at the cell or the formula, and so is a
// value that only its unit makes too large; what is too small becomes 0.
//
// # Limits
//
// A formula holds at most [MaxFormulaBytes] bytes and [MaxFormulaNodes] names,
// numbers and operations. A sweep has at most [MaxCases] cases, and sampling
// draws at most [MaxSamples] times.
package calc
