package page

import (
	"fmt"
	"math"
	"strings"

	"rambook/calc"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// BestView puts the best choice into words and tables.
type BestView struct {
	Optimum *calc.Optimum
	Layout  Layout
}

// bestDigits are those of a number that was chosen: what is built from it is
// made to them.
const bestDigits = 5

func (v *BestView) number(u units.Unit, x float64) string {
	style := v.Layout.Numbers
	if style.Digits == 0 {
		style.Digits = bestDigits
	}
	return Beside(style.computedOn(u, x, NoSpread), u)
}

// Lines are what was chosen, what keeps it from being better, and what the
// notebook's limits make of it.
func (v *BestView) Lines() []string {
	goal := map[bool]string{true: "most", false: "least"}[v.Optimum.Most] + " " + v.Optimum.Goal.Name
	if !calc.Has(v.Optimum.Value) {
		return v.noRoom(goal)
	}
	j := &v.Optimum.At.Values[0]
	now := ""
	if calc.Has(v.Optimum.Now) {
		now = "; now it is " + Beside(v.Layout.Numbers.computedOn(v.Optimum.Goal.Unit, v.Optimum.Now, NoSpread),
			v.Optimum.Goal.Unit)
	}
	verb := " gives the "
	if len(v.Optimum.Choices) > 1 {
		verb = " give the "
	}
	lines := []string{fmt.Sprintf("%s%s%s: %s%s.", words.Listed(v.chosen(), len(v.Optimum.Choices)), verb, goal,
		Beside(v.Layout.judgedWithSpread(j), j.Unit), now)}
	for i := range v.Optimum.Binding {
		lines = append(lines, v.binding(&v.Optimum.Binding[i]))
	}
	switch {
	case len(v.Optimum.Binding) == 0 && v.Optimum.Priced:
		lines = append(lines, "No limit stands in the way: every choice nearby is worse.")
	case !v.Optimum.Priced:
		lines = append(lines, "The formulas have a corner there, so what a limit is worth is not known.")
	}
	if v.Optimum.Starts > 1 {
		lines = append(lines, fmt.Sprintf("%d of %d searches ended here.", v.Optimum.Ended, v.Optimum.Starts))
	}
	for _, o := range v.Optimum.Others[:min(len(v.Optimum.Others), 3)] {
		var parts []string
		for i := range v.Optimum.Choices {
			if calc.Has(o.Values[i]) {
				parts = append(parts, v.Optimum.Choices[i].Quantity.Name+" = "+v.number(v.Optimum.Choices[i].Unit,
					o.Values[i]))
			}
		}
		choice, value := words.Listed(parts, len(parts)), v.number(v.Optimum.Goal.Unit, o.Value)
		if value == v.number(v.Optimum.Goal.Unit, v.Optimum.Value) {
			lines = append(lines, "Just as good: "+choice+".")
			continue
		}
		lines = append(lines, fmt.Sprintf("Next best: %s at %s, where every choice nearby is worse too.",
			value, choice))
	}
	verdicts, fails := v.Layout.VerdictsAt(nil, "there", &v.Optimum.At)
	lines = append(lines, verdicts...)
	if n := len(v.Optimum.Unjudged); n > 0 {
		lines = append(lines, "Left out because open: limits of "+words.Listed(QuantityNames(v.Optimum.Unjudged),
			MostNames)+".")
	}
	if fails || v.bindsRating() {
		lines = append(lines, Cautions)
	}
	return lines
}

// bindsRating reports whether the choice goes to the high limit of a row.
func (v *BestView) bindsRating() bool {
	for i := range v.Optimum.Binding {
		if b := &v.Optimum.Binding[i]; !b.Low && !b.Range {
			return true
		}
	}
	return false
}

func (v *BestView) chosen() []string {
	var list []string
	for i := range v.Optimum.Choices {
		list = append(list, v.Optimum.Choices[i].Quantity.Name+" = "+v.choice(&v.Optimum.Choices[i]))
	}
	return list
}

func (v *BestView) choice(c *calc.Choice) string {
	if c.Quantity.IsText() {
		return Printable(c.Text)
	}
	if c.N > 0 {
		return Beside(v.Layout.Numbers.TypedOn(c.Unit, c.Value, NoSpread), c.Unit)
	}
	return v.number(c.Unit, c.Value)
}

// side names the limit.
func (v *BestView) side(b *calc.Binding) string {
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
func (v *BestView) binding(b *calc.Binding) string {
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
	if v.Optimum.Most {
		gain = "more"
	}
	style := v.Layout.Numbers
	if style.Digits == 0 {
		style.Digits = 3
	}
	step := Beside("1", units.Unit{Symbol: stepUnit(b.Unit)})
	if b.Unit.Symbol == "%" {
		step = "point"
	}
	return fmt.Sprintf("%s: each %s %s there is worth %s %s %s.", text, step, more,
		Beside(style.Computed(math.Abs(b.Price), NoSpread), units.Unit{Symbol: stepUnit(v.Optimum.Goal.Unit)}), gain,
		v.Optimum.Goal.Name)
}

// noRoom is why there is no choice.
func (v *BestView) noRoom(goal string) []string {
	if len(v.Optimum.Broken) == 0 {
		return []string{"The " + goal + " cannot be found: it cannot be computed for any choice."}
	}
	lines := []string{fmt.Sprintf("No choice keeps all limits, so there is no %s. Nearest to it is %s, where", goal,
		words.Listed(v.chosen(), len(v.Optimum.Choices)))}
	for i := range v.Optimum.Broken {
		b := &v.Optimum.Broken[i]
		side := map[bool]string{true: "short of", false: "over"}[b.Low]
		lines = append(lines, fmt.Sprintf("- %s is %s %s its %s", b.Quantity.Name,
			v.number(units.Unit{Symbol: stepUnit(b.Unit)}, b.Price), side, v.side(b)))
	}
	return append(lines, Cautions)
}

// Table shows the choices beside what the notebook has.
func (v *BestView) Table() table.Table {
	t := table.Table{Columns: []table.Column{{Header: "given"}, {Header: "best", Align: table.Decimal},
		{Header: "now", Align: table.Decimal},
		{Header: "unit"}, {Header: "chosen from"}}}
	if !calc.Has(v.Optimum.Value) {
		return table.Table{}
	}
	for i := range v.Optimum.Choices {
		c := &v.Optimum.Choices[i]
		from := words.Counted(c.N, "size")
		if c.N == 0 {
			from = v.Layout.Numbers.TypedOn(c.Unit, c.From, NoSpread) + " to " +
				v.Layout.Numbers.TypedOn(c.Unit, c.To, NoSpread)
		}
		best, _, _ := strings.Cut(v.choice(c), " "+c.Unit.Symbol)
		t.Rows = append(t.Rows, table.Row{Cells: []string{c.Quantity.Name, best,
			v.Layout.Numbers.TypedOn(c.Unit, c.Now, NoSpread), ShownUnit(c.Unit), from}})
	}
	return t
}

// Page answers first, then shows the choices.
func (v *BestView) Page() []table.Table {
	return WithoutEmpty([]table.Table{v.Layout.Sentences(2, v.Lines()...), v.Table()})
}

// Rows holds the answer for CSV: the choices, the goal, and what binds.
func (v *BestView) Rows() table.Table {
	t := table.Table{}
	for _, head := range []string{"kind", "name", "value", "unit", "price", "verdict"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	add := func(cells ...string) { t.Rows = append(t.Rows, table.Row{Cells: cells}) }
	if calc.Has(v.Optimum.Value) {
		j := &v.Optimum.At.Values[0]
		add("goal", v.Optimum.Goal.Name, Exact(v.Optimum.Goal.Unit, v.Optimum.Value), v.Optimum.Goal.Unit.Symbol, "",
			j.Verdict.String())
	}
	for i := range v.Optimum.Choices {
		c := &v.Optimum.Choices[i]
		value := Exact(c.Unit, c.Value)
		if c.Quantity.IsText() {
			value = c.Text
		}
		add("given", c.Quantity.Name, value, c.Unit.Symbol, "", "")
	}
	for _, b := range v.Optimum.Binding {
		add("binding "+sideWord(&b), b.Quantity.Name, Exact(b.Unit, b.Limit), b.Unit.Symbol, Shortest(b.Price), "")
	}
	for _, b := range v.Optimum.Broken {
		add("broken "+sideWord(&b), b.Quantity.Name, Exact(b.Unit, b.Limit), b.Unit.Symbol, "", "")
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
	Values  map[string]JSONValue `json:"values,omitempty"`
	Verdict string               `json:"verdict,omitempty"`
	Starts  int                  `json:"searches"`
	Ended   int                  `json:"ended_here"`
}

// Object is what `--format json` promises.
func (v *BestView) Object() any { return newJSONBest(v.Optimum) }

// newJSONBest is a best choice as other programs read it.
func newJSONBest(o *calc.Optimum) jsonBest {
	out := jsonBest{Goal: o.Goal.Name, Most: o.Most, Value: JSONNumber(o.Goal.Unit, o.Value), Unit: o.Goal.Unit.Symbol,
		Now:     JSONNumber(o.Goal.Unit, o.Now),
		Binding: []jsonBinding{}, Values: newJSONValues(o.At.Values), Verdict: o.At.Verdict.String(), Starts: o.Starts,
		Ended: o.Ended}
	for i := range o.Choices {
		c := &o.Choices[i]
		value := JSONNumber(c.Unit, c.Value)
		if c.Quantity.IsText() {
			value = c.Text
		}
		out.Givens = append(out.Givens, jsonChoice{c.Quantity.Name, value, c.Unit.Symbol, JSONNumber(c.Unit, c.Now)})
	}
	for _, b := range o.Binding {
		out.Binding = append(out.Binding, jsonBinding{Name: b.Quantity.Name, Side: sideWord(&b),
			Limit: JSONNumber(b.Unit, b.Limit), Unit: b.Unit.Symbol, Price: Plain(b.Price)})
	}
	for _, b := range o.Broken {
		out.Broken = append(out.Broken, jsonBinding{Name: b.Quantity.Name, Side: sideWord(&b),
			Limit: JSONNumber(b.Unit, b.Limit), Unit: b.Unit.Symbol, By: Plain(b.Price)})
	}
	return out
}
