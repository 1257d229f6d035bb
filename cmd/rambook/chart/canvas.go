package chart

import (
	"math"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// canvas is what a figure is drawn on. Lengths are points, y grows downwards.
type canvas interface {
	line(points []spot, s stroke)
	area(edge []spot, c colour) // filled as the band of a line of that colour
	disc(centre spot, radius float64, c colour)
	ring(centre spot, radius float64, s stroke)
	text(at spot, w weight, c colour, label string) // at is the left end of its base line
}

// spot is a point of a canvas.
type spot struct{ x, y float64 }

type stroke struct {
	colour colour
	width  float64
	dashes []float64 // lengths of dash and gap in turn, nil for a whole line
}

// weight is how thick a text is written. A second font for the few bold words of
// a figure would be a hundredth of the program, so a picture of dots writes them
// twice, a little apart.
type weight uint8

const (
	regular weight = iota
	bold
)

// The bold letters of a browser are wider than the others by about so much, and
// those of a picture of dots thicker by so many points.
const (
	boldWidth   = 1.08
	boldStretch = 0.45
)

// typeface is parsed when the first figure is drawn, since most runs draw none.
var typeface = sync.OnceValue(func() *opentype.Font {
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		panic(err) // it is a part of the program
	}
	return f
})

// face is the font at so many times its size in a figure. It is not safe for use
// by several goroutines.
func face(scale float64) font.Face {
	f, err := opentype.NewFace(typeface(), &opentype.FaceOptions{Size: fontSize * scale, DPI: 72,
		Hinting: font.HintingNone})
	if err != nil {
		panic(err) // no size is refused
	}
	return f
}

// widthScale makes the widths of texts finer than the 64th of a point that a
// font measures in.
const widthScale = 16

var measuring = sync.OnceValue(func() font.Face { return face(widthScale) })

var measure sync.Mutex

// width is that of a text.
func (w weight) width(label string) float64 {
	measure.Lock()
	defer measure.Unlock()
	size := points(font.MeasureString(measuring(), label)) / widthScale
	if w == bold {
		size *= boldWidth
	}
	return size
}

func points(x fixed.Int26_6) float64 { return float64(x) / 64 }

// fitted cuts a text to a width.
func (w weight) fitted(label string, width float64) string {
	if w.width(label) <= width {
		return label
	}
	runes := []rune(label)
	for len(runes) > 0 && w.width(string(runes)+"…") > width {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimRight(string(runes), " ") + "…"
}

// scale takes the values of an axis to places on a canvas.
type scale struct {
	interval
	from, to float64 // where min and max are
}

func (s scale) at(v float64) float64 { return s.from + (v-s.min)/(s.max-s.min)*(s.to-s.from) }

// near is at, for a value outside of the axis the nearer end of it.
func (s scale) near(v float64) float64 { return s.at(math.Max(s.min, math.Min(s.max, v))) }

func (r interval) holds(v float64) bool { return r.min <= v && v <= r.max }

// within returns what of a line lies between two heights.
func within(line []Point, y interval) [][]Point {
	var parts [][]Point
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		from, to := 0.0, 1.0 // of the way from a to b
		if rise := b.Y - a.Y; rise != 0 {
			enter, leave := (y.min-a.Y)/rise, (y.max-a.Y)/rise
			from, to = math.Max(from, math.Min(enter, leave)), math.Min(to, math.Max(enter, leave))
		} else if !y.holds(a.Y) {
			continue
		}
		if from > to {
			continue
		}
		on := func(t float64) Point { return Point{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)} }
		if last := len(parts) - 1; last >= 0 && from == 0 && i > 1 && y.holds(a.Y) {
			parts[last] = append(parts[last], on(to))
		} else {
			parts = append(parts, []Point{on(from), on(to)})
		}
	}
	return parts
}
