package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/units"
)

// stroke is a quantity that changes evenly from one end of a movement to the
// other. A notebook has it if it has all the names.
type stroke struct {
	title    string
	along    string // a length: how far
	from, to string // the quantity at the two ends
	name     string // of both
}

var strokes = []stroke{
	{"oil level over the stroke", "stroke", "level_up", "level_down", "oil level"},
}

// cycle is a power over the phases of a movement, one after the other.
type cycle struct {
	title  string
	name   string // of the power
	phases []phase
	mean   string // the quantity that stands for the whole cycle
	limit  string // the quantity that none of them may exceed
}

type phase struct{ label, power, time string }

var cycles = []cycle{
	{"shaft power over the cycle", "shaft power", []phase{
		{"approach", "idle_power", "approach_time"},
		{"pressing", "pressing_power", "pressing_time"},
		{"hold", "holding_power", "hold_time"},
		{"return", "return_power", "return_time"},
		{"rest", "idle_power", "rest_time"},
	}, "rms_power", "motor_power"},
}

// mostFigures is how many figures a page has; a sheet of visits could ask for
// many more.
const mostFigures = 16

// charts draws what a notebook has the quantities for. All numbers are those
// of the report, or of the same model run for more cases.
func (s screen) charts(model *calc.Model, r *calc.Report, steps []calc.Step) (chapter, error) {
	c := chapter{Title: "Charts"}
	main, err := s.mainFigure(model, r, steps)
	if err != nil {
		return c, err
	}
	logged, err := s.loggedFigures(model, r)
	if err != nil {
		return c, err
	}
	figures := append([]*figurePart{main}, logged...)
	for _, wanted := range strokes {
		figures = append(figures, s.strokeFigure(wanted, model, r))
	}
	for _, wanted := range cycles {
		figures = append(figures, s.cycleFigure(wanted, model, r))
	}
	for _, result := range r.Cases {
		for i, asked := range result.Asked {
			if asked.IsFormula() {
				figures = append(figures, s.trendFigure(model, result, i))
			}
		}
	}
	for _, result := range r.Cases {
		figures = append(figures, s.faultFigures(model, result.Sheet.Name)...)
	}
	for _, f := range figures {
		if f != nil && !f.Empty() && len(c.Parts) < mostFigures {
			if !f.Sampled {
				f.Numbers = s.numbersOf(f.Figure)
			}
			c.Parts = append(c.Parts, part{Figure: f})
		}
	}
	return c, nil
}

// mainSteps is how many steps the main chart has.
const mainSteps = 44

// mainFigure draws what the machine is for over what it is set by. It is nil if
// the notebook does not say so: see mainPair.
func (s screen) mainFigure(model *calc.Model, r *calc.Report, steps []calc.Step) (*figurePart, error) {
	shown, over := mainPair(r, steps)
	if shown == nil {
		return nil, nil
	}
	low := over.Low
	if !calc.Has(low) {
		low = 0
	}
	// The notebook's own value is among the places, so that the chart passes
	// through the number in the table, unless it is beyond its limits.
	var places []float64
	inside := over.Value >= low && over.Value <= over.High
	if inside {
		places = append(places, over.Value)
	}
	for i := range mainSteps + 1 {
		x := low + (over.High-low)*float64(i)/mainSteps
		if !inside || math.Abs(x-over.Value) > (over.High-low)*1e-6 {
			places = append(places, x)
		}
	}
	slices.Sort(places)
	list := make([]string, len(places))
	for i, x := range places {
		list[i] = shortest(x)
	}
	sweep, problems := model.Sweep([]string{over.Quantity.Name + " = " + strings.Join(list, ", ") + " " + over.Unit.Symbol}, []string{shown.Quantity.Name})
	if len(problems) > 0 {
		return nil, wrong(problems...)
	}
	figure, err := s.sweepFigure(sweep, r, new(calc.Failures)) // its points are no cases of the notebook
	if err != nil {
		return nil, err
	}
	given := over.Quantity.Name + " is " + beside(s.judgedInWords(over), over.Unit)
	if !inside {
		given += ", beyond its limits, where nothing is drawn"
	}
	caption := []string{given + "."}
	if shown.Verdict != calc.NoVerdict {
		caption = append([]string{s.sentence(shown) + "."}, caption...)
	}
	return &figurePart{Figure: figure, Caption: caption}, nil
}

// mainPair picks the quantities of the main chart: the headline of the
// summary, failing that the first formula with a limit, failing that the first
// formula, over the first given of which the notebook says how high it may be
// set. Beyond that it is not drawn.
func mainPair(r *calc.Report, steps []calc.Step) (shown, over *calc.Judged) {
	candidates := []*calc.Judged{headline(r)}
	var others []*calc.Judged
	for i := range r.Quantities {
		switch j := &r.Quantities[i]; {
		case j.Quantity.Formula == "" || j.Quantity.IsText():
		case calc.Has(j.Low) || calc.Has(j.High):
			candidates = append(candidates, j)
		default:
			others = append(others, j)
		}
	}
	const tries = 20 // what comes later is hardly what the machine is for
	uses := usedBy(steps)
	for _, j := range append(candidates, others...)[:min(tries, len(candidates)+len(others))] {
		if j == nil || !calc.Has(j.Value) {
			continue
		}
		if over := governing(r, ancestors(uses, j.Quantity.Name)); over != nil {
			return j, over
		}
	}
	return nil, nil
}

// governing is the first given of some quantities that has a range, failing that
// the first that has a high limit and counts from 0; nil if there is none.
func governing(r *calc.Report, among map[string]bool) *calc.Judged {
	var other *calc.Judged
	for i := range r.Quantities {
		j := &r.Quantities[i]
		from := j.Low
		if !calc.Has(from) {
			from = 0
		}
		if !among[j.Quantity.Name] || j.Quantity.Formula != "" || j.Unit.Kind != units.Ordinary || !calc.Has(j.Value) || !(from < j.High) {
			continue
		}
		if calc.Has(j.Low) {
			return j
		}
		if other == nil {
			other = j
		}
	}
	return other
}

// usedBy tells by name what each quantity of a derivation is computed from.
func usedBy(steps []calc.Step) map[string][]string {
	uses := make(map[string][]string, len(steps))
	for i := range steps {
		uses[steps[i].Quantity.Name] = steps[i].From
	}
	return uses
}

// ancestors are name and the names of all that it is computed from.
func ancestors(uses map[string][]string, name string) map[string]bool {
	met := map[string]bool{name: true}
	for queue := []string{name}; len(queue) > 0; queue = queue[1:] {
		for _, used := range uses[queue[0]] {
			if !met[used] {
				met[used] = true
				queue = append(queue, used)
			}
		}
	}
	return met
}

// named finds quantities of a report by name, nil unless all are there, are
// numbers and are measured in the dimension of the first.
func named(model *calc.Model, r *calc.Report, names ...string) []*calc.Judged {
	var list []*calc.Judged
	for _, name := range names {
		q := model.Quantity(name)
		if q == nil || q.Unit.Kind != units.Ordinary {
			return nil
		}
		j := judgedOf(r, q)
		if !calc.Has(j.Value) || len(list) > 0 && j.Unit.Dim != list[0].Unit.Dim {
			return nil
		}
		list = append(list, j)
	}
	return list
}

// in converts a number of j to another unit of its dimension.
func in(u units.Unit, j *calc.Judged, x float64) float64 {
	if u.Symbol == j.Unit.Symbol {
		return x
	}
	return u.FromSI(j.Unit.ToSI(x))
}

// strokeFigure draws a straight line between what two quantities are at the
// ends of a stroke.
func (s screen) strokeFigure(wanted stroke, model *calc.Model, r *calc.Report) *figurePart {
	along, ends := named(model, r, wanted.along), named(model, r, wanted.from, wanted.to)
	if along == nil || ends == nil {
		return nil
	}
	u := ends[0].Unit
	places := []float64{0, along[0].Value}
	f := &chart.Figure{Title: wanted.title, X: axisOf(wanted.along, along[0].Unit)}
	panel := chart.Panel{Y: axisOf(wanted.name, u)}
	line := chart.Series{Kind: chart.Computed, Label: wanted.name}
	read := chart.Series{Kind: chart.Reading, Label: "reading"}
	for i, j := range ends {
		line.Points = append(line.Points, chart.Point{X: places[i], Y: in(u, j, j.Value), Spread: in(u, j, j.Spread)})
		if calc.Has(j.Reading) {
			read.Points = append(read.Points, chart.Point{X: places[i], Y: in(u, j, j.Reading), Spread: in(u, j, j.ReadingSpread)})
		}
	}
	panel.Series = append(panel.Series, line)
	s.addLimits(&panel, "", 2, func(i int) float64 { return places[i] }, func(i int) *calc.Judged { return ends[i] })
	if len(read.Points) > 0 {
		panel.Series = append(panel.Series, read)
	}
	f.Panels = []chart.Panel{panel}
	f.About = fmt.Sprintf("%s is %s at 0 (%s) and %s at %s (%s).", wanted.name, beside(s.value(ends[0]), ends[0].Unit), wanted.from,
		beside(s.value(ends[1]), ends[1].Unit), beside(s.value(along[0]), along[0].Unit), wanted.to)
	return &figurePart{Figure: f, Caption: []string{fmt.Sprintf("From %s to %s; between them the level follows the ram in a straight line.", wanted.from, wanted.to)}}
}

// cycleFigure draws a power step by step over the time of a cycle.
func (s screen) cycleFigure(wanted cycle, model *calc.Model, r *calc.Report) *figurePart {
	var powerNames, timeNames []string
	for _, p := range wanted.phases {
		powerNames, timeNames = append(powerNames, p.power), append(timeNames, p.time)
	}
	powers, times := named(model, r, append(powerNames, wanted.mean, wanted.limit)...), named(model, r, timeNames...)
	if powers == nil || times == nil {
		return nil
	}
	u, seconds := powers[0].Unit, times[0].Unit
	f := &chart.Figure{Title: wanted.title, X: chart.Axis{Name: "time", Unit: seconds.Symbol}}
	line := chart.Series{Kind: chart.Computed, Label: wanted.name}
	at := 0.0
	var words []string
	for i, p := range wanted.phases {
		j := powers[i]
		end := at + in(seconds, times[i], times[i].Value)
		y, spread := in(u, j, j.Value), in(u, j, j.Spread)
		line.Points = append(line.Points, chart.Point{X: at, Y: y, Spread: spread}, chart.Point{X: end, Y: y, Spread: spread})
		f.Spans = append(f.Spans, chart.Span{From: at, To: end, Label: p.label})
		words = append(words, fmt.Sprintf("%s %s for %s", p.label, beside(s.value(j), j.Unit), beside(s.value(times[i]), times[i].Unit)))
		at = end
	}
	across := func(j *calc.Judged) []chart.Point {
		y, spread := in(u, j, j.Value), in(u, j, j.Spread)
		return []chart.Point{{X: 0, Y: y, Spread: spread}, {X: at, Y: y, Spread: spread}}
	}
	mean, limit := powers[len(powers)-2], powers[len(powers)-1]
	most := chart.Series{Kind: chart.Limit, Label: limit.Quantity.Name + "\n" + beside(s.value(limit), limit.Unit), Points: across(limit)}
	f.Panels = []chart.Panel{{Y: axisOf(wanted.name, u), Series: []chart.Series{line,
		{Kind: chart.Computed, Label: mean.Quantity.Name + "\n" + beside(s.value(mean), mean.Unit), Points: across(mean)}, most}}}
	f.About = strings.Join(words, ", ") + "; " + mean.Quantity.Name + " " + beside(s.value(mean), mean.Unit) +
		", limit " + limit.Quantity.Name + " " + beside(s.value(limit), limit.Unit) + "."
	return &figurePart{Figure: f, Caption: []string{strings.Join(words, ", ") + "."}}
}

// faultFigures draws, for each suspect that the readings of some case speak
// against, what it was found to be, case by case.
func (s screen) faultFigures(model *calc.Model, sheet string) []*figurePart {
	if len(model.Suspects) == 0 {
		return nil
	}
	d, problems := model.DiagnoseCases(sheet)
	if d == nil || len(problems) > 0 || len(d.Cases) < 2 {
		return nil
	}
	view := caseDiagnosisView{d, s}
	var figures []*figurePart
	for _, suspect := range d.Suspects {
		line := view.fault(suspect)
		if line == "" {
			continue
		}
		q := suspect.Quantity
		found := chart.Series{Kind: chart.Case, Label: "found"}
		given := chart.Series{Kind: chart.Limit, Label: "given"}
		for i := range d.Cases {
			f := d.Cases[i].Fault(suspect)
			if f == nil {
				continue
			}
			point := chart.Point{X: float64(i + 1), Y: f.Value, Spread: f.Spread}
			if !calc.Has(point.Spread) {
				point.Spread = 0
			}
			found.Points = append(found.Points, point)
			given.Points = []chart.Point{{X: 1, Y: f.Nominal}, {X: float64(len(d.Cases)), Y: f.Nominal}}
		}
		title := q.Name + " as found in the " + printable(sheet)
		figures = append(figures, &figurePart{Caption: []string{line}, Figure: &chart.Figure{Title: title, About: line,
			X: chart.Axis{Name: "case of " + printable(sheet)}, Panels: []chart.Panel{{Y: axisOf(q.Name, q.Unit), Series: []chart.Series{given, found}}}}})
	}
	return figures
}

// trendFigure draws the line through the cases of a dated sheet, nil if there
// is none to draw.
func (s screen) trendFigure(model *calc.Model, result calc.CaseResult, asked int) *figurePart {
	q := result.Asked[asked]
	t, problems := model.Trend(result.Sheet.Name, q.Name, calc.TrendOptions{})
	if t == nil || len(problems) > 0 || !t.Dated {
		return nil
	}
	date := func(x float64) float64 { return t.Origin + x*units.Day }
	computed, readings := chart.Series{Kind: chart.Case, Label: "computed"}, chart.Series{Kind: chart.Reading, Label: "readings"}
	for _, p := range t.Points {
		series := &computed
		if p.Read {
			series = &readings
		}
		series.Points = append(series.Points, chart.Point{X: date(p.X), Y: p.Y, Spread: p.Spread})
	}
	view := trendView{t, s}
	first, last := t.Points[0].X, t.Points[len(t.Points)-1].X
	// The line goes on to the limit that it meets, if that is not far off.
	const farther = 3
	if m := t.Meets; view.foretells() && !m.Past && m.When-last < farther*(last-first) {
		last = m.When
	}
	line := chart.Series{Kind: chart.Computed, Label: "line"}
	const pieces = 24 // the edge of the band is a curve
	for i := range pieces + 1 {
		x := first + (last-first)*float64(i)/pieces
		line.Points = append(line.Points, chart.Point{X: date(x), Y: t.Line.At(x), Spread: t.Line.Factor * t.Line.Error(x)})
	}
	panel := chart.Panel{Y: axisOf(q.Name, t.Unit), Series: []chart.Series{line}}
	ends := []float64{date(first), date(last)}
	lastCase := &result.Cases[len(result.Cases)-1].Values[asked]
	s.addLimits(&panel, "", 2, func(i int) float64 { return ends[i] }, func(int) *calc.Judged { return lastCase })
	for _, series := range []chart.Series{computed, readings} {
		if len(series.Points) > 0 {
			panel.Series = append(panel.Series, series)
		}
	}
	words := view.answers()
	return &figurePart{Figure: &chart.Figure{Title: q.Name + " over the " + cmp.Or(printable(result.Sheet.Name), "cases"), About: strings.Join(words, " "),
		X: axisOf(t.Against, units.Unit{Kind: units.Date}), Panels: []chart.Panel{panel}}, Caption: words}
}
