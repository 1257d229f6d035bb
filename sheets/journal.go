package sheets

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"rambook/units/words"
)

// journalName is that of the file which holds an update of several files of a
// folder from before the first is replaced until the last is.
const journalName = ".rambook-journal"

// journal is what an update has set out to write.
type journal struct {
	Files []journalEntry `json:"files"`
}

type journalEntry struct {
	Name string `json:"name"` // in the folder of the journal
	Was  []byte `json:"was"`  // fingerprint of the content before
	Data []byte `json:"data"` // the content to be
}

// fingerprint parts a content from one that was changed by hand.
func fingerprint(data []byte) []byte {
	h := fnv.New128a()
	h.Write(data)
	return h.Sum(nil)
}

// writeJournal makes the update one that will be finished. The journal can be
// read by those only who can read all of its files.
func (u *update) writeJournal() error {
	var j journal
	perm := fs.FileMode(0o666)
	for _, r := range u.files {
		j.Files = append(j.Files, journalEntry{filepath.Base(r.path), fingerprint(r.old), r.new})
		info, err := os.Stat(r.path)
		if err != nil {
			return r.file.failed(err)
		}
		perm &= info.Mode().Perm()
	}
	data, err := json.Marshal(j)
	if err != nil {
		return err
	}
	return WriteFile(filepath.Join(u.folder, journalName), data, perm)
}

// removeJournal ends an update. There may be no journal.
func removeJournal(folder string) error {
	path := filepath.Join(folder, journalName)
	if err := remove(path); errors.Is(err, fs.ErrNotExist) {
		return nil
	} else if err != nil {
		return fmt.Errorf("cannot remove %s: %w", path, PlainError(err))
	}
	return syncFolder(folder)
}

// readJournal reads the journal of a folder, nil if there is none. Its names
// lead nowhere but to sheets of that folder, whoever has written it.
func readJournal(folder string) (*journal, error) {
	path := filepath.Join(folder, journalName)
	data, err := readFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var j journal
	if err == nil {
		err = json.Unmarshal(data, &j)
	}
	for _, e := range j.Files {
		if e.Name != filepath.Base(e.Name) || strings.ContainsAny(e.Name, `/\:`) || !isSheetFile(e.Name) {
			err = fmt.Errorf("%s is no sheet", words.Quoted(e.Name))
		}
	}
	if err != nil {
		return nil, Problem{
			File:    path,
			Message: "this journal of a change that was cut off cannot be read: " + PlainError(err).Error(),
			Hint:    "delete it to keep the sheets as they are; a part of them may have been changed",
		}
	}
	return &j, nil
}

// update turns a journal back into the update that it was, without what is done
// already. A file that has been changed otherwise since is left alone, and so
// are then all of them.
func (j *journal) update(folder string) (*update, error) {
	u := &update{folder: folder, written: true}
	for _, e := range j.Files {
		path := filepath.Join(folder, e.Name)
		now, err := readFile(path)
		switch {
		case err == nil && bytes.Equal(now, e.Data):
		case err == nil && bytes.Equal(fingerprint(now), e.Was):
			u.files = append(u.files, &replacement{path: path, old: now, new: e.Data})
		case err == nil, errors.Is(err, fs.ErrNotExist):
			return nil, Problem{
				File:    path,
				Message: "a change of " + j.names() + " was cut off, and this file is not as that change found it",
				Hint: "delete " + filepath.Join(folder, journalName) +
					" to keep all files as they are, then make the change again",
			}
		default:
			return nil, fmt.Errorf("cannot read %s: %w", path, PlainError(err))
		}
	}
	return u, nil
}

func (j *journal) paths(folder string) []string {
	var paths []string
	for _, e := range j.Files {
		paths = append(paths, filepath.Join(folder, e.Name))
	}
	return paths
}

func (j *journal) names() string {
	var names []string
	for _, e := range j.Files {
		names = append(names, e.Name)
	}
	return strings.Join(names, ", ")
}

// finishJournal does what an update that was cut off in this folder has left to
// do.
func finishJournal(folder string) error {
	for {
		j, err := readJournal(folder)
		if j == nil || err != nil {
			return err
		}
		unlock, err := lockFoldersOf(folder, j.paths(folder))
		if err != nil {
			return err
		}
		again, err := readJournal(folder)
		if again != nil && again.names() != j.names() {
			unlock() // other folders may have to be locked
			continue
		}
		if again != nil {
			var u *update
			if u, err = again.update(folder); err == nil {
				err = u.run()
			}
		}
		unlock()
		return err
	}
}

// pending finishes an update that was cut off in the folder of a notebook, or
// returns the contents that it would give to sheets: where the folder cannot be
// written to, and where a sheet is a symbolic link, since looking at a notebook
// shall not change a file somewhere else.
func pending(folder string) (map[string][]byte, error) {
	j, err := readJournal(folder)
	if j == nil || err != nil {
		return nil, err
	}
	linked := false
	for _, path := range j.paths(folder) {
		info, err := os.Lstat(path)
		linked = linked || err == nil && info.Mode()&fs.ModeSymlink != 0
	}
	if !linked {
		err := finishJournal(folder)
		if problem := (Problem{}); err == nil || errors.As(err, &problem) {
			return nil, err
		}
		if j, err = readJournal(folder); j == nil || err != nil {
			return nil, err // another program has finished it meanwhile
		}
	}
	if _, err := j.update(folder); err != nil {
		return nil, err
	}
	contents := map[string][]byte{}
	for _, e := range j.Files {
		contents[e.Name] = e.Data
	}
	return contents, nil
}
