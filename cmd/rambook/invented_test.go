package main

import (
	"archive/zip"
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rambook/cmd/rambook/answer"
)

// TestEveryPageSaysSo makes every answer in every format, of a notebook
// with the examples filled in and of a fresh one: that its machine is invented
// stands on all pages of the first and on none of the other. Of a table that has
// no place for it the program says so beside it.
func TestEveryPageSaysSo(t *testing.T) {
	root := t.TempDir()
	example, fresh := filepath.Join(root, "example"), filepath.Join(root, "fresh")
	for _, args := range [][]string{
		{"new", example, "--only", "plate,force,work,jobs,materials", "--example"},
		{"new", fresh, "--only", "plate,force,work,jobs,materials"},
		{"set", "rated_force=400", "rams=2", "bore=110", "rod_diameter=80", "setting=21", fresh}} {
		if status, _, said := obey(args...); status == exitWrong {
			t.Fatal(said)
		}
	}
	commands := [][]string{
		{"check"}, {"check", "--short"}, {"check", "--only", "force"}, {"check", "--blind"}, {"explain", "force"},
		{"sweep", "--over", "setting = 5 to 25 by 10 MPa", "--show", "force"},
		{"solve", "setting", "--until", "force = 300 kN"}, {"compare", "jobs", "--show", "job_force,tool_load"},
		{"logbook"}, {"report"},
		{"check", example}, // both notebooks in one table
	}
	made := map[string]int{}
	for _, command := range commands {
		for _, f := range answer.Formats {
			if command[0] == "report" && f.Paper == answer.NoPaper {
				continue
			}
			for _, folder := range []string{example, fresh} {
				file := filepath.Join(root, "out"+f.Endings[0])
				args := append(append([]string{}, command...), folder, "--format", f.Name)
				status, page, said := obey(append(args, "-o", file)...)
				if status == exitWrong && command[0] == "report" && f.Screen {
					status, page, said = obey(args...)
				}
				if status == exitWrong {
					if folder == example {
						t.Errorf("%q: %s", args, said)
					}
					continue // of a fresh notebook there is no such answer
				}
				if data, err := os.ReadFile(file); err == nil {
					page = string(data)
				}
				if f.Name == "xlsx" {
					page = unpacked(t, page)
				}
				if f.Bare {
					page += said
				}
				os.Remove(file)
				of := command[len(command)-1] == example || folder == example
				if says := strings.Contains(strings.ToLower(page), "invented"); says != of {
					t.Errorf("%q: that the machine is invented: %v, expected %v\n%.300s", args, says, of, page)
				}
				made[f.Name]++
			}
		}
	}
	for _, f := range answer.Formats {
		if made[f.Name] < 10 {
			t.Errorf("%s: %d answers", f.Name, made[f.Name])
		}
	}
	// Pictures, of which a reader sees the title, and each printed page of a report.
	sweep := []string{"sweep", "--over", "setting = 5 to 25 by 10 MPa", "--show", "force", "-o"}
	for _, folder := range []string{example, fresh} {
		file := filepath.Join(root, "picture.svg")
		if status, _, said := obey(append(sweep, file, folder)...); status == exitWrong {
			t.Fatal(said)
		}
		picture, _ := os.ReadFile(file)
		if says := bytes.Contains(picture, []byte("(an invented machine)")); says != (folder == example) {
			t.Errorf("the picture of %s says it is invented: %v", folder, says)
		}
		file = filepath.Join(root, "page.html")
		if status, _, said := obey("report", "-o", file, folder); status == exitWrong {
			t.Fatal(said)
		}
		page, _ := os.ReadFile(file)
		says := bytes.Contains(page, []byte(`@top-left { content: "An invented machine"`))
		if says != (folder == example) {
			t.Errorf("each printed page of %s says it is invented: %v", folder, says)
		}
	}
}

// unpacked is the text of all parts of a workbook.
func unpacked(t *testing.T, workbook string) string {
	t.Helper()
	archive, err := zip.NewReader(strings.NewReader(workbook), int64(len(workbook)))
	if err != nil {
		t.Fatal(err)
	}
	var all, header, sheets strings.Builder
	for _, part := range archive.File {
		r, err := part.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		all.Write(text)
		if strings.HasPrefix(part.Name, "xl/worksheets/") {
			sheets.WriteByte('.')
			if bytes.Contains(text, []byte("<oddHeader>&amp;L&amp;BAn invented machine")) {
				header.WriteByte('.')
			}
		}
	}
	if header.Len() > 0 && header.Len() != sheets.Len() {
		t.Errorf("%d of %d sheets say on paper that the machine is invented", header.Len(), sheets.Len())
	}
	return all.String()
}
