package calc

import (
	"slices"

	"rambook/calc/tape"
	"rambook/calc/words"
	"rambook/sheets"
	"rambook/units"
)

// series is one number in every case of a sheet.
type series struct {
	unit   units.Unit
	values []Judged
	reason func(i int) string // why a case has no value

	formula bool             // of what is computed
	model   func(i int) bool // what is not read is the model's, not of the case
}

// series evaluates a quantity, or reads a column of data, in every case.
func (m *Model) series(s *sheets.Sheet, name string) (*series, []sheets.Problem) {
	q, col := m.byName[name], m.tables[s.Name].column(name)
	i := slices.IndexFunc(m.caseSheets, func(cs *caseSheet) bool { return cs.sheet == s })
	switch {
	case col != nil && col.unit.Kind == units.Text || q != nil && q.IsText():
		return nil, refusal("`"+name+"` is a text, and a trend is of numbers", "")
	case q != nil && i >= 0 && (col != nil || q.IsFormula()):
		return m.evaluated(m.caseSheets[i], q, col), nil
	case col != nil:
		return m.doubtfulData(col)
	case q != nil && q.IsFormula():
		return nil, notRun(s, name)
	case q != nil:
		return nil, refusal("`"+name+"` is a given, the same in every case of "+s.Name, "add a column of that name to the sheet")
	}
	return nil, refusal(m.unknownIn(s, name))
}

// evaluated runs the model for the cases of a sheet and asks for one quantity,
// whether the sheet asks for it or not.
func (m *Model) evaluated(cs *caseSheet, q *Quantity, col *column) *series {
	asked := cs.asking(q, col)
	only := &caseSheet{sheet: cs.sheet, asked: []*judgedColumn{asked}, given: cs.given}
	result, _ := m.runCases(only, m.tape.Once(nil), CheckOptions{}) // a case's error is in its value
	s := &series{unit: asked.unit, values: make([]Judged, len(result.Cases)), formula: q.IsFormula()}
	s.model = func(k int) bool { return q.IsFormula() || !tape.Usable(col.values[k]) }
	for k := range result.Cases {
		s.values[k] = result.Cases[k].Values[0]
	}
	s.reason = func(k int) string {
		j := &s.values[k]
		if j.Error != "" {
			return q.Name + ": " + j.Error
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
	c.load(col, nil)
	if len(c.problems) > 0 {
		return nil, c.problems
	}
	s := &series{unit: col.unit, values: make([]Judged, len(col.values)),
		reason: func(int) string { return col.name + " is blank" }, model: func(int) bool { return false }}
	for i, v := range col.values {
		s.values[i] = blank(nil, col.unit)
		if tape.Usable(v) {
			s.values[i].Reading = col.exact(i, col.unit.FromSI(v))
		}
	}
	return s, nil
}
