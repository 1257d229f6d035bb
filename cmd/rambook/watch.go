package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/fsnotify/fsnotify"
)

// settle is how long the files must be quiet before they are read: an editor
// may write a file in several steps.
const settle = 100 * time.Millisecond

// watch recalculates on every change of the notebook's files until it is
// interrupted. What is wrong is shown in place of the answer, since the next
// change may mend it.
func (c *checkCommand) watch(s *session) error {
	if s.output.Output != "" {
		return problem("--watch shows its answer on the screen, it cannot go with -o", "")
	}
	folder, err := ownPath(c.Path)
	if err != nil {
		return err
	}
	ctx, stop := s.untilInterrupted()
	defer stop()
	watcher, err := fsnotify.NewWatcher()
	if err != nil {
		return fmt.Errorf("cannot follow files: %w", err)
	}
	defer watcher.Close()
	if info, err := os.Stat(folder); err == nil && !info.IsDir() {
		// The folder is followed and not the file, since an editor that saves
		// by renaming puts another file in its place.
		folder = filepath.Dir(folder)
	}
	if err := watcher.Add(folder); err != nil {
		return fmt.Errorf("cannot follow %s: %w", folder, err)
	}
	for {
		if err := c.redraw(s); err != nil {
			return err
		}
		if err := waitForChange(ctx, watcher); err != nil || ctx.Err() != nil {
			return err
		}
	}
}

// redraw shows the notebook as it is now, at the top of the screen.
func (c *checkCommand) redraw(s *session) error {
	s.out.Reset()
	if file := s.terminal(); file != nil && knowsEscapes(file) {
		s.out.WriteString("\x1b[H\x1b[2J\x1b[3J")
	}
	answered := s.out.Len()
	aside := s.stderr
	var warnings strings.Builder
	s.stderr = &warnings
	err := c.once(s)
	s.stderr = aside
	if err != nil && !errors.Is(err, errFails) {
		s.out.Truncate(answered)
		printError(&s.out, err, false)
	}
	s.out.WriteString(warnings.String())
	fmt.Fprintf(&s.out, "\n%s, watching; interrupt to end\n", s.now().Format(time.TimeOnly))
	err = s.flush()
	s.out.Reset()
	return err
}

// waitForChange returns when a CSV file has changed and all are quiet again,
// or when ctx ends.
func waitForChange(ctx context.Context, watcher *fsnotify.Watcher) error {
	var quiet <-chan time.Time
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-quiet:
			return nil
		case err := <-watcher.Errors:
			return fmt.Errorf("cannot follow the files any longer: %w", err)
		case event := <-watcher.Events:
			if strings.EqualFold(filepath.Ext(event.Name), ".csv") && event.Op != fsnotify.Chmod {
				quiet = time.After(settle)
			}
		}
	}
}
