package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

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
		return append(problems, sheets.Problem{Message: "no given to choose is named",
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
		problems = append(problems, sheets.Problem{
			Message: fmt.Sprintf("%d givens are chosen from ranges, and %d is the most", len(c.ranged), mostChoices),
			Hint:    "fix one with --set, or let it come from a list, as in --within \"bore = 100, 125, 160 mm\""})
	}
	sizes := 1.0
	for _, list := range c.lists {
		sizes *= float64(len(list))
	}
	if sizes > mostSizes {
		problems = append(problems, sheets.Problem{
			Message: fmt.Sprintf("the lists have %.3g combinations, and %d is the most", sizes, mostSizes),
			Hint:    "write shorter lists"})
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
