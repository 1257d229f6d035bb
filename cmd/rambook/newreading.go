package main

import (
	"fmt"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/units/words"
)

// answerReading is what a new reading comes to beside what is computed.
func (s *session) answerReading(one *setting, after *calc.Report) {
	if text := one.replaced(); text != "" {
		fmt.Fprintln(&s.out, "  "+page.Wrapped(text, s.width()-2, 2))
	}
	if after == nil {
		return
	}
	j := one.read(after)
	if j == nil || !calc.Has(j.Reading) {
		return
	}
	if !calc.Has(j.Value) {
		fmt.Fprintln(&s.out, "  nothing is computed to compare it with"+needed(j))
		return
	}
	fmt.Fprintln(&s.out, "  "+againstComputed(j))
}

// againstComputed is what is computed in place of a reading, and whether they agree.
func againstComputed(j *calc.Judged) string {
	layout := page.Layout{}
	return fmt.Sprintf("computed %s: %s",
		page.Beside(page.PlusMinus(layout.ComputedText(j), layout.SpreadText(j)), j.Unit), layout.AgreementInWords(j))
}

// replaced names the formula that gave a reading from the cycles of a log before a
// number took its place; "" where there was none.
func (one *setting) replaced() string {
	if one.header() != "reading" || !calc.ReadsAsFormula(one.before.Text) || calc.ReadsAsFormula(one.entry) {
		return ""
	}
	if one.entry == "" {
		return one.quantity() + " is no longer read from a log; it was " + page.Printable(one.before.Text)
	}
	return "this stands in place of what the log gives, " + page.Printable(one.before.Text) +
		", and a new log no longer changes it; rambook undo brings the formula back"
}

// answerRecorded is what one reading of a new case comes to.
func (s *session) answerRecorded(one *setting, after *calc.Report) {
	if after == nil {
		return
	}
	if j := one.read(after); j != nil && calc.Has(j.Reading) && calc.Has(j.Value) {
		fmt.Fprintf(&s.out, "  %s: %s\n", one.quantity(), againstComputed(j))
	}
}

// answerLent names what a new case has from the notebook where other cases have
// their own.
func (s *session) answerLent(sheet, name string, after *calc.Report) {
	if after == nil {
		return
	}
	if c := after.Case(sheet, name); c != nil {
		for _, line := range (page.Layout{}).LentTo(c) {
			fmt.Fprintln(&s.out, "  "+line)
		}
	}
}

func needed(j *calc.Judged) string {
	if len(j.Needs) == 0 {
		return ""
	}
	return ", needs " + words.Listed(page.Names(j.Needs), page.MostNames)
}
