//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package sheets

import (
	"errors"
	"os"
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
			// Some network file systems have no locks. The file is replaced at
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
