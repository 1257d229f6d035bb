package calc

import (
	"maps"
	"math"
	"slices"
	"strings"

	"rambook/calc/fit"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// survey gathers what was read of the notebook itself, or in the cases of a
// sheet, for a fit. took has which reading belongs to which quantity.
type survey struct {
	*fit.Survey
	took    []*Quantity
	leftOut []Reason
	unsure  bool // some reading has a spread
}

// surveyNotebook gathers the readings of the rows.
func (m *Model) surveyNotebook() *survey {
	s := m.newSurvey(m.seeds())
	s.Cases = 1
	for _, q := range m.Quantities {
		if q.hasReading() {
			s.takeOwn(q, []float64{q.reading.value})
		}
	}
	return s
}

// surveyCases gathers the readings in the cases of a sheet; keep marks which of
// them take part, nil for all.
func (m *Model) surveyCases(cs *caseSheet, keep []bool) *survey {
	s := m.newSurvey(cs.caseSeeds(m.seeds()))
	chosen := func(values []float64) []float64 {
		if keep == nil {
			return values
		}
		var list []float64
		for i, v := range values {
			if keep[i] {
				list = append(list, v)
			}
		}
		return list
	}
	s.Cases = len(chosen(make([]float64, len(cs.sheet.Cases))))
	for _, g := range cs.given {
		s.Replaced = append(s.Replaced, fit.Column{Input: g.input(), Values: chosen(g.column.values)})
	}
	for _, one := range cs.scatters {
		s.Replaced = append(s.Replaced, fit.Column{Input: one.input, Values: chosen(one.values)})
	}
	for _, a := range cs.asked {
		values := chosen(a.column.values)
		if a.column.quantity == nil || !slices.ContainsFunc(values, tape.Usable) {
			continue
		}
		if a.scattered {
			formula, spread := a.quantity.value, entry{kind: numberEntry}
			if a.spread.kind == blankEntry {
				formula = a.quantity.shownAt()
			}
			s.take(a.quantity, fit.Reading{Formula: formula, Values: values, Spread: a.spreadAt}, spread)
		} else if a.spread.kind == blankEntry {
			s.takeOwn(a.quantity, values)
		} else {
			s.take(a.quantity, fit.Reading{Formula: a.quantity.value, Values: values, Spread: a.spreadAt}, a.spread)
		}
	}
	return s
}

func (m *Model) newSurvey(seeds map[tape.Register]tape.Register) *survey {
	base := m.tape.Once(nil)
	s := &survey{Survey: &fit.Survey{Tape: m.tape, Base: base}}
	for _, d := range slices.Sorted(maps.Keys(seeds)) {
		s.Doubts = append(s.Doubts, fit.Doubt{Input: d, Spread: seeds[d]})
	}
	return s
}

// takeOwn adds readings of a quantity that have the spread of its row, or of its
// gauge.
func (s *survey) takeOwn(q *Quantity, values []float64) {
	r, spread := fit.Reading{Formula: q.shownAt(), Values: values, Spread: q.spreadAt}, *q.spread
	switch {
	case q.readsCyclesGauged():
		r.Spread, spread.kind = q.cycles.misfit, formulaEntry
	case q.isGauged() && q.relative && q.own == 0:
		spread.kind, spread.value = percentEntry, q.least
	case q.isGauged() && q.reading.scatter > 0:
		r.Spread = q.spreadAt
	case q.isGauged():
		r.Spread = q.leastAt
	}
	s.take(q, r, spread)
}

// take adds the readings of a quantity.
func (s *survey) take(q *Quantity, r fit.Reading, spread entry) {
	switch spread.kind {
	case blankEntry:
		r.Spread = tape.None
	case percentEntry:
		r.Spread, r.Share = tape.None, spread.value
	}
	s.unsure = s.unsure || spread.kind != blankEntry
	s.Readings = append(s.Readings, r)
	s.took = append(s.took, q)
}

// leaveOut drops the readings that have no spread where others have one, and those of
// values that rest on what is unproven, if that is nothing to be fitted.
func (s *survey) leaveOut(on *unproven, tr *trace) {
	if !s.unsure {
		return
	}
	var readings []fit.Reading
	var took []*Quantity
	for i, r := range s.Readings {
		why := on.doubted(r.Formula, tr)
		if r.Spread == tape.None && r.Share == 0 {
			why = "its reading has no spread"
		}
		if why != "" {
			s.leftOut = append(s.leftOut, Reason{s.took[i], why})
			continue
		}
		readings, took = append(readings, r), append(took, s.took[i])
	}
	s.Readings, s.took = readings, took
}

// remarks reports whether a column without a unit holds other than numbers.
func remarks(s *sheets.Sheet, column int) bool {
	return slices.ContainsFunc(s.Cases, func(row sheets.CaseRow) bool {
		cell := row.Cells[column]
		_, err := units.ParseValue(cell.Text)
		return !cell.Blank() && err != nil && !IsAbsent(cell.Text)
	})
}

// keyColumn holds the names of the cases, as numbers where all are.
func keyColumn(s *sheets.Sheet, m *Model) *column {
	col := &column{sheet: s, name: s.Key.Text, loaded: true, values: make([]float64, len(s.Cases))}
	numbers := true
	for i := range s.Cases {
		v, err := units.ParseValue(s.Cases[i].Name.Text)
		numbers = numbers && err == nil && !v.HasUnit
		col.values[i] = v.Number
	}
	if !numbers {
		col.unit = units.Unit{Symbol: "text", Kind: units.Text}
		for i := range s.Cases {
			col.values[i] = m.textIndex(s.Cases[i].Name.Text)
		}
	}
	col.typ = typeOf(col.unit)
	return col
}

// runSheet finds a case sheet that the model is run for.
func (m *Model) runSheet(name string) (*caseSheet, []sheets.Problem) {
	name = m.spelledSheet(name)
	for _, cut := range m.cuttings {
		if cut.sheet.Name == name && cut.log == nil {
			return nil, refusal("the log that "+name+" cuts is not there yet, so there are no cycles",
				"put it beside the sheets, or a symbolic link to it: "+cut.logName()+".csv")
		}
	}
	s, problems := m.caseSheet(name, "only the cases of a case sheet can be gone through")
	if len(problems) > 0 {
		return nil, problems
	}
	for _, cs := range m.caseSheets {
		if cs.sheet == s {
			return cs, nil
		}
	}
	return nil, refusal("sheet "+name+" asks for no formula, so it has no readings",
		"name a column like the formula that was read in each case")
}

// among finds a case by its name.
func among(s *sheets.Sheet, name string) (int, []sheets.Problem) {
	var names []string
	for i := range s.Cases {
		names = append(names, s.Cases[i].Name.Text)
	}
	if i := slices.Index(names, words.Spelled(name, names)); i >= 0 {
		return i, nil
	}
	return 0, refusal("no case of sheet "+s.Name+" is named "+words.Quoted(name), words.DidYouMean(name, names,
		casesHint(names)))
}

// casesHint lists the cases of a sheet.
func casesHint(names []string) string {
	if len(names) == 0 {
		return "it has no case yet"
	}
	return "its cases are " + words.Listed(names, mostNames)
}

// startOf is where a fit of a given begins, and where it may end: its limits,
// else the range in which it is suspected.
func (m *Model) startOf(q *Quantity, base []float64) (start, from, to float64) {
	from, to = math.Inf(-1), math.Inf(1)
	if r := q.lowAt; r != tape.None && tape.Usable(base[r]) {
		from = base[r]
	}
	if r := q.highAt; r != tape.None && tape.Usable(base[r]) {
		to = base[r]
	}
	for _, s := range m.Suspects {
		if s.Quantity == q {
			from, to = math.Max(from, s.from), math.Min(to, s.to)
		}
	}
	start = base[q.value]
	if !tape.Usable(start) && tape.Usable(from) && tape.Usable(to) {
		start = from + (to-from)/2
	}
	return start, from, to
}

// SplitCase splits SHEET[CASE], and reports whether it is one.
func SplitCase(text string) (sheet, name string, one bool) {
	sheet, rest, found := strings.Cut(text, "[")
	if !found || !strings.HasSuffix(rest, "]") {
		return text, "", false
	}
	return sheet, strings.TrimSuffix(rest, "]"), true
}
