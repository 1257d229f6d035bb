package sheets

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"
)

// TestShelf: notebooks from a shelf are as they are read one by one, whatever they have
// in common: all bytes, the bytes of a sheet of another name, a sheet with a warning or
// a mistake, or nothing.
func TestShelf(t *testing.T) {
	const plate = "name,entry,unit\nforce,1000,kN\n"
	var folders []string
	for i, files := range []map[string]string{
		{"1-plate.csv": plate, "2-slip.csv": "name,entry,unit,nte\na,1,\n"},
		{"1-plate.csv": plate, "2-slip.csv": "name,entry,unit,nte\na,1,\n"},
		{"1-plate.csv": plate, "2-bad.csv": "name,entry,unit\na,\"1\"x,\n"},
		{"1-sign.csv": plate, "2-bad.csv": "name,entry,unit\na,\"1\"x,\n"},
		{"1-plate.csv": plate + "mass,2,kg\n"},
		{"1-plate.csv": plate, "3-twin.csv": plate},
	} {
		folder := filepath.Join(t.TempDir(), string(rune('a'+i)))
		if err := os.Mkdir(folder, 0o777); err != nil {
			t.Fatal(err)
		}
		for name, text := range files {
			if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o666); err != nil {
				t.Fatal(err)
			}
		}
		folders = append(folders, folder)
	}
	shelf := NewShelf()
	for range 3 {
		for _, folder := range folders {
			want, wrong := Open(folder)
			got, told := shelf.Open(folder)
			got.shelf = nil
			if !reflect.DeepEqual(want, got) || !reflect.DeepEqual(wrong, told) {
				t.Errorf("%s is another notebook from a shelf, with %v in place of %v", folder, told, wrong)
			}
		}
	}
	if len(shelf.met) != 4 {
		t.Errorf("%d different sheets have been met, want 4", len(shelf.met))
	}
}
