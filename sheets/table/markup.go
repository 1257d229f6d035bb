package table

import (
	"bytes"
	"fmt"
	"html"
	"slices"
	"strings"

	"rambook/units/words"
)

func (t Table) markdown(out *bytes.Buffer) error {
	if t.Title != "" {
		fmt.Fprintf(out, "### %s\n\n", oneLine(escapeMarkdown(t.Title)))
	}
	t.edit(func(_ int, text string) string { return escapeMarkdown(text) })
	lines, err := t.draw(Markdown)
	if err != nil {
		return err
	}
	err = t.join(out, lines, 2, func(heading string) string {
		return fmt.Sprintf("| **%s** |%s\n", escapeMarkdown(heading), strings.Repeat(" |", len(t.Columns)-1))
	})
	if err == nil && t.Note != "" {
		fmt.Fprintf(out, "\n%s\n", escapeLineStart(escapeMarkdown(t.Note)))
	}
	return err
}

var (
	markdownEscapes = strings.NewReplacer("\n", "<br>", "\t", " ",
		`\`, `\\`, "|", `\|`, "`", "\\`", "*", `\*`, "~", `\~`, "[", `\[`, "]", `\]`, "<", "&lt;", ">", "&gt;", "&",
		"&amp;")
	// Inside a word an underscore has no meaning, and names are full of them.
	outerUnderscore = words.Pattern(`\b_+|_+\b`)
	lineStart       = words.Pattern(`^(?:[#=+-]|[0-9]+[.)])`)
)

// escapeMarkdown makes a text stand for itself in a cell or on a line.
func escapeMarkdown(s string) string {
	s = markdownEscapes.Replace(s)
	return outerUnderscore().ReplaceAllStringFunc(s, func(u string) string { return strings.ReplaceAll(u, "_", `\_`) })
}

// escapeLineStart keeps a line from being read as a list, a heading or a rule.
func escapeLineStart(s string) string {
	return lineStart().ReplaceAllStringFunc(s, func(start string) string {
		n := len(start) - 1
		return start[:n] + `\` + start[n:]
	})
}

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
	err = t.join(out, lines, top, func(heading string) string {
		return fmt.Sprintf("  <tr><th colspan=\"%d\" style=\"text-align: left;\">%s</th></tr>\n", len(t.Columns),
			escapeHTML(heading))
	})
	if err == nil && t.Note != "" {
		fmt.Fprintf(out, "<p>%s</p>\n", escapeHTML(t.Note))
	}
	return err
}

func escapeHTML(s string) string {
	return strings.ReplaceAll(html.EscapeString(s), "\n", "<br>")
}
