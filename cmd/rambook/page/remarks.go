package page

import (
	"strings"

	"rambook/calc"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// remark is what the numbers of a row leave out: what it waits for, how far it
// is off, how reading and computed value agree, and the row's note.
func (s Layout) remark(j *calc.Judged) []string {
	var parts []string
	switch {
	case j.Error != "":
		parts = append(parts, j.Error)
	case len(j.Blames) > 0:
		parts = append(parts, blamed(j))
	case len(j.Needs) > 0 && !isOpenItself(j):
		parts = append(parts, "needs "+words.Listed(Names(j.Needs), 1))
	case j.Verdict == calc.Fail && j.Quantity.IsTick():
		parts = append(parts, "not done")
	case j.Verdict == calc.Fail:
		parts = append(parts, s.Margin(j)+besideMargin(j))
	case j.Verdict == calc.Unsure && Likely(j) != "":
		parts = append(parts, Likely(j))
	}
	if text := s.agreement(j); text != "" {
		parts = append(parts, text)
	}
	if q := j.Quantity; q.Example != "" && isOpenItself(j) && !s.Handed {
		parts = append(parts, "such as "+exampleOf(q))
	}
	if note := j.Quantity.Row.Note.Text; note != "" {
		parts = append(parts, Printable(note))
	}
	return parts
}

// blamed names what keeps a row of verdicts from passing: what is worst, and how
// much else there is.
func blamed(j *calc.Judged) string {
	var parts []string
	for from := 0; from < len(j.Blames); {
		verdict := j.Blames[from].Verdict
		var list []string
		for ; from < len(j.Blames) && j.Blames[from].Verdict == verdict; from++ {
			list = append(list, Printable(j.Blames[from].Name))
		}
		parts = append(parts, verdict.String()+": "+words.Listed(list, MostNames))
	}
	return strings.Join(parts, "; ")
}

// exampleOf is what a machine of this kind may have, with its unit.
func exampleOf(q *calc.Quantity) string {
	text := Printable(q.Example)
	if _, err := units.ParseValue(text); err != nil || strings.ContainsRune(text, ' ') || q.Unit.Kind > units.Point {
		return text
	}
	return Beside(text, q.Unit)
}

// isOpenItself reports whether a value is open because nobody has filled it in.
func isOpenItself(j *calc.Judged) bool {
	return j.Verdict == calc.Open && len(j.Needs) > 0 && j.Needs[0].Name == j.Quantity.Name
}

// Likely prints the probability that an unsure value is inside its limits, or why
// there is none; "" where nothing is to be said of it.
func Likely(j *calc.Judged) string {
	switch {
	case j.Unproven != nil:
		return unproven(j)
	case !calc.Has(j.Inside):
		return ""
	}
	return NumberStyle{Digits: 2}.Computed(100*j.Inside, NoSpread) + " % likely"
}

// unproven is why a number does not pass that rests on one of unknown error.
func unproven(j *calc.Judged) string {
	if j.Unproven == j.Quantity {
		return "the error of " + Printable(j.Unproven.With) + " is not known"
	}
	return readWith(j.Unproven)
}

// readWith is why an unproven number proves nothing.
//
//go:noinline
func readWith(q *calc.Quantity) string {
	return q.Name + " was read with " + Printable(q.With) + ", whose error is not known"
}

// Resting gathers what RestsOnOther is of, but for one answer that is told by itself.
func Resting(r *calc.Report, but *calc.Judged) []string {
	return unsureTogether(r.Quantities, func(j *calc.Judged) bool { return j != but && RestsOnOther(j) })
}

// RestsOnOther reports whether a value is unsure for the number of another row, which
// was read with a gauge of unknown error.
func RestsOnOther(j *calc.Judged) bool {
	return j.Verdict == calc.Unsure && j.Unproven != nil && j.Unproven != j.Quantity
}

// unsureTogether gathers, of several values, those that are unsure for one and the same
// unproven number, which may be very many: one text for each such number.
func unsureTogether(values []calc.Judged, of func(*calc.Judged) bool) (texts []string) {
	var known []*calc.Quantity
	names := map[*calc.Quantity][]string{}
	for i := range values {
		j := &values[i]
		if j.Unproven == nil || j.Verdict != calc.Unsure || !of(j) {
			continue
		}
		if names[j.Unproven] == nil {
			known = append(known, j.Unproven)
		}
		names[j.Unproven] = append(names[j.Unproven], j.Quantity.Name)
	}
	for _, q := range known {
		texts = append(texts, words.Listed(names[q], MostNames)+" unsure, since "+readWith(q))
	}
	return texts
}

// unsureForUnproven is unsureTogether of all of them.
func unsureForUnproven(values []calc.Judged) []string {
	return unsureTogether(values, func(*calc.Judged) bool { return true })
}

// unsureAcross names together what is unsure though it is not near a limit.
func unsureAcross(values []calc.Judged) []string {
	var names []string
	for i := range values {
		if values[i].Crossed {
			names = append(names, values[i].Quantity.Name)
		}
	}
	if len(names) == 0 {
		return nil
	}
	return []string{words.Listed(names, MostNames) + " unsure: the spread reaches across a corner or beyond a curve"}
}

// settling is what would settle what is unsure for an unproven number.
func settling(of *calc.Quantity) string {
	return "the gauge's class and span, or a spread in the row of " + of.Name + ", would settle it"
}

// caseRemark is which values make the verdict of a case, worst first. What waits for
// the same is named together.
func (s Layout) caseRemark(c *calc.Case) []string {
	parts := s.verdictRemark(c)
	for i := range c.Values {
		if text := s.agreement(&c.Values[i]); text != "" && (c.Values[i].Agreement > 1 || c.Values[i].UnprovenValue != nil) {
			parts = append(parts, c.Values[i].Quantity.Name+" "+text)
		}
	}
	return parts
}

// verdictRemark is caseRemark without what does not bear on the verdict.
func (s Layout) verdictRemark(c *calc.Case) []string {
	var parts []string
	waiting := map[string][]string{}
	for verdict := calc.Fail; verdict > calc.Pass; verdict-- {
		for i := range c.Values {
			j := &c.Values[i]
			switch {
			case j.Verdict != verdict:
			case verdict == calc.Fail:
				parts = append(parts, j.Quantity.Name+" "+s.Margin(j))
			case j.Error != "":
				parts = append(parts, j.Quantity.Name+": "+j.Error)
			case len(j.Needs) > 0 && j.Needs[0].Name == j.Quantity.Name && verdict == calc.Open:
				parts = append(parts, j.Quantity.Name+" is open")
			case verdict == calc.Open:
				needs := words.Listed(Names(j.Needs), 1)
				if waiting[needs] == nil {
					parts = append(parts, needs)
				}
				waiting[needs] = append(waiting[needs], j.Quantity.Name)
			case j.Unproven == nil && !j.Crossed:
				parts = append(parts, j.Quantity.Name+" unsure")
			}
		}
		if verdict == calc.Unsure {
			parts = append(append(parts, unsureAcross(c.Values)...), unsureForUnproven(c.Values)...)
		}
	}
	for i, needs := range parts {
		if list := waiting[needs]; list != nil {
			verb := " need "
			if len(list) == 1 {
				verb = " needs "
			}
			parts[i] = words.Listed(list, MostNames) + verb + needs
		}
	}
	return parts
}

const (
	columnGap = 2  // between the remarks and the table
	leastWrap = 20 // room from which on remarks can be read on several lines
)

// addRemarks adds what the numbers of the rows leave out, whole: as the last column,
// wrapped, or below the table where that takes fewer lines, as it does beside
// wide units. Below a table at most so many rows have one.
func (s Layout) addRemarks(t *table.Table, remarks [][]string, most int) {
	room := s.room(t)
	cells := make([]string, len(remarks))
	var notes []string
	beside, below := 0, 0 // lines that they take
	for i, parts := range remarks {
		cells[i] = strings.Join(parts, "; ")
		if cells[i] == "" {
			continue
		}
		note := t.Rows[i].Cells[0] + ": " + cells[i]
		notes = append(notes, note)
		beside += lineCount(cells[i], max(room, 1)) - 1
		if room >= leastWrap { // else they are not wrapped
			below += lineCount(note, s.Width)
		}
	}
	if beside == 0 && room > 0 || room >= leastWrap && beside <= below {
		s.AddColumn(t, "note", table.Left, cells)
		return
	}
	if extra := len(notes) - most; extra > 1 {
		notes = append(notes[:most], words.Counted(extra, "row")+" more; --format csv or json gives all")
	}
	s.addNote(t, notes...)
}

// lineCount is how many lines a text takes, as [Wrapped] breaks it.
func lineCount(text string, width int) int {
	lines, used := 1, 0
	for word := range strings.FieldsSeq(text) {
		length := table.TextWidth(word)
		switch {
		case used == 0:
		case used+1+length > width:
			lines, used = lines+1, 0
		default:
			used++
		}
		used += length
	}
	return lines
}
