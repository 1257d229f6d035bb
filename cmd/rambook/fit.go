package main

import (
	"fmt"
	"os"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/sheets/table"
)

type fitCommand struct {
	Givens []string `arg:"" complete:"quantity" name:"given" help:"The givens to fit, and the notebook's folder last."`
	Set    []string `sep:"none" placeholder:"\"NAME = ENTRY\"" help:"Replace a given for this run only, so that the fit starts there. Repeatable."`
	Cases  string   `placeholder:"SHEET" help:"Fit to the readings in all cases of this sheet. Default: those of the notebook."`
	Where  string   `placeholder:"CONDITION" help:"Take only the cases that meet a condition over quantities and columns."`
	Free   bool     `help:"Forget what the givens' own spreads say."`
	Write  bool     `help:"Put the values and their spreads into the sheets, with a word in the note, and the correlations into their sheet."`
	entryFlags
	outputFlags
}

func (fitCommand) Help() string {
	return "The values at which the readings fit best, all givens at once. A given's own spread counts as what is known of it before; " +
		"limits, and the range of a suspect, bound it. Example:\n\n" +
		"  rambook fit pump_efficiency --cases visits\n" +
		"  rambook fit pump_efficiency viscosity_ratio --free --cases visits --where \"working_temperature < fill_temperature + 30*K\""
}

// Run fits the givens and says how sure they are.
func (c *fitCommand) Run(s *session) error {
	flags := notebookFlags{lookFlags: lookFlags{Set: c.Set}}
	names := c.Givens
	if n := len(names); n > 1 && isNotebookPath(names[n-1]) {
		flags.Path, names = names[n-1], names[:n-1]
	}
	model, err := flags.load()
	if err != nil {
		return err
	}
	fit, problems := model.Fit(names, calc.FitOptions{Sheet: c.Cases, Where: c.Where, Free: c.Free})
	if fit == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	view := fitView{fit, s.screen()}
	var done []string
	if c.Write {
		if done, err = c.write(s, flags.Path, fit); err != nil {
			return err
		}
	}
	return s.answer(&answer.Answer{
		Title: flags.title(model),
		Page: func() []table.Table {
			return filled([]table.Table{view.sentences(2, view.lines()...), view.table(), view.correlations(),
				written(done)})
		},
		Rows:   view.longTable,
		Object: func() any { return newJSONFit(fit) },
	})
}

// fitView puts a fit into words and tables.
type fitView struct {
	*calc.Fit
	screen
}

// lines say in sentences what was fitted to what, and what to think of it.
func (v fitView) lines() []string {
	to := counted(v.Readings, "reading")
	if v.Sheet != nil {
		to += " in " + counted(v.Cases, "case") + " of " + v.Sheet.Name
	}
	var lines []string
	switch {
	case !calc.Has(v.Misfit):
		lines = append(lines, "Fitted to "+to+". They have no spread, so each counts the same, and their scatter tells how sure the values are.")
	case !calc.Has(v.P):
		lines = append(lines, fmt.Sprintf("Fitted to %s: misfit %s.", to, rough(v.Misfit)))
	default:
		text := fmt.Sprintf("Fitted to %s: misfit %s; where the model holds it is larger in %s of the cases.", to,
			rough(v.Misfit), inWords(v.P))
		if v.P < poorFit {
			text += " So the model does not hold within the spreads stated, and the values are less sure than they look."
		}
		lines = append(lines, text)
	}
	for _, group := range v.Alike {
		if len(group) == 1 {
			lines = append(lines, "The readings do not depend on "+group[0].Name+".")
			continue
		}
		lines = append(lines, "The readings cannot tell "+listed(quantityNames(group),
			mostNames)+" apart: other values of them fit as well.")
	}
	for i := range v.Givens {
		if g := &v.Givens[i]; g.AtEnd {
			lines = append(lines, g.Quantity.Name+" is at an end of its range; the best may lie beyond.")
		}
	}
	for _, r := range v.LeftOut {
		lines = append(lines, r.Quantity.Name+" takes no part: "+r.Why+".")
	}
	return lines
}

// poorFit is the p below which a model is said not to hold.
const poorFit = 0.01

func (v fitView) table() table.Table {
	t := table.Table{Title: "fitted", Columns: []table.Column{{Header: "given"},
		{Header: "fitted", Align: table.Decimal}, {Header: "±", Align: table.Decimal},
		{Header: "unit"}, {Header: "was", Align: table.Decimal}, {Header: "±", Align: table.Decimal}}}
	for i := range v.Givens {
		g := &v.Givens[i]
		u := g.Quantity.Unit
		t.Rows = append(t.Rows, table.Row{Cells: []string{g.Quantity.Name, v.numbers.computedOn(u, g.Value, g.Spread),
			v.numbers.spreadOn(u, g.Value, g.Spread),
			shownUnit(u), v.numbers.typedOn(u, g.Was, g.WasSpread), v.numbers.spreadOn(u, g.Was, g.WasSpread)}})
	}
	return t
}

// leastCorrelation is from which on a correlation is shown on the screen: a
// smaller one changes no spread by what anybody would notice.
const leastCorrelation = 0.1

func (v fitView) correlations() table.Table {
	t := table.Table{Title: "correlations", Columns: []table.Column{{Header: "given"}, {Header: "with"},
		{Header: "correlation", Align: table.Decimal}}}
	small := 0
	for _, c := range v.Correlations {
		if c.R < leastCorrelation && c.R > -leastCorrelation {
			small++
			continue
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{c.A.Name, c.B.Name,
			numberStyle{digits: 3}.computed(c.R, noSpread)}})
	}
	if small > 0 && len(t.Rows) > 0 {
		t.Note = fmt.Sprintf("%s more: below %g.", counted(small, "pair"), leastCorrelation)
	}
	return t
}

// longTable is the fit for other programs.
func (v fitView) longTable() table.Table {
	t := table.Table{}
	for _, header := range []string{"given", "value", "unit", "spread", "was", "was_spread"} {
		t.Columns = append(t.Columns, table.Column{Header: header})
	}
	for i := range v.Givens {
		g := &v.Givens[i]
		u := g.Quantity.Unit
		t.Rows = append(t.Rows, table.Row{Cells: []string{g.Quantity.Name, exact(u, g.Value), u.Symbol,
			shortest(g.Spread), exact(u, g.Was), shortest(g.WasSpread)}})
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

func newJSONFit(f *calc.Fit) jsonFit {
	out := jsonFit{Fitted: []jsonFitted{}, Correlations: []jsonCorrelation{}, Alike: [][]string{},
		Misfit: plain(f.Misfit), P: plain(f.P),
		Readings: f.Readings, Cases: f.Cases, LeftOut: []jsonLeftOut{}}
	for _, g := range f.Givens {
		u := g.Quantity.Unit
		out.Fitted = append(out.Fitted, jsonFitted{g.Quantity.Name, jsonNumber(u, g.Value), u.Symbol, plain(g.Spread),
			jsonNumber(u, g.Was), plain(g.WasSpread)})
	}
	for _, c := range f.Correlations {
		out.Correlations = append(out.Correlations, jsonCorrelation{c.A.Name, c.B.Name, c.R})
	}
	for _, group := range f.Alike {
		out.Alike = append(out.Alike, quantityNames(group))
	}
	for _, r := range f.LeftOut {
		out.LeftOut = append(out.LeftOut, jsonLeftOut{r.Quantity.Name, r.Why})
	}
	return out
}

// isNotebookPath reports whether a word names a folder or a sheet rather than a
// given.
func isNotebookPath(word string) bool {
	_, err := os.Stat(word)
	return err == nil || strings.ContainsAny(word, `/\.`)
}
