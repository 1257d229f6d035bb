package sheets

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
)

// readTests hold a file, what is read from it and the problems. Of a sheet
// each row is a line of cells that are not blank, as text@line:column, with a
// q behind the text where it is quoted.
var readTests = []struct {
	name, file, sheet, problems string
}{
	// Kinds and layout.
	{"quantities", "name,entry,unit,reading,spread,low,high,note\nbore,80,mm,79.9,0.05,79,81,drawing 12\n",
		"quantities sheet\nbore@2:1 80@2:6 mm@2:9 79.9@2:12 0.05@2:17 79@2:22 81@2:25 drawing 12@2:28\n", ""},
	{"columns in another order, one unknown", "name,unit,who,entry\nbore,mm,x,80\n",
		"quantities sheet\nbore@2:1 80@2:11 mm@2:6\n", ""},
	{"short record, missing columns", "name,entry,unit\nbore\n",
		"quantities sheet\nbore@2:1\n", ""},
	{"cases", "job,setting,force,remark\n:unit,MPa,kN\n:spread,1 %,,\n:high,25\nbending,12,,\"a, b\"\nblank,,3\n",
		"cases sheet\n" +
			"job@1:1\n" +
			"setting@1:5 MPa@2:7 1 %@3:9 25@4:7\n" +
			"force@1:13 kN@2:11\n" +
			"remark@1:19\n" +
			"bending@5:1 12@5:9 a, bq@5:14\n" +
			"blank@6:1 3@6:8\n", ""},
	{"cases without a case", "job,setting\n:unit,\n", "cases sheet\njob@1:1\nsetting@1:5\n", ""},
	{"cases with `:low` below", "job,x\n:unit,m\na,1\n:low,0\n",
		"cases sheet\njob@1:1\nx@1:5 m@2:7 0@4:6\na@3:1 1@3:3\n", ""},
	{"suspects", "suspect,from,to,unit,prior,next_check,note\nleak,0,5,L/min,2,close valve 3,seen before\n",
		"suspects sheet\nleak@2:1 0@2:6 5@2:8 L/min@2:10 2@2:16 close valve 3@2:18 seen before@2:32\n", ""},
	{"header only", "name,entry\n", "quantities sheet\n", ""},

	// Lines that are no records.
	{"comments, headings, blanks", "# my press\n\n" +
		"name,entry\n" +
		"## Cylinder\n" +
		"bore,80\n" +
		",\n" +
		"   \n" +
		"#a,\"b\n" +
		"rod,56\n" +
		"##,Pump,,\n" +
		"flow,12\n" +
		"##\n" +
		"speed,1\n",
		"quantities sheet\n" +
			"[Cylinder] bore@5:1 80@5:6\n" +
			"[Cylinder] rod@9:1 56@9:5\n" +
			"[Pump] flow@11:1 12@11:6\n" +
			"[Pump] speed@13:1 1@13:7\n", ""},
	{"headings with commas and quotes", "name,entry\n" +
		"## Area, force,,\n" +
		"a,1\n" +
		"##,\"Tank, \"\"big\"\"\",\n" +
		"b,2\n" +
		"### Three\n" +
		"c,3\n",
		"quantities sheet\n[Area, force] a@3:1 1@3:3\n[Tank, \"big\"] b@5:1 2@5:3\n[# Three] c@7:1 3@7:3\n", ""},
	{"comments that a spreadsheet has quoted", "\"# my, press\",\n" +
		"name,entry\n" +
		"\"## one, two\",\n" +
		"a,1\n" +
		"\"# left, out\",9\n" +
		"\"##\",\"three, four\"\n" +
		"b,2\n",
		"quantities sheet\n[one, two] a@4:1 1@4:3\n[three, four] b@7:1 2@7:3\n", ""},
	{"# inside quotes and inside a line", "name,entry,note\na,1,\"x\n# no comment\n## no heading\"\nb,2,#3\n",
		"quantities sheet\na@2:1 1@2:3 x⏎# no comment⏎## no headingq@2:6\nb@5:1 2@5:3 #3@5:5\n", ""},
	{"no final line end, last line a comment", "name,entry\na,1\n# end", "quantities sheet\na@2:1 1@2:3\n", ""},
	{"blank cells below a header filled up", "name,entry,,\na,1,,\n", "quantities sheet\na@2:1 1@2:3\n", ""},
	{"blank cells beyond the header", "name,entry,,\na,1,,,,\n", "quantities sheet\na@2:1 1@2:3\n",
		"f.csv:2:7: record has 6 cells, the header 4"},
	{"a cell without a header", "name,entry,,\na,1,2,\n", "quantities sheet\na@2:1 1@2:3\n",
		"f.csv:2:5: the cell has no header"},
	{"carriage return at the end", "name,entry\r\na,1\r", "quantities sheet\na@2:1 1@2:3\n", ""},

	// Places.
	{"byte order mark", "\ufeffname,entry\na,1\n", "quantities sheet\na@2:1 1@2:3\n", ""},
	{"byte order mark and quotes", "\ufeff\"name\",entry\na,1\n", "quantities sheet\na@2:1 1@2:3\n", ""},
	{"CRLF", "name,entry\r\n## H\r\na,1\r\n\r\nb,2\r\n", "quantities sheet\n[H] a@3:1 1@3:3\n[H] b@5:1 2@5:3\n", ""},
	{"quoted line breaks", "name,entry,note\r\na,1,\"x\r\ny\"\r\nb,\"2\n\",\"\n z\"\n",
		"quantities sheet\na@2:1 1@2:3 x⏎yq@2:6\nb@4:1 2q@4:4 zq@6:2\n", ""},
	{"characters of several bytes", "name,entry,note\nΔp,5·µ,π ≈ 3\n", "quantities sheet\nΔp@2:1 5·µ@2:4 π ≈ 3@2:8\n",
		""},
	{"outer blanks", "name , entry,note\n  a,\t1 ,\u00a0 x \u00a0\nb,\"  2 \",  \n",
		"quantities sheet\na@2:3 1@2:6 x@2:11\nb@3:1 2q@3:6\n", ""},
	{"doubled quotes", "name,entry,note\na,1,\"3\"\" \"\"x\"\"\"\n\"b\",2,\"\"\n",
		"quantities sheet\na@2:1 1@2:3 3\" \"x\"q@2:6\nbq@3:2 2@3:5\n", ""},

	// Refusals of the file.
	{"empty", "", "", "f.csv: file is empty, expected a header"},
	{"only comments", "\ufeff# a\n\n,,\n", "", "f.csv: file is empty, expected a header"},
	{"no kind", "job,setting\nbending,12\n", "", "f.csv:1:1: the first header, `job`, is that of no kind of sheet"},
	{"no kind, header only", "job,setting\n", "", "f.csv:1:1: the first header, `job`, is that of no kind of sheet"},
	{"semicolons", "# x\nname;entry;unit\nbore;80,5;mm\n", "",
		"f.csv:2:1: cells are separated by semicolons, expected commas"},
	{"semicolons and quotes", "\"name\";\"entry\"\n", "",
		"f.csv:1:1: cells are separated by semicolons, expected commas"},
	{"semicolons announced", "sep=;\nname;entry\n", "",
		"f.csv:1:1: cells are separated by semicolons, expected commas"},
	{"semicolons in a case sheet", "job;setting\n:unit;MPa\n", "",
		"f.csv:1:1: cells are separated by semicolons, expected commas"},
	{"tabs", "name\tentry, value\nbore\t80\n", "", "f.csv:1:1: cells are separated by tabs, expected commas"},
	{"semicolon in a header is fine", "pump; type,flow\n:unit,L/min\n",
		"cases sheet\npump; type@1:1\nflow@1:12 L/min@2:7\n", ""},
	{"a zip archive", "PK\x03\x04\x14\x00", "", "f.csv: file is a spreadsheet's own format or another archive, " +
		"expected CSV"},
	{"UTF-16", "\xff\xfen\x00a\x00m\x00e\x00", "", "f.csv: file is encoded in UTF-16, expected UTF-8"},
	{"UTF-16, big end first", "\xfe\xff\x00n\x00a\x00m\x00e", "", "f.csv: file is encoded in UTF-16, expected UTF-8"},
	{"UTF-16 without a mark", "n\x00a\x00m\x00e\x00,\x00", "", "f.csv: file is encoded in UTF-16, expected UTF-8"},
	{"Latin-1", "name,entry\nbore,80\nmaß,\xb5m\xdf\n", "", "f.csv:3:5: byte 0xB5 is not UTF-8"},
	{"Latin-1 only", "name,entry\nbore,80\nma,\xb5m\n", "",
		"f.csv:3:4: byte 0xB5 is not UTF-8; the file seems to be in Latin-1 or Windows-1252"},
	{"NUL", "\ufeffname,entry\nbö\x00re,80\n", "", "f.csv:2:3: found a NUL byte, expected text"},
	{"NUL in line 1 behind a byte order mark", "\ufeffna\x00me\n", "", "f.csv:1:3: found a NUL byte, expected text"},
	{"lone CR", "name,entry\rbore,80\r", "", "f.csv:1:11: lines end in a lone carriage return, as on very old " +
		"computers"},
	{"lone CR in places", "name,entry\nbore,80\rrod,56\narea,1\n",
		"quantities sheet\nbore@2:1 80␍rod@2:6\narea@3:1 1@3:6\n",
		"f.csv:2:8: found a lone carriage return in a cell|f.csv:2:13: record has 3 cells, the header 2"},

	// Problems of records.
	{"too many cells", "name,entry,unit\na,=max(b, c),mm,\nb,1,mm\n",
		"quantities sheet\na@2:1 =max(b@2:3 c)@2:11\nb@3:1 1@3:3 mm@3:5\n",
		"f.csv:2:14: record has 5 cells, the header 3"},
	{"bare quote", "name,entry,note\nhose,3,3\" hose\nb,1\n", "quantities sheet\nb@3:1 1@3:3\n",
		"f.csv:2:9: found a double quote in a cell that does not begin with one"},
	{"bare quote behind multibyte", "name,entry,note\nδ,3,é\"\nb,1\n", "quantities sheet\nb@3:1 1@3:3\n",
		"f.csv:2:6: found a double quote in a cell that does not begin with one"},
	{"text behind a quote", "name,entry,note\nhose,3,\"3\" hose\"\nb,1\n", "quantities sheet\nb@3:1 1@3:3\n",
		"f.csv:2:11: found text after the closing double quote of a cell"},
	{"text behind a quote on a later line", "name,entry,note\nhose,\"3\n4\",\"5\"x\nb,1\n",
		"quantities sheet\nb@4:1 1@4:3\n",
		"f.csv:3:7: found text after the closing double quote of a cell"},
	{"quote never closed", "name,entry,note\na,\"1\n## H\nb,2\nc,3",
		"quantities sheet\n[H] b@4:1 2@4:3\n[H] c@5:1 3@5:3\n",
		"f.csv:2:3: this double quote opens a cell that is never closed"},
	{"quote never closed in the last line", "name,entry\na,1\n\"", "quantities sheet\na@2:1 1@2:3\n",
		"f.csv:3:1: this double quote opens a cell that is never closed"},
	{"quote closed by the next one", "name,entry,note\na,\"1\nb,2\nc,3,\"x\"\nd,4\n",
		"quantities sheet\nb@3:1 2@3:3\nc@4:1 3@4:3 xq@4:6\nd@5:1 4@5:3\n",
		"f.csv:2:3: this double quote opens a cell that ends on line 4, in the middle of a text"},
	{"all are reported", "name,entry\na\",1\nb,2,3\n\"c,4\n,5\nd,6\n",
		"quantities sheet\nb@3:1 2@3:3\nd@6:1 6@6:3\n",
		"f.csv:2:2: found a double quote in a cell that does not begin with one|f.csv:3:5: record has 3 cells, " +
			"the header 2|f.csv:4:1: this double quote opens a cell that is never closed|f.csv:5:2: row has no name"},
	{"bad header", "na\"me,entry\nsuspect,from\nx,1\n", "suspects sheet\nx@3:1 1@3:3\n",
		"f.csv:1:3: found a double quote in a cell that does not begin with one"},

	// Problems of the header.
	{"no entry", "name,unit\na,mm\n", "quantities sheet\na@2:1 mm@2:3\n", "f.csv:1:1: sheet has no column `entry`"},
	{"column twice", "name,entry,low,low\na,1,2,3\n", "quantities sheet\na@2:1 1@2:3 2@2:5\n",
		"f.csv:1:16: column `low` stands twice in the header"},
	{"unknown column twice", "name,entry,x,x\na,1,2,3\n", "quantities sheet\na@2:1 1@2:3\n", ""},
	{"capitals", "Name,Entry,HIGH\na,1,2\n", "quantities sheet\na@2:1 1@2:3 2@2:5\n",
		"f.csv:1:1: column `Name` is written in small letters: `name`|f.csv:1:6: column `Entry` is written in small " +
			"letters: `entry`|f.csv:1:12: column `HIGH` is written in small letters: `high`"},
	{"column twice in a case sheet", "job,x,x,job\n:unit\n", "cases sheet\njob@1:1\nx@1:5\nx@1:7\njob@1:9\n",
		"f.csv:1:7: column `x` stands twice in the header|f.csv:1:9: column `job` stands twice in the header"},
	{"unit row misspelt", "job,x\n:units,mm\na,1\n", "cases sheet\njob@1:1\nx@1:5\na@3:1 1@3:3\n",
		"f.csv:2:1: found `:units` below the header, expected `:unit`|f.csv:2:1: row `:units` is not known"},
	{"rows twice and unknown", "job,x\n:unit,mm\n:low,1\n:low,2\n:mean,3\n",
		"cases sheet\njob@1:1\nx@1:5 mm@2:7 1@3:6\n",
		"f.csv:4:1: row `:low` stands twice in this sheet|f.csv:5:1: row `:mean` is not known"},
	{"case sheet that begins with name", "name,entry\n:unit,mm\n", "quantities sheet\n",
		"f.csv:2:1: row `:unit` belongs in a case sheet, and the header `name` makes this a quantity sheet"},
	{"case without a name", "job,x\n:unit,mm\n,1\n", "cases sheet\njob@1:1\nx@1:5 mm@2:7\n",
		"f.csv:3:2: row has no name"},
	{"suspect without a name", "suspect,from\n,1\n", "suspects sheet\n", "f.csv:2:2: row has no suspect"},
}

func TestRead(t *testing.T) {
	for _, test := range readTests {
		t.Run(test.name, func(t *testing.T) {
			sheet, problems := Read("f.csv", []byte(test.file))
			if got := dump(sheet); got != test.sheet {
				t.Errorf("sheet\n got %q\nwant %q", got, test.sheet)
			}
			var lines []string
			for _, p := range problems {
				lines = append(lines, p.Error())
			}
			if got := strings.Join(lines, "|"); got != test.problems {
				t.Errorf("problems\n got %s\nwant %s", got, test.problems)
			}
		})
	}
}

func TestReadWarnings(t *testing.T) {
	for header, want := range map[string]string{
		"name,entry,units,Note": "f.csv:1:12: column `units` is not known and therefore ignored " +
			"(did you mean `unit`?)",
		"name,entry,hihg,unit": "f.csv:1:12: column `hihg` is not known and therefore ignored " +
			"(did you mean `high`?)",
		"name,entry,hgih,unit": "f.csv:1:12: column `hgih` is not known and therefore ignored " +
			"(did you mean `high`?)",
		"name,entry,hhgi,unit": "",
		"name,entry,hig,unit": "f.csv:1:12: column `hig` is not known and therefore ignored " +
			"(did you mean `high`?)",
		"name,entry,unit,units": "",
		"name,entry,remark,a,":  "",
		"suspect,frm,to":        "f.csv:1:9: column `frm` is not known and therefore ignored (did you mean `from`?)",
		"suspect,from,t":        "",
		"suspect,from,next check,": "f.csv:1:14: column `next check` is not known and therefore ignored " +
			"(did you mean `next_check`?)",
	} {
		sheet, _ := Read("f.csv", []byte(header+"\n"))
		var got []string
		for _, w := range sheet.Warnings {
			got = append(got, w.Error()+" ("+w.Hint+")")
		}
		if strings.Join(got, "|") != want {
			t.Errorf("%s: got %q, want %q", header, got, want)
		}
	}
}

// TestSheetProblem checks that the characters of a cell's text are found in the
// file, where a doubled quote takes two characters and a line break two bytes.
func TestSheetProblem(t *testing.T) {
	const file = "\ufeffname,entry,unit\r\nbore, =1 + µx ,\"\"\r\narea,\" =\"\"a\"\" +\r\n \"\"é\"\"+c\",\n"
	sheet, problems := Read("f.csv", []byte(file))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	bore, area := sheet.Rows[0].Entry, sheet.Rows[1].Entry
	for _, test := range []struct {
		cell      Cell
		from      int // character of the cell's text
		line      int
		column    int
		character string
	}{
		{bore, 0, 2, 7, "="}, {bore, 5, 2, 12, "µ"}, {bore, 6, 2, 13, "x"}, {bore, 7, 2, 14, ""},
		{area, 0, 3, 8, "="}, {area, 1, 3, 9, `"`}, {area, 2, 3, 11, "a"}, {area, 3, 3, 12, `"`}, {area, 4, 3, 14, " "},
		{area, 5, 3, 15, "+"}, {area, 6, 3, 16, "\n"}, {area, 7, 4, 1, " "}, {area, 8, 4, 2, `"`}, {area, 9, 4, 4, "é"},
		{area, 10, 4, 5, `"`}, {area, 11, 4, 7, "+"}, {area, 12, 4, 8, "c"}, {area, 13, 4, 9, ""},
		{sheet.Rows[0].Unit, 0, 2, 16, ""},
	} {
		p := sheet.Problem(test.cell, test.from, test.from+1, "message", "hint")
		want := Problem{File: "f.csv", Line: test.line, Column: test.column, Text: test.cell.Text,
			From: test.from, To: test.from + 1, Message: "message", Hint: "hint"}
		if p != want {
			t.Errorf("character %d of %q: got %+v, want %+v", test.from, test.cell.Text, p, want)
		}
		if got := string([]rune(test.cell.Text + " ")[test.from:][:1]); test.character != "" && got != test.character {
			t.Errorf("character %d of %q is %q; the test takes it for %q", test.from, test.cell.Text, got,
				test.character)
		}
	}

	// A cell made by hand has no file behind it.
	p := new(Sheet).Problem(Cell{Text: "=a", Line: 3, Column: 7}, 1, 2, "", "")
	if p.Line != 3 || p.Column != 8 {
		t.Errorf("cell without a file: got %d:%d, want 3:8", p.Line, p.Column)
	}
}

func TestSheetName(t *testing.T) {
	for file, want := range map[string]string{
		"force.csv": "force", "2-force.csv": "force", "press/10-a-b.csv": "a-b", "2.csv": "2", "2-.csv": "",
		"x.CSV": "x", "2force.csv": "2force", "01-02-x.csv": "02-x", "plain": "plain", "-x.csv": "-x",
	} {
		if got := SheetName(file); got != want {
			t.Errorf("SheetName(%q) = %q, want %q", file, got, want)
		}
	}
}

// TestLimits checks a file just below each limit and one beyond it.
func TestLimits(t *testing.T) {
	// long makes a sheet with a row of so many bytes, in cells below their own limit.
	long := func(bytes int) string {
		const cells, each = 17, MaxCellSize - 100
		row := "a" + strings.Repeat(","+strings.Repeat("x", each), bytes/(each+1))
		row += "," + strings.Repeat("x", bytes-len(row)-1)
		header := "name,entry"
		for i := range cells {
			header += fmt.Sprintf(",more%d", i)
		}
		return header + "\n" + row + "\nb,2\n"
	}
	if testing.Short() {
		t.Skip("files at the limits take seconds and a gigabyte")
	}
	const header = "name,entry\n"
	repeat := strings.Repeat
	size := func(n int) string {
		body := header + repeat("# "+repeat("x", 1000)+"\n", n/1003-1)
		return body + "#" + repeat("x", n-len(body)-1)
	}
	caseSheet := func(columns, rows int) string {
		return "job" + repeat(",", columns-2) + ",x\n:unit\n" + repeat("a\n", rows)
	}
	for _, test := range []struct {
		name     string
		below    string
		beyond   string
		rows     int
		problem  string
		problems int
	}{
		{"file", size(MaxFileSize), size(MaxFileSize + 1), 0, "f.csv: file holds more than 64 MiB", 1},
		{"cell", header + "a," + repeat("x", MaxCellSize), header + "a," + repeat("x", MaxCellSize+1), 1,
			"f.csv:2:3: cell holds 65537 bytes, the limit is 64 KiB", 1},
		{"quoted cell", header + "a,\"" + repeat("\"\"", MaxCellSize) + "\"",
			header + "a,\"" + repeat("\"\"", MaxCellSize+1) + "\"", 1,
			"f.csv:2:4: cell holds 65537 bytes, the limit is 64 KiB", 1},
		{"rows", header + repeat("a,1\n", MaxRows), header + repeat("a,1\n", MaxRows+1), MaxRows,
			"f.csv:2000002:1: sheet has more than 2000000 rows", 1},
		{"columns", caseSheet(maxColumns, 1), caseSheet(maxColumns+1, 1), 1,
			"f.csv:1:1004: sheet has 1001 columns, the limit is 1000", 1},
		{"cells", caseSheet(800, 20_000), caseSheet(800, 20_001), 20_000,
			"f.csv:20003:1: sheet has more than 16000000 cells, blank ones included", 1},
		{"record", long(maxRecord - 1), long(maxRecord), 2,
			"f.csv:2:1: record is longer than 1024 KiB", 1},
		{"comments are no record", header + repeat("#\n", maxRecord) + "a,1",
			header + repeat("\n", 2*maxRecord) + "a\"", 1,
			"f.csv:2097154:2: found a double quote in a cell that does not begin with one", 1},
		{"problems", header + "a,1\n" + repeat("a\"\n", maxProblems-1), header + "a,1\n" + repeat("a\"\n", maxProblems),
			1,
			"f.csv:10003: 10000 problems in this file: the rest was not read", maxProblems + 1},
	} {
		t.Run(test.name, func(t *testing.T) {
			sheet, problems := Read("f.csv", []byte(test.below))
			if test.problems == 1 && len(problems) > 0 {
				t.Errorf("below the limit: %v", problems[0])
			}
			if sheet == nil || len(sheet.Rows)+len(sheet.Cases) != test.rows {
				t.Errorf("below the limit: not all rows were read")
			}
			_, problems = Read("f.csv", []byte(test.beyond))
			if len(problems) != test.problems || problems[len(problems)-1].Error() != test.problem {
				t.Errorf("beyond the limit: got %d problems, the last of them\n%v\nwant\n%s", len(problems),
					problems[max(0, len(problems)-1):], test.problem)
			}
		})
	}
}

// dump writes a sheet as readTests hold it.
func dump(s *Sheet) string {
	if s == nil {
		return ""
	}
	var b strings.Builder
	line := func(heading string, cells ...Cell) {
		var parts []string
		if heading != "" {
			parts = append(parts, "["+heading+"]")
		}
		for _, c := range cells {
			if !c.Blank() {
				quoted := ""
				if c.Quoted {
					quoted = "q"
				}
				text := strings.NewReplacer("\n", "⏎", "\r", "␍").Replace(c.Text)
				parts = append(parts, fmt.Sprintf("%s%s@%d:%d", text, quoted, c.Line, c.Column))
			}
		}
		fmt.Fprintln(&b, strings.Join(parts, " "))
	}
	fmt.Fprintln(&b, s.Kind, "sheet")
	for _, r := range s.Rows {
		line(r.Heading, r.cells()...)
	}
	if s.Kind == Cases {
		line("", s.Key)
	}
	for _, c := range s.Columns {
		line("", c.Name, c.Unit, c.Spread, c.Low, c.High)
	}
	for _, c := range s.Cases {
		line(c.Heading, slices.Concat([]Cell{c.Name}, c.Cells)...)
	}
	for _, r := range s.Suspects {
		line("", r.Suspect, r.From, r.To, r.Unit, r.Prior, r.NextCheck, r.Note)
	}
	return b.String()
}

func (r Row) cells() []Cell {
	return []Cell{r.Name, r.Entry, r.Unit, r.Reading, r.Spread, r.Low, r.High, r.Note}
}

// TestBrief: a message quotes no more than the beginning of a long text.
func TestBrief(t *testing.T) {
	long := strings.Repeat("ü", 300)
	_, problems := Read("a.csv", []byte("job,"+long+","+long+"\n:unit,,\n"))
	want := "column `" + strings.Repeat("ü", 59) + "…` stands twice in the header"
	if len(problems) != 1 || problems[0].Message != want {
		t.Errorf("got %v, want %s", problems, want)
	}
}

// TestOpenInThisFolder opens files and folders by names without a folder.
func TestOpenInThisFolder(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.WriteFile("1-force.csv", []byte("name,entry\na,3\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"1-force.csv", "./1-force.csv", "."} {
		n, problems := Open(path)
		if len(problems) > 0 || len(n.Sheets) != 1 || n.Sheets[0].Name != "force" {
			t.Errorf("%s: %d sheets, %v", path, len(n.Sheets), problems)
		}
	}
	if _, problems := Open("2-speed.csv"); len(problems) != 1 ||
		problems[0].Error() != "2-speed.csv: no such file or directory" {
		t.Errorf("a file that is not there: %v", problems)
	}
}
