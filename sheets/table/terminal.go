package table

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

const gap = "  " // between columns

// minWrap is the width below which texts are not wrapped: a split table reads
// better.
const minWrap = 20

// Width is how wide the plain format is when nothing is wrapped or split.
func (t Table) Width() int {
	t = t.visible().WithoutBlank()
	t.alignDecimals()
	width := -len(gap)
	for j := range t.Columns {
		width += len(gap) + t.columnWidth(j)
	}
	return max(0, width)
}

func (t Table) plain(out *bytes.Buffer, width int) error {
	if t.Title != "" {
		title := oneLine(t.Title)
		fmt.Fprintf(out, "%s\n%s\n", title, strings.Repeat("─", TextWidth(title)))
	}
	t.edit(func(_ int, text string) string { return strings.ReplaceAll(text, "\t", " ") })
	t.alignDecimals()
	for i, columns := range t.Split(width, t.needed) {
		part := t.Only(columns)
		if i > 0 {
			out.WriteByte('\n')
			part.Rows = slices.DeleteFunc(part.Rows, func(r Row) bool { return blank(r.Cells[1:]) })
		}
		if err := part.plainPart(out, width); err != nil {
			return err
		}
	}
	if t.Note != "" {
		fmt.Fprintf(out, "\n%s\n", wrap(t.Note, width))
	}
	return nil
}

// plainPart prints a table that fits into width once its texts are wrapped.
func (t Table) plainPart(out *bytes.Buffer, width int) error {
	if n := t.lastText(); n >= 0 {
		room := width
		for j := range t.Columns {
			if j != n {
				room -= t.columnWidth(j) + len(gap)
			}
		}
		room = max(room, t.needed(n))
		t.edit(func(j int, text string) string {
			if j != n {
				return text
			}
			return wrap(text, room)
		})
	}
	widths := make([]int, len(t.Columns))
	header := make([]string, len(t.Columns))
	for j, c := range t.Columns {
		widths[j], header[j] = t.columnWidth(j), c.Header
	}
	lines := t.spread(nil, header, widths, false)
	heights := make([]int, len(t.Rows))
	for i, r := range t.Rows {
		above := len(lines)
		lines = t.spread(lines, r.Cells, widths, true)
		heights[i] = len(lines) - above
	}
	return t.join(out, lines, height(header), func(i int) int { return heights[i] },
		func(heading string) string { return "\n" + wrap(heading, width) + "\n" })
}

// spread appends the lines of a row, each cell as wide as its column. Blanks at
// the end of a line are left out.
func (t Table) spread(lines, cells []string, widths []int, painted bool) []string {
	first := len(lines)
	for range height(cells) {
		lines = append(lines, "")
	}
	rest := make([]string, len(cells))
	copy(rest, cells)
	var line strings.Builder
	for k := first; k < len(lines); k++ {
		line.Reset()
		blanks := 0 // that are owed before the next text
		for j, c := range t.Columns {
			var text string
			text, rest[j], _ = strings.Cut(rest[j], "\n")
			room := widths[j] - TextWidth(text)
			if c.Align != Left {
				blanks, room = blanks+room, 0
			}
			if shown := strings.TrimRight(text, " "); shown != "" {
				for ; blanks > 0; blanks-- {
					line.WriteByte(' ')
				}
				blanks = len(text) - len(shown)
				if painted && c.Paint != nil {
					shown = paint(c.Paint, shown)
				}
				line.WriteString(shown)
			} else {
				blanks += len(text)
			}
			blanks += room + len(gap)
		}
		lines[k] = line.String()
	}
	return lines
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

// blank reports whether there is nothing in the cells.
func blank(cells []string) bool {
	return !slices.ContainsFunc(cells, func(c string) bool { return strings.TrimSpace(c) != "" })
}

// lastText is the column that may be wrapped, -1 if there is none.
func (t Table) lastText() int {
	for j := len(t.Columns) - 1; j >= 0; j-- {
		if t.Columns[j].Align == Left {
			return j
		}
	}
	return -1
}

// needed is the least width of a column.
func (t Table) needed(j int) int {
	full := t.columnWidth(j)
	if j != t.lastText() || full <= minWrap {
		return full
	}
	need := max(minWrap, cellWidth(t.Columns[j].Header))
	for _, r := range t.Rows {
		for _, word := range strings.Fields(r.Cells[j]) {
			need = max(need, TextWidth(word))
		}
	}
	return min(need, full)
}

func (t Table) columnWidth(j int) int {
	w := cellWidth(t.Columns[j].Header)
	for _, r := range t.Rows {
		w = max(w, cellWidth(r.Cells[j]))
	}
	return w
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

// height is the number of lines of a row.
func height(cells []string) int {
	n := 1
	for _, c := range cells {
		n = max(n, 1+strings.Count(c, "\n"))
	}
	return n
}

// wrap breaks each line of a text between words so that it fits into width
// where its words do. What the line is indented by stays.
func wrap(text string, width int) string {
	var lines []string
	for line := range strings.SplitSeq(text, "\n") {
		if TextWidth(line) <= width {
			lines = append(lines, line)
			continue
		}
		indent := line[:len(line)-len(strings.TrimLeft(line, " "))]
		current, used := "", 0
		for _, word := range strings.Fields(line) {
			w := TextWidth(word)
			if current != "" && used+1+w > width {
				lines = append(lines, current)
				current, used = "", 0
			}
			if current != "" {
				current += " "
				used++
			} else {
				current, used = indent, len(indent)
			}
			current += word
			used += w
		}
		lines = append(lines, current)
	}
	return strings.Join(lines, "\n")
}

// alignDecimals pads the numbers of Decimal columns so that their decimal
// points stand above each other when the column is aligned right.
func (t Table) alignDecimals() {
	for j, c := range t.Columns {
		if c.Align != Decimal {
			continue
		}
		after := 0
		for _, r := range t.Rows {
			if n, ok := behindPoint(r.Cells[j]); ok {
				after = max(after, n)
			}
		}
		for _, r := range t.Rows {
			if n, ok := behindPoint(r.Cells[j]); ok {
				r.Cells[j] += strings.Repeat(" ", after-n)
			}
		}
	}
}

// behindPoint is the width of what stands behind the whole part of a number,
// the point included, and whether the cell begins with a number.
func behindPoint(cell string) (int, bool) {
	const digits = "0123456789"
	number := cell
	for _, sign := range [...]string{"-", "+", "−"} {
		if unsigned, found := strings.CutPrefix(cell, sign); found {
			number = unsigned
		}
	}
	rest := strings.TrimLeft(number, digits)
	if rest == number && (len(rest) < 2 || rest[0] != '.' || strings.IndexByte(digits, rest[1]) < 0) {
		return 0, false
	}
	return TextWidth(rest), true
}
