package page

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units"
)

// Measurement is a cell that the notebook waits for.
type Measurement struct {
	Quantity *calc.Quantity
	Reading  bool          // a planned reading against a formula, not an open given
	In       *sheets.Sheet // whose lines have it each, nil if its row has it
}

// ToMeasure lists the open givens and the planned readings, in the order of
// the sheets, which is the order in which one walks around the machine. A
// formula has a planned reading if its row gives a spread but no reading.
func ToMeasure(model *calc.Model, r *calc.Report) []Measurement {
	var list []Measurement
	for i := range r.Quantities {
		q := r.Quantities[i].Quantity
		switch {
		case r.Quantities[i].State == calc.Absent, r.Quantities[i].State == calc.ByCase:
		case q.IsOpen():
			list = append(list, Measurement{q, false, model.ListedIn(q)})
		case q.IsPlanned():
			list = append(list, Measurement{q, true, nil})
		}
	}
	return list
}

// toDo names the cells to fill in, in that order: the entries, before them what
// keeps a value open from a sheet that is not shown, and the readings to take.
func toDo(model *calc.Model, r *calc.Report) (enter, measure []string) {
	var first, here, elsewhere []string
	told := map[string]bool{}
	if main := Headline(r); main != nil && main.Verdict == calc.Open {
		for _, need := range main.Needs { // what the first verdict waits for
			if need.Fails {
				continue
			}
			name := cmp.Or(listed(model, need), need.Name)
			if !told[name] {
				first = append(first, needed(model, need))
			}
			told[need.Name], told[name] = true, true
		}
	}
	shown := map[string]bool{}
	for _, m := range ToMeasure(model, r) {
		switch {
		case told[m.Cell()]:
		case m.Reading:
			measure = append(measure, m.place())
		default:
			here = append(here, m.place())
		}
		told[m.Cell()] = true
	}
	for i := range r.Quantities {
		shown[r.Quantities[i].Quantity.Sheet.Name] = true
	}
	for _, result := range r.Cases {
		shown[result.Sheet.Name] = true
	}
	for j := range r.All() {
		for _, need := range j.Needs {
			if told[need.Name] || need.Fails || told[listed(model, need)] {
				continue
			}
			told[need.Name] = true
			if at := needed(model, need); shown[need.Sheet] {
				here = append(here, at)
			} else {
				elsewhere = append(elsewhere, at)
			}
		}
	}
	return slices.Concat(first, elsewhere, here), measure
}

// listed is the given that a cell in the lines of a sheet replaces where it is filled
// in: what is named as lacking in those lines is named once.
func listed(model *calc.Model, need calc.Need) string {
	name := need.Name[strings.LastIndexByte(need.Name, '.')+1:]
	if q := model.Quantity(name); q != nil && need.Sheet != q.Sheet.Name {
		if in := model.ListedIn(q); in != nil && in.Name == need.Sheet {
			return name
		}
	}
	return ""
}

// needed names what something waits for, and where it stands.
func needed(model *calc.Model, need calc.Need) string {
	if q := model.Quantity(listed(model, need)); q != nil {
		return Measurement{q, false, model.Book.Sheet(need.Sheet)}.place()
	}
	if q := model.Quantity(need.Name); q != nil && q.IsOpen() {
		return Measurement{q, false, model.ListedIn(q)}.place()
	}
	return fmt.Sprintf("%s (%s, line %d)", need.Name, need.Sheet, need.Line)
}

// Cell is what `set` calls the place to fill in.
func (m Measurement) Cell() string {
	if m.Reading {
		return m.Quantity.Name + ".reading"
	}
	return m.Quantity.Name
}

// place names the cell and where it stands.
func (m Measurement) place() string {
	switch {
	case m.In != nil && len(m.In.Cases) == 0:
		return m.Cell() + " in each line of " + m.In.Name + " (none yet)"
	case m.In != nil:
		return m.Cell() + " in the lines of " + m.In.Name + " that lack it"
	}
	return fmt.Sprintf("%s (%s, line %d)", m.Cell(), m.Quantity.Sheet.Name, m.Quantity.Row.Name.Line)
}

// Line describes the cell for a list of things to do.
func (m Measurement) Line() string {
	text := cmp.Or(m.In, m.Quantity.Sheet).Name + ": " + m.Cell()
	if symbol := m.Quantity.Unit.Symbol; symbol != "" && m.Quantity.Unit.Kind < units.Date {
		text += " in " + symbol
	}
	if note := m.Quantity.Row.Note.Text; note != "" {
		text += ", " + Printable(note)
	}
	return text
}
