package main

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// together answers for several givens at once.
func (c *solveCommand) together(s *session, model *calc.Model, title string) error {
	solved, problems := model.SolveTogether(c.Givens, c.Until, c.Between)
	if len(problems) > 0 {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	view := jointView{solved, s.screen()}
	err := s.answer(&answer.Answer{
		Title:    title,
		Invented: model.Book.Invented(),
		Page:     func() []table.Table { return []table.Table{view.Sentences(2, view.lines()...)} },
		Rows:     view.rows,
		Object:   func() any { return newJSONTogether(solved) },
	})
	if err != nil || len(solved.Solutions) > 0 {
		return err
	}
	return s.tellUnsolved(solved.Failure, view.lines())
}

// jointView puts the values of several givens into words.
type jointView struct {
	*calc.Together
	page.Layout
}

// lines are what was found and what the notebook's limits make of it, or how
// near one comes.
func (v jointView) lines() []string {
	var asked []string
	for _, until := range v.Until {
		asked = append(asked, page.Printable(strings.TrimSpace(until)))
	}
	until := words.Listed(asked, len(asked))
	if len(v.Solutions) == 0 {
		return v.unsolvedTogether(until)
	}
	var lines []string
	failing := false
	if n := len(v.Solutions); n > 1 {
		lines = append(lines, fmt.Sprintf("%d pairs of values make %s:", n, until))
		if len(v.Givens) > 2 {
			lines[0] = fmt.Sprintf("%d sets of values make %s:", n, until)
		}
	}
	for i := range v.Solutions {
		one := &v.Solutions[i]
		var values []string
		for k := range v.Givens {
			g := &v.Givens[k]
			values = append(values, g.Quantity.Name+" = "+
				page.Beside(v.Numbers.WithSpread(g.Unit, one.Values[k], one.Spreads[k]), g.Unit))
		}
		text := words.Listed(values, len(values))
		if len(v.Solutions) == 1 {
			text += " make " + until
		}
		verdicts, fails := v.VerdictsAt(nil, "there", &one.At)
		lines = append(append(lines, text), verdicts...)
		failing = failing || fails
	}
	if failing {
		lines = append(lines, page.Cautions)
	}
	return lines
}

// unsolvedTogether says that there are no such values, where the sides come
// closest, and which range ends there.
func (v jointView) unsolvedTogether(until string) []string {
	var within, near, ends, sides []string
	for k := range v.Givens {
		g := &v.Givens[k]
		numberText := func(x float64) string { return v.Numbers.WithSpread(g.Unit, x, page.NoSpread) }
		within = append(within, fmt.Sprintf("%s between %s and %s", g.Quantity.Name,
			v.Numbers.TypedOn(g.Unit, g.From, page.NoSpread),
			page.Beside(v.Numbers.TypedOn(g.Unit, g.To, page.NoSpread), g.Unit)))
		if v.Closest == nil {
			continue
		}
		x := v.Closest[k]
		near = append(near, g.Quantity.Name+" = "+page.Beside(numberText(x), g.Unit))
		if edge := 1e-9 * (g.To - g.From); math.Abs(x-g.From) <= edge || math.Abs(x-g.To) <= edge {
			ends = append(ends, g.Quantity.Name)
		}
	}
	ranges := words.Listed(within, len(within))
	if v.Closest == nil {
		line := until + " cannot be computed for any values of " + ranges
		if len(v.Needs) > 0 {
			line += "; it needs " + words.Listed(page.Names(v.Needs), page.MostNames)
		}
		return []string{line}
	}
	for _, pair := range v.Sides {
		for _, side := range pair {
			if _, err := units.ParseValue(side.Text); err != nil { // a number is the same everywhere
				sides = append(sides, page.Printable(side.Text)+" is "+
					page.Beside(v.Numbers.WithSpread(side.Unit, side.Value, page.NoSpread), side.Unit))
			}
		}
	}
	lines := []string{fmt.Sprintf("No values of %s make %s; the closest found is %s, where %s", ranges, until,
		words.Listed(near, len(near)), words.Listed(sides, len(sides)))}
	if len(ends) > 0 {
		lines = append(lines, words.Listed(ends, len(ends))+map[bool]string{true: " is at the end of its range there",
			false: " are at the ends of their ranges there"}[len(ends) == 1]+"; --between looks further.")
	}
	return lines
}

// rows hold the solutions for CSV, a row for each given of each.
func (v jointView) rows() table.Table {
	t := table.Table{}
	for _, head := range []string{"solution", "name", "value", "unit", "spread", "verdict"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	for i, one := range v.Solutions {
		for k, g := range v.Givens {
			t.Rows = append(t.Rows, table.Row{Cells: []string{strconv.Itoa(i + 1), g.Quantity.Name,
				page.Exact(g.Unit, one.Values[k]), g.Unit.Symbol, page.Shortest(one.Spreads[k]), one.At.Verdict.String()}})
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

func newJSONTogether(solved *calc.Together) jsonTogether {
	out := jsonTogether{Until: solved.Until, Solutions: []jsonJoint{}}
	for k, g := range solved.Givens {
		out.Givens = append(out.Givens, jsonSought{g.Quantity.Name, g.Unit.Symbol, page.JSONNumber(g.Unit, g.Now),
			page.JSONNumber(g.Unit, g.From), page.JSONNumber(g.Unit, g.To)})
		if solved.Closest != nil {
			out.Closest = append(out.Closest, page.JSONNumber(g.Unit, solved.Closest[k]))
		}
	}
	for _, one := range solved.Solutions {
		j := jsonJoint{Verdict: one.At.Verdict.String()}
		for k, g := range solved.Givens {
			j.Values, j.Spreads = append(j.Values, page.JSONNumber(g.Unit, one.Values[k])),
				append(j.Spreads, page.Plain(one.Spreads[k]))
		}
		out.Solutions = append(out.Solutions, j)
	}
	return out
}
