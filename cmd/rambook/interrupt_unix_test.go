//go:build unix

package main

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// TestInterrupt sends the signal of Ctrl-C to a long sweep into a file: it
// ends at once, and what was there before stays as it was.
func TestInterrupt(t *testing.T) {
	press := notebook(t, pressSheet)
	folder := t.TempDir()
	file := filepath.Join(folder, "out.csv")
	if err := os.WriteFile(file, []byte("before"), 0o600); err != nil {
		t.Fatal(err)
	}
	go func() {
		for range 1000 {
			if entries, _ := os.ReadDir(folder); len(entries) > 1 { // the file in the making
				_ = syscall.Kill(os.Getpid(), syscall.SIGINT)
				return
			}
			time.Sleep(time.Millisecond)
		}
	}()
	start := time.Now()
	status, out, errOut := obey("sweep", "--over", "setting = 5 to 25 in 900000000 steps", "--show", "force", "-o",
		file, press)
	if status != exitWrong || out != "" || errOut != "rambook: interrupted; "+file+" is as it was\n" {
		t.Errorf("status %d, stdout %q, stderr %q", status, out, errOut)
	}
	if took := time.Since(start); took > 20*time.Second {
		t.Errorf("it took %v to end", took)
	}
	entries, err := os.ReadDir(folder)
	if content, _ := os.ReadFile(file); err != nil || len(entries) != 1 || string(content) != "before" {
		t.Errorf("the folder holds %v, the file %q", entries, content)
	}
}
