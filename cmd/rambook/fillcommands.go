package main

import (
	"cmp"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/units"
	"rambook/units/words"
)

// command is what an answer asks of the walk itself, in the words that people try.
func (q *question) command(answer string) string {
	if q.unit.Kind != units.Text || q.gauge {
		switch strings.ToLower(answer) {
		case "q", "quit", "exit":
			return "q"
		case "help", "h":
			return "?"
		}
	}
	return answer
}

// explain prints more about a question.
func (w *walk) explain(q *question) {
	if q.gauge {
		w.say(4, gaugeHelp)
		return
	}
	if choices := q.choices(w.revision.model); len(choices) > 0 {
		w.say(4, "one of "+words.Listed(choices, len(choices)))
	}
	row := q.quantity.Row
	layout := page.Layout{}
	if _, isCase := q.cell.(caseCell); isCase && q.note != "" {
		w.say(4, q.note) // it stands above the first case only
	}
	if now := w.stands(q); q.reading && calc.ReadsAsFormula(now) {
		w.say(4, "of a log: "+now)
	}
	if q.quantity.Formula != "" {
		w.say(4, q.quantity.Name+" = "+q.quantity.Formula)
	}
	if j := w.judged(w.revision.before, q); j != nil {
		if calc.Has(j.Low) {
			w.say(4, "not below "+strings.TrimSpace(page.Beside(layout.LowText(j), j.Unit)+" "+bracketed(j.LowName)))
		}
		if calc.Has(j.High) {
			w.say(4, "not above "+strings.TrimSpace(page.Beside(layout.HighText(j), j.Unit)+" "+bracketed(j.HighName)))
		}
	}
	if q.quantity.With != "" {
		if g := w.revision.model.Gauge(q.quantity.With); g != nil {
			w.say(4, g.Describe())
		}
	}
	if !row.Spread.Blank() {
		w.say(4, "read to ± "+row.Spread.Text)
	}
	if users := w.revision.model.UsedBy(q.quantity.Name); len(users) > 0 {
		w.say(4, "needed for "+words.Listed(users, page.MostNames))
	}
	switch {
	case q.unit.Kind == units.Tick:
		w.say(4, "Answer yes once it is done, no if it is not, or - WHY if the machine has none.")
		return
	case q.unit.Kind > units.Point:
		w.say(4, "Answer with what stands there, or - WHY if the machine has none.")
		return
	}
	w.say(4, "Answer with a number in "+cmp.Or(page.ShownUnit(q.unit),
		"no unit")+", or with a unit of its own; several numbers, such as 4.4 4.5 4.3, are repeated runs. "+
		"The name of another row stands for what was read there. - WHY if the machine has none.")
}

func bracketed(name string) string {
	if name == "" {
		return ""
	}
	return "(" + name + ")"
}
