package main

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"rambook/cmd/rambook/manual"
)

// TestReadme runs the examples of the README, and TestHelpPages those of the help
// pages.
func TestReadme(t *testing.T) { runExamplesOf(t, "../../README.md") }

func TestHelpPages(t *testing.T) {
	pages, err := filepath.Glob("manual/pages/*.md")
	if err != nil || len(pages) != len(manual.Pages()) {
		t.Fatal(len(pages), err)
	}
	for _, page := range pages {
		t.Run(filepath.Base(page), func(t *testing.T) { runExamplesOf(t, page) })
	}
}

// runExamplesOf runs every `$ rambook …` line of a document's console blocks, in
// one new folder from top to bottom, beside testdata, and compares what comes out on both
// streams with what the document says. A line `...` stands for any lines.
// `$ cd DIR` changes the folder. With UPDATE=1 in the environment the outputs
// are rewritten in place; one with a line `...` is left to its writer, who
// knows what it should leave out.
func runExamplesOf(t *testing.T, document string) {
	readme, err := filepath.Abs(document)
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	update := os.Getenv("UPDATE") != ""
	testdata, err := filepath.Abs("../../testdata")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	if err := os.Symlink(testdata, "testdata"); err != nil {
		t.Fatal(err)
	}
	examples := readExamples(string(text))
	for i, example := range examples {
		args := shellWords(t, example.command)
		switch args[0] {
		case "cd":
			t.Chdir(args[1])
			continue
		case "rambook":
		default:
			t.Errorf("%s line %d: `%s` is no command that this test can run", document, example.line, example.command)
			continue
		}
		var out bytes.Buffer
		run(args[1:], strings.NewReader(""), &out, &out)
		switch got := trimLines(out.String()); {
		case matchLines(example.want, got):
		case update && !slices.Contains(example.want, "..."):
			examples[i].want = got
		default:
			t.Errorf("%s line %d: `%s` now gives\n%s", document, example.line, example.command, strings.Join(got, "\n"))
		}
	}
	if !update {
		return
	}
	if err := os.WriteFile(readme, []byte(writeExamples(string(text), examples)), 0o644); err != nil {
		t.Fatal(err)
	}
}

// example is a command line, the line it stands on and the output below it.
type example struct {
	command string
	line    int
	length  int // lines that the output takes, without blank ones at its end
	want    []string
}

// writeExamples is text with the outputs that the examples want now.
func writeExamples(text string, examples []example) string {
	lines := strings.Split(text, "\n")
	// From the last to the first, so that the lines above stay where they are.
	for _, e := range slices.Backward(examples) {
		lines = slices.Replace(lines, e.line, e.line+e.length, e.want...)
	}
	return strings.Join(lines, "\n")
}

func readExamples(text string) []example {
	var examples []example
	inside := false
	for i, line := range strings.Split(text, "\n") {
		switch {
		case strings.HasPrefix(line, "```"):
			inside = line == "```console"
		case !inside:
		case strings.HasPrefix(line, "$ "):
			examples = append(examples, example{command: line[2:], line: i + 1})
		default:
			last := &examples[len(examples)-1]
			last.want = append(last.want, line)
		}
	}
	for i, e := range examples {
		examples[i].want = trimLines(strings.Join(e.want, "\n"))
		examples[i].length = len(examples[i].want)
	}
	return examples
}

// trimLines splits text into lines without blanks at their ends and without
// blank lines at its own end; a blank text has no line.
func trimLines(text string) []string {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	lines := strings.Split(strings.TrimRight(text, " \n"), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return lines
}

// matchLines compares lines; `...` in want stands for any number of them.
func matchLines(want, got []string) bool {
	switch {
	case len(want) == 0:
		return len(got) == 0
	case want[0] == "...":
		for skip := range len(got) + 1 {
			if matchLines(want[1:], got[skip:]) {
				return true
			}
		}
		return false
	}
	return len(got) > 0 && want[0] == got[0] && matchLines(want[1:], got[1:])
}

// shellWords splits a command line as a shell does, as far as quotes go.
func shellWords(t *testing.T, line string) []string {
	var words []string
	var word strings.Builder
	started := false
	quote := rune(0)
	for _, r := range line {
		switch {
		case quote == 0 && (r == '"' || r == '\''):
			quote, started = r, true
		case r == quote:
			quote = 0
		case quote == 0 && r == ' ':
			if started {
				words = append(words, word.String())
			}
			word.Reset()
			started = false
		default:
			word.WriteRune(r)
			started = true
		}
	}
	if quote != 0 {
		t.Fatalf("`%s` has an open quote", line)
	}
	if started {
		words = append(words, word.String())
	}
	return words
}

func TestMatchLines(t *testing.T) {
	for _, tc := range []struct {
		want, got string
		match     bool
	}{
		{"a\nb", "a\nb", true},
		{"a\n...\nd", "a\nb\nc\nd", true},
		{"a\n...", "a", true},
		{"a\n...\nd", "a\nb\nc", false},
		{"a", "a\nb", false},
		{"...\nb\n...\nb", "a\nb\nb", true},
	} {
		if got := matchLines(trimLines(tc.want), trimLines(tc.got)); got != tc.match {
			t.Errorf("%q against %q: %v", tc.want, tc.got, got)
		}
	}
}

func TestWriteExamples(t *testing.T) {
	const text = "# a\n```console\n$ one\nold\nold\n\n$ cd x\n$ two\n```\nend\n"
	examples := readExamples(text)
	if got := writeExamples(text, examples); got != text {
		t.Errorf("unchanged examples give %q", got)
	}
	examples[0].want = []string{"new"}
	examples[2].want = []string{"b", "", "c"}
	const want = "# a\n```console\n$ one\nnew\n\n$ cd x\n$ two\nb\n\nc\n```\nend\n"
	if got := writeExamples(text, examples); got != want {
		t.Errorf("got %q", got)
	}
}

// TestPrograms holds the programs of the README and of the page formats to those
// that the script programs.txtar runs.
func TestPrograms(t *testing.T) {
	script, err := txtar.ParseFile(filepath.Join("..", "..", "testdata", "scripts", "programs.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	for _, document := range []string{"../../README.md", "manual/pages/08-formats.md"} {
		text, err := os.ReadFile(filepath.FromSlash(document))
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range script.Files[:2] {
			if !strings.Contains(string(text), "\n"+string(file.Data)+"```\n") {
				t.Errorf("%s is not in %s", file.Name, document)
			}
		}
	}
}
