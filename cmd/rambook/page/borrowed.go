package page

import (
	"slices"
	"strings"

	"rambook/calc"
	"rambook/units/words"
)

// borrowedMark stands behind the name of a case that goes on with numbers of the
// notebook where a ranking is about its own.
const borrowedMark = " *"

// borrowedBy is what of a case the notebook has lent, to its verdict or to any value.
func borrowedBy(c *calc.Case) []*calc.Judged { return borrowed(c, c.Values) }

// borrowedIn is the same of what a comparison shows.
func borrowedIn(r *calc.ComparedCase) []*calc.Judged { return borrowed(&r.Case, r.Shown) }

func borrowed(c *calc.Case, values []calc.Judged) []*calc.Judged {
	list := slices.Clone(c.Borrowed)
	for i := range values {
		for _, lent := range values[i].Borrowed {
			if !slices.Contains(list, lent) {
				list = append(list, lent)
			}
		}
	}
	return list
}

// lending is what the notebook has lent to the cases of a table.
type lending struct {
	names  []string         // of the cases
	lent   [][]*calc.Judged // to each
	marked map[string]bool  // of which it is the exception among the cases
}

// lines are what was lent and to whom, a line each: nobody has entered that for them.
// Of a column that is blank in most cases the filled cells are the exception, and one
// sentence does. Else the line may have a mark, and so have the cases then.
func (l *lending) lines(s Layout, marks bool) []string {
	var order []*calc.Judged
	by := map[*calc.Judged][]string{}
	for i, list := range l.lent {
		for _, j := range list {
			if by[j] == nil {
				order = append(order, j)
			}
			if !slices.Contains(by[j], l.names[i]) {
				by[j] = append(by[j], l.names[i])
			}
		}
	}
	l.marked = map[string]bool{}
	var lines []string
	for _, j := range order {
		own := " the notebook's own, " + Beside(s.ValueText(j), j.Unit)
		if j.Quantity.Of != "" {
			own = " that of " + Printable(j.Quantity.Of) + ", " + Beside(s.ValueText(j), j.Unit)
		}
		if 2*len(by[j]) > len(l.names) {
			lines = append(lines, "where "+j.Quantity.Name+" is blank it is"+own)
			continue
		}
		mark, cells := "", "its cell is blank"
		if marks {
			mark = strings.TrimSpace(borrowedMark) + " "
			for _, name := range by[j] {
				l.marked[name] = true
			}
		}
		if len(by[j]) > 1 {
			cells = "their cells are blank"
		}
		lines = append(lines, mark+j.Quantity.Name+" of "+words.Listed(by[j], MostNames)+" is"+own+": "+cells)
	}
	return lines
}

// LentTo are what the notebook has lent to one case, a line each.
func (s Layout) LentTo(c *calc.Case) []string {
	var lines []string
	for _, j := range borrowedBy(c) {
		lines = append(lines, j.Quantity.Name+" is the notebook's own, "+Beside(s.ValueText(j), j.Unit)+
			": its cell is blank")
	}
	return lines
}

// name is a case's name with its mark.
func (l *lending) name(name string) string {
	if l.marked[name] {
		return name + borrowedMark
	}
	return name
}

// borrowedNames are the givens that were lent, for other programs.
func borrowedNames(lent []*calc.Judged) []string {
	var names []string
	for _, j := range lent {
		names = append(names, j.Quantity.Name)
	}
	return names
}
