package main

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
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

// explain tells more about a question.
func (w *walk) explain(q *question) {
	if q.gauge {
		w.say(4, gaugeHelp)
		return
	}
	if choices := w.revision.model.Choices(q.quantity.Name); len(choices) > 0 {
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

// take writes an answer, and reports whether the walk goes on.
func (w *walk) take(q *question, answer string) bool {
	if err := readable(answer); err != nil {
		w.sayWrong(err)
		return false
	}
	if name, entry, found := assigned(answer); found {
		name, entry = strings.TrimSpace(name), strings.TrimSpace(entry)
		other := w.named(name)
		switch {
		case other == nil && q.unit.Kind == units.Text: // what stands on a plate may have a = in it
		case other != nil && entry == "" && w.stands(other) == "":
			w.say(4, "nothing stands behind "+name+"=; "+other.what+" stays blank")
			return false
		case other != nil:
			other.done = w.take(other, entry)
			return other == q && other.done
		case calc.IsName(name):
			known := w.revision.model.Names()
			w.say(4, "there is no row "+words.Quoted(name)+"; "+
				words.DidYouMean(name, known, "NAME=ENTRY answers for the row of that name"))
			return false
		}
	}
	if q.gauge {
		return w.takeGauge(q, answer)
	}
	err := w.asked(q, answer)
	var a response
	if err == nil {
		a, err = w.parse(q, answer)
	}
	if err == nil {
		err = w.write(q, a)
	}
	if doubt := (*doubtError)(nil); errors.As(err, &doubt) {
		w.say(4, doubt.question+". Type "+words.Quoted(answer)+" again to keep it.")
		again, failed := w.prompt(q.prompted())
		switch {
		case failed != nil:
			w.over = true
			return false
		case again == answer:
			a.sure = true
			err = w.write(q, a)
		case again == "", again == "?", again == "<", again == "q":
			w.say(4, "Not kept.")
			return false
		default:
			return w.take(q, again)
		}
	}
	if err != nil {
		w.refuse(err)
		return false
	}
	return true
}

// refuse tells why an answer is not taken. Where the answers come from a file and
// the disk takes none of them, the walk ends: the next line of the file would
// answer the wrong question.
func (w *walk) refuse(err error) {
	if known := (*problemsError)(nil); w.isPiped() && !errors.As(err, &known) {
		w.broken = err
		return
	}
	w.sayWrong(err)
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

// sayWrong tells why an answer is not taken.
func (w *walk) sayWrong(err error) {
	known := (*problemsError)(nil)
	if !errors.As(err, &known) {
		w.say(4, err.Error())
		return
	}
	var said []string // one answer may fill two cells, and be wrong for both alike
	for _, p := range known.Problems {
		text := p.Message
		if p.Hint != "" {
			text += "; " + p.Hint
		}
		if !slices.Contains(said, text) {
			w.say(4, text)
			said = append(said, text)
		}
	}
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
		if _, ok := q.cell.(rowCell); !ok || q.reading {
			return response{}, problem("n/a stands in the row of what the machine has none of, and this is a reading or a cell of a case", "Enter skips it")
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

// noNumber is what to say of an answer that reads as a formula.
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

// write puts an answer into the notebook, with its line in the logbook.
func (w *walk) write(q *question, a response) error {
	settings := []setting{{cellName: q.cell, entry: a.entry}}
	if a.why != "" {
		note := a.why
		if q.note != "" {
			note = q.note + "; " + a.why
		}
		settings = append(settings, setting{cellName: rowCell{q.quantity.Name, "note"}, entry: note})
	}
	if q.date != nil {
		settings = append(settings, setting{cellName: q.date, entry: w.now().Format(time.DateOnly)})
	}
	if err := w.writeAll(settings, a.note, func(after *calc.Report) error {
		if a.sure {
			return nil
		}
		if err := doubtReadings(settings, after); err != nil {
			return err
		}
		if err := doubtExample(q, a); err != nil {
			return err
		}
		if err := doubtAbsent(q, a); err != nil {
			return err
		}
		return doubtChoice(q, a, w.revision.model)
	}); err != nil {
		return err
	}
	if a.absent {
		w.absent++
	} else {
		w.answered++
	}
	w.tellResult(q, a, w.revision)
	return w.goOn()
}

// writeAll changes cells together and enters them in the logbook; doubts, which
// may be nil, may refuse what comes of it.
func (w *walk) writeAll(settings []setting, note string, doubts func(after *calc.Report) error) error {
	if err := w.catchUp(); err != nil {
		return err
	}
	r := w.revision
	changing, err := sheetsOf(settings, r)
	if err != nil {
		return err
	}
	by := w.command.entryFlags
	by.Note = cmp.Or(note, by.Note)
	r.enters(w.session, by, func() []sheets.Entry { return logged(settings, r.book) })
	r.verify = func(after *calc.Report) error {
		if err := r.refuseUnknown(entries(settings)); err != nil || doubts == nil {
			return err
		}
		return doubts(after)
	}
	return r.change(changing, func(now *sheets.Sheet, data []byte) ([]byte,
		error) {
		return write(settings, now, data)
	})
}

// doubtChoice doubts a text that equals none of those that formulas know.
func doubtChoice(q *question, a response, model *calc.Model) error {
	if choices := model.Choices(q.quantity.Name); q.unit.Kind == units.Text && len(choices) > 0 &&
		!slices.Contains(choices, a.entry) {
		return &doubtError{question: words.Quoted(a.entry) + " means nothing to the formulas, which know " +
			words.Listed(words.AllQuoted(choices), len(choices))}
	}
	return nil
}

// doubtAbsent asks why a machine has none of something, where no note says so: it
// is what whoever reads the report asks first.
func doubtAbsent(q *question, a response) error {
	if !a.absent || a.why != "" {
		return nil
	}
	return &doubtError{question: "Why is " + q.what + " n/a? Write it behind the sign, as in `- none fitted`"}
}

// doubtExample doubts a number of the machine that a slip would bring near to
// what such a machine has.
func doubtExample(q *question, a response) error {
	if q.reading || q.quantity.Example == "" || q.unit.Kind > units.Point {
		return nil
	}
	example, err := units.ParseValue(q.quantity.Example)
	typed, wrong := units.ParseValue(a.entry)
	if err != nil || wrong != nil {
		return nil
	}
	if !example.HasUnit {
		example.Unit = q.unit
	}
	if !typed.HasUnit {
		typed.Unit = q.unit
	}
	if q.unit.Kind < units.Point && typed.Unit.ToSI(typed.Number) < 0 && example.Number > 0 {
		return &doubtError{question: page.Beside(a.entry, bare(a.entry, q.unit)) +
			" is below zero, and a machine like this may have " +
			page.Beside(q.quantity.Example, bare(q.quantity.Example, q.unit))}
	}
	slip, found := units.FindSlip(typed.Number, typed.Unit, example.Unit.ToSI(example.Number), 0)
	if !found {
		return nil
	}
	return &doubtError{question: fmt.Sprintf("%s is far from %s, which a machine like this may have, and %s is near it: %s",
		page.Beside(a.entry, bare(a.entry, q.unit)), page.Beside(q.quantity.Example, bare(q.quantity.Example, q.unit)),
		slip.Text,
		slip.Why)}
}

// tellResult is what an answer comes to.
func (w *walk) tellResult(q *question, a response, r *revision) {
	layout := page.Layout{}
	var parts []string
	j := w.judged(r.after, q)
	if a.repeated && j != nil && (calc.Has(j.Reading) || calc.Has(j.Value)) {
		number, spread, _ := j.Subject()
		parts = append(parts, "mean "+page.Beside(page.PlusMinus(layout.Numbers.TypedOn(j.Unit, number, spread),
			layout.Numbers.SpreadOn(j.Unit, number, spread)), j.Unit))
	}
	w.failing[q.cell.String()] = j != nil && j.Verdict == calc.Fail && !q.quantity.IsTick()
	switch {
	case a.absent:
		parts = append(parts, "n/a")
	case j == nil:
	case q.reading && calc.Has(j.Reading) && calc.Has(j.Value):
		parts = append(parts, fmt.Sprintf("%s (computed %s)",
			strings.TrimPrefix(layout.AgreementInWords(j), "reading "),
			page.Beside(page.PlusMinus(layout.ComputedText(j), layout.SpreadText(j)), j.Unit)))
		fallthrough
	case j.Verdict > calc.NoVerdict && j.Verdict != calc.Open:
		if text := layout.Trouble(j); text != "" {
			parts = append(parts, j.Verdict.String()+": "+text)
		} else if j.Verdict == calc.Pass {
			parts = append(parts, "passes")
		}
	}
	if len(parts) > 0 {
		w.say(4, strings.Join(parts, "; "))
	}
	if q.reading {
		w.taken[q.cell.String()] = a.entry
	}
	w.tellLate(q, r)
	w.warn(q, r)
}

// warn tells of what the answer has brought about in its own row, of gauges that
// are past their day, and of what cannot be computed now. What else a formula is
// warned of waits for check.
func (w *walk) warn(q *question, r *revision) {
	sheet, _ := q.cell.sheet(r.book)
	cell, _, _ := restored{q.cell}.find(sheet, "")
	for _, p := range fresh(r.after.Warnings, r.before.Warnings) {
		if gauges := r.book.Sheet(calc.GaugeSheet); p.File == sheet.File && p.Line == cell.Line ||
			gauges != nil && p.File == gauges.File {
			w.say(4, "warning: "+p.Message)
		}
	}
	for _, p := range fresh(r.after.Failures, r.before.Failures) {
		w.say(4, "warning: "+p.Message)
	}
}

// tellLate tells of readings that were taken before anything was computed to
// compare them with, and turn out to differ.
func (w *walk) tellLate(q *question, r *revision) {
	early := w.differing(r.before)
	for _, name := range w.differing(r.after) {
		cell := w.cellOf(name)
		if name == nameOf(q) || slices.Contains(early, name) || cell == nil {
			continue
		}
		j := cell.read(r.after)
		if was := cell.read(r.before); was != nil && calc.Has(was.Value) {
			continue // it was compared when it was typed
		}
		layout := page.Layout{}
		text := fmt.Sprintf("%s, read before: %s %s (computed %s)", name, page.Beside(layout.ReadingText(j), j.Unit),
			strings.TrimPrefix(layout.AgreementInWords(j), "reading "),
			page.Beside(page.PlusMinus(layout.ComputedText(j), layout.SpreadText(j)), j.Unit))
		if slip, found := slipOf(w.taken[cell.String()], j); found {
			text += fmt.Sprintf("; %s is near it: %s. %s=%s puts it right", slip.Text, slip.Why, name, slip.Text)
		}
		w.say(4, text)
	}
}

// differing lists the readings of this round that differ from what a report computes.
func (w *walk) differing(r *calc.Report) []string {
	var names []string
	if r == nil {
		return nil
	}
	for _, cell := range slices.Sorted(maps.Keys(w.taken)) {
		name := strings.TrimSuffix(cell, ".reading")
		if c := w.cellOf(name); c != nil {
			if j := c.read(r); j != nil && calc.Has(j.Agreement) && j.Agreement > 1 {
				names = append(names, name)
			}
		}
	}
	return names
}

// cellOf is the cell that NAME=ENTRY puts a reading into.
func (w *walk) cellOf(name string) cellName {
	cell, err := readName(name)
	if row, isRow := cell.(rowCell); isRow {
		return rowCell{row.name, "reading"}
	}
	if err != nil {
		return nil
	}
	return cell
}

// nameOf is the name by which NAME=ENTRY answers a question.
func nameOf(q *question) string {
	return strings.TrimSuffix(strings.TrimSuffix(q.cell.String(), ".entry"), ".reading")
}
