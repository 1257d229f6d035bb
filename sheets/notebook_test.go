package sheets

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// writeFolder makes a folder of the given files.
func writeFolder(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, data := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(data), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// names lists the sheets of a notebook.
func names(n *Notebook) string {
	var names []string
	for _, s := range n.Sheets {
		names = append(names, s.Name)
	}
	return strings.Join(names, " ")
}

const small = "name,entry\na,1\n"

func TestOpen(t *testing.T) {
	dir := writeFolder(t, map[string]string{
		"10-tank.csv": small, "2-pump.csv": small, "2-force.csv": small, "b.csv": small, "02-zero.CSV": small,
		".hidden.csv": "x", "notes.txt": "x", "old/1-plate.csv": small, "folder.csv/x": "",
	})
	t.Chdir(filepath.Dir(dir))
	shown := "./" + filepath.Base(dir)
	n, problems := Open(shown)
	if len(problems) > 0 {
		t.Error(problems)
	}
	if got, want := names(n), "force pump zero tank b"; got != want {
		t.Errorf("got sheets %s, want %s", got, want)
	}
	if n.Path != shown || n.Embedded {
		t.Errorf("got path %q, embedded %t", n.Path, n.Embedded)
	}
	if got, want := n.Sheet("tank").File, filepath.Join(shown, "10-tank.csv"); got != want {
		t.Errorf("got file %q, want %q", got, want)
	}
	if n.Sheet("plate") != nil {
		t.Error("found a sheet of a subfolder")
	}

	single := shown + "/2-pump.csv"
	n, problems = Open(single)
	if len(problems) > 0 || names(n) != "pump" || n.Sheets[0].File != single {
		t.Errorf("single file: got sheets %q, problems %v", names(n), problems)
	}
}

func TestOpenProblems(t *testing.T) {
	dir := writeFolder(t, map[string]string{
		"1-force.csv": small, "2-force.csv": small, "3-.csv": small, "4-bad.csv": "name;entry\n",
		"5-rows.csv":  "name,entry\na,1,2\n",
		"empty/x.txt": "",
	})
	link(t, "gone", filepath.Join(dir, "6-link.csv"))
	n, problems := Open(dir)
	var got []string
	for _, p := range problems {
		got = append(got, strings.TrimPrefix(p.Error(), dir+string(filepath.Separator)))
	}
	want := []string{
		"2-force.csv: this file and 1-force.csv both give the sheet `force`",
		"3-.csv: the file name leaves no name for the sheet",
		"4-bad.csv:1:1: cells are separated by semicolons, expected commas",
		"5-rows.csv:2:5: record has 3 cells, the header 2",
		"6-link.csv: no such file or directory",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if names(n) != "force rows" {
		t.Errorf("got sheets %q, want those that could be read", names(n))
	}

	for path, want := range map[string]string{
		filepath.Join(dir, "empty"): filepath.Join(dir, "empty") + ": found no CSV file in this folder",
		filepath.Join(dir, "gone"):  filepath.Join(dir, "gone") + ": no such file or directory",
	} {
		n, problems := Open(path)
		if len(problems) != 1 || problems[0].Error() != want || n == nil {
			t.Errorf("got %v, want %s", problems, want)
		}
	}
}

func TestIsNotebook(t *testing.T) {
	for _, test := range []struct {
		file string
		want bool
	}{
		{small, true}, {"\ufeff# x\n\n name ,x\n", true}, {"job,x\n:unit,\n", false}, {"", false},
		{"name;entry\n", true}, {"Name\tentry\n", true}, {"names,x\n", false}, {";\n", false}, {"na\"me\n", false},
	} {
		if got := IsNotebook(writeFolder(t, map[string]string{"a.csv": "x\n", "b.csv": test.file})); got != test.want {
			t.Errorf("%q: got %t", test.file, got)
		}
	}
	if IsNotebook(filepath.Join(t.TempDir(), "gone")) {
		t.Error("a folder that is not there is a notebook")
	}
}

func TestCompareNatural(t *testing.T) {
	sorted := []string{"", "1-a", "01-b", "2-a", "9", "10-a", "10-a2", "10-a10", "12345678901234567890-a",
		"12345678901234567891-a", "a", "a1b2", "a1b10", "b", "µ"}
	for i, a := range sorted {
		for j, b := range sorted {
			if got := compareNatural(a, b); (got < 0) != (i < j) || (got > 0) != (i > j) {
				t.Errorf("compareNatural(%q, %q) = %d", a, b, got)
			}
		}
	}
}

func TestStarters(t *testing.T) {
	names := StarterNames()
	if !slices.Contains(names, "press") {
		t.Fatalf("got starters %v, want press among them", names)
	}
	for _, name := range names {
		n, problems := Starter(name)
		if len(problems) > 0 || len(n.Sheets) == 0 || !n.Embedded || n.Path != name {
			t.Errorf("%s: got %d sheets, problems %v", name, len(n.Sheets), problems)
		}
		files, ok := StarterFiles(name)
		if !ok || len(files) != len(n.Sheets) {
			t.Fatalf("%s: got %d files of %d sheets", name, len(files), len(n.Sheets))
		}
		for i, f := range files {
			if got, want := n.Sheets[i].File, name+"/"+f.Name; got != want {
				t.Errorf("%s: sheet %d is shown as %q, want %q", name, i, got, want)
			}
			if bytes.ContainsRune(f.Data, '\r') || !bytes.HasSuffix(f.Data, []byte("\n")) {
				t.Errorf("%s/%s does not have plain line ends", name, f.Name)
			}
			if w := n.Sheets[i].Warnings; len(w) > 0 {
				t.Errorf("%s/%s: %v", name, f.Name, w)
			}
		}
	}
	if _, ok := StarterFiles("../press"); ok {
		t.Error("there are files of a starter `../press`")
	}
	if n, problems := Starter("none"); n == nil || len(problems) != 1 {
		t.Errorf("starter `none`: got problems %v", problems)
	}
}
