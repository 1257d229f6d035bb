package calc

import (
	"math"
	"os"
	"strings"
	"testing"

	"rambook/sheets"
)

// TestSensorLag holds the advice of the help page on logs: an event that both
// sensors see is timed from one to the other, and a sensor that lags is seen by it
// though all phases are found. The made log is that of the press, with the pressure
// late by so much, noise seed stated.
func TestSensorLag(t *testing.T) {
	manual, err := os.ReadFile("../cmd/rambook/manual/pages/06-logs.md")
	if err != nil {
		t.Fatal(err)
	}
	_, advice, found := strings.Cut(string(manual), "```csv\nname,entry")
	advice, _, _ = strings.Cut(advice, "```")
	if !found {
		t.Fatal("the page on logs has no example of a row")
	}
	motion, cycle := pressMotion(pressValues(t))
	for _, test := range []struct {
		late   float64 // s
		agrees bool
	}{{0, true}, {0.15, false}, {-0.15, false}} {
		shifted := func(at float64) (position, pressure float64) {
			position, _ = motion(at)
			_, pressure = motion(at - test.late)
			return position, pressure
		}
		book, _ := sheets.Starter("press")
		book.FillExamples()
		for file, text := range map[string][]byte{"press/log.csv": recorded(shifted, cycle, 4, 100, 0.1, 0.05, 11),
			"press/26-sensors.csv": []byte("name,entry" + advice)} {
			sheet, problems := sheets.Read(file, text)
			if sheet == nil {
				t.Fatal(told(problems))
			}
			book.Sheets = append(book.Sheets, sheet)
		}
		m, problems := Compile(book, Options{})
		if m == nil {
			t.Fatal(told(problems))
		}
		report, _ := m.Check(CheckOptions{})
		for i := range report.Quantities {
			j := &report.Quantities[i]
			if j.Quantity.Name != "sensor_gap" {
				continue
			}
			t.Logf("pressure late by %v s: sensor_gap %.3g ± %.2g ms, reading %.3g ms, E_n %.2g", test.late, j.Value,
				j.Spread,
				j.Reading, j.Agreement)
			if agrees := j.Agreement <= 1; math.IsNaN(j.Agreement) || agrees != test.agrees {
				t.Errorf("pressure late by %v s: E_n %v", test.late, j.Agreement)
			}
		}
	}
}
