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

// This file is about `--set NAME = ENTRY` of a run: the entry of a given is replaced.

// replacement is one `NAME = ENTRY` of a run.
type replacement struct {
	place
	entry string
	row   *sheets.Row // whose entry it is; nil if there is none
	aside bool        // a formula is set aside, and what it is computed to matters no more
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

// rowNamed is the first row of that name, nil if there is none.
func (c *compiler) rowNamed(name string) *sheets.Row {
	for _, s := range c.model.Book.Sheets {
		for i := range s.Rows {
			if s.Rows[i].Name.Text == name {
				return &s.Rows[i]
			}
		}
	}
	return nil
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
		name = c.spelled(strings.TrimSpace(name))
		all[name] = &replacement{place: p, entry: strings.TrimSpace(value), row: c.rowNamed(name)}
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
		sets[name] = &replacement{place: inArgument("--over", name+" = "+entry), entry: entry, row: q.Row, aside: true}
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
