package main

import (
	"errors"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// take writes an answer, and reports whether the walk goes on to the next question.
func (w *walk) take(q *question, answer string) bool {
	if err := readable(answer); err != nil {
		return w.refuse(q, answer, err)
	}
	if name, entry, found := calc.Assigned(answer); found {
		name, entry = strings.TrimSpace(name), strings.TrimSpace(entry)
		other := w.named(name)
		switch {
		case other == nil && q.unit.Kind == units.Text: // what stands on a plate may have a = in it
		case other != nil && entry == "" && w.stands(other) == "":
			other.done = w.refuse(other, answer,
				problem("nothing stands behind "+name+"=; "+other.what+" stays blank", ""))
			return other == q && other.done
		case other != nil:
			other.done = w.take(other, entry)
			return other == q && other.done
		case calc.IsName(name):
			return w.unknown(q, name, answer)
		}
	}
	sure := w.refused.has(nameOf(q), answer)
	keep := func(sure bool) error { return w.takeGauge(q, answer, sure) }
	var err error
	if !q.gauge {
		var a response
		if err = w.asked(q, answer); err == nil {
			a, err = w.parse(q, answer)
		}
		keep = func(sure bool) error {
			a.sure = sure
			return w.write(q, a)
		}
	}
	if err == nil {
		err = keep(sure)
	}
	if doubt := (*doubtError)(nil); errors.As(err, &doubt) {
		if w.isPiped() {
			return w.refuse(q, answer, problem(doubt.question, nameOf(q)+"="+answer+" once more keeps it"))
		}
		w.say(4, doubt.question+". Type "+words.Quoted(answer)+" again to keep it.")
		again, failed := w.prompt(q.prompted())
		switch {
		case failed != nil:
			w.over = true
			return false
		case again == answer:
			err = keep(true)
		case again == "", again == "?", again == "<", again == "q":
			w.say(4, "Not kept.")
			return false
		default:
			return w.take(q, again)
		}
	}
	if err != nil {
		return w.refuse(q, answer, err)
	}
	w.refused.forget(nameOf(q))
	return true
}

// asked holds a question to the notebook as it is when its answer comes: who
// restates it meanwhile changes what a bare number means.
func (w *walk) asked(q *question, answer string) error {
	if err := w.catchUp(); err != nil {
		return err
	}
	unit, err := units.Parse(unitNow(q.cell, w.revision.book))
	if err != nil || unit.Symbol == q.unit.Symbol || q.unit.Kind > units.Point || unit.Kind > units.Point {
		return nil
	}
	was := q.unit
	q.unit = unit
	if !isBare(answer) {
		if runs, symbol := calc.Repeated(answer); len(runs) < 2 || symbol != "" {
			return nil
		}
	}
	return problem(q.what+" is in "+page.ShownUnit(unit)+" now, and was asked for in "+page.ShownUnit(was),
		"somebody has changed the notebook's units; answer again")
}

// named finds the question that NAME=ENTRY answers: one of the list, else of any
// other cell that the notebook has.
func (w *walk) named(name string) *question {
	known := w.revision.model.Names()
	for i := range w.questions {
		known = append(known, nameOf(&w.questions[i]))
	}
	name = words.Spelled(name, known)
	for i := range w.questions {
		other := &w.questions[i]
		if nameOf(other) == name {
			return other
		}
	}
	if q := w.revision.model.Quantity(name); q != nil && q.Row != nil && q.Sheet != nil {
		one := &question{cell: rowCell{q.Name, "entry"}, quantity: q, unit: q.Unit, what: q.Name,
			note: q.Row.Note.Text, assumed: q.IsAssumed()}
		if q.IsFormula() {
			one.cell, one.reading = rowCell{q.Name, "reading"}, true
		}
		return one
	}
	cell, err := readName(name)
	of, isCase := cell.(caseCell)
	if err != nil || !isCase {
		return nil
	}
	sheet, err := of.sheet(w.revision.book)
	if err != nil {
		return nil
	}
	row := slices.IndexFunc(sheet.Cases, func(r sheets.CaseRow) bool { return r.Name.Text == of.key })
	found, column := columnIn(sheet, of.column)
	if row < 0 || !found {
		return nil
	}
	one := w.ofCase(sheet, &sheet.Cases[row], column)
	return &one
}

// response is what an answer writes.
type response struct {
	entry    string
	note     string // for the logbook
	why      string // of n/a, for the row's note
	absent   bool
	repeated bool // several runs
	sure     bool
}

// parse reads an answer.
func (w *walk) parse(q *question, text string) (response, error) {
	first, rest, _ := strings.Cut(text, " ")
	switch {
	case calc.IsAbsent(first), first == "-":
		_, isCase := q.cell.(caseCell)
		switch {
		case q.reading, isCase && q.unit.Kind == units.Text:
			return response{}, problem("n/a is what the machine or a case lacks; this is a reading or a text of a case",
				"Enter skips it")
		case isCase && strings.TrimSpace(rest) != "":
			if err := keepsReasons(w.revision.book); err != nil {
				return response{}, err
			}
		}
		return response{entry: "n/a", why: strings.TrimSpace(rest), note: strings.TrimSpace(rest), absent: true}, nil
	case q.unit.Kind == units.Tick:
		return response{entry: map[string]string{"y": "yes", "n": "no"}[strings.ToLower(text)] + ifNot(text, "y", "n")},
			nil
	case q.unit.Kind == units.Date && strings.EqualFold(text, "today"):
		return response{entry: w.now().Format(time.DateOnly)}, nil
	case q.unit.Kind == units.Date:
		if v, err := units.ParseValue(text); err == nil && v.Unit.Kind == units.Date {
			return response{entry: text}, nil
		}
		return response{}, problem(words.Quoted(text)+" is no date",
			"write it as "+w.now().Format(time.DateOnly)+", or today")
	case q.unit.Kind > units.Point:
		return response{entry: text}, nil
	}
	if copied := w.copied(q, text); copied != "" {
		text = copied
	} else if calc.ReadsAsFormula(text) {
		return response{}, w.noNumber(q, text)
	}
	if calc.IsRuns(text) {
		return response{entry: text, repeated: true}, nil
	}
	if runs, unit := calc.Repeated(text); len(runs) > 1 {
		return w.runs(runs, unit)
	}
	if bad := oneBad(text); bad != "" {
		return response{}, problem("of these runs "+words.Quoted(bad)+" is no number",
			"write numbers with blanks between, such as 4.4 4.5 4.3, and a unit behind the last")
	}
	return response{entry: text}, nil
}

// readable refuses an answer with signs that no sheet takes: what an arrow key
// sends, bytes of another encoding.
func readable(answer string) error {
	if !utf8.ValidString(answer) {
		return problem("the answer is not in UTF-8", "type it again, or save the file of answers as UTF-8")
	}
	if strings.ContainsFunc(answer, func(r rune) bool { return unicode.IsControl(r) && r != '\t' }) {
		return problem("the answer holds a sign that is no letter, such as an arrow key sends", "type it again")
	}
	return nil
}

// noNumber is what to print of an answer that reads as a formula.
func (w *walk) noNumber(q *question, text string) error {
	hint := "answer with a number" + numberUnit(q.unit) + ", or ? for more"
	decimal, isFraction := units.Decimal(text)
	switch {
	case isMarked(text):
		hint = "a formula is written into the sheet, or with rambook set"
	case isFraction:
		hint = "write " + words.Quoted(decimal)
	case strings.ContainsAny(text, "±") || strings.Contains(text, "+-") || strings.Contains(text, "+/-"):
		hint = "write the number alone: how far it may be off stands in the column spread"
	case strings.ContainsAny(text, "*/+^("):
		hint += "; a formula is written into the sheet, or with rambook set"
	}
	return problem(words.Quoted(text)+" is no number", hint)
}

func numberUnit(u units.Unit) string {
	if symbol := page.ShownUnit(u); symbol != "" {
		return " in " + symbol
	}
	return ""
}

// oneBad is the word among at least two numbers that is neither one nor a unit
// behind the last; "" if the text is not of that kind.
func oneBad(text string) string {
	fields := strings.Fields(strings.ReplaceAll(text, ";", " "))
	numbers, bad := 0, ""
	for i, field := range fields {
		if _, err := units.ParseValue(strings.TrimSuffix(field, ",")); err == nil {
			numbers++
		} else if _, err := units.Parse(field); bad == "" && (err != nil || i < len(fields)-1) {
			bad = field
		}
	}
	if numbers < 2 {
		return ""
	}
	return bad
}

// copied is what stands in the cell of another quantity, if the answer is its
// name: what two rows need is read once. "" where there is nothing of that kind.
func (w *walk) copied(q *question, name string) string {
	other := w.revision.model.Quantity(name)
	if other == nil || other.Row == nil || other.Unit.Symbol != q.unit.Symbol {
		return ""
	}
	text := other.Row.Entry.Text
	if other.IsFormula() {
		text = other.Row.Reading.Text
	}
	if calc.ReadsAsFormula(text) {
		return ""
	}
	return text
}

// ifNot is a text unless it is one of the words.
func ifNot(text string, words ...string) string {
	for _, word := range words {
		if strings.EqualFold(text, word) {
			return ""
		}
	}
	return text
}

// runs makes the answer of several numbers, which are kept as they are.
func (w *walk) runs(runs []string, unit string) (response, error) {
	if calc.MayBeOne(runs) {
		return response{}, problem(words.Quoted(strings.Join(runs, " "))+" may be one number or several runs",
			"write "+strings.Join(runs, "")+", or "+calc.JoinRuns(runs, unit))
	}
	return response{entry: calc.JoinRuns(runs, unit), repeated: true}, nil
}
