package main

import (
	"bytes"
	"fmt"
	"html"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
	"rambook/cmd/rambook/report"
	"rambook/sheets/table"
)

// urlPath is a path as it stands in an address.
type urlPath struct{ path string }

func (p *urlPath) escaped() string { return (&url.URL{Path: p.path}).EscapedPath() }

// hostile is what nobody should type into a notebook.
const hostile = `</style></title><script>hacked=1</script><img src=x onerror=hacked=1>"'` + "`{{.}}&amp;<b>"

// hostileFile is a file name with markup in it.
const hostileFile = "a<b>&'report'.html"

// hostileNotebook has hostile text wherever a notebook takes text: in file
// names, notes, headings, texts, keys, cases and suspects.
func hostileNotebook(t *testing.T) string {
	t.Helper()
	cell := `"` + `</style></title><script>hacked=1</script><img src=x onerror=hacked=1>""'` + "`{{.}}&amp;<b>" + `"`
	dir := filepath.Join(t.TempDir(), "<i>press & 'shop'")
	files := map[string]string{
		"1-<u>plate&.csv": "name,entry,unit,reading,spread,low,high,note\n" +
			"## " + hostile[:len(hostile)-1] + "\n" +
			"machine," + cell + ",text,,,,,\n" +
			"rated,1000,kN,,,,," + cell + "\n" +
			"setting,25,MPa,,0.4,5,28," + cell + "\n" +
			"area,450,cm2,,1,,," + cell + "\n" +
			"force,=setting*area,kN,900,9,=rated,," + cell + "\n" +
			"worn,,mm,,,,1," + cell + "\n",
		"2-jobs.csv": "job,setting,force,remark\n:unit,MPa,kN,\n" + cell + ",20,," + cell + "\n=1+1,28,,\n",
		"3-visits.csv": "visit,date,setting,force\n:unit,date,MPa,kN\n" + cell +
			",2026-01-01,25,1100\nsecond,2026-02-01,25,1090\nthird,2026-03-01,25,1070\n",
		"4-suspects.csv": "suspect,from,to,unit,prior,next_check,note\n" +
			"setting,10,28,MPa,1," + cell + "," + cell + "\narea,300,460,cm2,1," + cell + "," + cell + "\n",
	}
	if err := os.Mkdir(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	for name, content := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// reportOf checks a notebook and gathers its page, on a fixed day.
func reportOf(t *testing.T, path string) (*report.Page, *calc.Model, *calc.Report) {
	t.Helper()
	flags := notebookFlags{Path: path}
	model, err := flags.load()
	if err != nil {
		t.Fatal(err)
	}
	r, problems := model.Check(calc.CheckOptions{})
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	s := &session{now: func() time.Time { return time.Date(2026, 3, 9, 12, 0, 0, 0, time.UTC) }}
	p, err := report.NewPage(s.paper(flags.title(model), model), model, r)
	if err != nil {
		t.Fatal(err)
	}
	return p, model, r
}

// figureNamed finds a figure of a page.
func figureNamed(t *testing.T, p *report.Page, title string) *figure.Captioned {
	t.Helper()
	for _, c := range p.Chapters {
		for _, part := range c.Parts {
			if part.Figure != nil && part.Figure.Title == title {
				return part.Figure
			}
		}
	}
	t.Fatalf("the page has no figure %q", title)
	return nil
}

// seriesOf picks the series of one kind from a figure of one panel.
func seriesOf(f *figure.Captioned, kind chart.Kind) []chart.Series {
	var list []chart.Series
	for _, s := range f.Panels[0].Series {
		if s.Kind == kind {
			list = append(list, s)
		}
	}
	return list
}

// TestChartsShowTheNumbersOfTheTables compares every number of every chart
// with the run that the tables show.
func TestChartsShowTheNumbersOfTheTables(t *testing.T) {
	p, model, r := reportOf(t, "../../testdata/faults/worn-pump")
	value := func(name string) *calc.Judged { return page.JudgedOf(r, model.Quantity(name)) }
	same := func(what string, got chart.Point, x, y, spread float64) {
		t.Helper()
		if got.X != x || got.Y != y || got.Spread != spread && !(math.IsNaN(got.Spread) && math.IsNaN(spread)) {
			t.Errorf("%s is drawn at %v, the table has %v ± %v at %v", what, got, y, spread, x)
		}
	}

	force, setting := value("force"), value("setting")
	f := figureNamed(t, p, "force over setting")
	line := seriesOf(f, chart.Computed)[0].Points
	at := slices.IndexFunc(line, func(p chart.Point) bool { return p.X == setting.Value })
	if at < 0 {
		t.Fatal("the line does not pass through the notebook's own setting")
	}
	same("force", line[at], setting.Value, force.Value, force.Spread)
	same("limit", seriesOf(f, chart.Limit)[0].Points[at], setting.Value, force.Low, math.NaN())
	same("reading", seriesOf(f, chart.Reading)[0].Points[0], setting.Value, force.Reading, force.ReadingSpread)
	if f.Here.X != setting.Value {
		t.Errorf("the mark stands at %v, the setting is %v", f.Here.X, setting.Value)
	}
	if line[0].X != setting.Low || line[len(line)-1].X != setting.High {
		t.Errorf("the line goes from %v to %v, the setting from %v to %v", line[0].X, line[len(line)-1].X, setting.Low,
			setting.High)
	}
	for _, point := range []chart.Point{line[0], line[7], line[len(line)-1]} {
		other, err := notebookFlags{Path: "../../testdata/faults/worn-pump",
			lookFlags: lookFlags{Set: []string{"setting = " + page.Shortest(point.X) + " MPa"}}}.load()
		if err != nil {
			t.Fatal(err)
		}
		again, _ := other.Check(calc.CheckOptions{})
		j := page.JudgedOf(again, other.Quantity("force"))
		same("force", point, point.X, j.Value, j.Spread)
	}

	f = figureNamed(t, p, "oil level over the stroke")
	line = seriesOf(f, chart.Computed)[0].Points
	up, down, stroke := value("level_up"), value("level_down"), value("stroke")
	same("level up", line[0], 0, up.Value, up.Spread)
	same("level down", line[1], stroke.Value, down.Value, down.Spread)

	f = figureNamed(t, p, "shaft power over the cycle")
	line = seriesOf(f, chart.Computed)[0].Points
	end := 0.0
	for i, phase := range []struct{ power, time string }{{"idle_power", "approach_time"},
		{"pressing_power", "pressing_time"},
		{"holding_power", "hold_time"}, {"return_power", "return_time"}, {"idle_power", "rest_time"}} {
		power, begin := value(phase.power), end
		end += value(phase.time).Value
		same(phase.power, line[2*i], begin, power.Value, power.Spread)
		same(phase.power, line[2*i+1], end, power.Value, power.Spread)
	}
	mean := value("rms_power")
	same("mean power", seriesOf(f, chart.Computed)[1].Points[1], end, mean.Value, mean.Spread)
	same("motor power", seriesOf(f, chart.Limit)[0].Points[0], 0, value("motor_power").Value, math.NaN())

	trends := 0
	for _, result := range r.Cases {
		if k := slices.IndexFunc(result.Asked, func(q *calc.Quantity) bool { return q.Name == "job_reserve" }); k >= 0 {
			jobs := seriesOf(figureNamed(t, p, "reserve of each job"), chart.Case)[0].Points
			for i, c := range result.Cases {
				same(c.Name, jobs[i], float64(i+1), c.Values[k].Value, c.Values[k].Spread)
			}
		}
		if result.Sheet.Name != "visits" {
			continue
		}
		for k, q := range result.Asked {
			if !q.IsFormula() {
				continue // a given that is judged has no trend
			}
			points := map[chart.Kind][]chart.Point{}
			for _, kind := range []chart.Kind{chart.Reading, chart.Case} {
				for _, s := range seriesOf(figureNamed(t, p, q.Name+" over the visits"), kind) {
					points[kind] = append(points[kind], s.Points...)
				}
			}
			if n := len(points[chart.Reading]) + len(points[chart.Case]); n != len(result.Cases) {
				t.Errorf("%s has %d points for %d visits", q.Name, n, len(result.Cases))
				continue
			}
			for _, c := range result.Cases {
				j := &c.Values[k]
				kind, y, spread := chart.Case, j.Value, j.Spread
				if calc.Has(j.Reading) {
					kind, y, spread = chart.Reading, j.Reading, j.ReadingSpread
				}
				if len(points[kind]) == 0 {
					t.Fatalf("%s is not drawn as what it is at %s", q.Name, c.Name)
				}
				point := points[kind][0]
				points[kind] = points[kind][1:]
				same(q.Name, point, point.X, y, spread)
				trends++
			}
		}
	}
	if trends < 20 {
		t.Errorf("only %d points of trends were compared", trends)
	}
}

// TestPageHoldsItsFigures checks that the pictures of the page are those of
// the figures that the test above looks at, and that their numbers are told.
func TestPageHoldsItsFigures(t *testing.T) {
	p, model, _ := reportOf(t, "")
	page, err := p.Html()
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for c, chapter := range p.Chapters {
		for i, part := range chapter.Parts {
			if part.Figure == nil {
				continue
			}
			n++
			svg, err := part.Figure.InlineSVG(report.Anchor("figure-", report.Anchor(c, "-", i)))
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Contains(page, svg) {
				t.Errorf("the page has another picture of %s", part.Figure.Title)
			}
			drawn := 0
			for _, s := range part.Figure.Panels[0].Series {
				drawn += len(s.Points)
			}
			if rows := len(part.Figure.Numbers.Rows); rows != drawn {
				t.Errorf("%s is drawn from %d points and tells %d", part.Figure.Title, drawn, rows)
			}
		}
	}
	if n != len(model.Charts)+1 {
		t.Errorf("the press has %d figures, its sheet of charts asks for %d, and leaves the points out", n,
			len(model.Charts))
	}
}

// TestReportHasEverything checks that nothing of the notebook is left out of
// either form.
func TestReportHasEverything(t *testing.T) {
	p, model, r := reportOf(t, "")
	page, err := p.Html()
	if err != nil {
		t.Fatal(err)
	}
	markdown, err := p.Markdown()
	if err != nil {
		t.Fatal(err)
	}
	plain := html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(string(page), ""))
	for form, text := range map[string]string{"html": plain, "md": string(markdown)} {
		for _, name := range model.Names() {
			if !strings.Contains(text, name) {
				t.Errorf("%s: nothing about %s", form, name)
			}
		}
		for _, result := range r.Cases {
			for _, c := range result.Cases {
				if !strings.Contains(text, c.Name) {
					t.Errorf("%s: nothing about case %s", form, c.Name)
				}
			}
		}
		for _, want := range append([]string{"Bending press 3", "2026-03-09",
			"force 1085 ± 17 kN reaches rated_force 1000 kN", "Caution", "Signed", "Signature", "Derivations",
			"ram_efficiency*gross_force - back_force + beam_weight"}, report.ReadingGuide...) {
			if !strings.Contains(strings.ToLower(text), strings.ToLower(want)) &&
				!strings.Contains(text, strings.ReplaceAll(want, "*", `\*`)) {
				t.Errorf("%s: no %q", form, want)
			}
		}
	}
}

// TestReportAnswer checks what stands first on the page: the worst verdict of
// all, and below it the findings in the order of the verdicts.
func TestReportAnswer(t *testing.T) {
	const plate = "1-plate.csv\n" +
		"name,entry,unit,reading,spread,low,high\n" +
		"rating,900,kN\n" +
		"setting,20,MPa,,,,28\n" +
		"area,500,cm2,,0.5\n"
	for _, tc := range []struct {
		name, rows string
		want       []string // the headline, then the findings
	}{
		{"no formula has a limit", "half,=area/2,cm2\n", []string{
			"pass 1 pass"}},
		{"all is well", "force,=setting*area,kN,,,=rating\n", []string{
			"pass all 2 pass",
			"pass force 1000.0 ± 1.0 kN reaches rating 900 kN: yes, 100.0 kN to spare (computed, not measured)"}},
		{"it is measured", "force,=setting*area,kN,1000,5,=rating\n", []string{
			"pass all 2 pass",
			"pass force reading 1000.0 ± 5.0 kN reaches rating 900 kN: yes, 100 kN to spare"}},
		{"the headline quantity passes and another fails",
			"force,=setting*area,kN,,,=rating\nheat,=area*500*W/cm2,kW,,,,200\ndoubt,=area/1,cm2,,,,500.2\n", []string{
				"fail 1 fail, 1 unsure, 2 pass",
				"fail heat 250.00 ± 0.25 kW keeps to its high limit 200 kW: no, 50.00 kW over",
				"unsure doubt 500.00 ± 0.50 cm2 keeps to its high limit 500.2 cm2: unsure, 79 % likely",
				"pass force 1000.0 ± 1.0 kN reaches rating 900 kN: yes, 100.0 kN to spare (computed, not measured)"}},
		{"it is not ready", "force,=setting*area,kN,,,=rating\n" +
			"lifted,,,,,1\n" +
			"bled,,,,,1\n" +
			"drop,=1*mm*bled,mm,,,1\n" +
			"ready,\"=min(lifted, bled)\",,,,1\n", []string{
			"open none fail, 4 still open, 2 pass",
			"open 2 answers still to come: ready and drop",
			"open 2 cells of the notebook still to measure, listed below",
			"pass force 1000.0 ± 1.0 kN reaches rating 900 kN: yes, 100.0 kN to spare (computed, not measured)"}},
		{"the headline quantity itself is open", "worn,,mm\nforce,=setting*(area - worn*cm),kN,,,=rating\n", []string{
			"open none fail, 2 still open, 1 pass",
			"open force: open, needs worn",
			"open 1 cell of the notebook still to measure, listed below"}},
		{"a reading is planned", "force,=setting*area,kN,,5,=rating\n", []string{
			"pass all 2 pass",
			" 1 cell of the notebook still to measure, listed below",
			"pass force 1000.0 ± 1.0 kN reaches rating 900 kN: yes, 100.0 kN to spare (computed, not measured)"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			p, _, _ := reportOf(t, notebook(t, plate+tc.rows))
			var got []string
			for _, s := range append([]report.Sentence{p.Headline}, p.Findings...) {
				got = append(got, s.Verdict+" "+s.Text)
			}
			if !slices.Equal(got, tc.want) {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(tc.want, "\n"))
			}
		})
	}
}

// TestHostileReport checks without a browser that no text of a notebook
// becomes markup, in any form.
func TestHostileReport(t *testing.T) {
	p, _, _ := reportOf(t, hostileNotebook(t))
	page, err := p.Html()
	if err != nil {
		t.Fatal(err)
	}
	for _, markup := range []string{"<script", "<img", "<b>", "<i>press", "<u>", "onerror=hacked=1>", "href=\"http",
		"src="} {
		if strings.Contains(strings.ReplaceAll(string(page), "<title>", ""), markup) {
			if markup == "src=" || markup == "onerror=hacked=1>" {
				continue // as text behind an escaped bracket it does nothing
			}
			t.Errorf("the page holds %s", markup)
		}
	}
	if n := strings.Count(string(page), "&lt;script&gt;hacked=1&lt;/script&gt;"); n < 8 {
		t.Errorf("the hostile text is written %d times, want at least 8", n)
	}

	markdown, err := p.Markdown()
	if err != nil {
		t.Fatal(err)
	}
	own := regexp.MustCompile(`</?(?:details|summary)>|<br>`)
	fence := ""
	for line := range strings.Lines(string(markdown)) {
		switch ticks := regexp.MustCompile("^`{3,}").FindString(line); {
		case fence == "" && ticks != "":
			fence = ticks
		case fence != "" && strings.TrimSpace(line) == fence:
			fence = ""
		case fence == "" && strings.Contains(own.ReplaceAllString(line, ""), "<"):
			t.Errorf("Markdown holds markup: %s", line)
		case fence == "" && strings.HasPrefix(line, "|") && regexp.MustCompile("(^|[^\\\\])`").MatchString(line):
			t.Errorf("Markdown holds a code span: %s", line)
		}
	}
	if fence != "" {
		t.Error("a code block does not end")
	}

	_, csv, _ := obey("check", "--format", "csv", hostileNotebook(t))
	if !strings.Contains(csv, ",'=1+1,") {
		t.Errorf("a case that a spreadsheet would run is not made harmless:\n%s", csv)
	}
	picture := filepath.Join(t.TempDir(), "force.svg")
	if status, _, errOut := obey("sweep", "--over", "setting = 5 to 25 by 5 MPa", "--show", "force", "-o", picture,
		hostileNotebook(t)); status != exitFine {
		t.Fatal(errOut)
	}
	svg, err := os.ReadFile(picture)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(svg), "<script") || !strings.Contains(string(svg), "force in kN") {
		t.Errorf("the picture is not what it should be:\n%s", svg)
	}
}

// TestReportColours checks the colours of the page by the relative luminance of
// WCAG 2.2, in light and in dark.
func TestReportColours(t *testing.T) {
	property := regexp.MustCompile(`--([a-z0-9-]+): #([0-9A-F]{2})([0-9A-F]{2})([0-9A-F]{2})`)
	light, dark, _ := strings.Cut(report.ReportTemplate, "prefers-color-scheme: dark")
	for scheme, sheet := range map[string]string{"light": light, "dark": dark} {
		luminance := map[string]float64{}
		for _, m := range property.FindAllStringSubmatch(sheet, -1) {
			var part [3]float64
			for i := range part {
				v, _ := strconv.ParseUint(m[i+2], 16, 8)
				part[i] = float64(v) / 255
				if part[i] <= 0.04045 {
					part[i] /= 12.92
				} else {
					part[i] = math.Pow((part[i]+0.055)/1.055, 2.4)
				}
			}
			luminance[m[1]] = 0.2126*part[0] + 0.7152*part[1] + 0.0722*part[2]
		}
		for name, l := range luminance {
			if slices.Contains([]string{"paper", "raised", "rule", "chart-grid"}, name) {
				continue
			}
			for _, ground := range []string{"paper", "raised"} {
				if ratio := (max(l, luminance[ground]) + 0.05) / (min(l, luminance[ground]) + 0.05); ratio < 4.5 {
					t.Errorf("%s: %s on %s has a contrast of %.2f, want 4.5", scheme, name, ground, ratio)
				}
			}
		}
		if len(luminance) < 15 {
			t.Errorf("%s: only %d colours found", scheme, len(luminance))
		}
	}
}

// TestWideTableIsDivided checks that a table fits on paper, and that no column
// is lost.
func TestWideTableIsDivided(t *testing.T) {
	wide := &table.Table{Rows: []table.Row{{Heading: "first half"}, {}, {Heading: "second half"}}}
	for i := range 30 {
		wide.Columns = append(wide.Columns, table.Column{Header: fmt.Sprintf("quantity_%d\nMPa", i),
			Align: table.Decimal})
		for k := range wide.Rows {
			wide.Rows[k].Cells = append(wide.Rows[k].Cells, fmt.Sprintf("%d.%d ± 0.1", i, k))
		}
	}
	wide.Columns[7].Header = "blank"
	for k := range wide.Rows {
		wide.Rows[k].Cells[7] = ""
	}
	wide.Rows[1].Cells = append(wide.Rows[1].Cells[:20:20], make([]string, 10)...)
	grids := report.NewGrids(wide)
	columns := map[string]int{}
	for i, g := range grids {
		width := 0
		for _, c := range g.Columns {
			columns[c.Header[0]]++
			width += 2 + len("29.2 ± 0.1")
		}
		if g.Columns[0].Header[0] != "quantity_0" {
			t.Errorf("part %d begins with %v", i, g.Columns[0].Header)
		}
		if width > 2*report.PaperWidth {
			t.Errorf("part %d is %d wide", i, width)
		}
		if len(g.Groups) != 2 || g.Groups[1].Heading != "second half" {
			t.Errorf("part %d has the groups %+v", i, g.Groups)
		}
	}
	if len(grids) < 2 || len(columns) != 29 || columns["quantity_0"] != len(grids) {
		t.Errorf("%d parts with the columns %v", len(grids), columns)
	}
	if last := grids[len(grids)-1]; len(last.Groups[0].Rows) != 1 {
		t.Errorf("a row with nothing in it stands in the last part: %+v", last.Groups)
	}
}

func TestDecimalsOf(t *testing.T) {
	for text, want := range map[string]int{"": -1, "1": 0, "1.50": 2, "-0.125": 3, "1e5": -1, "1.5 ± 0.1": -1,
		"2026-03-09": -1, "error": -1, "Inf": -1, "NaN": -1, "0x1p3": -1} {
		if got := report.DecimalsOf(text); got != want {
			t.Errorf("decimalsOf(%q) = %d, want %d", text, got, want)
		}
	}
}

// TestReportMarkdown shows the whole of a small report.
func TestReportMarkdown(t *testing.T) {
	dir := notebook(t, "1-ram.csv\n"+
		"name,entry,unit,spread,low,high,note\n"+
		"## Machine plate\n"+
		"machine,Ram | 1,text,,,,\n"+
		"rating,600,kN,,,,\n"+
		"setting,20,MPa,0.2,0,25,test gauge\n"+
		"area,314,cm2,1,,,\n"+
		"force,=setting*area,kN,,=rating,,<b>load cell</b>\nwear,,mm,,,2,caliper\n",
		"2-jobs.csv\njob,setting,force\n:unit,MPa,kN\nbending,20,\nlight,10,\n")
	p, _, _ := reportOf(t, dir)
	p.Facts = []report.Fact{p.Facts[0], p.Facts[2]} // the folder and the version are of this run
	got, err := p.Markdown()
	if err != nil {
		t.Fatal(err)
	}
	golden := filepath.Join("..", "..", "testdata", "report.md")
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(golden, got, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("UPDATE=1 rewrites %s; got\n%s", golden, got)
	}
}

// TestGridsKeepReadings: where a table is divided for paper, a reading stays
// beside the value that it belongs to.
func TestGridsKeepReadings(t *testing.T) {
	wide := table.Table{Columns: []table.Column{{Header: "job"}}, Rows: []table.Row{{Cells: []string{"first"}}}}
	for i := range 12 {
		for _, c := range []table.Column{
			{Header: fmt.Sprintf("force%d", i), Align: table.Decimal},
			{Header: "reading", Align: table.Decimal, Joined: true},
		} {
			wide.Columns = append(wide.Columns, c)
			wide.Rows[0].Cells = append(wide.Rows[0].Cells, strconv.Itoa(i)+" of "+c.Header)
		}
	}
	grids := report.NewGrids(&wide)
	if len(grids) < 2 {
		t.Fatalf("%d columns are in %d parts", len(wide.Columns), len(grids))
	}
	for n, g := range grids {
		for k := 1; k < len(g.Columns); k += 2 {
			if k+1 == len(g.Columns) || g.Columns[k].Header[0] == "reading" || g.Columns[k+1].Header[0] != "reading" {
				t.Errorf("part %d parts readings from their values: %v", n, g.Columns)
				break
			}
		}
	}
}
