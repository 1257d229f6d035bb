package chart

import (
	"bytes"
	"math"
	"strings"
	"testing"
)

// fieldOf is a field of a function over -1 to 1 both ways.
func fieldOf(n int, z func(x, y float64) float64) *Field {
	f := &Field{Value: Axis{Name: "z", Unit: "kN"}}
	for i := range n {
		at := -1 + 2*float64(i)/float64(n-1)
		f.X, f.Y = append(f.X, at), append(f.Y, at)
	}
	for _, y := range f.Y {
		var row []float64
		for _, x := range f.X {
			row = append(row, z(x, y))
		}
		f.Z = append(f.Z, row)
	}
	return f
}

// TestContour holds lines to what they are in closed form: circles, straight
// lines, the two branches of a hyperbola, and none where a value is nowhere.
func TestContour(t *testing.T) {
	const n = 41
	for _, test := range []struct {
		name   string
		z      func(x, y float64) float64
		at     float64
		lines  int
		closed bool
		off    func(p Point) float64 // 0 on the line
		within float64
	}{
		{"circle", func(x, y float64) float64 { return x*x + y*y }, 0.49, 1, true,
			func(p Point) float64 { return math.Hypot(p.X, p.Y) - 0.7 }, 0.002},
		{"line", func(x, y float64) float64 { return 2*x - y }, 0.3, 1, false,
			func(p Point) float64 { return 2*p.X - p.Y - 0.3 }, 1e-12},
		{"hyperbola", func(x, y float64) float64 { return x * y }, 0.2, 2, false,
			func(p Point) float64 { return p.X*p.Y - 0.2 }, 0.002},
		{"corners of a circle that leaves the grid", func(x, y float64) float64 { return math.Hypot(x, y) }, 1.2, 4,
			false,
			func(p Point) float64 { return math.Hypot(p.X, p.Y) - 1.2 }, 0.002},
		{"ring round a hole", func(x, y float64) float64 {
			if math.Hypot(x, y) < 0.3 {
				return math.NaN()
			}
			return math.Hypot(x, y)
		}, 0.6, 1, true, func(p Point) float64 { return math.Hypot(p.X, p.Y) - 0.6 }, 0.002},
		{"nowhere", func(x, y float64) float64 { return x + y }, 5, 0, false, nil, 0},
		{"flat", func(x, y float64) float64 { return 3 }, 3, 0, false, nil, 0},
	} {
		f := fieldOf(n, test.z)
		lines := f.contour(f.Z, test.at)
		if len(lines) != test.lines {
			t.Errorf("%s: %d lines, expected %d", test.name, len(lines), test.lines)
		}
		for _, line := range lines {
			if closed := line[0] == line[len(line)-1]; closed != test.closed {
				t.Errorf("%s: closed is %v", test.name, closed)
			}
			for _, p := range line {
				if math.Abs(test.off(p)) > test.within {
					t.Errorf("%s: %v is not on the line", test.name, p)
				}
			}
		}
	}
}

// TestFence checks that strokes stand on the side of a limit that is beyond it,
// and that the picture is the same every time.
func TestFence(t *testing.T) {
	f := fieldOf(21, func(x, y float64) float64 { return 100 * (x + 1) })
	room := fieldOf(21, func(x, y float64) float64 { return 130 - 100*(x+1) })
	f.Fences = []Fence{{Label: "high limit 130 kN", Room: room.Z, At: 130}}
	figure := &Figure{Title: "z", X: Axis{Name: "x"}, Panels: []Panel{{Y: Axis{Name: "y"}, Field: f}}}
	c := &strokes{}
	figure.draw(c, false)
	found := 0
	for _, s := range c.hatches {
		if s[1].x <= s[0].x {
			t.Errorf("a stroke goes from %v to %v, to the side that is within the limit", s[0], s[1])
		}
		found++
	}
	if found < 10 {
		t.Errorf("%d strokes", found)
	}
	first, _ := figure.SVG()
	for range 5 {
		if again, _ := figure.SVG(); !bytes.Equal(first, again) {
			t.Fatal("two pictures of one figure differ")
		}
	}
}

// strokes is a canvas that keeps the strokes beside fences.
type strokes struct{ hatches [][]spot }

func (s *strokes) line(points []spot, with stroke) {
	if with.width == hatchLine.width && with.colour == hatchLine.colour {
		s.hatches = append(s.hatches, points)
	}
}
func (*strokes) area([]spot, colour)               {}
func (*strokes) disc(spot, float64, colour)        {}
func (*strokes) ring(spot, float64, stroke)        {}
func (*strokes) text(spot, weight, colour, string) {}

// TestFieldText draws with characters.
func TestFieldText(t *testing.T) {
	f := fieldOf(21, func(x, y float64) float64 { return 100 * (x + y) })
	f.Fences = []Fence{{Label: "high limit 100 kN", At: 100,
		Room: fieldOf(21, func(x, y float64) float64 { return 100 - 100*(x+y) }).Z}}
	figure := &Figure{X: Axis{Name: "x", Unit: "m"}, Panels: []Panel{{Y: Axis{Name: "y", Unit: "m"}, Field: f,
		Series: []Series{{Kind: Case, Points: []Point{{0.5, -0.5, 0}}}}}}}
	got := figure.Text(TextOptions{Width: 50})
	want := `y in m; lines of z in kN
 1 ┤dddd      eeeee       ####  .   fffff   .   .
   │   dddd       eeee       #### .   . ffff  .
   │      ddddd      eeeee      #####   .  fffff.
   │ccc       dddd       eeee       ####  .   .ff
   │  cccc       dddd       eeee       #### .   .
   │     ccccc      ddddd      eeeee      #####
   │bb       cccc       dddd       eeee       ###
 0 ┤ bbbbb      ccccc      ddddd      eeeee
   │     bbbb       cccc       dddd       eeee
   │a       bbbb       cccc       dddd       eeee
   │aaaaa      bbbbb      ccccc      ○dddd
   │    aaaa       bbbb       cccc       dddd
   │       aaaa       bbbb       cccc       dddd
-1 ┤          a          b          c          d
   └┬─────────────────────┬─────────────────────┬
    -1                    0                     1
                       x in m
a -150 kN   b -100 kN   c -50 kN   d 0 kN
e 50 kN   f 150 kN   # high limit 100 kN
. beyond a limit
`
	if got = strings.ReplaceAll(got, " \n", "\n"); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
