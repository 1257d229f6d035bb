package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// classBook is what a class works out: all reference answers follow by hand from
// F = p·A, v = Q/A and P = p·Q.
const classBook = `name,entry,unit,reading,spread
bore,115,mm,,
rod_diameter,70,mm,,
pressure,18,MPa,,0.9
flow,20,L/min,,
mass,1200,kg,,
efficiency,85,%%,,
area,pi/4*bore^2,cm2,%s,
annulus,area - pi/4*rod_diameter^2,cm2,%s,
force,pressure*area,kN,%s,
force_short,pressure*area,ustonf,%s,
pull,pressure*annulus,kN,%s,
speed,flow/area,mm/s,%s,
power,pressure*flow/efficiency,kW,%s,
weight,mass*g_n,kN,%s,
pressure_psi,pressure,psi,%s,
mass_short,mass,uston,%s,
needed,force/area,bar,%s,
`

var classAnswers = []string{"area", "annulus", "force", "force_short", "pull", "speed", "power", "weight",
	"pressure_psi", "mass_short", "needed"}

// classWith is the notebook with one answer.
func classWith(t *testing.T, name, answer string) (*Model, *Report) {
	t.Helper()
	cells := make([]any, len(classAnswers))
	for i := range cells {
		if cells[i] = ""; classAnswers[i] == name {
			cells[i] = answer
		}
	}
	m := compiled(t, "class.csv", fmt.Sprintf(classBook, cells...))
	r, problems := m.Check(CheckOptions{})
	if r == nil {
		t.Fatal(told(problems))
	}
	return m, r
}

// TestSlipsOfStudents injects slips into answers worked out by hand to three
// digits. Most have to be named; the right answer beside each has to be right.
func TestSlipsOfStudents(t *testing.T) {
	bore, rod, p, q, eta := 0.115, 0.070, 18e6, 20e-3/60, 0.85
	a := math.Pi / 4 * bore * bore
	ring := a - math.Pi/4*rod*rod
	right := map[string]float64{"area": a * 1e4, "annulus": ring * 1e4, "force": p * a / 1e3,
		"force_short": p * a / (2000 * 4.4482216152605),
		"pull":        p * ring / 1e3, "speed": q / a * 1e3, "power": p * q / eta / 1e3, "weight": 1200 * 9.80665 / 1e3,
		"pressure_psi": 18e6 / 6894.757293168, "mass_short": 1200 / 907.18474, "needed": 180}
	const psi, lbf = 6894.757293168, 4.4482216152605
	injected := []struct {
		name   string
		answer float64
		slip   string // a word of what has to be named
	}{
		{"area", a * 1e4 * 10, "power of ten"}, {"area", a * 1e4 / 100, "power of ten"},
		{"area", a * 1e6, "power of ten"}, {"area", a * 1e4 * 4, "factor of 4"},
		{"area", bore * bore * 1e4, "4/pi"}, {"area", math.Pi * bore * 1e2, "circumference"},
		{"area", ring * 1e4, "annulus"}, {"area", a / 0.0254 / 0.0254, "in2"},
		{"area", math.Pi / 4 * rod * rod * 1e4, "rod_diameter"}, {"area", a * 1e4 / math.Pi, "factor of pi"},
		{"annulus", a * 1e4, "area is taken for annulus|area"}, {"annulus", ring * 1e3, "power of ten"},
		{"annulus", ring * 4 * 1e4, "factor of 4"}, {"annulus", ring * 4 / math.Pi * 1e4, "4/pi"},
		{"force", p * a, "power of ten"}, {"force", p * a / 1e4, "power of ten"},
		{"force", p * a * 4 / 1e3, "factor of 4"}, {"force", p * a / 4 / 1e3, "factor of 4"},
		{"force", p * ring / 1e3, "annulus|pull"}, {"force", p * a / lbf, "lbf"}, {"force", p * a / 9806.65, "tonnef"},
		{"force", p * a / (2000 * lbf), "ustonf"},
		{"force", 18 * psi * a / 1e3, "psi"}, {"force", p * bore * bore / 1e3, "4/pi"},
		{"force", p * a * 2 / 1e3, "factor of 2"},
		{"force_short", p * a / 9806.65, "tonnef"}, {"force_short", p * a / (2240 * lbf), "uktonf"},
		{"pull", p * a / 1e3, "area|force"}, {"pull", p * ring * 10 / 1e3, "power of ten"},
		{"pull", p * ring / lbf, "lbf"},
		{"speed", q / ring * 1e3, "annulus"}, {"speed", q / a / 4 * 1e3, "factor of 4"},
		{"speed", q / a * 1e3 * 0.06, "m/min"}, {"speed", 20 * 3.785411784e-3 / 60 / a * 1e3, "usgal/min"},
		{"power", p * q * eta / 1e3, "efficiency is upside down"}, {"power", p * q / 1e3, "efficiency is left out"},
		{"power", p * q / eta / 745.69987, "hp_mech"},
		{"pressure_psi", 180, "bar"}, {"mass_short", 1.2, "tonne"}, {"needed", 18, "power of ten"},
	}
	if len(injected) != 40 {
		t.Fatalf("%d slips", len(injected))
	}
	named := 0
	for _, c := range injected {
		m, r := classWith(t, c.name, fmt.Sprintf("%.3g", c.answer))
		marks := m.Marks(r)
		if len(marks) != 1 || marks[0].Right {
			t.Errorf("%s = %.3g is not marked wrong: %+v", c.name, c.answer, marks)
			continue
		}
		text := strings.Join(marks[0].Slips, ", or ")
		hit := false
		for _, word := range strings.Split(c.slip, "|") {
			hit = hit || strings.Contains(text, word)
		}
		if hit {
			named++
		} else {
			t.Logf("%s = %.3g: %q, made by %s", c.name, c.answer, text, c.slip)
		}
	}
	t.Logf("%d of %d slips are named", named, len(injected))
	if named < 36 {
		t.Errorf("only %d of %d slips are named", named, len(injected))
	}
	for name, value := range right {
		for _, format := range []string{"%.3g", "%.4g", "%.10g"} {
			m, r := classWith(t, name, fmt.Sprintf(format, value))
			if marks := m.Marks(r); len(marks) != 1 || !marks[0].Right {
				t.Errorf("%s = "+format+" is right, and marked %+v", name, value, marks)
			}
		}
	}
}

// A slip is told as a fact if it is the only one that gives the answer to the digits it
// was typed with, worked out by hand from bore 115 mm, rod 70 mm and 18 MPa: area 103.87,
// rod 38.48, annulus 65.39 cm2; 1 bar is 14.504 psi (NIST SP 811).
func TestSlipsThatAreSure(t *testing.T) {
	for _, c := range []struct {
		name, answer, slips string
		sure                bool
	}{
		{"annulus", "38.5", "annulus: what rod_diameter takes off is taken for what is left", true},
		{"annulus", "142", "annulus: what rod_diameter takes off is added", true},
		{"pull", "69.3", "annulus: what rod_diameter takes off is taken for what is left", true},
		{"pull", "187", "force is taken for pull", true},
		{"force", "12.9", "pressure: bar is taken for psi", true},
		{"force", "2710", "pressure: psi is taken for bar", true},
		{"force", "18.7", "a power of ten, too small", true},
		{"force", "18.8", "the unit: it would be right in uktonf", true},
		{"force", "18.6", "a power of ten, too small; the unit: it would be right in uktonf", false}, // 1 in 200 off
		{"force", "376", "a factor of 2, too large", false},
		{"needed", "18", "a power of ten, too small; the unit: it would be right in MPa", false}, // the same twice
		{"annulus", "97", "", false},
		{"force", "200", "rounded to 1 digit: 3 are asked for", true}, // 186.97
		{"pull", "120", "rounded to 2 digits: 3 are asked for", true}, // 117.7
		{"annulus", "67", "", false},                                  // 65.39
		// Closed form: 60 seconds a minute. The speed is 32.09 mm/s, the power 7.059 kW.
		{"speed", "1925.5", "the unit: it would be right in mm/min", true},
		{"power", "423.5", "a factor of 60, as between minutes and seconds, too large", true},
		{"power", "0.1176", "a factor of 60, as between minutes and seconds, too small", true},
		{"power", "425", "a factor of 60, as between minutes and seconds, too large; flow is taken in L/s", false},
		{"force", "11218", "", false}, // 60 times, which no minute makes of a force
	} {
		m, r := classWith(t, c.name, c.answer)
		marks := m.Marks(r)
		if len(marks) != 1 || marks[0].Right || strings.Join(marks[0].Slips, "; ") != c.slips ||
			marks[0].Sure != c.sure {
			t.Errorf("%s = %s: %+v, expected %q, sure %v", c.name, c.answer, marks, c.slips, c.sure)
		}
	}
}

// A ratio that is upside down, in the answer or in what it is worked out from, and a speed
// in rev/min that was taken for rad/s, by hand: 103.87/65.39 is 1.5884, 18 MPa times that
// 28.59 MPa and 18 MPa over it 11.33 MPa; 100 N*m at 1450 rev/min is 15.18 kW.
func TestSlipsOfRatios(t *testing.T) {
	const book = "name,entry,unit,reading\npressure,18,MPa,\nrams,2,,\ntorque,100,N*m,\nspeed,1450,rev/min,\n" +
		"ratio,103.87/65.39,,%s\nblocked,pressure*ratio,MPa,%s\npower,torque*speed/rad,kW,%s\nboth,rams*pressure,MPa,%s\n"
	for _, c := range []struct {
		ratio, blocked, power, both string
		slip                        string
		sure                        bool
	}{
		{ratio: "0.6295", slip: "ratio is upside down", sure: true},
		{blocked: "11.33", slip: "ratio is upside down", sure: true},
		{power: "145", slip: "a factor of 60/(2 pi), as between rev/min and rad/s, too large", sure: true},
		{both: "9", slip: "a factor of 4, as between a radius and a diameter squared, too small", sure: true},
	} {
		m := compiled(t, "a.csv", fmt.Sprintf(book, c.ratio, c.blocked, c.power, c.both))
		r, _ := m.Check(CheckOptions{})
		marks := m.Marks(r)
		if len(marks) != 1 || strings.Join(marks[0].Slips, "; ") != c.slip || marks[0].Sure != c.sure {
			t.Errorf("%+v: %+v", c, marks)
		}
	}
}

// A right answer is right whatever the doubt of what it is computed from, and a
// wrong one is wrong; the spread of the row says how near it has to be.
func TestMarksGoByTheSpreadOfTheAnswer(t *testing.T) {
	const book = "name,entry,unit,reading,spread\nlength,100,mm,,40\ntwice,2*length,mm,%s,%s\n"
	for _, c := range []struct {
		reading, spread string
		right           bool
	}{{"200", "", true}, {"201.9", "", true}, {"203", "", false}, {"240", "", false}, {"203", "5", true},
		{"206", "5", false}, {"201", "0.5", false}, {"199.6", "0.5 mm", true}, {"201", "1 %", true},
		{"-200", "", false}} {
		m := compiled(t, "a.csv", fmt.Sprintf(book, c.reading, c.spread))
		r, _ := m.Check(CheckOptions{})
		if marks := m.Marks(r); len(marks) != 1 || marks[0].Right != c.right {
			t.Errorf("reading %s ± %s: %+v", c.reading, c.spread, marks)
		}
	}
}

// In a class each case is a student, with numbers of their own.
func TestCaseMarks(t *testing.T) {
	m := compiled(t, "ram.csv", "name,entry,unit\n"+
		"bore,115,mm\n"+
		"rod,70,mm\n"+
		"pressure,18,MPa\n"+
		"area,pi/4*bore^2,cm2\n"+
		"annulus,area - pi/4*rod^2,cm2\n"+
		"force,pressure*area,kN\n",
		"class.csv", "student,bore,force\n"+
			":unit,mm,kN\n"+
			"A,100,141.4\n"+
			"B,120,203.6\n"+
			"C,100,187\n"+
			"D,160,141.4\n"+
			"E,100,\n"+
			"F,100,71.9\n")
	r, problems := m.Check(CheckOptions{})
	if r == nil {
		t.Fatal(told(problems))
	}
	var got []string
	for i, marks := range m.CaseMarks(&r.Cases[0]) {
		text := r.Cases[0].Cases[i].Name
		for _, mark := range marks {
			text += fmt.Sprintf(" %v %s", mark.Right, strings.Join(mark.Slips, ";"))
		}
		got = append(got, text)
	}
	want := "A true |B true |C false |D false |E|F false annulus is taken for area"
	if text := strings.Join(got, "|"); text != want {
		t.Errorf("marks %q, want %q", text, want)
	}
}

// TestSlipsOfChoices names no slip where many lead to the same, a size that is chosen
// from a list.
func TestSlipsOfChoices(t *testing.T) {
	for _, test := range []struct{ name, answer, want string }{
		{"chosen", "100", ""}, {"needed", "51.5", "a factor of 2, too small"},
		{"pull", "120", "rounded to 2 digits: 3 are asked for"},
	} {
		cells := map[string]string{test.name: test.answer}
		m := compiled(t, "ram.csv", fmt.Sprintf(`name,entry,unit,reading
pressure,18,MPa,
wanted,150,kN,
pull,pressure*65.38*cm2,kN,%s
needed,sqrt(4/pi*wanted/pressure),mm,%s
chosen,needed < 115*mm ? (needed < 100*mm ? 100*mm : 115*mm) : 125*mm,mm,%s
`, cells["pull"], cells["needed"], cells["chosen"]))
		r, problems := m.Check(CheckOptions{})
		if r == nil {
			t.Fatal(told(problems))
		}
		marks := m.Marks(r)
		if len(marks) != 1 || marks[0].Right || strings.Join(marks[0].Slips, "; ") != test.want {
			t.Errorf("%s %s: %+v, expected %q", test.name, test.answer, marks, test.want)
		}
	}
}
