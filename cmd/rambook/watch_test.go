package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"rambook/cmd/rambook/answer"
)

// screenLog collects what a watching program draws.
type screenLog struct {
	mutex sync.Mutex
	text  strings.Builder
}

func (l *screenLog) Write(p []byte) (int, error) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.text.Write(p)
}

// take waits until the log contains the text, and empties the log.
func (l *screenLog) take(t *testing.T, text string) string {
	t.Helper()
	for deadline := time.Now().Add(20 * time.Second); time.Now().Before(deadline); time.Sleep(5 * time.Millisecond) {
		l.mutex.Lock()
		got := l.text.String()
		if i := strings.Index(got, text); i >= 0 && strings.Contains(got[i:], "watching") {
			l.text.Reset()
			l.mutex.Unlock()
			return got
		}
		l.mutex.Unlock()
	}
	t.Fatalf("no %q in %q", text, l.text.String())
	return ""
}

// TestWatchBlind marks an answer as it comes, without a computed value.
func TestWatchBlind(t *testing.T) {
	const rows = "name,entry,unit,reading,spread\nbore,100,mm,,\narea,pi/4*bore^2,cm2,"
	dir := notebook(t, "ram.csv\n"+rows+",0.5\n")
	ctx, interrupt := context.WithCancel(context.Background())
	defer interrupt()
	log := &screenLog{}
	s := &session{form: answer.Table, stdout: log, stderr: io.Discard, now: time.Now, context: ctx}
	ended := make(chan error)
	go func() { ended <- s.obey([]string{"check", "--watch", "--blind", dir}) }()
	shown := log.take(t, "No answer yet")
	if err := os.WriteFile(filepath.Join(dir, "ram.csv"), []byte(rows+"7.854,0.5\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	shown += log.take(t, "0 right")
	interrupt()
	<-ended
	if strings.Contains(shown, "78.5") {
		t.Errorf("the answer is shown:\n%s", shown)
	}
}

// TestWatch follows a notebook through a change, a half-written file, a file
// replaced by renaming, and the end of the notebook, until it is interrupted.
func TestWatch(t *testing.T) {
	dir := notebook(t, "force.csv\nname,entry,unit,low\nforce,900,kN,800\n")
	file := filepath.Join(dir, "force.csv")
	write := func(path, content string) {
		t.Helper()
		if err := os.WriteFile(path, []byte(content), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	ctx, interrupt := context.WithCancel(context.Background())
	defer interrupt()
	log := &screenLog{}
	s := &session{form: answer.Table, stdout: log, stderr: io.Discard, now: time.Now, context: ctx}
	ended := make(chan error)
	go func() { ended <- s.obey([]string{"check", "--watch", dir}) }()

	log.take(t, "1 pass, 0 fail")
	write(file, "name,entry,unit,low\nforce,700,kN,800\n")
	log.take(t, "0 pass, 1 fail")
	write(file, "name,entry,unit,low\nforce,\"70")
	log.take(t, "force.csv:2:")
	write(filepath.Join(dir, "new.tmp"), "name,entry,unit,low\nforce,950,kN,800\n")
	if err := os.Rename(filepath.Join(dir, "new.tmp"), file); err != nil {
		t.Fatal(err)
	}
	log.take(t, "1 pass, 0 fail")
	if err := os.Remove(file); err != nil {
		t.Fatal(err)
	}
	log.take(t, "rambook")
	write(file, "name,entry,unit,low\nforce,600,kN,800\n")
	log.take(t, "0 pass, 1 fail")

	interrupt()
	select {
	case err := <-ended:
		if err != nil {
			t.Errorf("the interrupted watch ends with %v", err)
		}
	case <-time.After(20 * time.Second):
		t.Error("the interrupted watch goes on")
	}
}

// TestMarkChanges marks the lines of an answer that have changed, whether they are
// rows of a table or the result of a derivation.
func TestMarkChanges(t *testing.T) {
	before := []string{"setting  force", "  10      100", "  20      200 x", "force = a*b", "      = 187 ± 3 kN",
		"1 fail."}
	now := []string{"setting  force", "  10      100", "  20      210", "  30      300", "force = a*b",
		"      = 190 ± 3 kN",
		"2 fail."}
	marked, changed := markChanges(before, now, 60)
	want := []string{"setting  force", "  10      100", "  20      210  ◂ was 200 x", "  30      300", "force = a*b",
		"      = 190 ± 3 kN  ◂ was 187 ± 3 kN", "2 fail."}
	if strings.Join(marked, "\n") != strings.Join(want, "\n") || len(changed) != 2 {
		t.Errorf("%s\nchanged %v", strings.Join(marked, "\n"), changed)
	}
	marked, _ = markChanges(before, now, 20)
	want[2] = "  20      210\n    ◂ was 200 x"
	want[5] = "      = 190 ± 3 kN\n    ◂ was 187 ± 3 kN"
	if strings.Join(marked, "\n") != strings.Join(want, "\n") {
		t.Errorf("in 20 columns:\n%s", strings.Join(marked, "\n"))
	}
	if name := derivedName(now[:5], now[5]) + derivedName(now[:4], now[4]); name != "force" {
		t.Errorf("the step is of %q, want force and of the whole line nothing", name)
	}
}

// TestWatchAnswers follows a notebook with each command that can, through one change.
func TestWatchAnswers(t *testing.T) {
	for _, test := range []struct {
		args        []string
		first, then string
	}{
		{[]string{"explain", "force"}, "= 900.0 kN", "= 1200 kN  ◂ was 900.0 kN"},
		{[]string{"sweep", "--over", "area = 1, 2 m2", "--show", "force"}, "300", "◂ was 300"},
		{[]string{"solve", "area", "--until", "force = 1200 kN"}, "area = 4", "area = 3.000 m2"},
		{[]string{"compare", "rams", "--by", "force", "--most"}, "600", "◂ was 600"},
	} {
		dir := notebook(t, "a.csv\nname,entry,unit\npressure,300,kPa\narea,3,m2\nforce,pressure*area,kN\n",
			"rams.csv\nram,area,force\n:unit,m2,kN\none,1,\ntwo,2,\n")
		ctx, interrupt := context.WithCancel(context.Background())
		log := &screenLog{}
		s := &session{form: answer.Table, stdout: log, stderr: io.Discard, now: time.Now, context: ctx}
		ended := make(chan error)
		go func() { ended <- s.obey(append(test.args, "--watch", dir)) }()
		log.take(t, test.first)
		if err := os.WriteFile(filepath.Join(dir, "a.csv"),
			[]byte("name,entry,unit\npressure,400,kPa\narea,3,m2\nforce,pressure*area,kN\n"), 0o666); err != nil {
			t.Fatal(err)
		}
		log.take(t, test.then)
		interrupt()
		if err := <-ended; err != nil {
			t.Errorf("%v: %v", test.args, err)
		}
	}
}
