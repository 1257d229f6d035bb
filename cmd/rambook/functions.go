package main

import (
	"strings"

	"rambook/calc"
	"rambook/sheets"
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
	table := sheets.Table{Columns: []sheets.TableColumn{{Header: "function"}, {Header: "gives"}, {Header: "source"}}}
	add := func(heading, call string, entry jsonFunction) {
		if !strings.Contains(strings.ToLower(entry.Name+" "+entry.Doc), strings.ToLower(c.Word)) {
			return
		}
		found = append(found, entry)
		table.Rows = append(table.Rows, sheets.TableRow{Heading: heading, Cells: []string{call, entry.Doc, entry.Source}})
	}
	for _, f := range calc.Functions {
		add("functions", f.Name+"("+f.Params+")", jsonFunction{f.Name, f.Params, f.Doc, f.Source})
	}
	for _, constant := range units.Constants {
		value := strings.TrimSpace(shortest(constant.Value) + " " + constant.Unit.Symbol)
		add("constants", constant.Name, jsonFunction{constant.Name, "", constant.Doc + ", " + value, constant.Source})
	}
	if found == nil {
		return problem("no function or constant has `"+c.Word+"` in its name or description", "rambook functions lists all")
	}
	if s.output.Format == "json" {
		return writeJSON(&s.out, found)
	}
	return s.print(table)
}
