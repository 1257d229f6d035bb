package calc

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// Repeated runs of one thing stand in one cell, `runs 4.36 4.41 4.38 s`: its
// number is their mean, and the spread of that mean comes beside what the row, the
// column or the gauge says of a single run. So a gauge's error stays shared, since
// no number of runs takes it away. A formula reads the runs themselves as
// NAME.run, inside an aggregate: max(stop_time.run).

// runsMark stands before repeated runs. Without it 12 500 could be one number.
const runsMark = "runs "

// runColumn is the name by which formulas read the runs of a row.
const runColumn = "run"

// IsRuns reports whether the text of a cell holds repeated runs.
func IsRuns(cell string) bool { return strings.HasPrefix(cell, runsMark) }

// CutRuns cuts the text of a cell into the numbers of its runs and the unit that
// stands behind the last of them, "" if there is none. Of a cell without runs
// there are none.
func CutRuns(cell string) (runs []string, unit string) {
	if !IsRuns(cell) {
		return nil, ""
	}
	return Repeated(strings.TrimPrefix(cell, runsMark))
}

// Repeated cuts a text of several numbers with a unit behind the last. What is
// none has no runs.
func Repeated(text string) (runs []string, unit string) {
	fields := strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ';' || r == '\t' })
	for i, field := range fields {
		number := strings.TrimSuffix(field, ",")
		if _, err := strconv.ParseFloat(number, 64); err != nil {
			unit = strings.Join(fields[i:], " ")
			break
		}
		runs = append(runs, number)
	}
	if _, err := units.Parse(unit); err != nil {
		return nil, ""
	}
	return runs, unit
}

// MayBeOne reports whether several numbers look like one, written in groups of three
// digits.
func MayBeOne(runs []string) bool {
	return len(runs[0]) <= 3 && !strings.ContainsAny(runs[0], ".eE") &&
		!slices.ContainsFunc(runs[1:], func(run string) bool {
			return len(run) != 3 ||
				strings.ContainsAny(run, ".eE+-")
		})
}

// JoinRuns writes runs as a cell holds them.
func JoinRuns(runs []string, unit string) string {
	return strings.TrimSpace(runsMark + strings.Join(runs, " ") + " " + unit)
}

// readRuns reads a cell of repeated runs.
func (c *compiler) readRuns(e entry, u units.Unit, r role) entry {
	runs, unit := CutRuns(e.cell.Text)
	if len(runs) < 2 {
		c.report(e.fault("repeated runs are two or more numbers",
			"write them as `runs 4.36 4.41 4.38`, with a unit behind the last if it is not the row's"))
		return e
	}
	var values []float64
	mean, typed := 0.0, 0.0
	one := e
	for _, run := range runs {
		one = e
		one.place = &place{sheet: e.sheet, cell: e.cell, argument: e.argument}
		one.cell.Text = strings.TrimSpace(run + " " + unit)
		if one = c.readNumber(one, u, r); one.kind != numberEntry {
			return e
		}
		values = append(values, one.value)
		mean += one.value / float64(len(runs))
		typed += one.typed / float64(len(runs))
	}
	one.place, one.value, one.typed = e.place, mean, typed
	one.scatter = function.RepeatSpread(values)
	return one
}

// repeated is the cell of a row whose runs count, its entry or its reading.
func (q *Quantity) repeated() *entry {
	if q.IsFormula() {
		return q.reading
	}
	return &q.entry
}

// addScatter adds to the spread of a row what its repeated runs say of their mean.
func (l *lowering) addScatter(q *Quantity) {
	s := q.repeated().scatter
	if s == 0 {
		return
	}
	scatter := l.tape.Constant(s)
	switch {
	case q.spread.kind == percentEntry:
		share := l.tape.Constant(q.spread.value * math.Abs(q.repeated().value))
		q.spread = q.spread.onTape() // spreadAt
		q.spreadAt = l.tape.Norm([]tape.Register{share, scatter})
	case q.spreadAt == tape.None:
		q.spread = q.spread.onTape() // spreadAt
		q.spreadAt = scatter
	default:
		q.spreadAt = l.tape.Norm([]tape.Register{q.spreadAt, scatter})
		own := *q.spread
		own.typed = math.NaN()
		q.spread = &own
	}
}

// scattered is an input of the cases of a sheet beside their values: what the
// repeated runs in the cells of one column say of their mean, 0 where a cell holds
// one number; or 1 where a column states the spread in place of a gauge, or where a
// cell is n/a.
type scattered struct {
	input  tape.Register
	values []float64
}

// scatterOf adds to the spread of a column what repeated runs in its cells say.
// quantity is what the column is about, and at the spread of one run, which is the
// quantity's own where the sheet states none.
func (l *lowering) scatterOf(cs *caseSheet, col *column, q *Quantity, stated entry, at tape.Register) tape.Register {
	if col.scatter == nil {
		return at
	}
	values := col.scatter
	if stated.kind == blankEntry {
		stated, at = *q.spread, q.spreadAt
	}
	if stated.kind == percentEntry {
		values = make([]float64, len(values))
		for i, v := range col.values {
			if tape.Usable(v) {
				values[i] = math.Hypot(col.scatter[i], stated.value*math.Abs(v))
			}
		}
		at = tape.None
	}
	s := scattered{input: l.tape.Input(0), values: values}
	cs.scatters = append(cs.scatters, s)
	if at == tape.None {
		return s.input
	}
	return l.tape.Norm([]tape.Register{at, s.input})
}

// runsSheet makes the runs of a row a case sheet of the row's name, so that
// aggregates read them like any column. It is nil if there is no such row.
func (c *compiler) runsSheet(name string) *sheets.Sheet {
	q := c.model.byName[name]
	if q == nil || q.Unit.Kind > units.Point {
		return nil
	}
	if c.runsOf == nil {
		c.runsOf = map[string]*Quantity{}
	}
	if t := c.model.tables[name]; t != nil && t.sheet.Made { // of the model that this one goes on from
		c.runsOf[name], c.sheets[name] = q, t.sheet
		return t.sheet
	}
	text := q.Row.Entry
	if q.IsFormula() {
		text = q.Row.Reading
	}
	if q.entry.place != nil && !q.IsFormula() {
		text.Text = q.entry.own() // which stands in an argument where it was replaced
	}
	runs, unit := CutRuns(text.Text)
	if _, number, _ := CutAssumed(text.Text); runs == nil && number != "" {
		runs = []string{number}
	}
	s := &sheets.Sheet{File: q.Sheet.File, Name: name, Kind: sheets.Cases, Key: q.Row.Name, Made: true,
		Columns: []sheets.Column{{Name: sheets.Cell{Text: runColumn}, Unit: q.Row.Unit, Spread: q.Row.Spread}}}
	for i, run := range runs {
		cell := text
		cell.Text = strings.TrimSpace(run + " " + unit)
		c.model.textIndex(strconv.Itoa(i + 1))
		s.Cases = append(s.Cases, sheets.CaseRow{Name: sheets.Cell{Text: strconv.Itoa(i + 1)},
			Cells: []sheets.Cell{cell}})
	}
	col := &column{sheet: s, name: runColumn, unit: q.Unit, typ: q.typ, spread: *q.spread, looked: true}
	if q.isGauged() {
		col.gaugedAs = q
	}
	told := len(c.problems)
	c.load(col, nil)
	c.problems = c.problems[:told] // the row itself has reported them
	c.runsOf[name], c.sheets[name] = q, s
	c.model.tables[name] = &table{sheet: s, columns: []*column{col}}
	return s
}

// withoutRuns is an aggregate over the runs of a row that has none: it waits for
// them, or is n/a like the row. It is false where there are runs.
func (l *lowering) withoutRuns(n *node) (tape.Register, bool) {
	q := l.runsOf[n.over]
	switch {
	case q == nil:
		return tape.None, false
	case q.IsAbsent():
		return l.nothing(), true
	case len(l.sheets[n.over].Cases) == 0:
		return l.openCell(q.need(false)), true
	}
	if why := n.fn.TooFew(len(l.sheets[n.over].Cases)); why != "" {
		need := q.need(false)
		need.Name = fmt.Sprintf("%s: %s", q.Name, strings.Replace(why, "rows", "runs", 1))
		return l.openCell(need), true
	}
	return tape.None, false
}

// hintForRuns is how several numbers in one cell are written, "" if a text is
// no such.
func hintForRuns(text string) string {
	if runs, unit := Repeated(text); len(runs) > 1 && !MayBeOne(runs) {
		return "repeated runs of one thing are written " + words.Quoted(JoinRuns(runs, unit))
	}
	return ""
}
