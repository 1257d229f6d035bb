package main

import (
	"cmp"
	"errors"
	"slices"
	"strings"
	"unicode/utf8"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units/words"
)

// This file is about answers that are not taken. On a terminal the question comes
// again. In a file of answers the next line is the answer to the next question, so
// the row of a refused one stays open and is named at the end.

// refusal is an answer over a pipe that was not taken.
type refusal struct {
	name     string // by which NAME=ENTRY answers the question; "" for one that there is not
	answer   string
	problems []sheets.Problem
}

// refusals are those that no later answer has put right.
type refusals []refusal

// refuse prints why an answer is not taken, and reports whether the walk goes on to
// the next question: over a pipe, unless the disk takes no answer at all.
func (w *walk) refuse(q *question, answer string, err error) bool {
	known := (*problemsError)(nil)
	if !errors.As(err, &known) {
		if w.isPiped() {
			w.broken = err
			return false
		}
		w.say(4, err.Error())
		return false
	}
	var one refusal
	one.answer = answer
	what := ""
	if q != nil {
		one.name, what = nameOf(q), nameOf(q)+": "
		if q.gauge {
			what = q.what + ": "
		}
	}
	var said []string // one answer may fill two cells, and be wrong for both alike
	for _, p := range known.Problems {
		text := p.Message
		if p.Hint != "" {
			text += "; " + p.Hint
		}
		if slices.Contains(said, text) {
			continue
		}
		w.say(4, text)
		said = append(said, text)
		one.problems = append(one.problems, sheets.Problem{File: "answers", Line: w.lines.count, Text: answer,
			To: utf8.RuneCountInString(answer), Message: what + p.Message, Hint: p.Hint})
	}
	if w.isPiped() {
		w.refused.forget(one.name)
		w.refused = append(w.refused, one)
	}
	return w.isPiped()
}

// forget drops what was refused of a question that has its answer.
func (r *refusals) forget(name string) {
	*r = slices.DeleteFunc(*r, func(one refusal) bool { return one.name == name && name != "" })
}

// has reports whether this answer to a question was refused before: who gives it
// once more means it.
func (r refusals) has(name, answer string) bool {
	return slices.ContainsFunc(r, func(one refusal) bool { return one.name == name && one.answer == answer })
}

// problems lists what is wrong with the answers that were not taken.
func (r refusals) problems() []sheets.Problem {
	var all []sheets.Problem
	for _, one := range r {
		all = append(all, one.problems...)
	}
	return all
}

// putRight takes what is left of a file of answers, which may name what was not
// taken, until nothing of that is left.
func (w *walk) putRight(ended bool) {
	for !ended && w.broken == nil && !w.over && len(w.refused) > 0 {
		var names []string
		for _, one := range w.refused {
			names = append(names, cmp.Or(one.name, words.Quoted(one.answer)))
		}
		answer, err := w.prompt("NAME=ENTRY puts right " + words.Listed(names, page.MostNames))
		if err != nil || answer == "" || answer == "q" {
			return
		}
		name, _, found := calc.Assigned(answer)
		name = strings.TrimSpace(name)
		if err := readable(answer); err != nil {
			w.refuse(nil, answer, err)
		} else if !found {
			w.refuse(nil, answer, problem("all questions have been asked", "write NAME=ENTRY"))
		} else if other := w.named(name); other != nil {
			w.take(other, answer)
		} else {
			w.unknown(nil, name, answer)
		}
	}
}

// unknown refuses NAME=ENTRY where there is no such row. One with a slip in the
// name of a question is an answer to it, so that no other line takes its place.
func (w *walk) unknown(q *question, name, answer string) bool {
	known := w.revision.model.Names()
	err := problem("there is no row "+words.Quoted(name),
		words.DidYouMean(name, known, "NAME=ENTRY answers for the row of that name"))
	if meant, found := words.Nearest(name, known); found && calc.IsName(meant) {
		if other := w.named(meant); other != nil {
			other.done = w.refuse(other, answer, err)
			return other == q && other.done
		}
	}
	w.refuse(nil, answer, err)
	return false
}
