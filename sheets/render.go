package sheets

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"html"
	"io"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Format names a way to print a table.
type Format string

const (
	Plain    Format = "table" // aligned columns for a terminal
	Markdown Format = "md"    // a table of GitHub Flavored Markdown
	CSV      Format = "csv"   // header and rows only, every column
	HTML     Format = "html"  // a table element and a paragraph for the note
)

// Align says how the cells of a column line up.
type Align uint8

const (
	Left    Align = iota // text
	Right                // text that ends alike
	Decimal              // numbers, on their decimal points; what is no number goes right
)

// Table is what Render prints.
type Table struct {
	Title   string // above the table
	Columns []TableColumn
	Rows    []TableRow
	Note    string // below the table
}

// TableColumn is the header of one column.
type TableColumn struct {
	Header string
	Align  Align

	// Paint, if not nil, puts escape sequences for colour around a cell of the
	// plain format. It must end what it begins.
	Paint func(cell string) string
}

// TableRow is one row. A Heading that differs from the one of the row before
// stands on a line of its own above the row.
type TableRow struct {
	Heading string
	Cells   []string
}

// Render writes the table in one of the formats. Columns without a filled cell
// are left out, except in CSV, whose readers count on them.
//
// The plain format is kept to width characters (80 if width is 0) by first
// wrapping the last column of texts between words, and then by splitting the
// table by columns into several, each of which begins with the first column.
// No number is ever cut: a single column wider than that stays so.
//
// Nothing is written if the table cannot be printed; an error of w is returned.
func (t Table) Render(w io.Writer, f Format, width int) error {
	if width <= 0 {
		width = 80
	}
	t = t.visible()
	var out bytes.Buffer
	var err error
	switch f {
	case Plain:
		err = t.filled().plain(&out, width)
	case Markdown:
		err = t.filled().markdown(&out)
	case HTML:
		err = t.filled().html(&out)
	case CSV:
		err = t.csv(&out)
	default:
		err = fmt.Errorf("no table format is called %q", string(f))
	}
	if err != nil {
		return err
	}
	_, err = w.Write(out.Bytes())
	return err
}

// Width is how wide the plain format is when nothing is wrapped or split.
func (t Table) Width() int {
	t = t.visible().filled()
	t.alignDecimals()
	width := -len(gap)
	for j := range t.Columns {
		width += len(gap) + t.columnWidth(j)
	}
	return max(0, width)
}

// Visible returns s with each control character, but for line break and tab,
// and each character without a width of its own replaced by one that shows it:
// a terminal would obey some of them, and a change of the writing direction or
// a hidden character can make a text look like another one.
func Visible(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n', r == '\t', ' ' <= r && r < 0x7f:
			return r
		case r < ' ':
			return '␀' + r
		case r == 0x7f:
			return '␡'
		case unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r), strings.ContainsRune("\u00ad\u200b\u2060\ufeff", r):
			return utf8.RuneError
		}
		return r
	}, s)
}

// visible returns the table with visible texts and as many cells in each row
// as there are columns.
func (t Table) visible() Table {
	t.Title, t.Note = Visible(t.Title), Visible(t.Note)
	t.Columns = slices.Clone(t.Columns)
	for i := range t.Columns {
		t.Columns[i].Header = Visible(t.Columns[i].Header)
	}
	rows := make([]TableRow, len(t.Rows))
	for i, r := range t.Rows {
		rows[i] = TableRow{Heading: oneLine(Visible(r.Heading)), Cells: make([]string, len(t.Columns))}
		for j := range min(len(r.Cells), len(t.Columns)) {
			rows[i].Cells[j] = Visible(r.Cells[j])
		}
	}
	t.Rows = rows
	return t
}

// filled returns the table without columns that are empty in all rows.
func (t Table) filled() Table {
	if len(t.Rows) == 0 {
		return t
	}
	var keep []int
	for j := range t.Columns {
		if slices.ContainsFunc(t.Rows, func(r TableRow) bool { return strings.TrimSpace(r.Cells[j]) != "" }) {
			keep = append(keep, j)
		}
	}
	return t.only(keep)
}

// only returns the table with some of its columns.
func (t Table) only(columns []int) Table {
	all := t
	t.Columns, t.Rows = nil, nil
	for _, j := range columns {
		t.Columns = append(t.Columns, all.Columns[j])
	}
	for _, r := range all.Rows {
		row := TableRow{Heading: r.Heading}
		for _, j := range columns {
			row.Cells = append(row.Cells, r.Cells[j])
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// edit replaces every header and cell by what f makes of it.
func (t Table) edit(f func(column int, text string) string) {
	for j := range t.Columns {
		t.Columns[j].Header = f(j, t.Columns[j].Header)
	}
	for _, r := range t.Rows {
		for j := range r.Cells {
			r.Cells[j] = f(j, r.Cells[j])
		}
	}
}

// join writes the lines of a drawn table with the headings between them. Above
// the first row stand top lines; a row is height(i) lines high.
func (t Table) join(out *bytes.Buffer, lines []string, top int, height func(i int) int, heading func(string) string) error {
	write := func(n int) {
		for _, line := range lines[:n] {
			out.WriteString(line)
			out.WriteByte('\n')
		}
		lines = lines[n:]
	}
	last := ""
	for i, r := range t.Rows {
		n := height(i)
		if i == 0 {
			n += top
		}
		if n > len(lines) {
			return errors.New("table has fewer lines than its cells")
		}
		if i == 0 {
			write(top)
			n -= top
		}
		if r.Heading != last && r.Heading != "" {
			out.WriteString(heading(r.Heading))
		}
		last = r.Heading
		write(n)
	}
	write(len(lines))
	return nil
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

func single(int) int { return 1 }

// --- plain

const gap = "  " // between columns

// minWrap is the width below which texts are not wrapped: a split table reads
// better.
const minWrap = 20

func (t Table) plain(out *bytes.Buffer, width int) error {
	if t.Title != "" {
		title := oneLine(t.Title)
		fmt.Fprintf(out, "%s\n%s\n", title, strings.Repeat("─", TextWidth(title)))
	}
	t.edit(func(_ int, text string) string { return strings.ReplaceAll(text, "\t", " ") })
	t.alignDecimals()
	for i, columns := range t.split(width) {
		part := t.only(columns)
		if i > 0 {
			out.WriteByte('\n')
			part.Rows = slices.DeleteFunc(part.Rows, func(r TableRow) bool { return blank(r.Cells[1:]) })
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

// split divides the columns into tables that can be kept to width.
func (t Table) split(width int) [][]int {
	if len(t.Columns) == 0 {
		return nil
	}
	first := t.needed(0)
	parts := [][]int{{0}}
	used := first
	for j := 1; j < len(t.Columns); j++ {
		need := len(gap) + t.needed(j)
		last := &parts[len(parts)-1]
		if used+need > width && len(*last) > 1 {
			parts = append(parts, []int{0})
			last = &parts[len(parts)-1]
			used = first
		}
		*last = append(*last, j)
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
// where its words do.
func wrap(text string, width int) string {
	var lines []string
	for line := range strings.SplitSeq(text, "\n") {
		if TextWidth(line) <= width {
			lines = append(lines, line)
			continue
		}
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

// --- Markdown

func (t Table) markdown(out *bytes.Buffer) error {
	if t.Title != "" {
		fmt.Fprintf(out, "### %s\n\n", oneLine(escapeMarkdown(t.Title)))
	}
	t.edit(func(_ int, text string) string { return escapeMarkdown(text) })
	lines, err := t.draw(Markdown)
	if err != nil {
		return err
	}
	err = t.join(out, lines, 2, single, func(heading string) string {
		return fmt.Sprintf("| **%s** |%s\n", escapeMarkdown(heading), strings.Repeat(" |", len(t.Columns)-1))
	})
	if err == nil && t.Note != "" {
		fmt.Fprintf(out, "\n%s\n", escapeLineStart(escapeMarkdown(t.Note)))
	}
	return err
}

var (
	markdownBreaks = strings.NewReplacer("\n", "<br>", "\t", " ",
		`\`, `\\`, "|", `\|`, "`", "\\`", "*", `\*`, "~", `\~`, "[", `\[`, "]", `\]`, "<", "&lt;", ">", "&gt;", "&", "&amp;")
	// Inside a word an underscore has no meaning, and names are full of them.
	outerUnderscore = regexp.MustCompile(`\b_+|_+\b`)
	lineStart       = regexp.MustCompile(`^(?:[#=+-]|[0-9]+[.)])`)
)

// escapeMarkdown makes a text stand for itself in a cell or on a line.
func escapeMarkdown(s string) string {
	s = markdownBreaks.Replace(s)
	return outerUnderscore.ReplaceAllStringFunc(s, func(u string) string { return strings.ReplaceAll(u, "_", `\_`) })
}

// escapeLineStart keeps a line from being read as a list, a heading or a rule.
func escapeLineStart(s string) string {
	return lineStart.ReplaceAllStringFunc(s, func(start string) string {
		n := len(start) - 1
		return start[:n] + `\` + start[n:]
	})
}

// --- HTML

func (t Table) html(out *bytes.Buffer) error {
	t.edit(func(_ int, text string) string { return escapeHTML(text) })
	lines, err := t.draw(HTML)
	if err != nil {
		return err
	}
	if t.Title != "" && len(lines) > 0 {
		lines[0] += "<caption>" + escapeHTML(t.Title) + "</caption>"
	}
	top := 1 + slices.Index(lines, "<tbody>")
	err = t.join(out, lines, top, single, func(heading string) string {
		return fmt.Sprintf("  <tr><th colspan=\"%d\" style=\"text-align: left;\">%s</th></tr>\n", len(t.Columns), escapeHTML(heading))
	})
	if err == nil && t.Note != "" {
		fmt.Fprintf(out, "<p>%s</p>\n", escapeHTML(t.Note))
	}
	return err
}

func escapeHTML(s string) string {
	return strings.ReplaceAll(html.EscapeString(s), "\n", "<br>")
}

// --- CSV

func (t Table) csv(out *bytes.Buffer) error {
	w := csv.NewWriter(out)
	var header []string
	for _, c := range t.Columns {
		header = append(header, Harmless(c.Header))
	}
	if err := w.Write(header); err != nil {
		return err
	}
	for _, r := range t.Rows {
		for j := range r.Cells {
			r.Cells[j] = Harmless(r.Cells[j])
		}
		if err := w.Write(r.Cells); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}

var plainNumber = regexp.MustCompile(`^[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?$`)

// Harmless returns a cell for a CSV file with an apostrophe in front if a
// spreadsheet would run it as a formula. Numbers stay numbers.
func Harmless(cell string) string {
	if cell == "" || !strings.ContainsRune("=+-@\t\r", rune(cell[0])) || plainNumber.MatchString(cell) {
		return cell
	}
	return "'" + cell
}
