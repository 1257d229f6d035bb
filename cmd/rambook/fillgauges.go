package main

import (
	"fmt"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// This file is about the question for a gauge: one answer gives all that its row
// waits for.

// gaugeOrder is the order in which an answer gives the cells of a gauge; one that
// begins with a column's name is of that column.
var gaugeOrder = []string{"class", "span", "step", "serial", "due"}

// gauges lists a question for each gauge that something is read with and of which
// nothing is known yet.
func (w *walk) gauges(sheet *sheets.Sheet) []question {
	used := map[string]bool{}
	for _, q := range w.revision.model.Quantities {
		used[q.With] = true
	}
	var list []question
	for i := range sheet.Cases {
		row := &sheet.Cases[i]
		has := func(column string) bool {
			found, at := columnIn(sheet, column)
			return found && !row.Cells[at].Blank()
		}
		// A class alone may be that of any gauge of its kind.
		known := has("step") || has("spread") || has("class") && has("serial")
		if !used[row.Name.Text] || known && !w.command.Again {
			continue
		}
		one := question{cell: caseCell{sheet.Name, row.Name.Text, "class"}, place: sheet.Name, what: row.Name.Text,
			gauge: true, quantity: &calc.Quantity{Name: row.Name.Text, Row: &sheets.Row{}, Unit: units.Unit{}}}
		if _, at := columnIn(sheet, "what"); at >= 0 {
			one.note = row.Cells[at].Text
		}
		list = append(list, one)
	}
	return list
}

// withGauges puts each gauge before the first question that is read with it;
// others are those that no question of the list is read with.
func withGauges(list, gauges []question) (all, others []question) {
	for _, q := range list {
		for k := range gauges {
			if g := &gauges[k]; g.what == q.quantity.With && g.readBy == "" {
				g.readBy, g.place = q.what, q.place
				all = append(all, *g)
			}
		}
		all = append(all, q)
	}
	return all, slices.DeleteFunc(gauges, func(g question) bool { return g.readBy != "" })
}

// columnIn finds a column of a case sheet; at is -1 where there is none.
//
//go:noinline
func columnIn(sheet *sheets.Sheet, name string) (found bool, at int) {
	at = slices.IndexFunc(sheet.Columns, func(col sheets.Column) bool { return col.Name.Text == name })
	return at >= 0, at
}

// gaugeHint is how a gauge is answered, gaugeHelp at length.
const (
	gaugeHint = "class, span, step, serial number, day it is due, commas apart"
	gaugeHelp = gaugeHint + ": 1.6, 40 MPa, 0.5 MPa, T-401, 2028-01-12. Class: per cent of the span. " +
		"Step: the finest division that is read. Or what its data sheet gives: spread 2 %, step 0.1 A. " +
		"Nothing between two commas leaves a place out. A gauge past its due day gives a warning."
)

// hintsOfGauge are what its row says so far, and what such a gauge may have.
func (w *walk) hintsOfGauge(q *question) string {
	var parts []string
	if !w.told["gauge"] {
		parts = append(parts, gaugeHint)
	}
	w.told["gauge"] = true
	sheet := w.revision.book.Sheet(calc.GaugeSheet)
	state := func(of func(column string) string) string {
		var known []string
		for _, column := range gaugeOrder {
			if text := of(column); text != "" && (column == "class" || len(known) > 0) {
				known = append(known, text)
			} else if text != "" {
				known = append(known, column+" "+text)
			}
		}
		if text := of("spread"); text != "" {
			known = slices.Insert(known, 0, "spread "+text)
		}
		return strings.Join(known, ", ")
	}
	now := state(func(column string) string {
		return w.inUnitRead(q.what, column, w.stands(&question{cell: caseCell{sheet.Name, q.what, column}}))
	})
	example := state(func(column string) string {
		if column == "serial" || column == "due" { // those of another gauge
			return ""
		}
		return w.inUnitRead(q.what, column, sheet.Example(q.what, column))
	})
	if now != "" {
		parts = append(parts, "now "+now)
	}
	if example != "" {
		parts = append(parts, "such as "+example)
	}
	return strings.Join(parts, "; ")
}

// unitRead is the unit in which a column of a gauge is asked for: that of the first
// row that is read with it, as a difference. It is none where the sheet states one.
func (w *walk) unitRead(gauge, column string) (units.Unit, bool) {
	sheet := w.revision.book.Sheet(calc.GaugeSheet)
	found, at := columnIn(sheet, column)
	if !found || !sheet.Columns[at].Unit.Blank() || !slices.Contains([]string{"span", "step", "spread"}, column) {
		return units.Unit{}, false
	}
	for _, q := range w.revision.model.Quantities {
		if q.With == gauge && q.Unit.Kind <= units.Point {
			return q.Unit.Difference(), true
		}
	}
	return units.Unit{}, false
}

// inUnitRead is a cell of a gauge as it is asked for: a unit of another system than that
// of the readings gives way to theirs, and 1 mm of a length that is read in m stays.
func (w *walk) inUnitRead(gauge, column, text string) string {
	v, err := units.ParseValue(text)
	to, known := w.unitRead(gauge, column)
	if err != nil || !known || !v.HasUnit || v.Unit.Dim != to.Dim {
		return text
	}
	for _, system := range units.Systems() {
		if to.In(system).Symbol == to.Symbol && v.Unit.In(system).Symbol == v.Unit.Symbol {
			return text
		}
	}
	return units.Restate(v.Number, v.Unit, to, true, 0) + " " + to.Symbol
}

// withUnitRead gives a bare number the unit that the prompt shows, else that of what
// is read: it stays what it was when somebody restates the notebook.
func (w *walk) withUnitRead(gauge, column, entry string) string {
	to, known := w.unitRead(gauge, column)
	if !known || !isBare(entry) {
		return entry
	}
	sheet := w.revision.book.Sheet(calc.GaugeSheet)
	for _, shown := range []string{sheet.Example(gauge, column),
		w.stands(&question{cell: caseCell{sheet.Name, gauge, column}})} {
		v, err := units.ParseValue(w.inUnitRead(gauge, column, shown))
		if err == nil && v.HasUnit && v.Unit.Dim == to.Dim {
			to = v.Unit
		}
	}
	return strings.TrimSpace(entry + " " + to.Symbol)
}

// decimalComma finds what may be a decimal comma among the commas that part an
// answer.
var decimalComma = words.Pattern(`(?:^|[ ,])(\d+),(\d+)`)

// takeGauge writes what an answer gives of a gauge.
func (w *walk) takeGauge(q *question, answer string, sure bool) error {
	sheet := w.revision.book.Sheet(calc.GaugeSheet)
	if first, _, _ := strings.Cut(answer, " "); calc.IsAbsent(first) || first == "-" {
		return problem("a gauge in use needs a class or a spread", "Enter skips it")
	}
	if m := decimalComma().FindStringSubmatch(answer); m != nil {
		return problem(words.Quoted(m[1]+","+m[2])+" may be one number or two",
			fmt.Sprintf("write %s.%s, or %s, %s with a blank", m[1], m[2], m[1], m[2]))
	}
	var settings []setting
	next := 0
	for part := range strings.SplitSeq(answer, ",") {
		part = strings.TrimSpace(part)
		column, entry := "", part
		for _, name := range append([]string{"spread", "calibrated"}, gaugeOrder...) {
			if rest, named := strings.CutPrefix(part, name); named &&
				(rest == "" || strings.ContainsAny(rest[:1], " =")) {
				column, entry = name, strings.TrimSpace(strings.TrimLeft(rest, " ="))
			}
		}
		if column == "" {
			if next == len(gaugeOrder) {
				return problem("too many commas", gaugeHint)
			}
			column = gaugeOrder[next]
		}
		if at := slices.Index(gaugeOrder, column); at >= 0 {
			next = at + 1
		}
		if found, _ := columnIn(sheet, column); !found {
			return problem(sheet.File+" has no column "+column, "")
		}
		if entry != "" {
			entry = w.withUnitRead(q.what, column, entry)
			settings = append(settings, setting{cellName: caseCell{sheet.Name, q.what, column}, entry: entry})
		}
	}
	err := w.writeAll(settings, "", func(after *calc.Report) error {
		if sure {
			return nil
		}
		return w.revision.doubtImpossible(settings, after)
	})
	if err != nil {
		return err
	}
	w.answered++
	for _, p := range fresh(w.revision.after.Warnings, w.revision.before.Warnings) {
		w.say(4, "warning: "+p.Message)
	}
	if err := w.goOn(); err != nil {
		return err
	}
	if g := w.revision.model.Gauge(q.what); g != nil {
		w.say(4, g.Describe())
	}
	return nil
}
