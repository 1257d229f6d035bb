package calc

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/sorting"
	"rambook/units/words"
)

// Cross makes the sheet of all cases of one sheet in all of another, such as every
// pump in every duty. Its columns are those of both; what is asked is computed, and
// read nowhere. It is to be added to the notebook, which is then compiled anew.
func (m *Model) Cross(first, second string) (*sheets.Sheet, []sheets.Problem) {
	first, second = m.spelledSheet(first), m.spelledSheet(second)
	a, problems := m.caseSheet(first, "only the cases of a case sheet can be compared")
	if a == nil {
		return nil, problems
	}
	b, problems := m.caseSheet(second, "the sheet to compare in must be a case sheet")
	switch {
	case b == nil:
		return nil, problems
	case a == b:
		return nil, refusal("the cases of "+first+" cannot be put into themselves", "name two sheets")
	case a.Made || b.Made:
		return nil, refusal("cycles of a log are measured, so they cannot be put into other cases", "")
	case len(a.Cases)*len(b.Cases) > mostCrossed:
		return nil, refusal(fmt.Sprintf("%d cases of %s in %d of %s make more than %d", len(a.Cases), first,
			len(b.Cases),
			second, mostCrossed), "leave some out")
	}
	type source struct {
		second bool
		column int
	}
	var from []source
	var columns []sheets.Column
	for i, s := range []*sheets.Sheet{a, b} {
		for k, col := range s.Columns {
			at := slices.IndexFunc(columns, func(c sheets.Column) bool { return c.Name.Text == col.Name.Text })
			q := m.byName[col.Name.Text]
			switch {
			case at >= 0 && q != nil && !q.IsFormula():
				problems = append(problems, placeIn(s, col.Name).fault(
					"both "+first+" and "+second+" replace "+q.Name, "take the column out of one of them"))
			case at < 0:
				columns, from = append(columns, col), append(from, source{i == 1, k})
			}
		}
	}
	if len(problems) > 0 {
		return nil, problems
	}
	var data bytes.Buffer
	w := csv.NewWriter(&data)
	row := func(name string, cell func(k int) string) {
		record := []string{name}
		for k := range columns {
			record = append(record, cell(k))
		}
		_ = w.Write(record) // a buffer takes everything
	}
	row(a.Key.Text+" in "+b.Key.Text, func(k int) string { return columns[k].Name.Text })
	row(":unit", func(k int) string { return columns[k].Unit.Text })
	for _, kept := range []struct {
		name string
		cell func(*sheets.Column) sheets.Cell
	}{
		{":spread", func(c *sheets.Column) sheets.Cell { return c.Spread }},
		{":low", func(c *sheets.Column) sheets.Cell { return c.Low }},
		{":high", func(c *sheets.Column) sheets.Cell { return c.High }},
	} {
		// A cell of a row that a sheet does not have stands where the column's name does.
		text := func(k int) string {
			if cell := kept.cell(&columns[k]); !cell.Blank() {
				return cell.Text
			}
			return ""
		}
		if slices.ContainsFunc(columns, func(c sheets.Column) bool { cell := kept.cell(&c); return !cell.Blank() }) {
			row(kept.name, text)
		}
	}
	for i := range a.Cases {
		for n := range b.Cases {
			row(crossedName(a.Cases[i].Name.Text, b.Cases[n].Name.Text), func(k int) string {
				if q := m.byName[columns[k].Name.Text]; q != nil && q.IsFormula() {
					return ""
				}
				if from[k].second {
					return b.Cases[n].Cells[from[k].column].Text
				}
				return a.Cases[i].Cells[from[k].column].Text
			})
		}
	}
	w.Flush()
	sheet, problems := sheets.Read(CrossName(first, second)+".csv", data.Bytes())
	if len(problems) > 0 {
		return nil, problems
	}
	return sheet, nil
}

// mostCrossed is how many cases a crossing may have.
const mostCrossed = 100_000

// CrossName is the name of the sheet that Cross makes.
func CrossName(first, second string) string { return first + " in " + second }

func crossedName(a, b string) string { return a + " in " + b }

// Crossing is the cases of one sheet in those of another, compared in each and over
// all of them.
type Crossing struct {
	*Comparison
	First, Second *sheets.Sheet
	Cells         [][]*ComparedCase // by case of First and of Second; nil for one that --where leaves out
	Left          []int             // the cases of Second in which any case of First is compared
	Best          []int             // by case of Second: the case of First that is best there; -1 if none takes part
	Near          [][]int           // by case of Second: those that are as good within the spread of the difference
	Weights       []float64         // by case of Second
	WeightName    string            // the column of Second that they stand in, "" where all weigh alike
	Overall       []CrossTotal      // best first; cases that do not take part everywhere come last and have no rank
	Warnings      []sheets.Problem  // of columns of Second that change nothing
}

// CrossTotal is one case of the first sheet over all cases of the second: the
// weighted mean of what is compared.
type CrossTotal struct {
	Case   int     // of First
	Value  float64 // in the unit of what is compared by; NaN where it does not take part somewhere
	Spread float64 // at most: what belongs to one case is taken as the same in all its duties
	Rank   int
	// Lacks is the cases of Second in which it fails, is open, has nothing to rank by, or is
	// left out while others are not.
	Lacks []int
}

// CompareCrossed compares the cases of a sheet that Cross has made, of a model that
// holds all three. weight names a column of the second sheet, "" for none.
func (m *Model) CompareCrossed(first, second, weight string, opt CompareOptions) (*Crossing, []sheets.Problem) {
	first, second = m.spelledSheet(first), m.spelledSheet(second)
	name := CrossName(first, second)
	c := &Crossing{First: m.Book.Sheet(first), Second: m.Book.Sheet(second)}
	problems := c.weigh(weight)
	if len(problems) > 0 {
		return nil, problems
	}
	if c.Comparison, problems = m.Compare(name, opt); c.Comparison == nil {
		return nil, problems
	}
	na, nb := len(c.First.Cases), len(c.Second.Cases)
	c.Cells, c.Best = make([][]*ComparedCase, na), slices.Repeat([]int{-1}, nb)
	for i := range c.Cells {
		c.Cells[i] = make([]*ComparedCase, nb)
	}
	for i := range c.Rows { // best first
		r := &c.Rows[i]
		a, b := r.index/nb, r.index%nb
		c.Cells[a][b] = r
		if c.Best[b] < 0 && c.takesPart(r) {
			c.Best[b] = a
		}
	}
	c.findNear()
	for b := range nb {
		if slices.ContainsFunc(c.Cells, func(row []*ComparedCase) bool { return row[b] != nil }) {
			c.Left = append(c.Left, b)
		}
	}
	for a := range na {
		if slices.ContainsFunc(c.Cells[a], func(r *ComparedCase) bool { return r != nil }) {
			c.Overall = append(c.Overall, c.total(a))
		}
	}
	c.rankOverall()
	c.Warnings = m.idleColumns(name, c.Second)
	return c, nil
}

// findNear finds what may be as good as the best in each case of the second sheet. What
// both have in common there counts twice at most.
func (c *Crossing) findNear() {
	c.Near = make([][]int, len(c.Best))
	for b, best := range c.Best {
		for a := range c.Cells {
			if best < 0 || a == best || c.Cells[a][b] == nil || !c.takesPart(c.Cells[a][b]) {
				continue
			}
			r, top := c.Cells[a][b], c.Cells[best][b]
			off, joint := math.Abs(r.number(c.By)-top.number(c.By)), 0.0
			if c.from != nil {
				joint = spreadIn(c.unit(), c.from.ofDifference(r.index, top.index))
			}
			if off > rounding(off) && off <= joint {
				c.Near[b] = append(c.Near[b], a)
			}
		}
	}
}

// idleColumns warns of columns of the second sheet that change nothing that is
// compared, mostly since every case of a third sheet has an entry of its own.
func (m *Model) idleColumns(crossed string, second *sheets.Sheet) []sheets.Problem {
	cs, problems := m.runSheet(crossed)
	if len(problems) > 0 {
		return nil
	}
	var warnings []sheets.Problem
	for _, g := range cs.given {
		q := g.quantity
		at := slices.IndexFunc(second.Columns, func(c sheets.Column) bool { return c.Name.Text == q.Name })
		if at < 0 || q.Unit.Kind == units.Date || cs.depends(m.tape.Reached([]tape.Register{g.input()})) {
			continue
		}
		message, hint := "column "+q.Name+" of "+second.Name+" changes nothing that is compared", ""
		for _, other := range m.caseSheets {
			if other != cs && other.sheet != second && other.replacesAll(q) {
				message += ": every case of " + other.sheet.Name + " has a " + q.Name + " of its own"
				hint = "take the column out of " + second.Name + ", or compare with --in " + other.sheet.Name
				break
			}
		}
		warnings = append(warnings, placeIn(second, second.Columns[at].Name).fault(message, hint))
	}
	return warnings
}

// depends reports whether anything that the cases are asked for is among the marked
// registers.
func (cs *caseSheet) depends(marks []bool) bool {
	return slices.ContainsFunc(cs.judged(), func(a *judgedColumn) bool {
		q := a.quantity
		return slices.ContainsFunc([]tape.Register{q.value, q.lowAt, q.highAt},
			func(r tape.Register) bool { return r != tape.None && marks[r] && a.given == nil })
	})
}

// Same reports whether what is shown at k is, for each case of the first sheet, one
// number in all cases of the second.
func (c *Crossing) Same(k int) bool {
	for _, row := range c.Cells {
		first := math.NaN()
		for _, r := range row {
			if r == nil {
				continue
			}
			x, _, _ := r.Shown[k].Subject()
			if Has(first) && (!Has(x) || math.Abs(x-first) > rounding(first)) {
				return false
			}
			if !Has(first) {
				first = x
			}
		}
	}
	return true
}

// weigh reads the weights of the cases of the second sheet.
func (c *Crossing) weigh(column string) []sheets.Problem {
	c.WeightName = strings.TrimSpace(column)
	c.Weights = slices.Repeat([]float64{1}, len(c.Second.Cases))
	if c.WeightName == "" {
		return nil
	}
	var known []string
	for _, col := range c.Second.Columns {
		known = append(known, col.Name.Text)
	}
	c.WeightName = words.Spelled(c.WeightName, known)
	at := slices.Index(known, c.WeightName)
	if at < 0 {
		p := inArgument("--weight", c.WeightName)
		return []sheets.Problem{p.fault("sheet "+c.Second.Name+" has no column "+words.Quoted(c.WeightName),
			words.DidYouMean(c.WeightName, known, "its columns are "+words.Listed(known, mostNames)))}
	}
	blank := func(row sheets.CaseRow) bool { return row.Cells[at].Blank() }
	if !slices.ContainsFunc(c.Second.Cases, func(row sheets.CaseRow) bool { return !blank(row) }) {
		p := inArgument("--weight", c.WeightName)
		return []sheets.Problem{p.fault("column "+words.Quoted(c.WeightName)+" of sheet "+c.Second.Name+" is blank",
			"a weight is typed in, not computed; add a column such as share")}
	}
	unit, _ := units.Parse(c.Second.Columns[at].Unit.Text) // the sheet has been compiled
	var problems []sheets.Problem
	sum := 0.0
	for i := range c.Second.Cases {
		cell := c.Second.Cases[i].Cells[at]
		v, err := units.ParseValue(cell.Text)
		if !v.HasUnit {
			v.Unit = unit
		}
		weight := v.Unit.ToSI(v.Number)
		if err != nil || weight < 0 {
			problems = append(problems, placeIn(c.Second, cell).fault("a weight is a number of 0 or more",
				"write one into column "+c.WeightName))
			continue
		}
		c.Weights[i] = weight
		sum += weight
	}
	if len(problems) == 0 && sum == 0 {
		return refusal("the weights in "+c.WeightName+" add up to 0", "")
	}
	return problems
}

// total is the weighted mean of one case of the first sheet.
func (c *Crossing) total(a int) CrossTotal {
	t := CrossTotal{Case: a, Spread: math.NaN()}
	sum, all, spread := 0.0, 0.0, 0.0
	var cases []int
	var weights []float64
	read := false
	for _, b := range c.Left {
		r, w := c.Cells[a][b], c.Weights[b]
		switch {
		case w == 0:
			continue
		case r == nil || !c.takesPart(r):
			t.Lacks = append(t.Lacks, b)
			continue
		}
		_, s, isRead := r.Shown[c.By].Subject()
		read = read || isRead
		if Has(s) {
			spread += w * s
		}
		sum, all = sum+w*r.number(c.By), all+w
		cases, weights = append(cases, r.index), append(weights, w)
	}
	if t.Value = sum / all; all == 0 || len(t.Lacks) > 0 {
		t.Value = math.NaN()
		return t
	}
	t.Spread = spread / all
	if c.from != nil && !read {
		t.Spread = finite(spreadIn(c.unit(), c.from.mixed(cases, weights)/all))
	}
	return t
}

// unit is that of what is compared by.
func (c *Crossing) unit() units.Unit { return c.Rows[0].Shown[c.By].Unit }

// rankOverall sorts the totals, those that take part everywhere first.
func (c *Crossing) rankOverall() {
	better := float64(c.Better[c.By])
	sorting.Stable(c.Overall, func(x, y CrossTotal) int {
		switch {
		case Has(x.Value) && Has(y.Value):
			return cmp.Compare(better*y.Value, better*x.Value)
		case Has(x.Value):
			return -1
		case Has(y.Value):
			return 1
		}
		return cmp.Compare(len(x.Lacks), len(y.Lacks))
	})
	for i := range c.Overall {
		switch t := &c.Overall[i]; {
		case !Has(t.Value):
		case i > 0 && math.Abs(t.Value-c.Overall[i-1].Value) <= rounding(t.Value):
			t.Rank = c.Overall[i-1].Rank
		default:
			t.Rank = i + 1
		}
	}
}

// mixed is the spread of a weighted sum over some cases, SI: what they share is
// added up before it is squared. What is a case's own is added up too, since cases
// that were crossed have it in common; that is at most what it can be.
func (c *caseSpreads) mixed(cases []int, weights []float64) float64 {
	sums, own := make([]float64, c.sources), 0.0
	for n, i := range cases {
		own += weights[n] * c.own[i]
		for _, s := range c.shared[i] {
			sums[s.source] += weights[n] * s.part
		}
	}
	for _, part := range sums {
		own = math.Hypot(own, part)
	}
	return own
}
