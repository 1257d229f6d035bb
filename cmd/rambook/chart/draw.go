package chart

import (
	"cmp"
	"image/color"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Colours of a figure on white. Each stands at least 4.5 to 1 against it, but
// for the grid, which carries nothing. In SVG they can be told apart by their
// values, and so be replaced for a dark page.
var (
	ink     = color.RGBA{0x1A, 0x1D, 0x21, 0xFF}
	muted   = color.RGBA{0x56, 0x5D, 0x66, 0xFF}
	grid    = color.RGBA{0xDD, 0xE0, 0xE4, 0xFF}
	palette = []color.RGBA{ // of the computed lines
		{0x0B, 0x5C, 0xAD, 0xFF},
		{0xA8, 0x3F, 0x0A, 0xFF},
		{0x1B, 0x6B, 0x3C, 0xFF},
		{0x7A, 0x3E, 0x9E, 0xFF},
		{0x0C, 0x66, 0x75, 0xFF},
		{0x8A, 0x2F, 0x57, 0xFF},
	}
)

// Sizes in points. They are those of the picture at its natural size.
const (
	figureWidth = 440
	edge        = 4   // around everything
	fontSize    = 13  // of all texts
	lineHeight  = 16  // of one line of a label
	titleHeight = 24  // of the figure's title
	labelWidth  = 140 // of the longest label beside a panel
	leader      = 18  // from a panel to the labels beside it
	headHeight  = 30  // of the labels above the first panel
	nameHeight  = 21  // of the name of a y axis
	tickLength  = 4
	axisHeight  = 22 // of the marks and numbers of the x axis
	panelGap    = 14
)

// plotHeight is the height of a panel's axes: all labels beside it have room.
func (f *Figure) plotHeight(panel Panel) vg.Length {
	height, labels := 200.0, 0.0
	switch len(f.Panels) {
	case 1:
	case 2:
		height = 150
	default:
		height = 120
	}
	for _, s := range panel.Series {
		if s.Label != "" {
			labels += lineHeight * float64(1+strings.Count(s.Label, "\n"))
		}
	}
	return vg.Length(math.Max(height, labels))
}

// size is the natural size of the figure, with its title or without.
func (f *Figure) size(titled bool) (width, height vg.Length) {
	height = 2*edge + axisHeight + lineHeight + panelGap*vg.Length(len(f.Panels)-1)
	if titled && f.Title != "" {
		height += titleHeight
	}
	for i, panel := range f.Panels {
		height += f.above(i) + f.plotHeight(panel)
	}
	return figureWidth, height
}

// above is the height of what stands above a panel's axes.
func (f *Figure) above(i int) vg.Length {
	if i == 0 && len(f.heads()) > 0 {
		return nameHeight + headHeight
	}
	return nameHeight
}

// overhang is how far left of the axes the first number below the x axis
// begins, if the axes are so far from the left in so much room.
func (f *Figure) overhang(left, room vg.Length) vg.Length {
	x := f.xRange()
	list := f.xTicks()
	if len(list) == 0 {
		return 0
	}
	place := vg.Length((list[0].at - x.min) / (x.max - x.min))
	return style(ink).Width(list[0].label)/2 - place*(room-left)
}

// heads are the labels above the first panel, from left to right.
func (f *Figure) heads() []Mark {
	var heads []Mark
	if f.Here != nil {
		heads = append(heads, *f.Here)
	}
	for _, s := range f.Spans {
		heads = append(heads, Mark{(s.From + s.To) / 2, s.Label})
	}
	slices.SortStableFunc(heads, func(a, b Mark) int { return cmp.Compare(a.X, b.X) })
	return heads
}

// style is that of texts which begin at their place and stand on it.
func style(c color.Color) text.Style {
	return text.Style{Color: c, Font: font.From(font.Font{Typeface: "Liberation", Variant: "Sans"}, fontSize),
		Handler: plot.DefaultTextHandler}
}

// fitted cuts a text to a width.
func fitted(s text.Style, label string, width vg.Length) string {
	if s.Width(label) <= width {
		return label
	}
	runes := []rune(label)
	for len(runes) > 0 && s.Width(string(runes)+"…") > width {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// labelLines are the lines of a series' label, cut to the room beside a panel.
// A series that ends above or below what the axis covers has an arrow in front.
func (s Series) labelLines(y interval) []string {
	lines := strings.Split(s.Label, "\n")
	if end := s.end(); end >= 0 && s.Points[end].Y > y.max {
		lines[0] = "↑ " + lines[0]
	} else if end >= 0 && s.Points[end].Y < y.min {
		lines[0] = "↓ " + lines[0]
	}
	for i := range lines {
		lines[i] = fitted(style(ink), oneLine(lines[i]), labelWidth)
	}
	return lines
}

// labelRoom is the width of the labels beside the panels.
func (f *Figure) labelRoom() vg.Length {
	widest := vg.Length(0)
	for _, panel := range f.Panels {
		for _, s := range panel.Series {
			for _, line := range s.labelLines(panel.yRange()) {
				widest = max(widest, style(ink).Width(line))
			}
		}
	}
	if widest == 0 {
		return 0
	}
	return widest + leader
}

// draw draws the figure onto a canvas of its natural size.
func (f *Figure) draw(c draw.Canvas, titled bool) {
	c = draw.Crop(c, edge, -edge, edge, -edge)
	if titled && f.Title != "" {
		bold := style(ink)
		bold.Font.Weight = boldWeight
		bold.YAlign = draw.YTop
		c.FillText(bold, vg.Point{X: c.Min.X, Y: c.Max.Y}, fitted(bold, oneLine(f.Title), c.Max.X-c.Min.X))
		c.Max.Y -= titleHeight
	}
	whole := c
	right := f.labelRoom()
	plots := make([]*plot.Plot, len(f.Panels))
	places := make([]draw.Canvas, len(f.Panels))
	left := vg.Length(0)
	for i, panel := range f.Panels {
		height := f.plotHeight(panel)
		last := i == len(f.Panels)-1
		place := c
		place.Max.X -= right
		place.Max.Y -= f.above(i)
		place.Min.Y = place.Max.Y - height
		if last {
			place.Min.Y -= axisHeight
		} else {
			place.Min.Y -= tickLength
		}
		plots[i] = f.plot(panel, height, last)
		places[i] = place
		left = max(left, plots[i].DataCanvas(place).Min.X-place.Min.X)
		c.Max.Y -= f.above(i) + height + panelGap
	}
	left = max(left, f.overhang(left, c.Max.X-right-c.Min.X))
	// All panels begin and end at the same x. Only the last has numbers below it,
	// which may reach beyond its right end.
	for i := range places {
		places[i].Min.X += left - (plots[i].DataCanvas(places[i]).Min.X - places[i].Min.X)
	}
	last := len(places) - 1
	for i := range last {
		places[i].Max.X = plots[last].DataCanvas(places[last]).Max.X
	}
	for i, panel := range f.Panels {
		place := places[i]
		data := plots[i].DataCanvas(place)
		name := style(ink)
		name.YAlign = draw.YTop
		place.FillText(name, vg.Point{X: c.Min.X, Y: place.Max.Y + f.above(i) - 1}, fitted(name, panel.Y.Label(), c.Max.X-c.Min.X))
		if f.Here != nil {
			x := data.X(plots[i].X.Norm(f.Here.X))
			place.StrokeLine2(hereLine, x, data.Min.Y, x, data.Max.Y)
		}
		plots[i].Draw(place)
		labels(whole, data, plots[i], panel)
		if i == 0 {
			f.drawHeads(place, data, plots[i], place.Max.Y+headHeight)
		}
	}
	x := style(ink)
	x.XAlign, x.YAlign = draw.XCenter, draw.YBottom
	data := plots[last].DataCanvas(places[last])
	middle := (data.Min.X + data.Max.X) / 2
	label := fitted(x, f.X.Label(), c.Max.X-c.Min.X)
	half := x.Width(label) / 2
	middle = max(c.Min.X+half, min(c.Max.X-half, middle))
	c.FillText(x, vg.Point{X: middle, Y: c.Min.Y}, label)
}

var (
	hereLine  = draw.LineStyle{Color: muted, Width: 0.8, Dashes: []vg.Length{1.5, 2.5}}
	limitLine = draw.LineStyle{Color: muted, Width: 1.2, Dashes: []vg.Length{6, 3}}
	gridLine  = draw.LineStyle{Color: grid, Width: 0.6}
	axisLine  = draw.LineStyle{Color: muted, Width: 0.6}
)

// plot makes the axes of a panel and what is drawn between them.
func (f *Figure) plot(panel Panel, height vg.Length, last bool) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	x, y := f.xRange(), panel.yRange()
	p.Y.Tick.Marker = markers(panel.Y.ticks(y, int(height/28)))
	xMarks := markers(f.xTicks())
	if !last {
		for i := range xMarks {
			xMarks[i].Label = ""
		}
	}
	p.X.Tick.Marker = xMarks
	for _, axis := range []*plot.Axis{&p.X, &p.Y} {
		axis.Padding = 0
		axis.LineStyle, axis.Tick.LineStyle, axis.Tick.Length = axisLine, axisLine, tickLength
		axis.Tick.Label.Font, axis.Tick.Label.Color = style(ink).Font, ink
	}
	lines := plotter.NewGrid()
	lines.Vertical, lines.Horizontal = draw.LineStyle{Color: nil}, gridLine
	p.Add(lines)
	for _, span := range f.Spans {
		p.Add(line([]Point{{X: span.To, Y: y.min}, {X: span.To, Y: y.max}}, gridLine))
	}
	for _, plotter := range panel.plotters() {
		p.Add(unpadded{plotter})
	}
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = x.min, x.max, y.min, y.max
	return p
}

// unpadded hides how far a point reaches beyond its place, for which a plot
// would draw its axes in.
type unpadded struct{ plot.Plotter }

// xTicks marks the x axis, with as many numbers as fit below it.
func (f *Figure) xTicks() []tick {
	const leftRoom, between = 66, 9
	room := float64(figureWidth - 2*edge - leftRoom - f.labelRoom())
	x := f.xRange()
	for parts := 7; ; parts-- {
		list := f.X.ticks(x, parts)
		if len(list) < 2 || parts == 1 {
			return list
		}
		widest := vg.Length(0)
		for _, t := range list {
			widest = max(widest, style(ink).Width(t.label))
		}
		if float64(widest)+between <= (list[1].at-list[0].at)/(x.max-x.min)*room {
			return list
		}
	}
}

func markers(list []tick) plot.ConstantTicks {
	var marks plot.ConstantTicks
	for _, t := range list {
		marks = append(marks, plot.Tick{Value: t.at, Label: t.label})
	}
	return marks
}

// colours gives the lines of a panel theirs, one after the other.
func colours() func() color.RGBA {
	n := 0
	return func() color.RGBA {
		n++
		return palette[(n-1)%len(palette)]
	}
}

// plotters draws bands first, then lines, then points.
func (p Panel) plotters() []plot.Plotter {
	lineColours := colours()
	var bands, lines, points []plot.Plotter
	for _, s := range p.Series {
		switch s.Kind {
		case Computed:
			c := lineColours()
			for _, run := range s.runs() {
				if band := band(run, c); band != nil {
					bands = append(bands, band)
				}
				lines = append(lines, line(run, draw.LineStyle{Color: c, Width: 1.8}))
			}
		case Limit:
			for _, run := range s.runs() {
				lines = append(lines, line(run, limitLine))
			}
		case Reading, Case:
			var marks plotter.XYs
			whiskers := &plotter.YErrorBars{LineStyle: draw.LineStyle{Color: ink, Width: 1}, CapWidth: 6}
			for _, run := range s.runs() {
				for _, point := range run {
					marks = append(marks, plotter.XY{X: point.X, Y: point.Y})
					whiskers.YErrors = append(whiskers.YErrors, struct{ Low, High float64 }{point.halfWidth(), point.halfWidth()})
				}
			}
			if len(marks) == 0 {
				continue
			}
			whiskers.XYs = marks
			points = append(points, whiskers, &plotter.Scatter{XYs: marks, GlyphStyle: pointGlyphs[s.Kind]})
		}
	}
	return slices.Concat(bands, lines, points)
}

// pointGlyphs are the marks of the kinds that are drawn as single points.
var pointGlyphs = map[Kind]draw.GlyphStyle{
	Reading: {Color: ink, Radius: 2.6, Shape: draw.CircleGlyph{}},
	Case:    {Color: ink, Radius: 2.6, Shape: ring{}},
}

// ring is a circle with a line as thick as that of an error bar.
type ring struct{}

func (ring) DrawGlyph(c *draw.Canvas, style draw.GlyphStyle, at vg.Point) {
	var p vg.Path
	p.Move(vg.Point{X: at.X + style.Radius, Y: at.Y})
	p.Arc(at, style.Radius, 0, 2*math.Pi)
	p.Close()
	c.SetLineStyle(draw.LineStyle{Color: style.Color, Width: 1})
	c.Stroke(p)
}

func line(points []Point, s draw.LineStyle) *plotter.Line {
	l := &plotter.Line{LineStyle: s}
	for _, p := range points {
		l.XYs = append(l.XYs, plotter.XY{X: p.X, Y: p.Y})
	}
	return l
}

// band is the area that the spread covers, nil without one.
func band(run []Point, c color.RGBA) plot.Plotter {
	var edge plotter.XYs
	wide := false
	for _, p := range run {
		edge = append(edge, plotter.XY{X: p.X, Y: p.high()})
		wide = wide || p.halfWidth() > 0
	}
	if !wide || len(run) < 2 {
		return nil
	}
	for _, p := range slices.Backward(run) {
		edge = append(edge, plotter.XY{X: p.X, Y: p.low()})
	}
	return &plotter.Polygon{XYs: []plotter.XYs{edge}, Color: translucent(c)}
}

// translucent is the colour of the band around a line.
func translucent(c color.RGBA) color.Color { return color.NRGBA{c.R, c.G, c.B, 0x30} }

// labels writes the labels of the series beside a panel, each as near to the
// end of its line as the others allow.
func labels(c, data draw.Canvas, p *plot.Plot, panel Panel) {
	lineColours := colours()
	type label struct {
		lines  []string
		series *Series
		colour color.RGBA
		y      float64 // of the series' end
	}
	var list []label
	for i := range panel.Series {
		s := &panel.Series[i]
		l := label{series: s, colour: ink}
		switch s.Kind {
		case Computed:
			l.colour = lineColours()
		case Limit:
			l.colour = muted
		}
		end := s.end()
		if end < 0 || s.Label == "" {
			continue
		}
		l.lines = s.labelLines(interval{p.Y.Min, p.Y.Max})
		l.y = float64(data.Y(math.Max(0, math.Min(1, p.Y.Norm(s.Points[end].Y)))))
		list = append(list, l)
	}
	slices.SortStableFunc(list, func(a, b label) int { return cmp.Compare(a.y, b.y) })
	want, size := make([]float64, len(list)), make([]float64, len(list))
	for i, l := range list {
		want[i], size[i] = l.y, lineHeight*float64(len(l.lines))
	}
	at := apart(want, size, float64(data.Min.Y), float64(data.Max.Y)+2)
	for i, l := range list {
		x, y := data.Max.X+leader, vg.Length(at[i])
		switch l.series.Kind {
		case Reading, Case:
			c.DrawGlyph(pointGlyphs[l.series.Kind], vg.Point{X: x - 6, Y: y})
		case Limit:
			c.StrokeLine2(draw.LineStyle{Color: muted, Width: 0.8, Dashes: []vg.Length{2, 2}}, data.Max.X+2, vg.Length(l.y), x-3, y)
		default:
			c.StrokeLine2(draw.LineStyle{Color: l.colour, Width: 0.8}, data.Max.X+2, vg.Length(l.y), x-3, y)
		}
		top := y + vg.Length(size[i])/2
		s := style(l.colour)
		for k, line := range l.lines {
			c.FillText(s, vg.Point{X: x, Y: top - lineHeight*vg.Length(k+1) + 2}, line)
		}
	}
}

// drawHeads writes the labels above the first panel, each as near to its place
// as the others allow.
func (f *Figure) drawHeads(c, data draw.Canvas, p *plot.Plot, top vg.Length) {
	heads := f.heads()
	s := style(muted)
	s.XAlign, s.YAlign = draw.XCenter, draw.YTop
	want, size := make([]float64, len(heads)), make([]float64, len(heads))
	for i, h := range heads {
		heads[i].Label = fitted(s, oneLine(h.Label), (data.Max.X-data.Min.X)/vg.Length(len(heads))-4)
		want[i] = float64(data.X(p.X.Norm(h.X)))
		size[i] = float64(s.Width(heads[i].Label)) + 6
	}
	at := apart(want, size, float64(data.Min.X)-3, float64(data.Max.X)+3)
	for i, h := range heads {
		c.FillText(s, vg.Point{X: vg.Length(at[i]), Y: top}, h.Label)
		c.StrokeLine2(draw.LineStyle{Color: muted, Width: 0.6}, vg.Length(at[i]), top-lineHeight, vg.Length(want[i]), data.Max.Y+1)
	}
}
