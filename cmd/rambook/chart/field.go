package chart

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/sheets/table"
	"rambook/units/sorting"
)

// Field is a quantity over a grid: the panel that holds it shows lines along which
// the quantity is the same, and the limits as lines that are hatched on the side
// that is beyond them.
type Field struct {
	Value  Axis        // what the lines are of
	X, Y   []float64   // places of the grid, rising
	Z      [][]float64 // by place along y, then along x; NaN where there is no value
	Fences []Fence
}

// Fence is a limit over the grid of a field.
type Fence struct {
	Label string
	Room  [][]float64 // how far it is to the limit, as Z; below zero beyond it
	At    float64     // the value of the field along it, if that is one number; else NaN
}

// parts is into how many parts the levels of a field divide its values, about.
const parts = 8

// levels are the round numbers that have a line each. The hundredth at each end
// of the values is left out, so that a pole does not take all lines.
func (f *Field) levels() []tick {
	var all []float64
	for _, row := range f.Z {
		for _, z := range row {
			if (Point{Y: z}).drawn() {
				all = append(all, z)
			}
		}
	}
	if len(all) == 0 {
		return nil
	}
	slices.Sort(all)
	low, high := all[len(all)/100], all[len(all)-1-len(all)/100]
	if high-low <= 1e-9*math.Max(math.Abs(low), math.Abs(high)) {
		return nil // it is the same everywhere
	}
	return slices.DeleteFunc(f.Value.ticks(interval{low, high}, parts), func(t tick) bool {
		return slices.ContainsFunc(f.Fences, func(fence Fence) bool { // where a limit runs there is no second line
			return math.Abs(fence.At-t.at) <= 1e-6*(high-low)
		})
	})
}

// contour is the lines along which a grid has a value, by marching squares: in each
// cell of the grid a straight piece goes from side to side, and pieces that share
// a side are joined. In a cell where the value lies between both diagonals the
// mean of the corners decides which corners belong together.
func (f *Field) contour(grid [][]float64, at float64) [][]Point {
	nx := len(f.X)
	across := func(i, j int) int { return 2 * (j*nx + i) } // the side from (i, j) to (i+1, j)
	up := func(i, j int) int { return 2*(j*nx+i) + 1 }     // that to (i, j+1)
	next := map[int][]int{}
	join := func(a, b int) { next[a], next[b] = append(next[a], b), append(next[b], a) }
	for j := range len(f.Y) - 1 {
		for i := range nx - 1 {
			corners := [4]float64{grid[j][i], grid[j][i+1], grid[j+1][i+1], grid[j+1][i]}
			sides := [4]int{across(i, j), up(i+1, j), across(i, j+1), up(i, j)}
			sum, usable := 0.0, true
			var crossed []int
			for k, z := range corners {
				usable = usable && (Point{Y: z}).drawn()
				sum += z
				if (z >= at) != (corners[(k+1)%4] >= at) {
					crossed = append(crossed, sides[k])
				}
			}
			switch {
			case !usable:
			case len(crossed) == 2:
				join(crossed[0], crossed[1])
			case len(crossed) == 4 && (sum/4 >= at) == (corners[0] >= at):
				join(crossed[0], crossed[1])
				join(crossed[2], crossed[3])
			case len(crossed) == 4:
				join(crossed[3], crossed[0])
				join(crossed[1], crossed[2])
			}
		}
	}
	crossing := func(side int) Point {
		i, j := side/2%nx, side/2/nx
		i2, j2 := i+1, j
		if side%2 == 1 {
			i2, j2 = i, j+1
		}
		share := (at - grid[j][i]) / (grid[j2][i2] - grid[j][i])
		return Point{X: f.X[i] + share*(f.X[i2]-f.X[i]), Y: f.Y[j] + share*(f.Y[j2]-f.Y[j])}
	}
	var sides []int
	for side := range next {
		sides = append(sides, side)
	}
	sorting.Stable(sides, func(a, b int) int { // what has an end begins there
		return cmp.Or(cmp.Compare(len(next[a]), len(next[b])), cmp.Compare(a, b))
	})
	var lines [][]Point
	met := map[int]bool{}
	for _, side := range sides {
		if met[side] {
			continue
		}
		var line []Point
		for first, more := side, true; more; {
			met[side] = true
			line, more = append(line, crossing(side)), false
			for _, n := range next[side] {
				if !met[n] {
					side, more = n, true
					break
				}
			}
			if !more && len(line) > 2 && slices.Contains(next[side], first) {
				line = append(line, line[0])
			}
		}
		lines = append(lines, line)
	}
	return lines
}

// at is a grid between its places, NaN beside it.
func (f *Field) at(grid [][]float64, x, y float64) float64 {
	i, u, okX := between(f.X, x)
	j, v, okY := between(f.Y, y)
	if !okX || !okY {
		return math.NaN()
	}
	low := grid[j][i] + u*(grid[j][i+1]-grid[j][i])
	high := grid[j+1][i] + u*(grid[j+1][i+1]-grid[j+1][i])
	return low + v*(high-low)
}

// between finds the place before x, and how far x is on the way to the next.
func between(places []float64, x float64) (i int, share float64, ok bool) {
	n := len(places)
	if n < 2 || !(x >= places[0] && x <= places[n-1]) {
		return 0, 0, false
	}
	i, _ = slices.BinarySearch(places, x)
	i = max(0, min(n-2, i-1))
	return i, (x - places[i]) / (places[i+1] - places[i]), true
}

var (
	contourLine = stroke{palette[0], 1.2, nil}
	fenceLine   = stroke{ink, 1.6, nil}
	hatchLine   = stroke{ink, 0.9, nil}
)

// fieldLine is a line on a canvas with the text that interrupts it.
type fieldLine struct {
	points []spot
	stroke stroke
	label  string
	room   [][]float64 // of a fence
}

// draw draws the lines of the field, each with its label in it where it has room
// beside the points of the panel.
func (f *Field) draw(c canvas, a axes, panel Panel) {
	var lines []fieldLine
	for _, fence := range f.Fences {
		for _, line := range f.contour(fence.Room, 0) {
			lines = append(lines, fieldLine{a.all(line), fenceLine, oneLine(fence.Label), fence.Room})
		}
	}
	for _, level := range f.levels() {
		for _, line := range f.contour(f.Z, level.at) {
			lines = append(lines, fieldLine{a.all(line), contourLine, level.label, nil})
		}
	}
	var boxes, points []box
	for _, s := range panel.Series {
		for _, p := range a.all(s.Points) {
			const around = 2 * 2.6 // of a ring
			points = append(points, box{p.x - around, p.x + around, p.y - around, p.y + around})
		}
	}
	for _, l := range lines {
		b, ok := labelBox(l, a, slices.Concat(points, boxes))
		if !ok {
			continue
		}
		boxes = append(boxes, b)
		c.text(spot{b.left + 3, b.bottom - descent - 1}, regular, l.stroke.colour, l.label)
	}
	for _, l := range lines {
		for _, part := range outside(l.points, boxes) {
			c.line(part, l.stroke)
			if l.room != nil {
				f.hatch(c, a, part, l.room)
			}
		}
	}
}

// box is what a label takes.
type box struct{ left, right, top, bottom float64 }

func (b box) meets(o box) bool {
	return b.left < o.right && o.left < b.right && b.top < o.bottom && o.top < b.bottom
}

func (b box) holds(p spot) bool {
	return p.x > b.left && p.x < b.right && p.y > b.top && p.y < b.bottom
}

// labelBox finds room for the label of a line: in it, as near to its middle as
// other labels and the ends of the axes allow, else beside it.
func labelBox(l fieldLine, a axes, taken []box) (box, bool) {
	const looks = 24
	width, long := regular.width(l.label)+6, extent(l.points)
	if long < 2*lineHeight {
		return box{}, false
	}
	for _, aside := range []float64{0, -width/2 - 2, width/2 + 8} {
		for k := range looks {
			share := 0.5 + float64((k+1)/2)/looks*float64(1-k%2*2)
			p := along(l.points, share*long)
			p.x += aside
			b := box{p.x - width/2, p.x + width/2, p.y - lineHeight/2, p.y + lineHeight/2}
			inside := b.left >= a.x.from && b.right <= a.x.to && b.top >= a.y.to && b.bottom <= a.y.from
			if inside && !slices.ContainsFunc(taken, b.meets) {
				return b, true
			}
		}
	}
	return box{}, false
}

func extent(points []spot) float64 {
	sum := 0.0
	for i := 1; i < len(points); i++ {
		sum += math.Hypot(points[i].x-points[i-1].x, points[i].y-points[i-1].y)
	}
	return sum
}

// along is the place of a line so far from its beginning.
func along(points []spot, far float64) spot {
	for i := 1; i < len(points); i++ {
		p, q := points[i-1], points[i]
		step := math.Hypot(q.x-p.x, q.y-p.y)
		if far <= step && step > 0 {
			return spot{p.x + far/step*(q.x-p.x), p.y + far/step*(q.y-p.y)}
		}
		far -= step
	}
	return points[len(points)-1]
}

// outside is what of a line lies in no box. Near a box it is cut to a point.
func outside(points []spot, boxes []box) [][]spot {
	var parts [][]spot
	var part []spot
	add := func(p spot) {
		if slices.ContainsFunc(boxes, func(b box) bool { return b.holds(p) }) {
			if len(part) > 1 {
				parts = append(parts, part)
			}
			part = nil
			return
		}
		part = append(part, p)
	}
	add(points[0])
	for i := 1; i < len(points); i++ {
		p, q := points[i-1], points[i]
		around := box{min(p.x, q.x) - 1, max(p.x, q.x) + 1, min(p.y, q.y) - 1, max(p.y, q.y) + 1}
		steps := 1.0
		if slices.ContainsFunc(boxes, around.meets) {
			steps = math.Ceil(math.Hypot(q.x-p.x, q.y-p.y)) + 1
		}
		for k := 1.0; k <= steps; k++ {
			add(spot{p.x + k/steps*(q.x-p.x), p.y + k/steps*(q.y-p.y)})
		}
	}
	if len(part) > 1 {
		parts = append(parts, part)
	}
	return parts
}

// hatch draws short strokes from a fence to the side that is beyond it.
func (f *Field) hatch(c canvas, a axes, line []spot, room [][]float64) {
	const every, size = 12, 6
	back := func(p spot) (x, y float64) {
		return a.x.min + (p.x-a.x.from)/(a.x.to-a.x.from)*(a.x.max-a.x.min),
			a.y.min + (p.y-a.y.from)/(a.y.to-a.y.from)*(a.y.max-a.y.min)
	}
	for far := every / 2.0; far < extent(line); far += every {
		p, q := along(line, far), along(line, far+1)
		long := math.Hypot(q.x-p.x, q.y-p.y)
		if long == 0 {
			continue
		}
		side := spot{-(q.y - p.y) / long, (q.x - p.x) / long}
		to := func(sign float64) spot { return spot{p.x + sign*size*side.x, p.y + sign*size*side.y} }
		one, other := to(1), to(-1)
		x, y := back(one)
		x2, y2 := back(other)
		first, second := f.at(room, x, y), f.at(room, x2, y2)
		if !(first < second) && !(first < 0) {
			one, first = other, second
		}
		if math.IsNaN(first) || first > 0 || one.x < a.x.from || one.x > a.x.to || one.y < a.y.to || one.y > a.y.from {
			continue
		}
		c.line([]spot{p, one}, hatchLine)
	}
}

// The marks of a field on a terminal.
const (
	fenceMark  = '#'
	beyondMark = '.'
)

// text draws the field with characters: a letter where a line of its value runs,
// # where a limit does, and dots beyond it.
func (f *Field) text(panel Panel, rows int, x Axis, opt TextOptions) string {
	levels := f.levels()
	yr, xr := panel.yRange(), f.xRange()
	yTicks := panel.Y.ticks(yr, max(2, rows/4))
	left := 0
	for _, t := range yTicks {
		left = max(left, table.TextWidth(t.label))
	}
	width := max(leastWidth, opt.Width-left-3)
	atRow := func(r int) float64 { return yr.max - float64(r)/float64(rows-1)*(yr.max-yr.min) }
	atColumn := func(k int) float64 { return xr.min + float64(k)/float64(width-1)*(xr.max-xr.min) }
	band := func(z float64) int { // how many levels lie at or below; -1 where there is no value
		if math.IsNaN(z) || math.IsInf(z, 0) {
			return -1
		}
		n := 0
		for n < len(levels) && levels[n].at <= z {
			n++
		}
		return n
	}
	bands, beyond := make([][]int, rows), make([][]bool, rows)
	for r := range rows {
		bands[r], beyond[r] = make([]int, width), make([]bool, width)
		for k := range width {
			px, py := min(max(atColumn(k), f.X[0]), f.X[len(f.X)-1]), min(max(atRow(r), f.Y[0]), f.Y[len(f.Y)-1])
			bands[r][k] = band(f.at(f.Z, px, py))
			for _, fence := range f.Fences {
				beyond[r][k] = beyond[r][k] || f.at(fence.Room, px, py) < 0
			}
		}
	}
	var out strings.Builder
	out.WriteString(panel.caption() + "\n")
	for r := range rows {
		label := ""
		for _, t := range yTicks {
			if int(math.Round((yr.max-t.at)/(yr.max-yr.min)*float64(rows-1))) == r {
				label = t.label
			}
		}
		axis := "│"
		if label != "" {
			axis = "┤"
		}
		line := []rune(strings.Repeat(" ", width))
		for k := range width {
			if beyond[r][k] && k%4 == r%2*2 {
				line[k] = beyondMark
			}
			for _, n := range [][2]int{{r, k + 1}, {r + 1, k}} {
				if n[0] >= rows || n[1] >= width {
					continue
				}
				here, there := bands[r][k], bands[n[0]][n[1]]
				if here != there && here >= 0 && there >= 0 && line[k] != fenceMark {
					line[k] = letter(max(here, there) - 1)
				}
				if beyond[r][k] != beyond[n[0]][n[1]] {
					line[k] = fenceMark
				}
			}
		}
		for _, s := range panel.Series {
			for _, p := range s.Points {
				k := int(math.Round((p.X - xr.min) / (xr.max - xr.min) * float64(width-1)))
				if row := int(math.Round((yr.max - p.Y) / (yr.max - yr.min) * float64(rows-1))); row == r && k >= 0 &&
					k < width {
					line[k] = []rune(caseMark)[0]
				}
			}
		}
		fmt.Fprintf(&out, "%*s%s %s%s\n", left-table.TextWidth(label), "", label, axis,
			strings.TrimRight(string(line), " "))
	}
	f.textBelow(&out, left, width, x)
	out.WriteString(joined(f.key(levels), opt.Width))
	return out.String()
}

func letter(n int) rune { return rune('a' + n%26) }

// textBelow draws the x axis with its numbers and its name.
func (f *Field) textBelow(out *strings.Builder, left, width int, x Axis) {
	xr := f.xRange()
	axis, numbers := []rune(strings.Repeat("─", width)), []rune(strings.Repeat(" ", width+8))
	end := -1
	for _, t := range x.ticks(xr, max(2, width/12)) {
		k := int(math.Round((t.at - xr.min) / (xr.max - xr.min) * float64(width-1)))
		label := []rune(t.label)
		from := max(0, k-len(label)/2)
		if from <= end || from+len(label) > width {
			continue
		}
		axis[k] = '┬'
		copy(numbers[from:], label)
		end = from + len(label)
	}
	indent := strings.Repeat(" ", left+1)
	out.WriteString(indent + "└" + string(axis) + "\n" + indent + " " + strings.TrimRight(string(numbers), " ") + "\n")
	name := x.Label()
	out.WriteString(strings.Repeat(" ", max(0, left+2+(width-table.TextWidth(name))/2)) + name + "\n")
}

// key is what the marks on a terminal mean.
func (f *Field) key(levels []tick) []string {
	var key []string
	for n, level := range levels {
		text := level.label
		if f.Value.Unit != "" {
			text += " " + f.Value.Unit
		}
		key = append(key, string(letter(n))+" "+oneLine(text))
	}
	var fences []string
	for _, fence := range f.Fences {
		if len(f.contour(fence.Room, 0)) > 0 {
			fences = append(fences, oneLine(fence.Label))
		}
	}
	if len(fences) > 0 {
		key = append(key, string(fenceMark)+" "+strings.Join(fences, ", "), string(beyondMark)+" beyond a limit")
	}
	return key
}

// drawn reports whether the field has a value anywhere.
func (f *Field) drawn() bool {
	return slices.ContainsFunc(f.Z, func(row []float64) bool {
		return slices.ContainsFunc(row, func(z float64) bool { return (Point{Y: z}).drawn() })
	})
}

func (f *Field) xRange() interval { return interval{f.X[0], f.X[len(f.X)-1]}.widened() }
func (f *Field) yRange() interval { return interval{f.Y[0], f.Y[len(f.Y)-1]}.widened() }

// caption is what stands above a panel.
func (p Panel) caption() string {
	if p.Field == nil {
		return p.Y.Label()
	}
	return p.Y.Label() + "; lines of " + p.Field.Value.Label()
}
