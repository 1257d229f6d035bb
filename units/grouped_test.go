package units

import "testing"

// TestGrouped takes numbers as they are written where a comma is the decimal mark and
// a point may part thousands (ISO 80000-1, 7.3.1, knows both marks and wants neither
// between thousands).
func TestGrouped(t *testing.T) {
	for text, want := range map[string]string{
		"160.000": "160000", "160.000 N": "160000 N", "1.080": "1080", "-1.250 kN": "-1250 kN", "  12.500  ": "12500",
		"0.125": "", "012.500": "", "1234.500": "", "12.50": "", "12.5000": "", "12": "", "12.500e3": "", "": "",
		"1.250,5": "", "1.25 mm": "", "bore": "",
	} {
		if got, found := Grouped(text); found != (want != "") || found && got != want {
			t.Errorf("%q: %q, %v, expected %q", text, got, found, want)
		}
	}
}
