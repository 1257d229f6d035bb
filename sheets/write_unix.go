//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package sheets

import (
	"errors"
	"io/fs"
	"os"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// lockFolder takes the kernel's exclusive lock on a folder, which ends with the
// process whatever happens to it.
func lockFolder(folder string) (unlock func(), err error) {
	d, err := os.Open(folder)
	if err != nil {
		return nil, err
	}
	for deadline := time.Now().Add(lockPatience); ; time.Sleep(5 * time.Millisecond) {
		err := unix.Flock(int(d.Fd()), unix.LOCK_EX|unix.LOCK_NB)
		switch {
		case err == nil, errors.Is(err, unix.ENOTSUP), errors.Is(err, unix.ENOLCK):
			// Some network file systems know no locks. The file is replaced at
			// once there too; only two updates in the same moment can lose one.
			return func() { d.Close() }, nil
		case errors.Is(err, unix.EINTR):
		case !errors.Is(err, unix.EWOULDBLOCK):
			d.Close()
			return nil, err
		case time.Now().After(deadline):
			d.Close()
			return nil, errLocked
		}
	}
}

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
