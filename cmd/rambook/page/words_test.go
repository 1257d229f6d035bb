package page

import (
	"strings"
	"testing"
)

func TestWrapped(t *testing.T) {
	for _, tc := range []struct {
		text  string
		width int
		want  string
	}{
		{"", 10, ""},
		{"one two three", 80, "one two three"},
		{"one two three", 8, "one two\n  three"},
		{"unbreakable", 4, "unbreakable"},
		{"油圧 油圧 油圧", 9, "油圧 油圧\n  油圧"}, // each takes four columns
	} {
		if got := Wrapped(tc.text, tc.width, 2); got != tc.want {
			t.Errorf("wrapped(%q, %d) = %q, want %q", tc.text, tc.width, got, tc.want)
		}
	}
}

// TestWrappedFormula breaks at operators what is too long for a line.
func TestWrappedFormula(t *testing.T) {
	for _, tc := range []struct {
		text  string
		width int
		want  string
	}{
		{"aaa*bbb + ccc*ddd", 17, "aaa*bbb + ccc*ddd"},
		{"aaa*bbb + ccc*ddd", 12, "aaa*bbb +\n  ccc*ddd"},
		{"x + aaaa*bbbb/cccc-dddd+eeee", 11, "x + aaaa\n  *bbbb\n  /cccc\n  -dddd\n  +eeee"},
		{"max(aaaa,bbbb,cccc)", 13, "max(aaaa,\n  bbbb,cccc)"},
		{"aaaa**bbbb^-1*-cccc", 9, "aaaa\n  **bbbb^-1\n  *-cccc"},
		{"force-1e-3*mode2e-3", 8, "force\n  -1e-3\n  *mode2e\n  -3"},
		{`s["a-b/c*d"].column*2`, 8, "s[\"a-b/c*d\"].column\n  *2"},
		{"unbreakable*b", 4, "unbreakable\n  *b"},
	} {
		if got := wrappedFormula(tc.text, tc.width, 2); got != tc.want {
			t.Errorf("wrappedFormula(%q, %d) = %q, want %q", tc.text, tc.width, got, tc.want)
		}
	}
}

func TestFitting(t *testing.T) {
	for _, tc := range []struct {
		parts string // separated by |
		room  int
		want  string
	}{
		{"", 10, ""},
		{"stopwatch", 9, "stopwatch"},
		{"stopwatch", 8, ""},
		{"7 kN short|load cell", 21, "7 kN short; load cell"},
		{"7 kN short|load cell", 20, "7 kN short"},
		{"certificate; test bench of the maker", 20, "certificate"},
		{"needs flow|certificate; test bench of the maker", 25, "needs flow; certificate"},
		{"a long first part; and more|b", 10, ""},
	} {
		if got := fitting(strings.Split(tc.parts, "|"), tc.room); got != tc.want {
			t.Errorf("fitting(%q, %d) = %q, want %q", tc.parts, tc.room, got, tc.want)
		}
	}
}
