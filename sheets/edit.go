package sheets

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// IsFrom reports whether the sheet was read from exactly these bytes, so that
// the places of its cells hold in them.
func (s *Sheet) IsFrom(data []byte) bool { return s.data == string(data) }

// ReplaceAt returns data with the text of one cell replaced and every other
// byte kept: byte order mark, line ends, comments, quotes and blanks around
// other cells. The cell was read from the same data. Several cells of one file
// are replaced from the last to the first, so that the places of those still to
// come stay true. It is an error if the cell is not there any more, if a record
// up to there is no CSV, or if the text could not be read back.
func ReplaceAt(data []byte, c Cell, text string) ([]byte, error) {
	record, err := recordOn(data, int(c.Line))
	if err != nil {
		return nil, err
	}
	at := int(c.offset)
	for n, f := range record {
		if f.start <= at && at <= f.end {
			return record.set(data, n, text)
		}
	}
	return nil, fmt.Errorf("no cell stands on line %d, column %d any more", c.Line, c.Column)
}

// ReplaceCells returns data with the texts of many cells replaced, in one pass.
// The cells were read from the same data, of which every other byte is kept.
func ReplaceCells(data []byte, texts map[Cell]string) ([]byte, error) {
	if len(texts) == 0 {
		return data, nil
	}
	at := make(map[int]string, len(texts))
	for c, text := range texts {
		if err := writable(text); err != nil {
			return nil, err
		}
		at[int(c.offset)] = text
	}
	var out bytes.Buffer
	done, replaced := 0, 0
	scan := newScanner(string(data))
	for err := scan.scan(); err != io.EOF; err = scan.scan() {
		if err != nil {
			return nil, err
		}
		for n, f := range scan.fields {
			text, found := at[textAt(data, f)]
			if !found || strings.TrimSpace(f.text) == "" {
				continue
			}
			if n == 0 && isRemark(text) {
				return nil, errRemark
			}
			out.Write(data[done:f.start])
			out.WriteString(inFile(text, n == 0, len(scan.fields) == 1))
			done = f.end
			replaced++
		}
	}
	if replaced < len(at) {
		return nil, fmt.Errorf("%d cells do not stand any more where they were read", len(at)-replaced)
	}
	out.Write(data[done:])
	return out.Bytes(), nil
}

// textAt is the offset of the first character of a cell's text.
func textAt(data []byte, f field) int {
	blank := func(from int) int {
		rest := data[from:f.end]
		return from + len(rest) - len(bytes.TrimLeftFunc(rest, unicode.IsSpace))
	}
	if f.start < f.end && data[f.start] == '"' {
		return blank(f.start + 1)
	}
	return blank(f.start)
}

// SetCell replaces the cell in the record on a physical line, from 1, as
// ReplaceAt does; the column is named by its header, if need be in capitals. A
// column that the header does not have is added at its end; no other record
// changes.
func SetCell(data []byte, line int, column, text string) ([]byte, error) {
	record, err := recordOn(data, line)
	if err != nil {
		return nil, err
	}
	header := newScanner(string(data))
	if err := header.row(); err != nil {
		return nil, err
	}
	if record[0].start == header.fields[0].start {
		return nil, fmt.Errorf("line %d is the header", line)
	}
	n := slices.IndexFunc(header.fields, func(f field) bool { return strings.TrimSpace(f.text) == column })
	if n < 0 {
		n = slices.IndexFunc(header.fields, func(f field) bool {
			return strings.EqualFold(strings.TrimSpace(f.text),
				column)
		})
	}
	if n >= 0 {
		return record.set(data, n, text)
	}
	// The record stands behind the header, so it is changed first.
	n = len(header.fields)
	data, err = record.set(data, n, text)
	if err != nil {
		return nil, err
	}
	return row(header.fields).set(data, n, column)
}

// AppendRecord returns data with one record added at its end and every other
// byte kept, and the physical line, from 1, on which the record begins. The new
// line ends as the line before it does; if that one has no line end, it gets
// one, and the new one goes without.
func AppendRecord(data []byte, fields []string) (changed []byte, line int, err error) {
	if p := refuse(newScanner(string(data))); p != nil {
		return nil, 0, *p
	}
	scan := newScanner(string(data))
	err = scan.scan()
	for err == nil {
		err = scan.scan()
	}
	if err != io.EOF {
		return nil, 0, err
	}
	if len(fields) == 0 {
		return nil, 0, errors.New("record has no cells")
	}
	if isRemark(fields[0]) {
		return nil, 0, errRemark
	}
	cells := make([]string, len(fields))
	for i, text := range fields {
		if err := writable(text); err != nil {
			return nil, 0, err
		}
		cells[i] = inFile(text, i == 0, len(fields) == 1)
	}

	lineEnd := "\n"
	if i := bytes.LastIndexByte(data, '\n'); i > 0 && data[i-1] == '\r' {
		lineEnd = "\r\n"
	}
	record := strings.Join(cells, ",")
	if bytes.HasSuffix(data, []byte("\n")) || len(bytes.TrimPrefix(data, []byte(utf8BOM))) == 0 {
		record += lineEnd
	} else {
		record = lineEnd + record
	}
	changed = slices.Concat(data, []byte(record))

	line = 1 + bytes.Count(data, []byte("\n"))
	if strings.HasPrefix(record, lineEnd) {
		line++
	}
	again, err := recordOn(changed, line)
	if err != nil {
		return nil, 0, err
	}
	if !slices.EqualFunc(again, fields, reads) {
		return nil, 0, errUnreadable
	}
	return changed, line, nil
}

var errUnreadable = errors.New("this text cannot stand in a cell")

var errRemark = errors.New("a first cell that begins with # makes a comment of its record")

// reads reports whether a cell gives a text back, but for outer blanks.
func reads(f field, text string) bool {
	return strings.TrimSpace(f.text) == strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n"))
}

// row is the cells of one record.
type row []field

// DropRecords returns data without the records that begin on some physical
// lines, from 1, and every other byte kept.
func DropRecords(data []byte, lines []int) ([]byte, error) {
	scan := newScanner(string(data))
	if p := refuse(scan); p != nil {
		return nil, *p
	}
	var kept []byte
	from := 0
	for {
		switch err := scan.scan(); {
		case err == io.EOF:
			return append(kept, data[from:]...), nil
		case err != nil:
			return nil, err
		}
		if !slices.Contains(lines, scan.fields[0].line) {
			continue
		}
		begin := 1 + bytes.LastIndexByte(data[:scan.fields[0].start], '\n')
		end := scan.fields[len(scan.fields)-1].end
		if n := bytes.IndexByte(data[end:], '\n'); n >= 0 {
			end += n + 1
		} else {
			end = len(data)
		}
		kept = append(kept, data[from:begin]...)
		from = end
	}
}

// recordOn returns the record that stands on a physical line.
func recordOn(data []byte, line int) (row, error) {
	scan := newScanner(string(data))
	if p := refuse(scan); p != nil {
		return nil, *p
	}
	for {
		switch err := scan.scan(); {
		case err == io.EOF, err == nil && line < scan.fields[0].line:
			return nil, fmt.Errorf("no record stands on line %d", line)
		case err != nil:
			return nil, err
		}
		last := scan.fields[len(scan.fields)-1]
		if line <= last.line+bytes.Count(data[last.start:last.end], []byte("\n")) {
			return scan.fields, nil
		}
	}
}

// set returns data with the text of one cell of the record replaced, after
// reading the result back.
func (r row) set(data []byte, n int, text string) ([]byte, error) {
	if err := writable(text); err != nil {
		return nil, err
	}
	if n == 0 && isRemark(text) {
		return nil, errRemark
	}
	new := inFile(text, n == 0, len(r) == 1)
	var start, end int
	if n >= len(r) {
		start = r[len(r)-1].end
		end = start
		new = strings.Repeat(",", n-len(r)+1) + new
	} else {
		start, end = r[n].start, r[n].end
		if old := data[start:end]; new == text {
			if len(old) > 0 && old[0] == '"' {
				new = `"` + text + `"` // quotes that were there stay, and
			} else { // so do blanks that line the columns up
				inner := bytes.TrimLeftFunc(old, unicode.IsSpace)
				start = end - len(inner)
				end = start + len(bytes.TrimRightFunc(inner, unicode.IsSpace))
			}
		}
	}
	changed := slices.Concat(data[:start], []byte(new), data[end:])

	again, err := recordOn(changed, r[0].line)
	if err != nil {
		return nil, err
	}
	if n >= len(again) || !reads(again[n], text) {
		return nil, errUnreadable
	}
	return changed, nil
}

// inFile returns a cell's text as it stands in a file, in double quotes if it
// needs them: in the first cell of a record # would begin a comment, and an
// only cell that is blank would make a blank line.
func inFile(text string, first, only bool) string {
	switch {
	case strings.ContainsAny(text, ",\"\r\n"),
		strings.TrimSpace(text) != text,
		first && (strings.HasPrefix(text, "#") || strings.HasPrefix(text, utf8BOM)),
		only && text == "":
		return `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
	}
	return text
}

// writable is why a text cannot stand in a cell.
func writable(text string) error {
	switch {
	case len(text) > MaxCellSize:
		return fmt.Errorf("text holds %d bytes, the limit of a cell is %d KiB", len(text), MaxCellSize>>10)
	case !utf8.ValidString(text):
		return errors.New("text is not UTF-8")
	case strings.ContainsRune(text, 0):
		return errors.New("text holds a NUL byte")
	case strings.Contains(strings.ReplaceAll(text, "\r\n", ""), "\r"):
		// a file may be taken for one of very old lines
		return errors.New("text holds a carriage return that ends no line")
	}
	return nil
}
