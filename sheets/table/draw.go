package table

import (
	"bytes"
	"reflect"
	"strings"
	"sync"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/pkg/twcache"
	"github.com/olekukonko/tablewriter/pkg/twwidth"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"
)

// drawer is a tablewriter with the buffer it draws into. It is used again for
// table after table, since making one takes longer than drawing a usual table.
type drawer struct {
	out   bytes.Buffer
	table *tablewriter.Table
}

// drawers keeps the idle drawers of each format that tablewriter draws. Plain
// tables are not among them: their widths are known from where they are wrapped
// and split, and they are drawn for every check.
var drawers = map[Format]*sync.Pool{
	Markdown: drawersWith(func() []tablewriter.Option {
		return []tablewriter.Option{tablewriter.WithRenderer(renderer.NewMarkdown())}
	}),
	HTML: drawersWith(func() []tablewriter.Option {
		return []tablewriter.Option{tablewriter.WithRenderer(renderer.NewHTML(renderer.HTMLConfig{}))}
	}),
}

// drawersWith makes a pool of drawers. The options are made for each of them,
// since a renderer among them has a state of its own.
func drawersWith(options func() []tablewriter.Option) *sync.Pool {
	return &sync.Pool{New: func() any {
		d := &drawer{}
		d.table = tablewriter.NewTable(&d.out, append(options(),
			tablewriter.WithHeaderAutoFormat(tw.Off),
			tablewriter.WithHeaderAutoWrap(tw.WrapNone),
			tablewriter.WithRowAutoWrap(tw.WrapNone),
			tablewriter.WithTrimSpace(tw.Off),
			tablewriter.WithEastAsian(tw.Off), // or widths would follow the locale
			// Cells are texts already: without this, each Reset makes a large
			// cache for turning values into texts. One of size 0 keeps nothing.
			tablewriter.WithStringerCacheCustom(twcache.NewLRU[reflect.Type, reflect.Value](0)),
		)...)
		return d
	}}
}

// draw lets tablewriter lay the table out and returns its lines.
func (t Table) draw(f Format) ([]string, error) {
	if len(t.Columns) == 0 {
		return nil, nil
	}
	d := drawers[f].Get().(*drawer)
	d.out.Reset()
	d.table.Reset()
	aligns := make(tw.Alignment, len(t.Columns))
	header := make([]string, len(t.Columns))
	for j, c := range t.Columns {
		header[j] = c.Header
		aligns[j] = tw.AlignRight
		if c.Align == Left {
			aligns[j] = tw.AlignLeft
		}
	}
	d.table.Options(tablewriter.WithAlignment(aligns))
	d.table.Header(header)
	for _, r := range t.Rows {
		if err := d.table.Append(r.Cells); err != nil {
			return nil, err
		}
	}
	if err := d.table.Render(); err != nil {
		return nil, err
	}
	lines := strings.Split(strings.TrimSuffix(d.out.String(), "\n"), "\n")
	drawers[f].Put(d)
	return lines, nil
}

// Tables are laid out at the same time, and tablewriter's memory of the widths
// of texts has one lock for all: to count a width anew takes less time than to
// wait for it.
func init() { twwidth.SetCacheCapacity(0) }

// TextWidth counts the columns that a text takes on a terminal, as tablewriter
// does, but in any locale alike.
func TextWidth(s string) int {
	if isPlain(s) {
		return len(s)
	}
	return twwidth.WidthWithOptions(s, twwidth.Options{})
}
