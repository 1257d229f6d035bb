package main

import (
	"bufio"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/term"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// This file is about entries that are asked for once more before they are written:
// a slip explains them, no formula has a use for them, or nobody has said why.

// doubtError is a number that is not written before somebody has said that it is
// what was meant.
type doubtError struct {
	question string
	hint     string
}

func (e *doubtError) Error() string { return e.question + "\n  hint: " + e.hint }

// doubtReadings looks for readings that a slip would bring near to what is
// computed, and for those that are far from it.
func doubtReadings(settings []setting, after *calc.Report) error {
	for i := range settings {
		one := &settings[i]
		j := one.read(after)
		if j == nil {
			continue
		}
		layout := page.Layout{}
		reading := page.Beside(layout.ReadingText(j), j.Unit)
		computed := "the computed " + page.Beside(page.PlusMinus(layout.ComputedText(j), layout.SpreadText(j)), j.Unit)
		if slip, found := slipOf(one.entry, j); found {
			return &doubtError{
				question: page.Printable(one.String()) + ": " + farBySlip(reading, computed, slip),
				hint: "write " + words.Quoted(slip.Text) +
					" if that was read; if not, keep the reading with --sure",
			}
		}
		if nearer, far := farReading(j); far {
			return &doubtError{
				question: page.Printable(one.String()) + ": " + farFrom(reading, computed, nearer),
				hint:     "write it with the unit that was read, or keep the reading with --sure",
			}
		}
	}
	return nil
}

// farReading reports whether a reading that no slip explains is as many times larger
// or smaller than what is computed as a number of the machine may not be beside its
// example, and how it would be typed on scales on which it is nearer.
func farReading(j *calc.Judged) (nearer []string, far bool) {
	if !calc.Has(j.Value) || !calc.Has(j.Reading) || calc.Has(j.Agreement) && j.Agreement <= 1 {
		return nil, false
	}
	return units.IsFar(j.Reading, j.Unit, j.Unit, j.Unit.ToSI(j.Value))
}

// farFrom is the sentence about a number that is far from what is expected, and that
// no slip explains.
func farFrom(shown, expected string, nearer []string) string {
	if len(nearer) == 0 {
		return shown + " is far from " + expected
	}
	return shown + " is far from " + expected + "; nearer would be " + words.Choices(nearer)
}

// farBySlip is the sentence about a number that one slip has taken far from what is
// expected.
func farBySlip(shown, expected string, slip units.Slip) string {
	return shown + " is far from " + expected + ", and " + nearIs(slip)
}

// nearIs is the number that would be near to what is expected, and what became of it
// when it was typed.
func nearIs(slip units.Slip) string { return slip.Text + " is near it: " + slip.Why }

// doubtThousands looks for numbers that fit only if their point parts thousands.
func doubtThousands(settings []setting, after *calc.Report) error {
	for i := range settings {
		one := &settings[i]
		j := one.read(after)
		if cell, isRow := one.cellName.(rowCell); isRow && cell.column == "entry" {
			j = after.Of(cell.name)
		}
		if j == nil {
			continue
		}
		if t, found := j.Thousands(one.entry); found {
			return &doubtError{
				question: page.Printable(strings.TrimSuffix(one.String(), ".entry")) + ": " + t.Sentence(one.entry),
				hint: "write " + words.Quoted(t.Whole) + ", or keep " +
					units.WithUnit(t.Read.Number, t.Read.Unit) + " with --sure",
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
	return units.FindSlip(typed.Number, typed.Unit, j.Unit, j.Unit.ToSI(j.Value), spread)
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
			if err := doubtThousands(settings, after); err != nil {
				return err
			}
			// What is computed goes on with the givens, so a slip in one of them comes first.
			if err := r.doubtEntries(settings); err != nil {
				return err
			}
			if err := doubtReadings(settings, after); err != nil {
				return err
			}
			return r.doubtImpossible(settings, after)
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
	fmt.Fprintf(s.stderr, "%s\nKeep it? (yes/no) ", page.Wrapped(doubt.question, s.width(), 2))
	answer, _ := bufio.NewReader(file).ReadString('\n')
	switch strings.ToLower(strings.TrimSpace(answer)) {
	case "y", "yes":
		return true
	}
	return false
}

// choices are the texts that formulas compare the cell with.
func (q *question) choices(model *calc.Model) []string {
	return choicesOf(q.cell, q.quantity.Name, model)
}

// choicesOf are the texts that formulas compare a cell of a quantity with.
func choicesOf(cell cellName, quantity string, model *calc.Model) []string {
	if of, isCase := cell.(caseCell); isCase {
		return model.ChoicesIn(of.of, of.column)
	}
	return model.Choices(quantity)
}

// doubtChoice doubts a text that equals none of those that formulas have.
func doubtChoice(q *question, a response, model *calc.Model) error {
	if q.unit.Kind != units.Text {
		return nil
	}
	return doubtAmong(q.cell, a.entry, q.choices(model))
}

// doubtAmong doubts a text that is none of the choices that formulas have of its cell.
func doubtAmong(cell cellName, entry string, choices []string) error {
	if _, isCase := cell.(caseCell); isCase && len(choices) == 1 {
		return nil // formulas look for one word among others there, and a slip gets its warning
	}
	if len(choices) > 0 && !slices.Contains(choices, entry) {
		return &doubtError{question: words.Quoted(entry) + " matches none of the choices in the formulas: " +
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
	return &doubtError{question: "Why is " + q.what + " n/a? Write the reason behind the dash, as in `- none fitted`"}
}

// doubtEntries looks for numbers of the machine or of a case that are far from what
// such a machine has, and for words that formulas have no branch for.
func (r *revision) doubtEntries(settings []setting) error {
	for i := range settings {
		if r.remodelled == nil {
			return nil
		}
		cell, entry := settings[i].cellName, settings[i].entry
		q := r.remodelled.Quantity(cell.quantity())
		if q == nil || q.IsFormula() {
			continue
		}
		unit, name := q.Unit, q.Name
		switch of := cell.(type) {
		case rowCell:
			if of.column != "entry" {
				continue
			}
		case caseCell:
			name = cell.String()
			if u, err := units.Parse(unitNow(cell, r.changed)); err == nil {
				unit = u
			}
		}
		doubt := (*doubtError)(nil)
		if entry != "" && !calc.IsAbsent(entry) && q.IsText() &&
			errors.As(doubtAmong(cell, entry, choicesOf(cell, q.Name, r.remodelled)), &doubt) {
			return &doubtError{question: page.Printable(name) + ": " + doubt.question,
				hint: "write one of these, or keep it with --sure"}
		}
		if question := doubtNumber(entry, unit, r.exampleOf(q)); question != "" {
			return &doubtError{question: page.Printable(name) + ": " + question,
				hint: "write it with the unit that was meant, or keep it with --sure"}
		}
	}
	return nil
}

// exampleOf is what an invented machine has of a given: in its row, else on the first of
// its visits, which are dated.
func (r *revision) exampleOf(q *calc.Quantity) string {
	if q.Example != "" || r.remodelled == nil {
		return q.Example
	}
	for _, sheet := range r.book.Sheets {
		if sheet.Kind != sheets.Cases {
			continue
		}
		if dated, _ := columnIn(sheet, r.remodelled.DateColumn(sheet)); !dated {
			continue
		}
		if example := sheet.FirstExample(q.Name); example != "" {
			return example
		}
	}
	return ""
}

// doubtImpossible looks for what a change makes impossible: a number beyond the span
// of its gauge, a class that is none, a distance many times what is needed.
func (r *revision) doubtImpossible(settings []setting, after *calc.Report) error {
	if r.model == nil || r.remodelled == nil {
		return nil
	}
	misused := append(fresh(r.remodelled.Misused(), r.model.Misused()), r.remodelled.SetBack(r.model)...)
	if len(misused) > 0 {
		return &doubtError{question: misused[0].Message, hint: misused[0].Hint + ", or keep it with --sure"}
	}
	for i := range settings {
		cell, isRow := settings[i].cellName.(rowCell)
		if !isRow || cell.column != "entry" {
			continue
		}
		if j := after.Of(cell.name); j != nil && isFarAbove(j) {
			layout := page.Layout{}
			return &doubtError{
				question: fmt.Sprintf("%s %s is far above the %s it needs (%s)", cell.name,
					page.Beside(layout.ValueText(j), j.Unit), page.Beside(layout.LowText(j), j.Unit), j.LowName),
				hint: "write it with the unit that was meant, or keep it with --sure"}
		}
	}
	return nil
}

// isFarAbove reports whether a given is so many times what it needs at least that a
// digit is likelier wrong than that there is so much room, such as a guard's distance.
func isFarAbove(j *calc.Judged) bool {
	if j.Quantity.IsFormula() || j.LowName == "" || calc.Has(j.High) || !calc.Has(j.Low) || !(j.Value > j.Low) {
		return false
	}
	_, far := units.IsFar(j.Value, j.Unit, j.Unit, j.Unit.ToSI(j.Low))
	return far
}

// doubtExample doubts a number of the machine that a slip would bring near to
// what such a machine has.
func (r *revision) doubtExample(q *question, a response) error {
	if question := doubtNumber(a.entry, q.unit, r.exampleOf(q.quantity)); question != "" && !q.reading {
		return &doubtError{question: question}
	}
	return nil
}

// doubtNumber is what to ask of a number in a row; "" where there is nothing. In a
// row in per cent a bare number of at most 1 may be a share.
func doubtNumber(entry string, u units.Unit, exampleText string) string {
	typed, wrong := units.ParseValue(entry)
	if wrong != nil || u.Kind > units.Point {
		return ""
	}
	isBare := !typed.HasUnit
	if isBare {
		typed.Unit = u
	}
	shown := page.Beside(entry, bare(entry, u))
	example, err := units.ParseValue(exampleText)
	if exampleText == "" || err != nil {
		if share := math.Abs(typed.Number); u.Symbol == "%" && isBare && share > 0 && share <= 1 {
			whole := strconv.FormatFloat(100*typed.Number, 'g', 12, 64) + " %"
			return fmt.Sprintf("%s may be a fraction of 1, which is %s; write %s to keep it as it stands",
				words.Quoted(entry), whole, words.Quoted(entry+" %"))
		}
		return ""
	}
	if !example.HasUnit {
		example.Unit = u
	}
	such := page.Beside(exampleText, bare(exampleText, u)) + ", which a machine like this may have"
	expected := example.Unit.ToSI(example.Number)
	if u.Kind < units.Point && typed.Unit.ToSI(typed.Number) < 0 && example.Number > 0 {
		return shown + " is below zero, and a machine like this may have " +
			page.Beside(exampleText, bare(exampleText, u))
	}
	if slip, found := units.FindSlip(typed.Number, typed.Unit, u, expected, 0); found {
		return farBySlip(shown, such, slip)
	}
	if nearer, far := units.IsFar(typed.Number, typed.Unit, u, expected); far {
		return farFrom(shown, such, nearer)
	}
	return ""
}
