package calc

import (
	"fmt"
	"testing"
)

// Readings agree while E_n is at most 1 (ISO 13528): two that differ in their own rows
// and would agree in each other's may have changed places.
func TestSwappedReadings(t *testing.T) {
	const differ = "and would agree there (look which of the two was read where)"
	for _, test := range []struct{ name, up, down, more, want string }{
		{"swapped", "15.1", "190", "", "p.csv:3:22: up and down may stand in each other's rows: " +
			"15.1 MPa and 190 bar differ from what is computed, " + differ + "\n"},
		{"one of them", "15.1", "150", "", ""},
		{"one fits and the other does not", "15.1", "170", "", ""},
		{"both are right", "19", "150", "", ""},
		{"alike", "17", "170", "", ""},
		{"blank", "15.1", "", "", ""},
		{"another dimension", "15.1", "150", "force,19*kN,kN,15,0.3\nload,15*kN,kN,19,0.3\n", "p.csv:5:16: force and load " +
			"may stand in each other's rows: 15 kN and 19 kN differ from what is computed, " + differ + "\n"},
		{"no spread", "15.1", "150", "force,19*kN,kN,15,\nload,15*kN,kN,19,\n", ""},
	} {
		rows := fmt.Sprintf("name,entry,unit,reading,spread\nsetting,20,MPa,,0.2\nup,setting-1*MPa,MPa,%s,0.3\n"+
			"down,setting-5*MPa,bar,%s,3\n%s", test.up, test.down, test.more)
		if got := withHints(checked(t, "p.csv", rows).Warnings); got+"\n" != test.want && got != test.want {
			t.Errorf("%s: got\n%s\nexpected\n%s", test.name, got, test.want)
		}
	}
	r := checked(t, "p.csv", "name,entry,unit,spread\nsetting,20,MPa,0.2\nup,setting-1*MPa,MPa,0.3\n"+
		"down,setting-5*MPa,bar,3\n", "visits.csv", "visit,setting,up,down\n:unit,,,\na,,19,150\nb,21,16,200\n")
	want := "visits.csv:4:6: visits[b].up and visits[b].down may stand in each other's rows: " +
		"16 MPa and 200 bar differ from what is computed, " + differ
	if got := withHints(r.Warnings); got != want {
		t.Errorf("cases: got\n%s\nexpected\n%s", got, want)
	}
}
