package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"rambook/cmd/rambook/answer"
)

// These tests run rambook as a program of its own: what happens to it when it
// is killed, interrupted or cut off cannot be seen from inside. testscript.Main
// has put it on the path.

// outcome is how a program ended.
type outcome struct {
	status   int // -1 if a signal ended it
	out, err string
}

// wait lets a started program end.
func wait(t *testing.T, cmd *exec.Cmd) outcome {
	t.Helper()
	err := cmd.Wait()
	if _, ended := err.(*exec.ExitError); err != nil && !ended {
		t.Fatal(err)
	}
	o := outcome{status: cmd.ProcessState.ExitCode()}
	if b, ok := cmd.Stdout.(*bytes.Buffer); ok {
		o.out = b.String()
	}
	if b, ok := cmd.Stderr.(*bytes.Buffer); ok {
		o.err = strings.TrimPrefix(b.String(), answer.InventedMark+"\n") // the built-in press, in a bare table
	}
	if strings.Contains(o.err, "goroutine ") {
		t.Errorf("%q left a trace of its stack:\n%s", cmd.Args, o.err)
	}
	return o
}

// start starts rambook; what it says is kept unless prepare redirects it.
func start(t *testing.T, prepare func(*exec.Cmd), args ...string) *exec.Cmd {
	t.Helper()
	cmd := exec.Command("rambook", args...)
	cmd.Stdout, cmd.Stderr = &bytes.Buffer{}, &bytes.Buffer{}
	if prepare != nil {
		prepare(cmd)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd
}

// TestSetKilled kills `set` many times (with RAMBOOK_LONG=1, 1,000) at random moments
// of its life. The file is the old or the new one each time, whatever was left beside
// it is no sheet, and no lock outlives its program.
func TestSetKilled(t *testing.T) {
	kills := 200
	if testing.Short() {
		kills = 100
	} else if os.Getenv("RAMBOOK_LONG") != "" {
		kills = 1000
	}
	file := func(setting int) string {
		return fmt.Sprintf("\ufeffname,entry,unit\r\n"+
			"# as found\r\n"+
			"setting,%d,MPa\r\n"+
			"force,=setting*2*pi/4*(160*mm)^2,kN\r\n", setting)
	}
	dir := notebook(t, "force.csv\n"+file(0))
	path := filepath.Join(dir, "force.csv")
	set := func(n int) *exec.Cmd { return start(t, nil, "set", "setting", strconv.Itoa(n), dir) }

	// A run that is left alone says how long a life is.
	life := time.Duration(1 << 62)
	for range 5 {
		from := time.Now()
		if o := wait(t, set(1)); o.status != exitFine {
			t.Fatal(o)
		}
		life = min(life, time.Since(from))
	}

	now, old, new := 1, 0, 0
	for n := 2; n < 2+kills; n++ {
		cmd := set(n)
		time.Sleep(rand.N(life * 5 / 4))
		if err := cmd.Process.Kill(); err != nil && err != os.ErrProcessDone {
			t.Fatal(err)
		}
		o := wait(t, cmd)
		switch got := readFile(t, path); {
		case got == file(n):
			now = n
			new++
		case got == file(now) && o.status != exitFine:
			old++
		default:
			t.Fatalf("after kill %d the file holds\n%q\nthe program ended with %+v", n-1, got, o)
		}
	}
	left := others(t, dir, "force.csv")
	t.Logf("killed %d times within %v: %d times the old file, %d times the new one, %d temporary files left", kills,
		life*5/4, old, new, len(left))
	if old == 0 || new == 0 {
		t.Error("the kills came all before or all behind the change; the test shows nothing")
	}
	for _, name := range left {
		if !strings.HasPrefix(name, ".rambook-") || strings.HasSuffix(name, ".csv") {
			t.Errorf("%s was left behind", name)
		}
	}
	if o := wait(t, set(9999)); o.status != exitFine || readFile(t, path) != file(9999) {
		t.Errorf("after all kills set ends with %+v", o)
	}
}

// TestLogbookKilled kills `set` between the sheet and the logbook, at random
// moments of its life: whoever reads the notebook next finds in the sheet what
// the last line of the logbook tells.
func TestLogbookKilled(t *testing.T) {
	kills := 150
	if testing.Short() {
		kills = 60
	} else if os.Getenv("RAMBOOK_LONG") != "" {
		kills = 1000
	}
	dir := notebook(t, "force.csv\nname,entry,unit\nsetting,0,MPa\nforce,setting*2*pi/4*(160*mm)^2,kN\n")
	logbook := filepath.Join(dir, "logbook.csv")
	if err := os.WriteFile(logbook, []byte("when,who,what,was,is,with,note\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	set := func(n int) *exec.Cmd { return start(t, nil, "set", "--who", "Ada", "setting", strconv.Itoa(n), dir) }
	life := time.Duration(1 << 62)
	for n := range 5 {
		from := time.Now()
		if o := wait(t, set(n+1)); o.status != exitFine {
			t.Fatal(o)
		}
		life = min(life, time.Since(from))
	}
	old, new, cutOff := 0, 0, 0
	for n := range kills {
		value := 10 + n
		cmd := set(value)
		time.Sleep(life/3 + rand.N(life))
		if err := cmd.Process.Kill(); err != nil && err != os.ErrProcessDone {
			t.Fatal(err)
		}
		wait(t, cmd)
		if _, err := os.Lstat(filepath.Join(dir, ".rambook-journal")); err == nil {
			cutOff++
			if o := wait(t, start(t, nil, "check", dir)); o.status != exitFine {
				t.Fatalf("after kill %d check ends with %+v", n, o)
			}
		}
		lines := strings.Split(strings.TrimSpace(readFile(t, logbook)), "\n")
		last := strings.Split(lines[len(lines)-1], ",")
		if sheet := readFile(t, filepath.Join(dir, "force.csv")); !strings.Contains(sheet, "setting,"+last[4]+",MPa") {
			t.Fatalf("after kill %d the sheet holds\n%s\nand the logbook ends with %q", n, sheet, last)
		}
		if last[4] == strconv.Itoa(value) {
			new++
		} else {
			old++
		}
	}
	t.Logf("killed %d times: %d times before the change, %d times after it, %d times between the files", kills, old,
		new, cutOff)
	if old == 0 || new == 0 {
		t.Error("the kills came all before or all behind the change; the test shows nothing")
	}
}

// TestRenameKilled kills `rename`, which changes several files, at random moments of its life. Whatever the moment, the
// next program that reads the notebook finds one name in all of them.
func TestRenameKilled(t *testing.T) {
	kills := 80
	if testing.Short() {
		kills = 60
	} else if os.Getenv("RAMBOOK_LONG") != "" {
		kills = 300
	}
	names := [2]string{"setting", "relief_setting"}
	sheets := func(name string) map[string]string {
		m := map[string]string{"press.csv": "name,entry,unit\n" + name + ",20,MPa\n",
			"jobs.csv": "job," + name + ",f5\n:unit,MPa,kN\none,5,\n"}
		for i := range 6 {
			m[fmt.Sprintf("force%d.csv", i)] = fmt.Sprintf("name,entry,unit\nf%d,=%s*2*pi/4*(160*mm)^2,kN\n", i, name)
		}
		return m
	}
	dir := t.TempDir()
	for file, content := range sheets(names[0]) {
		if err := os.WriteFile(filepath.Join(dir, file), []byte(content), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	now := 0
	holds := func(name string) bool {
		for file, content := range sheets(name) {
			if readFile(t, filepath.Join(dir, file)) != content {
				return false
			}
		}
		return true
	}
	rename := func() *exec.Cmd { return start(t, nil, "rename", names[now], names[1-now], dir) }
	life := time.Duration(1 << 62)
	for range 4 {
		from := time.Now()
		if o := wait(t, rename()); o.status != exitFine {
			t.Fatal(o)
		}
		life = min(life, time.Since(from))
		now = 1 - now
	}
	old, new, cutOff := 0, 0, 0
	for n := range kills {
		cmd := rename()
		time.Sleep(life/3 + rand.N(life)) // the files are changed in the second half
		if err := cmd.Process.Kill(); err != nil && err != os.ErrProcessDone {
			t.Fatal(err)
		}
		wait(t, cmd)
		if !holds(names[0]) && !holds(names[1]) {
			cutOff++
		}
		if o := wait(t, start(t, nil, "check", dir)); o.status != exitFine {
			t.Fatalf("after kill %d the notebook ends check with %+v", n, o)
		}
		switch {
		case holds(names[1-now]):
			now = 1 - now
			new++
		case holds(names[now]):
			old++
		default:
			t.Fatalf("after kill %d some files are old and some new", n)
		}
	}
	t.Logf("killed %d times: %d times the old name, %d times the new one; %d times the next run finished the change",
		kills, old, new, cutOff)
	if old == 0 || new == 0 {
		t.Error("the kills came all before or all behind the change; the test shows nothing")
	}
}

// TestSetKeeps checks all that a change leaves alone: permissions, line ends,
// the byte order mark, and the symbolic link that leads to the file.
func TestSetKeeps(t *testing.T) {
	before := "\ufeffname, entry ,unit,mine\r\n\r\n# as found\r\nsetting ,  20,MPa,\"a \"\"b\"\"\"\r\nrod,5,mm"
	elsewhere := notebook(t, "real.csv\n"+before)
	path := filepath.Join(elsewhere, "real.csv")
	if err := os.Chmod(path, 0o640); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	link := filepath.Join(dir, "press.csv")
	if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	if o := wait(t, start(t, nil, "set", "setting", "21.5 MPa", dir)); o.status != exitFine {
		t.Fatal(o)
	}
	if got, want := readFile(t, path), strings.Replace(before, "  20,", "  21.5 MPa,", 1); got != want {
		t.Errorf("the file holds\n%q\nexpected\n%q", got, want)
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode() != 0o640 {
		t.Errorf("the file has the mode %v, %v", info.Mode(), err)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is now %v, %v", info, err)
	}
	if a, b := others(t, dir, "press.csv"), others(t, elsewhere, "real.csv"); a != nil || b != nil {
		t.Errorf("left behind: %q, %q", a, b)
	}
}

// TestDiskFull changes a notebook on a file system that is full, and on one
// that is read-only: the old file stays as it was, and nothing else is left.
func TestDiskFull(t *testing.T) {
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size=32k"); err != nil {
		t.Skip("only the superuser can make a small file system:", err)
	}
	defer unix.Unmount(dir, unix.MNT_DETACH)
	const before = "name,entry,unit\nsetting,20,MPa\n"
	path := filepath.Join(dir, "press.csv")
	if err := os.WriteFile(path, []byte(before), 0o666); err != nil {
		t.Fatal(err)
	}
	filling := filepath.Join(dir, "filling")
	if err := os.WriteFile(filling, make([]byte, 1<<20), 0o666); err == nil {
		t.Fatal("the file system takes more than it should")
	}
	try := func(reason string, args ...string) {
		t.Helper()
		o := wait(t, start(t, nil, args...))
		if o.status != exitWrong || o.out != "" || !strings.Contains(o.err, reason) {
			t.Errorf("%q ends with %+v, expected %q", args, o, reason)
		}
		if got, left := readFile(t, path), others(t, dir, "press.csv"); got != before ||
			!slices.Equal(left, []string{"filling"}) {
			t.Errorf("%q: the file holds %q, beside it are %q", args, got, left)
		}
	}
	try("cannot write "+path+": no space left on device", "set", "setting.note", strings.Repeat("x", 9000), dir)
	try("no space left on device", "check", "-o", filepath.Join(dir, "check.html"), dir)
	try("no space left on device", "sweep", "--over", "setting = 5 to 25 in 100000 steps", "--show", "setting", "-o",
		filepath.Join(dir, "sweep.json"), dir)
	try("no space left on device", "new", filepath.Join(dir, "filling2"))
	if err := unix.Mount("", dir, "", unix.MS_REMOUNT|unix.MS_RDONLY, ""); err != nil {
		t.Skip("cannot make it read-only:", err)
	}
	try("read-only file system", "set", "setting", "21", dir)
	try("read-only file system", "check", "-o", filepath.Join(dir, "check.html"), dir)
}

// longSweep is a sweep that takes minutes.
var longSweep = []string{"sweep", "--over", "setting = 5 to 25 in 300000000 steps MPa", "--show", "force,reserve",
	"--format", "csv"}

// TestClosedPipe reads one line of a long answer, as head does. The program
// ends at once, quietly, and with the status of what it found.
func TestClosedPipe(t *testing.T) {
	t.Chdir(t.TempDir())
	many := "name,entry,unit,low\nsetting,20,MPa,\n"
	for i := range 3000 {
		many += fmt.Sprintf("p%d,=setting + %d*kPa,MPa,19\n", i, i)
	}
	passes := notebook(t, "p.csv\n"+many)
	fails := notebook(t, "p.csv\n"+strings.Replace(many, "MPa,19", "MPa,1000", 1))
	for _, tc := range []struct {
		args   []string
		status int
	}{
		{longSweep, exitFine},
		{append(slices.Clone(longSweep[:5]), "--format", "json"), exitFine},
		{[]string{"check", passes}, exitFine},
		{[]string{"check", fails}, exitFails},
	} {
		read, write, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		cmd := start(t, func(cmd *exec.Cmd) { cmd.Stdout = write }, tc.args...)
		write.Close()
		if line, err := bufio.NewReaderSize(read, 16).ReadString('\n'); err != nil {
			t.Errorf("%q: read %q, %v", tc.args, line, err)
		}
		read.Close()
		if o := wait(t, cmd); o.status != tc.status || o.err != "" {
			t.Errorf("%q ends with %+v, expected status %d and silence", tc.args, o, tc.status)
		}
	}
}

// TestFullDevice sends answers where nothing can be written.
func TestFullDevice(t *testing.T) {
	t.Chdir(t.TempDir())
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Skip(err)
	}
	defer full.Close()
	const want = "cannot write the output: no space left on device"
	for _, args := range [][]string{{"check"}, {"check", "--format", "json"}, {"units"}, {"--help"}, longSweep} {
		o := wait(t, start(t, func(cmd *exec.Cmd) { cmd.Stdout = full }, args...))
		if o.status != exitWrong || !strings.Contains(o.err, want) {
			t.Errorf("%q ends with %+v", args, o)
		}
	}
}

// TestInterrupt interrupts what runs for long.
func TestInterruptedProcess(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.WriteFile("out.csv", []byte("old\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, signal := range []os.Signal{os.Interrupt, syscall.SIGTERM} {
		cmd := start(t, nil, append(slices.Clone(longSweep), "-o", "out.csv")...)
		for deadline := time.Now().Add(10 * time.Second); len(others(t, ".",
			"out.csv")) == 0; time.Sleep(time.Millisecond) {
			if time.Now().After(deadline) {
				t.Fatal("the sweep does not begin to write")
			}
		}
		cmd.Process.Signal(signal)
		if o := wait(t, cmd); o.status != exitWrong || o.out != "" ||
			o.err != "rambook: interrupted; out.csv is as it was\n" {
			t.Errorf("%v: the sweep ends with %+v", signal, o)
		}
		if got, left := readFile(t, "out.csv"), others(t, ".", "out.csv"); got != "old\n" || left != nil {
			t.Errorf("%v: the file holds %q, beside it are %q", signal, got, left)
		}
	}

	// To a pipe: what was read until then are whole rows but for the last.
	read, write := io.Pipe()
	cmd := start(t, func(cmd *exec.Cmd) { cmd.Stdout = write }, longSweep...)
	first, err := bufio.NewReader(read).ReadString('\n')
	if err != nil || !strings.HasPrefix(first, "setting") {
		t.Errorf("read %q, %v", first, err)
	}
	go io.Copy(io.Discard, read)
	cmd.Process.Signal(os.Interrupt)
	if o := wait(t, cmd); o.status != exitWrong || o.err != "rambook: interrupted\n" {
		t.Errorf("the sweep ends with %+v", o)
	}

	dir := notebook(t, "force.csv\nname,entry,unit,low\nforce,900,kN,800\n")
	read, write = io.Pipe()
	cmd = start(t, func(cmd *exec.Cmd) { cmd.Stdout = write }, "check", "--watch", dir)
	screen := bufio.NewReader(read)
	for line := ""; !strings.Contains(line, "watching"); {
		if line, err = screen.ReadString('\n'); err != nil {
			t.Fatal(err)
		}
	}
	go io.Copy(io.Discard, screen)
	cmd.Process.Signal(os.Interrupt)
	if o := wait(t, cmd); o.status != exitFine || o.err != "" {
		t.Errorf("watching ends with %+v", o)
	}
}

// TestPipeInFolder puts a pipe among the sheets, at which a reader would wait
// for ever.
func TestPipeInFolder(t *testing.T) {
	dir := notebook(t, "force.csv\nname,entry,unit\nforce,900,kN\n")
	if err := unix.Mkfifo(filepath.Join(dir, "pipe.csv"), 0o666); err != nil {
		t.Skip(err)
	}
	if status, out, said := obey("check", dir); status != exitFine || !strings.Contains(out, "force") {
		t.Errorf("status %d, %q, %q", status, out, said)
	}
}
