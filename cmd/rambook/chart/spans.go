package chart

import (
	"math"
	"slices"
	"strings"

	"rambook/sheets/table"
)

// spanNames are what is written at the spans, by their number, and what explains
// it. Names that have no room side by side are letters, the same for the same
// name, with a key; of spans too close for letters, as those of many cycles are,
// the first of each name has one. Names that stand elsewhere in the figure are then
// left out.
func (f *Figure) spanNames(fits func(names []string) bool) (names []string, key string) {
	var known []string
	letters := make([]string, len(f.Spans))
	first := make([]string, len(f.Spans))
	for i, s := range f.Spans {
		name := oneLine(s.Label)
		if names = append(names, name); name == "" {
			continue
		}
		at := slices.Index(known, name)
		if at < 0 {
			at, known = len(known), append(known, name)
			first[i] = string(letter(at))
		}
		letters[i] = string(letter(at))
	}
	switch {
	case fits(names):
		return names, ""
	case f.SpansTold:
		return make([]string, len(f.Spans)), ""
	}
	var parts []string
	for i, name := range known {
		parts = append(parts, string(letter(i))+" "+name)
	}
	key = strings.Join(parts, ", ")
	switch {
	case len(known) > 26:
		return make([]string, len(f.Spans)), ""
	case fits(letters):
		return letters, key
	case len(known) < len(f.Spans):
		key += ", and so on in this order"
	}
	return first, key
}

// drawnNames are the names of the spans in a picture, where they may stand a
// little aside of what they name.
func (f *Figure) drawnNames() (names []string, key string) {
	const gap, leftRoom = 6, 66 // between neighbours, and of the numbers beside the axes
	return f.spanNames(func(names []string) bool {
		total := 0.0
		for _, name := range names {
			if name != "" {
				total += regular.width(name) + gap
			}
		}
		return total <= figureWidth-2*edge-leftRoom-f.labelRoom()
	})
}

// spanLine is a line of characters with the names of the spans where they are,
// with a stroke where one ends, "" if there are none, and what explains them.
func (f *Figure) spanLine(x interval, width int) (text, key string) {
	if len(f.Spans) == 0 {
		return "", ""
	}
	toColumn := func(at float64) int { return int(math.Round((at - x.min) / (x.max - x.min) * float64(width-1))) }
	ends := func(s Span) (from, to int) { return max(0, toColumn(s.From)), min(width-1, toColumn(s.To)) }
	names, key := f.spanNames(func(names []string) bool {
		for i, s := range f.Spans {
			if from, to := ends(s); table.TextWidth(names[i]) > to-from-1 {
				return false
			}
		}
		return true
	})
	line := []rune(strings.Repeat(" ", width))
	for i, s := range f.Spans {
		from, to := ends(s)
		name := []rune(names[i])
		if room := to - from - 1; len(name) <= room {
			copy(line[min(width, from+max(1, (to-from-len(name)+1)/2)):], name)
		}
		for _, end := range []int{from, to} {
			if end >= 0 && end < width {
				line[end] = '|'
			}
		}
	}
	return strings.TrimRight(string(line), " "), key
}
