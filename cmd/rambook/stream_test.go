package main

import (
	"bytes"
	"testing"
	"time"
)

// TestProgress follows a run with a clock of its own, and looks at what a
// terminal shows of it in the end.
func TestProgress(t *testing.T) {
	now := time.Unix(0, 0)
	var screen bytes.Buffer
	p := &progress{screen: &screen, now: func() time.Time { return now }, total: 1000, from: now}
	for _, step := range []struct {
		after time.Duration
		cases int
		want  string // what is written at that moment
	}{
		{900 * time.Millisecond, 100, ""}, // no run of a second is told about
		{1100 * time.Millisecond, 400, "\r50 % of 1000 cases, 2s left"},
		{50 * time.Millisecond, 1, ""}, // too soon for another word
		{7950 * time.Millisecond, 499, "\r100 % of 1000 cases, 0s left"},
	} {
		now = now.Add(step.after)
		screen.Reset()
		p.add(step.cases)
		if got := screen.String(); got != step.want {
			t.Errorf("after %v: wrote %q, want %q", now.Sub(p.from), got, step.want)
		}
	}
	screen.Reset()
	p.show("short")
	if got, want := screen.String(), "\rshort                       "; got != want {
		t.Errorf("over a longer line: wrote %q, want %q", got, want)
	}
	screen.Reset()
	p.end()
	if got, want := screen.String(), "\r     \r"; got != want {
		t.Errorf("at the end: wrote %q, want %q", got, want)
	}
	(&progress{now: time.Now, total: 5}).add(5) // shown nowhere
}
