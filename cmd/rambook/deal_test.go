package main

import (
	"slices"
	"strconv"
	"testing"

	"rambook/units"
)

// TestDealtNumbers: the numbers between two limits are those that rams and gauges are
// made in (common practice, no source), and none is a limit.
func TestDealtNumbers(t *testing.T) {
	for _, test := range []struct {
		low, high          float64
		unit               string
		first, second, end string
		n                  int
	}{
		{70, 160, "mm", "75", "80", "155", 17},
		{30, 60, "mm", "32", "34", "58", 14},
		{5, 25, "MPa", "6", "7", "24", 19},
		{50, 250, "bar", "60", "70", "240", 19},
		{725, 3630, "psi", "800", "1000", "3600", 15},
		{2.76, 6.3, "inch", "3", "3.25", "6.25", 14},
		{1.18, 2.36, "inch", "1.25", "1.375", "2.25", 9},
		{0.25, 0.5, "inch", "0.265625", "0.28125", "0.484375", 15},
		{0.3, 0.9, "L", "0.35", "0.4", "0.85", 11},
		{-20, 20, "degC", "-18", "-16", "18", 19},
	} {
		u, err := units.Parse(test.unit)
		if err != nil {
			t.Fatal(err)
		}
		h := hand{columns: []int{0}, ranges: []dealRange{rangeBetween(test.low, test.high, u)}}
		d := h.ranges[0]
		var texts []string
		for i := range d.n {
			texts = append(texts, d.text(i))
		}
		if d.n != test.n || texts[0] != test.first || texts[1] != test.second || texts[d.n-1] != test.end {
			t.Errorf("%g to %g %s: %d numbers %v", test.low, test.high, test.unit, d.n, texts)
		}
		for _, text := range texts {
			if x, err := strconv.ParseFloat(text, 64); err != nil || x <= test.low || x >= test.high {
				t.Errorf("%g to %g %s: %s", test.low, test.high, test.unit, text)
			}
		}
		if slices.Sort(texts); len(slices.Compact(texts)) != d.n {
			t.Errorf("%g to %g %s: a number twice", test.low, test.high, test.unit)
		}
	}
}
