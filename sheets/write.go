package sheets

import (
	"errors"
	"io/fs"
)

// Update replaces the content of a file by what change makes of it.
func Update(path string, change func(old []byte) ([]byte, error)) error {
	return errors.New("not written yet")
}

// WriteFile writes a whole file: it is there complete, or as it was before.
func WriteFile(path string, data []byte, perm fs.FileMode) error {
	return errors.New("not written yet")
}

// AtomicFile is a file in the making: Commit puts it in place, Abort drops it.
type AtomicFile struct{}

// CreateAtomic starts a file that appears at path only with Commit.
func CreateAtomic(path string) (*AtomicFile, error) { return nil, errors.New("not written yet") }

// Write appends to the file.
func (f *AtomicFile) Write(p []byte) (int, error) { return 0, errors.New("not written yet") }

// Commit puts the file in place.
func (f *AtomicFile) Commit() error { return errors.New("not written yet") }

// Abort drops the file; after Commit it does nothing.
func (f *AtomicFile) Abort() {}

// Close is Abort, for use as an io.WriteCloser.
func (f *AtomicFile) Close() error { f.Abort(); return nil }
