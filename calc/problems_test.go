package calc_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"rambook/calc"
	"rambook/sheets"
)

// TestProblems opens notebooks full of mistakes and holds what is said about
// them against the text beside them. Accept a change of that text only after
// reading it as the person who has to mend the notebook: UPDATE=1 writes it.
func TestProblems(t *testing.T) {
	t.Chdir("../testdata/problems")
	for _, name := range []string{
		"mistakes",   // found before anything is computed; all are reported in one run
		"tables",     // mistakes in case sheets and in the formulas that use them
		"keys",       // keys that a table does not have
		"evaluation", // shows only when the notebook is sound otherwise
	} {
		t.Run(name, func(t *testing.T) {
			book, problems := sheets.Open(name)
			model, faults := calc.Compile(book, calc.Options{})
			problems = append(problems, faults...)
			if len(problems) == 0 {
				_, problems = model.Check(calc.CheckOptions{})
			}
			sheets.SortProblems(problems)
			var got strings.Builder
			for _, p := range problems {
				fmt.Fprintf(&got, "%v\n", p)
				if p.Text != "" {
					fmt.Fprintf(&got, "    %s\n    %s%s\n", p.Text, strings.Repeat(" ", p.From),
						strings.Repeat("^", max(1, p.To-p.From)))
				}
				if p.Hint != "" {
					fmt.Fprintf(&got, "    hint: %s\n", p.Hint)
				}
			}
			golden := name + ".txt"
			if os.Getenv("UPDATE") != "" {
				if err := os.WriteFile(golden, []byte(got.String()), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if got.String() != string(want) {
				t.Errorf("got\n%sexpected %s", got.String(), golden)
			}
		})
	}
}
