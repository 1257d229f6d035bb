package sheets

import (
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// WriteFile writes a whole file, which is there complete or as it was before.
// An existing file keeps its permissions, a new one gets perm (before umask). A
// symbolic link is followed, not replaced.
func WriteFile(path string, data []byte, perm fs.FileMode) error {
	return (&AtomicFile{path: path}).write(data, perm)
}

// CreateFile is WriteFile for a new file: one that is there already is left
// alone and is an error, fs.ErrExist.
func CreateFile(path string, data []byte, perm fs.FileMode) error {
	return (&AtomicFile{path: path, fresh: true}).write(data, perm)
}

// write makes the whole file at once.
func (f *AtomicFile) write(data []byte, perm fs.FileMode) error {
	if err := f.open(perm); err != nil {
		return f.failed(err)
	}
	defer f.Abort()
	if _, err := f.Write(data); err != nil {
		return err
	}
	return f.Commit()
}

// AtomicFile is a file in the making. Commit puts it in place at once; Abort,
// or the death of the program, leaves what was there before.
type AtomicFile struct {
	path     string   // as the user typed it
	target   string   // where the file goes, behind symbolic links; "" if direct
	fresh    bool     // the file must not be there yet
	temp     *os.File // nil when it has its name or was dropped
	finished bool     // temp is closed, with all of its content on the disk
	direct   bool     // path is a pipe or a device, which cannot be replaced
}

// CreateAtomic starts a file that appears at path only with Commit. What is
// written to a path that is a pipe or a device goes there at once.
func CreateAtomic(path string) (*AtomicFile, error) { return create(&AtomicFile{path: path}) }

// CreateNew is CreateAtomic for a new file: one that is there already, then or
// when it is put in place, is left alone and is an error, fs.ErrExist.
func CreateNew(path string) (*AtomicFile, error) { return create(&AtomicFile{path: path, fresh: true}) }

func create(f *AtomicFile) (*AtomicFile, error) {
	if err := f.open(0o666); err != nil {
		return nil, f.failed(err)
	}
	return f, nil
}

func (f *AtomicFile) open(perm fs.FileMode) error {
	info, err := os.Stat(f.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		info = nil
	case err != nil:
		return err
	case f.fresh:
		return fs.ErrExist
	case info.IsDir():
		return errors.New("it is a folder")
	case !info.Mode().IsRegular():
		f.direct = true
		f.temp, err = os.OpenFile(f.path, os.O_WRONLY, 0)
		return err
	default:
		if err := overwritable(f.path, info); err != nil {
			return err
		}
	}
	if f.target, err = followLinks(f.path); err != nil {
		return err
	}

	// The name is hidden and does not end in .csv, so that a temporary file
	// left by a crash is no sheet.
	for try := 0; ; try++ {
		name := fmt.Sprintf(".rambook-%016x.tmp", rand.Uint64())
		f.temp, err = os.OpenFile(filepath.Join(filepath.Dir(f.target), name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, perm)
		if err == nil || try == 100 || !errors.Is(err, fs.ErrExist) {
			break
		}
	}
	if err == nil && info != nil {
		if err = keepOwner(f.temp, f.path, info); err != nil {
			f.Abort()
		}
	}
	return err
}

// overwritable is why an existing file must not be replaced, although its
// folder may allow it.
func overwritable(path string, info fs.FileInfo) error {
	if info.Mode().Perm()&0o222 == 0 {
		return errors.New("the file is read-only")
	}
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	return f.Close()
}

// Write appends to the file.
func (f *AtomicFile) Write(p []byte) (int, error) {
	if f.temp == nil {
		return 0, f.failed(fs.ErrClosed)
	}
	n, err := f.temp.Write(p)
	if err != nil {
		err = f.failed(err)
	}
	return n, err
}

// Commit puts the file in place, on the disk and not only in a buffer. If it
// fails before that, what was there stays.
func (f *AtomicFile) Commit() error {
	if f.temp == nil {
		return f.failed(fs.ErrClosed)
	}
	defer f.Abort()
	if err := f.finish(); err != nil {
		return err
	}
	if err := f.moveIn(); err != nil {
		return err
	}
	return f.settle()
}

// finish ends the writing with all of the content on the disk.
func (f *AtomicFile) finish() error {
	if f.finished {
		return nil
	}
	if !f.direct {
		if err := f.temp.Sync(); err != nil {
			return f.failed(err)
		}
	}
	if err := f.temp.Close(); err != nil {
		return f.failed(err)
	}
	f.finished = true
	return nil
}

// moveIn gives the temporary file its name. A file that must be new gets it as a
// second name, since a renaming would replace one that came meanwhile; where
// the file system has no second names, a last look has to do.
func (f *AtomicFile) moveIn() error {
	if f.direct {
		return nil
	}
	temp := f.temp.Name()
	if f.fresh {
		err := os.Link(temp, f.target)
		if err == nil {
			return nil // Abort takes the first name away
		}
		if errors.Is(err, fs.ErrExist) {
			return f.failed(err)
		}
		if _, err := os.Lstat(f.target); err == nil {
			return f.failed(fs.ErrExist)
		}
	}
	if err := rename(temp, f.target); err != nil {
		return f.failed(err)
	}
	f.temp = nil
	return nil
}

// settle puts the name on the disk that place has given.
func (f *AtomicFile) settle() error {
	if f.direct {
		return nil
	}
	if err := syncFolder(filepath.Dir(f.target)); err != nil {
		return f.failed(err)
	}
	return nil
}

// Abort drops the file. After Commit it does nothing, so it can be deferred.
func (f *AtomicFile) Abort() {
	if f.temp == nil {
		return
	}
	f.temp.Close()
	if !f.direct {
		remove(f.temp.Name())
	}
	f.temp = nil
}

// Close is Abort, which makes an AtomicFile an io.WriteCloser that keeps
// nothing unless it was committed.
func (f *AtomicFile) Close() error {
	f.Abort()
	return nil
}

// failed names the file in an error as the user typed it, not by the temporary
// name.
func (f *AtomicFile) failed(err error) error {
	return fmt.Errorf("cannot write %s: %w", f.path, PlainError(err))
}

// followLinks returns the file behind symbolic links, which need not exist.
func followLinks(path string) (string, error) {
	for range 40 {
		info, err := os.Lstat(path)
		if errors.Is(err, fs.ErrNotExist) || err == nil && info.Mode()&fs.ModeSymlink == 0 {
			return path, nil
		}
		if err != nil {
			return "", err
		}
		to, err := os.Readlink(path)
		if err != nil {
			return "", err
		}
		if !filepath.IsAbs(to) {
			to = filepath.Join(filepath.Dir(path), to)
		}
		path = to
	}
	return "", errors.New("too many symbolic links")
}
