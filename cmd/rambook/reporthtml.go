package main

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/sheets"
	"rambook/units"
)

//go:embed report.html.tmpl
var reportTemplate string

var reportPage = template.Must(template.New("report").Funcs(template.FuncMap{
	"anchor":      anchor,
	"grid":        newGrid,
	"picture":     inlinePicture,
	"pair":        func(first, second any) map[string]any { return map[string]any{"First": first, "Second": second} },
	"signatories": func() []string { return signatories },
}).Parse(reportTemplate))

// html writes the page as one file that needs nothing else.
func (p *page) html() ([]byte, error) {
	var out bytes.Buffer
	if err := reportPage.Execute(&out, p); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// anchor makes the id of an element from words.
func anchor(words ...any) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r > 0x7f {
			return r
		}
		return '-'
	}, fmt.Sprint(words...))
}

// inlinePicture draws a figure. The chart package escapes every text in it.
func inlinePicture(f *figurePart, id string) (template.HTML, error) {
	svg, err := f.InlineSVG(id)
	return template.HTML(svg), err
}

// grid is a table as the template writes it.
type grid struct {
	Columns []gridColumn
	Groups  []gridGroup
	Note    []string
}

type gridColumn struct {
	Header []string // its lines
	Class  string
}

type gridGroup struct {
	Heading string
	Rows    [][]gridCell
}

type gridCell struct {
	Text  string
	Class string
	Pad   int  // digits to leave free behind a number, so that the points of a column stand above each other
	Point bool // a point is left free too
}

// newGrid prepares a table: columns without a filled cell are left out, but
// for those that are there to be filled by hand.
func newGrid(t *sheets.Table) grid {
	var g grid
	var kept []int
	for k, c := range t.Columns {
		filled := c.Header == foundHeader
		for _, row := range t.Rows {
			filled = filled || strings.TrimSpace(row.Cells[k]) != ""
		}
		if !filled {
			continue
		}
		kept = append(kept, k)
		class := "text"
		switch {
		case c.Header == foundHeader:
			class = "byhand"
		case c.Align != sheets.Left:
			class = "number"
		}
		g.Columns = append(g.Columns, gridColumn{strings.Split(c.Header, "\n"), class})
	}
	decimals := make([]int, len(t.Columns))
	for k, c := range t.Columns {
		for _, row := range t.Rows {
			if c.Align == sheets.Decimal {
				decimals[k] = max(decimals[k], decimalsOf(row.Cells[k]))
			}
		}
	}
	for _, row := range t.Rows {
		if n := len(g.Groups); n == 0 || row.Heading != "" && row.Heading != g.Groups[n-1].Heading {
			g.Groups = append(g.Groups, gridGroup{Heading: row.Heading})
		}
		var cells []gridCell
		for i, k := range kept {
			cell := gridCell{Text: row.Cells[k], Class: g.Columns[i].Class}
			if t.Columns[k].Header == verdictHeader && cell.Text != "" {
				cell.Class = "verdict"
			}
			if n := decimalsOf(cell.Text); n >= 0 && decimals[k] > n {
				cell.Pad, cell.Point = decimals[k]-n, n == 0
			}
			cells = append(cells, cell)
		}
		last := &g.Groups[len(g.Groups)-1]
		last.Rows = append(last.Rows, cells)
	}
	if t.Note != "" {
		g.Note = strings.Split(t.Note, "\n")
	}
	return g
}

// decimalsOf counts the digits behind the point of a plain number, -1 if the
// text is none.
func decimalsOf(text string) int {
	if _, err := strconv.ParseFloat(text, 64); err != nil || strings.ContainsAny(text, "eExXnN_") {
		return -1
	}
	_, decimals, _ := strings.Cut(text, ".")
	return len(decimals)
}

// numbers is a table of what a figure is drawn from, to the digits that tables
// have.
func (s screen) numbersOf(f *chart.Figure) *sheets.Table {
	name := func(a chart.Axis, x float64) string {
		if a.Date {
			return units.FormatDate(x)
		}
		return s.numbers.typed(x, noSpread)
	}
	t := &sheets.Table{Columns: []sheets.TableColumn{{Header: "line"}, {Header: f.X.Label(), Align: sheets.Decimal},
		{Header: "value", Align: sheets.Decimal}, {Header: "±", Align: sheets.Decimal}, {Header: "unit"}}}
	for _, panel := range f.Panels {
		for _, series := range panel.Series {
			for _, p := range series.Points {
				if !calc.Has(p.Y) {
					continue
				}
				value := name(panel.Y, p.Y)
				if !panel.Y.Date && series.Kind == chart.Computed {
					value = s.numbers.computed(p.Y, p.Spread)
				}
				label, _, _ := strings.Cut(series.Label, "\n")
				t.Rows = append(t.Rows, sheets.TableRow{Cells: []string{label, name(f.X, p.X), value, s.numbers.spread(p.Y, p.Spread), panel.Y.Unit}})
			}
		}
	}
	return t
}
