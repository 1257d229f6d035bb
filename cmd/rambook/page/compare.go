package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rambook/calc"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// comparison lays the cases out side by side: the rank, what they are ranked
// by and how far from the best they are, and whatever else is shown.
func (s Layout) comparison(c *calc.Comparison) []table.Table {
	by := c.Shown[c.By]
	t := table.Table{Title: fmt.Sprintf("%s by %s, %s is better", c.Sheet.Name, by.Name,
		map[int]string{1: "more", -1: "less"}[c.Better[c.By]])}
	rows := c.Rows[:s.Cut(&t, len(c.Rows))]
	t.Rows = make([]table.Row, len(rows))
	addColumn := func(head string, align table.Align, text func(*calc.ComparedCase) string) {
		cells := make([]string, len(rows))
		for i := range rows {
			cells[i] = text(&rows[i])
		}
		s.AddColumn(&t, head, align, cells)
	}
	value := func(k int) {
		head := c.Shown[k].Name
		if len(rows) > 0 {
			head = HeaderBelow(head, rows[0].Shown[k].Unit)
		}
		addColumn(head, table.Decimal, func(r *calc.ComparedCase) string { return s.judgedWithSpread(&r.Shown[k]) })
	}
	lent := lentIn(c)
	lent.lines(s, true)
	addColumn(c.Sheet.Key.Text, table.Left,
		func(r *calc.ComparedCase) string { return lent.name(Printable(r.Name)) })
	addColumn("rank", table.Decimal, func(r *calc.ComparedCase) string { return rankText(r) })
	value(c.By)
	addColumn(strings.TrimSuffix("to best\n"+differenceUnit(c), "\n"), table.Decimal,
		func(r *calc.ComparedCase) string { return s.toBest(c, r) })
	addColumn("to best\n%", table.Decimal, func(r *calc.ComparedCase) string { return percentText(r) })
	for k := range c.Shown {
		if k != c.By {
			value(k)
		}
	}
	addColumn("unbeaten", table.Left,
		func(r *calc.ComparedCase) string { return map[bool]string{true: "yes"}[r.Unbeaten] })
	addColumn(VerdictHeader, table.Left, func(r *calc.ComparedCase) string { return r.Verdict.String() })
	tables := []table.Table{t}
	if lines := s.ComparisonLines(c); len(lines) > 0 {
		tables = append(tables, s.Sentences(2, lines...))
	}
	return tables
}

// ComparisonLines is which cases may be as good as the best, which ranked ones are
// unsure or lack what has a limit, and why others have no rank, for what makes it so
// need not be shown.
func (s Layout) ComparisonLines(c *calc.Comparison) []string {
	var near, unsure, unjudged, last []string
	fails := false
	for i := range c.Rows {
		r := &c.Rows[i]
		remark := fmt.Sprintf("%s (%s)", Printable(r.Name), words.Listed(s.concerns(r, c.Shown[c.By]), 2))
		switch {
		case r.Rank == 0:
			last = append(last, remark)
			fails = fails || r.Verdict == calc.Fail
		case r.Verdict == calc.Unsure:
			unsure = append(unsure, fmt.Sprintf("%s (%s)", Printable(r.Name), words.Listed(s.tooClose(&r.Case), 2)))
		}
		if r.Rank > 0 && len(r.NotTooMuch) > 0 {
			var names []string
			for _, q := range r.NotTooMuch {
				names = append(names, q.Name)
			}
			unjudged = append(unjudged, fmt.Sprintf("%s (%s)", Printable(r.Name), words.Listed(names, 2)))
		}
		if r.MayBeBest {
			near = append(near, Printable(r.Name))
		}
	}
	lines := lentIn(c).lines(s, true)
	if list := sideless(c); len(list) > 0 {
		lines = append(lines, "unbeaten leaves out "+words.Listed(list, MostNames)+
			": no limit says whether more or less is better")
	}
	if len(near) > 0 {
		lines = append(lines, "As good as the best within the spread of the difference: "+words.Listed(near, MostNames))
	}
	if len(unsure) > 0 {
		lines = append(lines, "Ranked, though not sure to pass: "+words.Listed(unsure, MostNames))
	}
	if len(unjudged) > 0 {
		lines = append(lines, "Ranked, and held to no limit of what is n/a: "+words.Listed(unjudged, MostNames))
	}
	if len(last) > 0 {
		lines = append(lines, "Without a rank: "+words.Listed(last, MostNames))
	}
	if fails {
		lines = append(lines, Cautions)
	}
	return lines
}

// sideless are the numbers shown of which neither more nor less is better, where others
// make a case unbeaten.
func sideless(c *calc.Comparison) (list []string) {
	if !slices.ContainsFunc(c.Rows, func(r calc.ComparedCase) bool { return r.Unbeaten }) {
		return nil
	}
	for k, better := range c.Better {
		if better == 0 && c.Rows[0].Shown[k].Unit.Kind != units.Text {
			list = append(list, c.Shown[k].Name)
		}
	}
	return list
}

// tooClose is which values of a case are closer to a limit than they are sure, and which
// nobody can say that of.
func (s Layout) tooClose(c *calc.Case) []string {
	var list []string
	for i := range c.Values {
		j := &c.Values[i]
		if j.Verdict != calc.Unsure || j.Unproven != nil || j.Crossed {
			continue
		}
		limit := s.nearerLimit(j)
		list = append(list, j.Quantity.Name+" "+Beside(s.JudgedInWords(j), j.Unit)+" is too close to "+
			cmp.Or(limit.name, "its "+limit.side())+" "+limit.text)
	}
	return append(append(list, unsureAcross(c.Values)...), unsureForUnproven(c.Values)...)
}

// lentIn is what the notebook has lent to the cases that are compared.
func lentIn(c *calc.Comparison) *lending {
	l := &lending{names: make([]string, len(c.Rows)), lent: make([][]*calc.Judged, len(c.Rows))}
	for i := range c.Rows {
		l.names[i], l.lent[i] = Printable(c.Rows[i].Name), borrowedIn(&c.Rows[i])
	}
	return l
}

func rankText(r *calc.ComparedCase) string {
	if r.Rank == 0 {
		return ""
	}
	return strconv.Itoa(r.Rank)
}

// concerns is which values keep a case from passing, worst first, and before them what
// is n/a and keeps it from a rank.
func (s Layout) concerns(c *calc.ComparedCase, by *calc.Quantity) []string {
	list := s.verdictRemark(&c.Case)
	none := len(list) == 0
	for i := range c.Values {
		switch j := &c.Values[i]; {
		case j.State == calc.Absent && slices.Contains(c.NotEnough, j.Quantity):
			list = slices.Insert(list, 0, j.Quantity.Name+" with a low limit n/a")
		case j.State == calc.Absent && j.Quantity == by, none && j.State == calc.ByCase:
			list = slices.Insert(list, 0, j.Quantity.Name+" "+j.State.String())
		}
	}
	return list
}

// differenceUnit is the unit of the differences to the best.
func differenceUnit(c *calc.Comparison) string {
	if len(c.Rows) == 0 {
		return ""
	}
	return stepUnit(c.Rows[0].Shown[c.By].Unit)
}

// toBest prints how far a case is from the best in what they are ranked by: to
// the digits of the spread of that, or to those of the values.
func (s Layout) toBest(c *calc.Comparison, r *calc.ComparedCase) string {
	spread := s.Numbers.Spread(r.Difference, r.Spread)
	if !calc.Has(r.Difference) || r.Difference == 0 && spread == "" {
		return ""
	}
	j, size := &r.Shown[c.By], math.Abs(r.Difference)
	text := s.Numbers.Computed(size, r.Spread)
	switch {
	case spread != "":
	case j.Unit.Kind == units.Date:
		text = s.Numbers.Trimmed(size)
	default:
		text = s.size(j, size)
	}
	return PlusMinus(map[int]string{1: "+", -1: "-"}[cmp.Compare(r.Difference, 0)]+text, spread)
}

func percentText(r *calc.ComparedCase) string {
	if !calc.Has(r.Percent) || r.Rank == 1 {
		return ""
	}
	return strconv.FormatFloat(r.Percent, 'f', 1, 64)
}

// RankingTable holds the comparison for CSV, with exact numbers. The spreads come last.
func RankingTable(c *calc.Comparison) table.Table {
	t := table.Table{Columns: []table.Column{{Header: "rank"}, {Header: c.Sheet.Key.Text}}}
	var spreads []table.Column
	for k, q := range c.Shown {
		unit := q.Unit
		if len(c.Rows) > 0 {
			unit = c.Rows[0].Shown[k].Unit
		}
		t.Columns = append(t.Columns, table.Column{Header: header(q.Name, unit)})
		spreads = append(spreads, table.Column{Header: header(q.Name+" spread", unit.Difference())})
	}
	for _, head := range []string{"difference", "difference_spread", "percent", "unbeaten", "verdict"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	t.Columns = append(t.Columns, spreads...)
	lent := slices.ContainsFunc(c.Rows, func(r calc.ComparedCase) bool { return len(borrowedIn(&r)) > 0 })
	if lent {
		t.Columns = append(t.Columns, table.Column{Header: "borrowed"})
	}
	for i := range c.Rows {
		r := &c.Rows[i]
		cells := []string{rankText(r), r.Name}
		var spreads []string
		for k := range r.Shown {
			x, spread, _ := r.Shown[k].Subject()
			cells = append(cells, Exact(r.Shown[k].Unit, x))
			spreads = append(spreads, Shortest(spread))
		}
		cells = append(cells, Shortest(r.Difference), Shortest(r.Spread), Shortest(r.Percent),
			strconv.FormatBool(r.Unbeaten), r.Verdict.String())
		if cells = append(cells, spreads...); lent {
			cells = append(cells, strings.Join(borrowedNames(borrowedIn(r)), " "))
		}
		t.Rows = append(t.Rows, table.Row{Cells: cells})
	}
	return t
}

type jsonCompared struct {
	Case       string               `json:"case"`
	Rank       int                  `json:"rank,omitempty"`
	Difference any                  `json:"difference,omitzero"`
	Spread     any                  `json:"difference_spread,omitzero"`
	Percent    any                  `json:"percent,omitzero"`
	Values     map[string]JSONValue `json:"values"`
	Unbeaten   bool                 `json:"unbeaten"`
	Verdict    string               `json:"verdict,omitempty"`
	Borrowed   []string             `json:"borrowed,omitempty"`
}

type jsonComparison struct {
	Sheet string         `json:"sheet"`
	By    string         `json:"by"`
	Rows  []jsonCompared `json:"rows"`
}

// ComparisonView puts a ranking into words and tables.
type ComparisonView struct {
	Comparison *calc.Comparison
	Layout     Layout
}

// Page is the ranking, in words and as a table.
func (v *ComparisonView) Page() []table.Table { return v.Layout.comparison(v.Comparison) }

// Rows is the ranking for other programs.
func (v *ComparisonView) Rows() table.Table { return RankingTable(v.Comparison) }

// Object is what `compare --format json` promises.
func (v *ComparisonView) Object() any { return newJSONComparison(v.Comparison) }

// newJSONComparison is a comparison as other programs read it.
func newJSONComparison(c *calc.Comparison) jsonComparison {
	out := jsonComparison{Sheet: c.Sheet.Name, By: c.Shown[c.By].Name, Rows: []jsonCompared{}}
	for i := range c.Rows {
		r := &c.Rows[i]
		out.Rows = append(out.Rows, jsonCompared{r.Name, r.Rank, Plain(r.Difference), Plain(r.Spread), Plain(r.Percent),
			newJSONValues(r.Shown), r.Unbeaten, r.Verdict.String(), borrowedNames(borrowedIn(r))})
	}
	return out
}
