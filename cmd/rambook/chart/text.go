package chart

import (
	"math"
	"strings"

	"github.com/guptarohit/asciigraph"

	"rambook/sheets/table"
	"rambook/units"
)

// TextOptions are those of a chart on a terminal.
type TextOptions struct {
	Width  int  // of a line, in characters
	Height int  // of the screen that the figure fills, in lines; 0 if there is none
	Colour bool // strengthen the marks with colour
}

const (
	textRows   = 14 // of a single panel
	lowRows    = 10 // of one of several
	leastWidth = 24 // of the axes
)

// marks are what the lines of a panel are drawn with, in their order. Behind
// the last of them they begin anew.
var marks = []string{"*", "+", "x", "o", "#", "%"}

const (
	limitMark   = "-"
	readingMark = "●"
	caseMark    = "○"
)

// Text draws the figure with characters, each panel with its axes and a key
// that is which mark is what. Spreads are left to the pictures.
func (f *Figure) Text(opt TextOptions) string {
	rows := textRows
	if len(f.Panels) > 1 {
		rows = lowRows
	}
	if opt.Height == 0 {
		return f.text(rows, opt)
	}
	// The ends of an axis are round numbers, so that a panel may have more rows than
	// it was to have. The last line of the screen is left to the prompt.
	const leastRows, mostRows = 4, 60
	for rows = min(opt.Height/max(1, len(f.Panels)), mostRows); ; rows-- {
		text := f.text(rows, opt)
		if rows <= leastRows || strings.Count(text, "\n") < opt.Height {
			return text
		}
	}
}

// text draws the figure with about so many rows a panel.
func (f *Figure) text(rows int, opt TextOptions) string {
	var out strings.Builder
	key := "" // of the spans
	if f.Title != "" {
		out.WriteString(oneLine(f.Title) + "\n")
	}
	for i, panel := range f.Panels {
		if i > 0 || f.Title != "" {
			out.WriteByte('\n')
		}
		text, own := f.textPanel(panel, rows, opt)
		key = own
		out.WriteString(text)
	}
	if lines := f.notesWithin(key,
		func(line string) bool { return table.TextWidth(line) <= opt.Width }); len(lines) > 0 {
		out.WriteString("\n" + strings.Join(lines, "\n") + "\n")
	}
	return out.String()
}

// textPanel draws one panel, and names its spans.
func (f *Figure) textPanel(panel Panel, rows int, opt TextOptions) (text, spanKey string) {
	if panel.Field != nil {
		return panel.Field.text(panel, rows, f.X, opt), ""
	}
	// The ends of the y axis are whole numbers of rows, so that the number beside
	// a row is that of its middle.
	y := panel.yRange()
	labelled, exponent := roundStep((y.max - y.min) / 5)
	every := max(1, math.Round(float64(rows)*labelled/(y.max-y.min))) // rows with a number
	step := labelled / every
	first, last := math.Floor(y.min/step), math.Ceil(y.max/step)
	number := func(row float64) string {
		if math.Mod(row, every) != 0 {
			return ""
		}
		return tickLabel(row/every*labelled, exponent)
	}
	left := 0
	for row := first; row <= last; row++ {
		left = max(left, len(number(row)))
	}
	left += 3 // blanks and the axis
	x := f.textTicks(max(leastWidth, opt.Width-left))
	width := max(leastWidth, opt.Width-left-(len(x[len(x)-1].label)+1)/2)

	var lines [][]float64
	var looks []asciigraph.CharSet
	var colours []asciigraph.AnsiColor
	var key []string
	computed := 0
	add := func(points []float64, mark string, colour asciigraph.AnsiColor, label string) {
		look := asciigraph.CreateCharSet(mark)
		look.UpRight, look.DownHorizontal = asciigraph.DefaultCharSet.UpRight, asciigraph.DefaultCharSet.DownHorizontal
		lines, looks, colours = append(lines, points), append(looks, look), append(colours, colour)
		if label != "" {
			key = append(key, mark+" "+strings.ReplaceAll(oneLine(label), "\n", " "))
		}
	}
	// Lines drawn later hide those before: limits first, readings last.
	for _, kind := range []Kind{Limit, Computed, Case, Reading} {
		for _, s := range panel.Series {
			if s.Kind != kind {
				continue
			}
			points := s.sampled(x[0].at, x[len(x)-1].at, width)
			switch kind {
			case Limit:
				add(points, limitMark, asciigraph.Gray, beyond(points, interval{first * step, last * step})+s.Label)
			case Computed:
				mark, colour := marks[computed%len(marks)], textColours[computed%len(textColours)]
				if high := s.peaks(x[0].at, x[len(x)-1].at, points); high != nil {
					add(high, mark, colour, "")
				}
				add(points, mark, colour, s.Label)
				computed++
			case Reading, Case:
				mark := readingMark
				if kind == Case {
					mark = caseMark
				}
				add(points, mark, asciigraph.Default, s.Label)
				looks[len(looks)-1].StartCap, looks[len(looks)-1].EndCap = "(", ")"
			}
		}
	}
	for i, name := range f.Names {
		if f.Panels[0].Y == panel.Y { // names are those of the first
			one := Series{Kind: Case, Points: []Point{name.Point}}
			add(one.sampled(x[0].at, x[len(x)-1].at, width), string(rune('A'+i%26)), asciigraph.Default, name.Text)
			looks[len(looks)-1].StartCap, looks[len(looks)-1].EndCap = "(", ")"
		}
	}
	options := []asciigraph.Option{
		asciigraph.Height(int(last - first)), asciigraph.LowerBound(first * step), asciigraph.UpperBound(last * step),
		asciigraph.YAxisValueFormatter(func(v float64) string { return number(math.Round(v / step)) }),
		asciigraph.XAxisRange(0, float64(len(x)-1)), asciigraph.XAxisTickCount(len(x)),
		asciigraph.XAxisValueFormatter(func(i float64) string { return x[int(math.Round(i))].label }),
		asciigraph.SeriesChars(looks...),
	}
	if opt.Colour {
		options = append(options, asciigraph.SeriesColors(colours...))
	}
	var out strings.Builder
	out.WriteString(panel.Y.Label() + "\n")
	if names := f.boundNames(interval{x[0].at, x[len(x)-1].at}, width); names != "" {
		out.WriteString(strings.Repeat(" ", left) + names + "\n")
	}
	names, spanKey := f.spanLine(interval{x[0].at, x[len(x)-1].at}, width)
	if names != "" {
		out.WriteString(strings.Repeat(" ", left) + names + "\n")
	}
	out.WriteString(asciigraph.PlotMany(lines, options...))
	out.WriteByte('\n')
	name := f.X.Label()
	out.WriteString(strings.Repeat(" ", max(0, left+(width-table.TextWidth(name))/2)) + name + "\n")
	out.WriteString(joined(key, opt.Width))
	return out.String(), spanKey
}

// boundNames is a line with a stroke where a limit of the x axis is, and its name on
// the side with room for it; "" if there are none.
func (f *Figure) boundNames(x interval, width int) string {
	line := []rune(strings.Repeat(" ", width))
	for _, bound := range f.Bounds {
		at := int(math.Round((bound.X - x.min) / (x.max - x.min) * float64(width-1)))
		if at < 0 || at >= width {
			continue
		}
		line[at] = '|'
		name := []rune(oneLine(bound.Label))
		switch {
		case at-1-len(name) >= 0 && strings.TrimSpace(string(line[at-1-len(name):at])) == "":
			copy(line[at-1-len(name):], name)
		case at+2+len(name) <= width:
			copy(line[at+2:], name)
		}
	}
	return strings.TrimRight(string(line), " ")
}

var textColours = []asciigraph.AnsiColor{asciigraph.Blue, asciigraph.Red, asciigraph.Green, asciigraph.Purple,
	asciigraph.Cyan, asciigraph.Maroon}

// beyond takes off what lies outside the y axis, and returns an arrow if that
// leaves nothing.
func beyond(points []float64, y interval) string {
	arrow, inside := "", false
	for i, v := range points {
		switch {
		case v > y.max:
			points[i], arrow = math.NaN(), "↑ "
		case v < y.min:
			points[i], arrow = math.NaN(), "↓ "
		default:
			inside = inside || !math.IsNaN(v)
		}
	}
	if inside {
		return ""
	}
	return arrow
}

// textTicks divides the x axis into equal parts at round numbers; both ends are
// marked.
func (f *Figure) textTicks(width int) []tick {
	r := f.xRange()
	for parts := 8; ; parts-- {
		step, exponent := roundStep((r.max - r.min) / float64(parts))
		from := math.Floor(r.min/step+1e-9) * step
		if f.X.Date {
			step = math.Ceil((r.max-r.min)/units.Day/float64(parts)) * units.Day
			from = math.Floor(r.min/units.Day) * units.Day
		}
		n := int(math.Ceil((r.max-from)/step - 1e-9))
		var list []tick
		longest := 0
		for i := range n + 1 {
			at := from + float64(i)*step
			label := ""
			if f.X.Date {
				label = dateLabel(at)
			} else {
				label = tickLabel(math.Round(at/step)*step, exponent)
			}
			list = append(list, tick{at, label})
			longest = max(longest, len(label))
		}
		if parts == 1 || (longest+2)*(n+1) <= width {
			return list
		}
	}
}

// sampled gives a series one value for each column of a terminal, NaN where it
// has none.
func (s Series) sampled(from, to float64, width int) []float64 {
	columns := make([]float64, width)
	for i := range columns {
		columns[i] = math.NaN()
	}
	toColumn := func(x float64) float64 { return (x - from) / (to - from) * float64(width-1) }
	for _, run := range s.runs() {
		if s.Kind == Reading || s.Kind == Case || len(run) == 1 {
			for _, p := range run { // asciigraph draws what two columns share
				i := max(0, min(width-2, int(math.Round(toColumn(p.X)))))
				columns[i], columns[i+1] = p.Y, p.Y
			}
			continue
		}
		for k := range run[1:] {
			a, b := run[k], run[k+1]
			first, last := int(math.Ceil(toColumn(a.X)-1e-9)), int(math.Floor(toColumn(b.X)+1e-9))
			for i := max(0, first); i <= min(width-1, last); i++ {
				share := 0.0
				if b.X > a.X {
					share = (float64(i) - toColumn(a.X)) / (toColumn(b.X) - toColumn(a.X))
				}
				columns[i] = a.Y + share*(b.Y-a.Y)
			}
		}
	}
	return columns
}

// peaks makes columns, which hold a value of a series each, its least value
// there, and returns the greatest: of samples closer together than columns no
// peak is lost. It returns nil for a series of fewer points.
func (s Series) peaks(from, to float64, columns []float64) []float64 {
	if len(s.Points) <= 2*len(columns) {
		return nil
	}
	high := make([]float64, len(columns))
	copy(high, columns)
	for _, p := range s.Points {
		if i := int(math.Round((p.X - from) / (to - from) * float64(len(columns)-1))); p.drawn() && i >= 0 &&
			i < len(columns) {
			if columns[i] = math.Min(columns[i], p.Y); columns[i] != columns[i] {
				columns[i] = p.Y
			}
			if high[i] = math.Max(high[i], p.Y); high[i] != high[i] {
				high[i] = p.Y
			}
		}
	}
	return high
}

// joined puts words into lines.
func joined(words []string, width int) string {
	var out strings.Builder
	used := 0
	for _, word := range words {
		length := table.TextWidth(word)
		switch {
		case used == 0:
		case used+3+length > width:
			out.WriteByte('\n')
			used = 0
		default:
			out.WriteString("   ")
			used += 3
		}
		out.WriteString(word)
		used += length
	}
	if used > 0 {
		out.WriteByte('\n')
	}
	return out.String()
}
