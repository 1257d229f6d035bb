package main

import (
	"go/parser"
	"go/token"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestDrawing holds the packages and their imports to the map and the drawing in
// DEVELOPERS.md: each stands in both, and imports only what is drawn below it.
func TestDrawing(t *testing.T) {
	root := filepath.Join("..", "..")
	text, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, drawing, _ := strings.Cut(string(text), "\n```\ncmd/rambook ")
	drawing, _, _ = strings.Cut("cmd/rambook "+drawing, "\n```")
	line, without := map[string]int{}, map[string]string{}
	names := regexp.MustCompile(`^ *([a-z/]+(?:, [a-z/]+)*)`)
	for i, text := range strings.Split(drawing, "\n") {
		names := names.FindStringSubmatch(text)
		if names == nil {
			t.Fatalf("no package stands in %q", text)
		}
		for _, name := range strings.Split(names[1], ", ") {
			line[name] = i
			_, without[name], _ = strings.Cut(text, "nothing of ")
		}
	}
	imports := importsOf(t, root)
	for _, name := range slices.Sorted(maps.Keys(imports)) {
		at, drawn := line[name]
		if !drawn || !strings.Contains(string(text), "\n| `"+name+"` | ") {
			t.Errorf("%s is missing in the drawing or the table of DEVELOPERS.md", name)
			continue
		}
		for _, other := range imports[name] {
			if line[other] <= at {
				t.Errorf("%s imports %s, which is not drawn below it", name, other)
			}
			nothing := without[name]
			if nothing == "ours" || nothing != "" && strings.HasPrefix(other+"/", nothing+"/") {
				t.Errorf("%s imports %s, and is to have nothing of %s", name, other, nothing)
			}
		}
	}
	for name := range line {
		if imports[name] == nil {
			t.Errorf("%s is drawn, and there is no such package", name)
		}
	}
}

// importsOf lists what each package of ours imports of ours, tests apart.
func importsOf(t *testing.T, root string) map[string][]string {
	t.Helper()
	imports := map[string][]string{}
	for _, top := range []string{"cmd", "calc", "sheets", "units"} {
		err := filepath.WalkDir(filepath.Join(root, top), func(path string, entry os.DirEntry, err error) error {
			if err != nil || entry.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			folder, err := filepath.Rel(root, filepath.Dir(path))
			if err != nil {
				return err
			}
			name := filepath.ToSlash(folder)
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
			if err != nil {
				return err
			}
			imports[name] = append(imports[name], "")
			for _, one := range file.Imports {
				if other, ours := strings.CutPrefix(strings.Trim(one.Path.Value, `"`), "rambook/"); ours {
					imports[name] = append(imports[name], other)
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for name, list := range imports {
		slices.Sort(list)
		imports[name] = slices.Compact(list)[1:] // behind the blank one
	}
	return imports
}
