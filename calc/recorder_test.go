package calc

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"rambook/sheets"
)

// pressMotion is how the beam and the pressure of the press move over a cycle:
// a list of stretches, each with a length in seconds, and in it the position in
// mm from the top and the pressure in MPa.
func pressMotion(value func(name string) float64) (motion func(t float64) (position, pressure float64), cycle float64) {
	setting, hold := value("setting"), value("hold_time")
	approach, press := value("approach_stroke"), value("pressing_stroke")
	gap := value("slowdown_gap")
	steps := []struct {
		length   float64
		position [2]float64
		pressure func(share float64) float64
	}{
		{2, [2]float64{0, 0}, func(float64) float64 { return 0.4 }},
		{approach / value("approach_speed"), [2]float64{0, approach}, func(float64) float64 { return 0.8 }},
		{value("closing_time"), [2]float64{approach, approach + gap},
			func(float64) float64 { return value("closing_pressure") }},
		{value("rise_time"), [2]float64{approach + gap, approach + gap}, func(s float64) float64 {
			return value("closing_pressure") + s*(value("pressing_pressure")-value("closing_pressure"))
		}},
		{value("load_stroke") / value("pressing_speed"), [2]float64{approach + gap, approach + press},
			func(float64) float64 { return value("pressing_pressure") }},
		{value("last_rise"), [2]float64{approach + press, approach + press}, func(s float64) float64 {
			// the line's loss stays until it opens
			return min(setting, value("pressing_pressure")+s*(setting-value("ram_pressure")))
		}},
		{hold, [2]float64{approach + press, approach + press}, func(float64) float64 { return setting }},
		{value("release_time"), [2]float64{approach + press, approach + press},
			func(s float64) float64 { return setting * (1 - s) * (1 - s) }},
		{(approach + press) / value("return_speed"), [2]float64{approach + press, 0},
			func(float64) float64 { return value("return_pressure") }},
	}
	for _, s := range steps {
		cycle += s.length
	}
	return func(t float64) (float64, float64) {
		t = math.Mod(t, cycle)
		for _, s := range steps {
			if t < s.length {
				share := t / s.length
				return s.position[0] + share*(s.position[1]-s.position[0]), s.pressure(share)
			}
			t -= s.length
		}
		return 0, 0.4
	}, cycle
}

// recorded is a log of the press at a rate, with noise from a stated seed.
func recorded(motion func(float64) (float64, float64), cycle float64, cycles int, rate, noiseMM, noiseMPa float64,
	seed uint64) []byte {
	r := rand.New(rand.NewPCG(seed, 0))
	var b bytes.Buffer
	b.WriteString("time [s],position [mm],pressure [MPa]\n")
	for i := 0; float64(i)/rate < cycle*float64(cycles)+1; i++ {
		t := float64(i) / rate
		x, p := motion(t)
		fmt.Fprintf(&b, "%.4g,%.2f,%.3f\n", t, x+noiseMM*r.NormFloat64(), p+noiseMPa*r.NormFloat64())
	}
	return b.Bytes()
}

// exported is the same log as a recorder may write it: Latin-1, with lines before
// the header, a line of units, semicolons and decimal commas.
func exported(log []byte) []byte {
	_, rows, _ := bytes.Cut(log, []byte("\n"))
	rows = bytes.ReplaceAll(bytes.ReplaceAll(rows, []byte(","), []byte(";")), []byte("."), []byte(","))
	head := "Recorder 2, hall at 21 \xb0C\r\nRate 50 Hz\r\n\r\nTime;S1 beam;P1 main\r\ns;mm;MPa\r\n"
	return append([]byte(head), bytes.ReplaceAll(rows, []byte("\n"), []byte("\r\n"))...)
}

// pressValues are the values of the built-in press in the units of its rows, for
// the times in seconds.
func pressValues(t testing.TB) func(name string) float64 {
	book, _ := sheets.Starter("press")
	m, problems := Compile(book, Options{})
	if m == nil {
		t.Fatal(told(problems))
	}
	r, _ := m.Check(CheckOptions{})
	return func(name string) float64 {
		j := r.find(t, name)
		if !Has(j.Value) {
			t.Fatalf("%s has no value", name)
		}
		if j.Unit.Symbol == "ms" {
			return j.Value / 1000
		}
		return j.Value
	}
}

// The log of the worked example is made by the model of the built-in press, at
// 50 Hz with noise of 0.1 mm and 0.05 MPa, from the seed 20260504; UPDATE=1
// writes it anew. In its cycles each reading agrees with what is computed.
func TestRecorderLog(t *testing.T) {
	motion, cycle := pressMotion(pressValues(t))
	want := recorded(motion, cycle, 3, 50, 0.1, 0.05, 20260504)
	name := filepath.Join("..", "testdata", "recorder", "log.csv")
	for name, want := range map[string][]byte{name: want,
		filepath.Join(filepath.Dir(name), "export.txt"): exported(want)} {
		if os.Getenv("UPDATE") != "" {
			if err := os.WriteFile(name, want, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		if got, err := os.ReadFile(name); err != nil || !bytes.Equal(got, want) {
			t.Fatalf("%s is not what the model makes; UPDATE=1 writes it anew (%v)", name, err)
		}
	}
	book, _ := sheets.Starter("press")
	log, _ := sheets.Read("press/log.csv", want)
	book.Sheets = append(book.Sheets, log)
	m, problems := Compile(book, Options{})
	if m == nil {
		t.Fatal(told(problems))
	}
	r, _ := m.Check(CheckOptions{})
	for _, name := range []string{"approach_speed", "pressing_time", "return_speed", "release_time", "build_up_rate",
		"peak_pressure"} {
		if j := r.find(t, name); !(j.Agreement <= 1) {
			t.Errorf("%s: reading %v ± %v, computed %v ± %v, E_n %v", name, j.Reading, j.ReadingSpread, j.Value,
				j.Spread, j.Agreement)
		}
	}
	var cycles *CaseResult
	for i := range r.Cases {
		if r.Cases[i].Sheet.Name == "cycles" {
			cycles = &r.Cases[i]
		}
	}
	if cycles == nil || len(cycles.Cases) != 3 {
		t.Fatalf("%+v\n%s", cycles, told(m.Warnings))
	}
	for _, c := range cycles.Cases {
		for i := range cycles.Asked {
			if j := c.Values[i]; !(j.Agreement <= 1) {
				t.Errorf("cycle %s, %s: reading %v ± %v, computed %v ± %v", c.Name, j.Quantity.Name, j.Reading,
					j.ReadingSpread, j.Value, j.Spread)
			}
		}
	}
	// One cycle by itself: what was read in it stands in the rows, and no other reading.
	alone, problems := m.InCase("cycles", "2", Options{})
	if alone == nil {
		t.Fatal(told(problems))
	}
	own, _ := alone.Check(CheckOptions{})
	for i, asked := range cycles.Asked {
		if got, want := own.find(t, asked.Name).Reading, cycles.Cases[1].Values[i].Reading; !near(got, want, 1e-9) {
			t.Errorf("%s in cycle 2 alone: reading %v, and %v among the others", asked.Name, got, want)
		}
	}
}

// The motion of made logs is known. From 50 Hz to 10 kHz, with noise, what is
// read lies within its stated spread of the truth in 95 % of the cases at least.
// With RAMBOOK_LONG=1 there are five times as many cycles up to 1 kHz.
func TestMotionWithinSpread(t *testing.T) {
	rates := []float64{50, 200, 1000, 10_000}
	if testing.Short() {
		rates = rates[:2]
	}
	for _, rate := range rates {
		const speed, period, decay = 150.0, 4.0, 0.2 // mm/s, s, MPa/s
		cycles := max(40, int(200/math.Sqrt(rate/50)))
		if os.Getenv("RAMBOOK_LONG") != "" && rate <= 1000 { // a notebook of texts holds no more
			cycles *= 5
		}
		r := rand.New(rand.NewPCG(uint64(rate), 8))
		var b bytes.Buffer
		b.WriteString("time [s],position [mm],pressure [MPa]\n")
		begins := make([]float64, cycles)
		at := 0.5
		for i := range begins {
			begins[i] = at
			at += period + r.Float64()/rate*7 // so that moments fall anywhere between samples
		}
		k := 0
		for i := 0; float64(i)/rate < at; i++ {
			t := float64(i) / rate
			if k+1 < cycles && t >= begins[k+1] {
				k++
			}
			u := t - begins[k]
			x, p := 300.0, 1.0
			switch {
			case u < 0:
			case u < 1:
				x = 300 - speed*u
			case u < 3:
				x, p = 150, 20-decay*(u-1)
			default:
				x = min(300, 150+speed*(u-3))
			}
			fmt.Fprintf(&b, "%.5f,%.3f,%.4f\n", t, x+0.3*r.NormFloat64(), p+0.03*r.NormFloat64())
		}
		m := compiled(t, "machine.csv", "name,entry,unit\n"+
			"speed,\"-slope(down.time, down.position)\",mm/s\n"+
			"time_down,last(down.time) - first(down.time),s\n"+
			"fall,\"-slope(hold.time, hold.pressure)\",MPa/s\n"+
			"level,mean(hold.pressure),MPa\n"+
			"time_up,last(up.time) - first(up.time),s\n",
			"strokes.csv", "phase,log,from,to,for\n"+
				"down,log,position < 280*mm,position < 180*mm,50 ms\n"+
				"hold,log,pressure > 10*MPa,pressure < 10*MPa,50 ms\n"+
				"up,log,position > 180*mm,position > 280*mm,50 ms\n",
			"log.csv", b.String())
		report, problems := m.Check(CheckOptions{})
		if report == nil {
			t.Fatal(told(problems))
		}
		found := report.Cases[0].Cases
		if len(found) < cycles-1 {
			t.Fatalf("%v Hz: %d of %d cycles\n%s", rate, len(found), cycles, told(m.Warnings))
		}
		truth := []float64{speed, 100 / speed, decay, 20 - decay, 100 / speed}
		for i, want := range truth {
			inside := 0
			wide := 0.0
			for _, c := range found {
				j := c.Values[i]
				if math.Abs(j.Value-want) <= j.Spread {
					inside++
				}
				wide += j.Spread / float64(len(found))
			}
			share := float64(inside) / float64(len(found))
			t.Logf("%6.0f Hz %-9s %5.1f %% of %d within ± %.2g", rate, report.Cases[0].Asked[i].Name, 100*share,
				len(found), wide)
			// Of so many, this is two standard deviations below 95 %.
			if least := 0.95 - 2*math.Sqrt(0.95*0.05/float64(len(found))); share < least {
				t.Errorf("%v Hz: %s within its spread in %.1f %% of %d cycles", rate, report.Cases[0].Asked[i].Name,
					100*share, len(found))
			}
		}
	}
}

// A log is cut, with four readings a cycle, beside reading the same bytes by
// encoding/csv and strconv.ParseFloat; the ratio of the two is told.
func BenchmarkCut(b *testing.B) {
	motion, cycle := pressMotion(pressValues(b))
	log := recorded(motion, cycle, 20, 1000, 0.1, 0.05, 1)
	b.SetBytes(int64(len(log)))
	parts := map[string]time.Duration{}
	timed := func(what string, run func()) {
		at := time.Now()
		run()
		parts[what] += time.Since(at)
	}
	for b.Loop() {
		timed("cut", func() {
			book, _ := sheets.Starter("press")
			sheet, _ := sheets.Read("press/log.csv", log)
			book.Sheets = append(book.Sheets, sheet)
			if m, problems := Compile(book, Options{}); m == nil {
				b.Fatal(told(problems))
			}
		})
		timed("plain", func() {
			r := csv.NewReader(bytes.NewReader(log))
			r.ReuseRecord = true
			sum := 0.0
			for row, err := r.Read(); err == nil; row, err = r.Read() {
				for _, cell := range row {
					v, _ := strconv.ParseFloat(cell, 64)
					sum += v
				}
			}
		})
	}
	b.ReportMetric(float64(parts["cut"])/float64(parts["plain"]), "cut/plain")
}
