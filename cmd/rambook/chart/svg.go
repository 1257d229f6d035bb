package chart

import (
	"bytes"
	"fmt"
	"html"
	"math"
	"strconv"
)

// SVG draws the figure as a file of its own, on white.
func (f *Figure) SVG() ([]byte, error) {
	width, height := f.size(true)
	c := &svg{}
	fmt.Fprintf(c, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"+
		`<svg xmlns="http://www.w3.org/2000/svg" width="%[1]gpt" height="%[2]gpt" `+
		`viewBox="0 0 %[1]g %[2]g" role="img">`+"\n"+
		"<title>%[3]s</title>\n<desc>%[4]s</desc>\n<rect width=\"100%%\" height=\"100%%\" fill=\"#FFFFFF\"/>\n",
		width, height, html.EscapeString(oneLine(f.Title)), html.EscapeString(oneLine(f.About)))
	return c.drawn(f, true), nil
}

// InlineSVG draws the figure as an element of a page, which names what it
// shows to those who cannot see it. It has no title of its own and no
// background, and its colours are custom properties of the page, those named in
// the table of colours. id is the stem of its elements' ids.
func (f *Figure) InlineSVG(id string) ([]byte, error) {
	width, height := f.size(false)
	c := &svg{inline: true}
	fmt.Fprintf(c, `<svg viewBox="0 0 %[1]g %[2]g" role="img" aria-labelledby="%[3]s-title %[3]s-about">`+"\n"+
		"<title id=\"%[3]s-title\">%[4]s</title>\n<desc id=\"%[3]s-about\">%[5]s</desc>\n",
		width, height, id, html.EscapeString(oneLine(f.Title)), html.EscapeString(oneLine(f.About)))
	return c.drawn(f, false), nil
}

// svg is a canvas that writes elements.
type svg struct {
	bytes.Buffer
	inline bool // colours are custom properties
}

// The widths of these fonts are the same, and within a few hundredths those of the
// font that texts are measured in.
const families = "Liberation Sans,Arimo,Arial,Helvetica,sans-serif"

func (c *svg) drawn(f *Figure, titled bool) []byte {
	fmt.Fprintf(c, "<g style=\"font-family:%s;font-size:%dpx\">\n", families, fontSize)
	f.draw(c, titled)
	c.WriteString("</g>\n</svg>\n")
	return c.Bytes()
}

func (c *svg) colour(of colour) string {
	if c.inline {
		return "var(--" + of.property + ")"
	}
	return of.hex()
}

// length writes a length to a hundredth of a point, which cannot be seen.
func length(x float64) string {
	return strconv.FormatFloat(math.Round(x*100)/100+0, 'f', -1, 64)
}

func path(points []spot) string {
	d := []byte{'M'}
	for i, p := range points {
		if i > 0 {
			d = append(d, 'L')
		}
		d = append(append(append(d, length(p.x)...), ','), length(p.y)...)
	}
	return string(d)
}

func (c *svg) stroke(s stroke) string {
	style := "fill:none;stroke:" + c.colour(s.colour) + ";stroke-width:" + length(s.width)
	for i, dash := range s.dashes {
		style += map[bool]string{true: ";stroke-dasharray:", false: ","}[i == 0] + length(dash)
	}
	return style
}

func (c *svg) line(points []spot, s stroke) {
	fmt.Fprintf(c, "<path d=\"%s\" style=\"%s;stroke-linejoin:round\"/>\n", path(points), c.stroke(s))
}

func (c *svg) area(edge []spot, of colour) {
	fmt.Fprintf(c, "<path d=\"%sZ\" style=\"fill:%s;fill-opacity:%g\"/>\n", path(edge), c.colour(of), bandOpacity)
}

func (c *svg) circle(centre spot, radius float64, style string) {
	fmt.Fprintf(c, "<circle cx=\"%s\" cy=\"%s\" r=\"%s\" style=\"%s\"/>\n", length(centre.x), length(centre.y),
		length(radius), style)
}

func (c *svg) disc(centre spot, radius float64, of colour) {
	c.circle(centre, radius, "fill:"+c.colour(of))
}

func (c *svg) ring(centre spot, radius float64, s stroke) { c.circle(centre, radius, c.stroke(s)) }

// text gives a text the width that it was laid out for, whatever font the
// reader has.
func (c *svg) text(at spot, w weight, of colour, label string) {
	style := "fill:" + c.colour(of)
	if w == bold {
		style += ";font-weight:bold"
	}
	fmt.Fprintf(c, "<text x=\"%s\" y=\"%s\" textLength=\"%s\" lengthAdjust=\"spacingAndGlyphs\" "+
		"style=\"%s\">%s</text>\n",
		length(at.x), length(at.y), length(w.width(label)), style, html.EscapeString(label))
}
