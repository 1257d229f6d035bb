package calc

import (
	"maps"
	"slices"
	"strings"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// casesWhere gives what finds in which cases of a sheet a condition holds. Its names are
// quantities, and columns of the sheet; the header of the first column is the
// case's own name, a number where all names are.
func (m *Model) casesWhere(cs *caseSheet, condition string) (func() []bool, []sheets.Problem) {
	p := inArgument("--where", condition)
	texts := m.textsIn(cs.sheet)
	root, fault := parseFormula(condition)
	if fault != nil {
		placed := p.placed(fault)
		if quoted := texts.quoted(condition); quoted != "" {
			placed.Hint = "a text stands in quotes: --where " + quoted
		}
		return nil, []sheets.Problem{placed}
	}
	c := m.compiler()
	wider := *m
	wider.byName, wider.text, wider.texts = maps.Clone(m.byName), maps.Clone(m.text), slices.Clone(m.texts)
	wider.Quantities = slices.Clone(m.Quantities)
	c.model = &wider
	l := &lowering{compiler: c, tape: m.tape.Extend()}
	columns := slices.Clone(cs.given)
	input := func(col *column) {
		if wider.byName[col.name] != nil || !IsName(col.name) {
			return
		}
		at := l.tape.Input(tape.Missing)
		q := newQuantity(col.name, col.unit, col.typ)
		q.value, q.passed = at, at
		wider.byName[col.name] = q
		wider.Quantities = append(wider.Quantities, q)
		columns = append(columns, &givenColumn{quantity: q, column: col})
	}
	used := map[string]bool{}
	root.walk(func(n *node) {
		if _, isUnit := units.Lookup(n.name); n.kind == nameNode && !isUnit {
			n.name = m.spelledIn(cs.sheet, n.name)
			if strings.EqualFold(n.name, cs.sheet.Key.Text) && m.byName[n.name] == nil {
				n.name = cs.sheet.Key.Text
			}
			used[n.name] = true
		}
	})
	if faults := texts.takeBare(p, root); len(faults) > 0 {
		return nil, faults
	}
	for _, col := range m.tables[cs.sheet.Name].columns {
		if col.quantity != nil {
			continue
		}
		own := *col // what is read here is no business of the model's
		if used[col.name] {
			if own.unit.Symbol == "" && remarks(cs.sheet, own.index) {
				own.unit = units.Unit{Symbol: "text", Kind: units.Text}
				own.typ = typeOf(own.unit)
			}
			own.loaded = false
			c.load(&own, nil)
		} else {
			own.values = slices.Repeat([]float64{tape.Missing}, len(cs.sheet.Cases))
		}
		input(&own)
	}
	input(keyColumn(cs.sheet, &wider))
	f := &formula{place: p, text: condition, parsed: parsed{root: root}, out: tape.None}
	c.resolve(f, root)
	if t := c.inferFormula(f); t.Sort != function.Truth && t.Sort != function.Unknown {
		c.report(p.fault("a condition is needed here, found "+function.WithArticle(t),
			`write it as "setting > 24*MPa and remark == \"new oil\""`))
	}
	if len(c.problems) > 0 {
		return nil, c.problems
	}
	at := l.formula(f)
	return func() []bool {
		wide := &caseSheet{sheet: cs.sheet, given: columns, scatters: cs.scatters}
		base := l.tape.Once(nil)
		keep := make([]bool, len(cs.sheet.Cases))
		program := tape.NewProgram(l.tape, wide.inputs(), []tape.Register{at}, base)
		w := program.NewWorker(tape.BlockSize)
		for first := 0; first < len(keep); first += tape.BlockSize {
			b := w.Run(first, min(tape.BlockSize, len(keep)-first), func(b *tape.Block) { wide.fill(b, base) })
			for i := range b.N {
				keep[first+i] = b.Out[0][i] == 1
			}
		}
		return keep
	}, nil
}

// choosable are the texts that a condition may ask for: by the name of a column of a
// sheet, or of a text quantity, what stands in its cells.
type choosable map[string][]string

// textsIn lists them, for the cases of a sheet.
func (m *Model) textsIn(s *sheets.Sheet) choosable {
	texts := choosable{}
	add := func(name, text string) {
		if text = strings.TrimSpace(text); text != "" && !slices.Contains(texts[name], text) {
			texts[name] = append(texts[name], text)
		}
	}
	for _, q := range m.Quantities {
		if q.IsText() {
			for _, text := range append(m.Choices(q.Name), q.Row.Entry.Text) {
				add(q.Name, text)
			}
		}
	}
	for _, col := range m.tables[s.Name].columns {
		if col.unit.Kind == units.Text || col.quantity == nil && col.unit.Symbol == "" && remarks(s, col.index) {
			for i := range s.Cases {
				add(col.name, s.Cases[i].Cells[col.index].Text)
			}
		}
	}
	for i := range s.Cases {
		add(s.Key.Text, s.Cases[i].Name.Text)
	}
	return texts
}

// takeBare takes a word without quotes for a text where a text is compared with it: the
// shell has taken the quotes away, or nobody thought of them. A word that stands in no
// cell is refused with those that do.
func (texts choosable) takeBare(p place, root *node) (problems []sheets.Problem) {
	root.walk(func(n *node) {
		if n.kind != binaryNode || n.name != "==" && n.name != "!=" {
			return
		}
		for i, word := range n.args {
			other := n.args[1-i]
			known := texts[other.name]
			if word.kind != nameNode && word.kind != textNode || other.kind != nameNode || len(known) == 0 ||
				texts[word.name] != nil {
				continue
			}
			text := words.Spelled(word.name, known)
			if slices.Contains(known, text) || word.kind == textNode {
				word.kind, word.name = textNode, text
				continue
			}
			problems = append(problems, p.problem(word.span(),
				"no case has the "+other.name+" "+words.Quoted(word.name),
				words.DidYouMean(word.name, known, "found: "+words.Listed(words.AllQuoted(known), mostNames))))
		}
	})
	return problems
}

// quoted is a condition that cannot be read since a text of several words stands in it
// without quotes, as it is typed in a shell; "" if it is no such condition.
func (texts choosable) quoted(condition string) string {
	for _, sign := range []string{"==", "!=", "="} {
		name, text, found := strings.Cut(condition, sign)
		name, text = strings.TrimSpace(name), strings.TrimSpace(text)
		name = words.Spelled(name, slices.Collect(maps.Keys(texts)))
		if known := texts[name]; found && len(known) > 0 && !strings.ContainsAny(text, "'\"") {
			if sign == "=" {
				sign = "=="
			}
			return "\"" + name + " " + sign + " '" + words.Spelled(text, known) + "'\""
		}
	}
	return ""
}
