package table

import (
	"bytes"
	"fmt"
	"strings"
)

const gap = "  " // between columns

// minWrap is the width below which texts are not wrapped: a split table reads
// better.
const minWrap = 20

// Width is how wide the plain format is when nothing is wrapped or split.
func (t Table) Width() int { return t.shown().width() }

// block is what stands side by side on a terminal: some columns of a table, and rows.
type block struct {
	columns []shownColumn
	rows    []Row
}

// shownColumn is a column as a terminal shows it.
type shownColumn struct {
	Column
	index int // in the table
	width int // of its widest line
	after int // of a Decimal column, how wide what stands behind the whole part of a number is at most
	wrap  int // how wide its texts are kept, 0: as they are
}

// shown are the columns that are not blank, all side by side. The table is not copied.
func (t Table) shown() block {
	filled := t.filled()
	b := block{make([]shownColumn, len(filled)), t.Rows}
	for k, j := range filled {
		b.columns[k] = shownColumn{Column: t.Columns[j], index: j}
		b.columns[k].measure(t.Rows)
	}
	return b
}

// width is how wide the columns are together.
func (b block) width() int {
	width := -len(gap)
	for _, c := range b.columns {
		width += len(gap) + c.width
	}
	return max(0, width)
}

// head and cell are the texts of the column.
func (c *shownColumn) head() string      { return c.text(c.Header) }
func (c *shownColumn) cell(r Row) string { return c.text(r.cell(c.index)) }

// text is what a terminal shows of a text.
func (c *shownColumn) text(text string) string {
	if !isPlain(text) {
		text = strings.ReplaceAll(Visible(text), "\t", " ")
	}
	if c.wrap > 0 {
		return wrap(text, c.wrap)
	}
	return text
}

// measure finds how wide the column is.
func (c *shownColumn) measure(rows []Row) {
	c.width, c.after = cellWidth(c.head()), 0
	before := 0 // the widest whole part of a number
	for _, r := range rows {
		cell := c.cell(r)
		width := cellWidth(cell)
		if after, ok := c.behindPoint(cell); ok {
			before, c.after = max(before, width-after), max(c.after, after)
		} else {
			c.width = max(c.width, width)
		}
	}
	c.width = max(c.width, before+c.after)
}

func (t Table) plain(out *bytes.Buffer, width int) {
	if t.Title != "" {
		title := oneLine(Visible(t.Title))
		fmt.Fprintf(out, "%s\n%s\n", title, strings.Repeat("─", TextWidth(title)))
	}
	parts := t.shown().split(width)
	size := len(t.Note) + len(t.Note)/8 // about, so that the output need not grow bit by bit
	for _, part := range parts {
		size += (len(part.rows) + 2) * part.width()
	}
	out.Grow(size)
	for i, part := range parts {
		if i > 0 {
			out.WriteByte('\n')
		}
		part.write(out, width)
	}
	if t.Note != "" {
		paragraph(out, Visible(t.Note), width)
	}
}

// paragraph writes a text below a blank line.
func paragraph(out *bytes.Buffer, text string, width int) {
	out.WriteByte('\n')
	out.WriteString(wrap(text, width))
	out.WriteByte('\n')
}

// split divides a block that is wider than a terminal into several. All but the first
// leave out the rows that have nothing in them.
func (b block) split(width int) []block {
	heads := Table{Columns: make([]Column, len(b.columns))}
	for k, c := range b.columns {
		heads.Columns[k] = c.Column
	}
	var parts []block
	for _, columns := range heads.Split(width, b.needed) {
		part := block{make([]shownColumn, len(columns)), b.rows}
		for i, k := range columns {
			part.columns[i] = b.columns[k]
		}
		if len(parts) > 0 {
			part.rows = nil
			for _, r := range b.rows {
				if !part.blank(r) {
					part.rows = append(part.rows, r)
				}
			}
			part.columns[0].measure(part.rows)
		}
		parts = append(parts, part)
	}
	return parts
}

// blank reports whether a row has nothing beside the first column.
func (b block) blank(r Row) bool {
	for k := 1; k < len(b.columns); k++ {
		if strings.TrimSpace(b.columns[k].cell(r)) != "" {
			return false
		}
	}
	return true
}

// write writes a block that fits into width once its texts are wrapped.
func (b block) write(out *bytes.Buffer, width int) {
	if n := b.lastText(); n >= 0 {
		last, room := &b.columns[n], width
		for k, c := range b.columns {
			if k != n {
				room -= c.width + len(gap)
			}
		}
		if room = max(room, b.needed(n)); room < last.width {
			last.wrap = room
			last.measure(b.rows)
		}
	}
	cells := make([]string, len(b.columns))
	for k := range b.columns {
		cells[k] = b.columns[k].head()
	}
	b.writeRow(out, cells, true)
	last, raw := "", ""
	for _, r := range b.rows {
		if r.Heading != raw { // rows that stand together have one
			raw = r.Heading
			if heading := oneLine(Visible(raw)); heading != last {
				if last = heading; heading != "" {
					paragraph(out, heading, width)
				}
			}
		}
		for k := range b.columns {
			cells[k] = b.columns[k].cell(r)
		}
		b.writeRow(out, cells, false)
	}
}

// writeRow writes the lines of the header or of a row, each cell as wide as its column.
// Blanks at the end of a line are left out. The cells are used up.
func (b block) writeRow(out *bytes.Buffer, cells []string, header bool) {
	for line, more := 0, true; more; line++ {
		more = false
		blanks := 0 // that are owed before the next text
		for k := range b.columns {
			c := &b.columns[k]
			text, rest, further := strings.Cut(cells[k], "\n")
			before, behind := 0, c.width-TextWidth(text)
			if c.Align != Left {
				before, behind = behind, 0
			}
			if after, ok := c.behindPoint(cells[k]); ok && line == 0 && !header {
				behind = c.after - after
				before -= behind
			}
			cells[k], more = rest, more || further
			blanks += before
			if shown := strings.TrimRight(text, " "); shown != "" {
				for ; blanks > 0; blanks-- {
					out.WriteByte(' ')
				}
				blanks = len(text) - len(shown)
				if !header && c.Paint != nil {
					shown = paint(c.Paint, shown)
				}
				out.WriteString(shown)
			} else {
				blanks += len(text)
			}
			blanks += behind + len(gap)
		}
		out.WriteByte('\n')
	}
}

// paint paints a line but for the blanks in front of it.
func paint(brush func(string) string, line string) string {
	text := strings.TrimLeft(line, " ")
	return line[:len(line)-len(text)] + brush(text)
}

// Split divides the columns into parts that can be kept to width, each of which
// begins with the first column. needed is the least width of a column. A joined
// column stays beside the one before it.
func (t Table) Split(width int, needed func(column int) int) [][]int {
	if len(t.Columns) == 0 {
		return nil
	}
	first := needed(0)
	parts := [][]int{{0}}
	used := first
	for j := 1; j < len(t.Columns); {
		group, need := []int{j}, len(gap)+needed(j)
		for j++; j < len(t.Columns) && t.Columns[j].Joined; j++ {
			group, need = append(group, j), need+len(gap)+needed(j)
		}
		last := &parts[len(parts)-1]
		if used+need > width && len(*last) > 1 {
			parts = append(parts, []int{0})
			last = &parts[len(parts)-1]
			used = first
		}
		*last = append(*last, group...)
		used += need
	}
	return parts
}

// lastText is the column that may be wrapped, -1 if there is none.
func (b block) lastText() int {
	for k := len(b.columns) - 1; k >= 0; k-- {
		if b.columns[k].Align == Left {
			return k
		}
	}
	return -1
}

// needed is the least width of a column.
func (b block) needed(k int) int {
	c := &b.columns[k]
	if k != b.lastText() || c.width <= minWrap {
		return c.width
	}
	need := max(minWrap, cellWidth(c.head()))
	for _, r := range b.rows {
		for word := range strings.FieldsSeq(c.cell(r)) {
			need = max(need, TextWidth(word))
		}
	}
	return min(need, c.width)
}

// cellWidth is the width of the longest line of a cell.
func cellWidth(cell string) int {
	if strings.IndexByte(cell, '\n') < 0 {
		return TextWidth(cell)
	}
	w := 0
	for line := range strings.SplitSeq(cell, "\n") {
		w = max(w, TextWidth(line))
	}
	return w
}

// wrap breaks each line of a text between words so that it fits into width
// where its words do. What the line is indented by stays.
func wrap(text string, width int) string {
	if cellWidth(text) <= width {
		return text
	}
	var out strings.Builder
	out.Grow(len(text) + len(text)/8)
	between := ""
	for _, line := range strings.Split(text, "\n") {
		out.WriteString(between)
		between = "\n"
		if TextWidth(line) <= width {
			out.WriteString(line)
			continue
		}
		indent := line[:len(line)-len(strings.TrimLeft(line, " "))]
		used := -1 // no word yet
		for _, word := range strings.Fields(line) {
			w := TextWidth(word)
			switch {
			case used < 0:
				out.WriteString(indent)
				used = len(indent)
			case used+1+w > width:
				out.WriteString("\n" + indent)
				used = len(indent)
			default:
				out.WriteByte(' ')
				used++
			}
			out.WriteString(word)
			used += w
		}
	}
	return out.String()
}

// behindPoint is the width of what stands behind the whole part of a number in a
// Decimal column, the point included, and whether the cell begins with a number. The
// points of a column stand above each other.
func (c *shownColumn) behindPoint(cell string) (int, bool) {
	if c.Align != Decimal {
		return 0, false
	}
	number := cell
	for _, sign := range [...]string{"-", "+", "−"} {
		if unsigned, found := strings.CutPrefix(cell, sign); found {
			number = unsigned
		}
	}
	digits := 0
	for digits < len(number) && isDigit(number[digits]) {
		digits++
	}
	rest := number[digits:]
	if digits == 0 && (len(rest) < 2 || rest[0] != '.' || !isDigit(rest[1])) || strings.Contains(rest, "\n") {
		return 0, false
	}
	return TextWidth(rest), true
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }
