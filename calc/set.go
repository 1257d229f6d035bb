package calc

import (
	"maps"
	"slices"
	"strings"
)

// replacement is one `NAME = ENTRY` of a run.
type replacement struct {
	place
	entry string
}

// readSets reads the replacements of a run; of two for one name the later counts.
func (c *compiler) readSets(sets []string) map[string]*replacement {
	all := map[string]*replacement{}
	for _, s := range sets {
		p := inArgument("--set", s)
		name, value, found := strings.Cut(s, "=")
		if !found {
			c.report(p.fault("no `=` in "+quoted(s), `write --set "setting = 22 MPa"`))
			continue
		}
		if strings.TrimSpace(name) == "" {
			c.report(p.problem(span{0, 1}, "a name is missing before `=`", `write --set "setting = 22 MPa"`))
			continue
		}
		p.skip = len([]rune(name)) + 1 + len([]rune(value)) - len([]rune(strings.TrimLeft(value, " \t")))
		all[strings.TrimSpace(name)] = &replacement{place: p, entry: strings.TrimSpace(value)}
	}
	return all
}

// replace puts a replacement in place of a given's entry.
func (c *compiler) replace(q *Quantity, r *replacement) {
	whole := span{0, len([]rune(r.entry))}
	if q.IsFormula() {
		c.report(r.problem(whole, q.Name+" is a formula and cannot be set for a run", "set one of the givens it is computed from, or its reading with `rambook set "+q.Name+".reading`"))
		return
	}
	if r.entry == "" {
		q.entry = entry{}
		return
	}
	if formulaStart(r.entry) > 0 {
		c.report(r.problem(whole, "a run can only replace a given by a number or a text", "write a number with its unit, as in 22 MPa"))
		return
	}
	own := r.place
	own.skip, own.cell.Text = 0, r.entry
	before := len(c.problems)
	e := c.read(own, q.Unit, entryRole)
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
