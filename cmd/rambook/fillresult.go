package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/units/words"
)

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
	w.tellVerdict(q, r)
	w.warn(q, r)
}

// tellVerdict prints whether the machine does what it is for, as soon as that is
// known and whenever an answer about something else turns it.
func (w *walk) tellVerdict(q *question, r *revision) {
	now, was := page.Headline(r.after), page.Headline(r.before)
	if now == nil || now.Verdict == calc.NoVerdict || now.Verdict == calc.Open || now.Quantity.Name == q.quantity.Name {
		return
	}
	layout := page.Layout{}
	switch {
	case was == nil || was.Verdict == calc.NoVerdict || was.Verdict == calc.Open:
		text := "First verdict: " + layout.Sentence(now) + "."
		if n := len(layout.Assumptions(r.after)); n > 0 {
			text += " Assumed for now, by common practice: " + words.Counted(n, "number") + "."
		}
		w.say(4, text+" `q` ends here, rambook check shows all of it, and rambook fill goes on.")
	case was.Quantity.Name == now.Quantity.Name && was.Verdict != now.Verdict:
		w.say(4, "Verdict now: "+layout.Sentence(now)+".")
	}
}

// untilVerdict is how many of the questions give a first verdict, where that is
// still to come.
func (w *walk) untilVerdict() string {
	main := page.Headline(w.revision.before)
	if main == nil || main.Verdict != calc.Open {
		return ""
	}
	last := -1
	for _, need := range main.Needs {
		at := slices.IndexFunc(w.questions, func(q question) bool {
			return !q.gauge && !q.reading && q.quantity.Name == need.Name
		})
		if at < 0 {
			return "" // it waits for what is not asked here
		}
		last = max(last, at)
	}
	if last < 0 || last == len(w.questions)-1 {
		return ""
	}
	return fmt.Sprintf("; the first %d give a first verdict, on %s", last+1, main.Quantity.Name)
}

// warn prints what the answer has brought about in its own row, of gauges that
// are past their day, and of what cannot be computed now. What else a formula is
// warned of waits for check.
func (w *walk) warn(q *question, r *revision) {
	sheet, _ := q.cell.sheet(r.book)
	cell, _, _ := restored{q.cell}.find(sheet, "")
	for _, p := range fresh(r.after.Warnings, r.before.Warnings) {
		if gauges := r.book.Sheet(calc.GaugeSheet); p.File == sheet.File && p.Line == int(cell.Line) ||
			gauges != nil && p.File == gauges.File {
			w.say(4, "warning: "+p.Message)
		}
	}
	if w.failures == nil {
		w.failures = &r.before.Failures
	}
	if w.columnWaits(q) {
		return // what needs more cells of the column than one may well be computed with them
	}
	for _, p := range fresh(r.after.Failures, *w.failures) {
		w.say(4, "warning: "+p.Message)
	}
	w.failures = nil
}

// columnWaits reports whether a question for another cell of the same column is
// still to come.
func (w *walk) columnWaits(q *question) bool {
	cell, isCase := q.cell.(caseCell)
	return isCase && !q.gauge && slices.ContainsFunc(w.questions, func(other question) bool {
		o, same := other.cell.(caseCell)
		return same && o.of == cell.of && o.column == cell.column && o.key != cell.key && w.stands(&other) == ""
	})
}

// tellLate prints readings that were taken before anything was computed to
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
			text += fmt.Sprintf("; %s. If that was read: %s=%s", nearIs(slip), name, slip.Text)
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
