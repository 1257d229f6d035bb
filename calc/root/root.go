// Package root finds the values of x at which two sides are equal. It has
// nothing of models: it sees a function that computes both sides for a block
// of x. Because a block costs little more than a single x, every step looks at
// a hundred points at once: a grid over the whole range first, then a finer
// one wherever the sides cross or come close, again and again, down to
// neighbouring floating-point numbers.
//
// A crossing counts as a root only if the sides meet there. Where they jump
// past each other, or run to infinity, the difference does not shrink with the
// bracket, and that is what parts the two.
package root

import (
	"cmp"
	"math"
	"slices"

	"rambook/calc/tape"
	"rambook/units/sorting"
)

const (
	gridCells  = 4096 // of the first grid, evenly spaced
	finerCells = 128  // of every further one
	epsilon    = 0x1p-52
)

// Point is both sides at one x.
type Point struct{ X, Left, Right float64 }

func (p Point) difference() float64 { return p.Left - p.Right }
func (p Point) gap() float64        { return math.Abs(p.Left - p.Right) }

// Usable reports whether both sides are finite numbers there.
func (p Point) Usable() bool { return tape.Usable(p.Left - p.Right) }

// rounding is what the rounding of the two sides alone can make of a
// difference that is none.
func (p Point) rounding() float64 {
	return 8 * epsilon * math.Max(math.Abs(p.Left), math.Abs(p.Right))
}

// level reports whether both sides are numbers that are equal but for rounding.
func (p Point) level() bool { return p.Usable() && p.gap() <= p.rounding() }

// opposite reports whether the sides change places between two points.
func opposite(a, b Point) bool {
	return math.Signbit(a.difference()) != math.Signbit(b.difference()) && a.gap() > 0 && b.gap() > 0
}

// Root is an x where the sides are equal, or a whole interval of them.
type Root struct {
	From, To float64
	Touch    bool // the sides are known to meet there and not to cross
}

// Result is what a search has found.
type Result struct {
	Roots []Root
	Jumps []float64 // where the sides change places without meeting
	Best  Point     // the smallest difference seen; its gap is NaN if none was
}

// Find searches from lo to hi. both computes the two sides at every x.
func Find(lo, hi float64, both func(x, left, right []float64)) Result {
	s := &search{both: both, lo: lo, hi: hi, Result: Result{Best: Point{math.NaN(), math.NaN(), math.NaN()}}}
	s.look(s.points(grid(lo, hi)), 0)
	s.tidy()
	return s.Result
}

// search looks for roots and notes what it finds.
type search struct {
	both   func(x, left, right []float64)
	lo, hi float64 // the range
	Result
}

// grid is evenly spaced, and over more than a decade also by equal factors.
func grid(lo, hi float64) []float64 {
	x := spaced(lo, hi, gridCells)
	if ratio := hi / lo; lo != 0 && (ratio > 10 || ratio > 0 && ratio < 0.1) {
		for i := 1; i < gridCells; i++ {
			x = append(x, lo*math.Pow(ratio, float64(i)/gridCells))
		}
		slices.Sort(x)
		x = slices.Compact(x)
	}
	return x
}

// spaced returns lo, hi and up to cells-1 numbers between them, each once.
func spaced(lo, hi float64, cells int) []float64 {
	x := make([]float64, 0, cells+1)
	x = append(x, lo)
	for i := 1; i < cells; i++ {
		part := float64(i) / float64(cells)
		if v := lo*(1-part) + hi*part; v > x[len(x)-1] && v < hi {
			x = append(x, v)
		}
	}
	return append(x, hi)
}

// points computes both sides at every x.
func (s *search) points(x []float64) []Point {
	left, right := make([]float64, len(x)), make([]float64, len(x))
	s.both(x, left, right)
	list := make([]Point, len(x))
	for i := range x {
		list[i] = Point{x[i], left[i], right[i]}
		if inside := x[i] >= s.lo && x[i] <= s.hi; inside && list[i].Usable() && !(list[i].gap() >= s.Best.gap()) {
			s.Best = list[i]
		}
	}
	return list
}

// between computes a finer grid from a to b.
func (s *search) between(a, b Point) []Point {
	return s.points(spaced(a.X, b.X, finerCells))
}

func adjacent(a, b Point) bool { return b.X <= math.Nextafter(a.X, math.Inf(1)) }

// look finds the roots among points. What is not a number splits them into
// stretches, each of which reaches to the very edge of what can be computed.
func (s *search) look(points []Point, depth int) {
	var stretch []Point
	flush := func() {
		s.stretch(stretch, depth)
		stretch = nil
	}
	for i, p := range points {
		switch {
		case !p.Usable():
			if i > 0 && points[i-1].Usable() {
				if edge := s.last(points[i-1], p, Point.Usable); edge.X > points[i-1].X {
					stretch = append(stretch, edge)
				}
			}
			flush()
			continue
		case i > 0 && !points[i-1].Usable():
			if edge := s.last(p, points[i-1], Point.Usable); edge.X < p.X {
				stretch = append(stretch, edge)
			}
		}
		stretch = append(stretch, p)
	}
	flush()
}

// last finds, on the way from in to out, the last point at which a condition
// holds, as it does at in and does not at out.
func (s *search) last(in, out Point, holds func(Point) bool) Point {
	for {
		a, b := in, out
		if a.X > b.X {
			a, b = b, a
		}
		if adjacent(a, b) {
			return in
		}
		points := s.between(a, b)
		if in.X > out.X {
			slices.Reverse(points)
		}
		i := slices.IndexFunc(points, func(p Point) bool { return !holds(p) })
		in, out = points[i-1], points[i]
	}
}

// stretch finds the roots among neighbouring points that are all numbers.
func (s *search) stretch(p []Point, depth int) {
	for i := 0; i < len(p); i++ {
		switch {
		case p[i].level():
			i = s.levels(p, i, depth)
		case i+1 < len(p) && opposite(p[i], p[i+1]) && !p[i+1].level():
			s.crossing(p[i], p[i+1], depth)
		}
		if depth < 2 && isDip(p, i) {
			s.dip(p[max(i-1, 0)], p[min(i+1, len(p)-1)], depth)
		}
	}
}

// isDip reports whether the sides come closer to each other at point i than at
// the points beside it, without crossing.
func isDip(p []Point, i int) bool {
	if p[i].level() {
		return false
	}
	farther := false
	for _, j := range [2]int{i - 1, i + 1} {
		if j < 0 || j >= len(p) {
			continue
		}
		if p[j].level() || opposite(p[i], p[j]) || p[j].gap() < p[i].gap() {
			return false
		}
		farther = farther || p[j].gap() > p[i].gap()
	}
	return farther
}

// levels takes the points from i on that are level as a root, and returns the
// last of them. Two or more are an interval, whose ends are found. A single one
// may be part of more, so the first grid is refined around it.
func (s *search) levels(p []Point, i, depth int) int {
	last := i
	for last+1 < len(p) && p[last+1].level() {
		last++
	}
	before := len(s.Roots)
	switch inner := i > 0 && last+1 < len(p); {
	case i < last || len(p) == 1:
	case depth == 0:
		s.look(s.between(p[max(i-1, 0)], p[min(i+1, len(p)-1)]), 1)
	case inner && opposite(p[i-1], p[i+1]):
		s.crossing(p[i-1], p[i+1], depth)
	}
	if len(s.Roots) > before {
		return last
	}
	r := Root{From: p[i].X, To: p[last].X, Touch: true}
	if i > 0 && last+1 < len(p) {
		r.Touch = !opposite(p[i-1], p[last+1])
	}
	if i > 0 {
		r.From = s.last(p[i], p[i-1], Point.level).X
	}
	if last+1 < len(p) {
		r.To = s.last(p[last], p[last+1], Point.level).X
	}
	s.Roots = append(s.Roots, r)
	return last
}

// crossing narrows a bracket in which the sides change places, down to a root
// or a jump. At depth 0 it looks at a finer grid first, for there may be more
// than one.
func (s *search) crossing(a, b Point, depth int) {
	start := math.Max(a.gap(), b.gap())
	var rises []float64 // how far the difference goes across the bracket, at each step
	smooth := 0.0       // the largest rise from point to point outside the bracket, at the last step
	for !adjacent(a, b) {
		p := s.between(a, b)
		if depth == 0 || slices.ContainsFunc(p, func(p Point) bool { return !p.Usable() }) {
			if depth < 3 {
				s.look(p, depth+1)
			}
			return
		}
		if i := slices.IndexFunc(p, func(p Point) bool { return p.gap() == 0 }); i >= 0 {
			last := i
			for p[last+1].gap() == 0 {
				last++
			}
			s.Roots = append(s.Roots, Root{From: p[(i+last)/2].X, To: p[(i+last)/2].X})
			return
		}
		at := 0
		for !opposite(p[at], p[at+1]) {
			at++
		}
		a, b = p[at], p[at+1]
		rises = append(rises, a.gap()+b.gap())
		smooth = 0
		for i := range p[1:] {
			if i != at {
				smooth = math.Max(smooth, math.Abs(p[i+1].difference()-p[i].difference()))
			}
		}
	}
	closer := a
	if b.gap() < a.gap() {
		closer = b
	}
	rise := a.gap() + b.gap()
	earlier := rise
	if n := len(rises); n > 0 {
		earlier = rises[max(0, n-4)]
	}
	switch {
	case !closer.level() && rise > 2*start: // they run to infinity
	case closer.level(),
		rise <= earlier/10, // it shrinks with the bracket, which it does not at a jump
		rise <= 4*smooth:   // no larger than the steps beside it: rounding
		s.Roots = append(s.Roots, Root{From: closer.X, To: closer.X})
	default:
		s.Jumps = append(s.Jumps, closer.X)
	}
}

// dip looks for the point between a and b where the sides come closest, and
// takes it for a root if they touch there, which can be known only to within
// rounding. If they cross after all, there are two roots.
func (s *search) dip(a, b Point, depth int) {
	if depth == 0 {
		s.look(s.between(a, b), 1)
		return
	}
	var lowest Point
	for width := math.Inf(1); ; {
		p := s.between(a, b)
		for i := range p[1:] {
			if !p[i].Usable() || !p[i+1].Usable() {
				return // the edge has been looked at
			}
			if opposite(p[i], p[i+1]) {
				s.look(p, depth+1)
				return
			}
		}
		first := 0
		for i := range p {
			if p[i].gap() < p[first].gap() {
				first = i
			}
		}
		last := first
		for last+1 < len(p) && p[last+1].gap() == p[first].gap() {
			last++
		}
		lowest = p[(first+last)/2]
		a, b = p[max(first-1, 0)], p[min(last+1, len(p)-1)]
		if b.X-a.X > width/2 || adjacent(a, b) {
			break
		}
		width = b.X - a.X
	}
	if lowest.level() || lowest.gap() <= 4*s.noise(lowest.X) {
		s.Roots = append(s.Roots, Root{From: lowest.X, To: lowest.X, Touch: true})
	}
}

// noise is how much rounding makes the difference scatter around x. It is
// the larger of two estimates: how far the difference goes from one of many
// close points to the next, but for the largest few steps, of which one may be
// a jump; and the smallest step that it makes at all when x moves by up to
// 1e-8, for where the sides touch all close points may round alike.
func (s *search) noise(x float64) float64 {
	const reach, stride, doublings = 32, 997, 27
	step := spacing(x)
	var list []float64
	for i := -reach; i <= reach; i++ {
		list = append(list, x+float64(i)*stride*step)
	}
	for k := range doublings {
		list = append(list, x+math.Ldexp(step, k), x-math.Ldexp(step, k))
	}
	p := s.points(list)
	near, centre := p[:2*reach+1], p[reach]
	var scatter []float64
	for i := range near[1:] {
		if d := math.Abs(near[i+1].difference() - near[i].difference()); tape.Usable(d) {
			scatter = append(scatter, d)
		}
	}
	if len(scatter) == 0 {
		return 0
	}
	slices.Sort(scatter)
	least := math.Inf(1)
	for _, q := range p[2*reach+1:] {
		if d := math.Abs(q.difference() - centre.difference()); d > 0 {
			least = math.Min(least, d)
		}
	}
	if math.IsInf(least, 1) {
		least = 0
	}
	return math.Max(scatter[len(scatter)*9/10], least)
}

// spacing is the distance from x to the next larger floating-point number.
func spacing(x float64) float64 {
	return math.Nextafter(math.Abs(x), math.Inf(1)) - math.Abs(x)
}

// sameRoot is the relative width below which an interval of roots is one root:
// where the sides touch, rounding makes them equal over about that width.
const sameRoot = 1e-6

// tidy sorts the roots, joins those that rounding tore apart, and settles for
// each whether the sides cross there or only touch.
func (s *search) tidy() {
	sorting.Stable(s.Roots, func(a, b Root) int { return cmp.Compare(a.From, b.From) })
	var kept []Root
	var joined []bool
	reach := math.Inf(-1) // up to here rounding hides the difference behind the last one kept
	for _, r := range s.Roots {
		if n := len(kept) - 1; n >= 0 && r.From <= reach {
			kept[n].To, joined[n] = math.Max(kept[n].To, r.To), true
		} else {
			kept, joined = append(kept, r), append(joined, false)
		}
		end, _ := s.clear(r.To, 1, s.hi)
		reach = math.Max(reach, end.X)
	}
	for i := range kept {
		r := &kept[i]
		size := math.Max(math.Abs(r.From), math.Abs(r.To))
		if s.lo <= 0 && s.hi >= 0 { // a root near 0 is small by chance
			size = s.hi - s.lo
		}
		if r.To-r.From > sameRoot*size {
			continue
		}
		// At an end of the range only a look beyond it decides.
		beyond := (s.hi - s.lo) / gridCells
		below, clearBelow := s.clear(r.From, -1, s.lo-beyond)
		above, clearAbove := s.clear(r.To, 1, s.hi+beyond)
		middle := r.From + (r.To-r.From)/2
		if r.Touch = clearBelow && clearAbove && !opposite(below, above); r.Touch || clearBelow && clearAbove &&
			joined[i] {
			middle = math.Max(s.lo, math.Min(s.hi, below.X+(above.X-below.X)/2))
		}
		r.From, r.To = middle, middle
	}
	s.Roots = kept
	slices.Sort(s.Jumps)
	s.Jumps = slices.Compact(s.Jumps)
}

// clear goes from a root in one direction to where rounding hides the
// difference no longer. It is false where that is not before an end, or where
// what can be computed ends.
func (s *search) clear(x, direction, end float64) (Point, bool) {
	at := func(x float64) Point { return s.points([]float64{x})[0] }
	in := at(x)
	hidden := 4 * math.Max(in.rounding(), 2*s.noise(x))
	step := spacing(x)
	for {
		out := at(x + direction*math.Min(step, math.Abs(end-x)))
		switch {
		case !out.Usable() || out.X == in.X:
			return in, false
		case out.gap() > hidden:
			a, b := in, out
			if direction < 0 {
				a, b = b, a
			}
			p := s.between(a, b)
			if direction < 0 {
				slices.Reverse(p)
			}
			return p[slices.IndexFunc(p, func(p Point) bool { return p.gap() > hidden })], true
		}
		in, step = out, 2*step
	}
}
