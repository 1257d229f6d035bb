package chart

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"slices"

	"golang.org/x/image/font"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// PNG draws the figure as a picture of dots, on white.
func (f *Figure) PNG() ([]byte, error) {
	const dotsPerInch = 192
	width, height := f.size(true)
	c := &dots{scale: dotsPerInch / 72.0, face: face(dotsPerInch / 72.0)}
	c.picture = image.NewRGBA(image.Rect(0, 0, int(math.Ceil(width*c.scale)), int(math.Ceil(height*c.scale))))
	draw.Draw(c.picture, c.picture.Bounds(), image.White, image.Point{}, draw.Src)
	f.draw(c, true)
	var out bytes.Buffer
	if err := png.Encode(&out, c.picture); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// dots is a canvas of pixels.
type dots struct {
	picture *image.RGBA
	scale   float64 // pixels in a point
	face    font.Face
	shape   vector.Rasterizer
}

// outline is a closed curve of straight lines. What several of them cover that
// go round the same way is filled once, and one that goes round the other way
// is a hole.
type outline []spot

// fill paints outlines, whose rasteriser is only as large as they are.
func (c *dots) fill(with color.Color, outlines ...outline) {
	x, y := nothing(), nothing()
	for _, o := range outlines {
		for i := range o {
			x.add(o[i].x * c.scale)
			y.add(o[i].y * c.scale)
		}
	}
	if x.min > x.max {
		return
	}
	box := image.Rect(int(math.Floor(x.min)), int(math.Floor(y.min)), int(math.Ceil(x.max))+1, int(math.Ceil(y.max))+1)
	at := func(p spot) (float32, float32) {
		return float32(p.x*c.scale - float64(box.Min.X)), float32(p.y*c.scale - float64(box.Min.Y))
	}
	c.shape.Reset(box.Dx(), box.Dy())
	for _, o := range outlines {
		c.shape.MoveTo(at(o[0]))
		for _, p := range o[1:] {
			c.shape.LineTo(at(p))
		}
		c.shape.ClosePath()
	}
	c.shape.Draw(c.picture, box, image.NewUniform(with), image.Point{})
}

// circle goes round in so many steps that no corner can be seen.
func circle(centre spot, radius float64, back bool) outline {
	const steps = 32
	o := make(outline, steps)
	for i := range o {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / steps)
		if back {
			sin = -sin
		}
		o[i] = spot{centre.x + radius*cos, centre.y + radius*sin}
	}
	return o
}

func (c *dots) line(points []spot, s stroke) {
	for _, dash := range dashed(points, s.dashes) {
		c.fill(s.colour.onWhite, stroked(dash, s.width/2)...)
	}
}

// stroked gives the outlines of a line that is drawn with a pen of that half
// width. Where the line bends its edges are drawn to where they meet, and round
// a sharp bend it is rounded.
func stroked(points []spot, half float64) []outline {
	const sharp = -0.5 // cosine of the bend, 120°
	points = slices.CompactFunc(slices.Clone(points),
		func(a, b spot) bool { return math.Hypot(b.x-a.x, b.y-a.y) < 1e-6 })
	var outlines []outline
	var there, back outline
	normal := func(i int) spot { // of the stretch behind point i, as long as the half width
		a, b := points[i], points[i+1]
		size := math.Hypot(b.x-a.x, b.y-a.y)
		return spot{(b.y - a.y) / size * half, -(b.x - a.x) / size * half}
	}
	add := func(p, by spot) {
		there, back = append(there, spot{p.x + by.x, p.y + by.y}), append(back, spot{p.x - by.x, p.y - by.y})
	}
	end := func() {
		slices.Reverse(back)
		outlines = append(outlines, append(there, back...))
		there, back = nil, nil
	}
	for i := 1; i < len(points); i++ {
		before := normal(i - 1)
		if there == nil {
			add(points[i-1], before)
		}
		if i == len(points)-1 {
			add(points[i], before)
			end()
			break
		}
		after := normal(i)
		bend := (before.x*after.x + before.y*after.y) / (half * half)
		if bend < sharp {
			add(points[i], before)
			end()
			outlines = append(outlines, circle(points[i], half, false))
			continue
		}
		add(points[i], spot{(before.x + after.x) / (1 + bend), (before.y + after.y) / (1 + bend)})
	}
	return outlines
}

// dashed cuts a line into its dashes.
func dashed(points []spot, dashes []float64) [][]spot {
	if len(dashes) == 0 || len(points) < 2 {
		return [][]spot{points}
	}
	var list [][]spot
	turn, left := 0, dashes[0]
	dash := points[:1:1]
	for i := 1; i < len(points); i++ {
		a, b := points[i-1], points[i]
		size := math.Hypot(b.x-a.x, b.y-a.y)
		done := 0.0
		for size-done > left {
			done += left
			p := spot{a.x + (b.x-a.x)*done/size, a.y + (b.y-a.y)*done/size}
			if turn%2 == 0 {
				list = append(list, append(dash, p))
			}
			dash = []spot{p}
			turn++
			left = dashes[turn%len(dashes)]
		}
		left -= size - done
		dash = append(dash, b)
	}
	if turn%2 == 0 {
		list = append(list, dash)
	}
	return list
}

func (c *dots) area(edge []spot, of colour) { c.fill(of.translucent(), edge) }

func (c *dots) disc(centre spot, radius float64, of colour) {
	c.fill(of.onWhite, circle(centre, radius, false))
}

func (c *dots) ring(centre spot, radius float64, s stroke) {
	c.fill(s.colour.onWhite, circle(centre, radius+s.width/2, false), circle(centre, radius-s.width/2, true))
}

func (c *dots) text(at spot, w weight, of colour, label string) {
	write := func(x float64) {
		drawer := font.Drawer{
			Dst: c.picture, Src: image.NewUniform(of.onWhite), Face: c.face,
			Dot: fixed.Point26_6{X: fixed.Int26_6(x * c.scale * 64), Y: fixed.Int26_6(at.y * c.scale * 64)},
		}
		drawer.DrawString(label)
	}
	write(at.x)
	if w == bold {
		write(at.x + boldStretch)
	}
}
