package figure

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/sorting"
	"rambook/units/words"
)

// FigureOf draws one chart, or gives why it cannot.
func (s Artist) FigureOf(ch *calc.Chart, model *calc.Model, r *calc.Report) (f *Captioned, why string, err error) {
	if ch.Kind() == calc.AsCases && ch.Lines[0].By != "" {
		f, why = s.familyFigure(ch, r)
		return f, why, nil
	}
	if ch.Kind() == calc.AsCases {
		return s.casesOf(&ch.Lines[0], model, r)
	}
	var values []*calc.Judged
	for i := range ch.Lines {
		line := &ch.Lines[i]
		for _, q := range []*calc.Quantity{line.Value, line.Over} {
			if q != nil && !calc.Has(page.JudgedOf(r, q).Value) {
				return nil, q.Name + " is not known", nil
			}
		}
		values = append(values, page.JudgedOf(r, line.Value))
	}
	switch ch.Kind() {
	case calc.AsCurve:
		over := page.JudgedOf(r, ch.Lines[0].Over)
		if !hasRange(over) {
			return nil, over.Quantity.Name + " has no high limit to draw it up to", nil
		}
		f, err = s.curveFigure(model, r, values, over)
		return f, "", err
	case calc.AsPoint:
		return s.pointsFigure(ch, r), "", nil
	}
	return s.stepsFigure(ch, r), "", nil
}

// in converts a number of j to another unit of its dimension.
func in(u units.Unit, j *calc.Judged, x float64) float64 {
	if u.Symbol == j.Unit.Symbol {
		return x
	}
	return u.FromSI(j.Unit.ToSI(x))
}

// axisNames are the words of a title on both sides of " over ", which name the
// axes.
func axisNames(title, along string) (up, across string) {
	up, across, found := strings.Cut(title, " over ")
	if !found {
		return title, along
	}
	return up, cmp.Or(along, strings.TrimPrefix(across, "the "))
}

// pointsFigure draws points at their places. Those of one label, or of none, are
// joined in the order of the rows.
func (s Artist) pointsFigure(ch *calc.Chart, r *calc.Report) *Captioned {
	lines := slices.DeleteFunc(slices.Clone(ch.Lines), func(l calc.ChartLine) bool { return l.Kind != calc.AsPoint })
	first := lines[slices.IndexFunc(lines, func(l calc.ChartLine) bool { return l.Over != nil })].Over
	u, along := lines[0].Value.Unit, first.Unit
	name, across := axisNames(page.Printable(ch.Title), first.Name)
	f := &chart.Figure{X: axisOf(across, along)}
	panel := chart.Panel{Y: axisOf(name, u)}
	read := chart.Series{Kind: chart.Reading, Label: "reading"}
	var places []float64
	var ends []*calc.Judged
	var words []string
	for _, l := range lines {
		j, x := page.JudgedOf(r, l.Value), along.FromSI(l.At)
		where := page.Beside(s.Numbers.Trimmed(x), along)
		if l.Over != nil {
			over := page.JudgedOf(r, l.Over)
			x = in(along, over, over.Value)
			where = page.Beside(s.ValueText(over), over.Unit)
		}
		places, ends = append(places, x), append(ends, j)
		label := cmp.Or(page.Printable(l.Label), name)
		k := slices.IndexFunc(panel.Series, func(other chart.Series) bool { return other.Label == label })
		if k < 0 {
			k = len(panel.Series)
			panel.Series = append(panel.Series, chart.Series{Kind: chart.Computed, Label: label})
		}
		panel.Series[k].Points = append(panel.Series[k].Points,
			chart.Point{X: x, Y: in(u, j, j.Value), Spread: in(u, j, j.Spread)})
		if calc.Has(j.Reading) {
			read.Points = append(read.Points, chart.Point{X: x, Y: in(u, j, j.Reading),
				Spread: in(u, j, j.ReadingSpread)})
		}
		words = append(words, fmt.Sprintf("%s %s at %s", j.Quantity.Name, page.Beside(s.ValueText(j), j.Unit), where))
	}
	s.addLimits(&panel, "", len(ends), func(i int) float64 { return places[i] },
		func(i int) *calc.Judged { return ends[i] })
	panel.Series = append(panel.Series, s.across(ch, r, u, slices.Min(places), slices.Max(places))...)
	if len(read.Points) > 0 {
		panel.Series = append(panel.Series, read)
	}
	f.Panels = []chart.Panel{panel}
	f.About = strings.Join(words, ", ") + "."
	return &Captioned{Figure: f, Caption: []string{f.About}}
}

// stepsFigure draws values that hold for a stretch each, one behind the other.
func (s Artist) stepsFigure(ch *calc.Chart, r *calc.Report) *Captioned {
	var u, along units.Unit
	title := page.Printable(ch.Title)
	f := &chart.Figure{}
	line := chart.Series{Kind: chart.Computed}
	at := 0.0
	var words []string
	for _, l := range ch.Lines {
		if l.Kind != calc.AsStep {
			continue
		}
		j, over := page.JudgedOf(r, l.Value), page.JudgedOf(r, l.Over)
		if len(line.Points) == 0 {
			u, along = j.Unit, over.Unit
			name, _ := axisNames(title, "")
			f.X, line.Label = axisOf(along.Dim.Name(), along), name
		}
		label := cmp.Or(page.Printable(l.Label), j.Quantity.Name)
		end := at + in(along, over, over.Value)
		y, spread := in(u, j, j.Value), in(u, j, j.Spread)
		line.Points = append(line.Points, chart.Point{X: at, Y: y, Spread: spread},
			chart.Point{X: end, Y: y, Spread: spread})
		f.Spans = append(f.Spans, chart.Span{From: at, To: end, Label: label})
		words = append(words, fmt.Sprintf("%s %s for %s", label, page.Beside(s.ValueText(j), j.Unit),
			page.Beside(s.ValueText(over), over.Unit)))
		at = end
	}
	across := s.across(ch, r, u, 0, at)
	f.Panels = []chart.Panel{{Y: axisOf(line.Label, u), Series: append([]chart.Series{line}, across...)}}
	caption := strings.Join(words, ", ") + "."
	f.About = strings.TrimSuffix(caption, ".")
	for _, series := range across {
		f.About += ", " + strings.ReplaceAll(series.Label, "\n", " ")
	}
	f.About += "."
	return &Captioned{Figure: f, Caption: []string{caption}}
}

// across are the lines of a chart that lie straight across it.
func (s Artist) across(ch *calc.Chart, r *calc.Report, u units.Unit, from, to float64) []chart.Series {
	var list []chart.Series
	for _, l := range ch.Lines {
		series := chart.Series{Kind: chart.Computed}
		switch l.Kind {
		case calc.AsLimit:
			series.Kind = chart.Limit
		case calc.AsLine:
		default:
			continue
		}
		j := page.JudgedOf(r, l.Value)
		series.Label = cmp.Or(page.Printable(l.Label), j.Quantity.Name) + "\n" + page.Beside(s.ValueText(j), j.Unit)
		y, spread := in(u, j, j.Value), in(u, j, j.Spread)
		series.Points = []chart.Point{{X: from, Y: y, Spread: spread}, {X: to, Y: y, Spread: spread}}
		list = append(list, series)
	}
	return list
}

// casesOf draws a quantity or a column of a case sheet: with a line through its
// cases where they have dates or another column to stand over.
func (s Artist) casesOf(l *calc.ChartLine, model *calc.Model, r *calc.Report) (f *Captioned, why string, err error) {
	if l.OverColumn != "" || model.DateColumn(l.Sheet) != "" {
		f, problems := s.trendFigure(model, l.Sheet, l.Name, l.OverColumn)
		if len(problems) > 0 {
			why = page.Printable(problems[0].Message)
		}
		return f, why, nil
	}
	for _, result := range r.Cases {
		if result.Sheet != l.Sheet {
			continue
		}
		for i, asked := range result.Asked {
			switch {
			case asked.Name != l.Name:
			case len(result.Cases) == 0:
				return nil, "sheet " + page.Printable(l.Sheet.Name) + " has no cases yet", nil
			default:
				return s.CasesFigure(result, i), "", nil
			}
		}
	}
	return nil, "sheet " + page.Printable(l.Sheet.Name) + " does not ask for " + l.Name +
		", and has no dates to draw it over", nil
}

// familyFigure draws what a sheet asks for along one of its columns, with a line for
// each value of another one, and a panel for each quantity.
func (s Artist) familyFigure(ch *calc.Chart, r *calc.Report) (f *Captioned, why string) {
	first := &ch.Lines[0]
	at := slices.IndexFunc(r.Cases, func(result calc.CaseResult) bool { return result.Sheet == first.Sheet })
	if at < 0 || len(r.Cases[at].Cases) == 0 {
		return nil, "sheet " + page.Printable(first.Sheet.Name) + " has no cases yet"
	}
	result := &r.Cases[at]
	columnNamed := func(name string) (int, sheets.Column) {
		k := slices.IndexFunc(first.Sheet.Columns, func(c sheets.Column) bool { return c.Name.Text == name })
		return k, first.Sheet.Columns[k]
	}
	over, along := columnNamed(first.OverColumn)
	by, family := columnNamed(first.By)
	unit, _ := units.Parse(along.Unit.Text) // the notebook has been compiled
	f = &Captioned{Figure: &chart.Figure{X: axisOf(first.OverColumn, unit)}}
	for i := range ch.Lines {
		asked := slices.IndexFunc(result.Asked, func(q *calc.Quantity) bool { return q.Name == ch.Lines[i].Name })
		if asked < 0 {
			return nil, "sheet " + page.Printable(first.Sheet.Name) + " does not ask for " + ch.Lines[i].Name
		}
		panel := chart.Panel{Y: axisOf(ch.Lines[i].Name, result.Cases[0].Values[asked].Unit)}
		for k := range result.Cases {
			one := &result.Cases[k]
			x, err := units.ParseValue(one.Row.Cells[over].Text)
			if err != nil {
				continue // a case that stands nowhere along the chart
			}
			if x.HasUnit {
				x.Number = unit.FromSI(x.Unit.ToSI(x.Number))
			}
			label := page.Printable(first.By + "\n" + strings.TrimSpace(one.Row.Cells[by].Text+" "+family.Unit.Text))
			n := slices.IndexFunc(panel.Series, func(other chart.Series) bool { return other.Label == label })
			if n < 0 {
				n = len(panel.Series)
				panel.Series = append(panel.Series, chart.Series{Kind: chart.Computed, Label: label})
			}
			panel.Series[n].Points = append(panel.Series[n].Points, chart.Point{X: x.Number, Y: one.Values[asked].Value,
				Spread: one.Values[asked].Spread})
		}
		for n := range panel.Series {
			sorting.Stable(panel.Series[n].Points, func(a, b chart.Point) int { return cmp.Compare(a.X, b.X) })
		}
		f.Panels = append(f.Panels, panel)
		f.About = strings.TrimSpace(f.About + " " + fmt.Sprintf("%s over %s for %s of %s.", ch.Lines[i].Name,
			first.OverColumn, words.Counted(len(panel.Series), "value"), first.By))
	}
	f.Caption = []string{f.About}
	return f, ""
}

// isLimited reports whether a limit holds what a sheet asks for in one of its
// cases.
func isLimited(result calc.CaseResult, asked int) bool {
	return slices.ContainsFunc(result.Cases, func(c calc.Case) bool {
		return calc.Has(c.Values[asked].Low) || calc.Has(c.Values[asked].High)
	})
}

// mostNamedCases is how many cases have room for their names.
const mostNamedCases = 12

// CasesFigure draws what a sheet asks for, one case beside the other. There is
// at least one.
func (s Artist) CasesFigure(result calc.CaseResult, asked int) *Captioned {
	q, n := result.Asked[asked], len(result.Cases)
	at := func(i int) *calc.Judged { return &result.Cases[i].Values[asked] }
	sheet := page.Printable(result.Sheet.Name)
	computed, read := chart.Series{Kind: chart.Case, Label: "computed"},
		chart.Series{Kind: chart.Reading, Label: "readings"}
	f := &chart.Figure{Title: q.Name + " in " + cmp.Or(sheet, "the cases"),
		X: chart.Axis{Name: cmp.Or(page.Printable(result.Sheet.Key.Text), "case"), Whole: true}, SpansTold: true}
	var names []string
	verdicts := map[calc.Verdict]int{}
	for i := range n {
		j, x := at(i), float64(i+1)
		verdicts[j.Verdict]++
		if n <= mostNamedCases {
			names = append(names, page.Printable(result.Cases[i].Name))
			f.Spans = append(f.Spans, chart.Span{From: x - 0.5, To: x + 0.5, Label: names[i]})
		}
		switch {
		case calc.Has(j.Reading):
			read.Points = append(read.Points, chart.Point{X: x, Y: j.Reading, Spread: j.ReadingSpread})
		case calc.Has(j.Value):
			computed.Points = append(computed.Points, chart.Point{X: x, Y: j.Value, Spread: j.Spread})
		}
	}
	panel := chart.Panel{Y: axisOf(q.Name, at(0).Unit)}
	// A limit holds over the whole width of its case.
	s.addLimits(&panel, "", 2*n, func(i int) float64 { return float64(i/2+i%2) + 0.5 },
		func(i int) *calc.Judged { return at(i / 2) })
	for _, series := range []chart.Series{computed, read} {
		if len(series.Points) > 0 {
			panel.Series = append(panel.Series, series)
		}
	}
	f.Panels = []chart.Panel{panel}
	var counts []string
	for _, v := range []calc.Verdict{calc.Fail, calc.Unsure, calc.Open, calc.Pass} {
		if verdicts[v] > 0 {
			counts = append(counts, fmt.Sprintf("%d %s", verdicts[v], v))
		}
	}
	f.About = fmt.Sprintf("%s in %s of %s", q.Name, words.Counted(n, "case"), cmp.Or(sheet, "the notebook"))
	if len(counts) > 0 {
		f.About += ": " + strings.Join(counts, ", ")
	}
	f.About += "."
	if len(names) > 0 {
		f.About += " From left to right: " + strings.Join(names, ", ") + "."
	}
	return &Captioned{Figure: f, Caption: []string{f.About}}
}

// FaultFigures draws, for each suspect that the readings of some case speak
// against, what it was found to be, case by case.
func (s Artist) FaultFigures(model *calc.Model, sheet string) []*Captioned {
	if len(model.Suspects) == 0 {
		return nil
	}
	d, problems := model.DiagnoseCases(sheet)
	if d == nil || len(problems) > 0 || len(d.Cases) < 2 {
		return nil
	}
	view := &page.CaseDiagnosisView{CaseDiagnosis: d, Layout: s.Layout}
	var figures []*Captioned
	for _, suspect := range d.Suspects {
		line := view.Fault(suspect)
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
		title := q.Name + " as found in the " + page.Printable(sheet)
		figures = append(figures, &Captioned{Caption: []string{line}, Figure: &chart.Figure{Title: title, About: line,
			X:      chart.Axis{Name: "case of " + page.Printable(sheet)},
			Panels: []chart.Panel{{Y: axisOf(q.Name, q.Unit), Series: []chart.Series{given, found}}}}})
	}
	return figures
}

// trendFigure draws the line through the cases of a sheet, against one of its
// columns or else its dates. It is nil if there is no line,
// with why.
func (s Artist) trendFigure(model *calc.Model, sheet *sheets.Sheet, name, against string) (*Captioned,
	[]sheets.Problem) {
	t, problems := model.Trend(sheet.Name, name, calc.TrendOptions{Against: against})
	if t == nil || len(problems) > 0 {
		return nil, problems
	}
	across, axis := func(x float64) float64 { return x }, axisOf(t.Against, t.AgainstUnit)
	if t.Dated {
		across = func(x float64) float64 { return t.Origin + x*units.Day }
	}
	computed, readings := chart.Series{Kind: chart.Case, Label: "computed"},
		chart.Series{Kind: chart.Reading, Label: "readings"}
	for _, p := range t.Points {
		series := &computed
		if p.Read {
			series = &readings
		}
		series.Points = append(series.Points, chart.Point{X: across(p.X), Y: p.Y, Spread: p.Spread})
	}
	view := &page.TrendView{Trend: t, Layout: s.Layout}
	first, last := t.Points[0].X, t.Points[len(t.Points)-1].X
	// The line goes on to the limit that it meets, if that is not far off.
	const farther = 3
	if m := t.Meets; t.Foretells() && !m.Past && m.When-last < farther*(last-first) {
		last = m.When
	}
	line := chart.Series{Kind: chart.Computed, Label: "line"}
	const pieces = 24 // the edge of the band is a curve
	for i := range pieces + 1 {
		x := first + (last-first)*float64(i)/pieces
		line.Points = append(line.Points, chart.Point{X: across(x), Y: t.Line.At(x),
			Spread: t.Line.Factor * t.Line.Error(x)})
	}
	panel := chart.Panel{Y: axisOf(name, t.Unit), Series: []chart.Series{line}}
	ends := []float64{across(first), across(last)}
	s.addLimits(&panel, "", 2, func(i int) float64 { return ends[i] }, func(int) *calc.Judged { return &t.Limits })
	for _, series := range []chart.Series{computed, readings} {
		if len(series.Points) > 0 {
			panel.Series = append(panel.Series, series)
		}
	}
	words := view.Answers()
	title := name + " over the " + cmp.Or(page.Printable(sheet.Name), "cases")
	return &Captioned{Figure: &chart.Figure{Title: title, About: strings.Join(words, " "), X: axis,
		Panels: []chart.Panel{panel}}, Caption: words}, nil
}
