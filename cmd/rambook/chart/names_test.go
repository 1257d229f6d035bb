package chart

import (
	"fmt"
	"testing"
)

// TestNamesKeepClear holds names of points that stand close together to cover neither
// each other nor a point, and to stay between the axes.
func TestNamesKeepClear(t *testing.T) {
	f := &Figure{X: Axis{Name: "price"}, Panels: []Panel{{Y: Axis{Name: "energy"}}}}
	cases := Series{Kind: Case}
	for i, at := range [][2]float64{{0, 0}, {3, 1}, {10, 90}, {11, 96}, {100, 100}, {98, 40}, {97, 41}} {
		p := Point{X: at[0], Y: at[1], Spread: 1}
		cases.Points = append(cases.Points, p)
		f.Names = append(f.Names, Name{p, fmt.Sprintf("machine %d", i+1)})
	}
	panel := &f.Panels[0]
	panel.Series = []Series{cases}
	a := axes{scale{f.xRange(), 60, 440}, scale{panel.yRange(), 300, 20}}
	points := f.taken(a)
	for i, room := range f.placeNames(a) {
		if room.left < 60 || room.right > 440 || room.top < 20 || room.bottom > 300 {
			t.Errorf("name %d stands at %v, beyond the axes", i+1, room)
		}
		for k, other := range f.placeNames(a)[:i] {
			if room.common(other) > 0 {
				t.Errorf("names %d and %d cover each other", k+1, i+1)
			}
		}
		for _, p := range points {
			if room.common(p) > 0 {
				t.Errorf("name %d covers a point at %v", i+1, p)
			}
		}
	}
}
