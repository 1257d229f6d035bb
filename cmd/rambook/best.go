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

type bestCommand struct {
	Givens []string `arg:"" complete:"quantity" name:"given" help:"The givens to choose, and the notebook's folder last. Up to three of them from a range."`
	lookFlags
	Most   string   `xor:"goal" required:"" complete:"quantity" placeholder:"NAME" help:"What there shall be most of."`
	Least  string   `xor:"goal" required:"" complete:"quantity" placeholder:"NAME" help:"What there shall be least of."`
	Within []string `sep:"none" placeholder:"\"NAME = RANGE\"" help:"Where to choose a given: A to B UNIT, a list A, B, C UNIT, or SHEET.COLUMN. Default: its low to high. Of a formula A to B UNIT: what it is to keep to beside its limits. Repeatable."`
	Sure   bool     `help:"Keep the limits by the whole spread as well, so that what is chosen passes."`
	outputFlags
}

func (bestCommand) Help() string {
	return "The limits of the notebook that depend on the choice are kept, by the values, with --sure by their spreads as well. What binds is said, and what it is worth: by how much " +
		"the goal would be better if that limit gave way by one unit. Exit status 1: no choice keeps all limits. Example:\n\n" +
		"  rambook best setting --most force mypress\n" +
		"  rambook best bore rod_diameter --least return_time --within \"bore = 160, 170, 180 mm\" --within \"rod_diameter = 120 to 170 mm\" mypress"
}

// Run finds the best choice.
func (c *bestCommand) Run(s *session) error {
	flags := notebookFlags{lookFlags: c.lookFlags}
	names := c.Givens
	if n := len(names); n > 1 && isNotebookPath(names[n-1]) {
		flags.Path, names = names[n-1], names[:n-1]
	}
	model, err := flags.load()
	if err != nil {
		return err
	}
	best, problems := model.Best(names, calc.BestOptions{Goal: c.Most + c.Least, Most: c.Most != "", Sure: c.Sure,
		Within: c.Within})
	if best == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	view := bestView{best, s.screen()}
	err = s.answer(&answer.Answer{
		Title:  flags.title(model),
		Page:   func() []table.Table { return filled([]table.Table{view.sentences(2, view.lines()...), view.table()}) },
		Rows:   view.rows,
		Object: func() any { return newJSONBest(best) },
	})
	if err != nil || calc.Has(best.Value) {
		return err
	}
	if best.Failure != nil {
		printProblems(s.stderr, "", []sheets.Problem{*best.Failure})
	}
	return errFails
}

// bestView puts the best choice into words and tables.
type bestView struct {
	*calc.Optimum
	screen
}

// bestDigits are those of a number that was chosen: what is built from it is
// made to them.
const bestDigits = 5

func (v bestView) number(u units.Unit, x float64) string {
	style := v.numbers
	if style.digits == 0 {
		style.digits = bestDigits
	}
	return beside(style.computedOn(u, x, noSpread), u)
}

// lines are what was chosen, what keeps it from being better, and what the
// notebook's limits make of it.
func (v bestView) lines() []string {
	goal := map[bool]string{true: "most", false: "least"}[v.Most] + " " + v.Goal.Name
	if !calc.Has(v.Value) {
		return v.noRoom(goal)
	}
	j := &v.At.Values[0]
	now := ""
	if calc.Has(v.Now) {
		now = "; now it is " + beside(v.numbers.computedOn(v.Goal.Unit, v.Now, noSpread), v.Goal.Unit)
	}
	verb := " gives the "
	if len(v.Choices) > 1 {
		verb = " give the "
	}
	lines := []string{fmt.Sprintf("%s%s%s: %s%s.", listed(v.chosen(), len(v.Choices)), verb, goal,
		beside(v.judgedWithSpread(j), j.Unit), now)}
	for i := range v.Binding {
		lines = append(lines, v.binding(&v.Binding[i]))
	}
	switch {
	case len(v.Binding) == 0 && v.Priced:
		lines = append(lines, "No limit binds: any other choice nearby is worse by itself.")
	case !v.Priced:
		lines = append(lines, "It lies in a corner of the formulas, so what a limit is worth there is not known.")
	}
	if v.Starts > 1 {
		lines = append(lines, fmt.Sprintf("%d of %d searches ended here.", v.Ended, v.Starts))
	}
	for _, o := range v.Others[:min(len(v.Others), 3)] {
		var parts []string
		for i := range v.Choices {
			if calc.Has(o.Values[i]) {
				parts = append(parts, v.Choices[i].Quantity.Name+" = "+v.number(v.Choices[i].Unit, o.Values[i]))
			}
		}
		place, value := listed(parts, len(parts)), v.number(v.Goal.Unit, o.Value)
		if value == v.number(v.Goal.Unit, v.Value) {
			lines = append(lines, "As good is "+place+".")
			continue
		}
		lines = append(lines, fmt.Sprintf("In another place, %s, no change nearby is better either: %s.", place, value))
	}
	verdicts, fails := v.verdictsAt(nil, "there", &v.At)
	lines = append(lines, verdicts...)
	if n := len(v.Unjudged); n > 0 {
		lines = append(lines, "Left out, being open: limits of "+listed(quantityNames(v.Unjudged), mostNames)+".")
	}
	if fails || v.bindsRating() {
		lines = append(lines, cautions)
	}
	return lines
}

// bindsRating reports whether the choice goes to the high limit of a row.
func (v bestView) bindsRating() bool {
	for i := range v.Binding {
		if b := &v.Binding[i]; !b.Low && !b.Range {
			return true
		}
	}
	return false
}

func (v bestView) chosen() []string {
	var list []string
	for i := range v.Choices {
		list = append(list, v.Choices[i].Quantity.Name+" = "+v.choice(&v.Choices[i]))
	}
	return list
}

func (v bestView) choice(c *calc.Choice) string {
	if c.Quantity.IsText() {
		return printable(c.Text)
	}
	if c.N > 0 {
		return beside(v.numbers.typedOn(c.Unit, c.Value, noSpread), c.Unit)
	}
	return v.number(c.Unit, c.Value)
}

// side names the limit.
func (v bestView) side(b *calc.Binding) string {
	text := v.number(b.Unit, b.Limit)
	switch {
	case b.Range && b.Low:
		return "from " + text + ", as asked"
	case b.Range:
		return "to " + text + ", as asked"
	case b.Low:
		return "low limit " + text
	}
	return "high limit " + text
}

// binding is which limit binds, and what it is worth.
func (v bestView) binding(b *calc.Binding) string {
	text := fmt.Sprintf("%s binds at its %s", b.Quantity.Name, v.side(b))
	if b.Range {
		text = fmt.Sprintf("%s is at the end of its range (%s)", b.Quantity.Name, v.side(b))
	}
	if !calc.Has(b.Price) {
		return text + "."
	}
	more := "more"
	if b.Low {
		more = "less"
	}
	gain := "less"
	if v.Most {
		gain = "more"
	}
	style := v.numbers
	if style.digits == 0 {
		style.digits = 3
	}
	step := beside("1", units.Unit{Symbol: stepUnit(b.Unit)})
	return fmt.Sprintf("%s: each %s %s there is worth %s %s %s.", text, step, more,
		beside(style.computed(math.Abs(b.Price), noSpread), units.Unit{Symbol: stepUnit(v.Goal.Unit)}), gain,
		v.Goal.Name)
}

// noRoom is why there is no choice.
func (v bestView) noRoom(goal string) []string {
	if len(v.Broken) == 0 {
		return []string{"The " + goal + " cannot be found: it cannot be computed for any choice."}
	}
	lines := []string{fmt.Sprintf("No choice keeps all limits, so there is no %s. Nearest to it is %s, where", goal,
		listed(v.chosen(), len(v.Choices)))}
	for i := range v.Broken {
		b := &v.Broken[i]
		side := map[bool]string{true: "short of", false: "over"}[b.Low]
		lines = append(lines, fmt.Sprintf("- %s is %s %s its %s", b.Quantity.Name,
			v.number(units.Unit{Symbol: stepUnit(b.Unit)}, b.Price), side, v.side(b)))
	}
	return append(lines, cautions)
}

// table shows the choices beside what the notebook has.
func (v bestView) table() table.Table {
	t := table.Table{Columns: []table.Column{{Header: "given"}, {Header: "best", Align: table.Decimal},
		{Header: "now", Align: table.Decimal},
		{Header: "unit"}, {Header: "chosen from"}}}
	if !calc.Has(v.Value) {
		return table.Table{}
	}
	for i := range v.Choices {
		c := &v.Choices[i]
		from := counted(c.N, "size")
		if c.N == 0 {
			from = v.numbers.typedOn(c.Unit, c.From, noSpread) + " to " + v.numbers.typedOn(c.Unit, c.To, noSpread)
		}
		best, _, _ := strings.Cut(v.choice(c), " "+c.Unit.Symbol)
		t.Rows = append(t.Rows, table.Row{Cells: []string{c.Quantity.Name, best,
			v.numbers.typedOn(c.Unit, c.Now, noSpread), shownUnit(c.Unit), from}})
	}
	return t
}

// rows holds the answer for CSV: the choices, the goal, and what binds.
func (v bestView) rows() table.Table {
	t := table.Table{}
	for _, head := range []string{"kind", "name", "value", "unit", "price", "verdict"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	add := func(cells ...string) { t.Rows = append(t.Rows, table.Row{Cells: cells}) }
	if calc.Has(v.Value) {
		j := &v.At.Values[0]
		add("goal", v.Goal.Name, exact(v.Goal.Unit, v.Value), v.Goal.Unit.Symbol, "", j.Verdict.String())
	}
	for i := range v.Choices {
		c := &v.Choices[i]
		value := exact(c.Unit, c.Value)
		if c.Quantity.IsText() {
			value = c.Text
		}
		add("given", c.Quantity.Name, value, c.Unit.Symbol, "", "")
	}
	for _, b := range v.Binding {
		add("binding "+sideWord(&b), b.Quantity.Name, exact(b.Unit, b.Limit), b.Unit.Symbol, shortest(b.Price), "")
	}
	for _, b := range v.Broken {
		add("broken "+sideWord(&b), b.Quantity.Name, exact(b.Unit, b.Limit), b.Unit.Symbol, "", "")
	}
	return t
}

func sideWord(b *calc.Binding) string { return map[bool]string{true: "low", false: "high"}[b.Low] }

type jsonChoice struct {
	Name  string `json:"name"`
	Value any    `json:"value,omitzero"`
	Unit  string `json:"unit"`
	Now   any    `json:"now,omitzero"`
}

type jsonBinding struct {
	Name  string `json:"name"`
	Side  string `json:"side"`
	Limit any    `json:"limit,omitzero"`
	Unit  string `json:"unit"`
	Price any    `json:"price,omitzero"`
	By    any    `json:"by,omitzero"`
}

type jsonBest struct {
	Goal    string               `json:"goal"`
	Most    bool                 `json:"most"`
	Value   any                  `json:"value,omitzero"`
	Unit    string               `json:"unit"`
	Now     any                  `json:"now,omitzero"`
	Givens  []jsonChoice         `json:"givens"`
	Binding []jsonBinding        `json:"binding"`
	Broken  []jsonBinding        `json:"broken,omitempty"`
	Values  map[string]jsonValue `json:"values,omitempty"`
	Verdict string               `json:"verdict,omitempty"`
	Starts  int                  `json:"searches"`
	Ended   int                  `json:"ended_here"`
}

func newJSONBest(o *calc.Optimum) jsonBest {
	out := jsonBest{Goal: o.Goal.Name, Most: o.Most, Value: jsonNumber(o.Goal.Unit, o.Value), Unit: o.Goal.Unit.Symbol,
		Now:     jsonNumber(o.Goal.Unit, o.Now),
		Binding: []jsonBinding{}, Values: newJSONValues(o.At.Values), Verdict: o.At.Verdict.String(), Starts: o.Starts,
		Ended: o.Ended}
	for i := range o.Choices {
		c := &o.Choices[i]
		value := jsonNumber(c.Unit, c.Value)
		if c.Quantity.IsText() {
			value = c.Text
		}
		out.Givens = append(out.Givens, jsonChoice{c.Quantity.Name, value, c.Unit.Symbol, jsonNumber(c.Unit, c.Now)})
	}
	for _, b := range o.Binding {
		out.Binding = append(out.Binding, jsonBinding{Name: b.Quantity.Name, Side: sideWord(&b),
			Limit: jsonNumber(b.Unit, b.Limit), Unit: b.Unit.Symbol, Price: plain(b.Price)})
	}
	for _, b := range o.Broken {
		out.Broken = append(out.Broken, jsonBinding{Name: b.Quantity.Name, Side: sideWord(&b),
			Limit: jsonNumber(b.Unit, b.Limit), Unit: b.Unit.Symbol, By: plain(b.Price)})
	}
	return out
}
