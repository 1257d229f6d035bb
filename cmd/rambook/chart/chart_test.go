package chart

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/color"
	"image/png"
	"io"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rambook/sheets/table"
	"rambook/units"
)

// pressing is a figure of two panels with everything in it.
func pressing() *Figure {
	var force, reserve []Point
	for x := 5.0; x <= 27; x += 0.5 {
		force = append(force, Point{x, 39.3 * x, 5 + x/2})
		reserve = append(reserve, Point{x, 3.93*x - 100, math.NaN()})
	}
	across := func(y float64) []Point { return []Point{{5, y, 0}, {27, y, 0}} }
	return &Figure{
		Title: "force and reserve over setting", About: "force rises with setting",
		X: Axis{Name: "setting", Unit: "MPa"}, Here: &Mark{25, "as set 25 MPa"},
		Panels: []Panel{
			{Y: Axis{Name: "force", Unit: "kN"}, Series: []Series{
				{Kind: Computed, Label: "force", Points: force},
				{Kind: Limit, Label: "rated_force\n1000 kN", Points: across(1000)},
				{Kind: Reading, Label: "reading\n981 kN", Points: []Point{{25, 981, 12}}}}},
			{Y: Axis{Name: "reserve", Unit: "%"}, Series: []Series{
				{Kind: Computed, Label: "reserve", Points: reserve},
				{Kind: Limit, Label: "low limit\n2.5 %", Points: across(2.5)}}},
		},
	}
}

// element is one element of an SVG.
type element struct {
	name       string
	attributes map[string]string
	text       string
}

// elements reads an SVG as a browser would, and fails if it is not well formed.
func elements(t testing.TB, svg []byte) []element {
	t.Helper()
	var list []element
	var open []int
	for decoder := xml.NewDecoder(bytes.NewReader(svg)); ; {
		token, err := decoder.Token()
		if err == io.EOF {
			return list
		}
		if err != nil {
			t.Fatalf("%v in\n%s", err, svg)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := element{name: token.Name.Local, attributes: map[string]string{}}
			for _, a := range token.Attr {
				e.attributes[a.Name.Local] = a.Value
			}
			open = append(open, len(list))
			list = append(list, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				list[open[len(open)-1]].text += string(token)
			}
		}
	}
}

func texts(list []element) []string {
	var all []string
	for _, e := range list {
		if e.name == "text" {
			all = append(all, e.text)
		}
	}
	return all
}

func mustSVG(t testing.TB, f *Figure) []byte {
	t.Helper()
	svg, err := f.SVG()
	if err != nil {
		t.Fatal(err)
	}
	return svg
}

func TestSVGShowsNamesUnitsAndLabels(t *testing.T) {
	got := texts(elements(t, mustSVG(t, pressing())))
	for _, want := range []string{"force and reserve over setting", "force in kN", "reserve in %", "setting in MPa",
		"as set 25 MPa",
		"force", "rated_force", "1000 kN", "reading", "981 kN", "reserve", "low limit", "2.5 %", "200", "1000", "25"} {
		if !slices.Contains(got, want) {
			t.Errorf("no text %q in %q", want, got)
		}
	}
}

var pathPoint = regexp.MustCompile(`[ML](-?[0-9.e+-]+),(-?[0-9.e+-]+)`)

// TestLinesGoWhereTheAxesSay reads the picture back: from the grid lines and
// their numbers follows what every point of a curve stands for.
func TestLinesGoWhereTheAxesSay(t *testing.T) {
	f := pressing()
	f.Panels = f.Panels[:1]
	var gridYs []float64
	curves := map[string][]Point{} // by stroke
	for _, e := range elements(t, mustSVG(t, f)) {
		if e.name != "path" {
			continue
		}
		var points []Point
		for _, m := range pathPoint.FindAllStringSubmatch(e.attributes["d"], -1) {
			x, _ := strconv.ParseFloat(m[1], 64)
			y, _ := strconv.ParseFloat(m[2], 64)
			points = append(points, Point{X: x, Y: y})
		}
		style := e.attributes["style"]
		switch {
		case strings.Contains(style, "stroke:"+grid.hex()):
			gridYs = append(gridYs, points[0].Y)
		case strings.Contains(style, "stroke:"+palette[0].hex()) && len(points) > 2:
			curves["force"] = points
		case strings.Contains(style, "fill:"+palette[0].hex()):
			curves["band"] = points
		case strings.Contains(style, "stroke-dasharray:6,3"):
			curves["rated"] = points
		}
	}
	y := f.Panels[0].Y.ticks(f.Panels[0].yRange(), 6)
	if len(gridYs) != len(y) || len(y) < 3 {
		t.Fatalf("%d grid lines, %d marks", len(gridYs), len(y))
	}
	scale := (y[len(y)-1].at - y[0].at) / (gridYs[len(y)-1] - gridYs[0])
	at := func(pixel float64) float64 { return y[0].at + (pixel-gridYs[0])*scale }
	near := func(what string, got, want float64) {
		if math.Abs(got-want) > 0.5 { // SVG coordinates have five digits
			t.Errorf("%s is drawn at %g, want %g", what, got, want)
		}
	}
	force := f.Panels[0].Series[0].Points
	if len(curves["force"]) != len(force) || len(curves["band"]) != 2*len(force) || len(curves["rated"]) != 2 {
		t.Fatalf("%d, %d and %d points drawn", len(curves["force"]), len(curves["band"]), len(curves["rated"]))
	}
	for i, p := range force {
		near(fmt.Sprintf("force at %g", p.X), at(curves["force"][i].Y), p.Y)
		near(fmt.Sprintf("upper edge at %g", p.X), at(curves["band"][i].Y), p.Y+p.Spread)
		near(fmt.Sprintf("lower edge at %g", p.X), at(curves["band"][len(curves["band"])-1-i].Y), p.Y-p.Spread)
	}
	near("limit", at(curves["rated"][0].Y), 1000)
	near("limit", at(curves["rated"][1].Y), 1000)
}

// TestPanelsShareTheXAxis holds the panels of a figure against each other: the
// numbers beside one are wider than those beside the other, the last number
// below them reaches beyond the axes, and a reading stands at their end.
func TestPanelsShareTheXAxis(t *testing.T) {
	f := pressing()
	x := f.xRange()
	for i := range f.Panels {
		f.Panels[i].Y.Unit = strings.Repeat("wide", i)
		for _, series := range f.Panels[i].Series {
			for n, p := range series.Points {
				series.Points[n].X = (p.X - x.min) / (x.max - x.min) * 100_000
			}
		}
	}
	f.Here = nil
	f.Panels[0].Series = append(f.Panels[0].Series,
		Series{Kind: Reading, Label: "", Points: []Point{{0, 100, 10}, {100_000, 12345678, 10}}})
	var grids, ticks [][2]float64 // the ends of horizontal lines, the places of vertical ones
	for _, e := range elements(t, mustSVG(t, f)) {
		m := pathPoint.FindAllStringSubmatch(e.attributes["d"], -1)
		if e.name != "path" || len(m) != 2 {
			continue
		}
		var x, y [2]float64
		for i := range m {
			x[i], _ = strconv.ParseFloat(m[i][1], 64)
			y[i], _ = strconv.ParseFloat(m[i][2], 64)
		}
		switch style := e.attributes["style"]; {
		case strings.Contains(style, "stroke:"+grid.hex()):
			grids = append(grids, x)
		case strings.Contains(style, "stroke:"+muted.hex()) && x[0] == x[1] && math.Abs(y[0]-y[1]) <= tickLength:
			ticks = append(ticks, x)
		}
	}
	marks := len(f.xTicks())
	if len(f.Panels) < 2 || len(grids) < 4 || marks < 2 || len(ticks) != marks*len(f.Panels) {
		t.Fatalf("%d panels, %d lines of the grid, %d marks for %d places", len(f.Panels), len(grids), len(ticks),
			marks)
	}
	const digits = 0.01 // that SVG coordinates leave out
	for _, g := range grids[1:] {
		if math.Abs(g[0]-grids[0][0]) > digits || math.Abs(g[1]-grids[0][1]) > digits {
			t.Errorf("a panel reaches from %g to %g, the first from %g to %g", g[0], g[1], grids[0][0], grids[0][1])
		}
	}
	for i, mark := range ticks {
		if math.Abs(mark[0]-ticks[i%marks][0]) > digits {
			t.Errorf("mark %d of a panel stands at %g, of the first at %g", i%marks, mark[0], ticks[i%marks][0])
		}
	}
}

// TestHostileTextStaysText puts markup, quotes and control characters into
// every text of a figure.
func TestHostileTextStaysText(t *testing.T) {
	const hostile = `</text><script>alert(1)</script>"'&amp;<image href="http://example.invalid/x"/>` +
		"\x00\x1b[31m\u202e"
	f := pressing()
	f.Title, f.About, f.X.Name, f.X.Unit, f.Here.Label = hostile, hostile, hostile, hostile, hostile
	f.Spans = []Span{{5, 20, hostile}}
	for i := range f.Panels {
		f.Panels[i].Y = Axis{Name: hostile, Unit: hostile}
		for k := range f.Panels[i].Series {
			f.Panels[i].Series[k].Label = hostile + "\n" + hostile
		}
	}
	inline, err := f.InlineSVG("figure")
	if err != nil {
		t.Fatal(err)
	}
	for _, svg := range [][]byte{mustSVG(t, f), inline} {
		for _, e := range elements(t, svg) {
			if !slices.Contains([]string{"svg", "title", "desc", "rect", "g", "path", "circle", "text"}, e.name) {
				t.Errorf("hostile text made an element <%s>", e.name)
			}
			for name := range e.attributes {
				if strings.HasPrefix(name, "on") || name == "href" {
					t.Errorf("hostile text made an attribute %s", name)
				}
			}
			if e.name == "desc" && !strings.Contains(e.text, `<script>alert(1)</script>"'&amp;`) {
				t.Errorf("the text of %s is lost: %q", e.name, e.text)
			}
		}
	}
	if text := f.Text(TextOptions{Width: 80}); strings.ContainsAny(text, "\x00\x1b\u202e") {
		t.Errorf("a control character reaches the terminal: %q", text)
	}
}

// TestLabelsNeverOverlap measures every text of random figures.
func TestLabelsNeverOverlap(t *testing.T) {
	label := rapid.SampledFrom([]string{"force", "rated_force\n1000 kN",
		"a name that is much too long to stand beside a panel", "x", "two\nlines", ""})
	number := rapid.Float64Range(-1e4, 1e4)
	rapid.Check(t, func(t *rapid.T) {
		f := &Figure{Title: label.Draw(t, "title"),
			X: Axis{Name: label.Draw(t, "x"), Date: rapid.Bool().Draw(t, "dates")}}
		from, to := number.Draw(t, "from"), number.Draw(t, "to")
		if f.X.Date {
			from, to = from*units.Day, to*units.Day
		}
		if rapid.Bool().Draw(t, "marked") {
			f.Here = &Mark{from, label.Draw(t, "here")}
		}
		for i := range rapid.IntRange(0, 6).Draw(t, "spans") {
			f.Spans = append(f.Spans, Span{from, from + (to-from)*float64(i)/10, label.Draw(t, "span")})
		}
		for range rapid.IntRange(1, 4).Draw(t, "panels") {
			panel := Panel{Y: Axis{Name: label.Draw(t, "y"), Unit: "kN"}}
			for range rapid.IntRange(1, 9).Draw(t, "series") {
				kind := Kind(rapid.IntRange(0, int(Case)).Draw(t, "kind"))
				panel.Series = append(panel.Series, Series{Kind: kind, Label: label.Draw(t, "label"),
					Points: []Point{{from, number.Draw(t, "a"), 1}, {to, number.Draw(t, "b"), 2}}})
			}
			f.Panels = append(f.Panels, panel)
		}
		checkTexts(t, f)
	})
}

// checkTexts checks that all texts of a figure are inside it and apart.
func checkTexts(t *rapid.T, f *Figure) {
	width, height := f.size(true)
	type box struct {
		left, right, bottom, top float64
		text                     string
	}
	var boxes []box
	svg, err := f.SVG()
	if err != nil {
		t.Fatal(err)
	}
	list := placedText.FindAllStringSubmatch(string(svg), -1)
	if len(list) == 0 {
		t.Fatal("no texts")
	}
	for _, m := range list {
		x, _ := strconv.ParseFloat(m[1], 64)
		y, _ := strconv.ParseFloat(m[2], 64)
		w := regular
		if strings.Contains(m[3], "bold") {
			w = bold
		}
		b := box{x, x + w.width(m[4]), y + 2.5, y - 9, m[4]}
		if b.left < -0.1 || b.right > width+0.1 || b.top < 0 || b.bottom > height {
			t.Errorf("%q reaches out of the figure: %+v", b.text, b)
		}
		for _, other := range boxes {
			if b.left < other.right && other.left < b.right && b.top < other.bottom && other.top < b.bottom {
				t.Errorf("%q overlaps %q: %+v %+v", b.text, other.text, b, other)
			}
		}
		boxes = append(boxes, b)
	}
}

var placedText = regexp.MustCompile(`<text x="([^"]*)" y="([^"]*)"[^>]*style="([^"]*)"[^>]*>([^<]*)</text>`)

func TestApart(t *testing.T) {
	for _, tc := range []struct {
		want, size []float64
		low, high  float64
		at         []float64
	}{
		{nil, nil, 0, 100, nil},
		{[]float64{50}, []float64{10}, 0, 100, []float64{50}},
		{[]float64{0}, []float64{10}, 0, 100, []float64{5}},
		{[]float64{100}, []float64{10}, 0, 100, []float64{95}},
		{[]float64{20, 80}, []float64{10, 10}, 0, 100, []float64{20, 80}},
		{[]float64{50, 50}, []float64{10, 10}, 0, 100, []float64{45, 55}},
		{[]float64{50, 50, 50}, []float64{10, 20, 10}, 0, 100, []float64{35, 50, 65}},
		{[]float64{98, 99}, []float64{10, 10}, 0, 100, []float64{85, 95}},
		{[]float64{0, 1}, []float64{10, 10}, 0, 100, []float64{5, 15}},
	} {
		if got := spacedOut(tc.want, tc.size, tc.low, tc.high); !slices.Equal(got, tc.at) {
			t.Errorf("apart(%v, %v, %g, %g) = %v, want %v", tc.want, tc.size, tc.low, tc.high, got, tc.at)
		}
	}
}

func TestTicks(t *testing.T) {
	for _, tc := range []struct {
		axis     Axis
		min, max float64
		parts    int
		want     string
	}{
		{Axis{}, 0, 1, 5, "0 0.2 0.4 0.6 0.8 1.0"},
		{Axis{}, 5, 27, 5, "5 10 15 20 25"},
		{Axis{}, 180, 1080, 5, "200 400 600 800 1000"},
		{Axis{}, -80, 7, 4, "-50 0"},
		{Axis{}, 0.0012, 0.0019, 4, "0.0012 0.0014 0.0016 0.0018"},
		{Axis{}, 0, 3e6, 3, "0 1e+06 2e+06 3e+06"},
		{Axis{}, 1e-9, 4e-9, 3, "1e-09 2e-09 3e-09 4e-09"},
		{Axis{}, 999.9, 1000.1, 2, "999.9 1000.0 1000.1"},
		{Axis{Date: true}, 0, 20 * units.Day, 3, "1970-01-01 1970-01-08 1970-01-15"},
		{Axis{Date: true}, 0.5 * units.Day, 2 * units.Day, 3, "1970-01-02 1970-01-03"},
		{Axis{Date: true}, 0, 3640 * units.Day, 2, "1970-01-01 1974-12-26 1979-12-20"},
	} {
		var got []string
		for _, tick := range tc.axis.ticks(interval{tc.min, tc.max}, tc.parts) {
			got = append(got, tick.label)
		}
		if text := strings.Join(got, " "); text != tc.want {
			t.Errorf("%g to %g in %d: %s, want %s", tc.min, tc.max, tc.parts, text, tc.want)
		}
	}
}

// TestContrast checks what the comment at the colours says, by the relative
// luminance of WCAG 2.2.
func TestContrast(t *testing.T) {
	for _, c := range append([]colour{ink, muted}, palette...) {
		if ratio := 1.05 / (luminance(c.onWhite) + 0.05); ratio < 4.5 {
			t.Errorf("%s on white has a contrast of %.2f, want 4.5", c.hex(), ratio)
		}
	}
}

func luminance(c color.RGBA) float64 {
	part := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*part(c.R) + 0.7152*part(c.G) + 0.0722*part(c.B)
}

func TestPNG(t *testing.T) {
	f := pressing()
	data, err := f.PNG()
	if err != nil {
		t.Fatal(err)
	}
	picture, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	width, height := f.size(true)
	if got := picture.Bounds().Size(); math.Abs(float64(got.X)-width*192/72) > 1 ||
		math.Abs(float64(got.Y)-height*192/72) > 1 {
		t.Errorf("the picture has %v dots for %g x %g points", got, width, height)
	}
	colours := map[color.Color]bool{}
	for x := range picture.Bounds().Dx() {
		for y := range picture.Bounds().Dy() {
			colours[picture.At(x, y)] = true
		}
	}
	white := colour{onWhite: color.RGBA{0xFF, 0xFF, 0xFF, 0xFF}}
	for _, c := range []colour{white, palette[0], muted, ink} {
		if !colours[c.onWhite] {
			t.Errorf("nothing in the picture has the colour %s", c.hex())
		}
	}
}

// properties are the custom properties of style sheets that colour an inline SVG,
// with their colours on white.
func properties() map[string]string {
	list := map[string]string{}
	for _, c := range append([]colour{ink, muted, grid}, palette...) {
		list[c.property] = c.hex()
	}
	return list
}

// TestPageHasTheColours checks that the style sheet of a report colours its charts in
// light and in dark, and on white as those in files are.
func TestPageHasTheColours(t *testing.T) {
	sheet, err := os.ReadFile("../report/report.html.tmpl")
	if err != nil {
		t.Fatal(err)
	}
	light, dark, _ := strings.Cut(string(sheet), "prefers-color-scheme: dark")
	for name, value := range properties() {
		if !strings.Contains(light, "--"+name+": "+value) {
			t.Errorf("on white a chart in the page has another %s than one in a file", name)
		}
		if !strings.Contains(dark, "--"+name+": #") {
			t.Errorf("in the dark the charts want a colour %s", name)
		}
	}
}

func TestInlineSVGTakesTheColoursOfThePage(t *testing.T) {
	svg, err := pressing().InlineSVG("force")
	if err != nil {
		t.Fatal(err)
	}
	root := elements(t, svg)[0]
	if root.attributes["role"] != "img" || root.attributes["aria-labelledby"] != "force-title force-about" {
		t.Errorf("the picture does not say what it is: %v", root.attributes)
	}
	for name, value := range properties() {
		if bytes.Contains(svg, []byte(value)) || bytes.Contains(svg, []byte(":#")) {
			t.Errorf("a fixed colour is left: %s", value)
		}
		if slices.Contains([]string{"chart-1", "chart-ink", "chart-muted", "chart-grid"}, name) &&
			!bytes.Contains(svg, []byte("var(--"+name+")")) {
			t.Errorf("var(--%s) is not used", name)
		}
	}
}

func TestText(t *testing.T) {
	f := pressing()
	f.Panels = f.Panels[:1]
	const want = `force and reserve over setting

force in kN
      ┤
      ┤                                                            ***
 1000 ┼-------------------------------------------------------*(●)**--
      ┤                                                  ******
      ┤                                              *****
  800 ┤                                         ******
      ┤                                    ******
      ┤                               ******
  600 ┤                          ******
      ┤                     ******
      ┤                 *****
  400 ┤            ******
      ┤       ******
      ┤  ******
  200 ┼***
      ┤
      └┬─────────────┬─────────────┬──────────────┬─────────────┬─────────────┬
       5            10            15             20            25            30
                                    setting in MPa
- rated_force 1000 kN   * force   ● reading 981 kN
`
	if got := f.Text(TextOptions{Width: 80}); got != want {
		t.Errorf("got\n%s", got)
	}
	f = pressing()
	f.Panels[0].Series[1].Points = []Point{{5, 9000, 0}, {27, 9000, 0}}
	for _, width := range []int{40, 80, 132} {
		text := f.Text(TextOptions{Width: width})
		for line := range strings.Lines(text) {
			if got := table.TextWidth(strings.TrimSuffix(line, "\n")); got > width {
				t.Errorf("width %d: a line of %d: %s", width, got, line)
			}
		}
		if !strings.Contains(text, "- ↑ rated_force 1000 kN") || strings.Contains(text, "9000") {
			t.Errorf("a limit far off is not told at the edge:\n%s", text)
		}
	}
}

func TestFiguresWithNothingIn(t *testing.T) {
	nan := math.NaN()
	for _, f := range []*Figure{
		{Panels: []Panel{{}}},
		{Panels: []Panel{{Series: []Series{{Kind: Computed, Label: "open",
			Points: []Point{{1, nan, nan}, {2, nan, nan}}}}}}},
		{Panels: []Panel{{Series: []Series{{Kind: Limit, Label: "limit", Points: []Point{{1, 2, 0}, {2, 2, 0}}}}}}},
	} {
		if !f.Empty() {
			t.Errorf("%+v counts as something", f)
		}
		mustSVG(t, f) // and drawing it does no harm
		f.Text(TextOptions{Width: 80})
	}
	one := &Figure{Panels: []Panel{{Series: []Series{{Kind: Computed, Label: "one", Points: []Point{{1, 2, nan}}}}}}}
	if one.Empty() {
		t.Error("a single point counts as nothing")
	}
	mustSVG(t, one)
	one.Text(TextOptions{Width: 80})
}

// TestTextFillsTheScreen draws figures of one to three panels for screens of several
// heights: they take most of it, and no more.
func TestTextFillsTheScreen(t *testing.T) {
	for _, height := range []int{24, 40, 60} {
		for panels := 1; panels <= 3; panels++ {
			f := &Figure{Title: "a title", X: Axis{Name: "x"}}
			for range panels {
				f.Panels = append(f.Panels, Panel{Y: Axis{Name: "y"}, Series: []Series{{Kind: Computed, Label: "line",
					Points: []Point{{0, 0, 0}, {1, 3, 0}, {2, 7, 0}}}}})
			}
			lines := strings.Count(f.Text(TextOptions{Width: 80, Height: height}), "\n")
			if lines > height-1 && height >= 13*panels || lines < height*6/10 {
				t.Errorf("%d panels on %d lines take %d", panels, height, lines)
			}
		}
	}
}
