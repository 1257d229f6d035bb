package calc

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/sheets"
	"rambook/units"
	"rambook/units/sorting"
)

// CompareOptions choose what Compare shows and by what it ranks.
type CompareOptions struct {
	By          string   // "" for the first shown with a limit that says what is better
	Show        []string // nil for all that the sheet asks for
	Most, Least bool     // more or less of By is better, whatever its limits
	Where       string   // a condition that the cases have to meet; "" for all
	Path        string   // of the notebook as it was typed, for the commands that a message shows

	inSheet bool // a row of a sheet of comparisons asks, whose column `better` says which way
}

// Comparison is the cases of a sheet side by side, best first. Cases that fail
// or are open come last and have no rank.
type Comparison struct {
	Sheet    *sheets.Sheet
	Shown    []*Quantity // a data column is shown as a quantity of its name
	By       int         // in Shown
	Better   []int       // of each shown: 1 if more is better, -1 if less is, 0 if neither
	Rows     []ComparedCase
	Failures []sheets.Problem // the errors of single cases

	from *caseSpreads // to the spread of what is ranked by; nil of data
}

// ComparedCase is one case of a comparison. Its verdict is the one that check
// gives it, or that of what is shown beside if that is worse; its Values are
// all that the verdict is about.
type ComparedCase struct {
	Case
	Shown      []Judged // those of Comparison.Shown
	Rank       int      // from 1, equal for equal values; 0 for a case that takes no part
	Difference float64  // of By to the best case, in the unit of its differences; NaN if there is none
	Spread     float64  // of Difference, inputs that the two cases share counted once; NaN without any
	Percent    float64  // Difference in % of the best; NaN where that means nothing
	MayBeBest  bool     // takes part, is not the best, and Difference ± Spread reaches 0
	Unbeaten   bool     // no other case is as good in all that has a direction and better in one

	// What has a limit and is n/a: the case has none of that, as a pump without a drain.
	// So it cannot be too much, but nor can it be enough: with a low limit there is no
	// rank. What nobody knows is blank, and open.
	NotTooMuch, NotEnough []*Quantity

	index int // in the sheet
}

// Compare ranks the cases of a sheet.
func (m *Model) Compare(sheet string, opt CompareOptions) (*Comparison, []sheets.Problem) {
	plan, problems := m.planComparison(sheet, opt)
	if plan == nil {
		return nil, problems
	}
	c, cs, shown := plan.Comparison, plan.cases, plan.shown
	base := m.tape.Once(nil)
	m.runShown(c, cs, shown, base)
	if asked := shown[c.By].asked; asked != nil {
		numbers := make([]Judged, len(c.Rows))
		for i := range c.Rows {
			numbers[c.Rows[i].index] = c.Rows[i].Shown[c.By]
		}
		c.from = m.caseSpreads(cs, asked, numbers, base)
	}
	if plan.where != nil {
		c.keep(plan.where())
	}
	c.rank()
	c.doubt(c.from)
	c.markUnbeaten()
	return c, nil
}

// comparisonPlan is a comparison before anything is computed.
type comparisonPlan struct {
	*Comparison
	cases *caseSheet
	shown []shownColumn
	where func() []bool // which cases are compared; nil for all
}

// planComparison finds what a comparison is of. All that can be wrong with how it
// was asked for is found here.
func (m *Model) planComparison(sheet string, opt CompareOptions) (*comparisonPlan, []sheets.Problem) {
	cs, problems := m.compared(sheet)
	if cs == nil {
		return nil, problems
	}
	names := slices.Clone(opt.Show)
	if opt.By = strings.TrimSpace(opt.By); opt.By != "" {
		opt.By = m.spelledIn(cs.sheet, opt.By)
	}
	if len(names) == 0 {
		for _, a := range cs.asked {
			if a.quantity.IsText() {
				continue
			}
			names = append(names, a.quantity.Name)
		}
	}
	if len(names) == 0 && opt.By == "" {
		return nil, refusal("sheet "+sheet+" asks for no formula", "name what to compare with --show")
	}
	if opt.By != "" && !slices.ContainsFunc(names, func(n string) bool {
		return m.spelledIn(cs.sheet, strings.TrimSpace(n)) == opt.By
	}) {
		names = append([]string{opt.By}, names...)
	}
	shown, problems := m.showColumns(cs, names, opt)
	if len(problems) > 0 {
		return nil, problems
	}
	c := &Comparison{Sheet: cs.sheet, By: -1}
	for i := range shown {
		c.Shown = append(c.Shown, shown[i].quantity())
		c.Better = append(c.Better, shown[i].better)
		if opt.By == "" && c.By < 0 && shown[i].better != 0 || opt.By == shown[i].name {
			c.By = i
		}
	}
	if problems := c.direct(opt, shown); len(problems) > 0 {
		return nil, problems
	}
	plan := &comparisonPlan{Comparison: c, cases: cs, shown: shown}
	if strings.TrimSpace(opt.Where) != "" {
		if plan.where, problems = m.casesWhere(cs, opt.Where); len(problems) > 0 {
			return nil, problems
		}
	}
	return plan, nil
}

// compared finds a case sheet, also one that asks for nothing.
func (m *Model) compared(name string) (*caseSheet, []sheets.Problem) {
	name = m.spelledSheet(name)
	for _, cs := range m.caseSheets {
		if cs.sheet.Name == name {
			return cs, nil
		}
	}
	s, problems := m.caseSheet(name, "only the cases of a case sheet can be compared")
	if s == nil {
		return nil, problems
	}
	return &caseSheet{sheet: s}, nil
}

// shownColumn is one thing to compare: a quantity or a column of data.
type shownColumn struct {
	name   string
	asked  *judgedColumn // a quantity
	data   *column       // a column of data
	values *series       // of data
	better int
}

func (s *shownColumn) quantity() *Quantity {
	if s.asked != nil {
		return s.asked.quantity
	}
	q := newQuantity(s.name, s.data.unit, s.data.typ)
	q.Row = &sheets.Row{}
	return q
}

// showColumns finds what the names mean in a sheet.
func (m *Model) showColumns(cs *caseSheet, names []string, opt CompareOptions) ([]shownColumn, []sheets.Problem) {
	var shown []shownColumn
	var problems []sheets.Problem
	runs := slices.Contains(m.caseSheets, cs) // if not, all its columns are data
	for _, name := range names {
		argument := "--show"
		if !slices.Contains(opt.Show, name) {
			argument = "--by"
		}
		p := inArgument(argument, strings.TrimSpace(name))
		name = m.spelledIn(cs.sheet, p.cell.Text)
		s := shownColumn{name: name, data: m.tables[cs.sheet.Name].column(name)}
		q := m.byName[name]
		switch {
		case q == nil && s.data == nil:
			problems = append(problems, p.fault(m.unknownIn(cs.sheet, name)))
			continue
		case q != nil && q.IsText() || q == nil && s.data.unit.Kind == units.Text:
			problems = append(problems, p.fault(name+" is a text, not a number", ""))
			continue
		case q != nil && q.IsFormula() && !runs:
			problems = append(problems, notRun(cs.sheet, name)...)
			continue
		case q == nil || s.data != nil && !runs:
			values, faults := m.doubtfulData(s.data)
			problems = append(problems, faults...)
			s.values = values
		default:
			s.asked = cs.asking(q, s.data)
			s.better = s.asked.better()
		}
		if s.better == 0 {
			s.better = s.noted(cs.sheet)
		}
		shown = append(shown, s)
	}
	return shown, problems
}

// limits are those that the sheet or the model states.
func (a *judgedColumn) limits() (low, high bool) {
	return a.hasLow() || a.quantity.hasLow(), a.hasHigh() || a.quantity.hasHigh()
}

// CaseLimits are the limits that hold what a case sheet asks for, or replaces.
func (m *Model) CaseLimits(sheet *sheets.Sheet, asked *Quantity) (low, high bool) {
	for _, cs := range m.caseSheets {
		for _, a := range cs.judged() {
			if cs.sheet == sheet && a.quantity == asked {
				return a.limits()
			}
		}
	}
	return false, false
}

// better finds from the limits whether more or less is better.
func (a *judgedColumn) better() int {
	switch low, high := a.limits(); {
	case low && !high:
		return 1
	case high && !low:
		return -1
	}
	return 0
}

// noted reports whether more or less is better from what a note says of it: that
// below the column's head, else that of the quantity's row.
func (s *shownColumn) noted(sheet *sheets.Sheet) int {
	notes := []string{s.quantity().Row.Note.Text}
	if s.data != nil {
		notes = append([]string{sheet.Columns[s.data.index].Note.Text}, notes...)
	}
	for _, note := range notes {
		more, less := strings.Contains(note, "more is better"), strings.Contains(note, "less is better")
		switch {
		case more && !less:
			return 1
		case less && !more:
			return -1
		}
	}
	return 0
}

// twoLimits reports whether what is shown has a low and a high limit.
func (s *shownColumn) twoLimits() bool {
	if s.asked == nil {
		return false
	}
	low, high := s.asked.limits()
	return low && high
}

// direct settles by what the cases are ranked, and which way.
func (c *Comparison) direct(opt CompareOptions, shown []shownColumn) []sheets.Problem {
	ranked := func(name string) string {
		if opt.inSheet {
			return "write more or less into the column `better`; a note `less is better` settles it for good"
		}
		command := func(way string) string {
			return "`" + strings.TrimSpace("rambook compare "+c.Sheet.Name+" --by "+name+" "+way+" "+opt.Path) + "`"
		}
		return "write " + command("--least") + " if less is better, " + command("--most") +
			" if more is; a note `less is better` settles it for good"
	}
	if c.By < 0 {
		if !opt.Most && !opt.Least {
			return refusal("no shown quantity has a limit on one side, so neither more nor less is better",
				ranked("NAME"))
		}
		c.By = 0
	}
	by := c.Shown[c.By].Name
	switch better := &c.Better[c.By]; {
	case opt.Most && opt.Least:
		return refusal("--most and --least contradict each other", "leave one out")
	case opt.Most:
		*better = 1
	case opt.Least:
		*better = -1
	case *better != 0:
	case shown[c.By].twoLimits():
		return refusal(by+" has a low and a high limit, so neither more nor less is better", ranked(by))
	default:
		return refusal(by+" has no limit, so neither more nor less is better", ranked(by))
	}
	return nil
}

// runShown computes and judges all cases. What check judges of a case is
// judged here too, shown or not, so that none is called better than it is.
func (m *Model) runShown(c *Comparison, cs *caseSheet, shown []shownColumn, base []float64) {
	run := &caseSheet{sheet: cs.sheet, given: cs.given, asked: slices.Clone(cs.asked), limited: cs.limited, row: cs.row,
		scatters: cs.scatters}
	for _, s := range shown {
		if s.asked != nil && !slices.Contains(run.judged(), s.asked) {
			run.asked = append(run.asked, s.asked)
		}
	}
	judged := run.judged()
	result, failures := m.runCases(run, base, CheckOptions{})
	c.Failures = failures
	for i, computed := range result.Cases {
		row := ComparedCase{Case: computed, Difference: math.NaN(), Spread: math.NaN(), Percent: math.NaN(), index: i}
		for k, a := range judged {
			switch low, high := a.limits(); {
			case computed.Values[k].State != Absent:
			case low:
				row.NotEnough = append(row.NotEnough, a.quantity)
			case high:
				row.NotTooMuch = append(row.NotTooMuch, a.quantity)
			}
		}
		for k, s := range shown {
			var v Judged
			if s.asked != nil {
				v = computed.Values[slices.Index(judged, s.asked)]
			} else {
				v = s.datum(c.Shown[k], i)
				row.Values = append(row.Values, v)
				row.Verdict = max(row.Verdict, v.Verdict)
			}
			row.Shown = append(row.Shown, v)
		}
		c.Rows = append(c.Rows, row)
	}
}

// keep leaves out the cases that are not to be compared, and what went wrong in them.
func (c *Comparison) keep(keep []bool) {
	for i := range c.Rows {
		if !keep[c.Rows[i].index] {
			c.Failures = slices.DeleteFunc(c.Failures, func(p sheets.Problem) bool {
				return strings.HasPrefix(p.Message, c.Rows[i].Name+": ")
			})
		}
	}
	c.Rows = slices.DeleteFunc(c.Rows, func(r ComparedCase) bool { return !keep[r.index] })
}

// datum is what a column of data holds for a case; it is open where the cell
// is blank, and n/a where that stands in it.
func (s *shownColumn) datum(q *Quantity, i int) Judged {
	v := s.values.values[i]
	v.Quantity, v.Value, v.Spread = q, v.Reading, v.ReadingSpread
	v.Reading, v.ReadingSpread = math.NaN(), math.NaN()
	sheet, row := s.data.sheet, &s.data.sheet.Cases[i]
	switch {
	case IsAbsent(row.Cells[s.data.index].Text):
		v.State = Absent
	case !Has(v.Value):
		v.Verdict = Open
		v.Needs = []Need{{Name: fmt.Sprintf("%s[%s].%s", sheet.Name, row.Name.Text, s.name), Sheet: sheet.Name,
			File: sheet.File, Line: row.Name.Line}}
	}
	return v
}

// takesPart reports whether a case can be the best: it keeps all limits, as
// far as is known and sooner than not, has what is ranked by, and nothing of it is open.
func (c *Comparison) takesPart(r *ComparedCase) bool {
	return r.Verdict != Fail && Has(r.number(c.By)) && len(r.NotEnough) == 0 &&
		!slices.ContainsFunc(r.Values, func(j Judged) bool {
			number, _, _ := j.Subject()
			return j.Verdict == Open || j.Verdict == Unsure && j.Inside < likely ||
				!Has(number) && !j.Quantity.IsText() && j.State != Absent
		})
}

// likely is from where on it is likelier that a value keeps its limits than that it
// does not.
const likely = 0.5

// number is what is compared of the value shown as number k.
//
//go:noinline
func (r *ComparedCase) number(k int) float64 {
	number, _, _ := r.Shown[k].Subject()
	return number
}

// goodness is how good a case is in what is shown as number k: more is better.
func (c *Comparison) goodness(r *ComparedCase, k int) float64 {
	return float64(c.Better[k]) * r.number(k)
}

// rank sorts the cases and compares each with the best.
func (c *Comparison) rank() {
	sorting.Stable(c.Rows, func(a, b ComparedCase) int {
		switch partA, partB := c.takesPart(&a), c.takesPart(&b); {
		case partA && partB:
			return cmp.Compare(c.goodness(&b, c.By), c.goodness(&a, c.By))
		case partA:
			return -1
		case partB:
			return 1
		}
		return 0
	})
	if len(c.Rows) == 0 || !c.takesPart(&c.Rows[0]) {
		return
	}
	best := c.Rows[0].number(c.By)
	for i := range c.Rows {
		r := &c.Rows[i]
		r.Difference = r.number(c.By) - best
		if math.Abs(r.Difference) <= rounding(best) {
			r.Difference = 0
		}
		switch u := r.Shown[c.By].Unit; {
		case u.Kind == units.Date: // values are in seconds
			r.Difference = spreadIn(u, r.Difference)
		case best != 0 && u.Kind == units.Ordinary:
			r.Percent = 100 * r.Difference / math.Abs(best)
		}
		switch {
		case !c.takesPart(r):
		case i > 0 && math.Abs(r.number(c.By)-c.Rows[i-1].number(c.By)) <= rounding(r.number(c.By)):
			r.Rank = c.Rows[i-1].Rank
		default:
			r.Rank = i + 1
		}
	}
}

// doubt finds how sure the differences to the best are. by is nil for data: two
// cells have nothing in common.
func (c *Comparison) doubt(by *caseSpreads) {
	for i := 1; i < len(c.Rows); i++ {
		r, best := &c.Rows[i], &c.Rows[0]
		if !Has(r.Difference) {
			continue
		}
		_, spread, _ := r.Shown[c.By].Subject()
		_, spreadBest, _ := best.Shown[c.By].Subject()
		joint := hypot(spread, spreadBest)
		if by != nil {
			joint = spreadIn(r.Shown[c.By].Unit, by.ofDifference(r.index, best.index))
		}
		if joint <= rounding(best.number(c.By)) {
			joint = 0
		}
		if Has(spread) || Has(spreadBest) {
			r.Spread = finite(joint)
		}
		r.MayBeBest = r.Rank > 0 && joint > 0 && math.Abs(r.Difference) <= joint
	}
}

// markUnbeaten marks the cases that no other one beats in all that is shown and has
// a direction.
func (c *Comparison) markUnbeaten() {
	var columns []int
	for k, better := range c.Better {
		if better != 0 {
			columns = append(columns, k)
		}
	}
	for _, r := range c.UnbeatenIn(columns...) {
		r.Unbeaten = true
	}
}

// UnbeatenIn lists the cases that no other one beats in some of what is shown, which
// all have a direction. In an order in which a case comes after all that may beat it,
// each need only be held against the ones that are listed already, for what a beaten
// case beats is beaten by its own beater as well. Where one of these is n/a there is
// nothing to hold the others against.
func (c *Comparison) UnbeatenIn(columns ...int) []*ComparedCase {
	var rows []*ComparedCase
	for i := range c.Rows {
		if r := &c.Rows[i]; c.takesPart(r) &&
			!slices.ContainsFunc(columns, func(k int) bool { return !Has(r.number(k)) }) {
			rows = append(rows, &c.Rows[i])
		}
	}
	sorting.Stable(rows, func(a, b *ComparedCase) int {
		for _, k := range columns {
			if d := cmp.Compare(c.goodness(b, k), c.goodness(a, k)); d != 0 {
				return d
			}
		}
		return 0
	})
	beats := func(a, b *ComparedCase) bool {
		better := false
		for _, k := range columns {
			ga, gb := c.goodness(a, k), c.goodness(b, k)
			switch {
			case math.Abs(ga-gb) <= rounding(ga): // they tie
			case ga < gb:
				return false
			default:
				better = true
			}
		}
		return better
	}
	var unbeaten []*ComparedCase
	for _, r := range rows {
		if !slices.ContainsFunc(unbeaten, func(u *ComparedCase) bool { return beats(u, r) }) {
			unbeaten = append(unbeaten, r)
		}
	}
	return unbeaten
}
