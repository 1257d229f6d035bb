package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"rambook": main})
}

// TestScripts runs the command scripts. UPDATE=1 rewrites their expected
// output, which is then to be read.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "../../testdata/scripts",
		RequireExplicitExec: true,
		UpdateScripts:       os.Getenv("UPDATE") != "",
	})
}

// obey runs the program in this process.
func obey(args ...string) (status int, out, errOut string) {
	var o, e bytes.Buffer
	status = run(args, strings.NewReader(""), &o, &e)
	return status, o.String(), e.String()
}

// notebook writes the files of a notebook and returns their folder. A file is
// its name, a line break, and its content.
func notebook(t *testing.T, files ...string) string {
	t.Helper()
	dir := t.TempDir()
	for _, file := range files {
		name, content, _ := strings.Cut(file, "\n")
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestExitStatus(t *testing.T) {
	passes := notebook(t, "force.csv\nname,entry,unit,low\nforce,900,kN,800\n")
	fails := notebook(t, "force.csv\nname,entry,unit,low\nforce,900,kN,1000\n")
	unsure := notebook(t, "force.csv\nname,entry,unit,spread,low\nforce,900,kN,20,890\n")
	open := notebook(t, "force.csv\nname,entry,unit,low\nforce,,kN,1000\n")
	broken := notebook(t, "force.csv\nname,entry,unit\nforce,=20*MPa,kN\n")
	divides := notebook(t, "force.csv\nname,entry\nx,0\ny,=1/x\n")
	casefails := notebook(t, "model.csv\nname,entry\nx,2\ny,=1/x\n", "jobs.csv\njob,x,y\n:unit,,\nfine,2,\nbad,0,\n")
	for _, tc := range []struct {
		name string
		args []string
		want int
	}{
		{"passes", []string{"check", passes}, exitFine},
		{"fails", []string{"check", fails}, exitFails},
		{"fails but other sheet asked", []string{"check", "--only", "force", passes}, exitFine},
		{"unsure", []string{"check", unsure}, exitFine},
		{"unsure, strict", []string{"check", "--strict", unsure}, exitFails},
		{"open", []string{"check", open}, exitFine},
		{"open, strict", []string{"check", "--strict", open}, exitFine},
		{"set makes it pass", []string{"check", "--set", "force = 1100 kN", fails}, exitFine},
		{"broken", []string{"check", broken}, exitWrong},
		{"division by zero", []string{"check", divides}, exitFails},
		{"division by zero in a case", []string{"check", casefails}, exitFails},
		{"no such folder", []string{"check", filepath.Join(passes, "nothing")}, exitWrong},
		{"no such command", []string{"chekc"}, exitWrong},
		{"no such flag", []string{"check", "--stict", passes}, exitWrong},
		{"bad format", []string{"check", "--format", "pdf", passes}, exitWrong},
		{"bad digits", []string{"check", "--digits", "-1", passes}, exitWrong},
		{"too many arguments", []string{"report", passes, passes}, exitWrong},
		{"several that pass", []string{"check", passes, passes}, exitFine},
		{"several of which one fails", []string{"check", passes, fails, unsure}, exitFails},
		{"several of which one is wrong", []string{"check", passes, broken}, exitFails},
		{"no such sheet", []string{"check", "--only", "froce", passes}, exitWrong},
		{"no such quantity", []string{"check", "--set", "froce = 3", passes}, exitWrong},
		{"help", []string{"--help"}, exitFine},
		{"help of a command", []string{"check", "--help"}, exitFine},
		{"no arguments", nil, exitFine},
		{"convert", []string{"convert", "20 MPa", "psi"}, exitFine},
		{"convert a negative number", []string{"convert", "-20 degC", "K"}, exitFine},
		{"convert to nonsense", []string{"convert", "20 MPa", "L"}, exitWrong},
		{"convert without unit", []string{"convert", "20 MPa"}, exitWrong},
		{"units", []string{"units"}, exitFine},
		{"functions", []string{"functions"}, exitFine},
		{"version", []string{"version"}, exitFine},
		{"completion", []string{"completion", "bash"}, exitFine},
		{"completion of nonsense", []string{"completion", "smash"}, exitWrong},
		{"the built-in press", []string{"check", "--format", "json"}, -1},
		{"set without a notebook", []string{"set", "setting", "20"}, exitWrong},
		{"watch without a notebook", []string{"check", "--watch"}, exitWrong},
	} {
		t.Run(tc.name, func(t *testing.T) {
			status, out, errOut := obey(tc.args...)
			if tc.want >= 0 && status != tc.want {
				t.Errorf("%q: status %d, want %d\n%s%s", tc.args, status, tc.want, out, errOut)
			}
			if status == exitWrong && (out != "" || errOut == "") {
				t.Errorf("%q: stdout %q, stderr %q", tc.args, out, errOut)
			}
			if status != exitWrong && out == "" {
				t.Errorf("%q: nothing on stdout", tc.args)
			}
		})
	}
}

// failingWriter fails as a full disk or a closed pipe does.
type failingWriter struct{ err error }

func (w failingWriter) Write([]byte) (int, error) {
	return 0, &os.PathError{Op: "write", Path: "/dev/stdout", Err: w.err}
}

func TestOutputCannotBeWritten(t *testing.T) {
	var errOut bytes.Buffer
	if status := run([]string{"units"}, nil, failingWriter{syscall.ENOSPC}, &errOut); status != exitWrong {
		t.Errorf("full disk: status %d, want %d", status, exitWrong)
	}
	if got, want := errOut.String(), "rambook: cannot write the output: no space left on device\n"; got != want {
		t.Errorf("full disk: %q, want %q", got, want)
	}
	errOut.Reset()
	if status := run([]string{"units"}, nil, failingWriter{syscall.EPIPE}, &errOut); status != exitFine ||
		errOut.Len() > 0 {
		t.Errorf("closed pipe: status %d, stderr %q, want a quiet end", status, errOut.String())
	}
}

// TestHelpHasExamples checks that every command shows how it is used.
func TestHelpHasExamples(t *testing.T) {
	parser, err := newParser(&session{}, &grammar{})
	if err != nil {
		t.Fatal(err)
	}
	for _, command := range parser.Model.Children {
		if command.Hidden {
			continue
		}
		if command.Help == "" {
			t.Errorf("%s has no help line", command.Name)
		}
		if !strings.Contains(command.Detail, "  rambook "+command.Name) {
			t.Errorf("%s has no example in its help", command.Name)
		}
		status, out, _ := obey(command.Name, "--help")
		if status != exitFine || !strings.Contains(out, "rambook "+command.Name) {
			t.Errorf("%s --help: status %d, output %q", command.Name, status, out)
		}
	}
}

func readFile(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// others lists what a folder holds beside its one sheet.
func others(t *testing.T, dir, sheet string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		if e.Name() != sheet {
			names = append(names, e.Name())
		}
	}
	return names
}

// exampleShop is a folder that holds what the examples of the help speak of: the
// starters, what a recorder exports and the log that is made of it, and two
// changes to look at and to take back.
func exampleShop(t *testing.T) string {
	t.Helper()
	shop := t.TempDir()
	t.Chdir(shop)
	text := "time;P1;S1\n0,0;12,5;400\n15,0;12,5;390\n30,0;13,5;380\n"
	if err := os.WriteFile("recorder.txt", []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{
		"new mypress --example --starter press",
		"new mypumps --example --starter pumps",
		"new mylesson --example --starter lesson",
		`set setting "24 MPa" mypress`,
		`set setting "23 MPa" mypress`,
		`take recorder.txt -o mypress/log.csv --columns "P1=pressure [bar], S1=position [mm]"`,
	} {
		if status, _, said := obey(shellWords(t, line)...); status == exitWrong {
			t.Fatal(said)
		}
	}
	return shop
}

// TestHelpExamplesRun runs the examples of each command's help, from top to
// bottom in a folder that holds the starters they speak of.
func TestHelpExamplesRun(t *testing.T) {
	parser, err := newParser(&session{}, &grammar{})
	if err != nil {
		t.Fatal(err)
	}
	shop := os.DirFS(exampleShop(t))
	for _, command := range parser.Model.Children {
		t.Run(command.Name, func(t *testing.T) {
			here := t.TempDir()
			if command.Name != "new" {
				if err := os.CopyFS(here, shop); err != nil {
					t.Fatal(err)
				}
			}
			t.Chdir(here)
			if command.Name == "take" { // it writes the log that the others find
				if err := os.Remove("mypress/log.csv"); err != nil {
					t.Fatal(err)
				}
			}
			for _, line := range strings.Split(command.Detail, "\n") {
				line, _, _ = strings.Cut(line, " | ") // what follows these is for the shell
				line, _, _ = strings.Cut(line, " < answers")
				example, found := strings.CutPrefix(line, "  rambook ")
				if !found {
					continue
				}
				if status, _, said := obey(shellWords(t, example)...); status == exitWrong {
					t.Errorf("rambook %s: %s", example, said)
				}
			}
		})
	}
}
