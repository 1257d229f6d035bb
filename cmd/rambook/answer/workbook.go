package answer

import (
	"archive/zip"
	"bytes"
	"fmt"
	"html"
	"io"
	"strings"
	"unicode/utf8"

	"rambook/sheets/table"
	"rambook/units/words"
)

// A workbook is a zip archive of a few XML files (ECMA-376, part 1, chapters 12 and
// 18). What we need of them is written here: the kept libraries that write
// spreadsheets would make the program half as large again.

const (
	spreadsheet   = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
	relationships = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	packaged      = "http://schemas.openxmlformats.org/package/2006/"
)

// mostWorkbookRows is how many rows a sheet can have, its header among them.
const mostWorkbookRows = 1 << 20

// workbook writes each table as a sheet: numbers as numbers, all else as text,
// which a spreadsheet never takes for a formula.
func workbook(w io.Writer, a *Answer, _ int) error {
	tables := a.tables()
	if a.Invented {
		tables = append(tables, table.Table{Title: "An invented machine",
			Columns: []table.Column{{Header: InventedMark}}})
	}
	var out bytes.Buffer
	archive := zip.NewWriter(&out)
	put := func(name, text string) {
		part, err := archive.Create(name)
		if err == nil {
			_, err = io.WriteString(part, declaration+text)
		}
		if err != nil {
			panic(err) // a buffer takes everything
		}
	}
	var types, sheets, links strings.Builder
	taken := map[string]bool{}
	for i, t := range tables {
		if len(t.Rows) >= mostWorkbookRows {
			return fmt.Errorf("a sheet of a workbook has at most %d rows, and there are %d; "+
				"--format csv holds them all",
				mostWorkbookRows-1, len(t.Rows))
		}
		fmt.Fprintf(&types, `<Override PartName="/xl/worksheets/sheet%d.xml" ContentType="application/`+
			`vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>`, i+1)
		fmt.Fprintf(&sheets, `<sheet name="%s" sheetId="%d" r:id="r%d"/>`, escaped(sheetName(t.Title, i, taken)), i+1,
			i+1)
		fmt.Fprintf(&links, `<Relationship Id="r%d" Type="%s/worksheet" Target="worksheets/sheet%d.xml"/>`, i+1,
			relationships, i+1)
		put(fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1), worksheet(t, a.Invented))
	}
	put("[Content_Types].xml", `<Types xmlns="`+packaged+`content-types">`+
		`<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>`+
		`<Override PartName="/xl/workbook.xml" ContentType="application/`+
		`vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>`+
		`<Override PartName="/xl/styles.xml" ContentType="application/`+
		`vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/>`+types.String()+`</Types>`)
	put("_rels/.rels", `<Relationships xmlns="`+packaged+`relationships"><Relationship Id="r0" Type="`+relationships+
		`/officeDocument" Target="xl/workbook.xml"/></Relationships>`)
	put("xl/workbook.xml", `<workbook xmlns="`+spreadsheet+`" xmlns:r="`+relationships+`"><sheets>`+sheets.String()+
		`</sheets></workbook>`)
	put("xl/_rels/workbook.xml.rels", `<Relationships xmlns="`+packaged+`relationships">`+links.String()+
		`<Relationship Id="r0" Type="`+relationships+`/styles" Target="styles.xml"/></Relationships>`)
	put("xl/styles.xml", `<styleSheet xmlns="`+spreadsheet+`"><fonts count="2"><font><sz val="11"/><name val="Arial"/>`+
		`</font><font><b/><sz val="11"/><name val="Arial"/></font></fonts>`+
		`<fills count="1"><fill><patternFill patternType="none"/></fill></fills><borders count="1"><border/></borders>`+
		`<cellStyleXfs count="1"><xf/></cellStyleXfs>`+
		`<cellXfs count="2"><xf xfId="0"/><xf xfId="0" fontId="1" applyFont="1"/></cellXfs></styleSheet>`)
	if err := archive.Close(); err != nil {
		return err
	}
	_, err := w.Write(out.Bytes())
	return err
}

// tables are what a workbook holds: the tables made for it, else the one for
// programs, else those of the page.
func (a *Answer) tables() []table.Table {
	switch {
	case a.Book != nil:
		return a.Book()
	case a.Rows != nil:
		return []table.Table{a.Rows()}
	}
	var tables []table.Table
	for _, t := range a.Page() {
		if len(t.Columns) == 0 { // a paragraph
			t = table.Table{Columns: []table.Column{{Header: ""}}, Rows: []table.Row{{Cells: []string{t.Note}}}}
		}
		tables = append(tables, t)
	}
	return tables
}

// plainNumber is a number as our tables for programs write them. One with zeros in
// front is the name of something.
var plainNumber = words.Pattern(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?(e[-+]?[0-9]+)?$`)

// worksheet writes the header in bold, in a row that stays when the others are
// scrolled, and the rows. A heading has a row of its own. On paper every page of a
// machine that is invented is marked so.
func worksheet(t table.Table, invented bool) string {
	var b strings.Builder
	b.WriteString(`<worksheet xmlns="` + spreadsheet + `"><sheetViews><sheetView workbookViewId="0">` +
		`<pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews><cols>`)
	for k, c := range t.Columns {
		width := utf8.RuneCountInString(c.Header)
		for _, row := range t.Rows[:min(len(t.Rows), 1000)] {
			width = max(width, utf8.RuneCountInString(row.Cells[k]))
		}
		fmt.Fprintf(&b, `<col min="%d" max="%d" width="%d" customWidth="1"/>`, k+1, k+1, min(max(width, 6), 60)+2)
	}
	b.WriteString(`</cols><sheetData><row>`)
	for _, c := range t.Columns {
		b.WriteString(textCell(strings.ReplaceAll(c.Header, "\n", " "), ` s="1"`))
	}
	b.WriteString("</row>")
	heading := ""
	for _, row := range t.Rows {
		if row.Heading != "" && row.Heading != heading {
			heading = row.Heading
			b.WriteString("<row>" + textCell(heading, ` s="1"`) + "</row>")
		}
		b.WriteString("<row>")
		for _, cell := range row.Cells {
			switch {
			case cell == "":
				b.WriteString("<c/>")
			case plainNumber().MatchString(cell):
				b.WriteString("<c><v>" + cell + "</v></c>")
			default:
				b.WriteString(textCell(cell, ""))
			}
		}
		b.WriteString("</row>")
	}
	b.WriteString("</sheetData>")
	if invented {
		b.WriteString("<headerFooter><oddHeader>&amp;L&amp;B" + escaped(InventedMark) + "</oddHeader></headerFooter>")
	}
	b.WriteString("</worksheet>")
	return b.String()
}

func textCell(text, style string) string {
	return `<c t="inlineStr"` + style + `><is><t xml:space="preserve">` + escaped(table.Visible(text)) + "</t></is></c>"
}

const declaration = `<?xml version="1.0" encoding="UTF-8"?>` + "\n"

// escaped writes a visible text in XML, which has the five entities that HTML writes.
func escaped(text string) string { return html.EscapeString(text) }

// sheetName makes the name of a sheet from a title: at most 31 characters, some of
// which cannot be, and no two alike but for their case.
func sheetName(title string, i int, taken map[string]bool) string {
	name := strings.Trim(strings.Map(func(r rune) rune {
		if strings.ContainsRune("[]:*?/\\\t", r) {
			return ' '
		}
		return r
	}, table.Visible(title)), " '\n\t")
	name, _, _ = strings.Cut(name, "\n")
	const longest = 31
	short := func(name string, room int) string {
		if r := []rune(name); len(r) > room {
			return string(r[:room])
		}
		return name
	}
	if name = short(name, longest); name == "" {
		name = "answer"
	}
	for n := 2; taken[strings.ToLower(name)]; n++ {
		end := fmt.Sprintf(" %d", n)
		name = short(name, longest-len(end)) + end
	}
	taken[strings.ToLower(name)] = true
	return name
}
