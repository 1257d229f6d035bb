package main

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"golang.org/x/term"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// This file is about readings that are typed: what they come to beside what is
// computed, and whether a slip explains why they are far from it.

// doubtError is a reading that is not written before somebody has said that it
// is what the instrument shows.
type doubtError struct {
	question string
	hint     string
}

func (e *doubtError) Error() string { return e.question + "\n  hint: " + e.hint }

// doubtReadings looks for readings that a slip would bring near to what is
// computed.
func doubtReadings(settings []setting, after *calc.Report) error {
	for i := range settings {
		one := &settings[i]
		j := one.read(after)
		if j == nil {
			continue
		}
		if slip, found := slipOf(one.entry, j); found {
			layout := page.Layout{}
			return &doubtError{
				question: fmt.Sprintf("%s: %s is far from the computed %s, and %s is near it: %s",
					page.Printable(one.String()),
					page.Beside(layout.ReadingText(j), j.Unit),
					page.Beside(page.PlusMinus(layout.ComputedText(j), layout.SpreadText(j)), j.Unit),
					slip.Text, slip.Why),
				hint: "write " + words.Quoted(slip.Text) + " if that was meant, or keep the reading with --sure",
			}
		}
	}
	return nil
}

// slipOf finds the slip that explains a reading. What was typed with a unit of
// its own may still have a point in the wrong place.
func slipOf(entry string, j *calc.Judged) (units.Slip, bool) {
	if !calc.Has(j.Value) || !calc.Has(j.Reading) {
		return units.Slip{}, false
	}
	typed, err := units.ParseValue(entry)
	if calc.IsRuns(entry) { // their mean is doubted
		typed, err = units.Value{Number: j.Reading, Unit: j.Unit, HasUnit: true}, nil
	}
	if err != nil {
		return units.Slip{}, false
	}
	if !typed.HasUnit {
		typed.Unit = j.Unit
	}
	spread := 0.0
	if calc.Has(j.Spread) {
		spread = j.Unit.DiffToSI(j.Spread)
	}
	return units.FindSlip(typed.Number, typed.Unit, j.Unit.ToSI(j.Value), spread)
}

// changeUnlessDoubted changes sheets if the readings among the settings are what an
// instrument may show, or somebody is sure that it does.
func (r *revision) changeUnlessDoubted(s *session, settings []setting, sure bool, changing []*sheets.Sheet,
	edit func(*sheets.Sheet, []byte) ([]byte, error)) error {
	r.typed = settings
	for ; ; sure = true {
		r.verify = func(after *calc.Report) error {
			if err := r.refuseUnknown(entries(settings)); err != nil || sure {
				return err
			}
			return doubtReadings(settings, after)
		}
		err := r.change(changing, edit)
		doubt := (*doubtError)(nil)
		if !errors.As(err, &doubt) {
			return err
		}
		if !s.agrees(doubt) {
			return problem(doubt.question, doubt.hint)
		}
	}
}

// agrees asks on a terminal whether a reading is kept. Where nobody can be asked
// it is not.
func (s *session) agrees(doubt *doubtError) bool {
	file, ok := s.in.(*os.File)
	if !ok || !term.IsTerminal(int(file.Fd())) {
		return false
	}
	fmt.Fprintf(s.stderr, "%s\nKeep the reading? (yes/no) ", page.Wrapped(doubt.question, s.width(), 2))
	answer, _ := bufio.NewReader(file).ReadString('\n')
	switch strings.ToLower(strings.TrimSpace(answer)) {
	case "y", "yes":
		return true
	}
	return false
}

// answerReading is what a new reading comes to beside what is computed.
func (s *session) answerReading(one *setting, after *calc.Report) {
	if after == nil {
		return
	}
	j := one.read(after)
	if j == nil || !calc.Has(j.Reading) {
		return
	}
	layout := page.Layout{}
	if !calc.Has(j.Value) {
		fmt.Fprintln(&s.out, "  nothing is computed to compare it with"+needed(j))
		return
	}
	fmt.Fprintf(&s.out, "  computed %s: %s\n", page.Beside(page.PlusMinus(layout.ComputedText(j), layout.SpreadText(j)),
		j.Unit),
		layout.AgreementInWords(j))
}

// answerRecorded is what one reading of a new case comes to.
func (s *session) answerRecorded(one *setting, after *calc.Report) {
	if after == nil {
		return
	}
	if j := one.read(after); j != nil && calc.Has(j.Reading) && calc.Has(j.Value) {
		layout := page.Layout{}
		fmt.Fprintf(&s.out, "  %s: computed %s: %s\n", one.quantity(),
			page.Beside(page.PlusMinus(layout.ComputedText(j), layout.SpreadText(j)), j.Unit),
			layout.AgreementInWords(j))
	}
}

func needed(j *calc.Judged) string {
	if len(j.Needs) == 0 {
		return ""
	}
	return ", needs " + words.Listed(page.Names(j.Needs), page.MostNames)
}

// refuseUnknown refuses a text that is no key of the table that it is looked for
// in, and one that no formula knows if nothing can be computed with it: a name
// was mistyped.
func (r *revision) refuseUnknown(entries []string) error {
	for _, entry := range entries {
		if entry = strings.TrimSpace(entry); entry == "" {
			continue
		}
		failures := fresh(r.after.Failures, r.failuresBefore())
		ofText := func(p sheets.Problem) bool {
			return p.Text == entry && strings.HasSuffix(p.Message, "never with "+words.Quoted(entry)) ||
				strings.HasSuffix(p.Message, "has no row "+words.Quoted(entry))
		}
		if warnings := slices.DeleteFunc(slices.Clone(r.after.Warnings),
			func(p sheets.Problem) bool { return !ofText(p) }); len(failures) > 0 && len(warnings) > 0 {
			return &problemsError{Problems: failures, Warnings: warnings}
		}
		if i := slices.IndexFunc(failures, ofText); i >= 0 {
			return wrong(failures[i])
		}
	}
	return nil
}

// failuresBefore is what could not be computed before the change.
func (r *revision) failuresBefore() []sheets.Problem {
	if r.before == nil {
		return r.problems
	}
	return r.before.Failures
}
