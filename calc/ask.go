package calc

import (
	"slices"
	"strings"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units/words"
)

// This file finds what the arguments of a command name.

// mostNames is how many names a sentence lists, to be still read.
const mostNames = 8

// refusal is a problem of what was asked.
//
//go:noinline
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
