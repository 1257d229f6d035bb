// Package tape is a model as a flat list of operations, each of which reads the
// results of earlier ones, and the ways to run it.
//
// A [Tape] is built by adding operations; [Tape.Once] runs it for a single
// case. [NewProgram] plans a run over many cases: what is constant over the run
// is computed once, the rest goes through in blocks of cases, on every core.
// [Differentiate] appends to a tape the operations that compute derivatives, so
// that they are planned and run by the same code as the values.
//
// Everything is float64 in SI units. Units, names and files are unknown here: a
// mark beside each operation is for its owner, who finds by it where it comes from.
//
// Values that are no numbers travel through the operations like any other:
// [Missing] for what is not known yet, [Absent] for what there is none of in a case,
// [Failed] for what has no result.
package tape
