package calc

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// This file finds what the arguments of a command name.

// mostNames is how many names a sentence lists, to be still read.
const mostNames = 8

// refusal is a problem of what was asked.
func refusal(message, hint string) []sheets.Problem {
	return []sheets.Problem{{Message: message, Hint: hint}}
}

// Spelled is the name of a quantity that was typed in any case of letters.
func (m *Model) Spelled(name string) string {
	if m.byName[name] != nil {
		return name
	}
	return words.Spelled(name, m.Names())
}

// spelledIn is the same of a quantity or a column of a case sheet. A column goes
// before a quantity that another column does not ask for.
func (m *Model) spelledIn(s *sheets.Sheet, name string) string {
	t := m.tables[s.Name]
	if m.byName[name] != nil || t.column(name) != nil {
		return name
	}
	return words.Spelled(name, slices.Concat(t.names(), m.Names()))
}

// ask finds the quantity that the text p begins with.
func (m *Model) ask(p place, name string) (*Quantity, []sheets.Problem) {
	asked := part(name, 0, len(name))
	if q := m.byName[m.Spelled(asked.text)]; q != nil {
		return q, nil
	}
	return nil, []sheets.Problem{p.problem(asked.span(), "no quantity is named "+words.Quoted(name),
		words.DidYouMean(asked.text, m.Names(), "`rambook check` lists the names"))}
}

// given finds the given that the text p begins with.
func (m *Model) given(p place, name string) (*Quantity, []sheets.Problem) {
	q, problems := m.ask(p, name)
	switch {
	case q != nil && q.IsVerdict():
		return nil, []sheets.Problem{p.problem(part(name, 0, len(name)).span(),
			q.Name+" is a verdict, and no number can replace it", "")}
	case q == nil || !q.IsFormula() || q.setAside:
		return q, problems
	}
	hint := "it depends on no given"
	if givens := m.givensOf(q); len(givens) > 0 {
		hint = "name a given that it is computed from: " + words.Listed(givens, mostNames)
	}
	return nil, []sheets.Problem{p.problem(part(name, 0, len(name)).span(),
		q.Name+" is computed and cannot be changed itself", hint)}
}

// numeric finds the quantity that an argument names, which has to be a number.
func (m *Model) numeric(argument, name string) (*Quantity, []sheets.Problem) {
	p := inArgument(argument, strings.TrimSpace(name))
	q, problems := m.ask(p, p.cell.Text)
	if q != nil && q.IsText() {
		return nil, []sheets.Problem{p.fault(q.Name+" is a text, not a number", "")}
	}
	return q, problems
}

// givensOf lists the givens that a quantity is computed from.
func (m *Model) givensOf(q *Quantity) []string {
	needed := m.tape.Needed([]tape.Register{q.value})
	var names []string
	for _, g := range m.Quantities {
		if !g.IsFormula() && needed[g.value] {
			names = append(names, g.Name)
		}
	}
	return names
}

// spelledSheet is the name of a sheet that was typed in any case of letters.
func (m *Model) spelledSheet(name string) string {
	var known []string
	for _, s := range m.Book.Sheets {
		known = append(known, s.Name)
	}
	return words.Spelled(name, known)
}

// caseSheet finds a case sheet. otherwise is why no other kind will do.
func (m *Model) caseSheet(name, otherwise string) (*sheets.Sheet, []sheets.Problem) {
	var known []string
	name = m.spelledSheet(name)
	for _, s := range m.Book.Sheets {
		if s.Name == name && s.Kind != sheets.Cases {
			return nil, refusal(words.Quoted(name)+" is a sheet of "+s.Kind.String()+", and "+otherwise, "")
		}
		if s.Kind == sheets.Cases {
			known = append(known, s.Name)
		}
	}
	if !slices.Contains(known, name) {
		hint := "the notebook has no case sheet"
		if len(known) > 0 {
			hint = "its case sheets are " + words.Listed(known, mostNames)
		}
		return nil, refusal("no sheet is named "+words.Quoted(name), words.DidYouMean(name, known, hint))
	}
	return m.Book.Sheet(name), nil
}

// notRun is why a formula has no values in the cases of a sheet.
func notRun(s *sheets.Sheet, name string) []sheets.Problem {
	return refusal("sheet "+s.Name+" asks for no formula, so the model is not run for its cases",
		"add a column "+words.Quoted(name)+" to it; its cells may be blank")
}

// unknownIn is for a name that stands for nothing in a case sheet, with what it
// may have been meant to be.
func (m *Model) unknownIn(s *sheets.Sheet, name string) (message, hint string) {
	columns := m.tables[s.Name].names()
	return "no quantity and no column of sheet " + s.Name + " is named " + words.Quoted(name),
		words.DidYouMean(name, slices.Concat(columns, m.Names()), "its columns are "+words.Listed(columns, mostNames))
}

// replacement is one `NAME = ENTRY` of a run.
type replacement struct {
	place
	entry string
	aside bool // a formula is set aside, and what it is computed to matters no more
}

// spelled is the name of a row that was typed in any case of letters, before the
// rows are compiled.
func (c *compiler) spelled(name string) string {
	var rows []string
	for _, s := range c.model.Book.Sheets {
		for i := range s.Rows {
			rows = append(rows, s.Rows[i].Name.Text)
		}
	}
	return words.Spelled(name, rows)
}

// readSets reads the replacements of a run; of two for one name the later counts.
func (c *compiler) readSets(sets []string) map[string]*replacement {
	all := map[string]*replacement{}
	for _, s := range sets {
		p := inArgument("--set", s)
		name, value, found := Assigned(s)
		if !found {
			c.report(p.fault("no `=` in "+words.Quoted(s), `write --set "setting = 22 MPa"`))
			continue
		}
		if strings.TrimSpace(name) == "" {
			c.report(p.problem(span{0, 1}, "a name is missing before `=`", `write --set "setting = 22 MPa"`))
			continue
		}
		p.skip = len([]rune(name)) + 1 + len([]rune(value)) - len([]rune(strings.TrimLeft(value, " \t")))
		if _, _, _, isCell := SplitCell(name); isCell {
			c.cellSets = append(c.cellSets, cellSet{place: p, name: name, entry: strings.TrimSpace(value)})
			continue
		}
		all[c.spelled(strings.TrimSpace(name))] = &replacement{place: p, entry: strings.TrimSpace(value)}
	}
	return all
}

// setAside adds replacements of the formulas that a run sets aside: each by the
// value that it has in the notebook, so that a run changes nothing but what it
// means to.
func (c *compiler) setAside(sets map[string]*replacement, opt Options) {
	if len(opt.Aside) == 0 {
		return
	}
	m, _ := Compile(c.model.Book, Options{Sets: opt.Sets})
	if m == nil {
		return // its problems come up again
	}
	values := m.tape.Once(nil)
	for _, name := range opt.Aside {
		q := m.byName[name]
		if q == nil || !q.IsFormula() || q.setAside || q.IsVerdict() {
			continue
		}
		entry := ""
		if v := values[q.value]; tape.Usable(v) {
			entry = fmt.Sprint(q.Unit.FromSI(v))
			switch q.Unit.Kind {
			case units.Date:
				entry = units.FormatDate(v)
			case units.Text:
				entry = m.texts[int(v)]
			}
		}
		sets[name] = &replacement{place: inArgument("--over", name+" = "+entry), entry: entry, aside: true}
	}
}

// replace puts a replacement in place of a given's entry.
func (c *compiler) replace(q *Quantity, r *replacement) {
	whole := span{0, len([]rune(r.entry))}
	if q.IsVerdict() {
		c.report(r.problem(whole, q.Name+" is a verdict, and no entry can replace it", "set what it judges"))
		return
	}
	if q.IsFormula() || r.aside || c.isSought(q.Name) {
		q.setAside = true
		c.model.setAside = append(c.model.setAside, q)
	}
	if r.entry == "" {
		q.entry = entry{}
		return
	}
	if q.Unit.Kind != units.Text && !IsName(r.entry) && ReadsAsFormula(r.entry) || formulaMark(r.entry) > 0 {
		c.report(r.problem(whole, "a run can only replace a given by a number or a text",
			"write a number with its unit, as in 22 MPa"))
		return
	}
	own := r.place
	own.skip, own.cell.Text = 0, r.entry
	before := len(c.problems)
	e := c.read(own, q.Unit, role{what: "entry", literal: true, whole: true, runs: true})
	for i := before; i < len(c.problems); i++ { // spans count from the whole argument
		p := &c.problems[i]
		p.Text, p.From, p.To = r.cell.Text, p.From+r.skip, p.To+r.skip
	}
	q.entry = e
}

// refuseUnused reports replacements of names that do not exist.
func (c *compiler) refuseUnused(sets map[string]*replacement) {
	for _, name := range slices.Sorted(maps.Keys(sets)) {
		p := sets[name].place
		p.skip = 0 // where the name stands
		typed, _, _ := strings.Cut(p.cell.Text, "=")
		_, problems := c.model.ask(p, typed)
		c.problems = append(c.problems, problems...)
	}
}
