package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// openTerminal opens a pseudo-terminal of a size: the end of the user and that of
// the program.
func openTerminal(t *testing.T, columns, rows uint16) (user, program *os.File) {
	t.Helper()
	fd, err := unix.Open("/dev/ptmx", unix.O_RDWR|unix.O_NOCTTY|unix.O_CLOEXEC, 0)
	if err != nil {
		t.Skip("there are no pseudo-terminals here:", err)
	}
	user = os.NewFile(uintptr(fd), "terminal")
	t.Cleanup(func() { user.Close() })
	n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	if err == nil {
		err = unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0)
	}
	if err == nil {
		err = unix.IoctlSetWinsize(fd, unix.TIOCSWINSZ, &unix.Winsize{Row: rows, Col: columns})
	}
	if err != nil {
		t.Skip("there are no pseudo-terminals here:", err)
	}
	program, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		t.Skip("there are no pseudo-terminals here:", err)
	}
	t.Cleanup(func() { program.Close() })
	return user, program
}

// TestFillInterrupted types on a terminal of 40 columns and presses Ctrl-C in the
// middle of the second answer. The first one stands in the sheet and in the
// logbook, the half of the second is nowhere, the walk says what it has kept, and
// the next one asks for what is left.
func TestFillInterrupted(t *testing.T) {
	dir := notebook(t, roundNotebook)
	user, program := openTerminal(t, 40, 20)
	cmd := exec.Command("rambook", "fill", "--who", "Ada", dir)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = program, program, program
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	program.Close()
	defer func() { _ = cmd.Process.Kill() }()
	var screen bytes.Buffer
	until := func(text string) {
		t.Helper()
		buffer := make([]byte, 1024)
		from := screen.Len()
		for !strings.Contains(screen.String()[from:], text) {
			n, err := user.Read(buffer)
			if err != nil {
				t.Fatalf("before %q the program has ended: %v\n%s", text, err, screen.String())
			}
			screen.Write(buffer[:n])
		}
	}
	send := func(text string) {
		t.Helper()
		if _, err := user.WriteString(text); err != nil {
			t.Fatal(err)
		}
	}
	timer := time.AfterFunc(2*time.Minute, func() { _ = cmd.Process.Kill() }) // a walk that hangs ends somehow
	defer timer.Stop()
	until("bore [mm]> ")
	send("160\n")
	until("force [kN]> ")
	send("40")
	until("40")
	send("\x03")
	for buffer := make([]byte, 1024); ; { // the rest of what it says
		n, ended := user.Read(buffer)
		if screen.Write(buffer[:n]); ended != nil {
			break
		}
	}
	err := cmd.Wait()
	if err != nil || !strings.Contains(screen.String(), "1 answer, 0 n/a, 0 skipped.") {
		t.Errorf("the walk ends with %v\n%s", err, screen.String())
	}
	for line := range strings.Lines(screen.String()) {
		if line = strings.TrimRight(line, "\r\n"); len([]rune(line)) > 40 {
			t.Errorf("wider than the terminal: %q", line)
		}
	}
	sheet, logbook := readFile(t, filepath.Join(dir, "1-plate.csv")), readFile(t, filepath.Join(dir, "logbook.csv"))
	if !strings.Contains(sheet, "\nbore,160,mm") || !strings.Contains(sheet, "kN,,2,") ||
		!strings.Contains(logbook, ",Ada,bore,,160,") || strings.Count(logbook, "\n") != 2 {
		t.Errorf("the sheet holds\n%s\nthe logbook\n%s", sheet, logbook)
	}
	if _, err := os.Lstat(filepath.Join(dir, ".rambook-journal")); err == nil {
		t.Error("a journal is left")
	}
	again := start(t, func(cmd *exec.Cmd) { cmd.Stdin = strings.NewReader("402\nyes\n") }, "fill", dir)
	if o := wait(t, again); o.status != exitFine || !strings.Contains(o.out, "2 questions") {
		t.Errorf("the next walk: %+v", o)
	}
}
