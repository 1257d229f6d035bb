package sheets

import (
	"path/filepath"
	"testing"

	"golang.org/x/sys/windows"
)

// TestOpenElsewhere changes a file that another program has open as a
// spreadsheet does: others may read it, but not write.
func TestOpenElsewhere(t *testing.T) {
	dir := writeFolder(t, map[string]string{"a.csv": "old", "b.csv": "old"})
	path := filepath.Join(dir, "b.csv")
	name, err := windows.UTF16PtrFromString(path)
	if err != nil {
		t.Fatal(err)
	}
	h, err := windows.CreateFile(name, windows.GENERIC_READ|windows.GENERIC_WRITE, windows.FILE_SHARE_READ, nil,
		windows.OPEN_EXISTING, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	both := func(old [][]byte) ([][]byte, error) { return [][]byte{[]byte("new"), []byte("new")}, nil }
	if err := Update([]string{filepath.Join(dir, "a.csv"), path}, both); err == nil ||
		err.Error() != "cannot write "+path+": "+openElsewhere {
		t.Errorf("got %v", err)
	}
	windows.CloseHandle(h)
	if got := read(t, filepath.Join(dir, "a.csv")) + " " + read(t, path) + " " +
		list(t, dir); got != "old old a.csv b.csv" {
		t.Errorf("left behind: %s", got)
	}
	if err := Update([]string{filepath.Join(dir, "a.csv"), path}, both); err != nil {
		t.Error(err)
	}
	if got := read(t, filepath.Join(dir, "a.csv")) + " " + read(t, path) + " " +
		list(t, dir); got != "new new a.csv b.csv" {
		t.Errorf("left behind: %s", got)
	}
}
