package report

import (
	"bytes"
	"strings"

	"rambook/cmd/rambook/chart"
	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
)

// Markdown writes the page as text for a repository, its charts drawn with
// characters.
func (p *Page) Markdown() ([]byte, error) {
	w := &markdownWriter{}
	w.heading(1, p.Title)
	if p.Mark != "" {
		w.paragraph("", p.Mark)
	}
	for _, f := range p.Facts {
		w.item("", f.Name+": "+f.Value)
	}
	if !p.Handout {
		w.heading(2, "Answer")
		w.paragraph(p.Headline.Verdict, p.Headline.Text)
		for _, f := range p.Findings {
			w.item(f.Verdict, f.Text)
		}
	}
	for _, caution := range p.Cautions {
		w.paragraph("", caution)
	}
	for _, c := range p.Chapters {
		w.heading(2, c.Title)
		for _, text := range c.Lead {
			w.paragraph("", text)
		}
		for _, part := range c.Parts {
			switch {
			case part.Figure != nil:
				w.heading(3, part.Figure.Title)
				untitled := *part.Figure.Figure
				untitled.Title = ""
				w.code(untitled.Text(chart.TextOptions{Width: page.UsualWidth}))
				for _, text := range part.Figure.Caption {
					w.paragraph("", text)
				}
			case part.Fold != nil:
				w.fold(part.Fold)
			default:
				w.table(*part.Table)
			}
		}
	}
	if p.Handout {
		return w.out.Bytes(), w.err
	}
	w.heading(2, "Signed")
	var rows []table.Row
	for _, who := range signatories {
		rows = append(rows, table.Row{Cells: []string{who, "…", "…", "…"}})
	}
	w.table(table.Table{Columns: []table.Column{{Header: ""}, {Header: "name"}, {Header: "date"},
		{Header: "signature"}}, Rows: rows})
	return w.out.Bytes(), w.err
}

// markdownWriter writes blocks of Markdown with a blank line between them. All
// escaping is that of the tables, in one place.
type markdownWriter struct {
	out    bytes.Buffer
	inList bool
	err    error
}

// text escapes a text for a line of its own.
func (w *markdownWriter) text(text string) string {
	var out bytes.Buffer
	if err := (table.Table{Note: text}).Render(&out, table.Markdown, 0); err != nil && w.err == nil {
		w.err = err
	}
	return strings.TrimSpace(out.String())
}

// begin starts a block.
func (w *markdownWriter) begin(item bool) {
	if w.out.Len() > 0 && !(item && w.inList) {
		w.out.WriteByte('\n')
	}
	w.inList = item
}

func (w *markdownWriter) heading(level int, text string) {
	w.begin(false)
	w.out.WriteString(strings.Repeat("#", level) + " " + w.text(text) + "\n")
}

func (w *markdownWriter) paragraph(word, text string) {
	w.begin(false)
	w.line(word, text)
}

func (w *markdownWriter) item(word, text string) {
	w.begin(true)
	w.out.WriteString("- ")
	w.line(word, text)
}

func (w *markdownWriter) line(word, text string) {
	if word != "" {
		w.out.WriteString("**" + w.text(word) + "**: ")
	}
	w.out.WriteString(w.text(text) + "\n")
}

func (w *markdownWriter) table(t table.Table) {
	w.begin(false)
	var out bytes.Buffer
	if err := t.Render(&out, table.Markdown, 0); err != nil && w.err == nil {
		w.err = err
	}
	w.out.Write(bytes.TrimLeft(out.Bytes(), "\n"))
}

// code writes a text as it is, between fences that are longer than any in it.
func (w *markdownWriter) code(text string) {
	w.begin(false)
	fence := "```"
	for strings.Contains(text, fence) {
		fence += "`"
	}
	w.out.WriteString(fence + "text\n" + strings.TrimSuffix(text, "\n") + "\n" + fence + "\n")
}

func (w *markdownWriter) fold(f *fold) {
	w.begin(false)
	w.out.WriteString("<details><summary>" + w.text(f.Title) + "</summary>\n")
	var lines []string
	for _, s := range f.Steps {
		indent := strings.Repeat(" ", table.TextWidth(s.Name)+1)
		lines = append(lines, s.Name+" = "+s.Formula, indent+"= "+s.Filled, indent+"= "+s.Result)
	}
	w.code(strings.Join(lines, "\n"))
	w.out.WriteString("\n</details>\n")
}
