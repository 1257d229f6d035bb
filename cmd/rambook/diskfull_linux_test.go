package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"golang.org/x/sys/unix"
)

// fullNotebook is a notebook in which every command that writes has something to
// do. Its sheets are longer than a page of memory, so that a change may run out
// of room in the middle of a file.
func fullNotebook(dir string) error {
	padding := "# " + strings.Repeat("as found ", 700) + "\n"
	for name, content := range map[string]string{
		"1-plate.csv": padding + "name,entry,unit,reading,spread,low,high,note\nbore,160,mm,,0.1,100,200,\n" +
			"setting,20,MPa,,0.2,5,25,\nblank,,s,,,,,\nforce,setting*pi/4*bore^2,kN,410,2,,,\n",
		"2-half.csv":       padding + "name,entry,unit\nhalf,force/2,kN\npeak,max(pressing.pressure),MPa\n",
		"3-class.csv":      padding + "student,setting,force\n:unit,MPa,kN\n:low,5,\n:high,25,\nAda,10,\n",
		"4-cycles.csv":     "phase,log,from,to\npressing,log,pressure > 5*MPa,pressure < 5*MPa\n",
		"log.csv":          "time,pressure [MPa]\n0,1\n1,20\n2,25\n3,1\n",
		"correlations.csv": "given,with,correlation,note\n",
		"logbook.csv": padding + "when,who,what,was,is,with,note\n" +
			"2026-05-04 08:30:00,Ada,setting,19,20,,\n2026-05-04 08:31:00,Ada,blank.note,left,,,\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o666); err != nil {
			return err
		}
	}
	return nil
}

// TestWritersOnFullDisk lets every command that writes run out of room, with more
// and more pages of memory left until it succeeds: what was there stays to the
// byte, nothing is left beside it, the status is 2, and the message names the
// file and the reason. RAMBOOK_LONG=1 leaves out no number of pages.
func TestWritersOnFullDisk(t *testing.T) {
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skip("only the superuser can make a small file system:", err)
	}
	defer unix.Unmount(dir, unix.MNT_DETACH)
	export := filepath.Join(t.TempDir(), "export.txt")
	var rows strings.Builder
	rows.WriteString("time;pressure [bar]\n")
	for i := range 2000 {
		fmt.Fprintf(&rows, "%d;20,5\n", i)
	}
	if err := os.WriteFile(export, []byte(rows.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	press := filepath.Join(dir, "press")
	out := func(name string) string { return filepath.Join(dir, name) }
	for _, test := range []struct {
		name    string
		args    []string
		without string // a file that the notebook does not have yet
	}{
		{"set", []string{"set", "setting=21", "half.note=" + strings.Repeat("x", 50), press}, ""},
		{"fill", []string{"fill", "--who", "Ada", press}, ""},
		{"record", []string{"record", "class", "Ben", "setting=12", press}, ""},
		{"rename", []string{"rename", "setting", "relief_setting", press}, ""},
		{"restate", []string{"restate", "us", press}, ""},
		{"undo", []string{"undo", press}, ""},
		{"fit --write", []string{"fit", "bore", "setting", "--write", press}, ""},
		{"fit --write, the first", []string{"fit", "bore", "setting", "--write", press}, "correlations.csv"},
		{"deal", []string{"deal", "class", "--students", "15", press}, ""},
		{"take over a log", []string{"take", export, "--replace", "-o", filepath.Join(press, "log.csv")}, ""},
		{"take to a new log", []string{"take", export, "-o", filepath.Join(press, "second.csv")}, ""},
		{"new", []string{"new", out("fresh")}, ""},
		{"report", []string{"report", press, "-o", out("page.html")}, ""},
		{"report as Markdown", []string{"report", press, "-o", out("page.md")}, ""},
		{"class", []string{"report", "--blind", press, "-o", out("class.html")}, ""},
		{"check as a workbook", []string{"check", press, "-o", out("check.xlsx")}, ""},
		{"sweep as a workbook", []string{"sweep", "--over", "setting = 5 to 25 in 1000 steps", "--show", "force", press,
			"-o",
			out("sweep.xlsx")}, ""},
		{"sweep as rows", []string{"sweep", "--over", "setting = 5 to 25 in 1000 steps", "--show", "force", press, "-o",
			out("sweep.csv")}, ""},
		{"sweep as a picture", []string{"sweep", "--over", "setting = 5 to 25 in 20 steps", "--show", "force", press,
			"-o",
			out("sweep.png")}, ""},
		{"plot", []string{"plot", "log", press, "-o", out("log.svg")}, ""},
		{"plot as PNG", []string{"plot", "log", press, "-o", out("log.png")}, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			runOutOfRoom(t, dir, press, test.args, test.without)
		})
	}
}

func runOutOfRoom(t *testing.T, dir, press string, args []string, without string) {
	const page = 4096
	step := func(free int) int {
		if os.Getenv("RAMBOOK_LONG") != "" {
			return 1
		}
		return 1 + free/2
	}
	failed := 0
	for free := 0; ; free += step(free) {
		clearFolder(t, dir)
		if err := os.Mkdir(press, 0o777); err != nil {
			t.Fatal(err)
		}
		if err := fullNotebook(press); err != nil {
			t.Fatal(err)
		}
		if err := os.Remove(filepath.Join(press, without)); without != "" && err != nil {
			t.Fatal(err)
		}
		fillUp(t, filepath.Join(dir, "filling"), free*page)
		before := tree(t, dir)
		o := wait(t, start(t, func(cmd *exec.Cmd) { cmd.Stdin = strings.NewReader("3\n") }, args...))
		if o.status == exitFine || o.status == exitFails {
			if failed == 0 {
				t.Error("it never ran out of room")
			}
			t.Logf("%d times out of room, then done", failed)
			return
		}
		failed++
		if !strings.Contains(o.err, "no space left on device") || !strings.Contains(o.err, dir) ||
			o.out != "" && args[0] != "fill" {
			t.Errorf("with %d pages left it ends with %+v", free, o)
		}
		if after := tree(t, dir); after != before {
			t.Fatalf("with %d pages left it leaves\n%.2000s\nbefore\n%.2000s", free, after, before)
		}
		if free > 200 {
			t.Fatalf("it still ends with %+v", o)
		}
	}
}

// fillUp writes a file that leaves so many bytes of a file system.
func fillUp(t *testing.T, file string, left int) {
	t.Helper()
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	size := 0
	for chunk := make([]byte, 4096); ; {
		n, err := f.Write(chunk)
		size += n
		if errors.Is(err, syscall.ENOSPC) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Truncate(int64(max(0, size-left))); err != nil {
		t.Fatal(err)
	}
}

// clearFolder removes all that is in a folder.
func clearFolder(t *testing.T, dir string) {
	t.Helper()
	for _, name := range others(t, dir, "") {
		if err := os.RemoveAll(filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
}

// tree is every file below a folder, with what it holds.
func tree(t *testing.T, dir string) string {
	t.Helper()
	var all strings.Builder
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		all.WriteString(path + "\n")
		if d.Type().IsRegular() && d.Name() != "filling" {
			all.WriteString(readFile(t, path) + "\n")
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all.String()
}
