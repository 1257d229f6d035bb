package chart

import "math"

// common is the area that two boxes share.
func (b box) common(other box) float64 {
	width := min(b.right, other.right) - max(b.left, other.left)
	height := min(b.bottom, other.bottom) - max(b.top, other.top)
	return max(0, width) * max(0, height)
}

// drawNames writes the names of points beside them. One that stands further off has
// a line to its point.
func (f *Figure) drawNames(c canvas, a axes) {
	for i, room := range f.placeNames(a) {
		at := a.at(f.Names[i].Point)
		if room.top > at.y+wordHeight/2 || room.bottom < at.y-wordHeight/2 {
			c.line([]spot{at, {max(room.left, min(room.right, at.x)), max(room.top, min(room.bottom, at.y))}}, whisker)
		}
		c.text(spot{room.left, room.bottom - descent}, regular, ink, oneLine(f.Names[i].Text))
	}
}

// placeNames finds room for each name where it covers least of the points, their
// error bars, the lines and the names before it, and stays between the axes.
func (f *Figure) placeNames(a axes) []box {
	if len(f.Names) == 0 {
		return nil
	}
	taken := f.taken(a)
	var rooms []box
	for _, name := range f.Names {
		width := regular.width(oneLine(name.Text))
		best, least := box{}, math.Inf(1)
		for _, place := range places(a.at(name.Point), width) {
			covered := 0.0
			for _, other := range taken {
				covered += place.common(other)
			}
			const beyond = 3 // times as bad as to cover something
			covered += beyond * (width*wordHeight - place.common(box{a.x.from, a.x.to, a.y.to, a.y.from}))
			if covered < least {
				best, least = place, covered
			}
		}
		taken, rooms = append(taken, best), append(rooms, best)
	}
	return rooms
}

const wordHeight = ascent + descent

// places are where a name may stand beside its point, the usual ones first.
func places(at spot, width float64) []box {
	const aside, up = 7, 4
	from := func(left, top float64) box { return box{left, left + width, top, top + wordHeight} }
	var list []box
	for _, further := range []float64{0, wordHeight, 2 * wordHeight} {
		above, below := at.y-up-wordHeight-further, at.y+up+further
		list = append(list, from(at.x+aside, above), from(at.x-aside-width, above), from(at.x+aside, below),
			from(at.x-aside-width, below))
	}
	return list
}

// taken are the places of the first panel that names should leave free.
func (f *Figure) taken(a axes) []box {
	const step = 8
	room := markRadius + 1.0
	around := func(at spot) box { return box{at.x - room, at.x + room, at.y - room, at.y + room} }
	var list []box
	for _, s := range f.Panels[0].Series {
		for _, run := range s.runs() {
			for i, p := range run {
				switch s.Kind {
				case Reading, Case:
					x := a.x.at(p.X)
					list = append(list, around(a.at(p)), box{x - room, x + room, a.y.at(p.high()), a.y.at(p.low())})
				case Computed, Limit:
					if i == 0 {
						continue
					}
					from, to := a.at(run[i-1]), a.at(p)
					for n, k := int(math.Hypot(to.x-from.x, to.y-from.y)/step)+1, 0; k <= n; k++ {
						part := float64(k) / float64(n)
						list = append(list, around(spot{from.x + part*(to.x-from.x), from.y + part*(to.y-from.y)}))
					}
				}
			}
		}
	}
	return list
}
