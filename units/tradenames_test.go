package units

import (
	"strings"
	"testing"
)

// Everything that a hint tells people to write must be readable.
func TestAdviceIsReadable(t *testing.T) {
	for _, a := range advice {
		if s, ok := index()[a.word]; ok && !s.column {
			t.Errorf("%s is a unit; advice on it is never given", a.word)
		}
		for i, part := range strings.Split(a.hint, "`") {
			if i%2 == 0 {
				continue
			}
			if _, err := Parse(part); err != nil {
				t.Errorf("advice on %s: %s", a.word, err)
			}
		}
	}
	tests := []struct{ word, hint string }{
		{"gpm", "write `usgal/min` or `impgal/min`"},
		{"GPM", "write `usgal/min` or `impgal/min`"},
		{"hours", "write `h`"},
		{"Inches", "write `inch`"},
		{"pounds", "write `lb`"},
		{"HP", "write `hp_mech` or `hp_metric`"},
		{"tons", "write `tonne`, `uston`, `ukton`, `tonnef`, `ustonf` or `uktonf`"},
		{"degC", "temperature scales are for unit columns and cells; formulas work in `K`"},
		{"setting", ""},
		{"", ""},
	}
	for _, test := range tests {
		if hint, ok := Advice(test.word); hint != test.hint || ok != (hint != "") {
			t.Errorf("Advice(%q) = %q, %v; want %q", test.word, hint, ok, test.hint)
		}
	}
}

// TestAdviceForRow gives a word of the trade the units that a row of one dimension
// leaves to choose from: common practice, no source.
func TestAdviceForRow(t *testing.T) {
	for _, test := range []struct{ text, row, hint string }{
		{"60 ton", "kN", "write `60 tonnef`, `60 ustonf` or `60 uktonf`; 1 tonnef is 9.80665 kN"},
		{"60 tons", "lbf", "write `60 ustonf`, `60 tonnef` or `60 uktonf`; 1 tonnef is 9.80665 kN"},
		{"2 ton", "kg", "write `2 tonne`, `2 uston` or `2 ukton`"},
		{"60 tonf", "kN", "write `60 tonnef`, `60 ustonf` or `60 uktonf`; 1 tonnef is 9.80665 kN"},
		{"63 tonnes", "kN", "write `63 tonnef`; 1 tonnef is 9.80665 kN"},
		{"63 tonnes", "kg", "write `63 tonne`"},
		{"63 to", "kN", "write `63 tonnef`; 1 tonnef is 9.80665 kN"},
		{"63to", "kg", "write `63 tonne`"},
		{"63 Mp", "kN", "write `63 tonnef`; 1 tonnef is 9.80665 kN"},
		{"25 Mp", "MPa", ""}, // a pressure it was never
		{"4400 lbs", "kg", "write `4400 lb`"},
		{"4400 lbs", "ustonf", "write `4400 lbf`"},
		{"4400 #", "kN", "write `4400 lbf`"},
		{"7 gpm", "L/min", "write `7 usgal/min` or `7 impgal/min`"},
		{"7 GPM", "L/min", "write `7 usgal/min` or `7 impgal/min`"},
		{"20 hp", "kW", "write `20 hp_metric` or `20 hp_mech`"},
		{"20 HP", "kW", "write `20 hp_metric` or `20 hp_mech`"},
		{"20 gal", "L", "write `20 usgal` or `20 impgal`"},
		{"20hp", "kW", "write `20 hp_metric` or `20 hp_mech`"},
		{"1.5gal", "L", "write `1.5 usgal` or `1.5 impgal`"},
		{"1.5 gallons", "L", "write `1.5 usgal` or `1.5 impgal`"},
		{"110 US tons", "kN", "write `110 ustonf`"},
		{"68F", "degC", "write `68 degF`"},
		{"20C", "degF", "write `20 degC`"},
		{"20 hp", "kN", ""}, // no power is a force
		{"20 bore", "mm", ""},
	} {
		row, err := Parse(test.row)
		if err != nil {
			t.Fatal(err)
		}
		if hint, known := AdviceFor(test.text, row); hint != test.hint || known != (hint != "") {
			t.Errorf("%s in a row in %s: %q, expected %q", test.text, test.row, hint, test.hint)
		}
	}
}
