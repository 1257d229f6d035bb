package sheets

import (
	"encoding/csv"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// TestScan is FuzzScan for texts that are put together of what a CSV file is made of.
func TestScan(t *testing.T) {
	pieces := []string{"a", "b c", ",", ",", `"`, `"`, `""`, `"x"`, "\n", "\n", "\r\n", "\r", "#", " ", "é", "\t"}
	g := rand.New(rand.NewPCG(1, 2))
	wrong := 0
	for range 100_000 {
		text := ""
		for range 1 + g.IntN(14) {
			text += pieces[g.IntN(len(pieces))]
		}
		if !holdToCSV(t, text) {
			wrong++
		}
	}
	if wrong < 10_000 || wrong > 90_000 {
		t.Errorf("%d of the texts cannot be read", wrong)
	}
}

// FuzzScan holds the records of a scanner to those of encoding/csv, up to the first that
// cannot be read.
func FuzzScan(f *testing.F) {
	for _, test := range readTests {
		f.Add(test.file)
	}
	for _, text := range []string{"", "\r", "a\r", "a,b\r\n\r\n\"c\r\nd\"\r", "#a\n\"#b\"\n", "\"a\"\r\nb", "\"a\"\rb",
		"a\r\r\n", "\"\"\"\"", "\"a\n", ",", ",\n,", "\ufeff\"a\"\n", "\"" + strings.Repeat("a", maxRecord)} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) { holdToCSV(t, text) })
}

// holdToCSV reports whether a text can be read.
func holdToCSV(t *testing.T, text string) bool {
	t.Helper()
	reader := csv.NewReader(strings.NewReader(strings.TrimPrefix(text, utf8BOM)))
	reader.Comment = '#'
	reader.FieldsPerRecord = -1
	s := newScanner(text)
	for {
		want, fails := reader.Read()
		got := s.scan()
		if fails == io.EOF || got == io.EOF {
			if fails != got {
				t.Errorf("%q: the end is %v, of encoding/csv %v", text, got, fails)
			}
			return true
		}
		if (got == nil) != (fails == nil) {
			t.Errorf("%q: %v, of encoding/csv %v", text, got, fails)
		}
		if got != nil || fails != nil {
			return false
		}
		if !slices.EqualFunc(s.fields, want, func(f field, text string) bool { return f.text == text }) {
			t.Errorf("%q: found %v, encoding/csv %q", text, s.fields, want)
		}
		for i, f := range s.fields {
			line, column := reader.FieldPos(i)
			if f.line != line || f.start-f.lineStart+1 != column {
				t.Errorf("%q: cell %d begins at %d:%d, of encoding/csv at %d:%d", text, i, f.line,
					f.start-f.lineStart+1, line, column)
			}
		}
	}
}
