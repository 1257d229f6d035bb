package main

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/table"
)

// TestExplainKeepsTheWidth explains all formulas of all starters: no line is
// wider than the screen, and what is wrapped stays behind the `=` of its name.
func TestExplainKeepsTheWidth(t *testing.T) {
	const width = 80
	layout := page.Layout{Numbers: page.NumberStyle{Digits: 4}, Width: width}
	show := page.ShownWith(layout.Numbers)
	wrappedLines := 0
	for _, starter := range sheets.StarterNames() {
		model, err := notebookFlags{Path: filepath.Join("..", "..", "sheets", "starters", starter)}.load()
		if err != nil {
			t.Fatal(err)
		}
		report, problems := model.Check(calc.CheckOptions{})
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		for _, step := range model.Steps(report, show) {
			if step.Formula == "" {
				continue
			}
			var out bytes.Buffer
			if err := (table.Table{Note: page.Worked(&step, layout.Numbers, width)}).Render(&out, table.Plain,
				width); err != nil {
				t.Fatal(err)
			}
			name := step.Quantity.Name
			indent := strings.Repeat(" ", len(name)+1)
			for i, line := range strings.Split(strings.Trim(out.String(), "\n"), "\n") {
				if table.TextWidth(line) > width || i > 0 && !strings.HasPrefix(line, indent) {
					t.Errorf("%s of %s: %q", name, starter, line)
				}
				if strings.HasPrefix(line, indent+"  ") {
					wrappedLines++
				}
			}
		}
	}
	if wrappedLines == 0 {
		t.Error("nothing was too long")
	}
}
