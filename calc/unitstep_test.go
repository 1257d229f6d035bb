package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"rambook/sheets"
)

// TestUnitSteps checks the step from the units of a formula to that of its row.
// The factors follow from the definitions of the units (NIST SP 811, appendix B).
func TestUnitSteps(t *testing.T) {
	const givens = "name,entry,unit\npressure,18,MPa\narea,100,cm2\nbore,115,mm\nflow,20,L/min\nload,150,kN\n" +
		"displacement,10,cm3/rev\nturns,1500,rev/min\nratio,96,%\nmass,2,tonne\nwarm,40,degC\nlength,2,m\n"
	for _, test := range []struct{ formula, unit, want string }{
		{"pressure*area", "kN", "1800 MPa*cm2: 0.1"},
		{"ratio*pressure*area", "kN", "1728 MPa*cm2: 0.1"},
		{"pressure*area", "MPa*cm2", ""},
		{"area*pressure", "MPa*cm2", ""}, // the order is no step
		{"pi/4*bore^2", "cm2", "10386.89 mm2: 0.01"},
		{"bore**3", "L", "1520875 mm3: 1e-06"},
		{"flow/area", "mm/s", "0.2 L/(min*cm2): 166.6667"},
		{"displacement*turns", "L/min", "15000 cm3/min: 0.001"}, // rev goes out
		{"sqrt(4/pi*load/pressure)", "mm", "3.25735 sqrt(kN/MPa): 31.62278"},
		{"load", "ustonf", "kN: 0.1124045"},
		{"mass*g_n", "kN", "19.6133 tonne*m/s^2: 1"},
		{"area - pi/4*bore^2", "cm2", "mm2: 0.01"},
		{"load + pressure*area", "N", "kN: 1000; MPa*cm2: 100"},
		{"min(bore, length)", "m", "mm: 0.001"},
		{"ratio > 0.5 ? bore : length", "mm", "m: 1000"},
		{"(load + load)/area", "MPa", "3 kN/cm2: 10"},
		{"(load + pressure*area)/area", "MPa", ""}, // a sum in two units cannot go on as one
		{"ratio*ratio", "", ""},
		{"warm", "degF", ""},
		{"load*exp(ratio)", "N", "391.7545 kN: 1000"},
	} {
		m, problems := Compile(files(t, "base.csv", givens, "x.csv",
			"name,entry,unit\nx,\"="+test.formula+"\","+test.unit+"\n"), Options{})
		if m == nil {
			t.Errorf("%s: %s", test.formula, told(problems))
			continue
		}
		d, problems := m.Explain("x", plainly)
		if d == nil {
			t.Errorf("%s: %s", test.formula, told(problems))
			continue
		}
		var steps []string
		for _, u := range d.Steps[0].Units {
			text := fmt.Sprintf("%s: %.7g", u.Unit, u.Factor)
			if Has(u.Number) {
				text = fmt.Sprintf("%.7g %s", u.Number, text)
			}
			steps = append(steps, text)
		}
		if got := strings.Join(steps, "; "); got != test.want {
			t.Errorf("%s in %s: %s, expected %s", test.formula, test.unit, got, test.want)
		}
	}
}

// TestUnitStepsOfStarters holds the steps of every formula that we hand out to its
// value: number times factor.
func TestUnitStepsOfStarters(t *testing.T) {
	steps := 0
	for _, name := range sheets.StarterNames() {
		book, problems := sheets.Starter(name)
		if len(problems) > 0 {
			t.Fatal(told(problems))
		}
		m, problems := Compile(book, Options{})
		if m == nil {
			t.Fatal(told(problems))
		}
		report, _ := m.Check(CheckOptions{})
		for _, step := range m.Steps(report, plainly) {
			for _, u := range step.Units {
				steps++
				if Has(u.Number) && Has(step.Value) &&
					math.Abs(u.Number*u.Factor-step.Value) > 1e-9*math.Abs(step.Value) {
					t.Errorf("%s: %g %s is not %g %s", step.Quantity.Name, u.Number, u.Unit, step.Value,
						step.Unit.Symbol)
				}
			}
		}
	}
	if steps < 40 {
		t.Errorf("only %d steps of units in all starters", steps)
	}
}
