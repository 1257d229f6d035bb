package sheets

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// TestMain lets the test program stand in for a rambook that is stopped in the
// middle of its work.
func TestMain(m *testing.M) {
	switch path := os.Getenv("SHEETS_TEST_PATH"); os.Getenv("SHEETS_TEST_ROLE") {
	case "flip":
		for {
			err := updateOne(path, func(old []byte) ([]byte, error) {
				return bytes.Repeat([]byte{old[0] ^ 1}, 1<<20), nil
			})
			if err != nil {
				os.Stderr.WriteString(err.Error())
				os.Exit(1)
			}
		}
	case "full":
		// The limit of a file's size fails as a full disk does: after a part.
		signal.Ignore(syscall.SIGXFSZ)
		limit := unix.Rlimit{Cur: 1 << 16, Max: 1 << 16}
		if err := unix.Setrlimit(unix.RLIMIT_FSIZE, &limit); err != nil {
			os.Exit(2)
		}
		err := updateOne(path, func([]byte) ([]byte, error) { return make([]byte, 1<<20), nil })
		if err == nil {
			os.Exit(3)
		}
		os.Stderr.WriteString(err.Error())
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// as returns the test program as a command in one of TestMain's roles.
func as(role, path string) *exec.Cmd {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "SHEETS_TEST_ROLE="+role, "SHEETS_TEST_PATH="+path)
	return cmd
}

// TestUpdateKilled kills a program that does nothing but updates: the file is
// whole each time, no lock stays behind and what else stays is no sheet.
func TestUpdateKilled(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.csv")
	if err := os.WriteFile(path, []byte("a"), 0o666); err != nil {
		t.Fatal(err)
	}
	for i := range 8 {
		was := read(t, path)
		cmd := as("flip", path)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		// On a busy machine a program takes its time to start: the delay counts from its
		// first update.
		for begun := time.Now(); read(t, path)[:1] == was[:1] && time.Since(begun) < 20*time.Second; {
			time.Sleep(time.Millisecond)
		}
		time.Sleep(time.Duration(7*i) * time.Millisecond)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatalf("the program ended by itself: %v", err)
		}
		cmd.Wait()
		got := []byte(read(t, path))
		if len(got) != 1 && len(got) != 1<<20 || !bytes.Equal(got, bytes.Repeat(got[:1], len(got))) {
			t.Fatalf("after kill %d the file is broken", i)
		}
	}
	if got := read(t, path); len(got) == 1 {
		t.Error("no update came through; the test shows nothing")
	}
	if err := updateOne(path, to(small)); err != nil {
		t.Error(err)
	}
	if n, problems := Open(dir); len(problems) > 0 || names(n) != "a" {
		t.Errorf("got sheets %s, problems %v", names(n), problems)
	}
}

func TestUpdateDiskFull(t *testing.T) {
	dir := writeFolder(t, map[string]string{"a.csv": "old"})
	path := filepath.Join(dir, "a.csv")
	out, err := as("full", path).CombinedOutput()
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() != 1 || string(out) != "cannot write "+path+": file too large" {
		t.Errorf("got %v, output %q", err, out)
	}
	if got := read(t, path) + " " + list(t, dir); got != "old a.csv" {
		t.Errorf("left behind: %s", got)
	}
}

// asReader makes a folder read-only and goes on as a user who may read it but
// not change it, until the test ends.
func asReader(t *testing.T, dir string) {
	t.Helper()
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.Chmod(dir, 0o777) })
	for up := filepath.Dir(dir); up != os.TempDir() && up != "/"; up = filepath.Dir(up) {
		if err := os.Chmod(up, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	runtime.LockOSThread()
	t.Cleanup(runtime.UnlockOSThread)
	if os.Getuid() == 0 {
		if err := unix.Setfsuid(65534); err != nil {
			t.Skip("cannot work as another user:", err)
		}
		t.Cleanup(func() { unix.Setfsuid(0) })
	}
}

func TestReadOnlyFolder(t *testing.T) {
	dir := writeFolder(t, map[string]string{"a.csv": "old"})
	path := filepath.Join(dir, "a.csv")
	if err := os.Chmod(path, 0o666); err != nil {
		t.Fatal(err)
	}
	asReader(t, dir)
	if err := updateOne(path, to("new")); !errors.Is(err, fs.ErrPermission) {
		t.Errorf("got error %v, want permission denied", err)
	}
	if got := read(t, path) + " " + list(t, dir); got != "old a.csv" {
		t.Errorf("left behind: %s", got)
	}
}

// TestJournalInReadOnlyFolder reads a notebook whose change was cut off where it
// cannot be finished.
func TestJournalInReadOnlyFolder(t *testing.T) {
	dir, u := threeFiles(t)
	killed(t, u, 5)
	asReader(t, dir)
	if got := shown(t, dir); got != "new" {
		t.Errorf("read as %s", got)
	}
	if got := onDisk(t, dir); got != "new and old" {
		t.Errorf("the files are %s", got)
	}
}

// TestWriteDevice checks that a device is written to and not replaced.
func TestWriteDevice(t *testing.T) {
	if err := WriteFile("/dev/null", []byte("x"), 0o666); err != nil {
		t.Error(err)
	}
	if info, err := os.Stat("/dev/null"); err != nil || info.Mode().IsRegular() {
		t.Fatalf("/dev/null became %v", info.Mode())
	}
	if err := WriteFile("/dev/full", []byte("x"), 0o666); !errors.Is(err, syscall.ENOSPC) ||
		err.Error() != "cannot write /dev/full: no space left on device" {
		t.Errorf("got error %v", err)
	}

	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	if err := WriteFile(fmt.Sprint("/proc/self/fd/", w.Fd()), []byte("through a pipe"), 0o666); err != nil {
		t.Fatal(err)
	}
	w.Close()
	got := make([]byte, 100)
	n, _ := r.Read(got)
	if string(got[:n]) != "through a pipe" {
		t.Errorf("got %q", got[:n])
	}
}
