package calc_test

import (
	"bytes"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"rambook/calc"
	"rambook/sheets"
)

// The notebooks under testdata/faults are worked examples: the press starter,
// some months in service, with one fault. An invented technician took the
// readings: they come from a machine that is simulated without the formulas of
// the sheets, with the fault put in, every other given drawn within its
// spread, and noise on top. UPDATE=1 go test writes the notebooks again, from
// the seeds stated here.
var workedFaults = []workedFault{
	{
		folder: "worn-pump",
		seed:   20260518,
		told:   "the pump wears",
		given:  "pump_efficiency",
		visits: []wear{{"2026-04-13", 89.5}, {"2026-05-11", 87}, {"2026-06-08", 84.5}, {"2026-07-06", 82},
			{"2026-08-03", 79.5}},
		// Without the case drain, thin oil is the next best explanation, and a
		// sample of the oil would tell the two apart.
		takes: []string{"force", "gauge_pressure", "motor_speed", "approach_time", "pressing_time", "return_time",
			"return_line_pressure", "idle_pressure", "motor_current", "pressure_after", "build_up_time", "ram_drift"},
		hours: 1050,
	},
	{
		folder: "relief-drift",
		seed:   20260519,
		told:   "the relief valve drifts down",
		given:  "setting",
		visits: []wear{{"2026-04-13", 24.6}, {"2026-05-11", 24}, {"2026-06-08", 23.1}, {"2026-07-06", 22.6},
			{"2026-08-03", 21.7}},
		// Without the load cells, the gauge itself could be the culprit, were it
		// not for the current.
		takes: []string{"gauge_pressure", "motor_speed", "approach_time", "pressing_time", "return_time", "case_drain",
			"return_line_pressure", "idle_pressure", "motor_current", "build_up_time", "ram_drift", "seal_drip"},
		hours: 1050,
	},
	{
		folder: "ram-seal",
		seed:   20260520,
		told:   "a piston seal leaks",
		given:  "piston_leakage",
		// The pressure left after a while is what one would read next.
		visits: []wear{{"2026-04-13", 20}, {"2026-05-11", 35}, {"2026-06-08", 60}, {"2026-07-06", 95},
			{"2026-08-03", 150}},
		takes: []string{"force", "gauge_pressure", "motor_speed", "approach_time", "pressing_time", "return_time",
			"case_drain", "idle_pressure", "motor_current", "build_up_time", "ram_drift", "seal_drip"},
		hours: 1050,
	},
}

type workedFault struct {
	folder string
	seed   uint64
	told   string // the fault, for the head of the notebook
	given  string
	visits []wear   // the last one is today
	takes  []string // the formulas that were read today
	hours  int
}

// wear is what the faulty given was worth, in the fault's unit, on one day.
type wear struct {
	date  string
	worth float64
}

// steps are the finest divisions that the instruments show, in the unit of the
// row.
var steps = map[string]float64{
	"force": 1, "gauge_pressure": 0.5, "motor_speed": 1, "approach_time": 0.01, "pressing_time": 0.01,
	"return_time": 0.01,
	"case_drain":  0.01, "return_line_pressure": 0.001, "idle_pressure": 0.005, "motor_current": 0.1,
	"pressure_after": 0.5,
	"build_up_time":  10, "ram_drift": 0.1, "seal_drip": 0.1, "closing_speed": 0.05, "frame_stretch": 0.02,
	"release_time": 20,
}

func TestWorkedFaults(t *testing.T) {
	for _, f := range workedFaults {
		t.Run(f.folder, func(t *testing.T) {
			folder := filepath.Join("..", "testdata", "faults", f.folder)
			made := f.make(t)
			made.check(t) // it must be a sound notebook, whatever its verdicts
			if os.Getenv("UPDATE") != "" {
				made.write(t, folder)
			}
			for name, data := range made {
				stored, err := os.ReadFile(filepath.Join(folder, name))
				if err != nil {
					t.Fatal(err)
				}
				if !bytes.Equal(stored, data) {
					t.Errorf("%s is not what the starter and the seed make; UPDATE=1 writes it again", name)
				}
			}
		})
	}
}

// make puts the fault into the press, visits it on every date, and writes
// down what the instruments show.
func (f workedFault) make(t *testing.T) pressFiles {
	book, random := pressStarter(t), rand.New(rand.NewPCG(f.seed, 0))
	press := book.compile(t)
	spreads := book.plannedSpreads(t)
	papers := book.check(t)
	machine := draw(papers, random)
	fault := judged(papers, f.given).Unit

	var read map[string]string
	for _, v := range f.visits {
		machine.given[f.given] = fault.ToSI(v.worth)
		read = shown(papers, machine.build().read(), spreads, random)
		var err error
		book["20-visits.csv"], _, err = sheets.AppendRecord(book["20-visits.csv"], []string{
			"service " + v.date, v.date, "45", read["pressing_time"], "",
			read["gauge_pressure"], read["case_drain"], read["ram_drift"],
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range f.takes {
		book.set(t, press, name, "reading", read[name])
	}
	book.set(t, press, "timed_pressing", "entry", read["pressing_time"])
	if slices.Contains(f.takes, "pressure_after") {
		book.set(t, press, "pressure_found", "entry", read["pressure_after"])
	}
	book.set(t, press, "read_on", "entry", f.visits[len(f.visits)-1].date)
	book.set(t, press, "hours_run", "entry", strconv.Itoa(f.hours))
	book.keepUp(t, press, f.hours)
	for _, q := range press.Quantities {
		if ticked := q.Sheet.Name == "delivery" || q.Sheet.Name == "handover"; ticked && q.Formula == "" {
			book.set(t, press, q.Name, "entry", "1")
		}
	}
	book["01-plate.csv"] = slices.Concat(fmt.Appendf(nil,
		"# A worked example: %s. Every reading is invented: a simulated machine made\n"+
			"# it, with noise of seed %d, in TestWorkedFaults of the package calc.\n", f.told, f.seed),
		book["01-plate.csv"])
	return book
}

// shown is what the instruments show of what is so. What the spread of a
// reading leaves beside the rounding is noise.
func shown(papers *calc.Report, truth, spreads map[string]float64, random *rand.Rand) map[string]string {
	read := map[string]string{}
	for _, name := range slices.Sorted(maps.Keys(truth)) {
		step, value := steps[name], judged(papers, name).Unit.FromSI(truth[name])
		noise := math.Sqrt(max(spreads[name]*spreads[name]/4-step*step/12, 0))
		rounded := max(math.Round((value+noise*random.NormFloat64())/step), 0) * step
		read[name] = strconv.FormatFloat(rounded, 'f', max(0, int(math.Ceil(-math.Log10(step)))), 64)
	}
	return read
}

// pressFiles is a press notebook as the bytes of its files.
type pressFiles map[string][]byte

func pressStarter(t *testing.T) pressFiles {
	list, ok := sheets.StarterFiles("press")
	list, err := sheets.WithExamples(list)
	if err != nil {
		t.Fatal(err)
	}
	if !ok {
		t.Fatal("there is no press starter")
	}
	files := pressFiles{}
	for _, f := range list {
		files[f.Name] = f.Data
	}
	return files
}

func (b pressFiles) write(t *testing.T, folder string) {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, data := range b {
		if err := os.WriteFile(filepath.Join(folder, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func (b pressFiles) compile(t *testing.T, sets ...string) *calc.Model {
	folder := t.TempDir()
	b.write(t, folder)
	book, problems := sheets.Open(folder)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	model, problems := calc.Compile(book, calc.Options{Sets: sets})
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	return model
}

func (b pressFiles) check(t *testing.T, sets ...string) *calc.Report {
	report, problems := b.compile(t, sets...).Check(calc.CheckOptions{})
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	return report
}

// set changes one cell of a quantity's row. Lines never move, so that any
// model of the press knows where the row stands.
func (b pressFiles) set(t *testing.T, press *calc.Model, name, column, text string) {
	q := press.Quantity(name)
	if q == nil {
		t.Fatalf("the press has no %s", name)
	}
	file := filepath.Base(q.Sheet.File)
	data, err := sheets.SetCell(b[file], int(q.Row.Name.Line), column, text)
	if err != nil {
		t.Fatal(err)
	}
	b[file] = data
}

// keepUp does every task of the press on time, up to now on the hour meter.
func (b pressFiles) keepUp(t *testing.T, press *calc.Model, hours int) {
	last := func(interval string) string {
		n, err := strconv.Atoi(interval)
		if err != nil {
			t.Fatal(err)
		}
		return strconv.Itoa(hours / n * n)
	}
	b.set(t, press, "task_done_at", "entry", last(press.Quantity("task_interval").Row.Entry.Text))
	tasks := press.Book.Sheet("tasks")
	file := filepath.Base(tasks.File)
	for _, task := range tasks.Cases {
		data, err := sheets.SetCell(b[file], int(task.Name.Line), "task_done_at", last(task.Cells[0].Text))
		if err != nil {
			t.Fatal(err)
		}
		b[file] = data
	}
}

// plannedSpreads are the spreads that the press states for the readings that
// have an instrument in steps.
func (b pressFiles) plannedSpreads(t *testing.T) map[string]float64 {
	read, press := maps.Clone(b), b.compile(t)
	for _, j := range b.check(t).Quantities {
		if _, ok := steps[j.Quantity.Name]; ok {
			read.set(t, press, j.Quantity.Name, "reading", fmt.Sprintf("%.6g", j.Value))
		}
	}
	spreads := map[string]float64{}
	for _, j := range read.check(t).Quantities {
		spreads[j.Quantity.Name] = j.ReadingSpread
	}
	return spreads
}
