package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units/words"
)

// revision is a notebook of the user's own before and after a change to its
// files. What set, record and rename may do to a notebook is decided here.
type revision struct {
	path          string
	book          *sheets.Notebook
	model         *calc.Model      // before the change; nil if the notebook is broken
	before, after *calc.Report     // nil if there is no answer
	problems      []sheets.Problem // why there was none before
	stopped       []sheets.Problem // what cannot be computed after the change
	changed       *sheets.Notebook // after the change, with its model; nil before
	remodelled    *calc.Model

	whole   bool                                       // the change was worked out from all of the notebook
	typed   []setting                                  // cells that are about to be changed
	verify  func(after *calc.Report) error             // may still refuse a change that can be computed
	entries func(logbook *sheets.Sheet) []sheets.Entry // what a change leaves in the logbook; nil for nothing
}

// revise reads the notebook that a command is about to change.
func revise(path string) (*revision, error) {
	path, err := ownPath(path)
	if err != nil {
		return nil, err
	}
	r := &revision{path: path}
	r.book, r.problems = sheets.Open(path)
	model, problems := compile(r.book, nil)
	if r.problems = append(r.problems, problems...); len(r.problems) == 0 {
		r.model = model
		r.before, r.problems = model.Check(calc.CheckOptions{})
	}
	return r, nil
}

// meanwhileError is that of a change which was worked out for a notebook that
// somebody else has changed since.
type meanwhileError struct{ path string }

func (e *meanwhileError) Error() string {
	return e.path + " was changed meanwhile, so nothing was written; run the command again"
}

// anew makes a change that is worked out from the whole notebook, and works it
// out again if another program was faster, a few times.
func anew(path string, change func(*revision) error) error {
	const tries = 5
	for try := 1; ; try++ {
		r, err := revise(path)
		if err == nil {
			err = change(r)
		}
		if late := (*meanwhileError)(nil); try == tries || !errors.As(err, &late) {
			return err
		}
	}
}

// stillAsRead refuses a notebook that somebody else has changed since it was read.
func (r *revision) stillAsRead() error {
	if now, _ := sheets.Open(r.path); !r.book.IsAs(now) {
		return &meanwhileError{r.path}
	}
	return nil
}

// catchUp reads the notebook anew, under the lock of a change, if somebody else
// has changed it since: what is written now is held to what all files hold now. A
// change that was worked out from the whole of it is void then, and so is a bare
// number for a cell that is in another unit now.
func (r *revision) catchUp() error {
	err := r.stillAsRead()
	if err == nil || r.whole {
		return err
	}
	now, err := revise(r.path)
	if err != nil {
		return err
	}
	for i := range r.typed {
		one := &r.typed[i]
		if was, is := unitNow(one.cellName, r.book), unitNow(one.cellName, now.book); was != is && isBare(one.entry) {
			return problem("the unit of "+one.String()+" was changed meanwhile from "+was+" to "+is,
				"nothing was written; write the number with its unit")
		}
	}
	r.book, r.model, r.before, r.problems = now.book, now.model, now.before, now.problems
	return nil
}

// next is the notebook as the change has left it, about to be changed again; nil
// if it has to be read anew.
func (r *revision) next() *revision {
	if r.after == nil || len(r.stopped) > 0 {
		return nil
	}
	return &revision{path: r.path, book: r.changed, model: r.remodelled, before: r.after}
}

// missing returns why nothing was found: in a notebook that cannot be read as
// a whole, what is wrong there comes first.
func (r *revision) missing(err error) error {
	if r.model == nil {
		return wrong(r.problems...)
	}
	return err
}

// change rewrites the files of some sheets together. The change is made in each
// file as it is at that moment, under its lock, and what comes out is
// recalculated before any file is written: a change that would break a sound
// notebook is refused with the problems it would cause. In a notebook that is
// broken already every change is let through, since it may be the first of
// several that mend it.
func (r *revision) change(changing []*sheets.Sheet, change func(now *sheets.Sheet, data []byte) ([]byte, error)) error {
	files := make([]string, len(changing))
	for i, sheet := range changing {
		files[i] = sheet.File
	}
	logbookOf := func(book *sheets.Notebook) string {
		if logbook := book.Logbook(); logbook != nil && r.entries != nil {
			return logbook.File
		}
		return ""
	}
	logbook := logbookOf(r.book)
	if logbook != "" {
		files = append(files, logbook)
	}
	moved := false // the logbook came or went meanwhile
	err := sheets.Update(files, func(data [][]byte) ([][]byte, error) {
		if err := r.catchUp(); err != nil {
			return nil, err
		}
		if moved = logbookOf(r.book) != logbook; moved {
			return nil, &meanwhileError{r.path}
		}
		changed := *r.book
		changed.Sheets = slices.Clone(r.book.Sheets)
		at := func(file string) int {
			return slices.IndexFunc(changed.Sheets, func(s *sheets.Sheet) bool { return s.File == file })
		}
		var problems []sheets.Problem
		for i, sheet := range changing {
			now, unreadable := sheets.Read(sheet.File, data[i])
			if now == nil {
				return nil, wrong(unreadable...)
			}
			var err error
			if data[i], err = change(now, data[i]); err != nil {
				return nil, err
			}
			replacement, unreadable := sheets.Read(sheet.File, data[i])
			problems = append(problems, unreadable...)
			if k := at(sheet.File); k >= 0 && replacement != nil {
				changed.Sheets[k] = replacement
			}
		}
		if logbook != "" {
			now, unreadable := sheets.Read(logbook, data[len(changing)])
			if now == nil || now.Kind != sheets.Logbook {
				return nil, wrong(unreadable...)
			}
			var err error
			if data[len(changing)], err = now.AppendEntries(data[len(changing)], r.entries(now)); err != nil {
				return nil, fmt.Errorf("cannot write the logbook: %w", err)
			}
			if now, _ = sheets.Read(logbook, data[len(changing)]); now != nil { // it tells when a gauge was read
				changed.Sheets[at(logbook)] = now
			}
		}
		if r.model == nil {
			return data, nil
		}
		if len(problems) > 0 {
			return nil, wrong(problems...)
		}
		return data, r.recalculate(&changed)
	})
	if moved {
		return r.change(changing, change)
	}
	return err
}

// recalculate takes the changed notebook through the stages that the notebook
// passed before. What makes it unreadable is refused; where only numbers cannot
// be computed any more the change is made, and reported.
func (r *revision) recalculate(changed *sheets.Notebook) error {
	model, problems := compile(changed, nil)
	if len(problems) > 0 {
		return wrong(problems...)
	}
	r.after, r.stopped = model.Check(calc.CheckOptions{})
	r.changed, r.remodelled = changed, model
	if r.verify != nil {
		return r.verify(r.after)
	}
	return nil
}

// fresh lists the problems that were not there before: none stood at the same
// place against the same text.
func fresh(now, before []sheets.Problem) []sheets.Problem {
	type spot struct {
		file         string
		line, column int
		text         string
	}
	of := func(p sheets.Problem) spot { return spot{p.File, p.Line, p.Column, p.Text} }
	old := map[spot]bool{}
	for _, p := range before {
		old[of(p)] = true
	}
	return slices.DeleteFunc(slices.Clone(now), func(p sheets.Problem) bool { return old[of(p)] })
}

// trouble looks into a report for something that a change may have brought
// about. The message is "" while there is nothing to warn of.
type trouble func(*calc.Report) (calc.Verdict, string)

// tell prints on stderr what a change has brought about: warnings, what cannot be
// computed any more, and that what was changed does not keep to its limits. It
// reminds of what is still wrong with a notebook that was broken.
func (r *revision) tell(s *session, settings []setting) {
	if r.after == nil {
		if again, err := revise(r.path); err == nil && len(again.problems) > 0 {
			fmt.Fprintf(s.stderr, "the notebook has %s left, which rambook check shows\n",
				words.Counted(len(again.problems), "problem"))
		}
		return
	}
	before := r.before
	if before == nil {
		before = &calc.Report{Failures: r.problems}
	}
	if left := len(r.stopped); left > 0 && len(fresh(r.stopped, before.Failures)) == 0 {
		fmt.Fprintf(s.stderr, "the notebook has %s left, which rambook check shows\n", words.Counted(left, "problem"))
	}
	printWarnings(s.stderr, fresh(r.after.Warnings, before.Warnings))
	misfits, failing := r.misfits(before, settings)
	stopped := fresh(r.after.Failures, before.Failures)
	if len(misfits) > 0 && len(stopped) > 0 {
		misfits[len(misfits)-1].Hint = r.uncomputed(before)
		stopped = nil
	}
	printWarnings(s.stderr, misfits)
	printWarnings(s.stderr, stopped)
	if failing {
		fmt.Fprintln(s.stderr, page.Wrapped(page.Cautions, s.width(), 2))
	}
}

// misfits lists what does not keep to its limits any more: what was changed, and
// the givens beside it that do not fit together with it, such as a rod that is
// thicker than its bore.
func (r *revision) misfits(before *calc.Report, settings []setting) (list []sheets.Problem, failing bool) {
	told := map[string]bool{}
	look := func(of trouble) {
		was, _ := of(before)
		verdict, message := of(r.after)
		if verdict > was && message != "" && !told[message] {
			told[message] = true
			list = append(list, sheets.Problem{Message: message})
			failing = failing || verdict == calc.Fail
		}
	}
	for i := range r.after.Quantities {
		if j := &r.after.Quantities[i]; !j.Quantity.IsFormula() && j.Verdict == calc.Fail && !j.Quantity.IsTick() &&
			!j.Quantity.IsVerdict() {
			look(troubleOf(j.Quantity.Name))
		}
	}
	for i := range settings {
		look(settings[i].trouble())
	}
	if len(list) > 0 {
		return list, failing
	}
	more := 0 // what is computed from it, where nothing that was typed fails itself
	for i := range r.after.Quantities {
		j := &r.after.Quantities[i]
		if j.Verdict != calc.Fail || !j.Quantity.IsFormula() || j.Quantity.IsVerdict() {
			continue
		}
		if was := before.Of(j.Quantity.Name); was != nil && was.Verdict == calc.Fail {
			continue
		}
		if len(list) < page.MostNames {
			look(troubleOf(j.Quantity.Name))
		} else {
			more++
		}
	}
	if more > 0 {
		list = append(list, sheets.Problem{Message: words.Counted(more, "more quantity") + " of the notebook fail"})
	}
	return list, failing
}

// uncomputed names what had a value before the change and has none after it.
func (r *revision) uncomputed(before *calc.Report) string {
	var gone []string
	for i := range r.after.Quantities {
		j := &r.after.Quantities[i]
		if was := before.Of(j.Quantity.Name); was != nil && calc.Has(was.Value) && !calc.Has(j.Value) {
			gone = append(gone, j.Quantity.Name)
		}
	}
	if len(gone) == 0 {
		return ""
	}
	return "until that is put right there is no " +
		strings.ReplaceAll(words.Listed(gone, page.MostNames), " and ", " and no ")
}

// troubleOf looks at a quantity.
func troubleOf(name string) trouble {
	return func(r *calc.Report) (calc.Verdict, string) {
		for i := range r.Quantities {
			if j := &r.Quantities[i]; j.Quantity.Name == name {
				return j.Verdict, page.Layout{}.Trouble(j)
			}
		}
		return calc.NoVerdict, ""
	}
}

// TroubleOfCase looks at a case.
//
//go:noinline
func troubleOfCase(sheet, name string) trouble {
	return func(r *calc.Report) (calc.Verdict, string) {
		if c := r.Case(sheet, name); c != nil {
			return c.Verdict, page.Layout{}.TroubleOfCase(c)
		}
		return calc.NoVerdict, ""
	}
}

// refuseUnknown refuses a text that is no key of the table that it is looked for
// in, and one that no formula has if nothing can be computed with it: a name
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
