package page

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"rambook/calc"
	"rambook/sheets/table"
	"rambook/units/words"
)

// TogetherView puts the values of several givens into words.
type TogetherView struct {
	Together *calc.Together
	Layout   Layout
}

// Page is what was found, in sentences.
func (v *TogetherView) Page() []table.Table {
	return []table.Table{v.Layout.Sentences(2, v.Lines()...)}
}

// Lines are what was found and what the notebook's limits make of it, or how
// near one comes.
func (v *TogetherView) Lines() []string {
	var asked []string
	for _, until := range v.Together.Until {
		asked = append(asked, Printable(strings.TrimSpace(until)))
	}
	until := words.Listed(asked, len(asked))
	if len(v.Together.Solutions) == 0 {
		return v.unsolvedTogether(until)
	}
	var lines []string
	failing := false
	if n := len(v.Together.Solutions); n > 1 {
		lines = append(lines, fmt.Sprintf("%d pairs of values make %s:", n, until))
		if len(v.Together.Givens) > 2 {
			lines[0] = fmt.Sprintf("%d sets of values make %s:", n, until)
		}
	}
	for i := range v.Together.Solutions {
		one := &v.Together.Solutions[i]
		var values []string
		for k := range v.Together.Givens {
			g := &v.Together.Givens[k]
			values = append(values, g.Quantity.Name+" = "+
				Beside(v.Layout.Numbers.WithSpread(g.Unit, one.Values[k], one.Spreads[k]), g.Unit))
		}
		text := words.Listed(values, len(values))
		if len(v.Together.Solutions) == 1 {
			text += " make " + until
		}
		verdicts, fails := v.Layout.VerdictsAt(nil, "there", &one.At)
		lines = append(append(lines, text), verdicts...)
		failing = failing || fails
	}
	if failing {
		lines = append(lines, Cautions)
	}
	return lines
}

// unsolvedTogether is for want of such values: where the sides come
// closest, and which range ends there.
func (v *TogetherView) unsolvedTogether(until string) []string {
	var within, near, ends, sides []string
	for k := range v.Together.Givens {
		g := &v.Together.Givens[k]
		numberText := func(x float64) string { return v.Layout.Numbers.WithSpread(g.Unit, x, NoSpread) }
		within = append(within, fmt.Sprintf("%s between %s and %s", g.Quantity.Name,
			v.Layout.Numbers.TypedOn(g.Unit, g.From, NoSpread),
			Beside(v.Layout.Numbers.TypedOn(g.Unit, g.To, NoSpread), g.Unit)))
		if v.Together.Closest == nil {
			continue
		}
		x := v.Together.Closest[k]
		near = append(near, g.Quantity.Name+" = "+Beside(numberText(x), g.Unit))
		if edge := 1e-9 * (g.To - g.From); math.Abs(x-g.From) <= edge || math.Abs(x-g.To) <= edge {
			ends = append(ends, g.Quantity.Name)
		}
	}
	ranges := words.Listed(within, len(within))
	if v.Together.Closest == nil {
		return []string{uncomputed(until, "values of "+ranges, v.Together.Needs)}
	}
	for _, pair := range v.Together.Sides {
		sides = append(sides, v.Layout.sides(pair)...)
	}
	lines := []string{fmt.Sprintf("No values of %s make %s; the closest found is %s, where %s", ranges, until,
		words.Listed(near, len(near)), words.Listed(sides, len(sides)))}
	if len(ends) > 0 {
		lines = append(lines, words.Listed(ends, len(ends))+map[bool]string{true: " is at the end of its range there",
			false: " are at the ends of their ranges there"}[len(ends) == 1]+"; --between looks further.")
	}
	return lines
}

// Rows holds the solutions for CSV, a row for each given of each.
func (v *TogetherView) Rows() table.Table {
	t := table.Table{}
	for _, head := range []string{"solution", "name", "value", "unit", "spread", "verdict"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	for i, one := range v.Together.Solutions {
		for k, g := range v.Together.Givens {
			t.Rows = append(t.Rows, table.Row{Cells: []string{strconv.Itoa(i + 1), g.Quantity.Name,
				Exact(g.Unit, one.Values[k]), g.Unit.Symbol, Shortest(one.Spreads[k]), one.At.Verdict.String()}})
		}
	}
	return t
}

type jsonTogether struct {
	Givens    []jsonSought `json:"givens"`
	Until     []string     `json:"until"`
	Solutions []jsonJoint  `json:"solutions"`
	Closest   []any        `json:"closest,omitempty"` // without a solution, by given
}

type jsonSought struct {
	Name string `json:"name"`
	Unit string `json:"unit"`
	Now  any    `json:"now,omitzero"`
	From any    `json:"from"`
	To   any    `json:"to"`
}

// jsonJoint holds a value for each given, in their order.
type jsonJoint struct {
	Values  []any  `json:"values"`
	Spreads []any  `json:"spreads"` // null where there is none
	Verdict string `json:"verdict,omitempty"`
}

// Object is what `--format json` promises.
func (v *TogetherView) Object() any { return newJSONTogether(v.Together) }

// newJSONTogether is what was solved as other programs read it.
func newJSONTogether(solved *calc.Together) jsonTogether {
	out := jsonTogether{Until: solved.Until, Solutions: []jsonJoint{}}
	for k, g := range solved.Givens {
		out.Givens = append(out.Givens, jsonSought{g.Quantity.Name, g.Unit.Symbol, JSONNumber(g.Unit, g.Now),
			JSONNumber(g.Unit, g.From), JSONNumber(g.Unit, g.To)})
		if solved.Closest != nil {
			out.Closest = append(out.Closest, JSONNumber(g.Unit, solved.Closest[k]))
		}
	}
	for _, one := range solved.Solutions {
		j := jsonJoint{Verdict: one.At.Verdict.String()}
		for k, g := range solved.Givens {
			j.Values, j.Spreads = append(j.Values, JSONNumber(g.Unit, one.Values[k])),
				append(j.Spreads, Plain(one.Spreads[k]))
		}
		out.Solutions = append(out.Solutions, j)
	}
	return out
}
