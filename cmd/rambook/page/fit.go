package page

import (
	"fmt"
	"strings"

	"rambook/calc"
	"rambook/sheets/table"
	"rambook/units/words"
)

// FitView puts a fit into words and tables.
type FitView struct {
	Fit     *calc.Fit
	Layout  Layout
	Written []string // what was written into the sheets, in words
}

// Page answers first, then shows the givens and how they are tied.
func (v *FitView) Page() []table.Table {
	return WithoutEmpty([]table.Table{v.Layout.Sentences(2, v.Lines()...), v.GivenTable(), v.CorrelationTable(),
		{Note: strings.Join(v.Written, "\n")}})
}

// Lines are in sentences what was fitted to what, and what to think of it.
func (v *FitView) Lines() []string {
	to := words.Counted(v.Fit.Readings, "reading")
	if v.Fit.Sheet != nil {
		to += " in " + words.Counted(v.Fit.Cases, "case") + " of " + v.Fit.Sheet.Name
	}
	var lines []string
	switch {
	case !calc.Has(v.Fit.Misfit):
		lines = append(lines, "Fitted to "+to+". They have no spread, so each counts the same, "+
			"and their scatter shows how sure the values are.")
	case !calc.Has(v.Fit.P):
		lines = append(lines, fmt.Sprintf("Fitted to %s: misfit %s.", to, rough(v.Fit.Misfit)))
	default:
		text := fmt.Sprintf("Fitted to %s, and the model fits them: "+
			"chance alone puts readings farther off in %s of the cases (misfit %s).",
			to, inWords(v.Fit.P), rough(v.Fit.Misfit))
		if v.Fit.P < poorFit {
			text = fmt.Sprintf("Fitted to %s, but the model does not fit them within their spreads: "+
				"chance alone puts readings so far off in %s of the cases (misfit %s). "+
				"The values are less sure than they look.",
				to, inWords(v.Fit.P), rough(v.Fit.Misfit))
		}
		lines = append(lines, text)
	}
	for _, group := range v.Fit.Alike {
		if len(group) == 1 {
			lines = append(lines, "The readings do not depend on "+group[0].Name+".")
			continue
		}
		lines = append(lines, "The readings cannot tell "+words.Listed(QuantityNames(group),
			MostNames)+" apart: other values of them fit as well.")
	}
	for i := range v.Fit.Givens {
		if g := &v.Fit.Givens[i]; g.AtEnd {
			lines = append(lines, g.Quantity.Name+" is at an end of its range; the best may lie beyond.")
		}
	}
	return append(lines, aside(v.Fit.LeftOut, nil)...)
}

// poorFit is the p below which a model does not hold.
const poorFit = 0.01

// GivenTable holds each given as it was and as it was fitted.
func (v *FitView) GivenTable() table.Table {
	t := table.Table{Title: "fitted", Columns: []table.Column{{Header: "given"},
		{Header: "fitted", Align: table.Decimal}, {Header: "±", Align: table.Decimal},
		{Header: "unit"}, {Header: "was", Align: table.Decimal}, {Header: "±", Align: table.Decimal}}}
	for i := range v.Fit.Givens {
		g := &v.Fit.Givens[i]
		u := g.Quantity.Unit
		t.Rows = append(t.Rows, table.Row{Cells: []string{g.Quantity.Name,
			v.Layout.Numbers.computedOn(u, g.Value, g.Spread),
			v.Layout.Numbers.SpreadOn(u, g.Value, g.Spread),
			ShownUnit(u), v.Layout.Numbers.TypedOn(u, g.Was, g.WasSpread),
			v.Layout.Numbers.SpreadOn(u, g.Was, g.WasSpread)}})
	}
	return t
}

// leastCorrelation is from which on a correlation is shown on the screen: a
// smaller one changes no spread by what anybody would notice.
const leastCorrelation = 0.1

// CorrelationTable holds the pairs of givens that cannot be told apart well.
func (v *FitView) CorrelationTable() table.Table {
	t := table.Table{Title: "correlations", Columns: []table.Column{{Header: "given"}, {Header: "with"},
		{Header: "correlation", Align: table.Decimal}}}
	small := 0
	for _, c := range v.Fit.Correlations {
		if c.R < leastCorrelation && c.R > -leastCorrelation {
			small++
			continue
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{c.A.Name, c.B.Name,
			NumberStyle{Digits: 3}.Computed(c.R, NoSpread)}})
	}
	if small > 0 && len(t.Rows) > 0 {
		t.Note = fmt.Sprintf("%s more, below %g.", words.Counted(small, "pair"), leastCorrelation)
	}
	return t
}

// Rows is the fit for other programs.
func (v *FitView) Rows() table.Table {
	t := table.Table{}
	for _, header := range []string{"given", "value", "unit", "spread", "was", "was_spread"} {
		t.Columns = append(t.Columns, table.Column{Header: header})
	}
	for i := range v.Fit.Givens {
		g := &v.Fit.Givens[i]
		u := g.Quantity.Unit
		t.Rows = append(t.Rows, table.Row{Cells: []string{g.Quantity.Name, Exact(u, g.Value), u.Symbol,
			Shortest(g.Spread), Exact(u, g.Was), Shortest(g.WasSpread)}})
	}
	return t
}

type jsonFitted struct {
	Name      string `json:"name"`
	Value     any    `json:"value,omitzero"`
	Unit      string `json:"unit"`
	Spread    any    `json:"spread,omitzero"`
	Was       any    `json:"was,omitzero"`
	WasSpread any    `json:"was_spread,omitzero"`
}

type jsonCorrelation struct {
	Given       string  `json:"given"`
	With        string  `json:"with"`
	Correlation float64 `json:"correlation"`
}

type jsonFit struct {
	Fitted       []jsonFitted      `json:"fitted"`
	Correlations []jsonCorrelation `json:"correlations"`
	Alike        [][]string        `json:"alike"`
	Misfit       any               `json:"misfit,omitzero"`
	P            any               `json:"p,omitzero"`
	Readings     int               `json:"readings"`
	Cases        int               `json:"cases"`
	LeftOut      []jsonLeftOut     `json:"left_out"`
}

// Object is what `--format json` promises.
func (v *FitView) Object() any { return newJSONFit(v.Fit) }

// newJSONFit is a fit as other programs read it.
func newJSONFit(f *calc.Fit) jsonFit {
	out := jsonFit{Fitted: []jsonFitted{}, Correlations: []jsonCorrelation{}, Alike: [][]string{},
		Misfit: Plain(f.Misfit), P: Plain(f.P),
		Readings: f.Readings, Cases: f.Cases, LeftOut: []jsonLeftOut{}}
	for _, g := range f.Givens {
		u := g.Quantity.Unit
		out.Fitted = append(out.Fitted, jsonFitted{g.Quantity.Name, JSONNumber(u, g.Value), u.Symbol, Plain(g.Spread),
			JSONNumber(u, g.Was), Plain(g.WasSpread)})
	}
	for _, c := range f.Correlations {
		out.Correlations = append(out.Correlations, jsonCorrelation{c.A.Name, c.B.Name, c.R})
	}
	for _, group := range f.Alike {
		out.Alike = append(out.Alike, QuantityNames(group))
	}
	for _, r := range f.LeftOut {
		out.LeftOut = append(out.LeftOut, jsonLeftOut{r.Quantity.Name, r.Why})
	}
	return out
}
