//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package sheets

import (
	"errors"
	"io/fs"
	"os"
	"syscall"

	"golang.org/x/sys/unix"
)

// keepOwner gives a new file the permissions and, where that is allowed, the
// owner of the one it replaces.
func keepOwner(f *os.File, _ string, old fs.FileInfo) error {
	if stat, ok := old.Sys().(*syscall.Stat_t); ok {
		// Only the superuser may; anyone else replaces files of his own, mostly.
		_ = f.Chown(int(stat.Uid), int(stat.Gid))
	}
	return f.Chmod(old.Mode().Perm())
}

func rename(from, to string) error { return os.Rename(from, to) }

func remove(path string) error { return os.Remove(path) }

// patiently has nobody to wait for: files can be open here in many programs.
func patiently(do func() error) error { return do() }

func inOurWords(err error) error { return err }

// syncFolder puts a renaming on the disk.
func syncFolder(folder string) error {
	d, err := os.Open(folder)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, unix.EINVAL) && !errors.Is(err, unix.ENOTSUP) {
		return err
	}
	return nil
}
