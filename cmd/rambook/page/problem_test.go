package page

import (
	"strings"
	"testing"

	"rambook/sheets"
)

// TestProblemsOnANarrowScreen holds each line of a problem to the screen; a file or a
// pipe gets a line each, however long.
func TestProblemsOnANarrowScreen(t *testing.T) {
	formula := strings.Repeat("setting + ", 20) + "bore"
	p := sheets.Problem{File: "press/01-plate.csv", Line: 7, Column: 211, Text: formula, From: 200, To: 204,
		Message: "cannot add length to pressure, since " + strings.Repeat("one thing is not the other, ", 5) + "ever",
		Hint:    "look for a unit that is missing or wrong, " + strings.Repeat("here and there ", 8)}
	for _, width := range []int{40, 60, 80, 120} {
		text := ProblemText("warning: ", p, width)
		for line := range strings.Lines(text) {
			if n := len([]rune(strings.TrimSuffix(line, "\n"))); n > width {
				t.Errorf("%d characters in a line of a screen of %d: %s", n, width, line)
			}
		}
		lines := strings.Split(text, "\n")
		at := 0
		for strings.Trim(lines[at], " ^") != "" || lines[at] == "" {
			at++
		}
		from, to := strings.IndexByte(lines[at], '^'), strings.LastIndexByte(lines[at], '^')+1
		if found := string([]rune(lines[at-1])[from:to]); found != "bore" {
			t.Errorf("on a screen of %d the carets stand under %q", width, found)
		}
		if joined := strings.Join(strings.Fields(text), " "); !strings.Contains(joined, p.Message) ||
			!strings.Contains(joined, strings.TrimSpace(p.Hint)) {
			t.Errorf("on a screen of %d words are lost:\n%s", width, text)
		}
	}
	if lines := strings.Count(ProblemText("", p, 0), "\n"); lines != 4 {
		t.Errorf("%d lines without a screen, expected 4", lines)
	}
}
