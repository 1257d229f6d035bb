package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
)

// leastBad is how many mistakes the table of ../../testdata/bad holds at the
// least.
const leastBad = 700

// TestBad makes every mistake of testdata/bad on the command line and holds
// what is said about it against the text beside it. None of them puts anything
// on stdout. UPDATE=1 rewrites the text, which is then to be read as the person
// who made the mistake.
func TestBad(t *testing.T) {
	files, err := filepath.Glob("../../testdata/bad/*.txt")
	if err != nil {
		t.Fatal(err)
	}
	count := 0
	for _, file := range files {
		file, err := filepath.Abs(file)
		if err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		mistakes := readMistakes(t, string(text))
		count += len(mistakes)
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			for i := range mistakes {
				t.Run(mistakes[i].title, mistakes[i].make)
			}
		})
		if os.Getenv("UPDATE") == "" {
			continue
		}
		head, _, _ := strings.Cut(string(text), mistakeMark)
		for _, m := range mistakes {
			head += m.String()
		}
		if err := os.WriteFile(file, []byte(head), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if count < leastBad {
		t.Errorf("the table holds %d mistakes, expected %d or more", count, leastBad)
	}
}

// A mistake is one entry of the table: what the user did, and what rambook
// says to it. Its exit status is 2, unless its last line says otherwise.
type mistake struct {
	title, command, said string
	files                []txtar.File
}

const (
	mistakeMark = "=== "
	statusMark  = "exit status "
)

// readMistakes reads a file of the table. An entry is a title behind ===, a
// command line behind $, what is said on stderr, and the files of the folder in
// which the command runs.
func readMistakes(t testing.TB, text string) []mistake {
	var mistakes []mistake
	for i, part := range strings.Split("\n"+text, "\n"+mistakeMark) {
		if i == 0 {
			continue // what stands before the first entry is for readers
		}
		archive := txtar.Parse([]byte(part + "\n"))
		title, rest, _ := strings.Cut(string(archive.Comment), "\n")
		command, said, _ := strings.Cut(rest, "\n")
		command, found := strings.CutPrefix(command, "$ rambook")
		if !found {
			t.Fatalf("%q has no command", title)
		}
		mistakes = append(mistakes, mistake{title, command, strings.TrimRight(said, "\n"), archive.Files})
	}
	return mistakes
}

func (m mistake) String() string {
	archive := txtar.Archive{Files: m.files, Comment: []byte(mistakeMark + m.title + "\n$ rambook" + m.command + "\n" +
		m.said + "\n")}
	return strings.TrimRight(string(txtar.Format(&archive)), "\n") + "\n\n"
}

// escaped is the mark of a file that is written as a Go string on each line,
// without line ends, since it holds bytes that no editor shows.
const escaped = " (escaped)"

// lay writes the mistake's files into the current folder.
func (m *mistake) lay(t *testing.T) {
	for _, file := range m.files {
		name, isEscaped := strings.CutSuffix(file.Name, escaped)
		data := bytes.TrimRight(file.Data, "\n")
		data = append(data[:len(data):len(data)], '\n')
		if isEscaped {
			content, err := strconv.Unquote(`"` + strings.ReplaceAll(strings.TrimSpace(string(file.Data)), "\n", "") +
				`"`)
			if err != nil {
				t.Fatalf("%s: %v", file.Name, err)
			}
			data = []byte(content)
		}
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

// make lets the mistake be made.
func (m *mistake) make(t *testing.T) {
	t.Chdir(t.TempDir())
	m.lay(t)
	status, out, said := obey(shellWords(t, m.command)...)
	said = strings.TrimRight(said, "\n")
	if status != exitWrong {
		said += "\n" + statusMark + strconv.Itoa(status)
	}
	if out != "" && status == exitWrong {
		t.Errorf("stdout holds\n%s", out)
	}
	if said == statusMark+strconv.Itoa(status) || said == "\n"+statusMark+strconv.Itoa(status) {
		t.Error("nothing is said")
	}
	if os.Getenv("UPDATE") != "" {
		m.said = said
	}
	if said != m.said {
		t.Errorf("rambook%s says\n%s\nexpected\n%s", m.command, said, m.said)
	}
}
