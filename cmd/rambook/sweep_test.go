package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"io"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/table"
)

const pressSheet = `force.csv
name,entry,unit,low,high
setting,25,MPa,5,28
bore,170,mm,,
mode,pump,text,,
due,2026-05-04,date,,
force,=setting*2*pi/4*bore^2,kN,900,
inverse,=bore/(setting - 20*MPa),mm/MPa,,
later,=due + 1*d,date,,
speed,"=mode == ""pump"" ? 10*mm/s : 20*mm/s",mm/s,5,
open_time,,s,,
waiting,=open_time + setting*0*s/MPa,s,,3
`

func TestManyCasesExitStatus(t *testing.T) {
	press := notebook(t, pressSheet, "jobs.csv\njob,setting,force\n:unit,MPa,\na,25,\nb,26,\n",
		"low.csv\njob,setting,force\n:unit,MPa,\na,25,\nb,10,\n")
	for _, tc := range []struct {
		args []string
		want int
	}{
		// a verdict of a swept case is no failure
		{[]string{"sweep", "--over", "setting = 10 to 26 by 5", press}, exitFine},
		{[]string{"sweep", "--over", "setting = 10 to 26 by 5", "--show", "waiting", press}, exitFine},
		{[]string{"sweep", "--over", "setting = 10 to 30 by 10", "--show", "inverse", press}, exitFails},
		{[]string{"sweep", "--over", "setting = 10 to 30 by 10", "--show", "inverse", "--format", "json", press},
			exitFails},
		{[]string{"sweep", "--over", "setting = 10 to 30", press}, exitWrong},
		{[]string{"sweep", "--over", "setting = -10 to -5 by 1", press}, exitFine},
		{[]string{"solve", "setting", "--until", "force = 900 kN", press}, exitFine},
		{[]string{"solve", "setting", "--until", "force = 9000 kN", press}, exitFails},
		{[]string{"solve", "setting", "--until", "force = 900 MPa", press}, exitWrong},
		{[]string{"compare", "jobs", press}, exitFine},
		{[]string{"compare", "low", press}, exitFails},
		{[]string{"compare", "lower", press}, exitWrong},
	} {
		status, out, errOut := obey(tc.args...)
		if status != tc.want {
			t.Errorf("%q: status %d, want %d\n%s%s", tc.args, status, tc.want, out, errOut)
		}
		if status == exitWrong && (out != "" || errOut == "") {
			t.Errorf("%q: stdout %q, stderr %q", tc.args, out, errOut)
		}
	}
}

// TestSweepFormsAgree reads the CSV and the JSON of a sweep back and holds
// them against each other.
func TestSweepFormsAgree(t *testing.T) {
	press := notebook(t, pressSheet)
	args := []string{"sweep", "--over", "setting = 0.1 to 30 by 0.7", "--over",
		`mode = pump, "by ""hand"", slow", =1+1`,
		"--show", "force,inverse,later,speed,waiting", press, "--format"}
	_, out, _ := obey(append(args, "csv")...)
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	_, out, _ = obey(append(args, "json")...)
	var answer struct {
		Over, Show []struct{ Name, Unit string }
		Rows       []struct{ Over, Show []any }
	}
	if err := json.Unmarshal([]byte(out), &answer); err != nil {
		t.Fatal(err)
	}
	if len(rows)-1 != len(answer.Rows) || len(answer.Rows) != 43*3 {
		t.Fatalf("%d rows of CSV, %d of JSON", len(rows)-1, len(answer.Rows))
	}
	if got := answer.Over[0].Unit + answer.Show[1].Unit; got != "MPamm/MPa" {
		t.Errorf("units %s", got)
	}
	for i, row := range answer.Rows {
		for k, cell := range append(row.Over, row.Show...) {
			text := ""
			switch cell := cell.(type) {
			case float64:
				text = page.Shortest(cell)
			case string:
				text = table.Harmless(cell)
			}
			if rows[i+1][k] != text {
				t.Errorf("row %d, column %d: %q in CSV, %v in JSON", i, k, rows[i+1][k], cell)
			}
		}
	}
}

func TestStreamCannotBeWritten(t *testing.T) {
	press := notebook(t, pressSheet)
	args := []string{"sweep", "--over", "setting = 5 to 25 in 100000 steps", "--show", "force", "--format", "csv",
		press}
	var errOut bytes.Buffer
	if status := run(args, nil, failingWriter{syscall.ENOSPC}, &errOut); status != exitWrong {
		t.Errorf("full disk: status %d, want %d", status, exitWrong)
	}
	if got, want := errOut.String(), "rambook: cannot write the output: no space left on device\n"; got != want {
		t.Errorf("full disk: %q, want %q", got, want)
	}
	errOut.Reset()
	if status := run(args, nil, failingWriter{syscall.EPIPE}, &errOut); status != exitFine || errOut.Len() > 0 {
		t.Errorf("closed pipe: status %d, stderr %q, want a quiet end", status, errOut.String())
	}
}

// BenchmarkSweepRows times a million cases from the model to formatted rows
// that go nowhere, on one core and on two.
func BenchmarkSweepRows(b *testing.B) {
	book, problems := sheets.Starter(builtIn)
	if len(problems) > 0 {
		b.Fatal(problems)
	}
	model, problems := calc.Compile(book, calc.Options{})
	if len(problems) > 0 {
		b.Fatal(problems)
	}
	sweep, problems := model.Sweep([]string{"setting = 20 to 28 in 1999 steps MPa"}, []string{"force", "reserve"})
	if len(problems) > 0 {
		b.Fatal(problems)
	}
	s := &session{stderr: io.Discard, now: time.Now}
	view := page.NewSweepView(page.Layout{Width: page.Unbounded}, sweep)
	cores := runtime.GOMAXPROCS(0)
	defer runtime.GOMAXPROCS(cores)
	for _, format := range []string{"csv", "json"} {
		b.Run(format, func(b *testing.B) {
			s.form = answer.Named(format)
			best := make(map[int]float64)
			for b.Loop() {
				for workers := 1; workers <= 2; workers++ {
					runtime.GOMAXPROCS(workers)
					runtime.GC()
					start := time.Now()
					if err := s.sendRows(context.Background(), io.Discard, view, false); err != nil {
						b.Fatal(err)
					}
					if ns := float64(time.Since(start).Nanoseconds()) / float64(sweep.Cases()); best[workers] == 0 ||
						ns < best[workers] {
						best[workers] = ns
					}
				}
			}
			b.ReportMetric(best[1], "1-core-ns/case")
			b.ReportMetric(best[1]/best[2], "1-core/2-cores")
		})
	}
}
