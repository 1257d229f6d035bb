package chart

import (
	"strings"
	"testing"
)

// TestSpanNames checks that names are whole or letters with a key, and never a
// part of a name.
func TestSpanNames(t *testing.T) {
	cycle := []string{"approach", "pressing", "building", "holding", "decompression", "return"}
	spansOf := func(names []string, times int, width float64) (list []Span) {
		at := 0.0
		for range times {
			for _, name := range names {
				list = append(list, Span{From: at, To: at + width, Label: name})
				at += width
			}
		}
		return list
	}
	const key = "a approach, b pressing, c building, d holding, e decompression, f return"
	for _, test := range []struct {
		name        string
		spans       []Span
		told        bool
		names, key  string
		line, lined string // with characters, 60 of them
	}{
		{"room for all", spansOf([]string{"up", "down"}, 1, 5), false, "up,down", "",
			"|             up              |            down            |", ""},
		{"one cycle", spansOf(cycle, 1, 1), false, strings.Join(cycle, ","), "",
			"|    a    |    b    |    c    |   d    |    e    |    f    |", key},
		{"three cycles", spansOf(cycle, 3, 1), false, "a,b,c,d,e,f,a,b,c,d,e,f,a,b,c,d,e,f", key,
			"|a | b |c |d |e | f |a |b | c |d |e |f | a |b |c |d | e |f |", key},
		{"many cycles", spansOf(cycle, 9, 1), false, "a,b,c,d,e,f" + strings.Repeat(",", 48),
			key + ", and so on in this order",
			"", key + ", and so on in this order"},
		{"told elsewhere", spansOf(append(cycle, "a rest until the next"), 1, 1), true, ",,,,,,", "",
			"|       |        |       |        |       |        |       |", ""},
		{"none", nil, false, "", "", "", ""},
	} {
		f := &Figure{X: Axis{Name: "time"}, Spans: test.spans, SpansTold: test.told}
		names, key := f.drawnNames()
		if got := strings.Join(names, ","); got != test.names || key != test.key {
			t.Errorf("%s: %s, %q", test.name, got, key)
		}
		end := 1.0
		if n := len(test.spans); n > 0 {
			end = test.spans[n-1].To
		}
		line, lined := f.spanLine(interval{0, end}, 60)
		if test.line != "" && line != test.line || lined != test.lined {
			t.Errorf("%s: with characters\n%q, %q, expected\n%q, %q", test.name, line, lined, test.line, test.lined)
		}
	}
}
