package sheets

import (
	"errors"
	"io/fs"
	"os"
	"time"

	"golang.org/x/sys/windows"
)

// keepOwner gives a new file the permissions of the one it replaces, where that
// is allowed. Those that the folder gives both have already.
func keepOwner(f *os.File, path string, _ fs.FileInfo) error {
	const list = windows.DACL_SECURITY_INFORMATION
	old, err := windows.GetNamedSecurityInfo(path, windows.SE_FILE_OBJECT, list)
	if err != nil {
		return nil
	}
	control, _, err := old.Control()
	if err != nil {
		return nil
	}
	permissions, _, err := old.DACL()
	if err != nil {
		return nil
	}
	kind := windows.SECURITY_INFORMATION(list | windows.UNPROTECTED_DACL_SECURITY_INFORMATION)
	if control&windows.SE_DACL_PROTECTED != 0 {
		kind = list | windows.PROTECTED_DACL_SECURITY_INFORMATION
	}
	_ = windows.SetNamedSecurityInfo(f.Name(), windows.SE_FILE_OBJECT, kind, nil, nil, permissions, nil)
	return nil
}

// rename puts a file in the place of another one, on the disk and not only in a
// buffer.
func rename(from, to string) error {
	f, err := windows.UTF16PtrFromString(from)
	if err != nil {
		return err
	}
	t, err := windows.UTF16PtrFromString(to)
	if err != nil {
		return err
	}
	return patiently(func() error {
		return windows.MoveFileEx(f, t, windows.MOVEFILE_REPLACE_EXISTING|windows.MOVEFILE_WRITE_THROUGH)
	})
}

func remove(path string) error { return patiently(func() error { return os.Remove(path) }) }

// openPatience is how long a file may be held open by a program that only looks
// at it: another rambook, a virus scanner, an indexer.
const openPatience = 2 * time.Second

// patiently tries again while another program has the file open.
func patiently(do func() error) error {
	for from := time.Now(); ; time.Sleep(10 * time.Millisecond) {
		err := do()
		held := errors.Is(err, windows.ERROR_SHARING_VIOLATION) || errors.Is(err, windows.ERROR_ACCESS_DENIED) ||
			errors.Is(err, windows.ERROR_LOCK_VIOLATION)
		if !held || time.Since(from) > openPatience {
			return err
		}
	}
}

// syncFolder has nothing to do: rename writes through.
func syncFolder(string) error { return nil }

// inOurWords is what users meet often as it is said on the other systems, and
// not in the language of this one. That a spreadsheet has the file open is the
// commonest of all here.
func inOurWords(err error) error {
	for known, words := range map[error]string{
		windows.ERROR_SHARING_VIOLATION: openElsewhere,
		windows.ERROR_LOCK_VIOLATION:    openElsewhere,
		fs.ErrNotExist:                  "no such file or directory",
		fs.ErrPermission:                "permission denied",
		fs.ErrExist:                     "file exists",
		windows.ERROR_DISK_FULL:         "no space left on device",
		windows.ERROR_WRITE_PROTECT:     "read-only file system",
	} {
		if errors.Is(err, known) {
			return plainer{err, words}
		}
	}
	return err
}

const openElsewhere = "another program has the file open; close it there and run the command again"

// plainer is an error of the system in our words.
type plainer struct {
	error
	words string
}

func (p plainer) Error() string { return p.words }

func (p plainer) Unwrap() error { return p.error }
