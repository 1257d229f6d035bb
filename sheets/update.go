package sheets

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
)

// Update replaces the content of files of one folder by what change makes of
// it. The folder, and those that symbolic links lead to, are locked meanwhile
// against other updates, and permissions are kept. A symbolic link is followed,
// not replaced. If change returns an error no file is touched, and a file for
// which it returns what it was given is not either.
//
// Several files change all or none. All new contents are written beside the old
// ones and into a journal before the first is put in place. If a step fails,
// what was changed is put back; if the program dies, whoever reads or changes
// the folder next finishes what the journal holds.
func Update(paths []string, change func(old [][]byte) ([][]byte, error)) error {
	if len(paths) == 0 {
		return nil
	}
	folder := filepath.Dir(paths[0])
	for _, path := range paths {
		if filepath.Dir(path) != folder {
			return fmt.Errorf("%s and %s lie in two folders and cannot be changed together", paths[0], path)
		}
	}
	unlock, err := lockFinished(folder, paths)
	if err != nil {
		return err
	}
	defer unlock()
	old := make([][]byte, len(paths))
	for i, path := range paths {
		if old[i], err = readFile(path); err != nil {
			return fmt.Errorf("cannot read %s: %w", path, PlainError(err))
		}
	}
	given := make([][]byte, len(old))
	for i, data := range old {
		given[i] = bytes.Clone(data)
	}
	changed, err := change(given)
	if err != nil {
		return err
	}
	u := &update{folder: folder}
	for i, path := range paths {
		if !bytes.Equal(old[i], changed[i]) {
			u.files = append(u.files, &replacement{path: path, old: old[i], new: changed[i]})
		}
	}
	return u.run()
}

// readFile is os.ReadFile for a file that another program may just be replacing.
func readFile(path string) (data []byte, err error) {
	err = patiently(func() error {
		data, err = os.ReadFile(path)
		return err
	})
	return data, err
}

// update is a set of files about to be replaced.
type update struct {
	folder  string
	files   []*replacement
	written bool // the journal is there already
}

// replacement is one file with its content before and after.
type replacement struct {
	path     string
	old, new []byte
	file     *AtomicFile // nil until the new content is on the disk
	placed   bool
}

// steps are what is done for an update, in order. Where the program dies before
// the journal stands, all files are as they were; from then on they will be as
// they are to be.
func (u *update) steps() []func() error {
	var steps []func() error
	for _, r := range u.files {
		steps = append(steps, r.prepare)
	}
	journaled := u.written || len(u.files) > 1
	if journaled && !u.written {
		steps = append(steps, u.writeJournal)
	}
	for _, r := range u.files {
		steps = append(steps, r.moveIn)
	}
	for _, r := range u.files {
		steps = append(steps, func() error { return r.file.settle() })
	}
	if journaled {
		steps = append(steps, func() error { return removeJournal(u.folder) })
	}
	return steps
}

// run does all steps, or puts back what the first of them have changed.
func (u *update) run() error {
	defer func() {
		for _, r := range u.files {
			if r.file != nil {
				r.file.Abort()
			}
		}
	}()
	for _, step := range u.steps() {
		if err := step(); err != nil {
			return errors.Join(err, u.takeBack())
		}
	}
	return nil
}

// takeBack puts the old contents back. While that does not succeed the journal
// stays, so that the next run brings all files to one state.
func (u *update) takeBack() error {
	if u.written { // by a program that died; it is to be finished, not taken back
		return nil
	}
	for _, r := range u.files {
		if !r.placed {
			continue
		}
		if err := WriteFile(r.path, r.old, 0o666); err != nil {
			return err
		}
	}
	return removeJournal(u.folder)
}

// prepare puts the new content on the disk, under another name.
func (r *replacement) prepare() error {
	f, err := CreateAtomic(r.path)
	if err != nil {
		return err
	}
	r.file = f
	if _, err := f.Write(r.new); err != nil {
		return err
	}
	return f.finish()
}

func (r *replacement) moveIn() error {
	err := r.file.moveIn()
	r.placed = err == nil
	return err
}

// lockFinished locks the folders of files for an update, with nothing left in
// the journal.
func lockFinished(folder string, paths []string) (unlock func(), err error) {
	for {
		if err := finishJournal(folder); err != nil {
			return nil, err
		}
		if unlock, err = lockFoldersOf(folder, paths); err != nil {
			return nil, err
		}
		if _, err := os.Lstat(filepath.Join(folder, journalName)); errors.Is(err, fs.ErrNotExist) {
			return unlock, nil
		}
		unlock() // another program died since
	}
}

// lockFoldersOf locks a folder and those that its files lie in behind symbolic
// links, in an order that is the same for every program.
func lockFoldersOf(folder string, paths []string) (unlock func(), err error) {
	cannot := func(path string, err error) error { return fmt.Errorf("cannot change %s: %w", path, PlainError(err)) }
	files := map[string]string{} // of the folders to lock one each, for messages
	add := func(folder, path string) error {
		folder, err := filepath.EvalSymlinks(folder)
		if err == nil {
			folder, err = filepath.Abs(folder) // one name for one folder
		}
		if err != nil {
			return cannot(path, err)
		}
		files[folder] = path
		return nil
	}
	if err := add(folder, folder); err != nil {
		return nil, err
	}
	for _, path := range paths {
		target, err := followLinks(path)
		if err != nil {
			return nil, cannot(path, err)
		}
		if err := add(filepath.Dir(target), path); err != nil {
			return nil, err
		}
	}
	var unlocks []func()
	unlock = func() {
		for _, u := range unlocks {
			u()
		}
	}
	for _, folder := range slices.Sorted(maps.Keys(files)) {
		u, err := lockFolder(folder)
		if err != nil {
			unlock()
			return nil, cannot(files[folder], err)
		}
		unlocks = append(unlocks, u)
	}
	return unlock, nil
}
