package calc_test

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rambook/calc"
	"rambook/sheets"
)

// sizes are three machines that have little in common but their kind.
var machineSizes = []struct {
	name string
	sets []string
}{
	{"250 kN", []string{"rated_force = 250 kN", "frame_rating = 300 kN", "bore = 92 mm", "rod_diameter = 80 mm", "stroke = 160 mm",
		"beam_mass = 520 kg", "setting = 22 MPa", "pump_displacement = 5.1 cm3/rev", "motor_power = 3.7 kW", "back_pressure = 2.6 MPa",
		"approach_stroke = 90 mm", "pressing_stroke = 30 mm", "load_stroke = 20 mm", "working_force = 170 kN", "idle_torque = 1 N*m",
		"line_volume = 0.4 L", "frame_stiffness = 330 kN/mm", "hose_swell = 0.15 cm3/MPa", "piston_leakage = 7 cm3/min", "rod_leakage = 1.5 cm3/h",
		"pressing_opening = 6 mm2", "idle_opening = 11 mm2", "lowering_opening = 5.5 mm2", "prefill_opening = 260 mm2", "release_opening = 1 mm2",
		"pressure_bore = 10 mm", "return_bore = 16 mm", "suction_bore = 25 mm", "leaflet_flow = 10 L/min", "oil = HM32", "working_temperature = 38 degC",
		"motor_slip = 4.5 %"}},
	{"1000 kN", nil},
	{"3200 kN", []string{"rated_force = 3200 kN", "frame_rating = 4000 kN", "bore = 300 mm", "rod_diameter = 260 mm", "stroke = 320 mm",
		"beam_mass = 11000 kg", "setting = 26 MPa", "pump_displacement = 54 cm3/rev", "motor_power = 45 kW", "back_pressure = 3.4 MPa",
		"approach_stroke = 220 mm", "pressing_stroke = 60 mm", "load_stroke = 48 mm", "working_force = 2100 kN", "idle_torque = 8 N*m",
		"line_volume = 5 L", "frame_stiffness = 1900 kN/mm", "hose_swell = 2 cm3/MPa", "piston_leakage = 40 cm3/min", "rod_leakage = 8 cm3/h",
		"pressing_opening = 65 mm2", "idle_opening = 120 mm2", "lowering_opening = 60 mm2", "prefill_opening = 2600 mm2", "release_opening = 16 mm2",
		"pressure_bore = 27 mm", "return_bore = 48 mm", "suction_bore = 70 mm", "leaflet_flow = 90 L/min", "oil = HM68", "working_temperature = 54 degC",
		"motor_slip = 1.6 %", "decay_time = 300 s"}},
}

// injuries are what can happen to a press, each in three sizes: as a factor or
// as an addition to what the machine has when it is sound.
var machineFaults = []struct {
	given string
	unit  string
	to    [3]func(sound float64) float64 // in the unit
}{
	{"pump_efficiency", "%", [3]func(float64) float64{less(6), less(12), less(20)}},
	{"setting", "MPa", [3]func(float64) float64{less(2), less(3.5), less(5)}},
	{"gauge_zero", "MPa", [3]func(float64) float64{less(1.7), less(-2), less(2.7)}},
	{"ram_efficiency", "%", [3]func(float64) float64{less(5), less(9), less(14)}},
	{"piston_leakage", "cm3/min", [3]func(float64) float64{times(3), times(10), times(40)}},
	{"check_leakage", "cm3/min", [3]func(float64) float64{times(60), times(200), times(600)}},
	{"rod_leakage", "cm3/h", [3]func(float64) float64{times(4), times(20), times(100)}},
	{"holding_leakage", "cm3/min", [3]func(float64) float64{times(40), times(200), times(1000)}},
	{"bulk_modulus", "MPa", [3]func(float64) float64{times(0.75), times(0.55), times(0.35)}},
	{"frame_stiffness", "kN/mm", [3]func(float64) float64{times(0.8), times(0.6), times(0.45)}},
	{"filter_loss", "MPa", [3]func(float64) float64{times(2.5), times(5), times(9)}},
	{"motor_slip", "%", [3]func(float64) float64{times(1.6), times(2), times(3)}},
	{"viscosity_ratio", "", [3]func(float64) float64{times(0.65), times(1.5), times(1.9)}},
}

func less(by float64) func(float64) float64  { return func(x float64) float64 { return x - by } }
func times(by float64) func(float64) float64 { return func(x float64) float64 { return x * by } }

// simulated says how many machines of each kind are made. RAMBOOK_SIMULATE=50
// go test ./calc -run TestSimulated takes a few minutes and prints the counts.
func trials(t *testing.T) int {
	if text := os.Getenv("RAMBOOK_SIMULATE"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	return 4
}

// inMemory is a press notebook whose readings are typed in over and over.
type inMemory struct {
	files pressFiles
	sets  []string
	paper *calc.Report
	model *calc.Model
	plan  map[string]float64 // spread of each reading, SI, at its computed value
}

func TestSimulated(t *testing.T) {
	n := trials(t)
	for _, size := range machineSizes {
		t.Run(size.name, func(t *testing.T) {
			w := newInMemory(t, size.sets)
			random := rand.New(rand.NewPCG(14, uint64(len(size.sets))))
			sound := 0
			for range n {
				d := w.diagnose(t, draw(w.paper, random).build(), random)
				if d.Finding == calc.NothingWrong {
					sound++
				} else {
					t.Logf("sound: misfit %.3g for %d, first %s explains %.2f, %s", d.Misfit, len(d.Readings), d.Suspects[0].Suspect.Quantity.Name, d.Suspects[0].Explains, worst(d))
				}
			}
			t.Logf("%-16s %-18s called sound %d of %d", size.name, "sound", sound, n)
			for _, f := range machineFaults {
				j := judged(w.paper, f.given)
				for i, to := range f.to {
					worth := to(j.Value)
					hit, missed := 0, map[string]int{}
					for range n {
						d := w.diagnose(t, w.hurt(f.given, j.Unit.ToSI(worth), random), random)
						switch {
						case d.Finding == calc.NothingWrong:
							missed["sound"]++
						case leads(d, f.given):
							hit++
						default:
							missed[d.Suspects[0].Suspect.Quantity.Name]++
						}
					}
					t.Logf("%-9s %-16s size %d %8.3g %-7s first or tied %d of %d %v", size.name, f.given, i+1, worth, f.unit, hit, n, missed)
				}
			}
		})
	}
}

func worst(d *calc.Diagnosis) string {
	var b strings.Builder
	for _, r := range d.Readings {
		if math.Abs(r.Agreement) > 0.8 {
			fmt.Fprintf(&b, "%s %.4g/%.4g (%.2f) ", r.Quantity.Name, r.Reading, r.Computed, r.Agreement)
		}
	}
	return b.String()
}

func leads(d *calc.Diagnosis, name string) bool {
	for _, s := range d.Suspects {
		if s.Suspect.Quantity.Name == name {
			return s.Leads
		}
	}
	return false
}

func newInMemory(t *testing.T, sets []string) *inMemory {
	w := &inMemory{files: pressStarter(t), sets: sets, plan: map[string]float64{}}
	w.model = w.compile(t)
	var problems []sheets.Problem
	if w.paper, problems = w.model.Check(calc.CheckOptions{}); len(problems) > 0 {
		t.Fatal(problems)
	}
	for name := range newMachine(w.paper).build().read() {
		w.files.set(t, w.model, name, "reading", fmt.Sprintf("%.9g", judged(w.paper, name).Value))
	}
	m := w.compile(t)
	r, problems := m.Check(calc.CheckOptions{})
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	for _, j := range r.Quantities {
		if calc.Has(j.ReadingSpread) {
			w.plan[j.Quantity.Name] = j.ReadingSpread
		}
	}
	return w
}

func (w *inMemory) compile(t *testing.T) *calc.Model {
	book := &sheets.Notebook{Path: "press"}
	list, _ := sheets.StarterFiles("press")
	for _, f := range list {
		s, problems := sheets.Read(filepath.Base(f.Name), w.files[f.Name])
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		book.Sheets = append(book.Sheets, s)
	}
	m, problems := calc.Compile(book, calc.Options{Sets: w.sets})
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	return m
}

// hurt is a machine of many with a fault, SI.
func (w *inMemory) hurt(given string, worth float64, random *rand.Rand) *machine {
	m := draw(w.paper, random)
	m.given[given] = worth
	return m.build()
}

// diagnose types in what the instruments show of a machine, and asks.
func (w *inMemory) diagnose(t *testing.T, m *machine, random *rand.Rand) *calc.Diagnosis {
	files := w.files
	w.files = maps.Clone(files)
	defer func() { w.files = files }()
	shown := m.read()
	for _, name := range slices.Sorted(maps.Keys(shown)) {
		j := judged(w.paper, name)
		value := j.Unit.FromSI(shown[name])
		if dial := dials[name]; dial > 0 {
			value = math.Round(value/dial) * dial
		} else {
			value += w.plan[name] / 2 * random.NormFloat64()
		}
		w.files.set(t, w.model, name, "reading", fmt.Sprintf("%.6g", value))
	}
	d, problems := w.compile(t).Diagnose(calc.DiagnoseOptions{})
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	return d
}

// dials are the divisions of what is read to the nearest one, and has no
// other error.
var dials = map[string]float64{"gauge_pressure": 0.5, "pressure_after": 0.5}

// TestModelFollowsSimulation sets the model beside the simulation of the very
// machine that the papers describe: nothing drawn, nothing rounded. What is
// left is what the sheets leave out.
func TestModelFollowsSimulation(t *testing.T) {
	for _, size := range machineSizes {
		w := newInMemory(t, size.sets)
		shown := newMachine(w.paper).build().read()
		for _, name := range slices.Sorted(maps.Keys(shown)) {
			j := judged(w.paper, name)
			simulated := j.Unit.FromSI(shown[name])
			off := j.Value - simulated
			t.Logf("%-8s %-21s %10.5g computed, %10.5g simulated: %+.2f %%, %.2f of its spread", size.name, name, j.Value, simulated, 100*off/simulated, off/w.plan[name])
			if math.Abs(off) > math.Max(0.006*simulated, 0.1*w.plan[name]) {
				t.Errorf("%s: %s is %.5g %s by the sheets, %.5g by the simulation", size.name, name, j.Value, j.Unit.Symbol, simulated)
			}
		}
	}
}
