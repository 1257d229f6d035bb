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

// FunctionsView puts functions and constants into a table, and on a screen into lines.
type FunctionsView struct {
	Found []Function
	Width int // of the screen
}

// Screen is each function and below it what it gives.
func (v *FunctionsView) Screen() string {
	const indent = 4
	var lines strings.Builder
	for _, f := range v.Found {
		text := strings.Repeat(" ", indent) + Wrapped(f.Doc+" ["+f.Source+"]", v.Width-indent, indent)
		fmt.Fprintf(&lines, "%s%s\n%s\n", f.Name, f.Params, text)
	}
	return lines.String()
}

// Page is the table of them.
func (v *FunctionsView) Page() []table.Table { return []table.Table{v.Rows()} }

// Object is what `functions --format json` promises.
func (v *FunctionsView) Object() any { return v.Found }

// Rows lists functions and constants.
func (v *FunctionsView) Rows() table.Table {
	t := table.Table{Columns: []table.Column{{Header: "name"}, {Header: "params"}, {Header: "gives"},
		{Header: "source"}}}
	for _, f := range v.Found {
		t.Rows = append(t.Rows, table.Row{Cells: []string{f.Name, f.Params, f.Doc, f.Source}})
	}
	return t
}
