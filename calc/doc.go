// Package calc is the model behind a notebook: it checks formulas and their
// dimensions, recalculates, says how sure each answer is, and judges it.
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
//	parse    syntax.go, node.go               text becomes a tree; expr-lang/expr is the parser
//	resolve  resolve.go                       names become quantities, units, columns, functions
//	order    order.go                         every quantity after the ones it uses; loops are told
//	infer    types.go, infer.go               dimensions, points and differences are checked
//	lower    lower.go, tape.go                trees become one flat list of operations
//
// After that only float64 values in SI units are left, and no unit costs time.
//
// # One tape, many readings of it
//
// The tape is a list of operations, each of which reads the results of earlier
// ones. Everything else is a walk over that list:
//
//   - program.go plans a run over many cases: what is constant is computed
//     once, the rest goes through in blocks, on every core (kernel.go). A
//     scalar is a block of one.
//   - spread.go appends the operations that compute derivatives, so that they
//     are planned and run like any others. They give the spread.
//   - sample.go runs the same plan over random inputs.
//   - trace.go explains a value that is no number: what is open, what failed.
//   - solve, sweep, compare, diagnose and trend choose the cases to run.
//
// An open value and a failed operation are NaNs of two kinds that travel
// through the operations, so a block needs no further bookkeeping.
//
// # Numbers
//
// Values on the tape are SI, temperatures in kelvin, dates in seconds since
// 1970-01-01. Numbers of a [Judged] are in its unit, NaN where absent. A
// spread is the half-width of the interval with coverage factor 2, about 95 %.
package calc
