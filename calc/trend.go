package calc

import (
	"math"
	"slices"

	"rambook/calc/line"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/sorting"
	"rambook/units/words"
)

// TrendOptions choose what a trend is drawn against.
type TrendOptions struct {
	Against string // a column of the sheet; "" is its DateColumn
}

// Trend is the straight line through the cases of a sheet. Values are in Unit,
// places in AgainstUnit, or in days since Origin if Dated.
//
// The cases' own givens are independent of each other, and so are their readings
// but for the gauge that they were taken with. What that gauge is off by, and what
// the model adds to computed values, such as an area that it has from one drawing,
// is wrong in all of them alike, and counts once: mostly it moves the whole line,
// and leaves its slope.
type Trend struct {
	Sheet       *sheets.Sheet
	Name        string
	Unit        units.Unit
	Against     string
	AgainstUnit units.Unit
	Dated       bool
	Origin      float64 // the first date, SI

	Line    line.Line
	Points  []TrendPoint // in the order of their places
	LeftOut []CaseReason
	Limits  Judged   // the value of the last point, with the limits that count there
	Meets   *Meeting // nil if there is no limit ahead or behind, or if the slope is not certain

	Formula bool // what is not read is computed, not a given
}

// TrendPoint is one case of a trend.
type TrendPoint struct {
	Case   string
	X, Y   float64
	Spread float64 // of Y, NaN without one
	Read   bool    // Y is a reading
	Model  bool    // Y is computed

	row int // of the sheet's cases
}

// CaseReason is a case that takes no part, and why.
type CaseReason struct{ Case, Why string }

// Meeting is where the line reaches a limit.
type Meeting struct {
	Limit            float64
	Low              bool    // it is the low limit
	When             float64 // as X of a point
	Earliest, Latest float64 // when the band of the line reaches it first and last
	Past             bool    // the last point lies behind it
	Far              bool    // more than farAhead, so that a date means nothing
}

// farAhead is in days, as the X of dated points.
const farAhead = 100 * 365.25

// secondsPerDay turns a date's SI value into days.
const secondsPerDay = units.Day

// Trend fits a straight line through the cases of a sheet: y is what name
// reads in a case, else what it is computed to be.
func (m *Model) Trend(sheet, name string, opt TrendOptions) (*Trend, []sheets.Problem) {
	s, problems := m.caseSheet(sheet, "a trend goes through the cases of a case sheet")
	if s == nil {
		return nil, problems
	}
	t := &Trend{Sheet: s, Name: m.spelledIn(s, name), Against: opt.Against}
	if t.Against != "" {
		t.Against = m.spelledIn(s, t.Against)
	}
	if t.Against == "" {
		t.Against = m.DateColumn(s)
		if t.Against == "" && s.Made { // cycles have the time at which they start
			t.Against = startColumn
		}
		if t.Against == "" {
			return nil, refusal("sheet "+s.Name+" has no column of dates",
				"give a column the unit date, or add --against COLUMN")
		}
	}
	y, problemsY := m.series(s, name)
	x, problemsX := m.series(s, t.Against)
	if len(problemsY)+len(problemsX) > 0 {
		return nil, append(problemsY, problemsX...)
	}
	if problems := t.draw(x, y); len(problems) > 0 {
		return nil, problems
	}
	return t, nil
}

// draw fits the line through two series of the sheet.
func (t *Trend) draw(x, y *series) []sheets.Problem {
	t.Unit, t.AgainstUnit, t.Dated, t.Formula = y.unit, x.unit, x.unit.Kind == units.Date, y.formula
	if y.unit.Kind == units.Date {
		return refusal(t.Name+" is a date, and a trend is of a number", "")
	}
	t.collect(t.Sheet, x, y)
	if problems := t.fit(y.from); len(problems) > 0 {
		return problems
	}
	t.meet(y)
	return nil
}

// DateColumn is the column of a case sheet with the date of each case: of
// those with the unit date that are not computed the one named date, else the
// first. It is "" if there is none.
func (m *Model) DateColumn(s *sheets.Sheet) string {
	first := ""
	for _, col := range m.tables[s.Name].columns {
		if col.unit.Kind == units.Date && !col.asks && (first == "" || col.name == "date") {
			first = col.name
		}
	}
	return first
}

// collect pairs the series up, in the order of the places.
func (t *Trend) collect(s *sheets.Sheet, x, y *series) {
	t.Origin = math.Inf(1)
	for i := range s.Cases {
		name := s.Cases[i].Name.Text
		at, _, _ := x.values[i].Subject()
		p := TrendPoint{Case: name, X: at, row: i}
		p.Y, p.Spread, p.Read = y.values[i].Subject()
		p.Model = !p.Read && y.formula
		switch {
		case !Has(p.X):
			t.LeftOut = append(t.LeftOut, CaseReason{name, x.reason(i)})
		case !Has(p.Y):
			t.LeftOut = append(t.LeftOut, CaseReason{name, y.reason(i)})
		case !p.Read && y.idle != nil && y.idle(i):
			t.LeftOut = append(t.LeftOut, CaseReason{name, "nothing was measured that " + t.Name + " depends on"})
		default:
			t.Points = append(t.Points, p)
			t.Origin = min(t.Origin, p.X)
		}
	}
	if t.Dated {
		for i := range t.Points {
			t.Points[i].X = (t.Points[i].X - t.Origin) / secondsPerDay
		}
	}
	sorting.Stable(t.Points, func(a, b TrendPoint) int {
		switch {
		case a.X < b.X:
			return -1
		case a.X > b.X:
			return 1
		}
		return 0
	})
}

// OfModel counts the points whose value is computed.
func (t *Trend) OfModel() int {
	n := 0
	for _, p := range t.Points {
		if p.Model {
			n++
		}
	}
	return n
}

// fit fits the line: with weights if every point has a spread, without if none
// has.
func (t *Trend) fit(from *caseSpreads) []sheets.Problem {
	var x, y, u []float64
	var bare []string
	first := len(t.Sheet.Cases) // of the bare ones, in the sheet
	for _, p := range t.Points {
		x, y = append(x, p.X), append(y, p.Y)
		if p.Spread > 0 {
			u = append(u, p.Spread/2)
		} else {
			bare, first = append(bare, words.Quoted(p.Case)), min(first, p.row)
		}
	}
	if len(u) > 0 && len(bare) > 0 {
		return []sheets.Problem{placeIn(t.Sheet, t.cell(&t.Sheet.Cases[first])).fault(
			"some cases of "+t.Name+" have a spread and some have none: "+words.Listed(bare, 3),
			"give all of them one in the row :spread of the sheet, or none")}
	}
	fitted, err := line.Fit(x, y, u, t.shared(from))
	if err != nil {
		return t.refuse(err.Error()+" of "+t.Name+" against "+t.Against, t.whyFew())
	}
	t.Line = fitted
	return nil
}

// shared lists, by source of error, how far it moves the points, as standard
// uncertainties. A source that moves only one is that point's own.
func (t *Trend) shared(from *caseSpreads) [][]float64 {
	if from == nil {
		return nil
	}
	moved, count := make([][]float64, from.sources), make([]int, from.sources)
	for i, p := range t.Points {
		for _, s := range from.shared[p.row] {
			if moved[s.source] == nil {
				moved[s.source] = make([]float64, len(t.Points))
			}
			moved[s.source][i] = spreadIn(t.Unit, s.part) / 2
			count[s.source]++
		}
	}
	var shared [][]float64
	for k, f := range moved {
		if count[k] > 1 {
			shared = append(shared, f)
		}
	}
	return shared
}

// cell is where the value stands in a case that the trend is of; the name of the case, if the
// sheet has no such column or the cell is blank.
func (t *Trend) cell(row *sheets.CaseRow) sheets.Cell {
	for i, head := range t.Sheet.Columns {
		if head.Name.Text == t.Name && !row.Cells[i].Blank() {
			return row.Cells[i]
		}
	}
	return row.Name
}

func (t *Trend) refuse(message, hint string) []sheets.Problem {
	return []sheets.Problem{{File: t.Sheet.File, Message: message, Hint: hint}}
}

// whyFew is why cases do not count.
func (t *Trend) whyFew() string {
	if len(t.LeftOut) == 0 {
		return ""
	}
	return words.Counted(len(t.LeftOut), "case") + " left out; " + t.LeftOut[0].Case + ": " + t.LeftOut[0].Why
}

// meet finds where the line meets the limit that it goes towards. Where the
// limits differ from case to case, those of the last one count. Whether the
// line is any good is another question: see Foretells.
func (t *Trend) meet(y *series) {
	last := t.Points[len(t.Points)-1]
	t.Limits = y.values[last.row]
	limit, low := t.Limits.High, t.Line.Slope < 0
	if low {
		limit = t.Limits.Low
	}
	if !Has(limit) {
		return
	}
	if when, earliest, latest, ok := t.Line.Meets(limit); ok {
		t.Meets = &Meeting{Limit: limit, Low: low, When: when, Earliest: earliest, Latest: latest,
			Past: when <= last.X, Far: t.Dated && earliest > farAhead}
	}
}

// Foretells reports whether the line may be followed to a limit: there is one on its
// way, and the points do not speak against the line.
func (t *Trend) Foretells() bool {
	why, _ := t.Line.Doubt()
	return t.Meets != nil && why == ""
}

// series is one number in every case of a sheet.
type series struct {
	unit   units.Unit
	values []Judged
	reason func(i int) string // why a case has no value

	from *caseSpreads // to its spread; nil of data

	formula bool             // of what is computed
	idle    func(i int) bool // the value owes nothing to the case; nil where that cannot be
}

// series evaluates a quantity, or reads a column of data, in every case.
func (m *Model) series(s *sheets.Sheet, name string) (*series, []sheets.Problem) {
	name = m.spelledIn(s, name)
	q, col := m.byName[name], m.tables[s.Name].column(name)
	i := slices.IndexFunc(m.caseSheets, func(cs *caseSheet) bool { return cs.sheet == s })
	switch {
	case col != nil && col.unit.Kind == units.Text || q != nil && q.IsText():
		return nil, refusal(words.Quoted(name)+" is a text, and a trend is of numbers", "")
	case q != nil && i >= 0 && (col != nil || q.IsFormula()):
		return m.evaluated(m.caseSheets[i], q, col), nil
	case col != nil:
		return m.doubtfulData(col)
	case q != nil && q.IsFormula():
		return nil, notRun(s, name)
	case q != nil:
		return nil, refusal(words.Quoted(name)+" is a given, the same in every case of "+s.Name,
			"add a column of that name to the sheet")
	}
	return nil, refusal(m.unknownIn(s, name))
}

// evaluated runs the model for the cases of a sheet and asks for one quantity,
// whether the sheet asks for it or not.
func (m *Model) evaluated(cs *caseSheet, q *Quantity, col *column) *series {
	asked := cs.asking(q, col)
	only := &caseSheet{sheet: cs.sheet, asked: []*judgedColumn{asked}, given: cs.given, row: cs.row,
		scatters: cs.scatters}
	base := m.tape.Once(nil)
	result, _ := m.runCases(only, base, CheckOptions{}) // a case's error is in its value
	values := make([]Judged, len(result.Cases))
	for k := range values {
		values[k] = result.Cases[k].Values[0]
	}
	s := seriesOf(q, asked.unit, values)
	s.from = m.caseSpreads(cs, asked, values, base)
	s.idle = m.idle(cs, q, col)
	return s
}

// idle finds the cases in which a quantity is only what the model itself makes it,
// dates apart: a visit at which nothing was measured is no point of a line.
func (m *Model) idle(cs *caseSheet, q *Quantity, col *column) func(k int) bool {
	var moving []*column
	switch {
	case !q.IsFormula():
		moving = append(moving, col)
	case len(cs.row) > 0:
		return nil // a running sum has the rows before in it
	}
	for _, g := range cs.given {
		if q.IsFormula() && g.unit.Kind != units.Date && m.tape.Reached([]tape.Register{g.input()})[q.value] {
			moving = append(moving, g.column)
		}
	}
	return func(k int) bool {
		return !slices.ContainsFunc(moving, func(col *column) bool { return tape.Usable(col.values[k]) })
	}
}

// seriesOf is what a run has of a quantity in every case of a sheet.
func seriesOf(q *Quantity, u units.Unit, values []Judged) *series {
	s := &series{unit: u, values: values, formula: q.IsFormula()}
	s.reason = func(k int) string {
		j := &s.values[k]
		if j.Error != "" {
			return q.Name + ": " + j.Error
		}
		if j.State == Absent {
			return q.Name + " is n/a there"
		}
		var needs []string
		for _, n := range j.Needs {
			needs = append(needs, n.Name)
		}
		return q.Name + " needs " + words.Listed(needs, mostNames)
	}
	return s
}

// doubtfulData reads a column of data with the spread that it states.
func (m *Model) doubtfulData(col *column) (*series, []sheets.Problem) {
	s, problems := m.data(col)
	c := m.compiler()
	col = c.own(col)
	c.load(col, nil) // what is wrong in it is reported already
	c.problems = nil
	spread := c.readSpread(col)
	if problems = append(problems, c.problems...); len(problems) > 0 {
		return nil, problems
	}
	for i, v := range col.values {
		if tape.Usable(v) && spread.kind != blankEntry {
			s.values[i].ReadingSpread = spreadIn(col.unit, spread.spreadOf(v))
		}
	}
	return s, nil
}

// data reads a column of data: nothing is computed, so all of it is read.
func (m *Model) data(col *column) (*series, []sheets.Problem) {
	c := m.compiler()
	col = c.own(col)
	c.load(col, nil)
	if len(c.problems) > 0 {
		return nil, c.problems
	}
	s := &series{unit: col.unit, values: make([]Judged, len(col.values)),
		reason: func(int) string { return col.name + " is blank" }}
	for i, v := range col.values {
		s.values[i] = blank(nil, col.unit)
		if tape.Usable(v) {
			s.values[i].Reading = col.exact(i, col.unit.FromSI(v))
		}
	}
	return s, nil
}
