package main

import (
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
)

// checkBlind shows a notebook to those who are to work it out: what is given, what
// is asked, and of each answer, which is a reading against a formula, whether it is right
// or which slip explains it. No computed value, spread or limit is shown.
func (c *checkCommand) checkBlind(s *session) error {
	if c.Sample != nil {
		return problem("--blind does not go with --sample", "")
	}
	model, report, err := c.check(c.sampleFlags)
	if err != nil {
		return err
	}
	if err := c.narrow(model.Book, report); err != nil {
		return err
	}
	view := page.NewBlindView(model, report, s.screen())
	view.Only = c.Only
	err = s.answer(answer.Of(c.title(model)+", blind", model.Book.Invented(), &view))
	if err != nil {
		return err
	}
	if view.Wrong > 0 {
		return errFails
	}
	return nil
}
