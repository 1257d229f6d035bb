package calc

import (
	"reflect"
	"testing"

	"rambook/sheets"
)

// TestForest compares each tree of the starters before it is packed with the one
// that is made of it anew.
func TestForest(t *testing.T) {
	for _, name := range sheets.StarterNames() {
		book, problems := sheets.Starter(name)
		model, more := Compile(book, Options{})
		if len(problems)+len(more) > 0 {
			t.Fatal(problems, more)
		}
		packed := 0
		for _, f := range model.formulas {
			if f.in == nil {
				continue
			}
			packed++
			first := f.tree()
			own := &formula{text: f.text}
			newForest().pack(own, first)
			if again := own.tree(); !reflect.DeepEqual(first, again) {
				t.Errorf("%s: %s is another tree", name, f.text)
			}
			parsed, fault := parseAnew(f.text)
			if fault != nil {
				t.Fatal(fault)
			}
			var want, got []span
			parsed.walk(func(n *node) { want = append(want, n.span()) })
			cycles := false // which take the place of aggregates
			first.walk(func(n *node) { got, cycles = append(got, n.span()), cycles || n.kind == cycleNode })
			if !cycles && !reflect.DeepEqual(want, got) {
				t.Errorf("%s: the parts of %s are at %v, parsed at %v", name, f.text, got, want)
			}
		}
		if packed == 0 && len(model.formulas) > 0 {
			t.Errorf("%s: no tree is packed", name)
		}
	}
}
