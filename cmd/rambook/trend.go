package main

import (
	"fmt"
	"math"
	"strings"

	"rambook/calc"
	"rambook/calc/line"
	"rambook/cmd/rambook/answer"
	"rambook/sheets/table"
	"rambook/units"
)

type trendCommand struct {
	Sheet string `arg:"" complete:"cases" help:"The case sheet, such as visits."`
	Name  string `arg:"" complete:"quantity" help:"The quantity, or a column of numbers of the sheet."`
	notebookFlags
	Against string `placeholder:"COLUMN" help:"What to draw it against. Default: the first column with the unit date."`
	outputFlags
}

func (trendCommand) Help() string {
	return "A straight line through the cases, of the reading where a case has one, else of the computed value; it is weighted if all of them " +
		"have a spread; what computed points share, such as an area, then counts once. " +
		"Points that are computed are marked. When the line meets a limit is said unless the points speak against a straight line. Example:\n\n  rambook trend visits efficiency_found mypress\n  rambook trend visits case_drain --against working_temperature mypress"
}

// Run draws the line.
func (c *trendCommand) Run(s *session) error {
	model, err := c.load()
	if err != nil {
		return err
	}
	t, problems := model.Trend(c.Sheet, c.Name, calc.TrendOptions{Against: c.Against})
	if t == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	view := trendView{t, s.screen()}
	return s.answer(&answer.Answer{
		Title:  c.title(model),
		Page:   view.page,
		Rows:   view.longTable,
		Object: func() any { return newJSONTrend(t) },
	})
}

// trendView puts a trend into words and tables.
type trendView struct {
	*calc.Trend
	screen
}

// page tells people: what the line says, then its points.
func (v trendView) page() []table.Table {
	tables := []table.Table{v.sentences(2, v.answers()...), v.table()}
	if v.foretells() {
		tables = append(tables, v.sentences(2, cautions))
	}
	return tables
}

// farAhead is in days: a date beyond it means nothing.
const farAhead = 100 * 365.25

// answers are what the line says, best first.
func (v trendView) answers() []string {
	l := &v.Line
	lines := []string{v.slope()}
	why, p := l.Doubt()
	switch {
	case why != "":
		lines = append(lines, fmt.Sprintf("The line is no good, so do not go by it: %s (by chance in %s of the cases).",
			why, inWords(p)))
	case !l.Telling():
		lines = append(lines, fmt.Sprintf("%s do not show yet whether a straight line is right; that takes %d.",
			counted(l.Points, "point"), line.TellingPoints))
	}
	if text := v.ofModel(); text != "" {
		lines = append(lines, text)
	}
	if v.foretells() {
		lines = append(lines, v.meeting())
	}
	for _, left := range v.LeftOut {
		lines = append(lines, printable(left.Case)+" takes no part: "+printable(left.Why)+".")
	}
	return lines
}

// ofModel is how many points are computed, not read.
func (v trendView) ofModel() string {
	n := v.OfModel()
	points := fmt.Sprintf("%d of %s", n, counted(len(v.Points), "point"))
	switch {
	case n == 0:
		return ""
	case n == len(v.Points):
		return "No point is a reading: the line goes through computed values only."
	case n == 1:
		return points + " is computed, not read."
	}
	return points + " are computed, not read."
}

// kind says in a word where the value of a point comes from.
func (v trendView) kind(p *calc.TrendPoint) string {
	switch {
	case p.Read:
		return "reading"
	case p.Model:
		return "computed"
	}
	return "case"
}

// foretells reports whether the line may be followed to a limit.
func (v trendView) foretells() bool {
	why, _ := v.Line.Doubt()
	return v.Meets != nil && why == ""
}

// slope is how fast the quantity changes.
func (v trendView) slope() string {
	l := &v.Line
	spread := l.Factor * l.SlopeError
	per := "per day"
	start := fmt.Sprintf("at %s 0", v.Against)
	if v.Dated {
		start = "on " + v.place(0)
	} else if per = "per " + v.AgainstUnit.Difference().Symbol + " of " + v.Against; v.AgainstUnit.Symbol == "" {
		per = "per 1 of " + v.Against
	}
	rate := func(x float64) string {
		text := plusMinus(v.numbers.computed(x, spread), v.numbers.spread(x, spread))
		return strings.TrimSpace(text+" "+stepUnit(v.Unit)) + " " + per
	}
	if l.Flat() && spread == 0 {
		return fmt.Sprintf("%s does not change: it is %s at every point.", v.Name,
			beside(v.numbers.computedOn(v.Unit, l.Intercept, noSpread), v.Unit))
	}
	if !l.Certain() {
		return fmt.Sprintf("%s shows no trend: %s.", v.Name, rate(l.Slope))
	}
	verb := "rises"
	if l.Slope < 0 {
		verb = "falls"
	}
	at := v.numbers.withSpread(v.Unit, l.Intercept, l.Factor*l.InterceptError)
	return fmt.Sprintf("%s %s by %s, from %s %s.", v.Name, verb, rate(math.Abs(l.Slope)), beside(at, v.Unit), start)
}

// meeting is when the line meets its limit.
func (v trendView) meeting() string {
	m := v.Meets
	limit := "its high limit "
	if m.Low {
		limit = "its low limit "
	}
	limit += beside(v.numbers.typedOn(v.Unit, m.Limit, noSpread), v.Unit)
	if v.Dated && m.Earliest > farAhead {
		return "It does not meet " + limit + " within 100 years."
	}
	preposition := "on "
	if !v.Dated {
		preposition = "at " + v.Against + " "
	}
	between := fmt.Sprintf("%s%s, between %s and %s", preposition, v.place(m.When), v.place(m.Earliest),
		v.place(m.Latest))
	if m.Past {
		return "It has met " + limit + " " + between + "."
	}
	return "It meets " + limit + " " + between + ", if it goes on like this."
}

// place prints a place along the line.
func (v trendView) place(x float64) string {
	if v.Dated {
		return units.FormatDate(v.Origin + x*units.Day)
	}
	return beside(v.numbers.trimmed(x), v.AgainstUnit)
}

// table lists the points beside the line.
func (v trendView) table() table.Table {
	l := &v.Line
	header := v.Against
	if !v.Dated && v.AgainstUnit.Symbol != "" {
		header += " (" + v.AgainstUnit.Symbol + ")"
	}
	name := v.Name
	if v.Unit.Symbol != "" {
		name += " (" + v.Unit.Symbol + ")"
	}
	t := table.Table{Title: v.Name + " in " + v.Sheet.Name, Columns: []table.Column{
		{Header: v.Sheet.Key.Text}, {Header: header, Align: table.Decimal}, {Header: name, Align: table.Decimal},
		{Header: "±", Align: table.Decimal},
		{Header: "line", Align: table.Decimal}, {Header: "±", Align: table.Decimal},
		{Header: "band", Align: table.Decimal}}}
	mixed := v.OfModel() > 0 && v.OfModel() < len(v.Points)
	if mixed {
		t.Columns = append(t.Columns, table.Column{Header: "value"})
	}
	for i := range v.Points {
		p := &v.Points[i]
		x := v.numbers.typed(p.X, noSpread)
		if v.Dated {
			x = v.place(p.X)
		}
		at, spread := l.At(p.X), l.Factor*l.Error(p.X)
		value := v.numbers.computed(p.Y, p.Spread)
		if p.Read {
			value = v.numbers.typed(p.Y, noSpread)
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{printable(p.Case), x, value, v.numbers.spread(p.Y, p.Spread),
			v.numbers.computed(at, spread), v.numbers.spread(at, spread),
			v.numbers.spread(at, l.Factor*l.PredictionError(p.X))}})
		if mixed {
			row := &t.Rows[len(t.Rows)-1]
			row.Cells = append(row.Cells, v.kind(p))
		}
	}
	t.Note = fmt.Sprintf("A further value lies within line ± band in 95 %% of the cases. %s, residual standard deviation %s.",
		counted(l.Points, "point"), strings.TrimSpace(numberStyle{digits: 3}.computed(l.ResidualSD,
			noSpread)+" "+stepUnit(v.Unit)))
	if !calc.Has(l.ResidualSD) {
		t.Note = "Two points: the line goes through both."
	}
	return t
}

// longTable lists the points for other programs.
func (v trendView) longTable() table.Table {
	t := table.Table{}
	for _, header := range []string{"case", v.Against, v.Name, "spread", "line", "line_spread", "band", "kind"} {
		t.Columns = append(t.Columns, table.Column{Header: header})
	}
	l := &v.Line
	for i := range v.Points {
		p := &v.Points[i]
		x := shortest(p.X)
		if v.Dated {
			x = v.place(p.X)
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{p.Case, x, shortest(p.Y), shortest(p.Spread),
			shortest(l.At(p.X)), shortest(l.Factor * l.Error(p.X)), shortest(l.Factor * l.PredictionError(p.X)),
			v.kind(p)}})
	}
	return t
}

type jsonMeeting struct {
	Limit    float64 `json:"limit"`
	When     any     `json:"when"`
	Earliest any     `json:"earliest"`
	Latest   any     `json:"latest"`
}

type jsonTrend struct {
	Sheet          string       `json:"sheet"`
	Name           string       `json:"name"`
	Unit           string       `json:"unit"`
	Against        string       `json:"against"`
	AgainstUnit    string       `json:"against_unit"`
	Origin         string       `json:"origin,omitempty"`
	Points         int          `json:"points"`
	OfModel        int          `json:"of_model"`
	Weighted       bool         `json:"weighted"`
	Slope          float64      `json:"slope"`
	Intercept      float64      `json:"intercept"`
	SlopeError     float64      `json:"slope_error"`
	InterceptError float64      `json:"intercept_error"`
	ResidualSD     any          `json:"residual_sd,omitzero"`
	Meets          *jsonMeeting `json:"meets,omitempty"`
	Doubt          string       `json:"doubt,omitempty"`
	LeftOut        []string     `json:"left_out"`
}

// newJSONTrend gives a trend the shape that `trend --format json` promises.
// The slope of a trend over dates is per day.
func newJSONTrend(t *calc.Trend) jsonTrend {
	l := &t.Line
	out := jsonTrend{Sheet: t.Sheet.Name, Name: t.Name, Unit: t.Unit.Symbol, Against: t.Against,
		AgainstUnit: t.AgainstUnit.Symbol,
		Points:      l.Points, OfModel: t.OfModel(), Weighted: l.Weighted, Slope: l.Slope, Intercept: l.Intercept,
		SlopeError: l.SlopeError, InterceptError: l.InterceptError,
		ResidualSD: plain(l.ResidualSD), LeftOut: []string{}}
	place := func(x float64) any { return x }
	if t.Dated {
		place = func(x float64) any { return units.FormatDate(t.Origin + x*units.Day) }
		out.Origin = units.FormatDate(t.Origin)
	}
	if m := t.Meets; m != nil {
		out.Meets = &jsonMeeting{m.Limit, place(m.When), place(m.Earliest), place(m.Latest)}
	}
	out.Doubt, _ = l.Doubt()
	for _, left := range t.LeftOut {
		out.LeftOut = append(out.LeftOut, left.Case)
	}
	return out
}
