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

// machineSizes are three machines that have little in common but their kind.
var machineSizes = []struct {
	name string
	sets []string
}{
	{"250 kN", []string{"rated_force = 250 kN", "frame_rating = 300 kN", "bore = 92 mm", "rod_diameter = 80 mm",
		"stroke = 160 mm",
		"beam_mass = 520 kg", "setting = 22 MPa", "pump_displacement = 5.1 cm3/rev", "motor_power = 3.7 kW",
		"back_pressure = 2.6 MPa",
		"approach_stroke = 90 mm", "pressing_stroke = 30 mm", "load_stroke = 20 mm", "working_force = 170 kN",
		"idle_torque = 1 N*m",
		"line_volume = 0.4 L", "frame_stiffness = 330 kN/mm", "hose_swell = 0.15 cm3/MPa", "piston_leakage = 7 cm3/min",
		"rod_leakage = 1.5 cm3/h",
		"pressing_opening = 6 mm2", "idle_opening = 11 mm2", "lowering_opening = 5.5 mm2", "prefill_opening = 260 mm2",
		"release_opening = 1 mm2",
		"pressure_bore = 10 mm", "return_bore = 16 mm", "suction_bore = 25 mm", "datasheet_flow = 10 L/min",
		"oil = HM32",
		"working_temperature = 38 degC",
		"motor_slip = 4.5 %"}},
	{"1000 kN", nil},
	{"3200 kN", []string{"rated_force = 3200 kN", "frame_rating = 4000 kN", "bore = 300 mm", "rod_diameter = 260 mm",
		"stroke = 320 mm",
		"beam_mass = 11000 kg", "setting = 26 MPa", "pump_displacement = 54 cm3/rev", "motor_power = 45 kW",
		"back_pressure = 3.4 MPa",
		"approach_stroke = 220 mm", "pressing_stroke = 60 mm", "load_stroke = 48 mm", "working_force = 2100 kN",
		"idle_torque = 8 N*m",
		"line_volume = 5 L", "frame_stiffness = 1900 kN/mm", "hose_swell = 2 cm3/MPa", "piston_leakage = 40 cm3/min",
		"rod_leakage = 8 cm3/h",
		"pressing_opening = 65 mm2", "idle_opening = 120 mm2", "lowering_opening = 60 mm2",
		"prefill_opening = 2600 mm2", "release_opening = 16 mm2",
		"pressure_bore = 27 mm", "return_bore = 48 mm", "suction_bore = 70 mm", "datasheet_flow = 90 L/min",
		"oil = HM68",
		"working_temperature = 54 degC",
		"motor_slip = 1.6 %", "decay_time = 300 s"}},
}

// machineFaults are what can happen to a press, each in three sizes: a factor
// or a difference to what the machine has when it is sound.
var machineFaults = []struct {
	given string
	to    [3]func(sound float64) float64 // in the unit of the row
}{
	{"pump_efficiency", [3]func(float64) float64{less(6), less(12), less(20)}},
	{"setting", [3]func(float64) float64{less(2), less(3.5), less(5)}},
	{"gauge_zero", [3]func(float64) float64{less(2), less(-2.4), less(2.9)}},
	{"ram_efficiency", [3]func(float64) float64{less(6), less(9), less(14)}},
	{"piston_leakage", [3]func(float64) float64{times(3), times(10), times(40)}},
	{"check_leakage", [3]func(float64) float64{times(60), times(200), times(600)}},
	{"rod_leakage", [3]func(float64) float64{times(4), times(20), times(100)}},
	{"holding_leakage", [3]func(float64) float64{times(60), times(200), times(1000)}},
	{"bulk_modulus", [3]func(float64) float64{times(0.75), times(0.55), times(0.35)}},
	{"frame_stiffness", [3]func(float64) float64{times(0.7), times(0.55), times(0.4)}},
	{"filter_loss", [3]func(float64) float64{times(2.5), times(5), times(9)}},
	{"motor_slip", [3]func(float64) float64{times(1.8), times(2.2), times(3)}},
	{"viscosity_ratio", [3]func(float64) float64{times(0.65), times(1.5), times(1.9)}},
}

func less(by float64) func(float64) float64  { return func(x float64) float64 { return x - by } }
func times(by float64) func(float64) float64 { return func(x float64) float64 { return x * by } }

// trials is how many machines of each kind are made, and whether that is
// enough to judge every kind alone. RAMBOOK_SIMULATE=40 go test ./calc -run
// TestSimulated -v takes some minutes and prints the counts.
func trials(t *testing.T) (n int, many bool) {
	text := os.Getenv("RAMBOOK_SIMULATE")
	if text == "" {
		return 1, false
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("RAMBOOK_SIMULATE is a number of machines, not %q", text)
	}
	return n, n >= 20
}

// drawnFrom is where chance starts: RAMBOOK_SIMULATE_SEED, so that nobody can have
// fitted anything to the machines of one start.
func drawnFrom(t *testing.T) uint64 {
	text := os.Getenv("RAMBOOK_SIMULATE_SEED")
	if text == "" {
		return 14
	}
	seed, err := strconv.ParseUint(text, 10, 64)
	if err != nil {
		t.Fatalf("RAMBOOK_SIMULATE_SEED is a whole number, not %q", text)
	}
	return seed
}

// inMemory is a press notebook whose readings are typed in over and over.
type inMemory struct {
	files pressFiles
	sets  []string
	paper *calc.Report
	model *calc.Model
	plan  map[string]float64 // spread of each reading, SI, at its computed value
}

// wanted is the share of diagnoses that have to be right.
const wanted = 0.9

// TestSimulated asks for a diagnosis of many simulated machines. A sound one
// has to be called sound, and a fault has to come first or tied, in at least
// nine of ten.
func TestSimulated(t *testing.T) {
	n, many := trials(t)
	hits, total := 0, 0
	count := func(t *testing.T, what string, hit, of int, instead map[string]int) {
		hits, total = hits+hit, total+of
		t.Logf("%-36s %3d of %d %v", what, hit, of, instead)
		if many && float64(hit) < wanted*float64(of) {
			t.Errorf("%s: %d of %d", what, hit, of)
		}
	}
	seed, only := drawnFrom(t), os.Getenv("RAMBOOK_SIMULATE_ONLY")
	for i, size := range machineSizes {
		t.Run(size.name, func(t *testing.T) {
			w := newInMemory(t, size.sets)
			random := rand.New(rand.NewPCG(seed, uint64(i)))
			sound, instead := 0, map[string]int{}
			for range 3 * n {
				d := w.diagnose(t, draw(w.paper, random).build(), random)
				if d.Finding == calc.NothingWrong {
					sound++
				} else {
					instead[d.Suspects[0].Suspect.Quantity.Name]++
				}
			}
			count(t, "sound, called sound", sound, 3*n, instead)
			for k, f := range machineFaults {
				if only != "" && !slices.Contains(strings.Fields(only), f.given) {
					continue
				}
				j := judged(w.paper, f.given)
				for l, to := range f.to {
					worth := to(j.Value)
					// A chance of its own, so that what is left out changes nothing of the rest.
					random := rand.New(rand.NewPCG(seed, uint64(1000*(i+1)+10*k+l)))
					hit, instead := 0, map[string]int{}
					for range n {
						d := w.diagnose(t, w.hurt(f.given, j.Unit.ToSI(worth), random), random)
						switch {
						case d.Finding == calc.NothingWrong:
							instead["nothing"]++
						case leads(d, suspectOf(f.given)):
							hit++
						default:
							instead[d.Suspects[0].Suspect.Quantity.Name]++
						}
					}
					count(t, fmt.Sprintf("%s %.4g %s", f.given, worth, j.Unit.Symbol), hit, n, instead)
				}
			}
		})
	}
	if float64(hits) < wanted*float64(total) {
		t.Errorf("%d of %d diagnoses are right", hits, total)
	}
}

// leads reports whether a diagnosis has a suspect first, or tied with the first.
func leads(d *calc.Diagnosis, name string) bool {
	for _, s := range d.Suspects {
		if s.Suspect.Quantity.Name == name {
			return s.Leads
		}
	}
	return false
}

// suspectOf is the suspect that a fault of a machine is found as: a gauge that shows
// too little is found as the gauge, whatever it shows at rest.
func suspectOf(given string) string {
	if given == "gauge_zero" {
		return "press gauge"
	}
	return given
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
	shown, errors := m.read(), map[string]float64{}
	for _, g := range w.model.Gauges {
		errors[g.Name] = random.NormFloat64() / 2 // in spreads: the same wherever it is read
	}
	for _, name := range slices.Sorted(maps.Keys(shown)) {
		j := judged(w.paper, name)
		value := shown[name]
		gauge := w.model.Gauge(j.Quantity.With)
		shared, own := gauge.Parts(value)
		value = j.Unit.FromSI(value + shared*errors[j.Quantity.With])
		if j.Quantity.Row.Spread.Blank() && gauge != nil {
			w.plan[name] = j.Unit.Difference().FromSI(own)
		}
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
			t.Logf("%-8s %-21s %10.5g computed, %10.5g simulated: %+.2f %%, %.2f of its spread", size.name, name,
				j.Value, simulated, 100*off/simulated, off/w.plan[name])
			if math.Abs(off) > math.Max(0.006*simulated, 0.1*w.plan[name]) {
				t.Errorf("%s: %s is %.5g %s by the sheets, %.5g by the simulation", size.name, name, j.Value,
					j.Unit.Symbol, simulated)
			}
		}
	}
}
