// Package chart draws figures of what a notebook computes, as SVG, as PNG, and
// with characters on a terminal.
//
// A [Figure] is plain data. It holds every number that is drawn, so that what a
// picture shows can be compared with a table, and it has no units:
// the caller gives numbers in the unit that it names beside the axis.
package chart

import (
	"math"

	"rambook/sheets/table"
)

// Figure is one picture: panels one above the other over the same x axis.
type Figure struct {
	Title     string
	About     string // what the figure shows, for those who cannot see it
	X         Axis
	Here      *Mark    // where the notebook stands, nil if it stands nowhere
	Spans     []Span   // stretches of the x axis, such as the phases of a cycle
	SpansTold bool     // their names stand elsewhere, in their order
	Bounds    []Mark   // limits of what the x axis measures
	Notes     []string // sentences below the panels, such as the cautions
	Panels    []Panel
	Names     []Name // of points of the first panel
}

// Name is a word beside a point.
type Name struct {
	Point
	Text string
}

// Axis names what is measured along it.
type Axis struct {
	Name  string
	Unit  string // "" for a plain number and a date
	Date  bool   // values are seconds since 1970-01-01 UTC
	Whole bool   // values are numbers of things, with nothing between them
}

// Label is the text beside the axis.
func (a Axis) Label() string {
	if a.Unit == "" {
		return oneLine(a.Name)
	}
	return oneLine(a.Name + " in " + a.Unit)
}

// Mark is a place on the x axis.
type Mark struct {
	X     float64
	Label string
}

// Span is a stretch of the x axis.
type Span struct {
	From, To float64
	Label    string
}

// Panel is one pair of axes. All its series share the y axis.
type Panel struct {
	Y      Axis
	Series []Series
	Field  *Field // what is drawn behind the series; nil for none
}

// Kind is what a series means, and so how it is drawn.
type Kind uint8

const (
	Computed Kind = iota // a line, its spread a band around it
	Limit                // a dashed line
	Reading              // single points, their spread as error bars
	Case                 // the same for computed values, hollow
)

// Series is one set of points. A point whose Y is NaN is a gap.
type Series struct {
	Kind   Kind
	Label  string // a line break in it is kept
	Points []Point
	Filled bool // of a computed line: down to zero, as the steps of a histogram are
}

// Point is a place in a panel. Spread is a half-width along y; NaN and 0 are
// none.
type Point struct{ X, Y, Spread float64 }

func (p Point) low() float64  { return p.Y - p.halfWidth() }
func (p Point) high() float64 { return p.Y + p.halfWidth() }

func (p Point) halfWidth() float64 {
	if p.Spread > 0 {
		return p.Spread
	}
	return 0
}

func (p Point) drawn() bool {
	return !math.IsNaN(p.X) && !math.IsInf(p.X, 0) && !math.IsNaN(p.Y) && !math.IsInf(p.Y, 0)
}

// Empty reports whether there is nothing to draw.
func (f *Figure) Empty() bool {
	for _, panel := range f.Panels {
		if panel.Field != nil && panel.Field.drawn() {
			return false
		}
		for _, s := range panel.Series {
			if s.Kind != Limit && s.end() >= 0 {
				return false
			}
		}
	}
	return true
}

// end is the index of the last point that is drawn, -1 if none is.
func (s Series) end() int {
	for i := len(s.Points) - 1; i >= 0; i-- {
		if s.Points[i].drawn() {
			return i
		}
	}
	return -1
}

// runs divides a series at its gaps.
func (s Series) runs() [][]Point {
	var runs [][]Point
	from := 0
	for i := 0; i <= len(s.Points); i++ {
		if i < len(s.Points) && s.Points[i].drawn() {
			continue
		}
		if i > from {
			runs = append(runs, s.Points[from:i])
		}
		from = i + 1
	}
	return runs
}

// interval is a range of numbers.
type interval struct{ min, max float64 }

func nothing() interval { return interval{math.Inf(1), math.Inf(-1)} }

func (r *interval) add(x float64) { r.min, r.max = math.Min(r.min, x), math.Max(r.max, x) }

// widened has a width above 0, so that a scale can be made from any interval.
func (r interval) widened() interval {
	if r.min > r.max {
		return interval{0, 1}
	}
	if size := math.Max(math.Abs(r.min), math.Abs(r.max)); r.max-r.min <= size*1e-9 {
		if size == 0 {
			size = 1
		}
		return interval{r.min - size/20, r.max + size/20}
	}
	return r
}

// xRange is what the x axis covers.
func (f *Figure) xRange() interval {
	r := nothing()
	for _, panel := range f.Panels {
		if panel.Field != nil {
			return panel.Field.xRange()
		}
		for _, s := range panel.Series {
			for _, p := range s.Points {
				if p.drawn() {
					r.add(p.X)
				}
			}
		}
	}
	r = r.widened()
	switch {
	case f.X.Whole: // each number has as much room as the next
		return interval{math.Floor(r.min+0.5) - 0.5, math.Ceil(r.max-0.5) + 0.5}
	case len(f.Names) > 0: // no point lies on an axis, and its name has room
		margin := (r.max - r.min) / 20
		return interval{r.min - margin, r.max + margin}
	}
	return r
}

// farLimit is how many times as high as the data a panel may become for the
// sake of its limits. A limit beyond that is marked at the edge.
const farLimit = 6

// yRange is what the y axis of a panel covers.
func (p Panel) yRange() interval {
	if p.Field != nil {
		return p.Field.yRange()
	}
	data := nothing()
	for _, s := range p.Series {
		for _, point := range s.Points {
			if s.Kind != Limit && point.drawn() {
				data.add(point.low())
				data.add(point.high())
			}
		}
	}
	data = data.widened()
	all := data
	for _, s := range p.Series {
		if s.Kind != Limit {
			continue
		}
		with := all
		for _, point := range s.Points {
			if point.drawn() {
				with.add(point.Y)
			}
		}
		if with.max-with.min <= farLimit*(data.max-data.min) {
			all = with
		}
	}
	margin := (all.max - all.min) / 20
	return interval{all.min - margin, all.max + margin}
}

// oneLine makes a text harmless and puts it into one line.
func oneLine(text string) string {
	visible := []rune(table.Visible(text))
	for i, r := range visible {
		if r == '\n' || r == '\t' {
			visible[i] = ' '
		}
	}
	return string(visible)
}
