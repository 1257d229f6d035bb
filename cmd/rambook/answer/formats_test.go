package answer

import (
	"path/filepath"
	"testing"
)

func TestOfEnding(t *testing.T) {
	for file, want := range map[string]string{
		"": "table", "a": "table", "a.txt": "table", "a.md": "md", "a.CSV": "csv", "a.json": "json", "a.htm": "html",
		"a.b.html": "html",
	} {
		if got := OfEnding(filepath.Ext(file)); got == nil || got.Name != want {
			t.Errorf("%q is written as %v, want %q", file, got, want)
		}
	}
	if got := OfEnding(".xyz"); got != nil {
		t.Errorf("an unknown ending is %s", got.Name)
	}
}
