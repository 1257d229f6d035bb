// Package problem is everything that is wrong, in one form: in a number, a cell, a
// formula or an argument. It imports nothing of ours, so that every package has
// the same one.
package problem

import (
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Problem is one thing that is wrong in a file, a formula or an argument,
// with the place where it stands. Every pass of rambook reports its problems
// in this one form, and goes on, so that a user sees all of them in one run.
type Problem struct {
	File   string // path as the user typed it, joined with the file name; of an argument what it is, as in --set, or ""
	Line   int    // physical line, from 1; 0 is the whole file
	Column int    // character in the physical line, from 1; 0 is the whole line
	Text   string // the cell's text, or the argument, shown with a caret; may be ""
	From   int    // first character of Text to underline
	To     int    // one past the last character of Text to underline

	Message string // what was found and what was expected
	Hint    string // what to do; may be ""
	Track   string // the column of a log that is what is wrong: its unit does not suit, or the log has none
	Lacks   bool   // the log has none
	Places  int32  // how often that is so, where it is told once; else 0
}

// In makes a problem of the bytes from i to j of a text, before it is known where
// the text stands.
//
//go:noinline
func In(text string, i, j int, message, hint string) *Problem {
	return &Problem{
		Text: text, From: utf8.RuneCountInString(text[:i]), To: utf8.RuneCountInString(text[:j]),
		Message: message, Hint: hint,
	}
}

// Error returns "file:line:column: message", without the parts that are
// not known.
func (p Problem) Error() string {
	var place []string
	if p.File != "" {
		place = append(place, p.File)
	}
	if p.Line > 0 {
		place = append(place, strconv.Itoa(p.Line))
		if p.Column > 0 {
			place = append(place, strconv.Itoa(p.Column))
		}
	}
	if len(place) == 0 {
		return p.Message
	}
	return strings.Join(place, ":") + ": " + p.Message
}

// All is an error that carries everything that is wrong at once, with the warnings
// that may explain it. It has at least one problem.
type All struct {
	Problems, Warnings []Problem
}

// Error is the first of the problems.
func (a *All) Error() string { return a.Problems[0].Error() }

// Wrong is an error that carries these problems.
//
//go:noinline
func Wrong(problems ...Problem) error { return &All{Problems: problems} }

// Sort sorts ps in place: files in the order in which they first
// occur in ps, in a file by line and column. Problems of one place keep their
// order.
func Sort(ps []Problem) {
	rank := make(map[string]int)
	for _, p := range ps {
		if _, seen := rank[p.File]; !seen {
			rank[p.File] = len(rank)
		}
	}
	sort.SliceStable(ps, func(i, j int) bool {
		a, b := &ps[i], &ps[j]
		if d := rank[a.File] - rank[b.File]; d != 0 {
			return d < 0
		}
		if d := a.Line - b.Line; d != 0 {
			return d < 0
		}
		return a.Column < b.Column
	})
}
