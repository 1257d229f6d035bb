package page

import (
	"fmt"
	"strings"

	"rambook/calc/function"
	"rambook/sheets/table"
	"rambook/units"
)

// Function is a function or a constant of the formulas, as `functions --format json`
// promises it.
type Function struct {
	Name   string `json:"name"`
	Params string `json:"params"`
	Doc    string `json:"doc"`
	Source string `json:"source"`
}

// Functions lists the functions and constants that have a word in their name or
// description; nil if there is none.
func Functions(word string) []Function {
	var found []Function
	add := func(entry Function) {
		if strings.Contains(strings.ToLower(entry.Name+" "+entry.Doc), strings.ToLower(word)) {
			found = append(found, entry)
		}
	}
	for _, f := range function.Table {
		add(Function{f.Name, "(" + f.Params + ")", f.Doc, f.Source})
	}
	for _, constant := range units.Constants {
		value := strings.TrimSpace(Shortest(constant.Value) + " " + constant.Unit.Symbol)
		add(Function{constant.Name, "", constant.Doc + ", " + value, constant.Source})
	}
	return found
}

// FunctionLines are a function and what it gives, on lines of their own.
func FunctionLines(found []Function, width int) string {
	const indent = 4
	var lines strings.Builder
	for _, f := range found {
		text := strings.Repeat(" ", indent) + Wrapped(f.Doc+" ["+f.Source+"]", width-indent, indent)
		fmt.Fprintf(&lines, "%s%s\n%s\n", f.Name, f.Params, text)
	}
	return lines.String()
}

// FunctionTable lists functions and constants.
func FunctionTable(found []Function) table.Table {
	t := table.Table{Columns: []table.Column{{Header: "name"}, {Header: "params"}, {Header: "gives"},
		{Header: "source"}}}
	for _, f := range found {
		t.Rows = append(t.Rows, table.Row{Cells: []string{f.Name, f.Params, f.Doc, f.Source}})
	}
	return t
}
