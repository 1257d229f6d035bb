package main

import (
	"fmt"
	"strings"

	"rambook/calc/function"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
	"rambook/units"
)

type functionsCommand struct {
	Word string `arg:"" optional:"" help:"A name, or a word of its description."`
	outputFlags
}

func (functionsCommand) Help() string {
	return "Example:\n\n  rambook functions\n  rambook functions interp"
}

type jsonFunction struct {
	Name   string `json:"name"`
	Params string `json:"params"`
	Doc    string `json:"doc"`
	Source string `json:"source"`
}

// Run lists the functions and the constants.
func (c *functionsCommand) Run(s *session) error {
	var found []jsonFunction
	add := func(entry jsonFunction) {
		if strings.Contains(strings.ToLower(entry.Name+" "+entry.Doc), strings.ToLower(c.Word)) {
			found = append(found, entry)
		}
	}
	for _, f := range function.Table {
		add(jsonFunction{f.Name, "(" + f.Params + ")", f.Doc, f.Source})
	}
	for _, constant := range units.Constants {
		value := strings.TrimSpace(page.Shortest(constant.Value) + " " + constant.Unit.Symbol)
		add(jsonFunction{constant.Name, "", constant.Doc + ", " + value, constant.Source})
	}
	if found == nil {
		return problem("no function or constant has `"+c.Word+"` in its name or description",
			"rambook functions lists all")
	}
	return s.answer(&answer.Answer{
		Page:   func() []table.Table { return []table.Table{functionTable(found)} },
		Screen: func() string { return functionLines(found, s.width()) },
		Object: func() any { return found },
	})
}

// functionLines are a function and what it gives, on lines of their own.
func functionLines(found []jsonFunction, width int) string {
	const indent = 4
	var lines strings.Builder
	for _, f := range found {
		text := strings.Repeat(" ", indent) + page.Wrapped(f.Doc+" ["+f.Source+"]", width-indent, indent)
		fmt.Fprintf(&lines, "%s%s\n%s\n", f.Name, f.Params, text)
	}
	return lines.String()
}

func functionTable(found []jsonFunction) table.Table {
	t := table.Table{Columns: []table.Column{{Header: "name"}, {Header: "params"}, {Header: "gives"},
		{Header: "source"}}}
	for _, f := range found {
		t.Rows = append(t.Rows, table.Row{Cells: []string{f.Name, f.Params, f.Doc, f.Source}})
	}
	return t
}
