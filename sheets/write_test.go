package sheets

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// read returns the content of a file.
func read(t *testing.T, path string) string {
	t.Helper()
	data, err := readFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// list returns the names in a folder, so that a forgotten temporary file shows.
func list(t *testing.T, dir string) string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return strings.Join(names, " ")
}

// onWindows says that a file has no permissions but to be read-only.
const onWindows = runtime.GOOS == "windows"

// link makes a symbolic link, which is a privilege on some systems and unknown
// to others: a test that needs one is skipped there.
func link(t *testing.T, to, from string) {
	t.Helper()
	if err := os.Symlink(to, from); err != nil {
		t.Skip("no symbolic links here:", err)
	}
	if _, err := os.Readlink(from); err != nil {
		t.Skip("no symbolic links here:", err)
	}
}

// to is a change that gives a fixed content.
func to(text string) func([]byte) ([]byte, error) {
	return func([]byte) ([]byte, error) { return []byte(text), nil }
}

func TestUpdate(t *testing.T) {
	dir := writeFolder(t, map[string]string{"1-a.csv": "old"})
	path := filepath.Join(dir, "1-a.csv")
	if err := os.Chmod(path, 0o640); err != nil {
		t.Fatal(err)
	}
	err := updateOne(path, func(old []byte) ([]byte, error) {
		if string(old) != "old" {
			t.Errorf("change was given %q", old)
		}
		return append(old, " and new"...), nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if got := read(t, path); got != "old and new" {
		t.Errorf("got %q", got)
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o640 && !onWindows {
		t.Errorf("got mode %v, error %v", info.Mode(), err)
	}

	// Nothing to do, or an error: the file is not even written anew.
	failure := errors.New("no such quantity")
	if err := updateOne(path, to("old and new")); err != nil {
		t.Error(err)
	}
	if err := updateOne(path, func(b []byte) ([]byte, error) { clear(b); return b, failure }); !errors.Is(err,
		failure) {
		t.Errorf("got error %v, want that of change", err)
	}
	if again, err := os.Stat(path); err != nil || !os.SameFile(info, again) {
		t.Error("the file was replaced by itself")
	}
	if got := list(t, dir); got != "1-a.csv" {
		t.Errorf("folder holds %s", got)
	}

	gone := filepath.Join(dir, "gone.csv")
	if err := updateOne(gone, to("x")); !errors.Is(err, fs.ErrNotExist) ||
		err.Error() != "cannot read "+gone+": no such file or directory" {
		t.Errorf("got error %v", err)
	}
}

func TestUpdateFollowsLinks(t *testing.T) {
	dir := writeFolder(t, map[string]string{"real/a.csv": "old", "links/x.txt": ""})
	first := filepath.Join(dir, "links", "b.csv")
	for from, to := range map[string]string{first: "../c.csv",
		filepath.Join(dir, "c.csv"): filepath.Join(dir, "real", "a.csv")} {
		link(t, to, from)
	}
	if err := updateOne(first, to("new")); err != nil {
		t.Fatal(err)
	}
	if got := read(t, filepath.Join(dir, "real", "a.csv")); got != "new" {
		t.Errorf("the file behind the links holds %q", got)
	}
	if target, err := os.Readlink(first); err != nil || filepath.ToSlash(target) != "../c.csv" {
		t.Errorf("the link became %q, error %v", target, err)
	}
	if got := list(t, filepath.Join(dir, "real")) + " " +
		list(t, filepath.Join(dir, "links")); got != "a.csv b.csv x.txt" {
		t.Errorf("folders hold %s", got)
	}

	loop := filepath.Join(dir, "loop")
	link(t, "loop", loop)
	if err := updateOne(loop, to("x")); err == nil {
		t.Error("a loop of links was written to")
	}
}

func TestWriteFile(t *testing.T) {
	dir := writeFolder(t, map[string]string{"old.csv": "old", "locked.csv": "old", "sub/x": ""})
	in := func(name string) string { return filepath.Join(dir, name) }
	for name, mode := range map[string]fs.FileMode{"old.csv": 0o600, "locked.csv": 0o444} {
		if err := os.Chmod(in(name), mode); err != nil {
			t.Fatal(err)
		}
	}
	link(t, "made.csv", in("link.csv"))

	for _, test := range []struct {
		name, at string // at is where the content goes
		mode     fs.FileMode
	}{{"new.csv", "new.csv", 0o640}, {"old.csv", "old.csv", 0o600}, {"link.csv", "made.csv", 0o640}} {
		if err := WriteFile(in(test.name), []byte(test.name), 0o640); err != nil {
			t.Error(err)
			continue
		}
		info, err := os.Lstat(in(test.at))
		if err != nil || info.Mode() != test.mode && !onWindows || read(t, in(test.at)) != test.name {
			t.Errorf("%s: got mode %v, content %q, error %v", test.name, info.Mode(), read(t, in(test.at)), err)
		}
	}
	for name, want := range map[string]string{
		"sub":        "it is a folder",
		"locked.csv": "the file is read-only",
		"gone/x.csv": "no such file or directory",
	} {
		if err := WriteFile(in(name), []byte("x"), 0o640); err == nil ||
			err.Error() != "cannot write "+in(name)+": "+want {
			t.Errorf("%s: got error %v, want %s", name, err, want)
		}
	}
	if got := read(t, in("locked.csv")); got != "old" {
		t.Errorf("the read-only file holds %q", got)
	}
	if got, want := list(t, dir), "link.csv locked.csv made.csv new.csv old.csv sub"; got != want {
		t.Errorf("folder holds %s, want %s", got, want)
	}
}

func TestAtomicFile(t *testing.T) {
	dir := writeFolder(t, map[string]string{"out.csv": "old"})
	path := filepath.Join(dir, "out.csv")
	start := func() *AtomicFile {
		f, err := CreateAtomic(path)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(f, "new"); err != nil {
			t.Fatal(err)
		}
		if got := read(t, path); got != "old" {
			t.Errorf("before commit the file holds %q", got)
		}
		for _, name := range strings.Fields(list(t, dir)) {
			if name != "out.csv" && strings.HasSuffix(name, ".csv") {
				t.Errorf("the temporary file %s looks like a sheet", name)
			}
		}
		return f
	}

	for _, end := range []func(*AtomicFile){(*AtomicFile).Abort, func(f *AtomicFile) { f.Close() }} {
		f := start()
		end(f)
		end(f)
		if _, err := f.Write(nil); !errors.Is(err, fs.ErrClosed) {
			t.Errorf("writing after the end: got error %v", err)
		}
		if err := f.Commit(); !errors.Is(err, fs.ErrClosed) {
			t.Errorf("commit after the end: got error %v", err)
		}
		if got := read(t, path) + " " + list(t, dir); got != "old out.csv" {
			t.Errorf("after abort: %s", got)
		}
	}

	f := start()
	if err := f.Commit(); err != nil {
		t.Fatal(err)
	}
	f.Abort()
	if got := read(t, path) + " " + list(t, dir); got != "new out.csv" {
		t.Errorf("after commit: %s", got)
	}

	// The place is gone before the commit.
	if onWindows {
		return // where a folder with an open file cannot be removed
	}
	gone := filepath.Join(dir, "sub", "x.csv")
	if err := os.Mkdir(filepath.Dir(gone), 0o777); err != nil {
		t.Fatal(err)
	}
	f, err := CreateAtomic(gone)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Dir(gone)); err != nil {
		t.Fatal(err)
	}
	if err := f.Commit(); !errors.Is(err, fs.ErrNotExist) || !strings.HasPrefix(err.Error(), "cannot write "+gone) {
		t.Errorf("got error %v", err)
	}
}

// TestWriteFileWhole checks that a reader sees one content or the other, never
// a part.
func TestWriteFileWhole(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.csv")
	contents := [][]byte{bytes.Repeat([]byte("a"), 1<<20), bytes.Repeat([]byte("b"), 1<<19)}
	if err := WriteFile(path, contents[0], 0o666); err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		for i := range 10 {
			if err := WriteFile(path, contents[i%2], 0o666); err != nil {
				t.Error(err)
			}
		}
	}()
	for {
		got := []byte(read(t, path))
		if !slices.ContainsFunc(contents, func(c []byte) bool { return bytes.Equal(c, got) }) {
			t.Fatalf("a reader saw %d bytes of neither content", len(got))
		}
		select {
		case <-done:
			return
		default:
		}
	}
}

// TestCreateFile checks that a new file never takes the place of another, not
// even of one that comes while it is written.
func TestCreateFile(t *testing.T) {
	dir := writeFolder(t, map[string]string{"old.csv": "old"})
	in := func(name string) string { return filepath.Join(dir, name) }
	if err := CreateFile(in("new.csv"), []byte("new"), 0o640); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(in("new.csv")); err != nil || info.Mode() != 0o640 && !onWindows ||
		read(t, in("new.csv")) != "new" {
		t.Errorf("got %v, %v, content %q", info, err, read(t, in("new.csv")))
	}
	err := CreateFile(in("old.csv"), []byte("new"), 0o640)
	if !errors.Is(err, fs.ErrExist) || read(t, in("old.csv")) != "old" {
		t.Errorf("got %v, content %q", err, read(t, in("old.csv")))
	}

	f := &AtomicFile{path: in("late.csv"), fresh: true}
	if err := f.open(0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(in("late.csv"), []byte("first"), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := f.Commit(); !errors.Is(err, fs.ErrExist) || read(t, in("late.csv")) != "first" {
		t.Errorf("got %v, content %q", err, read(t, in("late.csv")))
	}
	if got, want := list(t, dir), "late.csv new.csv old.csv"; got != want {
		t.Errorf("folder holds %s, want %s", got, want)
	}
}

// TestUpdateOfSeveral checks that files change together or not at all.
func TestUpdateOfSeveral(t *testing.T) {
	dir := writeFolder(t, map[string]string{"a.csv": "a", "b.csv": "b", "c.csv": "c"})
	paths := []string{filepath.Join(dir, "c.csv"), filepath.Join(dir, "a.csv"), filepath.Join(dir, "b.csv")}
	contents := func() string {
		return read(t, paths[0]) + " " + read(t, paths[1]) + " " + read(t, paths[2]) + ": " + list(t, dir)
	}
	err := Update(paths, func(old [][]byte) ([][]byte, error) {
		if string(bytes.Join(old, nil)) != "cab" {
			t.Errorf("change is given %q", old)
		}
		return [][]byte{[]byte("new c"), old[1], []byte("new b")}, nil
	})
	if got, want := contents(), "new c a new b: a.csv b.csv c.csv"; err != nil || got != want {
		t.Errorf("got %s, %v, want %s", got, err, want)
	}
	refused := errors.New("no")
	err = Update(paths, func(old [][]byte) ([][]byte, error) { return nil, refused })
	if got, want := contents(), "new c a new b: a.csv b.csv c.csv"; err != refused || got != want {
		t.Errorf("got %s, %v, want %s", got, err, want)
	}
	// The last file becomes one that cannot be replaced.
	err = Update(paths, func(old [][]byte) ([][]byte, error) {
		if err := os.Chmod(paths[2], 0o444); err != nil {
			t.Fatal(err)
		}
		return [][]byte{[]byte("x"), []byte("y"), []byte("z")}, nil
	})
	if got, want := contents(), "new c a new b: a.csv b.csv c.csv"; err == nil || got != want {
		t.Errorf("got %s, %v, want %s", got, err, want)
	}
	if err := Update([]string{paths[0], filepath.Join(dir, "gone.csv")},
		func(old [][]byte) ([][]byte, error) { return old, nil }); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file that is not there: got %v", err)
	}
}

// TestUpdateTogether lets many updates count in one file; none may be lost.
func TestUpdateTogether(t *testing.T) {
	path := filepath.Join(writeFolder(t, map[string]string{"n.csv": "0"}), "n.csv")
	const each, workers = 10, 4
	var wait sync.WaitGroup
	for range workers {
		wait.Go(func() {
			for range each {
				err := updateOne(path, func(old []byte) ([]byte, error) {
					n, err := strconv.Atoi(string(old))
					return []byte(strconv.Itoa(n + 1)), err
				})
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	wait.Wait()
	if got := read(t, path); got != strconv.Itoa(each*workers) {
		t.Errorf("counted to %s, want %d", got, each*workers)
	}
}

func TestUpdateWaitsForLock(t *testing.T) {
	dir := writeFolder(t, map[string]string{"a.csv": "old"})
	path := filepath.Join(dir, "a.csv")
	unlock, err := lockFolder(dir)
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error)
	go func() { done <- updateOne(path, to("new")) }()
	select {
	case err := <-done:
		t.Fatalf("the update did not wait; error %v", err)
	case <-time.After(50 * time.Millisecond):
	}
	if got := read(t, path); got != "old" {
		t.Errorf("the file holds %q while the folder is locked", got)
	}
	unlock()
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	if got := read(t, path); got != "new" {
		t.Errorf("got %q", got)
	}
}

// updateOne is Update for a single file.
func updateOne(path string, change func(old []byte) ([]byte, error)) error {
	return Update([]string{path}, func(old [][]byte) ([][]byte, error) {
		changed, err := change(old[0])
		return [][]byte{changed}, err
	})
}
