package sheets

import "rambook/units/problem"

// Problem is one thing that is wrong in a file, a formula or an argument.
type Problem = problem.Problem

// SortProblems sorts problems in place, as [problem.Sort] does.
func SortProblems(ps []Problem) { problem.Sort(ps) }
