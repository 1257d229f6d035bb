package main

import (
	"bufio"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
)

// roundNotebook has a given, a reading and a tick to ask for.
const roundNotebook = "1-plate.csv\nname,entry,unit,reading,spread,note\n" +
	"bore,,mm,,,on the plate\nforce,20*MPa*pi/4*bore^2,kN,,2,load cell\nlocked,,tick,,,motor locked off\n"

// TestLines reads lines as terminals, files and serial lines send them, whole
// and byte by byte.
func TestLines(t *testing.T) {
	for _, test := range []struct {
		name, sent string
		lines      []string
	}{
		{"nothing", "", nil},
		{"line feeds", "160\n\nyes\n", []string{"160", "", "yes"}},
		{"carriage returns", "160\r\ryes\r", []string{"160", "", "yes"}},
		{"both", "160\r\n\r\nyes\r\n", []string{"160", "", "yes"}},
		{"mixed", "160\r\nyes\n\rno", []string{"160", "yes", "", "no"}},
		{"no end behind the last", "160\nyes", []string{"160", "yes"}},
		{"rubbed out", "170\b\b60\n18\x7f6\n\b\byes\n", []string{"160", "16", "yes"}},
		{"a letter of two bytes rubbed out", "12 µ\bmm\n", []string{"12 mm"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			for _, r := range []io.Reader{strings.NewReader(test.sent),
				iotest.OneByteReader(strings.NewReader(test.sent))} {
				lines := newLineReader(r)
				for i, want := range test.lines {
					if got, err := lines.read(); got != want || err != nil {
						t.Errorf("line %d is %q, %v; want %q", i+1, got, err, want)
					}
				}
				if got, err := lines.read(); err != io.EOF {
					t.Errorf("behind the last line there is %q, %v", got, err)
				}
			}
		})
	}
}

// TestSlowLine answers over a line that takes one byte after another, each only
// when the walk has asked and waits. A question is sent once, whole, before its
// answer begins, and nothing is sent while one comes in: the line carries what
// a file of the same answers gets, and no more.
func TestSlowLine(t *testing.T) {
	answers := []string{"160", "?", "402.1", "yes"}
	file := notebook(t, roundNotebook)
	var whole strings.Builder
	if status := run([]string{"fill", "--who", "Ada", file},
		strings.NewReader(strings.Join(answers, "\n")+"\n"), &whole, io.Discard); status != exitFine {
		t.Fatal(status, whole.String())
	}
	dir := notebook(t, roundNotebook)
	fromUser, toWalk := io.Pipe() // without a buffer: what the other end does not wait for blocks
	fromWalk, toUser := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		status := run([]string{"fill", "--who", "Ada", dir}, fromUser, toUser, io.Discard)
		toUser.Close()
		ended <- status
	}()
	var seen strings.Builder
	screen := bufio.NewReader(fromWalk)
	for _, answer := range answers {
		for asked := false; !asked; asked = strings.HasSuffix(seen.String(), "> ") {
			b, err := screen.ReadByte()
			if err != nil {
				t.Fatalf("before %q the walk ends: %v\n%s", answer, err, seen.String())
			}
			seen.WriteByte(b)
		}
		for _, b := range []byte(answer + "\r") {
			if _, err := toWalk.Write([]byte{b}); err != nil {
				t.Fatal(err)
			}
			if screen.Buffered() > 0 {
				t.Fatalf("something was sent while %q was typed", answer)
			}
		}
	}
	rest, err := io.ReadAll(screen)
	if status := <-ended; err != nil || status != exitFine {
		t.Fatal(status, err)
	}
	if seen.Write(rest); seen.String() != whole.String() {
		t.Errorf("over a slow line:\n%s\nfrom a file:\n%s", seen.String(), whole.String())
	}
	got, want := readText(t, filepath.Join(dir, "1-plate.csv")), readText(t, filepath.Join(file, "1-plate.csv"))
	if got != want || !strings.Contains(got, "402.1") {
		t.Errorf("the sheet holds\n%s\nfrom a file\n%s", got, want)
	}
}

func readText(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}
