package report

import (
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units"
)

// NewHandout gathers what a class is given on paper: the questions, with what is
// given and room for each answer; or, as the key, the answers.
func NewHandout(how *Options, model *calc.Model, r *calc.Report, key bool) (*Page, error) {
	w := newWriter(how)
	h := handout{page.NewBlindView(model, r, w.Layout), key}
	p := &Page{
		Title:    machineName(model, r) + ": questions",
		Handout:  true,
		Cautions: []string{page.Cautions},
		Facts:    []Fact{{"Name", strings.Repeat("…", 16)}, {"Date", strings.Repeat("…", 12)}},
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
	if tables := h.BlindView.Tables(); len(tables) > 0 {
		c := chapter{Title: "To look up"}
		c.addTables(tables...)
		p.Chapters = append(p.Chapters, c)
	}
	if !key {
		return p, nil
	}
	charts, err := w.charts(model, r, model.Steps(r, page.ShownWith(w.Numbers)))
	if len(charts.Parts) > 0 {
		p.Chapters = append(p.Chapters, charts)
	}
	p.Chapters = append(p.Chapters, chapter{Title: "How an answer is marked", Lead: []string{
		"An answer is right if it is off by no more than the ± beside it: the spread in its row, or 1 % if there is " +
			"none, which three digits allow. How far off the givens and the gauge may be does not count."}})
	return p, err
}

// handout lays out the questions or the answers.
type handout struct {
	BlindView page.BlindView
	key       bool
}

// sheet shows the rows of a sheet of quantities: the givens, then what is asked.
func (h handout) sheet(sheet *sheets.Sheet) table.Table {
	var t table.Table
	var names, given, answers, tolerances, unit, formulas []string
	for i := range h.BlindView.Report.Quantities {
		j := &h.BlindView.Report.Quantities[i]
		q := j.Quantity
		if q.Sheet != sheet {
			continue
		}
		t.Rows = append(t.Rows, table.Row{Heading: page.Printable(q.Row.Heading)})
		names, unit = append(names, q.Name), append(unit, page.ShownUnit(j.Unit))
		if !q.IsFormula() {
			given, answers, tolerances = append(given, h.BlindView.Given(j)), append(answers, ""),
				append(tolerances, "")
			formulas = append(formulas, "")
			continue
		}
		given = append(given, "")
		answers, tolerances = append(answers, h.answer(j)), append(tolerances, h.tolerance(j))
		formulas = append(formulas, page.Printable(q.Formula))
	}
	h.BlindView.Layout.AddColumn(&t, "quantity", table.Left, names)
	h.BlindView.Layout.AddColumn(&t, "given", table.Decimal, given)
	if h.key {
		h.BlindView.Layout.AddColumn(&t, "answer", table.Decimal, answers)
		h.BlindView.Layout.AddColumn(&t, "±", table.Decimal, tolerances)
		h.BlindView.Layout.AddColumn(&t, "unit", table.Left, unit)
		h.BlindView.Layout.AddColumn(&t, "formula", table.Left, formulas)
		return t
	}
	h.BlindView.Layout.AddColumn(&t, "unit", table.Left, unit)
	room := make([]string, len(names))
	for i := range room {
		if given[i] != "" {
			room[i] = "given"
		}
	}
	h.BlindView.Layout.AddColumn(&t, "answer", table.Left, room).ByHand = true
	return t
}

// answer is what is right. The digits are those of the tolerance, and not of the
// doubt.
func (h handout) answer(j *calc.Judged) string {
	if j.Unit.Kind == units.Ordinary && calc.Has(j.Value) {
		return h.BlindView.Layout.Numbers.Computed(j.Value, page.NoSpread)
	}
	return h.BlindView.Layout.ValueText(j)
}

func (h handout) tolerance(j *calc.Judged) string {
	if j.Unit.Kind != units.Ordinary || !calc.Has(j.Value) {
		return ""
	}
	return page.NumberStyle{Digits: 2}.Trimmed(j.Tolerance())
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
			if j.Reading = page.NoSpread; h.key {
				j.Reading = j.Value
			}
		}
	}
	plain := h.BlindView
	plain.Marks = nil
	if !h.key {
		plain.Blank = true
	}
	plain.Answers = h.answer
	tables := []table.Table{plain.Class(&blank)}
	tables[0].Title = "" // it is that of the chapter
	if h.key && answered {
		marked := h.BlindView.Class(result)
		marked.Title = "as answered"
		tables = append(tables, marked)
	}
	return tables
}
