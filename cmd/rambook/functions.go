package main

import (
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/units/words"
)

type functionsCommand struct {
	Word string `arg:"" optional:"" help:"A name, or a word of its description."`
	outputFlags
}

func (functionsCommand) Help() string {
	return "Example:\n\n  rambook functions\n  rambook functions interp"
}

// Run lists the functions and the constants.
func (c *functionsCommand) Run(s *session) error {
	found := page.Functions(c.Word)
	if found == nil {
		return problem("no function or constant has "+words.Quoted(c.Word)+" in its name or description",
			"rambook functions lists all")
	}
	return s.answer(answer.Of("", false, &page.FunctionsView{Found: found, Width: s.width()}))
}
