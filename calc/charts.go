package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc/function"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// ChartKind is how one row of a chart is drawn.
type ChartKind uint8

const (
	AsCurve ChartKind = iota // along a given, from its low limit to its high
	AsPoint                  // at a place; points of one label are joined
	AsStep                   // for a stretch, one step behind the other
	AsLine                   // straight across the chart
	AsLimit                  // straight across, as a limit
	AsCases                  // a quantity or a column of a case sheet, case by case
)

// chartWords are the words of the column `as`. What is by case says so by the
// sheet in front of its name.
var chartWords = []string{AsCurve: "curve", AsPoint: "point", AsStep: "step", AsLine: "line", AsLimit: "limit"}

// Chart is a figure that the notebook asks the report for: the rows of one
// title in a sheet of charts.
type Chart struct {
	Title string
	Lines []ChartLine
	Notes []string
}

// ChartLine is one row of a chart.
type ChartLine struct {
	Label string // "" if the row has none
	Kind  ChartKind
	Value *Quantity // nil if by case
	Over  *Quantity // nil if by case, across, or where At says the place
	At    float64   // SI: the place of a point without a quantity for it

	Sheet      *sheets.Sheet // of what is by case
	Name       string        // what of it: a quantity or a column
	OverColumn string        // against which column of it, "" for its dates
	By         string        // the column whose values have a line each, "" if all cases are of one line

	place place // of the value
}

// Kind is how what the chart is of is drawn; its other lines lie across.
func (ch *Chart) Kind() ChartKind {
	for i := range ch.Lines {
		if k := ch.Lines[i].Kind; !k.across() {
			return k
		}
	}
	return AsLine
}

func (k ChartKind) across() bool { return k == AsLine || k == AsLimit }

// Roles of what stands in the column `over`.
var atRole = role{what: "over", literal: true}

// readCharts reads one sheet of charts, once all quantities and tables are
// there. A chart that is about something set aside is left out, since what is
// left of it would be another one; so is one with a mistake.
func (c *compiler) readCharts(s *sheets.Sheet) {
	var charts []*Chart
	part := map[string]bool{} // by title: a row of it is missing
	for i := range s.Charts {
		row := &s.Charts[i]
		line, ok := c.readChartLine(s, row)
		if !ok {
			part[row.Chart.Text] = true
			continue
		}
		at := slices.IndexFunc(charts, func(ch *Chart) bool { return ch.Title == row.Chart.Text })
		if at < 0 {
			at = len(charts)
			charts = append(charts, &Chart{Title: row.Chart.Text})
		}
		chart := charts[at]
		chart.Lines = append(chart.Lines, line)
		if !row.Note.Blank() {
			chart.Notes = append(chart.Notes, row.Note.Text)
		}
	}
	for _, chart := range charts {
		if !part[chart.Title] && c.checkChart(chart) {
			c.model.Charts = append(c.model.Charts, chart)
		}
	}
}

// readChartLine reads one row. It is false if the row draws nothing, which may
// have been reported.
func (c *compiler) readChartLine(s *sheets.Sheet, row *sheets.ChartRow) (line ChartLine, ok bool) {
	p := placeIn(s, row.Value)
	line = ChartLine{Label: row.Label.Text, At: math.NaN(), place: p}
	if row.Value.Blank() {
		c.report(p.fault("chart "+words.Quoted(row.Chart.Text)+" has a row without a value",
			"name the quantity that is drawn, or write sheet.column"))
		return line, false
	}
	if sheet, name, found := strings.Cut(row.Value.Text, "."); found {
		line.Kind, line.Name = AsCases, name
		return line, c.readChartCases(&line, s, row, sheet)
	}
	if !row.As.Blank() {
		kind := slices.Index(chartWords, strings.ToLower(row.As.Text))
		if kind < 0 {
			c.report(placeIn(s, row.As).fault(fmt.Sprintf("`as` is one of %s, found %s", strings.Join(chartWords, ", "),
				words.Quoted(row.As.Text)),
				words.DidYouMean(row.As.Text, chartWords, "blank is a curve")))
			return line, false
		}
		line.Kind = ChartKind(kind)
	}
	value, aside := c.charted(p)
	if value == nil {
		return line, false
	}
	line.Value = value
	over := placeIn(s, row.Over)
	switch {
	case line.Kind.across():
		if !row.Over.Blank() {
			c.report(over.fault("a line across a chart has nothing in `over`", "clear the cell"))
		}
	case row.Over.Blank():
		c.report(over.fault(fmt.Sprintf("chart %s has a %s without `over`", words.Quoted(row.Chart.Text),
			chartWords[line.Kind]),
			"name the quantity along the chart"))
		return line, false
	case line.Kind == AsPoint && !IsName(row.Over.Text): // its unit is that of the chart's other places
		line.place.sheet = s
		e := c.read(over, c.placesUnit(s, row), atRole)
		line.At = e.value
		return line, e.kind == numberEntry && !aside
	default:
		q, gone := c.charted(over)
		if q == nil {
			return line, false
		}
		line.Over, aside = q, aside || gone
		if line.Kind == AsCurve && q.Formula != "" {
			c.report(over.fault(q.Name+" is a formula, and a curve is drawn over a given",
				"a given has a range to go through"))
			return line, false
		}
	}
	return line, !aside
}

// charted finds a number that a chart shows; aside, if its sheet is set aside.
func (c *compiler) charted(p place) (q *Quantity, aside bool) {
	name := p.cell.Text
	if q := c.model.byName[name]; q != nil {
		if q.IsText() || q.IsVerdict() || q.IsTick() {
			c.report(p.fault(name+" is no number, and a chart is of numbers", ""))
			return nil, false
		}
		if q.typ.Sort == function.Unknown {
			return nil, false // its own row has been reported
		}
		return q, false
	}
	if q := c.model.aside[name]; q != nil {
		return q, true
	}
	c.report(p.fault("no quantity is named "+words.Quoted(name),
		words.DidYouMean(name, c.model.Names(),
			"a chart shows quantities of the notebook, and sheet.column of its case sheets")))
	return nil, false
}

// placesUnit is the unit of the places of a chart: that of the first quantity
// that another of its rows is over.
//
//go:noinline
func (c *compiler) placesUnit(s *sheets.Sheet, row *sheets.ChartRow) units.Unit {
	for i := range s.Charts {
		if other := &s.Charts[i]; other.Chart.Text == row.Chart.Text {
			if q := c.model.known(other.Over.Text); q != nil {
				return q.Unit
			}
		}
	}
	return units.Unit{}
}

// readChartCases finds what a row shows case by case.
func (c *compiler) readChartCases(line *ChartLine, s *sheets.Sheet, row *sheets.ChartRow, name string) bool {
	p := line.place
	if !row.As.Blank() {
		c.report(placeIn(s, row.As).fault("cases are drawn as points, with a line through those of a dated sheet",
			"leave the cell blank"))
	}
	if c.model.Book.IsAside(name) {
		return false
	}
	sheet, problems := c.model.caseSheet(name, "a chart by case is of a case sheet")
	if len(problems) > 0 {
		c.report(p.fault(problems[0].Message, problems[0].Hint))
		return false
	}
	line.Sheet = sheet
	for _, wanted := range []struct {
		place
		column string
	}{{p, line.Name}, {placeIn(s, row.Over), strings.TrimPrefix(row.Over.Text, name+".")}} {
		col := c.model.tables[name].column(wanted.column)
		switch {
		case wanted.column == "" && wanted.place != p: // its dates
		case col == nil && !(wanted.place == p && c.model.byName[wanted.column] != nil):
			columns := c.model.tables[name].names()
			c.report(wanted.fault("sheet "+name+" has no column "+words.Quoted(wanted.column),
				words.DidYouMean(wanted.column, columns, "its columns are "+words.Listed(columns, mostNames))))
			return false
		case col != nil && col.unit.Kind == units.Text:
			c.report(wanted.fault("column "+wanted.column+" is a text, and a chart is of numbers", ""))
			return false
		}
	}
	line.OverColumn = strings.TrimPrefix(row.Over.Text, name+".")
	return c.readChartFamily(line, s, row, name)
}

// readChartFamily finds the column that divides the cases into lines: a label that
// names a column of the same sheet, which the chart then needs to lie along another one.
func (c *compiler) readChartFamily(line *ChartLine, s *sheets.Sheet, row *sheets.ChartRow, name string) bool {
	by, found := strings.CutPrefix(row.Label.Text, name+".")
	if !found {
		return true
	}
	p := placeIn(s, row.Label)
	switch columns := c.model.tables[name].names(); {
	case !slices.Contains(columns, by):
		c.report(p.fault("sheet "+name+" has no column "+words.Quoted(by),
			words.DidYouMean(by, columns, "its columns are "+words.Listed(columns, mostNames))))
		return false
	case line.OverColumn == "":
		c.report(p.fault("a line for each "+by+" lies along a column", "name it in `over`, as in "+name+".pressure"))
		return false
	}
	line.By = by
	return true
}

// checkChart holds the rows of a chart against each other.
func (c *compiler) checkChart(ch *Chart) bool {
	sound, kind := true, ch.Kind()
	refuse := func(line *ChartLine, message, hint string) {
		c.report(line.place.fault(message, hint))
		sound = false
	}
	if kind.across() {
		refuse(&ch.Lines[0], "chart "+words.Quoted(ch.Title)+" has nothing but lines across it",
			"add a row as curve, point or step for them to lie across")
		return false
	}
	var first *ChartLine // of those that have a place along the chart
	for i := range ch.Lines {
		line := &ch.Lines[i]
		if !line.Kind.across() && line.Kind != kind {
			refuse(line, fmt.Sprintf("chart %s mixes %s and %s", words.Quoted(ch.Title), kind, line.Kind),
				"give one of them another title")
			continue
		}
		if line.Kind.across() && (kind == AsCurve || kind == AsCases) {
			refuse(line, "limits of "+kind.String()+" are those of its quantities", "drop the row")
			continue
		}
		if line.Kind == AsCases {
			if first := &ch.Lines[0]; i > 0 && (line.By == "" || line.By != first.By || line.Sheet != first.Sheet ||
				line.OverColumn != first.OverColumn) {
				refuse(line, "a chart by case shows one column", "give each its own title")
			}
			continue
		}
		if v := ch.Lines[0].Value.Unit; kind != AsCurve &&
			(line.Value.Unit.Dim != v.Dim || line.Value.Unit.Kind != v.Kind) {
			refuse(line, fmt.Sprintf("%s %s, but %s %s", line.Value.Name, isIn(line.Value.Unit), ch.Lines[0].Value.Name,
				isIn(v)),
				"one chart draws one kind of quantity")
		}
		if line.Over == nil {
			continue
		}
		if first == nil {
			first = line
		}
		if a, b := first.Over, line.Over; a.Unit.Dim != b.Unit.Dim || a.Unit.Kind != b.Unit.Kind || kind == AsCurve &&
			a != b {
			refuse(line, fmt.Sprintf("chart %s is over %s in one row and over %s in another", words.Quoted(ch.Title),
				a.Name, b.Name),
				"give one of them another title")
		}
	}
	if kind == AsPoint && first == nil {
		refuse(&ch.Lines[0], "no row of chart "+words.Quoted(ch.Title)+" names the quantity along it",
			"name one in `over`")
	}
	return sound
}

func (k ChartKind) String() string {
	if k == AsCases {
		return "cases"
	}
	return "a " + chartWords[k]
}
