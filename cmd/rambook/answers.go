package main

import (
	"rambook/sheets"
	"rambook/units/words"
)

// answersOnly refuses, among the answers of a student, what would change the question: a
// number that was dealt, a formula, a limit. What is blank is there to be answered.
func (r *revision) answersOnly(settings []setting) error {
	if r.model == nil {
		return nil
	}
	var problems []sheets.Problem
	for i := range settings {
		one := &settings[i]
		q := r.model.Quantity(one.quantity())
		now, _, err := one.find(one.on, one.entry)
		_, isCase := one.cellName.(caseCell)
		switch {
		case err != nil || q == nil: // which is told where it is written
		case isCase && q.IsFormula(), !isCase && (one.header() == "reading" || one.header() == "note"):
		case now.Blank() && (isCase || one.header() == "entry"):
		default:
			problems = append(problems, sheets.Problem{
				Message: words.Quoted(one.String()) + " is part of the question, and --blind keeps answers only",
				Hint: "an answer is a reading: rambook set --blind NAME.reading=VALUE; " +
					"to change the question leave --blind out"})
		}
	}
	if len(problems) > 0 {
		return wrong(problems...)
	}
	return nil
}
