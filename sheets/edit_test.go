package sheets

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var replaceTests = []struct {
	name, file  string
	line, field int
	text, want  string // want begins with "error: " for an error
}{
	{"plain", "name,entry\na,1\nb,2\n", 2, 1, "7", "name,entry\na,7\nb,2\n"},
	{"last line without line end", "name,entry\na,1", 2, 1, "7", "name,entry\na,7"},
	{"carriage return at the end", "name,entry\r\na,1\r", 2, 1, "7", "name,entry\r\na,7\r"},
	{"CRLF, mark, comments, unknown columns", "\ufeff# x\r\nname,entry,zz\r\n\r\n## \"H\r\n a ,\t1 , z\r\n#", 5, 1, "7",
		"\ufeff# x\r\nname,entry,zz\r\n\r\n## \"H\r\n a ,\t7 , z\r\n#"},
	{"header in line 1 behind a mark", "\ufeffname,entry\n", 1, 0, "x", "\ufeffx,entry\n"},
	{"comma", "name,entry\na,1\n", 2, 1, "=max(b, c)", "name,entry\na,\"=max(b, c)\"\n"},
	{"quotes", "name,entry\na, 1 \n", 2, 1, `say "x"`, "name,entry\na,\"say \"\"x\"\"\"\n"},
	{"returns before a line break", "\n0", 2, 1, "0\r\r\n0", "error: text holds a carriage return that ends no line"},
	{"a return alone", "name", 1, 1, "\r", "error: text holds a carriage return that ends no line"},
	{"line break", "name,entry\na,1\n", 2, 1, "x\ny", "name,entry\na,\"x\ny\"\n"},
	{"outer blank", "name,entry\na,1\n", 2, 1, " x", "name,entry\na,\" x\"\n"},
	{"quotes that were there", "name,entry\n\"a\",\"1\"\n", 2, 1, "7", "name,entry\n\"a\",\"7\"\n"},
	{"from a quoted cell to a blank one", "name,entry\n\"a\",\"1\"\n", 2, 1, "", "name,entry\n\"a\",\"\"\n"},
	{"from a blank cell", "name,entry,unit\na,,mm\n", 2, 1, "7", "name,entry,unit\na,7,mm\n"},
	{"from a cell of blanks", "name,entry,unit\na,   ,mm\n", 2, 1, "7", "name,entry,unit\na,   7,mm\n"},
	{"cell of several lines", "name,entry,note\na,\"1\n2\",\"x\ny\"\nb,3,\n", 3, 1, "7",
		"name,entry,note\na,\"7\",\"x\ny\"\nb,3,\n"},
	{"last line of a record of several", "name,entry,note\na,\"1\n2\",\"x\ny\"\nb,3,\n", 4, 2, "z",
		"name,entry,note\na,\"1\n2\",\"z\"\nb,3,\n"},
	{"first cell that looks like a comment", "name,entry\na,1\n", 2, 0, "#a",
		"error: a first cell that begins with # makes a comment of its record"},
	{"later cell that looks like a comment", "name,entry\na,1\n", 2, 1, "#7", "name,entry\na,#7\n"},
	{"short record", "name,entry,unit,low\na\nb,2\n", 2, 3, "7", "name,entry,unit,low\na,,,7\nb,2\n"},
	{"short record, quoted, CRLF", "name,entry,unit\r\n\"a\"\r\n", 2, 2, "a,b",
		"name,entry,unit\r\n\"a\",,\"a,b\"\r\n"},
	{"only cell made blank", "name\n a \n", 2, 0, "", "name\n\"\"\n"},
	{"error behind the record", "name,entry\na,1\nb\",2\n", 2, 1, "7", "name,entry\na,7\nb\",2\n"},

	{"error in front of the record", "name,entry\nb\",2\na,1\n", 3, 1, "7",
		"error: line 2: found a double quote in a cell that does not begin with one"},
	{"comment line", "name,entry\n# x\na,1\n", 2, 1, "7", "error: no record stands on line 2"},
	{"blank line", "name,entry\na,1\n\n", 3, 1, "7", "error: no record stands on line 3"},
	{"behind the end", "name,entry\na,1\n", 9, 1, "7", "error: no record stands on line 9"},
	{"line 0", "name,entry\na,1\n", 0, 1, "7", "error: no record stands on line 0"},
	{"no such cell", "name,entry\na,1\n", 2, -1, "7", "error: a record has no cell 0"},
	{"far too many cells", "name,entry\na,1\n", 2, 1 << 30, "7", "error: a record has no cell 1073741825"},
	{"NUL", "name,entry\na,1\n", 2, 1, "\x00", "error: text holds a NUL byte"},
	{"no UTF-8", "name,entry\na,1\n", 2, 1, "\xb5", "error: text is not UTF-8"},
	{"too long", "name,entry\na,1\n", 2, 1, strings.Repeat("x", MaxCellSize+1),
		"error: text holds 65537 bytes, the limit of a cell is 64 KiB"},
	{"too long a record", "name,entry\na,1" + strings.Repeat(",", maxRecord-3) + "\n", 2, 1, "xx",
		"error: line 2: record is longer than 1024 KiB"},
	{"semicolons", "name;entry\na;1\n", 2, 1, "7", "error: 1:1: cells are separated by semicolons, expected commas"},
	{"Latin-1", "name,entry\na,\xb5\n", 2, 1, "7",
		"error: 2:3: byte 0xB5 is not UTF-8; the file seems to be in Latin-1 or Windows-1252"},
}

// replaceCell replaces a cell by the line of its record, from 1, and its number
// in it, from 0. A record that is too short is extended.
func replaceCell(data []byte, line, field int, text string) ([]byte, error) {
	if field < 0 || field >= maxColumns {
		return nil, fmt.Errorf("a record has no cell %d", field+1)
	}
	record, err := recordOn(data, line)
	if err != nil {
		return nil, err
	}
	return record.set(data, field, text)
}

func TestReplaceCell(t *testing.T) {
	for _, test := range replaceTests {
		t.Run(test.name, func(t *testing.T) {
			old := strings.Clone(test.file)
			got, err := replaceCell([]byte(test.file), test.line, test.field, test.text)
			if result := resultOf(got, err); result != test.want {
				t.Errorf("\n got %q\nwant %q", result, test.want)
			}
			if test.file != old {
				t.Error("the old data changed")
			}
		})
	}
}

func resultOf(data []byte, err error) string {
	if err != nil {
		return "error: " + err.Error()
	}
	return string(data)
}

func TestSetCell(t *testing.T) {
	for _, test := range []struct {
		name, file   string
		line         int
		column, text string
		want         string
	}{
		{"column there", "name,entry,low\na,1,2\n", 2, "low", "7", "name,entry,low\na,1,7\n"},
		{"header with blanks and quotes", "# x\n\"name\", entry ,\"low\"\na,1\n", 3, "entry", "7",
			"# x\n\"name\", entry ,\"low\"\na,7\n"},
		{"header in capitals", "Name,Entry\na,1\n", 2, "entry", "7", "Name,Entry\na,7\n"},
		{"header in capitals beside the right one", "name,Low,low\na,1,2\n", 2, "low", "7", "name,Low,low\na,1,7\n"},
		{"short record", "name,entry,low\na\n", 2, "low", "7", "name,entry,low\na,,7\n"},
		{"new column", "name,entry\r\n# c\r\na,1\r\nb,2\r\n", 3, "reading", "575 kN",
			"name,entry,reading\r\n# c\r\na,1,575 kN\r\nb,2\r\n"},
		{"new column, short record", "\ufeffname,entry,unit\na\n", 2, "reading", "7",
			"\ufeffname,entry,unit,reading\na,,,7\n"},
		{"new column behind a blank header", "name,entry,\na,1,\n", 2, "reading", "7", "name,entry,,reading\na,1,,7\n"},
		{"record longer than the header", "name,entry\na,1,,\n", 2, "reading", "7", "name,entry,reading\na,1,7,\n"},
		{"the header itself", "name,entry\na,1\n", 1, "entry", "7", "error: line 1 is the header"},
		{"no record", "name,entry\na,1\n", 3, "entry", "7", "error: no record stands on line 3"},
		{"bad text", "name,entry\na,1\n", 2, "reading", "\x00", "error: text holds a NUL byte"},
		{"bad column", "name,entry\na,1\n", 2, "\x00", "7", "error: text holds a NUL byte"},
	} {
		t.Run(test.name, func(t *testing.T) {
			if got := resultOf(SetCell([]byte(test.file), test.line, test.column, test.text)); got != test.want {
				t.Errorf("\n got %q\nwant %q", got, test.want)
			}
		})
	}
}

func TestReplaceAt(t *testing.T) {
	const file = "\ufeffname,entry,unit\r\n\"a\",, mm \r\nb,\"=\r\na\",\r\n"
	sheet, problems := Read("f.csv", []byte(file))
	if len(problems) > 0 || !sheet.IsFrom([]byte(file)) || sheet.IsFrom([]byte(file+"\n")) {
		t.Fatalf("problems %v, or the sheet does not know its file", problems)
	}
	for _, test := range []struct {
		cell Cell
		want string
	}{
		{sheet.header[1], "name,new,unit\r\n\"a\",, mm \r\nb,\"=\r\na\",\r\n"},
		{sheet.Rows[0].Name, "name,entry,unit\r\n\"new\",, mm \r\nb,\"=\r\na\",\r\n"},
		{sheet.Rows[0].Entry, "name,entry,unit\r\n\"a\",new, mm \r\nb,\"=\r\na\",\r\n"},
		{sheet.Rows[0].Unit, "name,entry,unit\r\n\"a\",, new \r\nb,\"=\r\na\",\r\n"},
		{sheet.Rows[1].Entry, "name,entry,unit\r\n\"a\",, mm \r\nb,\"new\",\r\n"},
		{sheet.Rows[1].Unit, "name,entry,unit\r\n\"a\",, mm \r\nb,\"=\r\na\",new\r\n"},
		{Cell{Line: 9, offset: 20}, "error: no record stands on line 9"},
		{Cell{Line: 2, Column: 80, offset: 80}, "error: no cell stands on line 2, column 80 any more"},
	} {
		want := test.want
		if !strings.HasPrefix(want, "error: ") {
			want = utf8BOM + want
		}
		if got := resultOf(ReplaceAt([]byte(file), test.cell, "new")); got != want {
			t.Errorf("%+v:\n got %q\nwant %q", test.cell, got, want)
		}
	}
}

func TestAppendRecord(t *testing.T) {
	for _, test := range []struct {
		name, file string
		fields     []string
		line       int
		want       string
	}{
		{"plain", "job,x\n:unit,\n", []string{"a", "1"}, 3, "job,x\n:unit,\na,1\n"},
		{"CRLF", "job,x\r\n:unit,\r\n", []string{"a", "1"}, 3, "job,x\r\n:unit,\r\na,1\r\n"},
		{"no line end", "job,x\n:unit,", []string{"a", "1"}, 3, "job,x\n:unit,\na,1"},
		{"no line end, CRLF", "job,x\r\n:unit,", []string{"a", "1"}, 3, "job,x\r\n:unit,\r\na,1"},
		{"a comment at the end", "job,x\n# \"end", []string{"a", "1"}, 3, "job,x\n# \"end\na,1"},
		{"quotes", "job,x\n", []string{"a", "1, \"2\"", "", " "}, 2, "job,x\na,\"1, \"\"2\"\"\",,\" \"\n"},
		{"one blank cell", "job\n", []string{""}, 2, "job\n\"\"\n"},
		{"empty file", "", []string{"job", "x"}, 1, "job,x\n"},
		{"only a mark", "\ufeff", []string{"job", "x"}, 1, "\ufeffjob,x\n"},
		{"cell of several lines at the end", "job,x\r\na,\"1\r\n2\"\r\n", []string{"b"}, 4,
			"job,x\r\na,\"1\r\n2\"\r\nb\r\n"},
		{"cell of several lines to add", "job,x\n", []string{"a", "1\n2"}, 2, "job,x\na,\"1\n2\"\n"},
		{"a comment for a key", "job\n", []string{"#a"}, 0,
			"error: a first cell that begins with # makes a comment of its record"},
		{"no cells", "job\n", nil, 0, "error: record has no cells"},
		{"bad text", "job\n", []string{"a", "\xff"}, 0, "error: text is not UTF-8"},
		{"open quote", "job\n\"a\n", []string{"b"}, 0,
			"error: line 2: this double quote opens a cell that is never closed"},
		{"header of a file that would be refused", "", []string{";"}, 0,
			"error: 1:1: cells are separated by semicolons, expected commas"},
		{"record too long", "job\n", slices.Repeat([]string{strings.Repeat("x", MaxCellSize)}, 16), 0,
			"error: line 2: record is longer than 1024 KiB"},
		{"UTF-16", "\xff\xfej\x00", []string{"b"}, 0, "error: file is encoded in UTF-16, expected UTF-8"},
	} {
		t.Run(test.name, func(t *testing.T) {
			changed, line, err := AppendRecord([]byte(test.file), test.fields)
			if got := resultOf(changed, err); got != test.want || line != test.line {
				t.Errorf("\n got %q on line %d\nwant %q on line %d", got, line, test.want, test.line)
			}
		})
	}
}

// drawnFile is a random file made of pieces, so that it is known without any
// parsing which bytes a cell has.
type drawnFile struct {
	pieces  []string
	records [][]int // for each record its cells, as indices of pieces
	lines   []int   // the physical line on which each record begins
}

func (f drawnFile) String() string { return strings.Join(f.pieces, "") }

func drawFile(t *rapid.T) drawnFile {
	var f drawnFile
	add := func(piece string) { f.pieces = append(f.pieces, piece) }
	lineEnd := rapid.SampledFrom([]string{"\n", "\r\n"}).Draw(t, "line end")
	other := rapid.SampledFrom([]string{"", "\n", "\r\n", "# a \"comment\", or so\n", "## Heading\r\n", "#\n"})
	cell := rapid.SampledFrom([]string{"", "a", "bore", " =b + c ", "5·µ", "\u00a0x\t", "\"q\"", "\"\"", "\"a, b\"",
		"\"3\"\" hose\"",
		"\"two\nlines\"", "\"# x\r\ny\n\"", "é"})
	add(rapid.SampledFrom([]string{"", utf8BOM}).Draw(t, "mark"))
	for i := range rapid.IntRange(1, 5).Draw(t, "records") {
		add(other.Draw(t, "other"))
		f.lines = append(f.lines, 1+strings.Count(f.String(), "\n"))
		var record []int
		for j := range rapid.IntRange(1, 4).Draw(t, "cells") {
			if j > 0 {
				add(",")
			}
			add(cell.Draw(t, "cell"))
			record = append(record, len(f.pieces)-1)
		}
		if len(record) == 1 && f.pieces[record[0]] == "" || i == 0 {
			f.pieces[record[0]] = "name"
		}
		f.records = append(f.records, record)
		add(lineEnd)
	}
	add(other.Draw(t, "other"))
	if rapid.Bool().Draw(t, "no final line end") && f.pieces[len(f.pieces)-1] == "" {
		f.pieces = f.pieces[:len(f.pieces)-2]
	}
	return f
}

// drawText is a random text for a cell.
var drawText = rapid.OneOf(
	rapid.SampledFrom([]string{"", "7", "=max(a, b)", "#x", `"`, `""`, "a\nb", "a\r\nb\r\n", "\r", " x ", "\ufeff",
		"-3", "§ µ", ",", ";", `\.`}),
	rapid.StringN(0, 8, 64),
).Filter(func(s string) bool { return writable(s) == nil })

// asRead is a cell's text as encoding/csv and trimming give it back.
func asRead(text string) string { return strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n")) }

// TestReplaceCellProperties checks that replacing any cell of any file leaves
// all bytes around the cell as they were and reads back as the new text.
func TestReplaceCellProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFile(t)
		r := rapid.IntRange(0, len(f.records)-1).Draw(t, "record")
		record := f.records[r]
		// The first header stays: other ones can make a file that is refused.
		n := rapid.IntRange(1-min(r, 1), len(record)+2).Draw(t, "field")
		text := drawText.Draw(t, "text")

		if n == 0 && isRemark(text) {
			t.Skip("refused")
		}
		got, err := replaceCell([]byte(f.String()), f.lines[r], n, text)
		if err != nil {
			t.Fatalf("%q: %v", f, err)
		}
		before, after := record[len(record)-1]+1, record[len(record)-1]+1
		if n < len(record) {
			before, after = record[n], record[n]+1
		}
		head, tail := strings.Join(f.pieces[:before], ""), strings.Join(f.pieces[after:], "")
		if !strings.HasPrefix(string(got), head) || !strings.HasSuffix(string(got), tail) ||
			len(got) < len(head)+len(tail) {
			t.Fatalf("bytes around the cell changed:\n%q\n%q", f, got)
		}
		again, err := recordOn(got, f.lines[r])
		if err != nil {
			t.Fatalf("%q: %v", got, err)
		}
		if len(again) != max(len(record), n+1) || strings.TrimSpace(again[n].text) != asRead(text) {
			t.Fatalf("cell %d reads as %q in\n%q", n, again[n].text, got)
		}
		if same, _ := replaceCell(got, f.lines[r], n, text); !bytes.Equal(same, got) {
			t.Fatalf("replacing again changed\n%q to\n%q", got, same)
		}
	})
}

func TestAppendRecordProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFile(t)
		fields := rapid.SliceOfN(drawText, 1, 5).Filter(func(list []string) bool { return !isRemark(list[0]) }).Draw(t,
			"fields")
		got, line, err := AppendRecord([]byte(f.String()), fields)
		if err != nil {
			t.Fatalf("%q: %v", f, err)
		}
		if !strings.HasPrefix(string(got), f.String()) {
			t.Fatalf("bytes in front changed:\n%q\n%q", f, got)
		}
		records, err := parseAll(got)
		if err != nil || len(records) != len(f.records)+1 {
			t.Fatalf("got %d records of %d, error %v, in\n%q", len(records), len(f.records)+1, err, got)
		}
		last := records[len(records)-1]
		if !slices.EqualFunc(last, fields, func(a, b string) bool { return strings.TrimSpace(a) == asRead(b) }) {
			t.Fatalf("got %q, want %q", last, fields)
		}
		if again, err := recordOn(got, line); err != nil || again[0].line != line ||
			strings.TrimSpace(again[0].text) != asRead(fields[0]) {
			t.Fatalf("on line %d stands %v, error %v, in\n%q", line, again, err, got)
		}
	})
}

// parseAll reads a file with encoding/csv alone.
func parseAll(data []byte) ([][]string, error) {
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte(utf8BOM))))
	r.Comment = '#'
	r.FieldsPerRecord = -1
	return r.ReadAll()
}

// FuzzReplaceCell holds any change that is accepted to what encoding/csv reads
// before and after it.
func FuzzReplaceCell(f *testing.F) {
	for _, test := range replaceTests {
		if len(test.file) < 1000 {
			f.Add([]byte(test.file), test.line, test.field, test.text)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte, line, field int, text string) {
		got, err := replaceCell(data, line, field, text)
		if err != nil {
			return
		}
		before, err := parseAll(data)
		if err != nil {
			return
		}
		after, err := parseAll(got)
		if err != nil || len(after) != len(before) {
			t.Fatalf("%d records became %d, error %v", len(before), len(after), err)
		}
		changed := -1
		for i := range before {
			if fmt.Sprintf("%q", before[i]) == fmt.Sprintf("%q", after[i]) {
				continue
			}
			if changed >= 0 {
				t.Fatalf("records %d and %d changed", changed, i)
			}
			changed = i
			for j := range after[i] {
				switch {
				case j == field && strings.TrimSpace(after[i][j]) != asRead(text):
					t.Fatalf("cell reads as %q, want %q", after[i][j], text)
				case j != field && j < len(before[i]) && after[i][j] != before[i][j]:
					t.Fatalf("cell %d became %q", j, after[i][j])
				case j != field && j >= len(before[i]) && after[i][j] != "":
					t.Fatalf("new cell %d holds %q", j, after[i][j])
				}
			}
		}
		comments := func(b []byte) int { return bytes.Count(b, []byte("#")) }
		if was, is := comments(data), comments(got); is < was && changed < 0 {
			t.Fatalf("%d of %d comment signs are left", is, was)
		}
	})
}
