package sheets

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// threeSheets are a notebook before and after a change of all of its files.
var threeSheets = map[string][2]string{
	"1-a.csv": {"name,entry\nx,1\n", "name,entry\ny,1\n"},
	"b.csv":   {"name,entry\nz,=x\n", "name,entry\nz,=y\n"},
	"c.csv":   {"job,x\n:unit,\nfirst,2\n", "job,y\n:unit,\nfirst,2\n"},
}

func threeFiles(t *testing.T) (dir string, u *update) {
	t.Helper()
	files := map[string]string{}
	for name, content := range threeSheets {
		files[name] = content[0]
	}
	dir = writeFolder(t, files)
	return dir, change(dir)
}

// change is the update that Update would run.
func change(dir string) *update {
	u := &update{folder: dir}
	for _, name := range []string{"c.csv", "1-a.csv", "b.csv"} {
		content := threeSheets[name]
		u.files = append(u.files, &replacement{path: filepath.Join(dir, name), old: []byte(content[0]),
			new: []byte(content[1])})
	}
	return u
}

// state reports whether the files that a notebook was read from are old or new.
func state(t *testing.T, content func(name string) string) string {
	t.Helper()
	var states []string
	for name, versions := range threeSheets {
		switch got := content(name); got {
		case versions[0]:
			states = append(states, "old")
		case versions[1]:
			states = append(states, "new")
		default:
			t.Fatalf("%s holds %q", name, got)
		}
	}
	slices.Sort(states)
	return strings.Join(slices.Compact(states), " and ")
}

func onDisk(t *testing.T, dir string) string {
	t.Helper()
	return state(t, func(name string) string { return read(t, filepath.Join(dir, name)) })
}

// shown is the state in which Open shows the notebook.
func shown(t *testing.T, path string) string {
	t.Helper()
	n, problems := Open(path)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	return state(t, func(name string) string {
		s := n.Sheet(SheetName(name))
		if s == nil {
			t.Fatalf("%s is not read", name)
		}
		for _, version := range threeSheets[name] {
			if s.IsFrom([]byte(version)) {
				return version
			}
		}
		return ""
	})
}

// killed runs the first steps of an update and leaves everything as it then is,
// as the death of the program does.
func killed(t *testing.T, u *update, steps int) {
	t.Helper()
	for _, step := range u.steps()[:steps] {
		if err := step(); err != nil {
			t.Fatal(err)
		}
	}
}

// TestUpdateKilledAtEveryStep ends an update of three files behind each of its
// steps: the next to read or change the folder finds all files old or all new.
func TestUpdateKilledAtEveryStep(t *testing.T) {
	_, u := threeFiles(t)
	last := len(u.steps())
	mixed := 0
	for n := range last + 1 {
		dir, u := threeFiles(t)
		killed(t, u, n)
		if onDisk(t, dir) == "new and old" {
			mixed++
		}
		want := "old"
		if n > len(u.files) { // the journal stands behind the new contents
			want = "new"
		}
		if got := shown(t, dir); got != want {
			t.Errorf("killed behind step %d of %d: read as %s, want %s", n, last, got, want)
		}
		if got := onDisk(t, dir); got != want {
			t.Errorf("killed behind step %d of %d: after reading the files are %s, want %s", n, last, got, want)
		}

		dir, u = threeFiles(t)
		killed(t, u, n)
		note := filepath.Join(dir, "b.csv")
		if err := updateOne(note, func(old []byte) ([]byte, error) {
			return append(old, "# more\n"...),
				nil
		}); err != nil {
			t.Fatal(err)
		}
		at := map[string]int{"old": 0, "new": 1}[want]
		if got, want := read(t, note), threeSheets["b.csv"][at]+"# more\n"; got != want {
			t.Errorf("killed behind step %d of %d: the next change made %q, want %q", n, last, got, want)
		}
		if got := read(t, filepath.Join(dir, "1-a.csv")); got != threeSheets["1-a.csv"][at] {
			t.Errorf("killed behind step %d of %d: the next change left %q", n, last, got)
		}
	}
	if mixed == 0 {
		t.Error("no kill came between two files; the test shows nothing")
	}
}

// TestFinishingKilledAtEveryStep ends the program that finishes the work of
// another one that died.
func TestFinishingKilledAtEveryStep(t *testing.T) {
	for first := 4; first <= 7; first++ { // from the journal to the last file
		for n := 0; ; n++ {
			dir, u := threeFiles(t)
			killed(t, u, first)
			j, err := readJournal(dir)
			if err != nil || j == nil {
				t.Fatal(j, err)
			}
			again, err := j.update(dir)
			if err != nil {
				t.Fatal(err)
			}
			steps := len(again.steps())
			if n > steps {
				break
			}
			killed(t, again, n)
			if got := shown(t, dir); got != "new" {
				t.Errorf("killed behind step %d, then behind step %d of %d: read as %s", first, n, steps, got)
			}
			if got := onDisk(t, dir); got != "new" {
				t.Errorf("killed behind step %d, then behind step %d of %d: the files are %s", first, n, steps, got)
			}
			if _, err := os.Lstat(filepath.Join(dir, journalName)); err == nil {
				t.Error("the journal is left")
			}
		}
	}
}

// TestUpdateTakenBack gives up behind each step: all files are as they were
// and nothing is left beside them.
func TestUpdateTakenBack(t *testing.T) {
	dir, u := threeFiles(t)
	before := list(t, dir)
	failure := errors.New("the disk is gone")
	for n := range len(u.steps()) {
		u := change(dir)
		killed(t, u, n)
		if err := errors.Join(failure, u.takeBack()); err.Error() != failure.Error() {
			t.Fatalf("step %d: %v", n, err)
		}
		for _, r := range u.files {
			if r.file != nil {
				r.file.Abort()
			}
		}
		if got := onDisk(t, dir) + ": " + list(t, dir); got != "old: "+before {
			t.Errorf("after step %d failed: %s", n, got)
		}
	}
}

// TestJournalAndHandEdit changes a file by hand after an update was cut off.
// Nobody can say then which content is right: nothing is overwritten.
func TestJournalAndHandEdit(t *testing.T) {
	dir, u := threeFiles(t)
	killed(t, u, 5) // the journal and one file
	edited := filepath.Join(dir, "b.csv")
	if err := os.WriteFile(edited, []byte("name,entry\nz,3\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	const want = "b.csv: a change of c.csv, 1-a.csv, b.csv was cut off, and this file is not as that change found it"
	_, problems := Open(dir)
	if len(problems) != 1 || problems[0].Error() != filepath.Join(dir, want) ||
		!strings.Contains(problems[0].Hint, "delete "+filepath.Join(dir, journalName)) {
		t.Errorf("got %v", problems)
	}
	if err := updateOne(edited, to("x")); err == nil || err.Error() != filepath.Join(dir, want) {
		t.Errorf("got error %v", err)
	}
	if got := read(t, edited); got != "name,entry\nz,3\n" {
		t.Errorf("the edit became %q", got)
	}
	if err := os.Remove(filepath.Join(dir, journalName)); err != nil {
		t.Fatal(err)
	}
	if _, problems := Open(dir); len(problems) > 0 {
		t.Error(problems)
	}
}

// TestJournalLeadsNowhereElse reads journals that others may have written.
func TestJournalLeadsNowhereElse(t *testing.T) {
	for name, content := range map[string]string{
		"other folder": `{"files":[{"name":"../x.csv","was":"","data":"eA=="}]}`,
		"backslash":    `{"files":[{"name":"..\\x.csv","was":"","data":"eA=="}]}`,
		"no sheet":     `{"files":[{"name":"x.sh","was":"","data":"eA=="}]}`,
		"hidden":       `{"files":[{"name":".x.csv","was":"","data":"eA=="}]}`,
		"cut":          `{"files":[{"name":"a.csv",`,
		"empty":        ``,
	} {
		dir := writeFolder(t, map[string]string{"a.csv": "name,entry\nx,1\n", journalName: content})
		if _, problems := Open(dir); len(problems) != 1 || !strings.Contains(problems[0].Message, "cannot be read") {
			t.Errorf("%s: got %v", name, problems)
		}
		if got := list(t, dir); got != journalName+" a.csv" {
			t.Errorf("%s: the folder holds %s", name, got)
		}
	}
}

// TestJournalBehindLinks checks that reading a notebook changes no file outside
// of its folder, and shows what it would be.
func TestJournalBehindLinks(t *testing.T) {
	dir, u := threeFiles(t)
	outside := filepath.Join(t.TempDir(), "outside.csv")
	if err := os.Rename(filepath.Join(dir, "b.csv"), outside); err != nil {
		t.Fatal(err)
	}
	link(t, outside, filepath.Join(dir, "b.csv"))
	killed(t, u, 5)
	if got := shown(t, dir); got != "new" {
		t.Errorf("read as %s", got)
	}
	if got := read(t, outside); got != threeSheets["b.csv"][0] {
		t.Errorf("reading changed the file behind the link to %q", got)
	}
	if err := updateOne(filepath.Join(dir, "c.csv"), func(old []byte) ([]byte, error) { return old, nil }); err != nil {
		t.Fatal(err)
	}
	if got := onDisk(t, dir); got != "new" || read(t, outside) != threeSheets["b.csv"][1] {
		t.Errorf("after a change the files are %s", got)
	}
}

// TestUpdateAcrossFolders is refused: no journal could hold it together.
func TestUpdateAcrossFolders(t *testing.T) {
	dir := writeFolder(t, map[string]string{"a/x.csv": "x", "b/y.csv": "y"})
	err := Update([]string{filepath.Join(dir, "a", "x.csv"), filepath.Join(dir, "b", "y.csv")},
		func(old [][]byte) ([][]byte, error) { return old, nil })
	if err == nil || !strings.Contains(err.Error(), "two folders") {
		t.Errorf("got %v", err)
	}
}

// TestOneFileOfAPendingChange opens a single sheet of a folder.
func TestOneFileOfAPendingChange(t *testing.T) {
	dir, u := threeFiles(t)
	killed(t, u, 4)
	if n, problems := Open(filepath.Join(dir, "b.csv")); len(problems) > 0 ||
		!n.Sheets[0].IsFrom([]byte(threeSheets["b.csv"][1])) {
		t.Errorf("got %v", problems)
	}
}
