package units

import "testing"

// TestOfRecorder: a symbol as it is, what recorders write in its place, and what
// nobody knows (common practice, no source).
func TestOfRecorder(t *testing.T) {
	for text, want := range map[string]string{
		"": "", "-": "", "MPa": "MPa", "mPa": "mPa", "MPA": "MPa", " bar ": "bar", "BAR": "bar", "°C": "°C",
		"c": "degC", "Grad C": "degC",
		"l/min": "L/min", "U/min": "rev/min", "lpm": "L/min", "GPM": "usgal/min", "kN": "kN", "sec": "s",
	} {
		if got, known := OfRecorder(text); got != want || !known {
			t.Errorf("%q is %q, %v; expected %q", text, got, known, want)
		}
	}
	for _, text := range []string{"widget", "date", "text", "kN/"} {
		if got, known := OfRecorder(text); known {
			t.Errorf("%q is taken for %q", text, got)
		}
	}
	for word, symbol := range recorderSpellings {
		if u, err := Parse(symbol); err != nil || u.Kind > Point {
			t.Errorf("%q stands for %q, which is no unit of a number: %v", word, symbol, err)
		}
	}
}
