package calc_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"rambook/calc"
	"rambook/sheets"
)

// floorPress is the invented press with what was read on the shop floor filled in:
// stations of the seating, slopes of the faces, and every tick of delivery and
// hand-over but some.
func floorPress(t *testing.T, cells map[string]map[string][]string, unticked ...string) *calc.Report {
	t.Helper()
	book, problems := sheets.Starter("press")
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	for _, s := range book.Sheets {
		for i := range s.Rows {
			if row := &s.Rows[i]; row.Unit.Text == "tick" {
				row.Entry.Text = "yes"
				if slices.Contains(unticked, row.Name.Text) {
					row.Entry.Text = "no"
				}
			}
		}
		for r := range s.Cases {
			for column, texts := range cells[s.Name] {
				at := slices.IndexFunc(s.Columns, func(c sheets.Column) bool { return c.Name.Text == column })
				if at < 0 {
					t.Fatalf("%s has no column %s", s.Name, column)
				}
				s.Cases[r].Cells[at].Text = texts[r]
			}
		}
	}
	_, report := recalculated(t, book)
	return report
}

// TestSeatingByHand: five stations, of which two have a wedge of their own slope.
// The least-squares line by hand: mean 0.054 mm, Σdx² = 3.6e6 mm², Σdx·g = 114 mm²,
// so 0.0316667 mm/m, and 0.016 mm at the left end.
func TestSeatingByHand(t *testing.T) {
	r := floorPress(t, map[string]map[string][]string{"stations": {
		"position":    {"0", "600", "1200", "1800", "2400"},
		"gap":         {"0.03", "0.04", "0.02", "0.07", "0.11"},
		"wedge_slope": {"", "0.04", "", "0.01", ""}, // 1 in 50, 1 in 25, 1 in 50, 1 in 100, 1 in 50
		"gap_after":   {"0.05", "0.04", "0.06", "0.05", "0.09"},
	}})
	want := map[string][]float64{
		"line_gap":   {0.016, 0.035, 0.054, 0.073, 0.092},
		"rest":       {0.014, 0.005, -0.034, -0.003, 0.018},
		"wedge_move": {-1.2, -0.35, -1.7, 1.6, 2.8}, // of a wedge that rises half as much twice the way
	}
	seen := 0
	for _, result := range r.Cases {
		for i := range result.Cases {
			for _, j := range result.Cases[i].Values {
				if list := want[j.Quantity.Name]; result.Sheet.Name == "stations" && list != nil {
					seen++
					if math.Abs(j.Value-list[i]) > 1e-12 {
						t.Errorf("%s[%s] is %v %s, expected %v", j.Quantity.Name, result.Cases[i].Name, j.Value,
							j.Unit.Symbol, list[i])
					}
				}
			}
		}
	}
	if seen != 15 {
		t.Errorf("%d numbers of stations, expected 15", seen)
	}
	byHand(t, r, "tilt", 114/3.6e3, calc.Pass)     // mm/m: 114 mm² by 3.6e6 mm²
	byHand(t, r, "flatness", 0.09-0.04, calc.Pass) // mm, beside 0.08
}

// byHand holds a row to a value in its unit and to a verdict.
func byHand(t *testing.T, r *calc.Report, name string, want float64, verdict calc.Verdict) {
	t.Helper()
	j := r.Of(name)
	if math.Abs(j.Value-want) > 1e-9*math.Abs(want) || j.Verdict != verdict {
		t.Errorf("%s is %v %s, %v; expected %v, %v", name, j.Value, j.Unit.Symbol, j.Verdict, want, verdict)
	}
}

// TestLevellingByHand: four faces read before and after the shims, feet 2600 by
// 1250 mm apart. Before, the front reads 0.06 and the back -0.03 mm/m along, 0.015 on
// the mean; left -0.09 and right -0.02 across, -0.055. So the feet stand, over front
// left, at 0, 0.039, -0.06875 and -0.02975 mm.
func TestLevellingByHand(t *testing.T) {
	r := floorPress(t, map[string]map[string][]string{"faces": {
		"slope":       {"0.06", "-0.03", "-0.09", "-0.02"},
		"slope_after": {"0.03", "-0.02", "-0.04", "0.01"},
	}})
	byHand(t, r, "along", 0.015, calc.NoVerdict)
	byHand(t, r, "across", -0.055, calc.NoVerdict)
	byHand(t, r, "highest_foot", 0.039, calc.NoVerdict)
	byHand(t, r, "shim_front_left", 0.039, calc.NoVerdict)
	byHand(t, r, "shim_back_left", 0.039+0.06875, calc.NoVerdict)
	byHand(t, r, "shim_back_right", 0.039+0.02975, calc.NoVerdict)
	if lift := r.Of("shim_front_right").Value; math.Abs(lift) > 1e-12 {
		t.Errorf("the highest foot is lifted by %v mm", lift)
	}
	byHand(t, r, "along_after", 0.005, calc.Pass)
	byHand(t, r, "across_after", -0.015, calc.Pass)
	byHand(t, r, "twist", -0.05*2.6, calc.Pass)
	byHand(t, r, "survey_gap", -0.05*2.6-0.05*1.25, calc.Unsure) // the level reads to 0.05 mm/m
}

// TestFloorByHand: 9500 kg on four feet, the heaviest with half as much again,
// each on a plate of 250 by 250 mm. g_n is 9.80665 m/s² (CGPM 1901).
func TestFloorByHand(t *testing.T) {
	r := floorPress(t, nil)
	byHand(t, r, "foot_load", 9500*9.80665/4*1.5/1e3, calc.NoVerdict)
	byHand(t, r, "bearing_pressure", 9500*9.80665/4*1.5/(250*250), calc.Pass)
}

// TestTicksOfSafety: the weight off the threads of the lock screws and the drawn key
// of the curtain are ticks of their own. One that is not done keeps the press from
// being ready, and ready names it; one that is ticked before its turn is told.
func TestTicksOfSafety(t *testing.T) {
	named := func(r *calc.Report, tick string) bool {
		return slices.ContainsFunc(r.Of("ready").Blames, func(b calc.Blame) bool { return b.Name == tick })
	}
	all := floorPress(t, nil)
	for tick, before := range map[string]string{"screws_backed_off": "levelled", "key_drawn": "curtain_tested"} {
		if named(all, tick) || all.Of(tick).Verdict != calc.Pass {
			t.Errorf("%s is ticked and %v", tick, all.Of(tick).Verdict)
		}
		r := floorPress(t, nil, tick)
		if ready := r.Of("ready"); ready.Verdict != calc.Fail || !named(r, tick) {
			t.Errorf("without %s ready is %v and blames %v", tick, ready.Verdict, ready.Blames)
		}
		r = floorPress(t, nil, before)
		early := tick + " is ticked, but comes after " + before
		if !slices.ContainsFunc(r.Warnings, func(p sheets.Problem) bool {
			return strings.HasPrefix(p.Message, early)
		}) {
			t.Errorf("%s, ticked before %s, is not told", tick, before)
		}
	}
}
