package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// ShownWith writes the numbers that are put into formulas.
func ShownWith(numbers NumberStyle) calc.Show {
	return func(v float64, u units.Unit, typed bool) string {
		if typed || u.Kind == units.Date {
			return Beside(numbers.TypedOn(u, v, NoSpread), u)
		}
		return Beside(numbers.Trimmed(v), u)
	}
}

// Explained lays a derivation out for a projector: the formulas as worked
// lines, the givens as a table, then where the doubt comes from.
func (s Layout) Explained(name string, d *calc.Derivation) []table.Table {
	var tables []table.Table
	givens := table.Table{Title: "from the givens", Columns: []table.Column{
		{Header: "name"}, {Header: "value", Align: table.Decimal}, {Header: "unit"},
		{Header: "±", Align: table.Decimal}, {Header: "note"}}}
	for i := range d.Steps {
		step := &d.Steps[i]
		if step.Formula == "" {
			givens.Rows = append(givens.Rows, table.Row{Cells: []string{step.Quantity.Name, valueText(step, s.Numbers),
				ShownUnit(step.Unit), s.Numbers.SpreadOn(step.Unit, step.Value, step.Spread), step.Note}})
			continue
		}
		text := workedWithUnits(step, s.Numbers, s.Width)
		if calc.Has(step.Reading) {
			text += "\n" + Wrapped(s.besideReading(step), s.Width, 2)
		}
		tables = append(tables, table.Table{Note: text})
	}
	if len(givens.Rows) > 0 {
		tables = append(tables, givens)
	}
	return append(tables, doubt(name, d)...)
}

// Worked writes one formula, with its numbers put in, and its result.
func Worked(step *calc.Step, numbers NumberStyle, width int) string {
	return strings.Join(workedLines(step, numbers, width), "\n")
}

// workedLines are the formula, the numbers and the result, each of them in as
// many lines as the width takes.
func workedLines(step *calc.Step, numbers NumberStyle, width int) []string {
	name := step.Quantity.Name
	indent := len(name) + 1
	named := func(text string) string { return wrappedFormula(name+" = "+text, width, indent+2) }
	line := func(text string) string { return strings.Repeat(" ", len(name)) + named(text)[len(name):] }
	filled, result := step.Filled, valueText(step, numbers)
	switch {
	case step.Quantity.IsVerdict():
		filled, result = cmp.Or(blamed(&step.Judged), "pass: each of them"), step.Verdict.String()
	case len(step.Needs) > 0:
		result = "open, needs " + words.Listed(Names(step.Needs), 3)
	case result == "" && (step.State == calc.ByCase || step.State == calc.Absent):
		result = step.State.String()
	default:
		result = Beside(PlusMinus(result, numbers.SpreadOn(step.Unit, step.Value, step.Spread)), step.Unit)
	}
	return []string{named(table.Visible(step.Formula)), line(table.Visible(filled)), line(result)}
}

// workedWithUnits is worked with the step from the units that are put in to that
// of the result, for those who learn it.
func workedWithUnits(step *calc.Step, numbers NumberStyle, width int) string {
	lines := workedLines(step, numbers, width)
	if len(step.Units) == 0 || len(step.Needs) > 0 {
		return strings.Join(lines, "\n")
	}
	number, parts := "", make([]string, 0, len(step.Units))
	for _, u := range step.Units {
		if calc.Has(u.Number) {
			number = "= " + numbers.Trimmed(u.Number) + " " + u.Unit + ", "
		}
		parts = append(parts, "1 "+u.Unit+" = "+Beside(numbers.Trimmed(u.Factor), step.Unit))
	}
	margin := strings.Repeat(" ", len(step.Quantity.Name)+1)
	inUnits := Wrapped(number+"where "+strings.Join(parts, " and "), width-len(margin), 2)
	inUnits = margin + strings.ReplaceAll(inUnits, "\n", "\n"+margin)
	return strings.Join(slices.Insert(lines, len(lines)-1, inUnits), "\n")
}

// besideReading is how the reading compares, and where it differs that nothing
// is computed from it.
func (s Layout) besideReading(step *calc.Step) string {
	text := Beside(s.JudgedInWords(&step.Judged), step.Unit)
	if agreement, found := strings.CutPrefix(s.agreement(&step.Judged), "reading "); found {
		text += " " + agreement
	}
	if step.Agreement > 1 {
		text += "; formulas go on with the computed value"
	}
	if step.Unproven == step.Quantity {
		text += "; " + unproven(&step.Judged)
	}
	return text + "."
}

func valueText(step *calc.Step, numbers NumberStyle) string {
	switch {
	case step.Unit.Kind == units.Text:
		return Printable(step.Text)
	case step.Formula == "":
		return numbers.TypedOn(step.Unit, step.Value, step.Spread)
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
	rough := NumberStyle{Digits: 2}
	bars := table.Table{Title: "where the spread of " + name + " comes from", Columns: []table.Column{
		{Header: "given"}, {Header: "its spread", Align: table.Right}, {Header: "share", Align: table.Decimal},
		{Header: ""}}}
	var improve []string
	for _, share := range d.Shares {
		u := share.Unit.Difference().Symbol
		if math.Abs(share.Share) >= least {
			bars.Rows = append(bars.Rows, table.Row{Cells: []string{share.Name,
				"± " + strings.TrimSpace(rough.Trimmed(share.Spread)+" "+u), fmt.Sprintf("%.1f %%", 100*share.Share),
				strings.Repeat("█", max(0, min(longest, int(share.Share*longest+0.5))))}})
		}
		if calc.Has(share.Wanted) {
			improve = append(improve, fmt.Sprintf("%s to ± %s", share.Name,
				strings.TrimSpace(rough.Trimmed(share.Wanted)+" "+u)))
		}
	}
	var tied []string
	for _, share := range d.Shares {
		if len(share.Tied) > 0 {
			tied = append(tied, share.Name)
		}
	}
	if len(tied) > 0 {
		return []table.Table{bars, {Note: "The errors of " + words.Listed(tied, 6) +
			" are correlated: what two of them add or take together is shared evenly, " +
			"and none can be improved by itself."}}
	}
	return []table.Table{bars, {Note: "To halve the spread of " + name + ", improve " + words.Listed(improve, 6) + "."}}
}

// derivationTable is the derivation as rows, for CSV.
func derivationTable(d *calc.Derivation, numbers NumberStyle) table.Table {
	t := table.Table{Columns: []table.Column{{Header: "name"}, {Header: "value"}, {Header: "unit"}, {Header: "spread"},
		{Header: "formula"}, {Header: "filled"}, {Header: "from"}, {Header: "note"}}}
	for i := range d.Steps {
		step := &d.Steps[i]
		value := Exact(step.Unit, step.Value)
		if step.Unit.Kind == units.Text {
			value = valueText(step, numbers)
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{step.Quantity.Name, value, step.Unit.Symbol,
			Shortest(step.Spread),
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

	Samples *jsonHistogram `json:"samples,omitempty"`
}

// DerivationView puts a derivation into words and tables.
type DerivationView struct {
	Name       string
	Derivation *calc.Derivation
	Sampled    *calc.Judged // nil if no samples were drawn
	Layout     Layout
	Sheets     []*sheets.Sheet // in whose cases a step may have its number; none where a case is looked at
}

// Page is the derivation, step by step, then what was sampled.
func (v *DerivationView) Page() []table.Table {
	return slices.Concat(v.Layout.Explained(v.Name, v.Derivation), v.inOneCase(), v.Layout.Histogram(v.Sampled))
}

// inOneCase is where a step that differs from case to case has its numbers.
func (v *DerivationView) inOneCase() []table.Table {
	for i := range v.Derivation.Steps {
		step := &v.Derivation.Steps[i]
		if step.State != calc.ByCase || step.Formula == "" {
			continue
		}
		for _, sheet := range v.Sheets {
			if len(sheet.Cases) > 0 && slices.ContainsFunc(sheet.Columns, func(c sheets.Column) bool {
				return c.Name.Text == step.Quantity.Name
			}) {
				return []table.Table{v.Layout.Sentences(2, fmt.Sprintf("What is by case has a number in each: "+
					"explain %q derives one.", sheet.Name+"["+Printable(sheet.Cases[0].Name.Text)+"]."+step.Quantity.Name))}
			}
		}
	}
	return nil
}

// Rows are the steps for other programs.
func (v *DerivationView) Rows() table.Table { return derivationTable(v.Derivation, v.Layout.Numbers) }

// Object is what `explain --format json` promises.
func (v *DerivationView) Object() any { return newJSONDerivation(v.Name, v.Derivation, v.Sampled) }

// newJSONDerivation is a derivation as other programs read it.
func newJSONDerivation(name string, d *calc.Derivation, sampled *calc.Judged) jsonDerivation {
	out := jsonDerivation{Name: name, Steps: []jsonStep{}, Shares: []jsonShare{}, Samples: newJSONHistogram(sampled)}
	for i := range d.Steps {
		step := &d.Steps[i]
		v := NewJSONValue(&step.Judged)
		var inUnits []jsonUnitStep
		for _, u := range step.Units {
			inUnits = append(inUnits, jsonUnitStep{u.Unit, u.Factor, Plain(u.Number)})
		}
		out.Steps = append(out.Steps, jsonStep{step.Quantity.Name, v.Value, v.Unit, v.Spread, step.Formula, step.Filled,
			inUnits, append([]string{}, step.From...), step.Note})
	}
	for _, share := range d.Shares {
		out.Shares = append(out.Shares, jsonShare{share.Name, share.Share})
	}
	return out
}
