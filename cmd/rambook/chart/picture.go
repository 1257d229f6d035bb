package chart

import (
	"bytes"
	"fmt"
	"html"
	"image/color"
	"regexp"
	"strings"

	xfont "golang.org/x/image/font"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

const boldWeight = xfont.WeightBold

// PNG draws the figure as a picture of dots, on white.
func (f *Figure) PNG() ([]byte, error) {
	const dotsPerInch = 192
	width, height := f.size(true)
	canvas := vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dotsPerInch))
	f.draw(draw.New(canvas), true)
	var out bytes.Buffer
	if _, err := (vgimg.PngCanvas{Canvas: canvas}).WriteTo(&out); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// SVG draws the figure as a file of its own, on white.
func (f *Figure) SVG() ([]byte, error) {
	body, width, height, err := f.svg(true)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	out.WriteString("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n")
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" width="%gpt" height="%gpt" viewBox="0 0 %g %g" role="img">`+"\n",
		width, height, width, height)
	fmt.Fprintf(&out, "<title>%s</title>\n<desc>%s</desc>\n<rect width=\"100%%\" height=\"100%%\" fill=\"#FFFFFF\"/>\n",
		html.EscapeString(oneLine(f.Title)), html.EscapeString(oneLine(f.About)))
	out.Write(body)
	return out.Bytes(), nil
}

// InlineSVG draws the figure as an element of a page, which says what it
// shows to those who cannot see it. It has no title of its own and no
// background, and its colours are the custom properties of the page that
// [Properties] lists. id is the stem of its elements' ids.
func (f *Figure) InlineSVG(id string) ([]byte, error) {
	body, width, height, err := f.svg(false)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg viewBox="0 0 %g %g" role="img" aria-labelledby="%s-title %s-about">`+"\n", width, height, id, id)
	fmt.Fprintf(&out, "<title id=\"%s-title\">%s</title>\n<desc id=\"%s-about\">%s</desc>\n",
		id, html.EscapeString(oneLine(f.Title)), id, html.EscapeString(oneLine(f.About)))
	out.Write(styleAttribute.ReplaceAllFunc(body, func(style []byte) []byte {
		return []byte(toProperties.Replace(string(style)))
	}))
	return out.Bytes(), nil
}

// A text cannot be taken for an attribute, since its quotes are escaped.
var styleAttribute = regexp.MustCompile(`style="[^"]*"`)

// Properties are the custom properties of style sheets that colour an inline
// SVG, with their colours on white.
func Properties() map[string]string {
	list := map[string]string{"chart-ink": hex(ink), "chart-muted": hex(muted), "chart-grid": hex(grid)}
	for i, c := range palette {
		list[fmt.Sprintf("chart-%d", i+1)] = hex(c)
	}
	return list
}

// hex writes a colour as vgsvg does, which rounds down where it is translucent.
func hex(c color.Color) string {
	r, g, b, a := c.RGBA()
	part := func(v uint32) int { return int(float64(v) * (255 / float64(a))) }
	return fmt.Sprintf("#%02X%02X%02X", part(r), part(g), part(b))
}

var toProperties = func() *strings.Replacer {
	var pairs []string
	for name, value := range Properties() {
		pairs = append(pairs, value, "var(--"+name+")")
	}
	for i, c := range palette {
		pairs = append(pairs, hex(translucent(c)), fmt.Sprintf("var(--chart-%d)", i+1))
	}
	return strings.NewReplacer(pairs...)
}()

// The fonts behind the first have the same widths.
const families = "font-family:Liberation Sans,Arimo,Arial,Helvetica,sans-serif"

// svg draws the figure and returns what stands behind the opening tag.
func (f *Figure) svg(titled bool) (body []byte, width, height vg.Length, err error) {
	width, height = f.size(titled)
	canvas := vgsvg.New(width, height)
	f.draw(draw.New(canvas), titled)
	var out bytes.Buffer
	if _, err := canvas.WriteTo(&out); err != nil {
		return nil, 0, 0, err
	}
	_, after, _ := bytes.Cut(out.Bytes(), []byte("<svg"))
	_, body, _ = bytes.Cut(after, []byte(">\n"))
	return textElement.ReplaceAllFunc(body, withWidth), width, height, nil
}

// textElement is a text as vgsvg writes it: place, style and label.
var textElement = regexp.MustCompile(`<text ([^>]*?)\s+style="([^"]*)">([^<]*)</text>`)

// withWidth gives a text the width that it was laid out for, whatever font the
// reader has.
func withWidth(element []byte) []byte {
	parts := textElement.FindSubmatch(element)
	place, look, label := parts[1], parts[2], parts[3]
	s := style(ink)
	if bytes.Contains(look, []byte("font-weight:bold")) {
		s.Font.Weight = boldWeight
	}
	look = bytes.Replace(look, []byte("font-family:Liberation Sans"), []byte(families), 1)
	return fmt.Appendf(nil, `<text %s textLength="%.2f" lengthAdjust="spacingAndGlyphs" style="%s">%s</text>`,
		place, float64(s.Width(html.UnescapeString(string(label)))), look, label)
}
