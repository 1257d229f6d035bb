package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"sync"

	"rambook/calc"
	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
	"rambook/units"
)

//go:embed report.html.tmpl
var ReportTemplate string

// reportPage is parsed only when a report is written, since every other command
// would wait for it.
var reportPage = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("report").Funcs(template.FuncMap{
		"anchor":      Anchor,
		"picture":     inlinePicture,
		"grids":       NewGrids,
		"lines":       func(text string) []string { return strings.Split(text, "\n") },
		"words":       func(text string) []string { return strings.SplitAfter(text, "_") },
		"subject":     func(of any, id, name string) subject { return subject{of, id, name} },
		"signatories": func() []string { return signatories },
	}).Parse(ReportTemplate))
})

// subject is what the template of a part is given: the part, the stem of its
// ids and a name for those who cannot see it.
type subject struct {
	Of       any
	ID, Name string
}

// Html writes the page as one file that needs nothing else.
func (p *Page) Html() ([]byte, error) {
	var out bytes.Buffer
	if err := reportPage().Execute(&out, p); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// Anchor makes the id of an element from words.
func Anchor(words ...any) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r > 0x7f {
			return r
		}
		return '-'
	}, fmt.Sprint(words...))
}

// inlinePicture draws a figure. The chart package escapes every text in it.
func inlinePicture(f *figure.Captioned, id string) (template.HTML, error) {
	svg, err := f.InlineSVG(id)
	return template.HTML(svg), err
}

// grid is a table as the template writes it.
type grid struct {
	Columns []gridColumn
	Groups  []gridGroup
	Stretch bool // its last column takes all the room there is
	Short   bool // it is not divided between pages
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

// PaperWidth is how many characters of a table fit side by side on paper.
const PaperWidth = 112

// NewGrids prepares a table: columns without a filled cell are left out, but
// for those to be filled by hand, and a table that is wider than paper is
// divided by columns, each part with the first column.
func NewGrids(t *table.Table) []grid {
	var kept, widths []int
	for k, c := range t.Columns {
		width, shown := wordWidth(c.Header, true), c.ByHand
		for _, row := range t.Rows {
			width = max(width, cellNeeds(c, row.Cells[k]))
			shown = shown || strings.TrimSpace(row.Cells[k]) != ""
		}
		if shown {
			kept, widths = append(kept, k), append(widths, width)
		}
	}
	shown := t.Only(kept)
	parts := shown.Split(PaperWidth, func(column int) int { return widths[column] })
	grids := make([]grid, len(parts))
	for i, columns := range parts {
		grids[i] = newGrid(&shown, columns, i > 0)
	}
	return grids
}

// cellNeeds is the width that a cell needs: a number is not broken.
func cellNeeds(c table.Column, text string) int {
	if c.Align == table.Left {
		return wordWidth(text, false)
	}
	return table.TextWidth(text)
}

// wordWidth is the width of the longest piece that is not broken: text breaks
// at blanks, a header also behind underscores.
func wordWidth(text string, header bool) int {
	width := 0
	for word := range strings.FieldsSeq(text) {
		if header {
			word = slices.MaxFunc(strings.SplitAfter(word, "_"),
				func(a, b string) int { return table.TextWidth(a) - table.TextWidth(b) })
		}
		width = max(width, table.TextWidth(word))
	}
	return width
}

// shortText is the width of a text that needs no more than one line.
const shortText = 20

// newGrid prepares some columns of a table. A part that is not the first
// leaves out the rows that have nothing in it.
func newGrid(t *table.Table, columns []int, further bool) grid {
	var g grid
	decimals := make([]int, len(columns))
	for i, k := range columns {
		c := t.Columns[k]
		class := "text"
		if slices.ContainsFunc(t.Rows, func(r table.Row) bool { return table.TextWidth(r.Cells[k]) > shortText }) {
			class = "text prose"
		}
		switch {
		case c.ByHand:
			class = "byhand"
		case c.Align != table.Left:
			class = "number"
		}
		g.Columns = append(g.Columns, gridColumn{strings.Split(c.Header, "\n"), class})
		for _, row := range t.Rows {
			if c.Align == table.Decimal {
				decimals[i] = max(decimals[i], DecimalsOf(row.Cells[k]))
			}
		}
	}
	class := g.Columns[len(g.Columns)-1].Class
	g.Stretch = class == "text prose" || class == "byhand"
	for _, row := range t.Rows {
		var cells []gridCell
		empty := further
		for i, k := range columns {
			cell := gridCell{Text: row.Cells[k], Class: g.Columns[i].Class}
			if t.Columns[k].ByHand && cell.Text != "" {
				cell.Class = "text" // there is nothing to write
			}
			if t.Columns[k].Header == page.VerdictHeader && cell.Text != "" {
				cell.Class = "verdict"
			}
			if n := DecimalsOf(cell.Text); n >= 0 && decimals[i] > n {
				cell.Pad, cell.Point = decimals[i]-n, n == 0
			}
			cells = append(cells, cell)
			empty = empty && (i == 0 || cell.Text == "")
		}
		if empty {
			continue
		}
		if n := len(g.Groups); n == 0 || row.Heading != "" && row.Heading != g.Groups[n-1].Heading {
			g.Groups = append(g.Groups, gridGroup{Heading: row.Heading})
		}
		last := &g.Groups[len(g.Groups)-1]
		last.Rows = append(last.Rows, cells)
	}
	rows := 0
	for _, group := range g.Groups {
		rows += 1 + len(group.Rows)
	}
	const fewRows = 16
	g.Short = rows <= fewRows
	return g
}

// DecimalsOf counts the digits behind the point of a plain number, -1 if the
// text is none.
func DecimalsOf(text string) int {
	if _, err := strconv.ParseFloat(text, 64); err != nil || strings.ContainsAny(text, "eExXnN_") {
		return -1
	}
	_, decimals, _ := strings.Cut(text, ".")
	return len(decimals)
}

// numbersOf is a table of what a figure is drawn from, to the digits that tables
// have.
func (s writer) numbersOf(f *chart.Figure) *table.Table {
	name := func(a chart.Axis, x float64) string {
		if a.Date {
			return units.FormatDate(x)
		}
		return s.Numbers.Typed(x, page.NoSpread)
	}
	t := &table.Table{Columns: []table.Column{{Header: "line"}, {Header: f.X.Label(), Align: table.Decimal},
		{Header: "value", Align: table.Decimal}, {Header: "±", Align: table.Decimal}, {Header: "unit"}}}
	for _, panel := range f.Panels {
		for _, series := range panel.Series {
			for _, p := range series.Points {
				if !calc.Has(p.Y) {
					continue
				}
				value := name(panel.Y, p.Y)
				if !panel.Y.Date && (series.Kind == chart.Computed || series.Kind == chart.Case) {
					value = s.Numbers.Computed(p.Y, p.Spread)
				}
				label, _, _ := strings.Cut(series.Label, "\n")
				t.Rows = append(t.Rows, table.Row{Cells: []string{label, name(f.X, p.X), value,
					s.Numbers.Spread(p.Y, p.Spread), panel.Y.Unit}})
			}
		}
	}
	return t
}
