package calc

import (
	"cmp"
	"math"
	"slices"

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

// bound describes a limit at the choice that was made.
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

// si is what was chosen, as the tape has it.
func (c *chooser) si(i int) float64 {
	choice := &c.Choices[i]
	if choice.Quantity.IsText() {
		return c.model.textIndex(choice.Text)
	}
	return choice.Unit.ToSI(choice.Value)
}

// judge holds the choice to the limits of the notebook.
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
