package main

import (
	"bufio"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"rambook/sheets"
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

// TestRestatedMeanwhile restates a notebook between the moment at which a number
// is asked for, or a cell is looked up, and the moment at which it is written: no
// bare number lands in another unit than that which it was meant in.
func TestRestatedMeanwhile(t *testing.T) {
	const rows = "1-plate.csv\nname,entry,unit\nsetting,20,MPa\nrelief,,MPa\nlength,,mm\nsum,setting + relief,MPa\n"
	restated := func(dir string) {
		if status, _, said := obey("restate", "us", dir); status != exitFine {
			t.Fatal(said)
		}
	}
	for _, test := range []struct{ entry, refused string }{
		{"21", "the unit of setting.entry was changed meanwhile from MPa to psi"},
		{"runs 21 22", "from MPa to psi"},
		{"21 MPa", ""}, {"relief", ""}, {"", ""},
	} {
		dir := notebook(t, rows)
		r, err := revise(dir)
		if err != nil {
			t.Fatal(err)
		}
		settings := []setting{{cellName: rowCell{"setting", "entry"}, entry: test.entry}}
		changing, err := sheetsOf(settings, r)
		if err != nil {
			t.Fatal(err)
		}
		restated(dir)
		before := readText(t, filepath.Join(dir, "1-plate.csv"))
		edit := func(now *sheets.Sheet, data []byte) ([]byte, error) { return write(settings, now, data) }
		err = r.change(changing, edit)
		switch after := readText(t, filepath.Join(dir, "1-plate.csv")); {
		case test.refused == "" && (err != nil || !strings.Contains(after, "setting,"+test.entry+",psi")):
			t.Errorf("%q: %v; the sheet holds\n%s", test.entry, err, after)
		case test.refused != "" && (err == nil || !strings.Contains(err.Error(), test.refused) || after != before):
			t.Errorf("%q: %v, want %q; the sheet holds\n%s", test.entry, err, test.refused, after)
		}
	}

	dir := notebook(t, rows)
	fromUser, toWalk := io.Pipe()
	fromWalk, toUser := io.Pipe()
	go func() {
		run([]string{"fill", "--who", "Ada", dir}, fromUser, toUser, io.Discard)
		toUser.Close()
	}()
	var seen strings.Builder
	screen := bufio.NewReader(fromWalk)
	untilAsked := func(unit string) {
		for !strings.HasSuffix(seen.String(), unit+"]> ") {
			b, err := screen.ReadByte()
			if err != nil {
				t.Fatalf("the walk ends: %v\n%s", err, seen.String())
			}
			seen.WriteByte(b)
		}
	}
	untilAsked("MPa")
	restated(dir)
	io.WriteString(toWalk, "21\n")
	untilAsked("mm")
	if want := "relief is in psi now, and was asked for in MPa"; !strings.Contains(seen.String(), want) {
		t.Errorf("%q is not on the screen:\n%s", want, seen.String())
	}
	io.WriteString(toWalk, "relief=3000\n")
	toWalk.Close()
	io.Copy(&seen, screen)
	if sheet := readText(t, filepath.Join(dir, "1-plate.csv")); !strings.Contains(sheet, "\nrelief,3000,psi\n") {
		t.Errorf("the sheet holds\n%s\n%s", sheet, seen.String())
	}
}
