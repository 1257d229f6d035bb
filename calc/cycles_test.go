package calc

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rambook/sheets"
)

// strokeLog is a log of n strokes of 4 s in closed form: the ram goes down from
// 400 mm at 200 mm/s and up again, and the pressure is 10 MPa while it goes down
// below 200 mm.
func strokeLog(n int, step float64) string {
	var b strings.Builder
	b.WriteString("time [s],position [mm],pressure [bar],stroke\n")
	for i := 0; float64(i)*step < 4*float64(n)+1; i++ {
		t := float64(i) * step
		x := math.Abs(math.Mod(t, 4)-2) * 200
		p := 5.0
		if math.Mod(t, 4) < 2 && x < 200 {
			p = 100 + math.Floor(t/4) // grows with the strokes
		}
		fmt.Fprintf(&b, "%.3f,%.4f,%.4f,%d\n", t, x, p, 10+int(t/4))
	}
	return b.String()
}

const strokePhases = "phase,log,from,to,for,case,note\n" +
	"down,log,position < 300*mm,position < 100*mm,,,\n" +
	"turn,log,position < 100*mm,position > deep,,,\n" +
	"up,log,position > deep,position > 300*mm,,,\n"

const strokeModel = "name,entry,unit,reading,spread,low,high\n" +
	"deep,100,mm,,,,\n" +
	"fast,200,mm/s,,4,,\n" +
	"down_speed,=fast,mm/s,\"-slope(down.time, down.position)\",,190,210\n" +
	"down_time,last(down.time) - first(down.time),s,,,,1.5\n" +
	"peak,10*MPa,MPa,max(down.pressure),1 %,,\n" +
	"twice,2*down_time,s,,,,\n"

// The means over the cycles are those of the closed form.
func TestCyclesInTheModel(t *testing.T) {
	r := checked(t, "machine.csv", strokeModel, "strokes.csv", strokePhases, "log.csv", strokeLog(5, 0.01))
	for _, want := range []struct {
		name            string
		value, reading  float64
		spread          float64 // of what is read, or else of the value
		verdict         Verdict
		valueTolerance  float64
		spreadTolerance float64
	}{
		{"down_speed", 200, 200, 0, Pass, 1e-9, 1e-6},
		// Two moments, each within a step of 0.01 s, in five cycles that do not scatter.
		{"down_time", 1, math.NaN(), 0.01 * math.Sqrt(2.0/5), Pass, 1e-9, 1e-9},
		{"twice", 2, math.NaN(), 0.02 * math.Sqrt(2.0/5), NoVerdict, 1e-9, 1e-9},
		// 10.0, 10.1, … 10.4 MPa: repeat_spread of five, and 1 % of the row.
		{"peak", 10, 10.2, math.Hypot(0.102, 2.869*0.1581139/math.Sqrt(5)), NoVerdict, 1e-9, 1e-3},
	} {
		j := r.find(t, want.name)
		spread := j.Spread
		if Has(want.reading) {
			spread = j.ReadingSpread
			if !near(j.Reading, want.reading, want.valueTolerance) {
				t.Errorf("%s: reading %v, want %v", want.name, j.Reading, want.reading)
			}
		}
		if !near(j.Value, want.value, want.valueTolerance) ||
			math.Abs(spread-want.spread) > want.spreadTolerance+1e-3*want.spread || j.Verdict != want.verdict {
			t.Errorf("%s: %v ± %v, %v; want %v ± %v, %v", want.name, j.Value, spread, j.Verdict, want.value,
				want.spread, want.verdict)
		}
	}
	if len(r.Cases) != 1 || len(r.Cases[0].Cases) != 5 || r.Cases[0].Sheet.Name != "strokes" {
		t.Fatalf("%+v", r.Cases)
	}
	for i, c := range r.Cases[0].Cases {
		peak := c.Values[2]
		if c.Name != fmt.Sprint(i+1) || !near(peak.Reading, 10+0.1*float64(i), 1e-9) ||
			!near(c.Start, 4*float64(i)+0.5, 1e-9) {
			t.Errorf("cycle %s starts at %v, peak %v", c.Name, c.Start, peak.Reading)
		}
		// two moments, each within a step
		if down := c.Values[1]; !near(down.Value, 1, 1e-9) || !near(down.Spread, 0.01*math.Sqrt2, 1e-6) {
			t.Errorf("cycle %s: down_time %v ± %v", c.Name, down.Value, down.Spread)
		}
	}
}

// A case sheet whose first header is the phase sheet's name adds its columns.
func TestCyclesJoined(t *testing.T) {
	phases := strings.Replace(strokePhases, "100*mm,,,", "100*mm,,stroke,", 1)
	r := checked(t, "machine.csv", strokeModel, "strokes.csv", phases, "log.csv", strokeLog(3, 0.01),
		"known.csv", "strokes,fast,remark,down_time\n:unit,mm/s,text,s\n11,300,odd,\n12,,,1.25\n99,1,not in the log,\n")
	if len(r.Cases) != 1 {
		t.Fatalf("%d case sheets", len(r.Cases))
	}
	var got []string
	for _, c := range r.Cases[0].Cases {
		for _, j := range c.Values {
			got = append(got, fmt.Sprintf("%s %s %.4g %.4g", c.Name, j.Quantity.Name, j.Value, j.Reading))
		}
	}
	want := "10 down_time 1 NaN|10 down_speed 200 200|10 peak 10 10|" +
		"11 down_time 1 NaN|11 down_speed 300 200|11 peak 10 10.1|" +
		"12 down_time 1 1.25|12 down_speed 200 200|12 peak 10 10.2"
	if joined := strings.Join(got, "|"); joined != want {
		t.Errorf("%s\nwant %s", joined, want)
	}
}

// Without the log all that needs it is open, and nothing is wrong.
func TestCyclesWithoutLog(t *testing.T) {
	r := checked(t, "machine.csv", strokeModel, "strokes.csv", strokePhases)
	if j := r.find(t, "down_time"); j.Verdict != Open || len(j.Needs) != 1 || j.Needs[0].Name != "log" ||
		j.Needs[0].Sheet != "strokes" {
		t.Errorf("%+v", *j)
	}
	if j := r.find(t, "down_speed"); j.Verdict != Pass || Has(j.Reading) {
		t.Errorf("%+v", *j)
	}
	if len(r.Cases) != 0 {
		t.Error("there are cycles")
	}
}

// A log that cannot be cut yet leaves all that needs it open.
func TestCyclesWait(t *testing.T) {
	m := compiled(t, "machine.csv", strings.Replace(strokeModel, "deep,100", "deep,", 1), "strokes.csv", strokePhases,
		"log.csv", strokeLog(2, 0.01))
	r, _ := m.Check(CheckOptions{})
	if j := r.find(t, "down_time"); j.Verdict != Open {
		t.Errorf("%+v", *j)
	}
	if text := told(m.Warnings); !strings.Contains(text, "the log is not cut yet: it needs deep") {
		t.Error(text)
	}
}

func TestPhaseProblems(t *testing.T) {
	log := strokeLog(2, 0.05)
	one := func(entry string) string {
		return "name,entry,unit,reading\ndeep,100,mm,\nwide,10,mm,\nlong,2*wide,mm,\nx,\"" + entry + "\",,\n"
	}
	for _, test := range []struct{ model, phases, want string }{
		{one("mean(down.force)"), strokePhases, "has no column `force`"},
		{one("down.position/mm"), strokePhases, "the samples of a phase stand where one value is needed"},
		{one("mean(down.position)"), strokePhases, "the formula yields a length, but the row is a plain number"},
		{one("mean(down.position - turn.position)/mm"), strokePhases, "mean reads one phase, here down and turn"},
		{one("mean(down.position/long)"), strokePhases,
			"long is computed, and beside the samples of a log only numbers and plain givens can stand"},
		{one("mean(down.position/s + 3)"), strokePhases, "cannot add"},
		{one("slope(down.position)"), strokePhases, "slope of a phase takes 2 arguments, here 1 argument"},
		{one("mean(down.position > 5*mm)"), strokePhases, "a number is needed here, not a truth value"},
		{"name,entry,unit,reading\nx,1*mm,mm,2*mm\n", strokePhases, "a formula stands where a number is needed"},
		{one("1"), "phase,log,from,to\ndown,log,position < 3,position < 2*mm\n", "cannot compare"},
		{one("1"), "phase,log,from,to\ndown,log,position,position < 2*mm\n",
			"a condition is needed here, not a length"},
		{one("1"), "phase,log,from,to\ndown,log,position < 2*mm,\n",
			"the phase down has no condition for when it ends"},
		{one("1"), "phase,log,from,to\ndown,log,position < long,position < 2*mm\n", "long is computed"},
		{one("1"), "phase,log,from,to\ndown,lag,position < 3*mm,position < 2*mm\n", "no log is named `lag`"},
		{one("1"), "phase,log,from,to\nmachine,log,position < 3*mm,position < 2*mm\n",
			"`machine` is the name of a sheet"},
		{one("1"), "phase,log,from,to,for\ndown,log,position < 3*mm,position < 2*mm,-1 s\n",
			"a time cannot be negative"},
		{one("1"), "phase,log,from,to,case\ndown,log,position < 3*mm,position < 2*mm,number\n",
			"has no column `number`"},
	} {
		m, problems := Compile(files(t, "machine.csv", test.model, "strokes.csv", test.phases, "log.csv", log),
			Options{})
		if text := told(problems); m != nil || !strings.Contains(text, test.want) {
			t.Errorf("%s\n%s\ntold %s\nwant %s", test.model, test.phases, text, test.want)
		}
	}
}

// A mistake in the header of a log is told once, or named where something does
// not suit it, and a name is looked for among the columns first.
func TestLogHeaderProblems(t *testing.T) {
	model := "name,entry,unit,reading\ndeep,1,mm,\nx,1*mm,mm,max(down.position)\n" +
		"y,2*mm,mm,first(down.position) - last(turn.position)\n"
	for _, test := range []struct{ header, model, phases, want string }{
		{"time,position [mmm]", model, strokePhases,
			"log.csv:1:6: the unit of column position: unknown unit `mmm` (did you mean"},
		{"time,position [date]", model, strokePhases,
			"log.csv:1:6: column position cannot be in date (a log holds numbers with units of measure)"},
		{"time,position [mm]", strings.ReplaceAll(model, "max(down.position)", "max(down.positon)"), strokePhases,
			"machine.csv:3:20: the log log.csv has no column `positon` (did you mean `position`?)"},
		{"time,position [mm]", strings.ReplaceAll(model, "max(down.position)", "max(down.position - position)"),
			strokePhases, "machine.csv:3:31: no quantity, unit or constant is named `position` " +
				"(a column of a log is named with its phase: write down.position)"},
		{"time,position [mm]", "name,entry,unit\nx,1,mm\n",
			"phase,log,from,to\ndown,log,positin < 2*mm,position < 1*mm\n",
			"strokes.csv:2:10: the log log.csv has no column `positin`, and no quantity has this name " +
				"(did you mean `position`?)"},
		{"time,position [MPa]", "name,entry,unit\nx,1,mm\n",
			"phase,log,from,to\ndown,log,position < 2*mm,position < 1*MPa\n",
			"strokes.csv:2:10: cannot compare pressure with length (position is in MPa by the log's header)"},
		{"time,position", "name,entry,unit,reading\nx,1*mm,mm,max(down.position)\n",
			"phase,log,from,to\ndown,log,position < 2,position < 1\n",
			"machine.csv:2:11: the formula yields a plain number, but the reading is in mm " +
				"(the log's header of position has no unit; it stands in brackets, as in pressure [MPa])"},
	} {
		_, problems := Compile(files(t, "machine.csv", test.model, "strokes.csv", test.phases,
			"log.csv", test.header+"\n0,3\n1,0\n2,3\n"), Options{})
		if text := withHints(problems); !strings.HasPrefix(text, test.want) || len(problems) != 1 {
			t.Errorf("%s\ntold %s\nwant %s", test.header, text, test.want)
		}
	}
}

// What became of cycles that are none is told.
func TestPhaseWarnings(t *testing.T) {
	log := strokeLog(3, 0.01)
	lines := strings.Split(log, "\n")
	cutOut := strings.Join(append(append([]string{}, lines[:560]...), lines[600:]...), "\n")
	back := strings.Replace(log, "\n5.000,", "\n4.900,", 1)
	never := strings.Replace(strokePhases, "position > 300*mm", "position > 450*mm", 1)
	early := strings.Replace(strokePhases, "up,log,position > deep,position > 300*mm",
		"up,log,position > deep,position > 50*mm", 1)
	for _, test := range []struct {
		name, log, phases string
		want              []string
	}{
		{"gap", cutOut, strokePhases, []string{"no sample for 0.41 s before this line", "1 cycle with a gap"}},
		{"clock", back, strokePhases, []string{"the clock goes back here",
			"1 cycle with a gap or a jump of the clock left out"}},
		{"end", log, never, []string{"no complete cycle in the log", "the phase up began 3 times and never ended"}},
		{"out of step", log, early, []string{"no complete cycle",
			"`to` of up was true already when it began, 3 times: are two sensors out of step?"}},
		{"half a line", log + "99,1", strokePhases, []string{"the last line has no line end"}},
	} {
		m, problems := Compile(files(t, "machine.csv", strokeModel, "strokes.csv", test.phases, "log.csv", test.log),
			Options{})
		if m == nil {
			t.Errorf("%s: %s", test.name, told(problems))
			continue
		}
		for _, want := range test.want {
			text := told(m.Warnings)
			for _, w := range m.Warnings {
				text += w.Hint + "\n"
			}
			if !strings.Contains(text, want) {
				t.Errorf("%s: told %s\nwant %s", test.name, text, want)
			}
		}
	}
}

// The cycles of the measured rig: each of the 1,624 is one, though there are
// gaps between them. The mean pressure of a stretch is what adding up its lines gives.
func TestRigCycles(t *testing.T) {
	folder := filepath.Join("..", "..", "shared", "rig")
	if named := os.Getenv("RAMBOOK_RIG"); named != "" {
		folder = named
	}
	data, err := os.ReadFile(filepath.Join(folder, "log.csv"))
	if err != nil {
		t.Skip("the measured rig is not here: ", err)
	}
	m, problems := Compile(files(t, "log.csv", string(data), "rig.csv", "phase,log,from,to,case\n"+
		"relief,log,second >= 2*s,second >= 8*s,cycle\n"+
		"steps,log,second >= 9*s,second >= 58*s,\n",
		"machine.csv", "name,entry,unit,reading\np,19*MPa,MPa,mean(relief.PS1)\nsamples,count(relief.PS1),,\n"),
		Options{})
	if m == nil {
		t.Fatal(told(problems))
	}
	r, _ := m.Check(CheckOptions{})
	if n := len(r.Cases[0].Cases); n != 1624 {
		t.Fatalf("%d cycles\n%s", n, told(r.Warnings))
	}
	sum, count := map[string]float64{}, map[string]float64{}
	for _, line := range strings.Split(string(data), "\n")[1:] {
		cells := strings.Split(line, ",")
		var second, p float64
		if len(cells) < 4 {
			continue
		}
		fmt.Sscan(cells[2], &second)
		fmt.Sscan(cells[3], &p)
		if second >= 2 && second < 8 {
			sum[cells[1]] += p / 10
			count[cells[1]]++
		}
	}
	for _, c := range r.Cases[0].Cases {
		if got := c.Values[0].Reading; !near(got, sum[c.Name]/count[c.Name], 1e-12) ||
			c.Values[1].Value != count[c.Name] {
			t.Fatalf("cycle %s: %v of %v samples, want %v of %v", c.Name, got, c.Values[1].Value,
				sum[c.Name]/count[c.Name], count[c.Name])
		}
	}
}

// A log in a folder may be a link to one elsewhere.
func TestLinkedLog(t *testing.T) {
	folder, elsewhere := t.TempDir(), t.TempDir()
	for name, text := range map[string]string{folder + "/1-machine.csv": strokeModel,
		folder + "/2-strokes.csv": strokePhases, elsewhere + "/far.csv": strokeLog(2, 0.01)} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink(elsewhere+"/far.csv", folder+"/log.csv"); err != nil {
		t.Skip(err)
	}
	book, problems := sheets.Open(folder)
	m, more := Compile(book, Options{})
	if m == nil {
		t.Fatal(told(append(problems, more...)))
	}
	r, _ := m.Check(CheckOptions{})
	if len(r.Cases[0].Cases) != 2 {
		t.Errorf("%d cycles", len(r.Cases[0].Cases))
	}
}
