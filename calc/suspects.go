package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc/fit"
	"rambook/calc/function"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// Suspect is a given that may be off, with the range in which its true value
// is looked for. Numbers are SI.
type Suspect struct {
	Quantity *Quantity
	sheet    *sheets.Sheet
	Row      *sheets.SuspectRow
	from, to float64
	shares   [2]float64 // from and to as parts of the given's value, where so stated; else NaN
	prior    float64    // relative odds against the other suspects, > 0
}

// free is a suspect as a given to be found.
func (s *Suspect) free() fit.Free {
	return fit.Free{Input: s.Quantity.value, From: s.from, To: s.to}
}

// Roles of the cells of a suspect sheet. Its range has to hold before anything
// is computed, so no expression may stand there; but it may be stated in percent of
// the given's value, which is a number, so that one sheet suits machines of any size.
var (
	fromRole  = role{what: "from", literal: true}
	toRole    = role{what: "to", literal: true}
	priorRole = role{what: "prior", literal: true}
)

// readSuspects reads the suspects of one sheet. The quantities of the whole
// notebook are known by then.
func (c *compiler) readSuspects(s *sheets.Sheet) {
	for i := range s.Suspects {
		row := &s.Suspects[i]
		prior, sound := c.readPrior(placeIn(s, row.Prior))
		q := c.suspectedGiven(placeIn(s, row.Suspect))
		if q == nil {
			continue
		}
		suspect := &Suspect{Quantity: q, sheet: s, Row: row, prior: prior}
		if c.readRange(suspect) && sound {
			c.model.Suspects = append(c.model.Suspects, suspect)
		}
	}
}

// suspectedGiven finds the given that a suspect names, nil if it cannot be one.
func (c *compiler) suspectedGiven(p place) *Quantity {
	name := p.cell.Text
	q := c.model.byName[name]
	switch {
	case q == nil && (c.model.aside[name] != nil || c.isUnstated(name)):
		return nil // what is set aside cannot be off, and of such a gauge nobody knows how far it may be
	case q == nil:
		c.report(p.fault("no quantity is named "+words.Quoted(name),
			words.DidYouMean(name, c.givenNames(), "a suspect is a given of the notebook that may be off")))
		return nil
	case q.IsText():
		c.report(p.fault(name+" is a text, and a suspect is a number that may be off", ""))
		return nil
	case q.IsFormula():
		c.report(p.fault(name+" is a formula, and a suspect is a given that may be off",
			"name one of the givens it is computed from"))
		return nil
	}
	for _, other := range c.model.Suspects {
		if other.Quantity == q {
			c.report(p.fault(fmt.Sprintf("%s is a suspect already in %s, line %d", name, other.sheet.File,
				other.Row.Suspect.Line),
				"drop one of the two"))
			return nil
		}
	}
	return q
}

// givenNames lists the quantities that can be suspects.
//
//go:noinline
func (c *compiler) givenNames() []string {
	var names []string
	for _, q := range c.model.Quantities {
		if !q.IsFormula() && !q.IsText() {
			names = append(names, q.Name)
		}
	}
	return names
}

// readPrior reads relative odds; blank is 1.
func (c *compiler) readPrior(p place) (prior float64, sound bool) {
	before := len(c.problems)
	e := c.read(p, units.Unit{}, priorRole)
	switch {
	case len(c.problems) > before:
		return 0, false
	case e.kind == blankEntry:
		return 1, true
	case e.value <= 0:
		c.report(p.fault("a prior is relative odds above 0, found "+p.cell.Text,
			"drop the row if it cannot be the cause; blank is 1, and 3 is three times as likely as 1"))
		return 0, false
	}
	return e.value, true
}

// readRange reads where a suspect's true value is looked for.
func (c *compiler) readRange(s *Suspect) bool {
	unit := s.Quantity.Unit
	if cell := s.Row.Unit; !cell.Blank() {
		u, ok := c.unitOf(placeIn(s.sheet, cell))
		if !ok {
			return false
		}
		if s.Quantity.typ.Sort != function.Unknown &&
			(u.Dim != unit.Dim || u.Kind == units.Text || (u.Kind == units.Date) != (unit.Kind == units.Date)) {
			c.report(placeIn(s.sheet, cell).fault(fmt.Sprintf("the range is %s, but %s %s",
				function.WithArticle(typeOf(u)), s.Quantity.Name, isIn(unit)),
				"correct the unit, or leave it blank for that of the quantity"))
			return false
		}
		unit = u
	}
	if s.Quantity.typ.Sort == function.Unknown {
		return false // the unit of its own row has been reported
	}
	s.shares = [2]float64{math.NaN(), math.NaN()}
	ends, problems := [2]entry{}, len(c.problems)
	for i, end := range []struct {
		cell sheets.Cell
		role role
	}{{s.Row.From, fromRole}, {s.Row.To, toRole}} {
		before := len(c.problems)
		if part, of, ok := c.partOf(s, end.cell); ok {
			ends[i] = entry{kind: numberEntry, value: part * of}
			if !s.Quantity.IsGauge() {
				s.shares[i] = part
			}
			continue
		}
		ends[i] = c.read(placeIn(s.sheet, end.cell), unit, end.role)
		if ends[i].kind == blankEntry && len(c.problems) == before {
			c.report(placeIn(s.sheet, end.cell).fault(fmt.Sprintf("suspect %s has no %s", s.Quantity.Name,
				words.Quoted(end.role.what)),
				"write between which values its true value may lie"))
		}
	}
	if ends[0].kind != numberEntry || ends[1].kind != numberEntry {
		return false
	}
	if len(c.problems) > problems {
		return false
	}
	s.from, s.to = ends[0].value, ends[1].value
	if e := s.Quantity.entry; s.isRelative() && (e.kind != numberEntry || e.value <= 0) {
		return true // open, by case, or nothing: there is no value yet to take a part of
	}
	if s.from >= s.to {
		c.report(placeIn(s.sheet, s.Row.From).fault(
			fmt.Sprintf("from %s is not below to %s", s.Row.From.Text, s.Row.To.Text), "swap them, or widen the range"))
		return false
	}
	c.warnOutside(s)
	return true
}

// untriable is why a suspect that has a value cannot be tried, "" if it can.
func (s *Suspect) untriable() string {
	if s.isRelative() && !(s.from < s.to) {
		return "is not above 0, and its range is a part of it"
	}
	return ""
}

// isRelative reports whether an end of the range is a part of the given's value.
func (s *Suspect) isRelative() bool { return Has(s.shares[0]) || Has(s.shares[1]) }

// freeIn is a suspect whose value is known by case only, as a given to be found:
// parts of it are parts of the least and the largest that a case states.
func (s *Suspect) freeIn(stated []float64) fit.Free {
	f := s.free()
	for i, end := range []*float64{&f.From, &f.To} {
		if Has(s.shares[i]) {
			*end = s.shares[i] * []float64{slices.Min(stated), slices.Max(stated)}[i]
		}
	}
	return f
}

// ofSpan may stand behind a part of a gauge's span.
const ofSpan = " of span"

// partOf reads an end such as `60 % of value`, or of a gauge `7.5 % of span`: the
// part, and of what, SI.
func (c *compiler) partOf(s *Suspect, cell sheets.Cell) (part, of float64, ok bool) {
	q, behind := s.Quantity, ofValue
	if q.IsGauge() {
		behind = ofSpan
	}
	text, found := strings.CutSuffix(cell.Text, behind)
	if !found {
		return 0, 0, false
	}
	v, err := units.ParseValue(text)
	span, hasSpan := c.spanOf(q)
	switch p := placeIn(s.sheet, cell); {
	case err != nil || !v.HasUnit || v.Unit.Symbol != "%":
		c.report(p.fault(words.Quoted(cell.Text)+" is no part of a value", "write it as 60 %"+behind))
	case q.IsGauge() && !hasSpan:
		c.report(p.fault(q.Name+" has no span to take a part of", "write the number itself"))
	case q.IsGauge():
		return v.Unit.ToSI(v.Number), span, true
	case q.Unit.Kind != units.Ordinary:
		c.report(p.fault(fmt.Sprintf("%s %s, which has no parts: percent from which zero?", q.Name, isIn(q.Unit)),
			"write the number itself"))
	default:
		return v.Unit.ToSI(v.Number), q.entry.value, true
	}
	return 0, 0, true
}

// warnOutside warns of a range that does not hold the notebook's own value. It
// is no error, or a new setting could not be typed in before the range is
// widened. What a run puts in its place for once may lie where it likes.
func (c *compiler) warnOutside(s *Suspect) {
	e := s.Quantity.entry
	if e.kind != numberEntry || e.sheet == nil || s.from <= e.value && e.value <= s.to {
		return
	}
	c.warn(placeIn(s.sheet, s.Row.From).fault(
		fmt.Sprintf("%s is %s, outside the range %s to %s in which it is suspected",
			s.Quantity.Name, s.Quantity.Row.Entry.Text, s.Row.From.Text, s.Row.To.Text),
		"correct the quantity, or widen the range"))
}
