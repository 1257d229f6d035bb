package calc_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"testing"

	"rambook/sheets"
)

// TestGuardOfTheStarter runs the examples of the safeguard distance (of ST-092 to
// ST-103; the rule of ISO 13855:2010, 6.2.3.1 is from memory, the figures are
// evaluated by an independent program) through the guard sheet of the press:
// what a person types in there is what comes out.
func TestGuardOfTheStarter(t *testing.T) {
	file, err := os.Open("../testdata/reference/standards.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	book, problems := sheets.Starter("press")
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	inputs := regexp.MustCompile(`^T=([\d.]+) s; d=(\d+) mm$`)
	run := 0
	for _, row := range rows {
		in := inputs.FindStringSubmatch(row[2])
		if in == nil {
			continue
		}
		want, err := strconv.ParseFloat(row[3], 64)
		if err != nil {
			t.Fatal(err)
		}
		sets := []string{"curtain_resolution = " + in[2] + " mm", "curtain_response = 0 s", "reach_over = 0 mm",
			"two_hand_response = 0 s"}
		for i := 1; i <= 10; i++ {
			sets = append(sets, fmt.Sprintf("stop_%d = %s s", i, in[1]))
		}
		values, problems := valuesOf(book, sets)
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		if got := 1000 * values["safe_distance"]; math.Abs(got-want) > 0.5 {
			t.Errorf("%s: %s gives %.4g mm, published %g mm", row[0], row[2], got, want)
		}
		stop, _ := strconv.ParseFloat(in[1], 64)
		if got, want := 1000*values["two_hand_distance"], 1600*stop+250; !near(got, want, 1e-9) { // ST-089, from memory
			t.Errorf("two-hand control after %v s: %.4g mm, expected %.4g mm", stop, got, want)
		}
		run++
	}
	if run < 7 {
		t.Errorf("%d examples of the safeguard distance, expected at least 7", run)
	}
}

// TestSizesOfTheStarter holds sheets to figures from outside through the givens
// that a user would change.
func TestSizesOfTheStarter(t *testing.T) {
	for _, test := range []struct {
		starter, name, source string
		sets                  []string
		want, tolerance       float64 // SI
	}{
		// Common practice, no source: two 125 mm rams at 20 MPa give about 55 short tons-force.
		{"press", "gross_force", "common practice, no source",
			[]string{"bore = 125 mm", "rod_diameter = 100 mm", "setting = 20 MPa"}, 55 * 8896.443230521, 0.01},
		// ISO 3320 pair 200/140: areas 314.159265 and 160.221225 cm² (ST-012, recomputed).
		{"press", "bore_area", "ST-012", []string{"rams = 1", "bore = 200 mm", "rod_diameter = 140 mm"}, 314.159265e-4,
			1e-8},
		{"press", "annulus_area", "ST-012", []string{"rams = 1", "bore = 200 mm", "rod_diameter = 140 mm"},
			160.221225e-4, 1e-8},
		{"pumps", "annulus_area", "ST-012", []string{"rams = 1", "bore = 200 mm", "rod_diameter = 140 mm"},
			160.221225e-4, 1e-8},
		{"lesson", "annulus", "ST-012", []string{"bore = 200 mm", "rod_diameter = 140 mm"}, 160.221225e-4, 1e-8},
	} {
		book, problems := sheets.Starter(test.starter)
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		values, problems := valuesOf(book, test.sets)
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		if got := values[test.name]; !near(got, test.want, test.tolerance) {
			t.Errorf("%s of %s (%s): %.9g, expected %.9g", test.name, test.starter, test.source, got, test.want)
		}
	}
}
