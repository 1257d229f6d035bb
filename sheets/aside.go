package sheets

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// MoveAside moves the file of a sheet into the folder aside beside it, or back
// from there, under the lock that changes of the notebook take. Nothing is
// overwritten. still is asked under that lock, and its error leaves the file where it is.
func MoveAside(folder, file string, back bool, still func() error) error {
	from, to := filepath.Join(folder, file), filepath.Join(folder, AsideFolder, file)
	unlock, err := lockFinished(folder, []string{filepath.Join(folder, "any")})
	if err != nil {
		return err
	}
	defer unlock()
	if err := still(); err != nil {
		return err
	}
	if back {
		from, to = to, from
	} else if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
		return fmt.Errorf("cannot make the folder %s: %w", filepath.Dir(to), PlainError(err))
	}
	if _, err := os.Lstat(to); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s is there already, and nothing is overwritten", to)
	}
	if err := os.Rename(from, to); err != nil {
		return fmt.Errorf("cannot move %s: %w", from, PlainError(err))
	}
	if back {
		_ = os.Remove(filepath.Dir(from)) // the folder aside, if nothing else is in it
	}
	return nil
}
