package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// getTheRig tells how to get the measured cycles.
const getTheRig = "no log.csv and condition.csv in %s: the cycles are of the open data set \"Condition monitoring of " +
	"hydraulic systems\" (N. Helwig, E. Pignanelli, A. Schütze, UCI Machine Learning Repository no. " +
	"447, CC BY 4.0), its channels averaged over each second, with the columns time, cycle, second, PS1 to PS6, " +
	"EPS1, FS1, FS2, TS1 to TS4, VS1, CE, CP, SE; say where they are with RAMBOOK_RIG"

// rigFolder finds the measured cycles, or skips.
func rigFolder(t testing.TB) string {
	folder := os.Getenv("RAMBOOK_RIG")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "shared", "rig")
	}
	for _, name := range []string{"log.csv", "condition.csv"} {
		if _, err := os.Stat(filepath.Join(folder, name)); err != nil {
			t.Skipf(getTheRig, folder)
		}
	}
	folder, err := filepath.Abs(folder)
	if err != nil {
		t.Fatal(err)
	}
	return folder
}

// rigNotebook copies the notebook of the rig and puts the log beside it.
func rigNotebook(t testing.TB) string {
	data := rigFolder(t)
	notebook := filepath.Join(t.TempDir(), "rig")
	if err := os.CopyFS(notebook, os.DirFS(filepath.Join("..", "..", "testdata", "rig"))); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(data, "log.csv"), filepath.Join(notebook, "log.csv")); err != nil {
		t.Fatal(err)
	}
	return notebook
}

// condition is the truth about a cycle.
type condition struct {
	worn     map[string]float64
	unstable bool
}

func rigConditions(t testing.TB) map[string]condition {
	f, err := os.Open(filepath.Join(rigFolder(t), "condition.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	list := map[string]condition{}
	for _, r := range records[2:] {
		c := condition{worn: map[string]float64{}, unstable: r[5] == "1"}
		for i, name := range []string{"cooler_condition", "valve_condition", "pump_leakage", "gas_pressure"} {
			x, err := strconv.ParseFloat(r[1+i], 64)
			if err != nil {
				t.Fatal(err)
			}
			c.worn[name] = x
		}
		list[r[0]] = c
	}
	return list
}

// rigSteps are the steps in which each component was worsened, the sound one
// first, and the least share of the cycles in which the nearest step to what was
// found has to be the true one.
var rigSteps = []struct {
	name  string
	steps []float64
	least float64
}{
	{"cooler_condition", []float64{100, 20, 3}, 0.98},
	{"valve_condition", []float64{100, 90, 80, 73}, 0.98},
	{"pump_leakage", []float64{0, 1, 2}, 0.95},
	{"gas_pressure", []float64{130, 115, 100, 90}, 0.80},
}

// TestRig diagnoses the measured cycles of a machine that was really broken, and
// holds what is found against what was broken.
func TestRig(t *testing.T) {
	conditions := rigConditions(t)
	found := diagnosedRig(t, rigNotebook(t))
	if len(found) != len(conditions) {
		t.Errorf("%d cycles, want %d", len(found), len(conditions))
	}
	for _, group := range []struct {
		name string
		in   func(condition) bool
		held bool
	}{
		{"settled cycles", func(c condition) bool { return !c.unstable }, false},
		{"cycles in which the rig may not have settled", func(c condition) bool { return c.unstable }, false},
		{"all cycles", func(condition) bool { return true }, true},
	} {
		tell := strings.Builder{}
		n, sound, soundFound := 0, 0, 0
		for name, c := range conditions {
			if !group.in(c) {
				continue
			}
			n++
			if allSound(c) {
				sound++
				if len(found[name]) == 0 {
					soundFound++
				}
			}
		}
		fmt.Fprintf(&tell, "%d %s", n, group.name)
		for _, component := range rigSteps {
			confusion := map[[2]float64]int{}
			right, within, freed, falseAlarms, soundParts := 0, 0, 0, 0, 0
			for name, c := range conditions {
				if !group.in(c) {
					continue
				}
				truth, value := c.worn[component.name], component.steps[0]
				if f, freedHere := found[name][component.name]; freedHere {
					value = f.Value
					freed++
					if math.Abs(f.Value-truth) <= f.Spread {
						within++
					}
					if truth == component.steps[0] {
						falseAlarms++
					}
				}
				if truth == component.steps[0] {
					soundParts++
				}
				at := nearest(component.steps, value)
				confusion[[2]float64{truth, at}]++
				if at == truth {
					right++
				}
			}
			share := float64(right) / float64(n)
			fmt.Fprintf(&tell, "\n\n"+
				"%s: %.1f %% right; of %d found %.0f %% within their ±; of %d sound %.1f %% found to be off\n"+
				"%12s", component.name, 100*share,
				freed, 100*float64(within)/float64(max(1, freed)), soundParts,
				100*float64(falseAlarms)/float64(max(1, soundParts)), "truth \\ found")
			for _, step := range component.steps {
				fmt.Fprintf(&tell, "%8g", step)
			}
			for _, truth := range component.steps {
				fmt.Fprintf(&tell, "\n%13g", truth)
				for _, step := range component.steps {
					fmt.Fprintf(&tell, "%8d", confusion[[2]float64{truth, step}])
				}
			}
			if group.held {
				if share < component.least {
					t.Errorf("%s: the nearest step is the true one in %.1f %% of the cycles, want %.0f %%",
						component.name, 100*share, 100*component.least)
				}
				// What is stated with k = 2 should hold in about 95 %.
				if share := float64(within) / float64(max(1, freed)); share < 0.85 {
					t.Errorf("%s: %.1f %% of what was found lies within its ±", component.name, 100*share)
				}
			}
		}
		if sound > 0 {
			share := float64(soundFound) / float64(sound)
			fmt.Fprintf(&tell, "\n\n%d cycles with all sound: %.0f %% called sound", sound, 100*share)
			if group.held && share < 0.9 {
				t.Errorf("%.0f %% of the sound cycles are called sound, want 90 %%", 100*share)
			}
		}
		t.Log(tell.String())
	}
}

func allSound(c condition) bool {
	for _, component := range rigSteps {
		if c.worn[component.name] != component.steps[0] {
			return false
		}
	}
	return true
}

func nearest(steps []float64, x float64) float64 {
	best := steps[0]
	for _, step := range steps {
		if math.Abs(step-x) < math.Abs(best-x) {
			best = step
		}
	}
	return best
}

// rigFault is what was found of a component in a cycle.
type rigFault struct {
	Name          string
	Value, Spread float64
}

// diagnosedRig runs the diagnosis of all cycles.
func diagnosedRig(t testing.TB, notebook string) map[string]map[string]rigFault {
	var out, errs bytes.Buffer
	if status := run([]string{"diagnose", "cycles", notebook, "--format", "json"}, nil, &out,
		&errs); status != exitFine {
		t.Fatalf("status %d: %s", status, &errs)
	}
	var answer struct {
		Cases []struct {
			Case  string
			Found []rigFault
		}
	}
	if err := json.Unmarshal(out.Bytes(), &answer); err != nil {
		t.Fatal(err)
	}
	found := map[string]map[string]rigFault{}
	for _, c := range answer.Cases {
		found[c.Case] = map[string]rigFault{}
		for _, f := range c.Found {
			found[c.Case][f.Name] = f
		}
	}
	return found
}

// TestRigOtherConditions fits the constants of the rig to the cycles of some
// conditions, and diagnoses those of the others with them: what the notebook
// finds, it does not find because it has seen it.
func TestRigOtherConditions(t *testing.T) {
	if os.Getenv("RAMBOOK_LONG") == "" {
		t.Skip("fits the rig anew, which takes half a minute; with RAMBOOK_LONG=1 it runs")
	}
	conditions := rigConditions(t)
	notebook := rigNotebook(t)
	// Every third condition is kept back.
	kept := func(c condition) bool {
		sum := 0
		for i, component := range rigSteps {
			for k, step := range component.steps {
				if c.worn[component.name] == step {
					sum += (i + 1) * k
				}
			}
		}
		return sum%3 == 0
	}
	var known strings.Builder
	known.WriteString("cycles,cooler_condition,valve_condition,pump_leakage,gas_pressure,air_temperature," +
		"gas_lag,taught\n" +
		":unit,%,%,,bar,degC,K,\n")
	for name, c := range conditions {
		taught := 0
		if !c.unstable && !kept(c) {
			taught = 1
		}
		fmt.Fprintf(&known, "%s,%g,%g,%g,%g,20,0,%d\n", name, c.worn["cooler_condition"], c.worn["valve_condition"],
			c.worn["pump_leakage"], c.worn["gas_pressure"], taught)
	}
	path := filepath.Join(notebook, "known.csv")
	if err := os.WriteFile(path, []byte(known.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, givens := range rigConstants {
		var out, errs bytes.Buffer
		args := append([]string{"fit"}, givens...)
		if status := run(append(args, "--free", "--cases", "cycles", "--where", "taught == 1", "--write", notebook),
			nil, &out, &errs); status != exitFine {
			t.Fatalf("status %d: %s", status, &errs)
		}
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	found := diagnosedRig(t, notebook)
	for _, component := range rigSteps {
		n, right := 0, 0
		for name, c := range conditions {
			if c.unstable || !kept(c) {
				continue
			}
			n++
			value := component.steps[0]
			if f, freed := found[name][component.name]; freed {
				value = f.Value
			}
			if nearest(component.steps, value) == c.worn[component.name] {
				right++
			}
		}
		share := float64(right) / float64(n)
		t.Logf("%s: %.1f %% right in %d settled cycles of conditions that were not fitted to", component.name,
			100*share, n)
		if share < component.least {
			t.Errorf("%s: %.1f %% right, want %.0f %%", component.name, 100*share, 100*component.least)
		}
	}
}

// rigConstants are the givens that the commands in the notebook's comments fit.
var rigConstants = [][]string{
	{"cooler_still", "cooler_blown", "cooler_exponent", "valve_travel", "valve_lag", "valve_least"},
	{"swept_flow", "slip_flow", "leak_one", "leak_bend", "motor_idle", "motor_drag", "motor_leak"},
	{"gas_room", "gas_more", "gas_bend", "fill_temperature", "closing_time", "jam_time", "step_part"},
}
