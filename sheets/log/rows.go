package log

import (
	"bytes"
	"math/bits"
	"slices"
	"strings"
	"unicode/utf8"

	"rambook/sheets"
)

// Batch is a run of consecutive rows of a log.
type Batch struct {
	First  int64       // number of the first row, from 0
	N      int         // rows
	Values [][]float64 // one slice per column that was asked for, at least N long

	line      int // lines of the file before the batch
	lines     int // lines in it
	odd       []oddLine
	faults    []sheets.Problem // Line and Column are counted from the batch
	short     int              // lines with fewer cells than the header, which are no rows
	shortAt   int              // the first of them: lines of the batch before it
	cut       bool
	noNumbers []int // of each column asked for, where texts are gaps
	columns   []column

	number   int64
	buffer   []byte // what was read, with padding behind it
	from, to int    // the lines of the batch in the buffer
	err      error
}

// oddLine are lines that are no rows: blank ones, comments, those cut short.
type oddLine struct {
	row   int // rows before them
	count int // of them up to there
}

// Line is the line of the file on which a row of the batch stands, from 1.
func (b *Batch) Line(row int) int {
	extra := 0
	if i, _ := slices.BinarySearchFunc(b.odd, row+1, func(o oddLine, row int) int { return o.row - row }); i > 0 {
		extra = b.odd[i-1].count
	}
	return b.line + row + extra + 1
}

// NoNumbers counts the cells of a column that hold something else, where texts
// are gaps.
func (b *Batch) NoNumbers(column int) int { return b.noNumbers[column] }

// mostFaults of a log are reported; it is probably one mistake.
const mostFaults = 20

// plan is what is read of each line.
type plan struct {
	log   *Log
	slots []int    // of each column of the file: its index in the batch, -1 for one that is not asked for
	last  int      // the last column that is asked for
	slow  []bool   // of each column of the file: its cells are no plain numbers
	texts []*Texts // of each column of the file: what its cells are read into, nil for numbers
	gap   float64

	lenient bool // a text is a gap
}

// read takes the lines of a batch apart.
func (p *plan) read(b *Batch) {
	data, width := b.buffer, len(p.slots)
	b.N, b.lines, b.odd, b.faults, b.short = 0, 0, b.odd[:0], b.faults[:0], 0
	b.noNumbers = append(b.noNumbers[:0], make([]int, len(b.Values))...)
	room := 0
	if len(b.Values) > 0 {
		room = len(b.Values[0])
	}
	var texts []lastText
	if p.texts != nil {
		texts = make([]lastText, width)
	}
	b.columns = b.columns[:0]
	for _, at := range p.slots[:p.last+1] {
		c := column{form: unformed}
		if at >= 0 {
			c.values = b.Values[at]
		}
		b.columns = append(b.columns, c)
	}
	for i := b.from; i < b.to; b.lines++ {
		start := i
		if c := data[i]; c == '\n' || c == '#' || c == '\r' {
			b.strange()
			i += bytes.IndexByte(data[i:], '\n') + 1
			continue
		}
		if b.N == room {
			room = b.grow()
			for k, at := range p.slots[:p.last+1] {
				if at >= 0 {
					b.columns[k].values = b.Values[at]
				}
			}
		}
		k := 0
		for k <= p.last {
			if k, i = alike(data, i, k, b.columns, b.N); k > p.last || data[i-1] != ',' && i > start {
				break
			}
			v, end, f := plain(data, i)
			if f == nil || p.slow[k] {
				v, end = p.cell(b, k, start, i, texts)
			} else {
				b.columns[k].form = f
			}
			b.columns[k].values[b.N] = v
			i = end + 1
			if data[end] != ',' {
				break
			}
			k++
		}
		if data[i-1] == '\r' {
			i = b.lineFeed(i, start)
		}
		cells := min(k, p.last) + 1
		if data[i-1] == ',' {
			var more int
			more, i = rest(data, i)
			cells += more + 1
			i++
		}
		switch {
		case cells > width:
			b.tell(start, start, "", "the line has more cells than the header",
				"numbers with a decimal comma are set right by `rambook take`")
		case cells < width:
			if len(bytes.TrimSpace(data[start:i])) > 0 {
				if b.short == 0 {
					b.shortAt = b.lines
				}
				b.short++
			}
			b.strange()
			continue
		}
		b.N++
	}
}

// column is one that is read, or stepped over.
type column struct {
	values []float64 // nil: nobody asks for it
	form   *form     // that of the number above
}

// alike reads the cells of a line, from column k at data[i] on, as long as each
// has the form of the one above it. It gives the first column that has another
// one, and where it begins, or where the next line does.
func alike(data []byte, i, k int, columns []column, row int) (int, int) {
	for ; k < len(columns); k++ {
		c := &columns[k]
		var end int
		if c.values == nil {
			end = cellAfter(data, i)
		} else {
			f, at := c.form, i
			w := eight(data, at)
			negative := byte(w) == '-'
			if negative {
				at++
				w = eight(data, at)
			}
			t := w ^ f.zero
			if notDigits(t)&f.digits|t&f.point != 0 {
				return k, i
			}
			end = at + f.length
			var mantissa uint64
			if f.behind == 0 {
				mantissa = decimal((t&f.before<<8 | t&^f.before) << (f.shift & 63))
			} else {
				u := eight(data, end-f.places) ^ zeros
				if data[end-f.places-1] != '.' || notDigits(u)&f.digitsBehind != 0 {
					return k, i
				}
				mantissa = decimal(t<<(f.shift&63))*f.behind + decimal(u<<(f.shiftBehind&63))
			}
			if c := data[end]; c != ',' && c != '\n' && c != '\r' {
				return k, i
			}
			v := float64(int64(mantissa)) / f.divisor
			if negative {
				v = -v
			}
			c.values[row] = v
		}
		i = end + 1
		if data[end] != ',' {
			return k, i
		}
	}
	return k, i
}

// strange notes that the current line is no row.
func (b *Batch) strange() {
	n := len(b.odd)
	if n > 0 && b.odd[n-1].row == b.N {
		b.odd[n-1].count++
		return
	}
	before := 0
	if n > 0 {
		before = b.odd[n-1].count
	}
	b.odd = append(b.odd, oddLine{b.N, before + 1})
}

// lineFeed steps over the line feed behind a carriage return.
func (b *Batch) lineFeed(i, start int) int {
	if b.buffer[i] != '\n' {
		b.tell(start, i-1, "", "found a lone carriage return", "save the log with the line ends LF or CRLF")
		return i + bytes.IndexByte(b.buffer[i:], '\n') + 1
	}
	return i + 1
}

// grow makes room for more rows; it is done a few times in a whole log.
func (b *Batch) grow() int {
	room := max(1024, 2*b.N)
	for i, old := range b.Values {
		b.Values[i] = make([]float64, room)
		copy(b.Values[i], old)
	}
	return room
}

// tell keeps what is wrong at a place of the current line.
func (b *Batch) tell(start, at int, text, message, hint string) {
	if len(b.faults) < mostFaults {
		b.faults = append(b.faults, sheets.Problem{Line: b.lines + 1, Column: utf8.RuneCount(b.buffer[start:at]) + 1,
			Text: text, To: utf8.RuneCountInString(text), Message: message, Hint: hint})
	}
}

// cell reads a cell that is no plain number, which may be anything.
func (p *plan) cell(b *Batch, k, start, i int, texts []lastText) (v float64, end int) {
	data, ok := b.buffer, false
	end = cellAfter(data, i)
	text := unquoted(data[i:end])
	switch {
	case p.texts != nil && p.texts[k] != nil:
		v, ok = texts[k].index(p.texts[k], text)
		if !ok {
			b.tell(start, i, clip(text), "there are too many different texts in this column", "")
		}
		return v, end
	case k == 0 && p.log.Dated:
		seconds, fraction, ok := dateTime(text)
		if !ok {
			b.tell(start, i, clip(text), "a date with a time of day is needed here",
				"write it as 2026-05-04 08:30:00.25, as in the first row")
		}
		return float64(seconds-p.log.Midnight) + fraction, end
	case isGap(text):
		if k == 0 {
			b.tell(start, i, "", "the time is missing", "")
		}
		return p.gap, end
	}
	v, ok = number(text)
	if !ok && p.lenient && k > 0 {
		b.noNumbers[p.slots[k]]++
		return p.gap, end
	}
	if !ok {
		hint := "leave the cell blank where there is no sample"
		if bytes.IndexByte(text, ';') >= 0 || bytes.IndexByte(text, '\t') >= 0 || bytes.IndexByte(text, ',') >= 0 {
			hint = sheets.TakeHint
		}
		if _, _, dated := dateTime(text); dated {
			hint = "the first row has a number as its time"
		}
		b.tell(start, i, clip(text), "a number is needed in the column "+p.log.Columns[k].Name, hint)
	}
	return v, end
}

// clip keeps of a text what a message can show.
func clip(text []byte) string {
	s := strings.ToValidUTF8(string(text[:min(len(text), 40)]), "")
	if len(text) > 40 {
		s += "…"
	}
	return s
}

// cellAfter is where the cell that begins at b[i] ends: at a comma, or at the
// line feed. A quoted cell reaches to its closing quote, or to the end of the line.
func cellAfter(b []byte, i int) int {
	if b[i] == '"' {
		for i++; b[i] != '\n'; i++ {
			if b[i] != '"' {
				continue
			}
			if b[i+1] != '"' {
				break
			}
			i++
		}
	}
	for {
		w := eight(b, i)
		if m := matches(w, ',') | matches(w, '\n'); m != 0 {
			return i + bits.TrailingZeros64(m)>>3
		}
		i += 8
	}
}

// rest counts the commas up to the end of the line, at b[end].
func rest(b []byte, i int) (commas, end int) {
	from := i
	for ; ; i += 8 {
		w := eight(b, i)
		if matches(w, '"') != 0 {
			break
		}
		comma := matches(w, ',')
		if feed := matches(w, '\n'); feed != 0 {
			return commas + bits.OnesCount64(comma&(feed&-feed-1)), i + bits.TrailingZeros64(feed)>>3
		}
		commas += bits.OnesCount64(comma)
	}
	for commas, i = 0, from; ; commas++ { // a comma in quotes parts no cells
		if i = cellAfter(b, i); b[i] == '\n' {
			return commas, i
		}
		i++
	}
}

// matches has the highest bit of each byte of w set that is c.
func matches(w uint64, c byte) uint64 {
	x := w ^ ones*uint64(c)
	return ^((x&^highs + (^uint64(0) &^ highs)) | x | ^uint64(highs))
}

// problems turns what is wrong in a batch into problems of the file.
func (b *Batch) problems(l *Log) (list []sheets.Problem) {
	for _, f := range b.faults {
		f.File, f.Line = l.Shown, f.Line+b.line
		list = append(list, f)
	}
	return list
}
