package page

import (
	"fmt"
	"math"
	"strings"

	"rambook/calc"
	"rambook/calc/line"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// TrendView puts a trend into words and tables.
type TrendView struct {
	Trend  *calc.Trend
	Layout Layout
}

// Page is for people: what the line comes to, then its points.
func (v *TrendView) Page() []table.Table {
	tables := []table.Table{v.Layout.Sentences(2, v.Answers()...), v.table()}
	if v.Trend.Foretells() {
		tables = append(tables, v.Layout.Sentences(2, Cautions))
	}
	return tables
}

// Answers are what the line comes to, best first.
func (v *TrendView) Answers() []string {
	l := &v.Trend.Line
	lines := []string{v.slope()}
	why, p := l.Doubt()
	switch {
	case why != "":
		lines = append(lines, fmt.Sprintf("Do not go by this line: %s (by chance in %s of the cases).",
			why, inWords(p)))
	case !l.Telling():
		lines = append(lines, fmt.Sprintf("%s do not show yet whether a straight line is right; that takes %d.",
			words.Counted(l.Points, "point"), line.TellingPoints))
	}
	if text := v.ofModel(); text != "" {
		lines = append(lines, text)
	}
	if v.Trend.Foretells() {
		lines = append(lines, v.meeting())
	}
	for _, left := range v.Trend.LeftOut {
		lines = append(lines, Printable(left.Case)+" is left out: "+Printable(left.Why)+".")
	}
	return lines
}

// ofModel is how many points are computed, not read.
func (v *TrendView) ofModel() string {
	n := v.Trend.OfModel()
	points := fmt.Sprintf("%d of %s", n, words.Counted(len(v.Trend.Points), "point"))
	switch {
	case n == 0:
		return ""
	case n == len(v.Trend.Points):
		return "No point is a reading: the line goes through computed values only."
	case n == 1:
		return points + " is computed, not read."
	}
	return points + " are computed, not read."
}

// kind is in a word where the value of a point comes from.
func (v *TrendView) kind(p *calc.TrendPoint) string {
	switch {
	case p.Read:
		return "reading"
	case p.Model:
		return "computed"
	}
	return "case"
}

// slope is how fast the quantity changes.
func (v *TrendView) slope() string {
	l := &v.Trend.Line
	spread := l.Factor * l.SlopeError
	per := "per day"
	start := fmt.Sprintf("at %s 0", v.Trend.Against)
	if v.Trend.Dated {
		start = "on " + v.acrossText(0)
	} else if per = "per " + v.Trend.AgainstUnit.Difference().Symbol + " of " +
		v.Trend.Against; v.Trend.AgainstUnit.Symbol == "" {
		per = "per 1 of " + v.Trend.Against
	}
	rate := func(x float64) string {
		text := PlusMinus(v.Layout.Numbers.Computed(x, spread), v.Layout.Numbers.Spread(x, spread))
		return strings.TrimSpace(text+" "+stepUnit(v.Trend.Unit)) + " " + per
	}
	if l.Flat() && spread == 0 {
		return fmt.Sprintf("%s does not change: it is %s at every point.", v.Trend.Name,
			Beside(v.Layout.Numbers.computedOn(v.Trend.Unit, l.Intercept, NoSpread), v.Trend.Unit))
	}
	if !l.Certain() {
		return fmt.Sprintf("%s shows no trend: %s.", v.Trend.Name, rate(l.Slope))
	}
	verb := "rises"
	if l.Slope < 0 {
		verb = "falls"
	}
	at := v.Layout.Numbers.WithSpread(v.Trend.Unit, l.Intercept, l.Factor*l.InterceptError)
	return fmt.Sprintf("%s %s by %s, from %s %s.", v.Trend.Name, verb, rate(math.Abs(l.Slope)),
		Beside(at, v.Trend.Unit), start)
}

// meeting is when the line meets its limit.
func (v *TrendView) meeting() string {
	m := v.Trend.Meets
	limit := "its high limit "
	if m.Low {
		limit = "its low limit "
	}
	limit += Beside(v.Layout.Numbers.TypedOn(v.Trend.Unit, m.Limit, NoSpread), v.Trend.Unit)
	if m.Far {
		return "It does not meet " + limit + " within 100 years."
	}
	preposition := "on "
	if !v.Trend.Dated {
		preposition = "at " + v.Trend.Against + " "
	}
	between := fmt.Sprintf("%s%s, between %s and %s", preposition, v.acrossText(m.When), v.acrossText(m.Earliest),
		v.acrossText(m.Latest))
	if m.Past {
		return "It has met " + limit + " " + between + "."
	}
	return "It meets " + limit + " " + between + ", if it goes on like this."
}

// acrossText prints a place along the line.
func (v *TrendView) acrossText(x float64) string {
	if v.Trend.Dated {
		return units.FormatDate(v.Trend.Origin + x*units.Day)
	}
	return Beside(v.Layout.Numbers.Trimmed(x), v.Trend.AgainstUnit)
}

// table lists the points beside the line.
func (v *TrendView) table() table.Table {
	l := &v.Trend.Line
	header := v.Trend.Against
	if !v.Trend.Dated && v.Trend.AgainstUnit.Symbol != "" {
		header += " (" + v.Trend.AgainstUnit.Symbol + ")"
	}
	name := v.Trend.Name
	if v.Trend.Unit.Symbol != "" {
		name += " (" + v.Trend.Unit.Symbol + ")"
	}
	t := table.Table{Title: v.Trend.Name + " in " + v.Trend.Sheet.Name, Columns: []table.Column{
		{Header: v.Trend.Sheet.Key.Text}, {Header: header, Align: table.Decimal}, {Header: name, Align: table.Decimal},
		{Header: "±", Align: table.Decimal},
		{Header: "line", Align: table.Decimal}, {Header: "±", Align: table.Decimal},
		{Header: "band", Align: table.Decimal}}}
	mixed := v.Trend.OfModel() > 0 && v.Trend.OfModel() < len(v.Trend.Points)
	if mixed {
		t.Columns = append(t.Columns, table.Column{Header: "value"})
	}
	for i := range v.Trend.Points {
		p := &v.Trend.Points[i]
		x := v.Layout.Numbers.Typed(p.X, NoSpread)
		if v.Trend.Dated {
			x = v.acrossText(p.X)
		}
		at, spread := l.At(p.X), l.Factor*l.Error(p.X)
		value := v.Layout.Numbers.Computed(p.Y, p.Spread)
		if p.Read {
			value = v.Layout.Numbers.Typed(p.Y, NoSpread)
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{Printable(p.Case), x, value,
			v.Layout.Numbers.Spread(p.Y, p.Spread),
			v.Layout.Numbers.Computed(at, spread), v.Layout.Numbers.Spread(at, spread),
			v.Layout.Numbers.Spread(at, l.Factor*l.PredictionError(p.X))}})
		if mixed {
			row := &t.Rows[len(t.Rows)-1]
			row.Cells = append(row.Cells, v.kind(p))
		}
	}
	t.Note = fmt.Sprintf("A new value falls within line ± band 95 times in 100. "+
		"%s, which scatter around the line by %s (standard deviation).",
		words.Counted(l.Points, "point"), strings.TrimSpace(NumberStyle{Digits: 3}.Computed(l.ResidualSD,
			NoSpread)+" "+stepUnit(v.Trend.Unit)))
	if !calc.Has(l.ResidualSD) {
		t.Note = "Two points: the line goes through both."
	}
	return t
}

// Rows lists the points for other programs.
func (v *TrendView) Rows() table.Table {
	t := table.Table{}
	for _, header := range []string{"case", v.Trend.Against, v.Trend.Name, "spread", "line", "line_spread", "band",
		"kind"} {
		t.Columns = append(t.Columns, table.Column{Header: header})
	}
	l := &v.Trend.Line
	for i := range v.Trend.Points {
		p := &v.Trend.Points[i]
		x := Shortest(p.X)
		if v.Trend.Dated {
			x = v.acrossText(p.X)
		}
		t.Rows = append(t.Rows, table.Row{Cells: []string{p.Case, x, Shortest(p.Y), Shortest(p.Spread),
			Shortest(l.At(p.X)), Shortest(l.Factor * l.Error(p.X)), Shortest(l.Factor * l.PredictionError(p.X)),
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

// Object is what `--format json` promises.
func (v *TrendView) Object() any { return newJSONTrend(v.Trend) }

// newJSONTrend gives a trend the shape that `trend --format json` promises.
// The slope of a trend over dates is per day.
func newJSONTrend(t *calc.Trend) jsonTrend {
	l := &t.Line
	out := jsonTrend{Sheet: t.Sheet.Name, Name: t.Name, Unit: t.Unit.Symbol, Against: t.Against,
		AgainstUnit: t.AgainstUnit.Symbol,
		Points:      l.Points, OfModel: t.OfModel(), Weighted: l.Weighted, Slope: l.Slope, Intercept: l.Intercept,
		SlopeError: l.SlopeError, InterceptError: l.InterceptError,
		ResidualSD: Plain(l.ResidualSD), LeftOut: []string{}}
	across := func(x float64) any { return x }
	if t.Dated {
		across = func(x float64) any { return units.FormatDate(t.Origin + x*units.Day) }
		out.Origin = units.FormatDate(t.Origin)
	}
	if m := t.Meets; m != nil && !m.Far {
		out.Meets = &jsonMeeting{m.Limit, across(m.When), across(m.Earliest), across(m.Latest)}
	}
	out.Doubt, _ = l.Doubt()
	for _, left := range t.LeftOut {
		out.LeftOut = append(out.LeftOut, left.Case)
	}
	return out
}
