package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// FuzzNotebook checks that no notebook makes check panic, that an error leaves
// stdout empty and says something, and that no number on the screen or in JSON
// is infinite. It starts from the mistakes of testdata/bad.
func FuzzNotebook(f *testing.F) {
	texts, err := filepath.Glob("../../testdata/bad/*.txt")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range texts {
		text, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		for _, m := range readMistakes(f, string(text)) {
			var rows, cases []byte
			for _, file := range m.files {
				if strings.HasPrefix(string(file.Data), "name,") {
					rows = file.Data
				} else {
					cases = file.Data
				}
			}
			if rows != nil {
				f.Add(rows, cases)
			}
		}
	}
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, rows, cases []byte) {
		for name, data := range map[string][]byte{"plate.csv": rows, "jobs.csv": cases} {
			path := filepath.Join(dir, name)
			if len(data) == 0 {
				os.Remove(path)
				continue
			}
			if err := os.WriteFile(path, data, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		format := []string{"table", "json"}[len(rows)%2]
		status, out, said := obey("check", "--format", format, dir)
		switch {
		case status == exitWrong && (out != "" || said == ""):
			t.Fatalf("status 2 with stdout %q, stderr %q", out, said)
		case status != exitWrong && out == "":
			t.Fatalf("status %d and nothing on stdout; stderr %q", status, said)
		case strings.Contains(said, "goroutine "), strings.Contains(said, "unsupported value"):
			t.Fatalf("stderr %q", said)
		}
	})
}
