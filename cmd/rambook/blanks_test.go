package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Signs that keyboards, spreadsheets and documents of many countries put in
// the place of a blank and of a minus.
const (
	noBreak     = "\u00a0"
	narrowBlank = "\u202f"
	thinBlank   = "\u2009"
	minus       = "\u2212"
)

// TestBlanksAndMinus reads them wherever a number, a unit or a formula stands.
func TestBlanksAndMinus(t *testing.T) {
	const tidy = "name,entry,unit,reading,spread,low,high,note\n" +
		"oil,-5,degC,,1.5 K,-10,80,\n" +
		"setting,20 MPa,MPa,,1 %,-5,25 MPa,\n" +
		"area,201.06e-4,m^2,,,,,\n" +
		"started,2026-05-04,date,,1 d,,,\n" +
		"force,=setting * area - 2 * (3 - 1)*kN,kN,398 kN,4,-1e3,\n" +
		"loss,=-0.02 * force,kN,-8,0.5,,,\n"
	const cases = "visit,setting,force\n:unit,MPa,kN\n:spread,1 %,4 kN\n:low,,-1e3\nfirst,19 MPa,\nsecond,-2,\n"
	// The bare blank of the header's own words and of RFC 4180 stays; a blank
	// within a cell becomes another one, and cells get some around them.
	foreign := func(text, blank string) string {
		lines := strings.Split(text, "\n")
		for i, line := range lines {
			if i == 0 || line == "" {
				continue
			}
			cells := strings.Split(strings.NewReplacer(" ", blank, "-", minus, "2026-05-04",
				"2026-05-04").Replace(line), ",")
			for k := range cells {
				if k > 0 && cells[k] != "" {
					cells[k] = blank + cells[k] + blank
				}
			}
			lines[i] = strings.Join(cells, ",")
		}
		return strings.Join(lines, "\n")
	}
	answer := func(dir string) string {
		status, out, said := obey("check", "--format", "csv", dir)
		if status != exitFine {
			t.Fatalf("status %d\n%s%s", status, out, said)
		}
		return out
	}
	want := answer(notebook(t, "press.csv\n"+tidy, "visits.csv\n"+cases))
	for name, blank := range map[string]string{"no-break blank": noBreak, "narrow no-break blank": narrowBlank,
		"thin blank": thinBlank} {
		if got := answer(notebook(t, "press.csv\n"+foreign(tidy, blank),
			"visits.csv\n"+foreign(cases, blank))); got != want {
			t.Errorf("%s: got\n%sexpected\n%s", name, got, want)
		}
	}

	dir := notebook(t, "press.csv\n"+tidy)
	for _, tc := range []struct {
		args []string
		want string
	}{
		{[]string{"convert", minus + "20" + noBreak + "degC", "K"}, "253.15 K\n"},
		{[]string{"convert", "30" + narrowBlank + "L/min", noBreak + "m3/s"}, "0.0005 m3/s\n"},
		{[]string{"convert", "3*m" + minus + "1*m", "m"}, "2 m\n"},
		{[]string{"sweep", "--over", "oil =" + noBreak + minus + "5 to 5" + narrowBlank + "by 5" + noBreak + "degC",
			"--show", "oil", "--format", "csv", dir},
			"oil (degC),oil (degC),oil spread (K),verdict,error,note\n" +
				"-5,-5,1.5,pass,,\n" +
				"0,0,1.5,pass,,\n" +
				"5,5,1.5,pass,,\n"},
		{[]string{"set", "oil", minus + "7.5" + noBreak + "degC", dir}, "7.5"},
	} {
		status, out, said := obey(tc.args...)
		if status != exitFine || !strings.Contains(out, tc.want) {
			t.Errorf("%q: status %d, %q, %q, expected %q", tc.args, status, out, said, tc.want)
		}
	}
	if data, err := os.ReadFile(filepath.Join(dir, "press.csv")); err != nil ||
		!strings.Contains(string(data), "oil,"+minus+"7.5"+noBreak+"degC,degC") {
		t.Errorf("set wrote %q, %v", data, err)
	}
	status, out, _ := obey("check", "--set", "oil = "+minus+"3", "--format", "csv", dir)
	if status != exitFine || !strings.Contains(out, ",oil,degC,-3,") {
		t.Errorf("--set: status %d\n%s", status, out)
	}
}
