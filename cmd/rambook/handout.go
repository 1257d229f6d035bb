package main

import (
	"strings"

	"rambook/calc"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units"
)

// newHandout gathers what a class is given on paper: the questions, with what is
// given and room for each answer; or, as the key, the answers.
func newHandout(how *paperOptions, model *calc.Model, r *calc.Report, key bool) (*page, error) {
	layout := screen{numbers: how.Numbers, width: unbounded}
	h := handout{newBlindView(model, r, layout), key}
	p := &page{
		Title:    machineName(model, r) + ": questions",
		Handout:  true,
		Cautions: []string{cautions},
		Facts:    []fact{{"Name", strings.Repeat("…", 24)}, {"Date", strings.Repeat("…", 12)}},
	}
	if key {
		p.Title = machineName(model, r) + ": answers"
		p.Facts = facts(how, model, r)
	}
	for _, sheet := range model.Book.Sheets {
		c := chapter{Title: sheet.Name}
		c.addTables(h.sheet(sheet))
		for i := range r.Cases {
			if r.Cases[i].Sheet == sheet {
				c.addTables(h.class(&r.Cases[i])...)
			}
		}
		if len(c.Parts) > 0 {
			p.Chapters = append(p.Chapters, c)
		}
	}
	if tables := h.tables(); len(tables) > 0 {
		c := chapter{Title: "To look up"}
		c.addTables(tables...)
		p.Chapters = append(p.Chapters, c)
	}
	if !key {
		return p, nil
	}
	charts, err := layout.charts(model, r, model.Steps(r, shownWith(layout.numbers)))
	if len(charts.Parts) > 0 {
		p.Chapters = append(p.Chapters, charts)
	}
	p.Chapters = append(p.Chapters, chapter{Title: "How an answer is marked", Lead: []string{
		"An answer is right if it is off by no more than the ± beside it, whatever the doubt of the givens and of the gauge: " +
			"that is the spread of the row's answer, failing that 1 %, which is what three digits are good for."}})
	return p, err
}

// handout lays out the questions or the answers.
type handout struct {
	blindView
	key bool
}

// sheet shows the rows of a sheet of quantities: the givens, then what is asked.
func (h handout) sheet(sheet *sheets.Sheet) table.Table {
	var t table.Table
	var names, given, answers, tolerances, unit, formulas []string
	for i := range h.report.Quantities {
		j := &h.report.Quantities[i]
		q := j.Quantity
		if q.Sheet != sheet {
			continue
		}
		t.Rows = append(t.Rows, table.Row{Heading: printable(q.Row.Heading)})
		names, unit = append(names, q.Name), append(unit, shownUnit(j.Unit))
		if !q.IsFormula() {
			given, answers, tolerances = append(given, h.given(j)), append(answers, ""), append(tolerances, "")
			formulas = append(formulas, "")
			continue
		}
		given = append(given, "")
		answers, tolerances = append(answers, h.answer(j)), append(tolerances, h.tolerance(j))
		formulas = append(formulas, printable(q.Formula))
	}
	h.addColumn(&t, "quantity", table.Left, names)
	h.addColumn(&t, "given", table.Decimal, given)
	if h.key {
		h.addColumn(&t, "answer", table.Decimal, answers)
		h.addColumn(&t, "±", table.Decimal, tolerances)
		h.addColumn(&t, "unit", table.Left, unit)
		h.addColumn(&t, "formula", table.Left, formulas)
		return t
	}
	h.addColumn(&t, "unit", table.Left, unit)
	room := make([]string, len(names))
	for i := range room {
		if given[i] != "" {
			room[i] = "given"
		}
	}
	h.addColumn(&t, "answer", table.Left, room).ByHand = true
	return t
}

// answer is what is right. The digits are those of the tolerance, and not of the
// doubt.
func (h handout) answer(j *calc.Judged) string {
	if j.Unit.Kind == units.Ordinary && calc.Has(j.Value) {
		return h.numbers.computed(j.Value, noSpread)
	}
	return h.value(j)
}

func (h handout) tolerance(j *calc.Judged) string {
	if j.Unit.Kind != units.Ordinary || !calc.Has(j.Value) {
		return ""
	}
	return numberStyle{digits: 2}.trimmed(j.Tolerance())
}

// class shows the students, each with numbers of their own: room for the answers,
// or the answers; and, where some have been handed in, what is made of them.
func (h handout) class(result *calc.CaseResult) []table.Table {
	blank := *result
	blank.Cases = make([]calc.Case, len(result.Cases))
	answered := false
	for i := range blank.Cases {
		blank.Cases[i] = result.Cases[i]
		blank.Cases[i].Values = append([]calc.Judged{}, result.Cases[i].Values...)
		for k := range blank.Cases[i].Values {
			j := &blank.Cases[i].Values[k]
			answered = answered || calc.Has(j.Reading) && j.Quantity.IsFormula()
			if j.Reading = noSpread; h.key {
				j.Reading = j.Value
			}
		}
	}
	plain := h.blindView
	plain.marks = nil
	if !h.key {
		plain.blank = true
	}
	plain.answers = h.answer
	tables := []table.Table{plain.class(&blank)}
	tables[0].Title = "" // it is that of the chapter
	if h.key && answered {
		marked := h.blindView.class(result)
		marked.Title = "as answered"
		tables = append(tables, marked)
	}
	return tables
}
