package page

import (
	"rambook/calc"
)

// verdictText is the word in the column of verdicts. What is assumed has none: it
// says there that nobody has looked at the machine.
func verdictText(j *calc.Judged) string {
	if j.Quantity.IsAssumed() && j.Verdict == calc.NoVerdict {
		return "assumed"
	}
	return j.Verdict.String()
}

// Colours strengthen the word of a verdict; they never stand for it.
var verdictColours = map[string]string{
	calc.Pass.String():   "\x1b[32m",
	calc.Open.String():   "\x1b[36m",
	calc.Unsure.String(): "\x1b[33m",
	calc.Fail.String():   "\x1b[1;31m",
}

// paint colours the word of a verdict.
func paint(verdict string) string {
	if colour := verdictColours[verdict]; colour != "" {
		return colour + verdict + "\x1b[0m"
	}
	return verdict
}

// allPass reports whether a column of values has no verdict but pass.
func allPass(cases []calc.Case, column int) bool {
	for i := range cases {
		if cases[i].Values[column].Verdict > calc.Pass {
			return false
		}
	}
	return true
}

// VerdictHeader heads the column of verdicts, whose words may have a colour.
const VerdictHeader = "verdict"
