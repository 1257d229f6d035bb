package chart

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"

	"rambook/units/sorting"
)

// colour is one of a figure's, on white, and the custom property of style sheets
// that gives it in a page, which may be dark.
type colour struct {
	onWhite  color.RGBA
	property string
}

// Colours of a figure. Each stands at least 4.5 to 1 against white, but for the
// grid, which carries nothing.
var (
	ink     = colour{color.RGBA{0x1A, 0x1D, 0x21, 0xFF}, "chart-ink"}
	muted   = colour{color.RGBA{0x56, 0x5D, 0x66, 0xFF}, "chart-muted"}
	grid    = colour{color.RGBA{0xDD, 0xE0, 0xE4, 0xFF}, "chart-grid"}
	palette = []colour{ // of the computed lines
		{color.RGBA{0x0B, 0x5C, 0xAD, 0xFF}, "chart-1"},
		{color.RGBA{0xA8, 0x3F, 0x0A, 0xFF}, "chart-2"},
		{color.RGBA{0x1B, 0x6B, 0x3C, 0xFF}, "chart-3"},
		{color.RGBA{0x7A, 0x3E, 0x9E, 0xFF}, "chart-4"},
		{color.RGBA{0x0C, 0x66, 0x75, 0xFF}, "chart-5"},
		{color.RGBA{0x8A, 0x2F, 0x57, 0xFF}, "chart-6"},
	}
)

func (c colour) hex() string {
	return fmt.Sprintf("#%02X%02X%02X", c.onWhite.R, c.onWhite.G, c.onWhite.B)
}

// bandOpacity is that of the band around a line.
const bandOpacity = 0.19

func (c colour) translucent() color.Color {
	return color.NRGBA{c.onWhite.R, c.onWhite.G, c.onWhite.B, uint8(math.Round(bandOpacity * 0xFF))}
}

// Sizes in points. They are those of the picture at its natural size.
const (
	figureWidth = 440
	edge        = 4   // around everything
	fontSize    = 13  // of all texts
	ascent      = 12  // of the tallest letter above its base line
	descent     = 3   // of the deepest one below it
	digitHeight = 9   // of numbers, which have no descent
	lineHeight  = 16  // of one line of a label
	titleHeight = 24  // of the figure's title
	labelWidth  = 140 // of the longest label beside a panel
	leader      = 18  // from a panel to the labels beside it
	headHeight  = 30  // of the labels above the first panel
	nameHeight  = 21  // of the name of a y axis
	tickLength  = 4
	tickGap     = 3  // from a mark to its number
	axisHeight  = 22 // of the marks and numbers of the x axis
	panelGap    = 14
)

var (
	hereLine   = stroke{muted, 0.8, []float64{1.5, 2.5}}
	limitLine  = stroke{muted, 1.2, []float64{6, 3}}
	gridLine   = stroke{grid, 0.6, nil}
	axisLine   = stroke{muted, 0.6, nil}
	whisker    = stroke{ink, 1, nil}
	lineWidth  = 1.8
	capWidth   = 6.0 // of error bars
	markRadius = 2.6 // of readings and cases
)

// plotHeight is the height of a panel's axes: all labels beside it have room.
func (f *Figure) plotHeight(panel Panel) float64 {
	height, labels := 200.0, 0.0
	switch len(f.Panels) {
	case 1:
		if panel.Field != nil {
			height = 280
		}
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
	return math.Max(height, labels)
}

// size is the natural size of the figure, with its title or without.
func (f *Figure) size(titled bool) (width, height float64) {
	height = 2*edge + axisHeight + lineHeight + panelGap*float64(len(f.Panels)-1)
	if titled && f.Title != "" {
		height += titleHeight
	}
	for i, panel := range f.Panels {
		height += f.above(i) + f.plotHeight(panel)
	}
	return figureWidth, height + f.notesHeight()
}

// notesHeight is the height of what stands below the name of the x axis.
func (f *Figure) notesHeight() float64 {
	if lines := f.noteLines(); len(lines) > 0 {
		return lineHeight * (float64(len(lines)) + 0.5)
	}
	return 0
}

// noteLines are the notes as wide as the figure.
func (f *Figure) noteLines() []string {
	_, key := f.drawnNames()
	return f.notesWithin(key, func(line string) bool { return regular.width(line) <= figureWidth-2*edge })
}

// notesWithin breaks the notes, behind the key of the spans, into lines that fit.
func (f *Figure) notesWithin(key string, fits func(line string) bool) []string {
	var lines []string
	notes := f.Notes
	if key != "" {
		notes = append([]string{key + "."}, notes...)
	}
	for _, note := range notes {
		line := ""
		for _, word := range strings.Fields(note) {
			if longer := strings.TrimPrefix(line+" "+word, " "); line == "" || fits(longer) {
				line = longer
				continue
			}
			lines = append(lines, line)
			line = word
		}
		lines = append(lines, line)
	}
	return lines
}

// above is the height of what stands above a panel's axes.
func (f *Figure) above(i int) float64 {
	if i == 0 && len(f.heads()) > 0 {
		return nameHeight + headHeight
	}
	return nameHeight
}

// heads are the labels above the first panel, from left to right.
func (f *Figure) heads() []Mark {
	var heads []Mark
	if f.Here != nil {
		heads = append(heads, *f.Here)
	}
	for x, i := f.xRange(), 0; i < len(f.Bounds); i++ {
		if x.holds(f.Bounds[i].X) {
			heads = append(heads, f.Bounds[i])
		}
	}
	names, _ := f.drawnNames()
	for i, s := range f.Spans {
		if names[i] != "" {
			heads = append(heads, Mark{(s.From + s.To) / 2, names[i]})
		}
	}
	sorting.Stable(heads, func(a, b Mark) int { return cmp.Compare(a.X, b.X) })
	return heads
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
		lines[i] = regular.fitted(oneLine(lines[i]), labelWidth)
	}
	return lines
}

// labelRoom is the width of the labels beside the panels.
func (f *Figure) labelRoom() float64 {
	widest := 0.0
	for _, panel := range f.Panels {
		y := panel.yRange()
		for _, s := range panel.Series {
			for _, line := range s.labelLines(y) {
				widest = max(widest, regular.width(line))
			}
		}
	}
	if widest == 0 {
		return 0
	}
	return widest + leader
}

// yTicks marks the y axis of a panel.
func (f *Figure) yTicks(panel Panel) []tick {
	return panel.Y.ticks(panel.yRange(), int(f.plotHeight(panel)/28))
}

// xTicks marks the x axis, with as many numbers as fit below it.
func (f *Figure) xTicks() []tick {
	const leftRoom, between = 66, 9
	room := figureWidth - 2*edge - leftRoom - f.labelRoom()
	x := f.xRange()
	for parts := 7; ; parts-- {
		list := f.X.ticks(x, parts)
		if len(list) < 2 || parts == 1 {
			return list
		}
		widest := 0.0
		for _, t := range list {
			widest = max(widest, regular.width(t.label))
		}
		if widest+between <= (list[1].at-list[0].at)/(x.max-x.min)*room {
			return list
		}
	}
}

// sides are the places where the axes of all panels begin and end: left of them
// the numbers beside the y axes have room, right of them the labels of the
// series, and the first and the last number below them stay inside the figure.
func (f *Figure) sides(ticks []tick) (left, right float64) {
	for _, panel := range f.Panels {
		for _, t := range f.yTicks(panel) {
			left = max(left, regular.width(t.label))
		}
	}
	left += edge + tickLength + tickGap
	right = figureWidth - edge - f.labelRoom()
	if len(ticks) == 0 {
		return left, right
	}
	// A number at the part p of the axes stands at left + p·(right - left).
	x := f.xRange()
	part := func(t tick) float64 { return (t.at - x.min) / (x.max - x.min) }
	first, last := ticks[0], ticks[len(ticks)-1]
	if p, half := part(first), regular.width(first.label)/2; p < 1 {
		left = max(left, (edge+half-p*right)/(1-p))
	}
	if p, half := part(last), regular.width(last.label)/2; p > 0 {
		right = min(right, left+(figureWidth-edge-half-left)/p)
	}
	return left, right
}

// axes are those of a panel on a canvas.
type axes struct{ x, y scale }

func (a axes) at(p Point) spot { return spot{a.x.at(p.X), a.y.at(p.Y)} }

func (a axes) all(points []Point) []spot {
	list := make([]spot, len(points))
	for i, p := range points {
		list[i] = a.at(p)
	}
	return list
}

// draw draws the figure onto a canvas of its natural size.
func (f *Figure) draw(c canvas, titled bool) {
	const room = figureWidth - 2*edge
	_, height := f.size(titled)
	top := float64(edge)
	if titled && f.Title != "" {
		c.text(spot{edge, top + ascent}, bold, ink, bold.fitted(oneLine(f.Title), room))
		top += titleHeight
	}
	ticks := f.xTicks()
	left, right := f.sides(ticks)
	for i, panel := range f.Panels {
		c.text(spot{edge, top + ascent + 1}, regular, ink, regular.fitted(panel.caption(), room))
		top += f.above(i)
		bottom := top + f.plotHeight(panel)
		a := axes{scale{f.xRange(), left, right}, scale{panel.yRange(), bottom, top}}
		f.drawAxes(c, a, ticks, f.yTicks(panel), i == len(f.Panels)-1)
		f.drawSeries(c, a, panel)
		drawLabels(c, a, panel)
		if i == 0 {
			f.drawHeads(c, a)
			f.drawNames(c, a)
		}
		top = bottom + panelGap
	}
	label := regular.fitted(f.X.Label(), room)
	half := regular.width(label) / 2
	middle := max(edge+half, min(figureWidth-edge-half, (left+right)/2))
	bottom := height - edge - f.notesHeight()
	c.text(spot{middle - half, bottom - descent}, regular, ink, label)
	for i, line := range f.noteLines() {
		c.text(spot{edge, bottom + lineHeight*(float64(i)+1.5) - descent}, regular, ink, regular.fitted(line, room))
	}
}

// drawAxes draws what a panel has before there is anything in it. Only the last
// has numbers below it.
func (f *Figure) drawAxes(c canvas, a axes, xTicks, yTicks []tick, last bool) {
	across := func(y, from, to float64, s stroke) { c.line([]spot{{from, y}, {to, y}}, s) }
	down := func(x, from, to float64, s stroke) { c.line([]spot{{x, from}, {x, to}}, s) }
	left, right, top, bottom := a.x.from, a.x.to, a.y.to, a.y.from
	for _, t := range yTicks {
		across(a.y.at(t.at), left, right, gridLine)
	}
	for i, span := range f.Spans {
		if from, to := max(span.From, a.x.min), min(span.To, a.x.max); i%2 == 0 && from < to {
			c.area([]spot{{a.x.at(from), top}, {a.x.at(to), top}, {a.x.at(to), bottom}, {a.x.at(from), bottom}}, muted)
		}
		if a.x.holds(span.To) {
			down(a.x.at(span.To), top, bottom, gridLine)
		}
	}
	for _, bound := range f.Bounds {
		if a.x.holds(bound.X) {
			down(a.x.at(bound.X), top, bottom, limitLine)
		}
	}
	if f.Here != nil && a.x.holds(f.Here.X) {
		down(a.x.at(f.Here.X), top, bottom, hereLine)
	}
	down(left, top, bottom, axisLine)
	across(bottom, left, right, axisLine)
	for _, t := range yTicks {
		y := a.y.at(t.at)
		across(y, left-tickLength, left, axisLine)
		// The lowest number stands on the axis, clear of the first one below it.
		base := math.Min(y+digitHeight/2.0, bottom)
		c.text(spot{left - tickLength - tickGap - regular.width(t.label), base}, regular, ink, t.label)
	}
	for _, t := range xTicks {
		x := a.x.at(t.at)
		down(x, bottom, bottom+tickLength, axisLine)
		if last {
			c.text(spot{x - regular.width(t.label)/2, bottom + tickLength + tickGap + digitHeight}, regular, ink,
				t.label)
		}
	}
}

// colours gives the lines of a panel theirs, one after the other.
func colours() func() colour {
	n := 0
	return func() colour {
		n++
		return palette[(n-1)%len(palette)]
	}
}

// drawSeries draws bands first, then lines, then points.
func (f *Figure) drawSeries(c canvas, a axes, panel Panel) {
	if panel.Field != nil {
		panel.Field.draw(c, a, panel)
	}
	var lines, points []func()
	lineColours := colours()
	for _, s := range panel.Series {
		switch s.Kind {
		case Computed:
			of := lineColours()
			for _, run := range s.runs() {
				edge := band(run)
				if s.Filled {
					edge = append(append([]Point{{X: run[0].X}}, run...), Point{X: run[len(run)-1].X})
				}
				if edge != nil {
					c.area(a.all(edge), of)
				}
				lines = append(lines, func() { c.line(a.all(run), stroke{of, lineWidth, nil}) })
			}
		case Limit:
			for _, run := range s.runs() {
				for _, part := range within(run, a.y.interval) {
					lines = append(lines, func() { c.line(a.all(part), limitLine) })
				}
			}
		case Reading, Case:
			for _, run := range s.runs() {
				for _, p := range run {
					points = append(points, func() { drawPoint(c, a, s.Kind, p) })
				}
			}
		}
	}
	for _, draw := range slices.Concat(lines, points) {
		draw()
	}
}

// drawPoint draws a single point with its error bar.
func drawPoint(c canvas, a axes, kind Kind, p Point) {
	at := a.at(p)
	if p.halfWidth() > 0 {
		low, high := a.y.at(p.low()), a.y.at(p.high())
		c.line([]spot{{at.x, low}, {at.x, high}}, whisker)
		for _, y := range []float64{low, high} {
			c.line([]spot{{at.x - capWidth/2, y}, {at.x + capWidth/2, y}}, whisker)
		}
	}
	drawMark(c, kind, at)
}

// drawMark draws the mark of a kind whose series are single points.
func drawMark(c canvas, kind Kind, at spot) {
	if kind == Reading {
		c.disc(at, markRadius, ink)
		return
	}
	c.ring(at, markRadius, whisker)
}

// band is the edge of the area that the spread covers, nil without one.
func band(run []Point) []Point {
	var edge []Point
	wide := false
	for _, p := range run {
		edge = append(edge, Point{X: p.X, Y: p.high()})
		wide = wide || p.halfWidth() > 0
	}
	if !wide || len(run) < 2 {
		return nil
	}
	for _, p := range slices.Backward(run) {
		edge = append(edge, Point{X: p.X, Y: p.low()})
	}
	return edge
}

// drawLabels writes the labels of the series beside a panel, the first line of
// each as near to the end of its series as the others allow.
func drawLabels(c canvas, a axes, panel Panel) {
	type label struct {
		lines  []string
		kind   Kind
		colour colour
		end    float64 // height of the series' end
	}
	var list []label
	lineColours := colours()
	for _, s := range panel.Series {
		l := label{kind: s.Kind, colour: ink}
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
		l.lines = s.labelLines(a.y.interval)
		l.end = a.y.near(s.Points[end].Y)
		list = append(list, l)
	}
	sorting.Stable(list, func(a, b label) int { return cmp.Compare(a.end, b.end) })
	want, size := make([]float64, len(list)), make([]float64, len(list))
	for i, l := range list {
		size[i] = lineHeight * float64(len(l.lines))
		want[i] = l.end + size[i]/2 - lineHeight/2
	}
	x := a.x.to + leader
	for i, middle := range spacedOut(want, size, a.y.to-2, a.y.from) {
		l := list[i]
		top := middle - size[i]/2
		first := top + lineHeight/2 // the height of its first line
		switch s := (stroke{l.colour, 0.8, nil}); l.kind {
		case Reading, Case:
			drawMark(c, l.kind, spot{x - 6, first})
		case Limit:
			s.dashes = []float64{2, 2}
			fallthrough
		default:
			c.line([]spot{{a.x.to + 2, l.end}, {x - 3, first}}, s)
		}
		for k, line := range l.lines {
			c.text(spot{x, top + lineHeight*float64(k+1) - descent - 0.5}, regular, l.colour, line)
		}
	}
}

// drawHeads writes the labels above the first panel, each as near to its place
// as the others allow.
func (f *Figure) drawHeads(c canvas, a axes) {
	heads := f.heads()
	want, size := make([]float64, len(heads)), make([]float64, len(heads))
	for i, h := range heads {
		heads[i].Label = regular.fitted(oneLine(h.Label), (a.x.to-a.x.from)/float64(len(heads))-4)
		want[i] = a.x.near(h.X)
		size[i] = regular.width(heads[i].Label) + 6
	}
	top := a.y.to - headHeight
	for i, middle := range spacedOut(want, size, a.x.from-3, a.x.to+3) {
		c.text(spot{middle - regular.width(heads[i].Label)/2, top + ascent}, regular, muted, heads[i].Label)
		c.line([]spot{{middle, top + lineHeight}, {want[i], a.y.to - 1}}, stroke{muted, 0.6, nil})
	}
}
