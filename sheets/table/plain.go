package table

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"
)

const gap = "  " // between columns

// minWrap is the width below which texts are not wrapped: a split table reads
// better.
const minWrap = 20

// Width is how wide the plain format is when nothing is wrapped or split.
func (t Table) Width() int {
	t = t.visible().Filled()
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
	heights := make([]int, len(t.Rows))
	for i, r := range t.Rows {
		heights[i] = height(r.Cells)
	}
	var header []string
	for j, c := range t.Columns {
		header = append(header, c.Header)
		if c.Paint != nil {
			for _, r := range t.Rows {
				r.Cells[j] = paint(c.Paint, r.Cells[j])
			}
		}
	}
	lines, err := t.draw(Plain)
	if err != nil {
		return err
	}
	for i := range lines {
		lines[i] = trimLine(lines[i])
	}
	return t.join(out, lines, height(header), func(i int) int { return heights[i] },
		func(heading string) string { return "\n" + wrap(heading, width) + "\n" })
}

// trimLine takes off the blanks at the end of a line, and the end of colour
// that tablewriter puts behind the blanks of a painted cell.
func trimLine(line string) string {
	line = strings.TrimRight(line, " ")
	if inner, found := strings.CutSuffix(line, "\x1b[0m"); found && strings.HasSuffix(inner, " ") {
		return strings.TrimRight(inner, " ")
	}
	return line
}

// paint paints each line of a cell that is not blank.
func paint(brush func(string) string, cell string) string {
	lines := strings.Split(cell, "\n")
	for i, line := range lines {
		if text := strings.TrimSpace(line); text != "" {
			lines[i] = strings.Replace(line, text, brush(text), 1)
		}
	}
	return strings.Join(lines, "\n")
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

var wholePart = regexp.MustCompile(`^[-+−]?(?:[0-9]+|[0-9]*\.[0-9])`)

// behindPoint is the width of what stands behind the whole part of a number,
// the point included, and whether the cell begins with a number.
func behindPoint(cell string) (int, bool) {
	found := wholePart.FindString(cell)
	if found == "" {
		return 0, false
	}
	whole, _, _ := strings.Cut(found, ".")
	return TextWidth(cell[len(whole):]), true
}
