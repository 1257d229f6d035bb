package main

import (
	"errors"
	"strings"
	"testing"

	"rambook/sheets"
)

func TestPrintError(t *testing.T) {
	long := strings.Repeat("a", 300)
	for _, tc := range []struct {
		name string
		err  error
		want string
	}{
		{"of the command line", problem("what is this", "write that"),
			"rambook: what is this\n  hint: write that\n"},
		{"plain", errors.New("cannot do it"), "rambook: cannot do it\n"},
		{"in a cell", &problemsError{Problems: []sheets.Problem{{
			File: "n/a.csv", Line: 3, Column: 9, Text: "=p + area*loss", From: 5, To: 14,
			Message: "cannot add area to pressure", Hint: "divide by an area"}}},
			"n/a.csv:3:9: cannot add area to pressure\n" +
				"    =p + area*loss\n" +
				"         ^^^^^^^^^\n" +
				"  hint: divide by an area\n"},
		{"under wide characters", &problemsError{Problems: []sheets.Problem{{
			File: "a.csv", Line: 1, Column: 3, Text: "油圧 x", From: 3, To: 4, Message: "m"}}},
			"a.csv:1:3: m\n    油圧 x\n         ^\n"},
		{"control characters", &problemsError{Problems: []sheets.Problem{{
			File: "a.csv", Line: 1, Column: 3, Text: "a\x1b[2J\nb", From: 6, To: 7, Message: "bad \x1b"}}},
			"a.csv:1:3: bad ␛\n    a␛[2J b\n          ^\n"},
		{"sorted, warnings first", &problemsError{
			Problems: []sheets.Problem{{File: "a.csv", Line: 9, Message: "late"},
				{File: "a.csv", Line: 2, Column: 1, Message: "early"}},
			Warnings: []sheets.Problem{{File: "a.csv", Line: 5, Message: "odd"}}},
			"a.csv:5: warning: odd\na.csv:2:1: early\na.csv:9: late\n2 problems\n"},
		{"span beyond the text", &problemsError{Problems: []sheets.Problem{{Text: "ab", From: 5, To: 9, Message: "m"}}},
			"rambook: m\n    ab\n      ^\n"},
		{"long text", &problemsError{Problems: []sheets.Problem{{Text: long, From: 150, To: 152, Message: "m"}}},
			"rambook: m\n    …" + long[:100] + "…\n    " + strings.Repeat(" ", 51) + "^^\n"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			var b strings.Builder
			printError(&b, tc.err, false)
			if b.String() != tc.want {
				t.Errorf("got\n%s\nwant\n%s", b.String(), tc.want)
			}
		})
	}
}

func TestPrintErrorAsJSON(t *testing.T) {
	var b strings.Builder
	printError(&b, &problemsError{Problems: []sheets.Problem{
		{File: "a.csv", Line: 2, Column: 5, Message: "`<` found", Hint: "h"}}}, true)
	want := `{"problems":[{"file":"a.csv","line":2,"column":5,"message":"` + "`<`" +
		` found","hint":"h"}],"warnings":[]}` + "\n"
	if b.String() != want {
		t.Errorf("got %s want %s", b.String(), want)
	}
}
