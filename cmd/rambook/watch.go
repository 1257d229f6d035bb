package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/fsnotify/fsnotify"
	"golang.org/x/term"

	"rambook/cmd/rambook/page"
	"rambook/sheets/table"
	"rambook/units/words"
)

// settle is how long the files must be quiet before they are read: an editor
// may write a file in several steps.
const settle = 100 * time.Millisecond

// watchFlags ask to look again whenever a file changes.
type watchFlags struct {
	Watch bool `help:"Follow the files and look again on every change, until interrupted. What has changed is marked with what it was."`
}

// watch does a command again on every change of the notebook's files until it is
// interrupted. What is wrong is shown in place of the answer, since the next
// change may mend it.
func (s *session) watch(path string, once func() error) error {
	if s.output.Output != "" || !s.form.Screen {
		with := "-o"
		if s.output.Output == "" {
			with = "--format " + s.form.Name
		}
		return problem("--watch shows its answer on the screen, it cannot go with "+with, "")
	}
	folder, err := ownPath(path)
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
	look := &lookout{session: s, once: once}
	for {
		if err := look.redraw(); err != nil {
			return err
		}
		if err := waitForChange(ctx, watcher); err != nil || ctx.Err() != nil {
			return err
		}
	}
}

// lookout is a command that is done again and again.
type lookout struct {
	*session
	once func() error
	last []string // the lines of the last answer; nil before the first
}

// redraw shows the answer as it is now, at the top of the screen.
func (l *lookout) redraw() error {
	s := l.session
	s.out.Reset()
	if file := s.terminal(); file != nil && knowsEscapes(file) {
		s.out.WriteString("\x1b[H\x1b[2J\x1b[3J")
	}
	answered := s.out.Len()
	aside := s.stderr
	var warnings strings.Builder
	s.stderr = &warnings
	err := l.once()
	s.stderr = aside
	if err != nil && !errors.Is(err, errFails) {
		s.out.Truncate(answered)
		printError(&s.out, err, false)
	} else {
		l.mark(answered)
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

// mark puts what a line was behind each line of the answer that has changed. Where
// the answer is longer than the screen, which shows its end, these lines stand below
// it once more.
func (l *lookout) mark(from int) {
	answer := strings.TrimRight(l.out.String()[from:], "\n")
	lines := strings.Split(answer, "\n")
	before := l.last
	l.last = lines
	if before == nil {
		return
	}
	marked, changed := markChanges(before, lines, l.width())
	l.out.Truncate(from)
	l.out.WriteString(strings.Join(marked, "\n") + "\n")
	height := l.height()
	if room := 4; len(changed) > 0 && height > room && len(marked) > height-room {
		l.out.WriteString("\nchanged since the last look\n")
		left := height - room
		for _, i := range changed {
			line := marked[i] + "\n"
			if name := derivedName(lines[:i], lines[i]); name != "" {
				line = name + " " + strings.TrimLeft(line, " ")
			}
			if left -= strings.Count(line, "\n"); left < 0 {
				break
			}
			l.out.WriteString(line)
		}
	}
}

// derivedName is the name that a step of a derivation leaves out, since the line that
// begins the derivation has it: without that line beside it the step would be of nothing.
func derivedName(before []string, line string) string {
	sides := equation().FindStringSubmatch(line)
	if sides == nil || strings.TrimSpace(sides[1]) != "" {
		return ""
	}
	for _, above := range slices.Backward(before) {
		if named := equation().FindStringSubmatch(above); named != nil && strings.TrimSpace(named[1]) != "" {
			return strings.TrimSpace(named[1])
		}
	}
	return ""
}

// height is how many lines the screen has, 0 if that is not known.
func (s *session) height() int {
	if file := s.terminal(); file != nil {
		if _, height, err := term.GetSize(int(file.Fd())); err == nil {
			return height
		}
	}
	return 0
}

// cellGap parts the cells of a line, and equation the sides of one of a derivation.
var (
	cellGap  = words.Pattern(`\s{2,}`)
	equation = words.Pattern(`^( *\w*) ?= (.*)$`)
)

// lineCells are the cells of a line. The first is which line it is: in a
// derivation the left side, if only by its width.
func lineCells(line string) []string {
	if sides := equation().FindStringSubmatch(line); sides != nil {
		return sides[1:]
	}
	return cellGap().Split(strings.TrimSpace(line), -1)
}

// markChanges puts the cells that were others behind the lines of an answer, or below
// a line that has no room for them in width. A line is the one before that
// begins with the same cell, the first with the first and so on; one without such a
// line before is new and is not marked.
func markChanges(before, now []string, width int) (marked []string, changed []int) {
	type key struct {
		first string
		n     int
	}
	seen, old := map[string]int{}, map[key][]string{}
	for _, line := range before {
		c := lineCells(line)
		old[key{c[0], seen[c[0]]}] = c
		seen[c[0]]++
	}
	clear(seen)
	for i, line := range now {
		c := lineCells(line)
		was, found := old[key{c[0], seen[c[0]]}]
		seen[c[0]]++
		if found && !slices.Equal(was, c) {
			var parts []string
			for k := 1; k < max(len(was), len(c)); k++ {
				switch {
				case k >= len(was):
					parts = append(parts, "nothing")
				case k >= len(c) || was[k] != c[k]:
					parts = append(parts, was[k])
				}
			}
			mark := "◂ was " + strings.Join(parts, ", ")
			if gap := "  "; table.TextWidth(line+gap+mark) <= width {
				line += gap + mark
			} else {
				line += "\n" + strings.Repeat(" ", markIndent) + page.Wrapped(mark, width, markIndent)
			}
			changed = append(changed, i)
		}
		marked = append(marked, line)
	}
	return marked, changed
}

// markIndent is how far a mark that stands on a line of its own is set in.
const markIndent = 4
