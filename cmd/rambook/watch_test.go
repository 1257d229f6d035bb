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
	s := &session{stdout: log, stderr: io.Discard, now: time.Now, context: ctx}
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
