package page

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rambook/calc"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units/words"
)

// CrossingView puts a crossing into tables.
type CrossingView struct {
	Crossing *calc.Crossing
	Layout   Layout
}

func (v *CrossingView) first(a int) string { return Printable(v.Crossing.First.Cases[a].Name.Text) }

func (v *CrossingView) second(b int) string { return Printable(v.Crossing.Second.Cases[b].Name.Text) }

// Page is what is best in each case of the second sheet, then all of the first over
// all of them.
func (v *CrossingView) Page() []table.Table {
	by := v.Crossing.Shown[v.Crossing.By]
	better := map[int]string{1: "more", -1: "less"}[v.Crossing.Better[v.Crossing.By]]
	left := v.Crossing.Left
	best := table.Table{Title: fmt.Sprintf("best of %s in each of %s by %s, %s is better",
		Printable(v.Crossing.First.Name),
		Printable(v.Crossing.Second.Name), by.Name, better), Rows: make([]table.Row, len(left))}
	over := table.Table{Title: Printable(v.Crossing.First.Name) + " over " + v.over(),
		Rows: make([]table.Row, len(v.Crossing.Overall))}
	if len(v.Crossing.Comparison.Rows) == 0 {
		return []table.Table{v.Layout.Sentences(2, "No case is left.")}
	}
	lent, lentIn := v.lent()
	lending := append(lent.lines(v.Layout, true), lentIn.lines(v.Layout, true)...)
	same := v.same()
	unit := v.Crossing.Comparison.Rows[0].Shown[v.Crossing.By].Unit
	perCase := func(head string, align table.Align, text func(b int) string) {
		cells := make([]string, len(left))
		for i, b := range left {
			cells[i] = text(b)
		}
		v.Layout.AddColumn(&best, head, align, cells)
	}
	perCase(v.Crossing.Second.Key.Text, table.Left, func(b int) string { return lentIn.name(v.second(b)) })
	perCase("best", table.Left, func(b int) string {
		if v.Crossing.Best[b] < 0 {
			return "none passes"
		}
		r := v.Crossing.Cells[v.Crossing.Best[b]][b]
		return lent.name(v.first(v.Crossing.Best[b])) + strings.TrimRight(verdictMarks[r.Verdict], " ")
	})
	perCase(HeaderBelow(by.Name, unit), table.Decimal, func(b int) string {
		if v.Crossing.Best[b] < 0 {
			return ""
		}
		return v.Layout.judgedWithSpread(&v.Crossing.Cells[v.Crossing.Best[b]][b].Shown[v.Crossing.By])
	})
	if v.Crossing.WeightName != "" {
		perCase(v.Crossing.WeightName, table.Decimal, func(b int) string {
			return v.Layout.Numbers.Trimmed(v.Crossing.Weights[b] / slices.Max(v.Crossing.Weights) * 100)
		})
		best.Columns[len(best.Columns)-1].Header = v.Crossing.WeightName + "\n% of the largest"
	}

	overall := func(head string, align table.Align, text func(t *calc.CrossTotal) string) {
		cells := make([]string, len(v.Crossing.Overall))
		for i := range cells {
			cells[i] = text(&v.Crossing.Overall[i])
		}
		v.Layout.AddColumn(&over, head, align, cells)
	}
	overall(v.Crossing.First.Key.Text, table.Left,
		func(t *calc.CrossTotal) string { return lent.name(v.first(t.Case)) })
	overall("rank", table.Decimal, func(t *calc.CrossTotal) string {
		if t.Rank == 0 {
			return ""
		}
		return strconv.Itoa(t.Rank)
	})
	head := "mean " + by.Name
	if same {
		head = by.Name
	}
	overall(HeaderBelow(head, unit), table.Decimal, func(t *calc.CrossTotal) string {
		if same {
			return v.common(t.Case)
		}
		if !calc.Has(t.Value) {
			return ""
		}
		return PlusMinus(v.Layout.Numbers.Computed(t.Value, t.Spread), v.Layout.Numbers.Spread(t.Value, t.Spread))
	})
	marks := map[calc.Verdict]bool{}
	if same && v.judgedAlike() {
		left = nil // what stands in one column is what would stand in each
	}
	for _, b := range left {
		overall(lentIn.name(v.second(b)), table.Decimal, func(t *calc.CrossTotal) string {
			r := v.Crossing.Cells[t.Case][b]
			if r == nil {
				return ""
			}
			if same {
				return r.Verdict.String()
			}
			marks[r.Verdict] = true
			return v.Layout.gridCell(&r.Shown[v.Crossing.By], r.Verdict)
		})
	}
	over.Note = markNote(marks)
	tables := []table.Table{best, over}
	if lines := append(lending, v.lines()...); len(lines) > 0 {
		tables = append(tables, v.Layout.Sentences(2, lines...))
	}
	return tables
}

// same reports whether what is compared by is the same in all cases of the second
// sheet, as a price is: it is shown once, and no mean is made of it.
func (v *CrossingView) same() bool {
	return len(v.Crossing.Left) > 1 && v.Crossing.Same(v.Crossing.By)
}

// over are the cases of the second sheet that the totals are over.
func (v *CrossingView) over() string {
	left := v.Crossing.Left
	if len(left) == len(v.Crossing.Second.Cases) {
		return "all of " + Printable(v.Crossing.Second.Name)
	}
	names := make([]string, len(left))
	for i, b := range left {
		names[i] = v.second(b)
	}
	return words.Listed(names, MostNames)
}

// common is what a case of the first sheet has in all of the second, where that is the
// same in all.
func (v *CrossingView) common(a int) string {
	row := v.Crossing.Cells[a]
	at := slices.IndexFunc(row, func(r *calc.ComparedCase) bool { return r != nil })
	if at < 0 {
		return ""
	}
	return v.Layout.judgedWithSpread(&row[at].Shown[v.Crossing.By])
}

// judgedAlike reports whether each case of the first sheet has one verdict everywhere.
func (v *CrossingView) judgedAlike() bool {
	for _, row := range v.Crossing.Cells {
		if slices.ContainsFunc(row, func(r *calc.ComparedCase) bool {
			return r == nil || row[0] == nil || r.Verdict != row[0].Verdict
		}) {
			return false
		}
	}
	return true
}

// lent is what the notebook has lent to the cases of each of the two sheets.
func (v *CrossingView) lent() (first, second *lending) {
	c := v.Crossing
	first, second = &lending{lent: make([][]*calc.Judged, len(c.First.Cases))},
		&lending{lent: make([][]*calc.Judged, len(c.Second.Cases))}
	for a := range c.First.Cases {
		first.names = append(first.names, v.first(a))
	}
	for b := range c.Second.Cases {
		second.names = append(second.names, v.second(b))
	}
	for a, row := range c.Cells {
		for b, r := range row {
			if r == nil {
				continue
			}
			for _, j := range borrowedIn(r) {
				if slices.ContainsFunc(c.Second.Columns,
					func(col sheets.Column) bool { return col.Name.Text == j.Quantity.Name }) {
					second.lent[b] = append(second.lent[b], j)
				} else {
					first.lent[a] = append(first.lent[a], j)
				}
			}
		}
	}
	return first, second
}

// lines are how the mean is made, and what has no rank and why.
func (v *CrossingView) lines() []string {
	weighed := "alike"
	if v.Crossing.WeightName != "" {
		weighed = "by " + v.Crossing.WeightName
	}
	var lines []string
	if v.same() {
		line := v.Crossing.Shown[v.Crossing.By].Name + " is the same in each of " + Printable(v.Crossing.Second.Name) +
			"."
		var others []string
		for k, q := range v.Crossing.Shown {
			if !v.Crossing.Same(k) {
				others = append(others, q.Name)
			}
		}
		if len(others) > 0 {
			line += " --by shows what is not: " + words.Listed(others, MostNames) + "."
		}
		lines = append(lines, line)
	}
	if v.same() {
		lines = append(lines, "What fails in one of them has no rank.")
	} else {
		lines = append(lines, "The mean is over "+v.over()+", weighed "+weighed+"; what fails in one of them has none.")
	}
	var without []string
	fails := false
	for i := range v.Crossing.Overall {
		t := &v.Crossing.Overall[i]
		if len(t.Lacks) == 0 {
			continue
		}
		why := "left out"
		if r := v.Crossing.Cells[t.Case][t.Lacks[0]]; r != nil {
			concerns := v.Layout.concerns(r, v.Crossing.Shown[v.Crossing.By])
			if r.Verdict == calc.Unsure && len(r.NotEnough) == 0 &&
				r.Shown[v.Crossing.By].State != calc.Absent {
				concerns = v.Layout.tooClose(&r.Case)
			}
			why = words.Listed(concerns, 1)
			fails = fails || r.Verdict == calc.Fail
		}
		remark := fmt.Sprintf("%s in %s", why, v.second(t.Lacks[0]))
		switch n := len(t.Lacks) - 1; {
		case n > 0 && n+1 == len(v.Crossing.Second.Cases):
			remark = why + " in each"
		case n > 0:
			remark += fmt.Sprintf(" and %d more", n)
		}
		without = append(without, fmt.Sprintf("%s (%s)", v.first(t.Case), remark))
	}
	lines = append(lines, v.closeCalls()...)
	if len(without) > 0 {
		lines = append(lines, "Without a rank: "+words.Listed(without, MostNames))
	}
	if fails {
		lines = append(lines, Cautions)
	}
	return lines
}

// closeCalls are which cases may be as good as the best, and which are ranked and not
// sure to pass, with what is too close.
func (v *CrossingView) closeCalls() (lines []string) {
	c := v.Crossing
	var near, unsure []string
	for b, list := range c.Near {
		names := make([]string, len(list))
		for i, a := range list {
			names[i] = v.first(a)
		}
		if len(names) > 0 && !v.same() {
			near = append(near, v.second(b)+": "+words.Listed(names, MostNames))
		}
	}
	for a, row := range c.Cells {
		why, first, in, alike := "", "", 0, true
		for b, r := range row {
			if r == nil || r.Verdict != calc.Unsure || r.Rank == 0 {
				continue
			}
			text := words.Listed(v.Layout.tooClose(&r.Case), 1)
			if in++; in == 1 {
				why, first = text, v.second(b)
			}
			alike = alike && text == why
		}
		switch {
		case in == 0:
			continue
		case alike && in == len(c.Left):
			first = "each"
		case in > 1:
			first += fmt.Sprintf(" and %d more", in-1)
		}
		unsure = append(unsure, fmt.Sprintf("%s (%s in %s)", v.first(a), why, first))
	}
	if len(near) > 0 {
		lines = append(lines, "As good as the best within the spread of the difference, "+strings.Join(near, "; "))
	}
	if len(unsure) > 0 {
		lines = append(lines, "Ranked, though not sure to pass: "+words.Listed(unsure, MostNames))
	}
	return lines
}

// Rows holds each case in each, for programs.
func (v *CrossingView) Rows() table.Table {
	t := table.Table{Columns: []table.Column{{Header: v.Crossing.First.Key.Text}, {Header: v.Crossing.Second.Key.Text}}}
	for k, q := range v.Crossing.Shown {
		unit := q.Unit
		if len(v.Crossing.Comparison.Rows) > 0 {
			unit = v.Crossing.Comparison.Rows[0].Shown[k].Unit
		}
		t.Columns = append(t.Columns, table.Column{Header: header(q.Name, unit)},
			table.Column{Header: header(q.Name+" spread", unit.Difference())})
	}
	for _, head := range []string{"weight", "best", "verdict"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	lent := slices.ContainsFunc(v.Crossing.Comparison.Rows,
		func(r calc.ComparedCase) bool { return len(borrowedIn(&r)) > 0 })
	if lent {
		t.Columns = append(t.Columns, table.Column{Header: "borrowed"})
	}
	for a := range v.Crossing.Cells {
		for b, r := range v.Crossing.Cells[a] {
			if r == nil {
				continue
			}
			cells := []string{v.Crossing.First.Cases[a].Name.Text, v.Crossing.Second.Cases[b].Name.Text}
			for k := range r.Shown {
				x, spread, _ := r.Shown[k].Subject()
				cells = append(cells, Exact(r.Shown[k].Unit, x), Shortest(spread))
			}
			cells = append(cells, Shortest(v.Crossing.Weights[b]), strconv.FormatBool(v.Crossing.Best[b] == a),
				r.Verdict.String())
			if lent {
				cells = append(cells, strings.Join(borrowedNames(borrowedIn(r)), " "))
			}
			t.Rows = append(t.Rows, table.Row{Cells: cells})
		}
	}
	return t
}

type jsonCrossed struct {
	Case     string               `json:"case"`
	In       string               `json:"in"`
	Values   map[string]JSONValue `json:"values"`
	Best     bool                 `json:"best"`
	Unbeaten bool                 `json:"unbeaten"`
	Verdict  string               `json:"verdict,omitempty"`
}

type jsonTotal struct {
	Case   string   `json:"case"`
	Rank   int      `json:"rank,omitempty"`
	Value  any      `json:"value,omitzero"`
	Spread any      `json:"spread,omitzero"`
	Lacks  []string `json:"lacks"` // in which it fails or is open
}

type jsonCrossing struct {
	Sheet   string        `json:"sheet"`
	In      string        `json:"in"`
	By      string        `json:"by"`
	Weight  string        `json:"weight,omitempty"`
	Rows    []jsonCrossed `json:"rows"`
	Overall []jsonTotal   `json:"overall"`
}

// Object is the comparison as other programs read it.
func (v *CrossingView) Object() any {
	out := jsonCrossing{Sheet: v.Crossing.First.Name, In: v.Crossing.Second.Name,
		By: v.Crossing.Shown[v.Crossing.By].Name, Weight: v.Crossing.WeightName,
		Rows: []jsonCrossed{}, Overall: []jsonTotal{}}
	for a := range v.Crossing.Cells {
		for b, r := range v.Crossing.Cells[a] {
			if r != nil {
				out.Rows = append(out.Rows, jsonCrossed{v.Crossing.First.Cases[a].Name.Text,
					v.Crossing.Second.Cases[b].Name.Text,
					newJSONValues(r.Shown), v.Crossing.Best[b] == a, r.Unbeaten, r.Verdict.String()})
			}
		}
	}
	for i := range v.Crossing.Overall {
		t := &v.Crossing.Overall[i]
		one := jsonTotal{v.Crossing.First.Cases[t.Case].Name.Text, t.Rank, Plain(t.Value), Plain(t.Spread), []string{}}
		for _, b := range t.Lacks {
			one.Lacks = append(one.Lacks, v.Crossing.Second.Cases[b].Name.Text)
		}
		out.Overall = append(out.Overall, one)
	}
	return out
}
