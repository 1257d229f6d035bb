package page

import (
	"fmt"
	"strings"

	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units/problem"
)

// ProblemText puts a problem on lines of its own: its place, behind kind what was
// found, the text with carets under what is wrong, and what to do. All of it keeps
// to width characters, unless that is 0.
func ProblemText(kind string, p sheets.Problem, width int) string {
	within := func(text string, indent int) string {
		if width == 0 {
			return text
		}
		return Wrapped(text, width-len("  "), indent)
	}
	var b strings.Builder
	place := strings.TrimSuffix(p.Error(), p.Message)
	if place == "" && kind == "" {
		place = "rambook: "
	}
	fmt.Fprintln(&b, within(Printable(place)+kind+Printable(p.Message), len("  ")))
	if p.Text != "" {
		room := shownText
		if width > 0 {
			room = max(min(room, width-len("    ……")), 1)
		}
		text, carets := underlined(p, room)
		fmt.Fprintf(&b, "    %s\n    %s\n", text, carets)
	}
	if p.Hint != "" {
		fmt.Fprintln(&b, "  "+within("hint: "+Printable(p.Hint), len("  hint: ")))
	}
	return b.String()
}

// shownText is how many characters of a long cell are shown around the place.
const shownText = 100

// underlined returns the text of a problem in one line, and carets under its
// span. Both are cut to a window of so many characters around the span if the text
// is longer.
func underlined(p sheets.Problem, room int) (text, carets string) {
	runes := []rune(Printable(p.Text))
	from := min(max(p.From, 0), len(runes))
	to := min(max(p.To, from), len(runes))
	before, after := "", ""
	if len(runes) > room {
		start := min(max(0, from-room/2), len(runes)-room)
		end := start + room
		if start > 0 {
			before = "…"
		}
		if end < len(runes) {
			after = "…"
		}
		runes, from, to = runes[start:end], from-start, min(to, end)-start
	}
	text = before + string(runes) + after
	indent := table.TextWidth(before + string(runes[:from]))
	length := table.TextWidth(string(runes[from:to]))
	return text, strings.Repeat(" ", indent) + strings.Repeat("^", max(1, length))
}

// JSONProblem is a problem as other programs read it.
type JSONProblem struct {
	File    string `json:"file"`
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	Message string `json:"message"`
	Hint    string `json:"hint"`
}

// JSONProblems sorts problems in place and puts them into the form that other
// programs read.
func JSONProblems(problems []sheets.Problem) []JSONProblem {
	sheets.SortProblems(problems)
	list := make([]JSONProblem, 0, len(problems))
	for _, p := range problems {
		list = append(list, JSONProblem{p.File, p.Line, p.Column, p.Message, p.Hint})
	}
	return list
}

// JSONRefusal is what a program gets in place of an answer.
func JSONRefusal(all *problem.All) any {
	return struct {
		Problems []JSONProblem `json:"problems"`
		Warnings []JSONProblem `json:"warnings"`
	}{JSONProblems(all.Problems), JSONProblems(all.Warnings)}
}
