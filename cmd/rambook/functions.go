package main

import (
	"fmt"
	"strings"

	"rambook/calc/function"
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
		value := strings.TrimSpace(shortest(constant.Value) + " " + constant.Unit.Symbol)
		add(jsonFunction{constant.Name, "", constant.Doc + ", " + value, constant.Source})
	}
	switch {
	case found == nil:
		return problem("no function or constant has `"+c.Word+"` in its name or description", "rambook functions lists all")
	case s.output.Format == "json":
		return writeJSON(&s.out, found)
	case s.output.Format == "table":
		const indent = 4
		for _, f := range found {
			text := strings.Repeat(" ", indent) + wrapped(f.Doc+" ["+f.Source+"]", s.width()-indent, indent)
			fmt.Fprintf(&s.out, "%s%s\n%s\n", f.Name, f.Params, text)
		}
		return nil
	}
	t := table.Table{Columns: []table.Column{{Header: "name"}, {Header: "params"}, {Header: "gives"}, {Header: "source"}}}
	for _, f := range found {
		t.Rows = append(t.Rows, table.Row{Cells: []string{f.Name, f.Params, f.Doc, f.Source}})
	}
	return s.print(t)
}
