package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/sheets/table"
	"rambook/units"
)

type explainCommand struct {
	Name string `arg:"" complete:"quantity" help:"The quantity to derive, or SHEET[CASE].NAME as it is in one case."`
	caseFlags
	watchFlags
	outputFlags
}

func (explainCommand) Help() string {
	return "Shows the formula, then with numbers put in, then each formula below it, down to the givens. Example:\n\n" +
		"  rambook explain force mypress\n  rambook explain \"jobs[drip tray].job_force\" mypress"
}

// Run derives one quantity.
func (c *explainCommand) Run(s *session) error {
	if sheet, name, found := strings.Cut(c.Name, "]."); found && strings.Contains(sheet, "[") {
		if c.Case != "" {
			return problem("a case is named twice: "+printable(c.Case)+" and "+printable(c.Name),
				"leave one of them out")
		}
		c.Case, c.Name = strings.TrimSpace(sheet)+"]", strings.TrimSpace(name)
	}
	if c.Watch {
		return s.watch(c.Path, func() error { return c.once(s) })
	}
	return c.once(s)
}

func (c *explainCommand) once(s *session) error {
	model, err := c.load()
	if err != nil {
		return err
	}
	layout := s.screen()
	d, problems := model.Explain(c.Name, shownWith(layout.numbers))
	if d == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	return s.answer(&answer.Answer{
		Title:  c.title(model),
		Page:   func() []table.Table { return layout.explained(c.Name, d) },
		Rows:   func() table.Table { return derivationTable(d, layout.numbers) },
		Object: func() any { return newJSONDerivation(c.Name, d) },
	})
}

// shownWith writes the numbers that are put into formulas.
func shownWith(numbers numberStyle) calc.Show {
	return func(v float64, u units.Unit, typed bool) string {
		if typed || u.Kind == units.Date {
			return beside(numbers.typedOn(u, v, noSpread), u)
		}
		return beside(numbers.trimmed(v), u)
	}
}

// explained lays a derivation out for a projector: the formulas as worked
// lines, the givens as a table, then where the doubt comes from.
func (s screen) explained(name string, d *calc.Derivation) []table.Table {
	var tables []table.Table
	givens := table.Table{Title: "from the givens", Columns: []table.Column{
		{Header: "name"}, {Header: "value", Align: table.Decimal}, {Header: "unit"},
		{Header: "±", Align: table.Decimal}, {Header: "note"}}}
	for i := range d.Steps {
		step := &d.Steps[i]
		if step.Formula == "" {
			givens.Rows = append(givens.Rows, table.Row{Cells: []string{step.Quantity.Name, valueText(step, s.numbers),
				shownUnit(step.Unit), s.numbers.spreadOn(step.Unit, step.Value, step.Spread), step.Note}})
			continue
		}
		text := workedWithUnits(step, s.numbers, s.width)
		if calc.Has(step.Reading) {
			text += "\n" + wrapped(s.besideReading(step), s.width, 2)
		}
		tables = append(tables, table.Table{Note: text})
	}
	if len(givens.Rows) > 0 {
		tables = append(tables, givens)
	}
	return append(tables, doubt(name, d)...)
}

// worked writes one formula, with its numbers put in, and its result.
func worked(step *calc.Step, numbers numberStyle, width int) string {
	return strings.Join(workedLines(step, numbers, width), "\n")
}

// workedLines are the formula, the numbers and the result, each of them in as
// many lines as the width takes.
func workedLines(step *calc.Step, numbers numberStyle, width int) []string {
	name := step.Quantity.Name
	indent := len(name) + 1
	named := func(text string) string { return wrappedFormula(name+" = "+text, width, indent+2) }
	line := func(text string) string { return strings.Repeat(" ", len(name)) + named(text)[len(name):] }
	result := valueText(step, numbers)
	switch {
	case len(step.Needs) > 0:
		result = "open, needs " + listed(names(step.Needs), 3)
	case result == "" && (step.State == calc.ByCase || step.State == calc.Absent):
		result = step.State.String()
	default:
		result = beside(plusMinus(result, numbers.spreadOn(step.Unit, step.Value, step.Spread)), step.Unit)
	}
	return []string{named(table.Visible(step.Formula)), line(table.Visible(step.Filled)), line(result)}
}

// workedWithUnits is worked with the step from the units that are put in to that
// of the result, for those who learn it.
func workedWithUnits(step *calc.Step, numbers numberStyle, width int) string {
	lines := workedLines(step, numbers, width)
	if len(step.Units) == 0 || len(step.Needs) > 0 {
		return strings.Join(lines, "\n")
	}
	number, parts := "", make([]string, 0, len(step.Units))
	for _, u := range step.Units {
		if calc.Has(u.Number) {
			number = "= " + numbers.trimmed(u.Number) + " " + u.Unit + ", "
		}
		parts = append(parts, "1 "+u.Unit+" = "+beside(numbers.trimmed(u.Factor), step.Unit))
	}
	margin := strings.Repeat(" ", len(step.Quantity.Name)+1)
	inUnits := wrapped(number+"where "+strings.Join(parts, " and "), width-len(margin), 2)
	inUnits = margin + strings.ReplaceAll(inUnits, "\n", "\n"+margin)
	return strings.Join(slices.Insert(lines, len(lines)-1, inUnits), "\n")
}

// besideReading is how the reading compares, and where it differs that nothing
// is computed from it.
func (s screen) besideReading(step *calc.Step) string {
	text := beside(s.judgedInWords(&step.Judged), step.Unit)
	if agreement, found := strings.CutPrefix(s.agreement(&step.Judged), "reading "); found {
		text += " " + agreement
	}
	if step.Agreement > 1 {
		text += "; formulas go on with the computed value"
	}
	return text + "."
}

func valueText(step *calc.Step, numbers numberStyle) string {
	switch {
	case step.Unit.Kind == units.Text:
		return printable(step.Text)
	case step.Formula == "":
		return numbers.typedOn(step.Unit, step.Value, step.Spread)
	}
	return numbers.computedOn(step.Unit, step.Value, step.Spread)
}

// doubt shows which inputs' spreads matter, as bars, and what it takes to
// halve the spread of the result.
func doubt(name string, d *calc.Derivation) []table.Table {
	if len(d.Shares) == 0 {
		return nil
	}
	const longest, least = 30, 0.001
	rough := numberStyle{digits: 2}
	bars := table.Table{Title: "where the spread of " + name + " comes from", Columns: []table.Column{
		{Header: "given"}, {Header: "its spread", Align: table.Right}, {Header: "share", Align: table.Decimal},
		{Header: ""}}}
	var improve []string
	for _, share := range d.Shares {
		u := share.Unit.Difference().Symbol
		if math.Abs(share.Share) >= least {
			bars.Rows = append(bars.Rows, table.Row{Cells: []string{share.Name,
				"± " + strings.TrimSpace(rough.trimmed(share.Spread)+" "+u), fmt.Sprintf("%.1f %%", 100*share.Share),
				strings.Repeat("█", max(0, min(longest, int(share.Share*longest+0.5))))}})
		}
		if calc.Has(share.Wanted) {
			improve = append(improve, fmt.Sprintf("%s to ± %s", share.Name,
				strings.TrimSpace(rough.trimmed(share.Wanted)+" "+u)))
		}
	}
	var tied []string
	for _, share := range d.Shares {
		if len(share.Tied) > 0 {
			tied = append(tied, share.Name)
		}
	}
	if len(tied) > 0 {
		return []table.Table{bars, {Note: "The errors of " + listed(tied, 6) +
			" are correlated: what two of them add or take together is shared evenly, and none can be improved by itself."}}
	}
	return []table.Table{bars, {Note: "To halve the spread of " + name + ", improve " + listed(improve, 6) + "."}}
}

// derivationTable is the derivation as rows, for CSV.
func derivationTable(d *calc.Derivation, numbers numberStyle) table.Table {
	t := table.Table{Columns: []table.Column{{Header: "name"}, {Header: "value"}, {Header: "unit"}, {Header: "spread"},
		{Header: "formula"}, {Header: "filled"}, {Header: "from"}, {Header: "note"}}}
	for i := range d.Steps {
		step := &d.Steps[i]
		value := exact(step.Unit, step.Value)
		if step.Unit.Kind == units.Text {
			value = valueText(step, numbers)
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{step.Quantity.Name, value, step.Unit.Symbol,
			shortest(step.Spread),
			step.Formula, step.Filled, strings.Join(step.From, " "), step.Note}})
	}
	return t
}

type jsonStep struct {
	Name    string         `json:"name"`
	Value   any            `json:"value,omitzero"`
	Unit    string         `json:"unit"`
	Spread  any            `json:"spread,omitzero"`
	Formula string         `json:"formula"`
	Filled  string         `json:"filled"`
	Units   []jsonUnitStep `json:"units,omitempty"`
	From    []string       `json:"from"`
	Note    string         `json:"note"`
}

// jsonUnitStep is how the units in a formula become that of its row.
type jsonUnitStep struct {
	Unit   string  `json:"unit"`
	Factor float64 `json:"factor"`
	Number any     `json:"number,omitzero"`
}

type jsonShare struct {
	Name  string  `json:"name"`
	Share float64 `json:"share"`
}

type jsonDerivation struct {
	Name   string      `json:"name"`
	Steps  []jsonStep  `json:"steps"`
	Shares []jsonShare `json:"shares"`
}

func newJSONDerivation(name string, d *calc.Derivation) jsonDerivation {
	out := jsonDerivation{Name: name, Steps: []jsonStep{}, Shares: []jsonShare{}}
	for i := range d.Steps {
		step := &d.Steps[i]
		v := newJSONValue(&step.Judged)
		var inUnits []jsonUnitStep
		for _, u := range step.Units {
			inUnits = append(inUnits, jsonUnitStep{u.Unit, u.Factor, plain(u.Number)})
		}
		out.Steps = append(out.Steps, jsonStep{step.Quantity.Name, v.Value, v.Unit, v.Spread, step.Formula, step.Filled,
			inUnits, append([]string{}, step.From...), step.Note})
	}
	for _, share := range d.Shares {
		out.Shares = append(out.Shares, jsonShare{share.Name, share.Share})
	}
	return out
}
