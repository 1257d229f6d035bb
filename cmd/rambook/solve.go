package main

import (
	"fmt"
	"math"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units"
)

type solveCommand struct {
	Givens []string `arg:"" complete:"quantity" name:"given" help:"The given to find a value for, and the notebook's folder last. With several conditions as many givens."`
	lookFlags
	inCaseFlags
	Until   []string `required:"" sep:"none" placeholder:"\"SIDE = SIDE\"" help:"What shall be equal. A side is a number with its unit or an expression. Once for each given."`
	Between []string `sep:"none" placeholder:"\"A to B UNIT\"" help:"Where to look, of several givens \"NAME = A to B UNIT\". Default: the given's low to high, or a decade below and above its value."`
	watchFlags
	outputFlags

	Path string `kong:"-"`
}

// AfterApply tells the notebook from the givens: it stands last, where there are
// more words than conditions or what is there is a file or a folder.
func (c *solveCommand) AfterApply(s *session) error {
	if n := len(c.Givens); n == len(c.Until)+1 || n > 1 && isNotebookPath(c.Givens[n-1]) {
		c.Path, c.Givens = c.Givens[n-1], c.Givens[:n-1]
	}
	for i, name := range c.Givens {
		c.Givens[i] = strings.TrimSpace(name)
	}
	return c.outputFlags.AfterApply(s)
}

func (solveCommand) Help() string {
	return "All values in that range are found. The spread of a value comes from the spreads of all other givens. " +
		"Exit status 1: there is no such value. Example:\n\n" +
		"  rambook solve setting --until \"force = 900 kN\" mypress\n" +
		"  rambook solve fill_level --until \"level_down = low_mark\" --between \"200 to 400 mm\"\n" +
		"  rambook solve setting pump_flow --until \"force = 900 kN\" --until \"approach_speed = 60 mm/s\" mypress"
}

// Run finds the values and says what the notebook's limits make of each.
func (c *solveCommand) Run(s *session) error {
	if c.Watch {
		return s.watch(c.Path, func() error { return c.once(s) })
	}
	return c.once(s)
}

func (c *solveCommand) once(s *session) error {
	flags := caseFlags{notebookFlags{c.Path, c.lookFlags}, c.inCaseFlags}
	model, err := flags.loadAround(c.Givens...)
	if err != nil {
		return err
	}
	if len(c.Givens) > 1 || len(c.Until) > 1 {
		return c.together(s, model, flags.title(model))
	}
	between := ""
	if n := len(c.Between); n > 1 {
		return problem("there are several --between for one given", "")
	} else if n == 1 {
		between = c.Between[0]
	}
	solved, problems := model.Solve(c.Givens[0], c.Until[0], between)
	if len(problems) > 0 {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	layout := s.screen()
	err = s.answer(&answer.Answer{
		Title:  flags.title(model),
		Page:   func() []table.Table { return []table.Table{layout.sentences(2, layout.solvedLines(solved)...)} },
		Rows:   func() table.Table { return layout.solutionTable(solved) },
		Object: func() any { return newJSONSolved(solved) },
	})
	if err != nil || len(solved.Solutions) > 0 {
		return err
	}
	return s.tellUnsolved(solved.Failure, layout.solvedLines(solved))
}

// tellUnsolved ends a search that found nothing.
func (s *session) tellUnsolved(failure *sheets.Problem, lines []string) error {
	if failure != nil {
		printProblems(s.stderr, "", []sheets.Problem{*failure})
	}
	if s.form.Exact {
		fmt.Fprintln(s.stderr, strings.Join(lines, "\n"))
	}
	return errFails
}

// solvedLines says in sentences what was found.
func (s screen) solvedLines(solved *calc.Solved) []string {
	name, unit, until := solved.Quantity.Name, solved.Unit, printable(solved.Until)
	between := fmt.Sprintf("of %s between %s and %s", name, s.numbers.typedOn(unit, solved.From, noSpread),
		beside(s.numbers.typedOn(unit, solved.To, noSpread), unit))
	var lines []string
	failing := false
	switch n := len(solved.Solutions); n {
	case 0:
		lines = append(lines, s.unsolved(solved, between))
	case 1:
		lines = append(lines, fmt.Sprintf("%s makes %s", s.solution(solved, &solved.Solutions[0]), until))
	default:
		lines = append(lines, fmt.Sprintf("%d values %s make %s:", n, between, until))
	}
	for i := range solved.Solutions {
		one := &solved.Solutions[i]
		if len(solved.Solutions) > 1 {
			lines = append(lines, s.solution(solved, one))
		}
		verdicts, fails := s.solutionVerdicts(solved, one)
		lines = append(lines, verdicts...)
		failing = failing || fails
	}
	if n := len(solved.Jumps); n > 0 {
		var places []string
		for _, x := range solved.Jumps {
			places = append(places, beside(s.numbers.withSpread(unit, x, noSpread), unit))
		}
		lines = append(lines, fmt.Sprintf("The two sides jump past each other at %s = %s, without being equal there.",
			name, listed(places, mostNames)))
	}
	if failing {
		lines = append(lines, cautions)
	}
	return lines
}

// solution writes one value that makes the sides equal, or a range of them.
func (s screen) solution(solved *calc.Solved, one *calc.Solution) string {
	name, unit := solved.Quantity.Name, solved.Unit
	if one.To != one.Value {
		return fmt.Sprintf("every %s from %s to %s", name, s.numbers.withSpread(unit, one.Value, noSpread),
			beside(s.numbers.withSpread(unit, one.To, noSpread), unit))
	}
	text := fmt.Sprintf("%s = %s", name, beside(s.numbers.withSpread(unit, one.Value, one.Spread), unit))
	if one.Touch {
		text += " (the sides only touch here)"
	}
	return text
}

// solutionVerdicts is what fails at a solution and what is unsure there, and
// whether anything fails; of an interval at both of its ends, and from where on.
func (s screen) solutionVerdicts(solved *calc.Solved, one *calc.Solution) (lines []string, failing bool) {
	if one.To == one.Value {
		return s.verdictsAt(solved.Quantity, "there", &one.At)
	}
	place := func(x float64) string {
		return beside(s.numbers.withSpread(solved.Unit, x, noSpread), solved.Unit)
	}
	first, failsFirst := s.verdictsAt(solved.Quantity, "at "+place(one.Value), &one.At)
	last, failsLast := s.verdictsAt(solved.Quantity, "at "+place(one.To), &one.End)
	lines = first
	if calc.Has(one.FailsFrom) && !failsFirst {
		from := "- fails from about " + place(one.FailsFrom) + " on"
		if !failsLast {
			from = "- fails in between, as at " + place(one.FailsFrom)
		}
		lines = append(lines, from)
	}
	return append(lines, last...), one.Worst == calc.Fail
}

// verdictsAt is what fails and what is unsure in one case.
func (s screen) verdictsAt(given *calc.Quantity, where string, at *calc.Case) (lines []string, failing bool) {
	var fails, unsure []string
	for i := range at.Values {
		j := &at.Values[i]
		switch j.Verdict {
		case calc.Fail:
			text := j.Quantity.Name + " (" + s.margin(j) + ")"
			if j.Quantity == given { // its own limit is likely a rating, so it comes first
				fails = append([]string{text}, fails...)
				continue
			}
			fails = append(fails, text)
		case calc.Unsure:
			unsure = append(unsure, j.Quantity.Name+" ("+likely(j)+")")
		}
	}
	if len(fails) > 0 {
		lines = append(lines, "- fails "+where+": "+listed(fails, mostNames))
	}
	if len(unsure) > 0 {
		lines = append(lines, "- unsure "+where+": "+listed(unsure, mostNames))
	}
	return lines, len(fails) > 0
}

// unsolved says that there is no solution, and how near one comes.
func (s screen) unsolved(solved *calc.Solved, between string) string {
	until := printable(solved.Until)
	if !calc.Has(solved.Closest) {
		line := fmt.Sprintf("%s cannot be computed for any value %s", until, between)
		if len(solved.Needs) > 0 {
			line += "; it needs " + listed(names(solved.Needs), mostNames)
		}
		return line
	}
	var sides []string
	for _, side := range []calc.Side{solved.Left, solved.Right} {
		if _, err := units.ParseValue(side.Text); err != nil { // a number is the same everywhere
			sides = append(sides, printable(side.Text)+" is "+beside(s.numbers.withSpread(side.Unit, side.Value,
				noSpread), side.Unit))
		}
	}
	return fmt.Sprintf("No value %s makes %s; the closest is %s, where %s", between, until,
		beside(s.numbers.withSpread(solved.Unit, solved.Closest, noSpread), solved.Unit), listed(sides, len(sides)))
}

// solutionTable holds the solutions for CSV, one a row.
func (s screen) solutionTable(solved *calc.Solved) table.Table {
	t := table.Table{Columns: []table.Column{{Header: "name"}, {Header: "value"}, {Header: "to"}, {Header: "unit"},
		{Header: "spread"}, {Header: "verdict"}}}
	for _, one := range solved.Solutions {
		t.Rows = append(t.Rows, table.Row{Cells: []string{solved.Quantity.Name, exact(solved.Unit, one.Value),
			exact(solved.Unit, one.To),
			solved.Unit.Symbol, shortest(one.Spread), one.Worst.String()}})
	}
	return t
}

type jsonSolved struct {
	Name      string   `json:"name"`
	Value     any      `json:"value,omitzero"` // of the solutions the one nearest to the notebook's value
	Unit      string   `json:"unit"`
	Spread    any      `json:"spread,omitzero"` // of that value
	Until     string   `json:"until"`
	Solutions []any    `json:"solutions"`           // of a whole interval of them, both ends
	Intervals [][2]any `json:"intervals,omitempty"` // every value from the one to the other is a solution
	Closest   any      `json:"closest,omitzero"`
}

func newJSONSolved(solved *calc.Solved) jsonSolved {
	out := jsonSolved{Name: solved.Quantity.Name, Unit: solved.Unit.Symbol, Until: solved.Until,
		Solutions: []any{}, Closest: jsonNumber(solved.Unit, solved.Closest)}
	least := math.Inf(1)
	for _, one := range solved.Solutions {
		out.Solutions = append(out.Solutions, jsonNumber(solved.Unit, one.Value))
		if one.To != one.Value {
			out.Solutions = append(out.Solutions, jsonNumber(solved.Unit, one.To))
			out.Intervals = append(out.Intervals, [2]any{jsonNumber(solved.Unit, one.Value),
				jsonNumber(solved.Unit, one.To)})
		}
		nearest := math.Min(math.Max(solved.Now, one.Value), one.To)
		distance := math.Abs(nearest - solved.Now)
		if !calc.Has(solved.Now) { // then the first
			nearest, distance = one.Value, math.MaxFloat64
		}
		if distance < least {
			least, out.Value, out.Spread = distance, jsonNumber(solved.Unit, nearest), plain(one.Spread)
		}
	}
	return out
}
