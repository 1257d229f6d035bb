package main

import (
	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
)

// runCases diagnoses every case of a sheet.
func (c *diagnoseCommand) runCases(s *session, flags notebookFlags, model *calc.Model) error {
	if sheet, name, one := calc.SplitCase(c.sheet); one {
		own, problems := model.InCase(sheet, name, calc.Options{Sets: c.Sets})
		if own == nil {
			return refused(model, problems)
		}
		return c.diagnose(s, flags, own, "in "+c.sheet)
	}
	d, problems := model.DiagnoseCases(c.sheet)
	if d == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	view := &page.CaseDiagnosisView{CaseDiagnosis: d, Layout: s.screen()}
	return s.answer(answer.Of(flags.title(model), model.Book.Invented(), view))
}
