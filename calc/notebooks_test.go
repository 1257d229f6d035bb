package calc

import (
	"math"
	"testing"

	"rambook/sheets"
)

// The notebooks of testdata/columns are checked against plain loops that share
// nothing with the formulas but the numbers of the machine.

func opened(t *testing.T, name string) *Report {
	t.Helper()
	book, problems := sheets.Open("../testdata/columns/" + name)
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	m, problems := Compile(book, Options{})
	if m == nil {
		t.Fatal(told(problems))
	}
	r, problems := m.Check(CheckOptions{})
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	return r
}

func (r *Report) in(t *testing.T, sheet, name, quantity string) *Judged {
	t.Helper()
	for _, result := range r.Cases {
		for i := range result.Cases {
			for k := range result.Cases[i].Values {
				if j := &result.Cases[i].Values[k]; result.Sheet.Name == sheet && result.Cases[i].Name == name &&
					j.Quantity.Name == quantity {
					return j
				}
			}
		}
	}
	t.Fatalf("no %s[%s].%s", sheet, name, quantity)
	return nil
}

// TestSplitter: twelve pumps over four stretches of a cycle. A stretch takes
// area times stroke of oil; energy is pressure times that, over the efficiency.
func TestSplitter(t *testing.T) {
	type point struct{ p, eta, all float64 }
	maps := map[string][]point{
		"gear":   {{0, .97, .60}, {5, .94, .84}, {15, .89, .82}, {25, .83, .78}},
		"vane":   {{0, .96, .62}, {5, .93, .85}, {15, .87, .83}, {25, .79, .77}},
		"piston": {{0, .98, .55}, {5, .965, .84}, {15, .94, .88}, {25, .915, .87}},
	}
	read := func(family string, p float64, of func(point) float64) float64 {
		curve := maps[family]
		for i := 1; i < len(curve); i++ {
			if a, b := curve[i-1], curve[i]; p <= b.p {
				return of(a) + (of(b)-of(a))*(p-a.p)/(b.p-a.p)
			}
		}
		return math.NaN()
	}
	const push, pull = math.Pi / 4 * 0.01, math.Pi / 4 * (0.01 - 0.0025)
	steps := []struct{ area, force, stroke float64 }{{push, 6e3, .25}, {push, 110e3, .12}, {push, 24e3, .23},
		{pull, 5e3, .6}}
	r := opened(t, "splitter")
	for name, pump := range map[string]struct {
		family                  string
		large, small, unloading float64
	}{
		"Gear 16/4": {"gear", 16, 4, 4.5}, "Gear 22/7": {"gear", 22, 7, 4.5}, "Gear 28/7": {"gear", 28, 7, 4},
		"Vane 22/8": {"vane", 22, 8, 4}, "Vane 28/8": {"vane", 28, 8, 4}, "Piston 16/5": {"piston", 16, 5, 4.5},
		"Piston 28/7": {"piston", 28, 7, 4},
	} {
		time, energy, squares, peak := 0.0, 0.0, 0.0, 0.0
		for _, s := range steps {
			p := s.force / s.area / 1e6
			size := pump.small
			if p < pump.unloading {
				size += pump.large
			}
			flow := size * 1e-6 * 2900 / 60 * read(pump.family, p, func(x point) float64 { return x.eta })
			dt := s.area * s.stroke / flow
			power := p * 1e6 * flow / read(pump.family, p, func(x point) float64 { return x.all })
			time, energy, squares, peak = time+dt, energy+power*dt, squares+power*power*dt, math.Max(peak, power)
		}
		for quantity, want := range map[string]float64{"cycle_time": time, "cycle_energy": energy / 1e3,
			"rms_power":  math.Sqrt(squares/time) / 1e3,
			"peak_power": peak / 1e3, "price": energy * 60000 / 3.6e6 * 1.9} {
			if got := r.in(t, "pumps", name, quantity); !near(got.Value, want, 1e-12) {
				t.Errorf("%s: %s is %v, expected %v", name, quantity, got.Value, want)
			}
		}
	}
	for name, want := range map[string]Verdict{"Gear 16/4": Fail, "Gear 28/7": Unsure, "Piston 28/7": Fail,
		"Vane 22/6": Pass} {
		worst := NoVerdict
		for _, quantity := range []string{"cycle_time", "rms_power", "peak_power"} {
			worst = max(worst, r.in(t, "pumps", name, quantity).Verdict)
		}
		if worst != want {
			t.Errorf("%s: verdict %v, expected %v", name, worst, want)
		}
	}
}

// TestScissor: the work of the rams is that of the load, found here by moving
// the table a little instead of by the formula for its slope.
func TestScissor(t *testing.T) {
	const arm, foot, eye = 1.6, 1.15, 0.7
	height := func(a float64) float64 { return arm * math.Sin(a) }
	length := func(a float64) float64 { // between two points in the plane
		return math.Hypot(foot-eye*math.Cos(a), eye*math.Sin(a))
	}
	r := opened(t, "scissor")
	angles := map[string]float64{"folded": 12, "15": 15, "20": 20, "30": 30, "45": 45, "raised": 55}
	worst := 0.0
	for name, degrees := range angles {
		a := degrees * math.Pi / 180
		const h = 1e-6
		force := 1720 * 9.80665 * 1.06 * (height(a+h) - height(a-h)) / (length(a+h) - length(a-h)) / 2
		pressure := force / (math.Pi / 4 * 0.08 * 0.08) / 1e6
		worst = math.Max(worst, pressure)
		if got := r.in(t, "heights", name, "pressure").Value; !near(got, pressure, 1e-8) {
			t.Errorf("%s: pressure %v, expected %v", name, got, pressure)
		}
		if got := r.in(t, "heights", name, "ram_length").Value; !near(got, length(a)*1e3, 1e-12) {
			t.Errorf("%s: ram length %v, expected %v", name, got, length(a)*1e3)
		}
	}
	if got := r.find(t, "worst_pressure"); !near(got.Value, worst, 1e-8) || got.Verdict != Pass {
		t.Errorf("worst pressure %v, expected %v", got.Value, worst)
	}
	in, out := r.find(t, "work_in").Value, r.find(t, "work_out").Value
	if in < out || in > 1.01*out { // straight lines lie above a curve that bends upwards
		t.Errorf("work in %v, work out %v", in, out)
	}
}

// TestAccumulator: the pump that closes the cycle delivers the mean of what is
// taken, and the level is what went in less what went out until then.
func TestAccumulator(t *testing.T) {
	times := []float64{1.2, 3, 4.5, 0.8, 5}
	taken := []float64{38, 26, 2, 55, 0}
	used, cycle := 0.0, 0.0
	for i := range times {
		used += taken[i] / 60 * times[i]
		cycle += times[i]
	}
	flow := used / cycle * 60
	r := opened(t, "accumulator")
	if got := r.find(t, "pump_flow").Value; !near(got, flow, 1e-12) {
		t.Errorf("pump flow %v, expected %v", got, flow)
	}
	level, least, most := 0.0, 0.0, 0.0
	for i, name := range []string{"clamp", "feed", "press", "eject", "rest"} {
		level += (flow - taken[i]) / 60 * times[i]
		least, most = math.Min(least, level), math.Max(most, level)
		if got := r.in(t, "steps", name, "level").Value; math.Abs(got-level) > 1e-12 {
			t.Errorf("%s: level %v, expected %v", name, got, level)
		}
	}
	useful := most - least
	low, high := 16+0.101325, 20+0.101325
	gas := math.Pow(0.9*low/low, 1/1.4) - math.Pow(0.9*low/high, 1/1.4)
	if got := r.find(t, "least_volume"); !near(got.Value, useful/gas, 1e-9) || got.Verdict != Pass {
		t.Errorf("least volume %v, expected %v", got.Value, useful/gas)
	}
}
