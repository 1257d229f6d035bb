package calc

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"rambook/calc/tape"
)

// sweepBook has formulas that fail or stay open for some values.
const sweepBook = `name,entry,unit,spread,low,high
setting,25,MPa,0.5,5,28
bore,170,mm,,,
oil,45,degC,,,
mode,pump,text,,,
wait,,s,,,
due,2026-05-04,date,,,
force,=setting*pi/4*bore^2,kN,,500,
slack,=setting - 20*MPa,MPa,,,
inverse,=bore/slack,mm/MPa,,,
warm,=oil + 5*K,degC,,,60
later,=due + 10*d,date,,,
speed,"=mode == ""pump"" ? 10*mm/s : 20*mm/s",mm/s,,,
stroke_time,=wait + bore/speed,s,,,3
twice,=2*inverse,mm/MPa,,,
`

// swept runs a sweep and returns its rows as text.
func swept(t testing.TB, m *Model, workers int, over, show []string) ([]string, Failures) {
	t.Helper()
	s, problems := m.Sweep(over, show)
	if s == nil {
		t.Fatal(told(problems))
	}
	var rows []string
	failures, err := s.Run(context.Background(), workers, func(r *Rows) {
		for i := range r.N {
			r.Text = append(r.Text, s.name(r.First+i)...)
			for k := range s.Show {
				r.Text = fmt.Appendf(r.Text, " %.6g", r.Show[k][i])
			}
			r.Text = append(r.Text, '\n')
		}
	}, func(r *Rows) error {
		rows = append(rows, strings.Split(strings.TrimSuffix(string(r.Text), "\n"), "\n")...)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return rows, failures
}

func TestSweep(t *testing.T) {
	for _, tc := range []struct {
		over, show string
		want       string
		failed     int
	}{
		{"setting = 10 to 20 by 10", "force,slack", "setting = 10 MPa 226.98 -10; setting = 20 MPa 453.96 0", 0},
		{"setting = 100 to 200 by 100 bar", "force", "setting = 100 bar 226.98; setting = 200 bar 453.96", 0},
		{"setting = 10, 20|bore = 100, 200", "force",
			"setting = 10 MPa, bore = 100 mm 78.5398; setting = 10 MPa, bore = 200 mm 314.159; " +
				"setting = 20 MPa, bore = 100 mm 157.08; setting = 20 MPa, bore = 200 mm 628.319", 0},
		{"setting = 10 to 30 by 10", "inverse", "setting = 10 MPa -17; setting = 20 MPa NaN; setting = 30 MPa 17", 1},
		{"setting = 10 to 30 by 10", "force,stroke_time",
			"setting = 10 MPa 226.98 NaN; setting = 20 MPa 453.96 NaN; setting = 30 MPa 680.94 NaN", 0},
		{"wait = 1, 2 s", "stroke_time", "wait = 1 s 18; wait = 2 s 19", 0},
		{"oil = 20 degC, 68 degF, 300 K", "warm", "oil = 20 degC 25; oil = 20 degC 25; oil = 26.85 degC 31.85", 0},
		{"mode = pump, gravity", "speed", "mode = pump 10; mode = gravity 20", 0},
		{"bore = 100", "bore,setting", "bore = 100 mm 100 25", 0},
	} {
		m := compiled(t, "base.csv", sweepBook)
		for workers := 1; workers <= 3; workers++ {
			rows, failures := swept(t, m, workers, strings.Split(tc.over, "|"), strings.Split(tc.show, ","))
			if got := strings.Join(rows, "; "); got != tc.want {
				t.Errorf("%s, %d workers\n got %s\nwant %s", tc.over, workers, got, tc.want)
			}
			if failures.Cases != tc.failed {
				t.Errorf("%s: %d cases failed, want %d", tc.over, failures.Cases, tc.failed)
			}
		}
	}
}

// TestSweepAgainstSet holds every case of a long grid against the model
// compiled anew with that value set, and sees that the order is kept.
func TestSweepAgainstSet(t *testing.T) {
	m := compiled(t, "press.csv", pressModel)
	show := []string{"force", "cycle", "energy"}
	s, problems := m.Sweep([]string{"setting = 20 to 28 in 40 steps MPa", "bore = 160 to 180 in 30 steps mm"}, show)
	if s == nil {
		t.Fatal(told(problems))
	}
	at := 0
	rows := make([][3]float64, s.Cases())
	if _, err := s.Run(context.Background(), 0, func(*Rows) {}, func(r *Rows) error {
		if r.First != at {
			t.Fatalf("rows from %d come after %d", r.First, at)
		}
		for i := range r.N {
			rows[at] = [3]float64{r.Show[0][i], r.Show[1][i], r.Show[2][i]}
			at++
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if at != 41*31 {
		t.Fatalf("%d cases, want %d", at, 41*31)
	}
	for c := 0; c < at; c += 97 {
		var sets []string
		for k, g := range s.Over {
			sets = append(sets, fmt.Sprintf("%s = %v", g.Quantity.Name, g.Value(s.Index(k, c))))
		}
		one, problems := Compile(files(t, "press.csv", pressModel), Options{Sets: sets})
		if one == nil {
			t.Fatal(told(problems))
		}
		report, _ := one.Check(CheckOptions{})
		for k, name := range show {
			if want := report.find(t, name).Value; rows[c][k] != want {
				t.Errorf("%v: %s is %v, want %v", sets, name, rows[c][k], want)
			}
		}
	}
}

func TestSweepFailures(t *testing.T) {
	m := compiled(t, "base.csv", sweepBook)
	_, failures := swept(t, m, 0, []string{"bore = 1 to 1000 by 1", "setting = 10, 20 MPa"},
		[]string{"inverse", "slack", "twice"})
	if failures.Cases != 1000 || len(failures.First) != fullFailures { // each once, though `twice` fails with `inverse`
		t.Fatalf("%d cases failed, %d told", failures.Cases, len(failures.First))
	}
	if got, want := failures.First[0].Error(), "base.csv:10:10: bore = 1 mm, setting = 20 MPa: inverse: "+
		"division by zero"; got != want {
		t.Errorf("told %s, want %s", got, want)
	}
}

func TestSweepChoice(t *testing.T) {
	for _, tc := range []struct {
		over, want string
		noLimit    bool
	}{
		{"setting = 10, 20", "force", false},
		{"oil = 10, 20", "warm", false},
		{"mode = pump, gravity", "speed", true}, // stroke_time stays open
		{"wait = 1, 2", "stroke_time", false},
		{"due = 2026-01-01", "later", true},
	} {
		m := compiled(t, "base.csv", sweepBook)
		s, problems := m.Sweep([]string{tc.over}, nil)
		if s == nil {
			t.Fatal(told(problems))
		}
		var names []string
		for _, q := range s.Show {
			names = append(names, q.Name)
		}
		if got := strings.Join(names, ","); got != tc.want || s.NoLimit != tc.noLimit {
			t.Errorf("%s shows %s, without limits %v", tc.over, got, s.NoLimit)
		}
	}
}

func TestSweepProblems(t *testing.T) {
	for _, tc := range []struct {
		over, show []string
		want       string
	}{
		{nil, nil, "a sweep needs to know what to change"},
		{[]string{"setting = 5", "bore = 5", "oil = 5"}, nil, "a sweep changes one given or two, not 3"},
		{[]string{"setting = 5", "setting = 6"}, nil, "--over: setting is swept twice"},
		{[]string{"setting = 5 to 6 in 1000000 steps", "bore = 5 to 6 in 1000000 steps"}, nil,
			"the sweep has 1e+12 cases, more than 1000000000"},
		{[]string{"setting = 5"}, []string{"forse"}, "--show: no quantity is named `forse`"},
		{[]string{"setting = 5"}, []string{"mode"}, "--show: mode is a text, not a number"},
	} {
		m := compiled(t, "base.csv", sweepBook)
		if _, problems := m.Sweep(tc.over, tc.show); len(problems) != 1 || problems[0].Error() != tc.want {
			t.Errorf("%v: got %swant %s", tc.over, told(problems), tc.want)
		}
	}
	m := compiled(t, "base.csv", sweepBook+"lonely,1,,,,\n")
	if _, problems := m.Sweep([]string{"lonely = 1, 2"},
		nil); told(problems) != "no formula that can be computed depends on lonely\n" {
		t.Errorf("got %s", told(problems))
	}
}

func TestSweepWarnings(t *testing.T) {
	m := compiled(t, "base.csv", sweepBook)
	s, _ := m.Sweep([]string{"mode = pump, gravty"}, nil)
	if got, want := told(s.Warnings), "--over: mode is compared with `pump`, never with `gravty`\n"; got != want {
		t.Errorf("got %swant %s", got, want)
	}
	if p := s.Warnings[0]; p.Text[p.From:p.To] != "gravty" {
		t.Errorf("the warning points at %q", p.Text[p.From:p.To])
	}
}

// TestSweepJudge checks that a judged case is what a case sheet makes of it,
// and that a swept value is held against its own limits.
func TestSweepJudge(t *testing.T) {
	m := compiled(t, "base.csv", sweepBook)
	s, problems := m.Sweep([]string{"setting = 10, 22.2, 30 MPa"}, []string{"force", "inverse"})
	if s == nil {
		t.Fatal(told(problems))
	}
	result, _ := s.Judge([]int{0, 1, 2})
	jobs := "job,setting,force,inverse\n:unit,MPa,,\na,10,,\nb,22.2,,\nc,30,,\n"
	want := checked(t, "base.csv", sweepBook, "jobs.csv", jobs).Cases[0]
	for i, c := range result.Cases {
		for k := range s.Show {
			got, want := c.Values[k], want.Cases[i].Values[k]
			if got.Value != want.Value || got.Spread != want.Spread || got.Verdict != want.Verdict {
				t.Errorf("case %d: %s is %v ± %v %v, want %v ± %v %v", i, want.Quantity.Name,
					got.Value, got.Spread, got.Verdict, want.Value, want.Spread, want.Verdict)
			}
		}
	}
	for i, want := range []Verdict{Pass, Pass, Fail} {
		if got := result.Cases[i].Values[2].Verdict; got != want {
			t.Errorf("the setting of case %d: %v, want %v", i, got, want)
		}
	}
	if got := result.Cases[2].Verdict; got != Fail {
		t.Errorf("a case beyond the rating: %v, want fail", got)
	}
}

// TestSweepStops checks that a sweep ends at once when it is interrupted or
// its output breaks, and that nothing is emitted afterwards.
func TestSweepStops(t *testing.T) {
	m := compiled(t, "press.csv", pressModel)
	s, _ := m.Sweep([]string{"setting = 20 to 28 in 100000000 steps MPa"}, []string{"force"})
	broken := errors.New("disk full")
	for _, want := range []error{context.Canceled, broken} {
		ctx, cancel := context.WithCancel(context.Background())
		emitted := 0
		_, err := s.Run(ctx, 0, func(*Rows) {}, func(r *Rows) error {
			if emitted++; emitted < 5 {
				return nil
			}
			if want == broken {
				return broken
			}
			cancel()
			return nil
		})
		cancel()
		if !errors.Is(err, want) {
			t.Errorf("got %v, want %v", err, want)
		}
		if emitted > 50 {
			t.Errorf("%d batches came after the end", emitted-5)
		}
	}
}

// TestRunOrdered runs many sizes, in which the last block is short or alone.
func TestRunOrdered(t *testing.T) {
	m := compiled(t, "base.csv", "name,entry\nx,1\ny,=2*x\n")
	for _, n := range []int{1, 2, tape.BlockSize - 1, tape.BlockSize, tape.BlockSize + 1,
		tape.BatchSize - 1, tape.BatchSize, tape.BatchSize + 1, 40*tape.BatchSize + 7} {
		for workers := 1; workers <= 4; workers++ {
			s, problems := m.Sweep([]string{fmt.Sprintf("x = 1 to %d by 1", n)}, []string{"y"})
			if s == nil {
				t.Fatal(told(problems))
			}
			next := 1.0
			if _, err := s.Run(context.Background(), workers, func(*Rows) {}, func(r *Rows) error {
				for i := range r.N {
					if r.Over[0][i] != next || r.Show[0][i] != 2*next {
						t.Fatalf("%d cases: row %v has %v, %v", n, next, r.Over[0][i], r.Show[0][i])
					}
					next++
				}
				return nil
			}); err != nil {
				t.Fatal(err)
			}
			if next != float64(n+1) {
				t.Errorf("%d cases: %v came", n, next-1)
			}
		}
	}
}

// BenchmarkSweep times a million cases of the press on one core and on two:
// the engine alone, and with the rows handed over in their order.
func BenchmarkSweep(b *testing.B) {
	m := compiled(b, "press.csv", pressModel)
	s, problems := m.Sweep([]string{"bore = 160 to 180 in 999 steps mm", "setting = 20 to 28 in 999 steps MPa"},
		pressFormulas)
	if s == nil {
		b.Fatal(told(problems))
	}
	engine := func(workers int) error {
		rows := make([]*Rows, workers)
		for i := range rows {
			rows[i] = s.newRows()
		}
		return s.program.Run(context.Background(), s.Cases(), workers,
			func(block *tape.Block) { s.fill(block, rows[block.Worker]) },
			func(block *tape.Block) {
				if scan(block) > 0 {
					panic("a case has no result")
				}
			})
	}
	ordered := func(workers int) error {
		_, err := s.Run(context.Background(), workers, func(*Rows) {}, func(*Rows) error { return nil })
		return err
	}
	ways := []struct {
		name string
		run  func(workers int) error
	}{{"engine", engine}, {"ordered", ordered}}
	best := map[string]float64{}
	cores := runtime.GOMAXPROCS(0)
	defer runtime.GOMAXPROCS(cores)
	for b.Loop() {
		for _, w := range ways {
			for workers := 1; workers <= 2; workers++ {
				runtime.GOMAXPROCS(workers)
				runtime.GC()
				start := time.Now()
				if err := w.run(workers); err != nil {
					b.Fatal(err)
				}
				ns := float64(time.Since(start).Nanoseconds()) / float64(s.Cases())
				name := fmt.Sprintf("%s-%d", w.name, workers)
				if old, ok := best[name]; !ok || ns < old {
					best[name] = ns
				}
			}
		}
	}
	for _, w := range ways {
		b.ReportMetric(best[w.name+"-1"], w.name+"-ns/case")
		b.ReportMetric(best[w.name+"-1"]/best[w.name+"-2"], w.name+"-1-core/2-cores")
	}
}

// TestSweepMemory checks that a run allocates no more when it has ten times as
// many cases.
func TestSweepMemory(t *testing.T) {
	m := compiled(t, "press.csv", pressModel)
	allocated := func(steps int) float64 {
		s, problems := m.Sweep([]string{fmt.Sprintf("setting = 20 to 28 in %d steps MPa", steps)},
			[]string{"force", "reserve"})
		if s == nil {
			t.Fatal(told(problems))
		}
		return testing.AllocsPerRun(2, func() {
			_, _ = s.Run(context.Background(), 2, func(*Rows) {}, func(*Rows) error { return nil })
		})
	}
	few, many := allocated(20_000), allocated(200_000)
	if many > few+100 {
		t.Errorf("%v allocations for 20,000 cases, %v for 200,000", few, many)
	}
}
