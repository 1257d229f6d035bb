package calc

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc/optimum"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/sorting"
	"rambook/units/words"
)

// BestOptions are what Best looks for.
type BestOptions struct {
	Goal string // the quantity
	Most bool   // more of it is better, else less
	Sure bool   // limits are kept by the whole spread as well
	// `NAME = RANGE`, of givens that are chosen and of formulas that are to keep to more than their limits
	Within []string
}

// Optimum is the answer of Best: the values of some givens for which a quantity
// is most or least and every limit is kept that depends on them.
type Optimum struct {
	Goal    *Quantity
	Most    bool
	Choices []Choice
	Value   float64 // of Goal, in its unit; NaN if there is no such choice
	Now     float64 // of Goal in the notebook; NaN if it is open there
	At      Case    // the goal, the formulas with limits that depend on the choice, and the chosen givens
	Binding []Binding
	Priced  bool // the prices are known: the optimum is in no corner
	Others  []OtherOptimum

	Starts, Ended int         // how many searches were made, and how many ended here
	Unjudged      []*Quantity // limits that are left out, being open
	Broken        []Binding   // without a choice: the limits that the nearest one breaks, Price is by how much
	Failure       *sheets.Problem
}

// Choice is a given that was chosen.
type Choice struct {
	Quantity *Quantity
	Unit     units.Unit
	Value    float64 // NaN if there is none, or it is a text
	Text     string
	From, To float64 // the range; of a list NaN
	N        int     // of a list: how many values it has
	Now      float64 // in the notebook, NaN if it is open
	Low      bool    // From is the given's own limit, as is
	High     bool    // To
}

// Binding is a limit that keeps the goal from being better.
type Binding struct {
	Quantity *Quantity
	Unit     units.Unit
	Low      bool
	Limit    float64 // in Unit
	Price    float64 // by how much the goal gets better if the limit gives way by one of Unit; NaN if not known
	Range    bool    // the end of a range that was asked for, and no limit of the notebook
}

// OtherOptimum is a choice that no change nearby makes better, in another place.
type OtherOptimum struct {
	Values []float64 // of the choices, in their units; of a text NaN
	Value  float64   // of the goal
}

// mostChoices is how many givens can be chosen at once from a range, and
// mostSizes how many combinations of lists are gone through.
const (
	mostChoices  = 3
	mostSizes    = 20000
	mostSearches = 200 // of combinations that a search is made for, if something is chosen from a range beside
)

// keeper is one limit that has to be kept: margin is at zero or above.
type keeper struct {
	Binding
	margin tape.Register
	limit  tape.Register // tape.None for a number
}

// chooser is a search for the best choice.
type chooser struct {
	*Optimum
	model   *Model
	tape    *tape.Tape
	base    []float64
	ranged  []int       // of Choices: those from a range
	listed  []int       // those from a list
	from    []float64   // SI, by number in ranged
	to      []float64   // SI
	lists   [][]float64 // SI, by number in listed
	texts   [][]string  // of those that are texts, nil of others
	keepers []keeper
	worker  *tape.Worker
	sure    bool
}

// Best finds the values of up to three givens, named in names, for which a
// quantity is most or least while the limits of the notebook are kept by the
// values, whatever their spread. A given is chosen within its low and high, or
// where Within says, from a range, a list or a column of a sheet.
func (m *Model) Best(names []string, opt BestOptions) (*Optimum, []sheets.Problem) {
	m = m.extended()
	c := &chooser{Optimum: &Optimum{Most: opt.Most, Value: math.NaN(), Now: math.NaN()}, model: m,
		tape: m.tape.Extend(), sure: opt.Sure}
	c.base = m.tape.Once(nil)
	problems := c.read(names, opt)
	if len(problems) > 0 {
		return nil, problems
	}
	reached := c.tape.Reached(c.inputs())
	if !reached[c.Goal.value] {
		return nil, refusal(c.Goal.Name+" does not depend on "+c.names(), hintGivens(m.givensOf(c.Goal)))
	}
	if v := c.base[c.Goal.value]; tape.Usable(v) {
		c.Now = c.Goal.Unit.FromSI(v)
	}
	c.keep(reached)
	if c.sure {
		c.keepSpreads()
	}
	c.search()
	return c.Optimum, nil
}

func hintGivens(names []string) string {
	if len(names) == 0 {
		return ""
	}
	return "it depends on " + words.Listed(names, mostNames)
}

func (c *chooser) names() string {
	var list []string
	for i := range c.Choices {
		list = append(list, c.Choices[i].Quantity.Name)
	}
	return words.Listed(list, len(list))
}

func (c *chooser) inputs() []tape.Register {
	var list []tape.Register
	for i := range c.Choices {
		list = append(list, c.Choices[i].Quantity.value)
	}
	return list
}

// read takes the question in.
func (c *chooser) read(names []string, opt BestOptions) (problems []sheets.Problem) {
	m := c.model
	goal, faults := m.numeric("--most or --least", opt.Goal)
	problems = append(problems, faults...)
	if c.Goal = goal; goal != nil && !goal.IsFormula() {
		problems = append(problems, sheets.Problem{Message: goal.Name + " is a given, typed in and not computed",
			Hint: "name a formula that depends on what is chosen"})
	}
	if len(names) == 0 {
		return append(problems, sheets.Problem{Message: "what is to be chosen is missing",
			Hint: "name one given or more, as in best bore rod_diameter --least heat"})
	}
	for _, name := range names {
		q, faults := m.given(inArgument("GIVEN", name), name)
		problems = append(problems, faults...)
		switch {
		case q == nil:
		case slices.ContainsFunc(c.Choices, func(o Choice) bool { return o.Quantity == q }):
			problems = append(problems, sheets.Problem{Message: q.Name + " is named twice"})
		default:
			now := math.NaN()
			if v := c.base[q.value]; tape.Usable(v) && !q.IsText() {
				now = q.Unit.FromSI(v)
			}
			c.Choices = append(c.Choices, Choice{Quantity: q, Unit: q.Unit, Value: math.NaN(), From: math.NaN(),
				To: math.NaN(), Now: now})
		}
	}
	within := make([]string, len(c.Choices))
	for _, argument := range opt.Within {
		name, text, found := strings.Cut(argument, "=")
		p := inArgument("--within", argument)
		if !found {
			problems = append(problems, p.fault("no `=` in "+words.Quoted(argument),
				`write --within "bore = 100 to 200 mm", or "bore = cylinders.bore"`))
			continue
		}
		q, faults := m.ask(p, strings.TrimSpace(name))
		problems = append(problems, faults...)
		if q == nil {
			continue
		}
		at := slices.IndexFunc(c.Choices, func(o Choice) bool { return o.Quantity == q })
		switch {
		case at >= 0 && within[at] != "":
			problems = append(problems, p.fault(q.Name+" has two ranges", ""))
		case at >= 0:
			within[at] = argument
		case q.IsFormula() && !q.IsText():
			p.skip = len([]rune(name)) + 1
			r := &rangeReader{place: p, quantity: q}
			lo, hi, ok := r.readInterval(text)
			problems = append(problems, r.problems...)
			if ok {
				c.demand(q, lo, hi)
			}
		default:
			problems = append(problems, p.fault(q.Name+" is not chosen here",
				"name it before --most or --least, or fix it with --set"))
		}
	}
	for i := range c.Choices {
		problems = append(problems, c.choiceRange(i, within[i])...)
	}
	if len(c.ranged) > mostChoices {
		problems = append(problems, sheets.Problem{Message: fmt.Sprintf("%d givens are chosen from ranges, and %d is the most", len(c.ranged), mostChoices),
			Hint: "fix one with --set, or let it come from a list, as in --within \"bore = 100, 125, 160 mm\""})
	}
	sizes := 1.0
	for _, list := range c.lists {
		sizes *= float64(len(list))
	}
	if sizes > mostSizes {
		problems = append(problems, sheets.Problem{Message: fmt.Sprintf("the lists have %.3g combinations, and %d is the most", sizes, mostSizes), Hint: "write shorter lists"})
	}
	return problems
}

// demand adds the limits of a range that a formula is asked to keep to.
func (c *chooser) demand(q *Quantity, lo, hi float64) {
	for _, low := range []bool{true, false} {
		limit := hi
		if low {
			limit = lo
		}
		c.addKeeper(q, low, c.tape.Constant(limit), true, q.Unit.FromSI(limit))
	}
}

func (c *chooser) addKeeper(q *Quantity, low bool, limit tape.Register, asked bool, value float64) {
	a, b := limit, q.value
	if low {
		a, b = q.value, limit
	}
	c.keepers = append(c.keepers, keeper{Binding{q, q.Unit, low, value, math.NaN(), asked},
		c.tape.Binary(tape.OpSub, a, b), limit})
}

// choiceRange finds where a given may be chosen.
func (c *chooser) choiceRange(i int, argument string) []sheets.Problem {
	choice := &c.Choices[i]
	q := choice.Quantity
	if argument == "" {
		if q.IsText() {
			return refusal(q.Name+" is a text, so its choices have to be listed",
				`as in --within "`+q.Name+` = first, second" or "`+q.Name+` = SHEET.COLUMN"`)
		}
		lo, hi, problems := c.model.readBetween(q, "", c.base)
		if len(problems) > 0 {
			problems[0].Hint = `add --within "` + q.Name + " = " + example(q.Unit) + `"`
			return problems
		}
		choice.Low = q.hasLow() && lo == c.base[q.lowAt]
		choice.High = q.hasHigh() && hi == c.base[q.highAt]
		c.addRange(i, lo, hi)
		return nil
	}
	name, text, _ := strings.Cut(argument, "=")
	p := inArgument("--within", argument)
	p.skip = len([]rune(name)) + 1
	if sheet, column, found := strings.Cut(strings.TrimSpace(text), "."); found && IsName(sheet) && IsName(column) {
		return c.fromColumn(i, p, sheet, column)
	}
	r := &rangeReader{place: p, quantity: q}
	if m := rangeForm().FindStringSubmatchIndex(text); !q.IsText() && m != nil && m[2*byGroup] < 0 &&
		m[2*stepsGroup] < 0 {
		lo, hi, ok := r.readInterval(text)
		if !ok {
			return r.problems
		}
		if v := c.limitOf(q.lowAt); v >= lo {
			lo, choice.Low = v, true
		}
		if v := c.limitOf(q.highAt); v <= hi {
			hi, choice.High = v, true
		}
		if !(lo < hi) {
			return refusal("nothing of "+strings.TrimSpace(text)+" is within the limits of "+q.Name,
				"the limits stand in its row")
		}
		c.addRange(i, lo, hi)
		return nil
	}
	g := r.readRange(text)
	if g == nil {
		return r.problems
	}
	if g.N > mostSizes {
		return []sheets.Problem{p.fault(fmt.Sprintf("the list has %d values, and %d is the most", g.N, mostSizes),
			"leave the step out to choose from the whole range")}
	}
	values := make([]float64, g.N)
	for k := range values {
		if g.IsText() {
			values[k] = c.model.textIndex(g.texts[k])
			continue
		}
		values[k] = g.si(k)
	}
	c.addList(i, values, g.texts)
	return nil
}

// limitOf is a limit of a given that is a number, else NaN.
func (c *chooser) limitOf(r tape.Register) float64 {
	if r == tape.None || !tape.Usable(c.base[r]) {
		return math.NaN()
	}
	return c.base[r]
}

func (c *chooser) addRange(i int, lo, hi float64) {
	choice := &c.Choices[i]
	choice.From, choice.To = choice.Unit.FromSI(lo), choice.Unit.FromSI(hi)
	c.ranged, c.from, c.to = append(c.ranged, i), append(c.from, lo), append(c.to, hi)
}

func (c *chooser) addList(i int, values []float64, texts []string) {
	c.Choices[i].N = len(values)
	c.listed, c.lists, c.texts = append(c.listed, i), append(c.lists, values), append(c.texts, texts)
}

// fromColumn takes the values of a column of a sheet, each once.
func (c *chooser) fromColumn(i int, p place, sheet, column string) []sheets.Problem {
	q := c.Choices[i].Quantity
	s, problems := c.model.caseSheet(sheet, "sizes to choose from stand in a sheet of cases")
	if s == nil {
		return problems
	}
	if q.IsText() {
		return c.textsOf(i, p, s, column)
	}
	col := c.model.tables[s.Name].column(column)
	if col == nil {
		message, hint := c.model.unknownIn(s, column)
		return []sheets.Problem{p.fault(message, hint)}
	}
	own, problems := c.model.data(col)
	if len(problems) > 0 {
		return problems
	}
	if own.unit.Dim != q.Unit.Dim || (own.unit.Kind == units.Date) != (q.Unit.Kind == units.Date) {
		return []sheets.Problem{p.fault(fmt.Sprintf("%s.%s is %s, but %s %s", sheet, column, typeOf(own.unit), q.Name,
			isIn(q.Unit)), "")}
	}
	var values []float64
	for k := range own.values {
		if v := own.values[k].Reading; Has(v) {
			values = append(values, own.unit.ToSI(v))
		}
	}
	slices.Sort(values)
	if values = slices.Compact(values); len(values) == 0 {
		return []sheets.Problem{p.fault(sheet+"."+column+" holds no number",
			"fill it in, or write a list, as in \""+q.Name+" = 100, 125 mm\"")}
	}
	c.addList(i, values, nil)
	return nil
}

// textsOf takes the texts of a column, or the keys of a sheet.
func (c *chooser) textsOf(i int, p place, s *sheets.Sheet, column string) []sheets.Problem {
	var texts []string
	add := func(cell sheets.Cell) {
		if text := strings.TrimSpace(cell.Text); text != "" && !slices.Contains(texts, text) {
			texts = append(texts, text)
		}
	}
	at := slices.IndexFunc(s.Columns, func(col sheets.Column) bool { return col.Name.Text == column })
	if at < 0 && column != s.Key.Text {
		message, hint := c.model.unknownIn(s, column)
		return []sheets.Problem{p.fault(message, hint)}
	}
	for k := range s.Cases {
		if at < 0 {
			add(s.Cases[k].Name)
			continue
		}
		add(s.Cases[k].Cells[at])
	}
	if len(texts) == 0 {
		return []sheets.Problem{p.fault(s.Name+"."+column+" holds no text", "")}
	}
	values := make([]float64, len(texts))
	for k, text := range texts {
		values[k] = c.model.textIndex(text)
	}
	c.addList(i, values, texts)
	return nil
}

// keep collects the limits that depend on the choice. A given's own limit that
// is a number is an end of its range already.
func (c *chooser) keep(reached []bool) {
	for _, q := range c.model.Quantities {
		if q.IsText() || q.IsVerdict() || q.value == tape.None {
			continue
		}
		chosen := slices.ContainsFunc(c.Choices, func(o Choice) bool { return o.Quantity == q })
		for _, low := range []bool{true, false} {
			limit := q.highAt
			if low {
				limit = q.lowAt
			}
			if limit == tape.None || !reached[q.value] && !reached[limit] {
				continue
			}
			if chosen && !reached[limit] && c.isRanged(q) && !c.sure {
				continue
			}
			if v := c.base[limit]; tape.IsMissing(v) && !reached[limit] {
				c.leaveOut(q)
				continue
			}
			c.addKeeper(q, low, limit, false, math.NaN())
		}
	}
}

// keepSpreads takes the spread of each margin off it, so that what is chosen
// passes and is not only likely to.
func (c *chooser) keepSpreads() {
	var roots []tape.Register
	for _, k := range c.keepers {
		roots = append(roots, k.margin)
	}
	s := tape.Differentiate(c.tape, c.model.seeds(), roots)
	for i := range c.keepers {
		if spread := s.Spread(c.keepers[i].margin); spread != tape.None {
			kept := c.tape.Mul(c.tape.Constant(keptSpread), spread)
			c.keepers[i].margin = c.tape.Binary(tape.OpSub, c.keepers[i].margin, kept)
		}
	}
}

// keptSpread is how much of a spread limits are kept by: a formula that bends may
// have a longer tail than its derivatives say, and what is chosen is judged by
// samples.
const keptSpread = 1.03

func (c *chooser) isRanged(q *Quantity) bool {
	return slices.ContainsFunc(c.ranged, func(i int) bool { return c.Choices[i].Quantity == q })
}

func (c *chooser) leaveOut(q *Quantity) {
	if !slices.Contains(c.Unjudged, q) {
		c.Unjudged = append(c.Unjudged, q)
	}
}

// evaluate computes the goal and the margins for values of the ranged givens,
// with the listed ones as they are in sizes.
func (c *chooser) evaluate(sizes []float64, x, out [][]float64) {
	sign := 1.0
	if c.Most {
		sign = -1
	}
	for first := 0; first < len(out[0]); first += tape.BlockSize {
		n := min(tape.BlockSize, len(out[0])-first)
		b := c.worker.Run(0, n, func(b *tape.Block) {
			for k, i := range c.ranged {
				copy(b.In[i], x[k][first:first+n])
			}
			for k, i := range c.listed {
				for j := range n {
					b.In[i][j] = sizes[k]
				}
			}
		})
		for k := range out {
			for j, v := range b.Out[k] {
				if !tape.Usable(v) {
					v = math.NaN()
				}
				if k == 0 {
					v *= sign
				}
				out[k][first+j] = v
			}
		}
	}
}

// compile makes the program that evaluate runs.
func (c *chooser) compile() {
	outputs := []tape.Register{c.Goal.value}
	for _, k := range c.keepers {
		outputs = append(outputs, k.margin)
	}
	c.worker = tape.NewProgram(c.tape, c.inputs(), outputs, c.tape.Continue(c.base)).NewWorker(tape.BlockSize)
}

// middle is a choice from the middle of the ranges, and the first of what is listed.
func (c *chooser) middle() map[tape.Register]float64 {
	set := map[tape.Register]float64{}
	for k, i := range c.ranged {
		set[c.Choices[i].Quantity.value] = c.from[k] + 0.5*(c.to[k]-c.from[k])
	}
	for k, i := range c.listed {
		set[c.Choices[i].Quantity.value] = c.lists[k][0]
	}
	return set
}

// dropOpen leaves out limits that are open for every choice. It looks at the
// middle of the ranges.
func (c *chooser) dropOpen() {
	values := c.tape.Once(c.middle())
	c.keepers = slices.DeleteFunc(c.keepers, func(k keeper) bool {
		if !tape.IsMissing(values[k.margin]) {
			return false
		}
		c.leaveOut(k.Quantity)
		return true
	})
}

// search goes through the combinations of the lists, and for each of them, or
// for those that promise most, through the ranges.
func (c *chooser) search() {
	c.dropOpen()
	c.compile()
	count := 1
	for _, list := range c.lists {
		count *= len(list)
	}
	order := make([]int, count)
	for i := range order {
		order[i] = i
	}
	if len(c.ranged) > 0 && count > mostSearches {
		order = c.promising(count)
	}
	var best *optimum.Point
	var bestSizes []float64
	var closest *optimum.Point
	var closestSizes []float64
	for _, number := range order {
		sizes := c.sizes(number)
		task := &optimum.Task{From: c.from, To: c.to, Limits: len(c.keepers),
			Values: func(x, out [][]float64) { c.evaluate(sizes, x, out) }}
		found := task.Least()
		c.Starts += found.Starts
		if found.Best != nil && (best == nil || found.Best.Value < best.Value) {
			best, bestSizes = found.Best, sizes
			c.Ended = found.Best.Starts
			c.Others = nil
			for _, o := range found.Others {
				c.Others = append(c.Others, c.other(o, sizes))
			}
		}
		if found.Closest != nil && (closest == nil || c.broken(found.Closest) < c.broken(closest)) {
			closest, closestSizes = found.Closest, sizes
		}
	}
	switch {
	case best != nil:
		c.settle(best, bestSizes)
	case closest != nil:
		c.choose(closest.X, closestSizes)
		for k, v := range closest.Limits {
			if keeper := c.keepers[k]; v < 0 {
				b := c.bound(keeper)
				b.Price = b.Unit.DiffFromSI(-v)
				c.Broken = append(c.Broken, b)
			}
		}
	default:
		c.explain()
	}
}

// broken is how far a point is from being allowed: the sum of what the limits
// are broken by, as shares of them.
func (c *chooser) broken(p *optimum.Point) float64 {
	sum := 0.0
	for k, v := range p.Limits {
		if keeper := c.keepers[k]; v < 0 {
			limit := c.bound(keeper)
			sum += -v / math.Max(math.Abs(limit.Unit.DiffToSI(limit.Limit)), math.SmallestNonzeroFloat64)
		}
	}
	return sum
}

// sizes gives one combination of the lists.
func (c *chooser) sizes(number int) []float64 {
	sizes := make([]float64, len(c.lists))
	for k, list := range c.lists {
		sizes[k] = list[number%len(list)]
		number /= len(list)
	}
	return sizes
}

// promising orders the combinations by the best that a coarse look finds, and
// keeps the first.
func (c *chooser) promising(count int) []int {
	const looks = 5 // along each range
	points := 1
	for range c.ranged {
		points *= looks
	}
	x, out := make([][]float64, len(c.ranged)), make([][]float64, 1+len(c.keepers))
	for k := range x {
		x[k] = make([]float64, points)
		step := 1
		for range k {
			step *= looks
		}
		for i := range x[k] {
			x[k][i] = c.from[k] + (c.to[k]-c.from[k])*float64(i/step%looks)/(looks-1)
		}
	}
	for k := range out {
		out[k] = make([]float64, points)
	}
	merits, order := make([]float64, count), make([]int, count)
	for number := range merits {
		c.evaluate(c.sizes(number), x, out)
		merits[number], order[number] = math.Inf(1), number
		for i := range points {
			merit := out[0][i]
			for k := range c.keepers {
				if v := out[1+k][i]; v < 0 {
					merit += 10 * math.Abs(merit) * -v
				}
			}
			if merit < merits[number] {
				merits[number] = merit
			}
		}
	}
	sorting.Stable(order, func(a, b int) int { return cmp.Compare(merits[a], merits[b]) })
	return order[:mostSearches]
}

// choose writes the values of a choice.
func (c *chooser) choose(x, sizes []float64) {
	for k, i := range c.ranged {
		c.Choices[i].Value = c.Choices[i].Unit.FromSI(x[k])
		switch x[k] { // an end is what was written, to the last bit
		case c.from[k]:
			c.Choices[i].Value = c.Choices[i].From
		case c.to[k]:
			c.Choices[i].Value = c.Choices[i].To
		}
	}
	for k, i := range c.listed {
		if at := slices.Index(c.lists[k], sizes[k]); c.texts[k] != nil {
			c.Choices[i].Text = c.texts[k][at]
			continue
		}
		c.Choices[i].Value = c.Choices[i].Unit.FromSI(sizes[k])
	}
}

func (c *chooser) other(p *optimum.Point, sizes []float64) OtherOptimum {
	o := OtherOptimum{Values: make([]float64, len(c.Choices)), Value: c.goal(p.Value)}
	for k, i := range c.ranged {
		o.Values[i] = c.Choices[i].Unit.FromSI(p.X[k])
	}
	for k, i := range c.listed {
		o.Values[i] = c.Choices[i].Unit.FromSI(sizes[k])
	}
	return o
}

func (c *chooser) goal(si float64) float64 {
	if c.Most {
		si = -si
	}
	return c.Goal.Unit.FromSI(si)
}

// settle writes the best choice down, with what binds and what the limits make
// of it.
func (c *chooser) settle(p *optimum.Point, sizes []float64) {
	c.choose(p.X, sizes)
	c.Value, c.Priced = c.goal(p.Value), p.Differential
	price := func(si float64, u units.Unit) float64 { return c.Goal.Unit.DiffFromSI(si * u.DiffToSI(1)) }
	for k, keeper := range c.keepers {
		if p.Binds[k] && p.Prices[k] != 0 { // what is met and is worth nothing does not bind
			b := c.bound(keeper)
			b.Price = price(p.Prices[k], b.Unit)
			c.Binding = append(c.Binding, b)
		}
	}
	for k, i := range c.ranged {
		choice := &c.Choices[i]
		if p.BindsAtLow[k] {
			c.Binding = append(c.Binding, Binding{choice.Quantity, choice.Unit, true, choice.From,
				price(p.Low[k], choice.Unit), !choice.Low})
		}
		if p.BindsAtHigh[k] {
			c.Binding = append(c.Binding, Binding{choice.Quantity, choice.Unit, false, choice.To,
				price(p.High[k], choice.Unit), !choice.High})
		}
	}
	sorting.Stable(c.Binding, func(a, b Binding) int { return cmp.Compare(b.worth(), a.worth()) })
	c.At = c.judge()
}

// worth orders the limits: by what one per cent of each is worth.
func (b *Binding) worth() float64 {
	if !Has(b.Price) {
		return 0
	}
	return math.Abs(b.Price * b.Limit)
}

// bound tells a limit at the choice that was made.
func (c *chooser) bound(k keeper) Binding {
	b := k.Binding
	if !Has(b.Limit) {
		set := map[tape.Register]float64{}
		for i := range c.Choices {
			set[c.Choices[i].Quantity.value] = c.si(i)
		}
		b.Limit = b.Unit.FromSI(c.tape.Once(set)[k.limit])
	}
	return b
}

// si is what was chosen, as the tape knows it.
func (c *chooser) si(i int) float64 {
	choice := &c.Choices[i]
	if choice.Quantity.IsText() {
		return c.model.textIndex(choice.Text)
	}
	return choice.Unit.ToSI(choice.Value)
}

// judge finds what the limits of the notebook say of the choice.
func (c *chooser) judge() Case {
	s := &Sweep{model: c.model, base: c.base}
	for i := range c.Choices {
		choice := &c.Choices[i]
		g := &Range{Quantity: choice.Quantity, Unit: choice.Unit, N: 1, list: []float64{choice.Value}}
		if choice.Quantity.IsText() {
			g.list, g.texts, g.indexes = nil, []string{choice.Text}, []float64{c.si(i)}
		}
		s.Over = append(s.Over, g)
	}
	if s.choose() != nil || s.NoLimit {
		s.Show = nil
	}
	s.Show = slices.DeleteFunc(s.Show, func(q *Quantity) bool { return q == c.Goal })
	s.Show = append([]*Quantity{c.Goal}, s.Show...)
	result, _ := s.Judge([]int{0})
	return result.Cases[0]
}

// explain is why the goal cannot be computed.
func (c *chooser) explain() {
	tr := c.model.newTrace(c.tape, c.tape.Once(c.middle()))
	why := tr.explain(c.Goal.value)
	switch {
	case why.failed != tape.None:
		p := tr.failure(why.failed)
		c.Failure = &p
	case len(why.needs) > 0:
		var names []string
		for _, need := range why.needs {
			names = append(names, need.Name)
		}
		c.Failure = &sheets.Problem{Message: c.Goal.Name + " is open, it needs " + words.Listed(names, mostNames),
			Hint: "fill it in, or give it for this run with --set"}
	default:
		c.Failure = &sheets.Problem{Message: c.Goal.Name + " or a limit cannot be computed for any choice",
			Hint: "rambook check shows what fails"}
	}
}
