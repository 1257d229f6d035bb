package calc

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"rambook/calc/function"
	"rambook/calc/phase"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/units"
	"rambook/units/words"
)

// A phase sheet cuts a log into cycles. What formulas ask of the phases is
// computed while the log goes by, on a tape of its own whose inputs are the
// log's columns; see package phase. Behind that, each aggregate is an input of
// the model, and the cycles are the cases of a case sheet named like the phase
// sheet, which cycles.go puts together.

// cutting is a phase sheet as it is compiled.
type cutting struct {
	sheet *sheets.Sheet
	log   *log.Log // nil where it is not there yet: whatever needs it is open

	tape    *tape.Tape
	columns []*logColumn // those that something uses, the time first
	tracks  []tape.Register
	phases  []phase.Phase
	named   int // the log's column that names the cycles, -1 for none

	values []*cycleValue // what formulas ask
	waits  []*Quantity   // givens that have to be known before the log is cut
	result *phase.Result
	names  []string // of the cycles
	cycles *sheets.Sheet
	cases  *caseSheet // nil where nothing is asked of them
}

// logColumn is a column of a log that something uses.
type logColumn struct {
	index int // in the log
	head  *log.Column
	unit  units.Unit
	wrong bool // its unit, so that nothing more is reported of what uses it
	at    tape.Register
}

// isIn names the unit of a column where it does not suit, for who has to find
// out whether that is right.
func (col *logColumn) isIn() string {
	if col.head.Unit == "" {
		return "the log's header of " + col.head.Name + " has no unit; it stands in brackets, as in pressure [MPa]"
	}
	return fmt.Sprintf("%s is in %s by the log's header", col.head.Name, col.head.Unit)
}

// track is the column of a log that an expression reads beside the time; "" where there
// are none or several.
func (n *node) track() string {
	var names []string
	n.walk(func(part *node) {
		if part.kind == trackNode && part.logged.index > 0 && !slices.Contains(names, part.logged.head.Name) {
			names = append(names, part.logged.head.Name)
		}
	})
	if len(names) != 1 {
		return ""
	}
	return names[0]
}

// gatherTracks makes one problem of all those that the unit of one column of a log
// makes: the first in a sheet that cuts the log, else the first there is.
func (c *compiler) gatherTracks() {
	at, count := map[string]int{}, map[string]int32{}
	cuts := func(p sheets.Problem) bool {
		return slices.ContainsFunc(c.model.cuttings, func(cut *cutting) bool { return cut.sheet.File == p.File })
	}
	for i, p := range c.problems {
		if p.Lacks {
			continue
		}
		if first, known := at[p.Track]; !known || cuts(p) && !cuts(c.problems[first]) {
			at[p.Track] = i
		}
		count[p.Track]++
	}
	kept := c.problems[:0]
	for i, p := range c.problems {
		if p.Track != "" && !p.Lacks {
			if at[p.Track] != i {
				continue
			}
			if p.Places = count[p.Track]; p.Places > 1 {
				p.Message += "; likewise in " + words.Counted(int(p.Places)-1, "other place") + " where " + p.Track + " is read"
			}
		}
		kept = append(kept, p)
	}
	c.problems = kept
}

// giveUp marks a part of a formula that is in error, so that nothing more is reported
// about what it is part of.
func (n *node) giveUp() { n.kind, n.typ, n.args = symbolNode, unknownType, nil }

// cycleValue is an aggregate over a phase: an input of the model, with one value
// in each cycle.
type cycleValue struct {
	cutting *cutting
	text    string // as it stands in the formula
	typ     function.Type
	phase   int
	by      phase.Function
	x, y    tape.Register // on the cutting's tape
	holds   bool

	value, spread *Quantity // what stands for them on the model's tape
}

// phaseOf is a phase by its name.
type phaseOf struct {
	cutting *cutting
	index   int
}

// readPhases compiles the phase sheets: it finds what formulas ask of phases,
// and cuts the logs.
func (c *compiler) readPhases() {
	phases := map[string]phaseOf{}
	for _, s := range c.model.Book.Sheets {
		if s.Kind == sheets.Phases {
			c.model.cuttings = append(c.model.cuttings, c.newCutting(s, phases))
		}
	}
	if len(c.model.cuttings) == 0 {
		return
	}
	before := len(c.problems)
	c.parse()
	for _, q := range c.model.Quantities {
		for _, e := range []*entry{&q.entry, q.reading} {
			if e.formula != nil && e.formula.isParsed() && e.formula.names(phases) {
				e.formula.root = e.formula.tree() // which is changed
				c.findAggregates(q, e, phases)
			}
		}
		if f := q.reading.formula; f != nil {
			c.checkReading(q, f)
		}
	}
	for _, cut := range c.model.cuttings {
		c.readConditions(cut)
		switch {
		case len(c.problems) > before || cut.log == nil:
		case len(cut.waits) > 0:
			var names []string
			for _, q := range cut.waits {
				names = append(names, q.Name)
			}
			c.warn(placeIn(cut.sheet, cut.sheet.Phases[0].Phase).fault(
				"the log is not cut yet: it needs "+words.Listed(names, mostNames), ""))
		default:
			c.cut(cut)
		}
	}
}

// names reports whether a formula may have a column of a phase: the name of one stands
// in it before a point.
func (f *formula) names(phases map[string]phaseOf) bool {
	if !strings.Contains(f.text, ".") {
		return false
	}
	for name := range phases {
		for _, rest, found := strings.Cut(f.text, name); found; _, rest, found = strings.Cut(rest, name) {
			if strings.HasPrefix(strings.TrimSpace(rest), ".") {
				return true
			}
		}
	}
	return false
}

// newCutting reads a phase sheet but for its conditions.
func (c *compiler) newCutting(s *sheets.Sheet, phases map[string]phaseOf) *cutting {
	cut := &cutting{sheet: s, tape: tape.New(), named: -1}
	var named *sheets.Cell
	for i := range s.Phases {
		row := &s.Phases[i]
		name := row.Phase.Text
		first, taken := phases[name]
		switch {
		case !IsName(name):
			c.report(placeIn(s, row.Phase).fault(words.Quoted(name)+" cannot be a name",
				"use letters, digits and _, with a letter first"))
		case taken:
			c.report(placeIn(s, row.Phase).fault(fmt.Sprintf("phase %s stands already in %s, line %d", name,
				first.cutting.sheet.File, first.cutting.sheet.Phases[first.index].Phase.Line), "rename one of the two"))
		case c.sheets[name] != nil:
			c.report(placeIn(s, row.Phase).fault(
				words.Quoted(name)+" is the name of a sheet, and a phase cannot have it too", "rename the phase"))
		default:
			phases[name] = phaseOf{cut, i}
		}
		if !row.Case.Blank() {
			if named != nil && named.Text != row.Case.Text {
				c.report(placeIn(s, row.Case).fault("two columns cannot name the cycles",
					"write the column once, in the first phase"))
			}
			named = &row.Case
		}
	}
	if len(s.Phases) == 0 {
		c.report(placeIn(s, s.Header()).fault("the sheet has no phase",
			"write one line for each phase, in their order"))
		return cut
	}
	if !c.findLog(cut) {
		return cut
	}
	if named != nil {
		cut.named = cut.log.Column(named.Text)
		if cut.named < 0 {
			at := placeIn(s, *named)
			c.report(at.placedAt(at.whole(), noColumn(cut.log, named.Text)))
		}
	}
	c.columnInput(cut, 0, placeIn(s, s.Phases[0].Phase))
	return cut
}

// logName is the name of the log that the phases are of, "log" where none is named.
func (cut *cutting) logName() string {
	for i := range cut.sheet.Phases {
		if cell := cut.sheet.Phases[i].Log; !cell.Blank() {
			return cell.Text
		}
	}
	return "log"
}

// findLog opens the log that a phase sheet cuts, if it is there.
func (c *compiler) findLog(cut *cutting) bool {
	s := cut.sheet
	var at *sheets.Cell
	for i := range s.Phases {
		cell := &s.Phases[i].Log
		switch {
		case cell.Blank():
		case at == nil:
			at = cell
		case at.Text != cell.Text:
			c.report(placeIn(s, *cell).fault("a phase sheet cuts one log, here are "+at.Text+" and "+cell.Text,
				"put the phases of each log into a sheet of their own"))
			return false
		}
	}
	if at == nil {
		c.report(placeIn(s, s.Phases[0].Phase).fault("no log is named",
			"write its name, the file name without .csv, into the column log"))
		return false
	}
	var logs []string
	for _, other := range c.model.Book.Sheets {
		if other.Kind == sheets.Log {
			logs = append(logs, other.Name)
		}
	}
	found := c.sheets[at.Text]
	switch {
	case found == nil && !slices.ContainsFunc(logs, func(name string) bool { return words.OneSlip(at.Text, name) }):
		return false // the phases wait for it
	case found == nil:
		c.report(placeIn(s, *at).fault("no log is named "+words.Quoted(at.Text),
			words.DidYouMean(at.Text, logs, "the logs here are "+words.Listed(logs, mostNames))))
		return false
	case found.Kind != sheets.Log:
		c.report(placeIn(s, *at).fault(fmt.Sprintf("%s is a sheet of %v, not a log", words.Quoted(at.Text), found.Kind),
			"a log begins with the header `time`"))
		return false
	}
	opened, problems := log.Open(found.File, found.Open)
	c.problems = append(c.problems, problems...)
	cut.log = opened
	return opened != nil
}

// noColumn is for a column that a log lacks, with what it has. It has no place yet.
func noColumn(l *log.Log, name string) sheets.Problem {
	var names []string
	for _, col := range l.Columns {
		if col.Name != "" {
			names = append(names, col.Name)
		}
	}
	return sheets.Problem{Message: fmt.Sprintf("the log %s has no column %s", l.Shown, words.Quoted(name)),
		Hint: words.DidYouMean(name, names, "its columns are "+words.Listed(names, mostNames)), Track: name, Lacks: true}
}

// columnInput is the column of a log as an input of the cutting's tape. user is what
// asks for it.
func (c *compiler) columnInput(cut *cutting, index int, user place) *logColumn {
	for _, col := range cut.columns {
		if col.index == index {
			return col
		}
	}
	head := &cut.log.Columns[index]
	u, err := units.Parse(head.Unit)
	wrong := false
	problem := func(message, hint string) {
		wrong = true
		c.report(sheets.Problem{File: cut.log.Shown, Line: head.Line, Column: head.Column, Text: head.Name,
			To: utf8.RuneCountInString(head.Name), Message: message, Hint: hint})
	}
	switch {
	case err != nil:
		problem(fmt.Sprintf("the unit of column %s: %s", head.Name, err.Message), err.Hint)
	case u.Kind > units.Point && !(index == 0 && u.Kind == units.Date && cut.log.Dated):
		problem(fmt.Sprintf("column %s cannot be in %s", head.Name, u.Symbol),
			"a log holds numbers with units of measure")
	case index == 0 && (cut.log.Dated || u.Symbol == ""):
		u, _ = units.Parse("s")
	case index == 0 && u.Dim != units.Time:
		problem(fmt.Sprintf("the time is in %s, which is no unit of time", u.Symbol), "write time [s]")
	}
	if index == cut.named {
		c.report(user.fault(fmt.Sprintf("the column %s names the cycles, so it cannot be computed with", head.Name),
			""))
	}
	col := &logColumn{index: index, head: head, unit: u, wrong: wrong, at: cut.tape.Input(0)}
	cut.columns = append(cut.columns, col)
	return col
}

// track turns a node into a column of a log.
func (c *compiler) track(cut *cutting, n *node, index int, user place) {
	col := c.columnInput(cut, index, user)
	n.kind, n.typ, n.args = trackNode, typeOf(col.unit), nil
	n.link = &link{logged: col}
	switch {
	case col.wrong:
		n.typ = unknownType
	case index == 0:
		n.typ = function.Type{Dim: units.Time} // counted from the beginning, not on a calendar
	}
}

// trackOf is the place of a register among what the cutter is given.
func (cut *cutting) trackOf(r tape.Register) int {
	if i := slices.Index(cut.tracks, r); i >= 0 {
		return i
	}
	cut.tracks = append(cut.tracks, r)
	return len(cut.tracks) - 1
}
