package problem

import (
	"strings"
	"testing"
)

func TestProblemError(t *testing.T) {
	for _, test := range []struct {
		problem Problem
		want    string
	}{
		{Problem{File: "a.csv", Line: 3, Column: 7, Text: "x", Message: "m", Hint: "h"}, "a.csv:3:7: m"},
		{Problem{File: "a.csv", Line: 3, Message: "m"}, "a.csv:3: m"},
		{Problem{File: "a.csv", Column: 7, Message: "m"}, "a.csv: m"},
		{Problem{Text: "bore=3", From: 1, To: 2, Message: "m"}, "m"},
	} {
		if got := test.problem.Error(); got != test.want {
			t.Errorf("got %q, want %q", got, test.want)
		}
	}
}

func TestSort(t *testing.T) {
	at := func(file string, line, column int, message string) Problem {
		return Problem{File: file, Line: line, Column: column, Message: message}
	}
	ps := []Problem{
		at("2-b.csv", 9, 1, "1"), at("10-a.csv", 1, 1, "2"), at("2-b.csv", 3, 5, "3"), at("", 0, 0, "4"),
		at("2-b.csv", 3, 2, "5"), at("2-b.csv", 3, 5, "6"), at("10-a.csv", 0, 0, "7"),
	}
	Sort(ps)
	var got []string
	for _, p := range ps {
		got = append(got, p.Message)
	}
	if order := strings.Join(got, ""); order != "5361724" {
		t.Errorf("got order %s, want 5361724", order)
	}
}
