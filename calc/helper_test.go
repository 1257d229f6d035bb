package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"rambook/sheets"
)

// files makes a notebook of sheets written as text: alternating file names
// and contents.
func files(t testing.TB, parts ...string) *sheets.Notebook {
	t.Helper()
	book := &sheets.Notebook{Path: "test"}
	for i := 0; i < len(parts); i += 2 {
		s, problems := sheets.Read(parts[i], []byte(parts[i+1]))
		for _, p := range problems {
			t.Fatalf("%s: %v", parts[i], p)
		}
		book.Sheets = append(book.Sheets, s)
	}
	return book
}

// compiled compiles a notebook that has to be sound.
func compiled(t testing.TB, parts ...string) *Model {
	t.Helper()
	m, problems := Compile(files(t, parts...), Options{})
	if m == nil {
		t.Fatal(told(problems))
	}
	return m
}

// checked runs a notebook that has to be sound.
func checked(t testing.TB, parts ...string) *Report {
	t.Helper()
	r, problems := compiled(t, parts...).Check(CheckOptions{})
	if r == nil {
		t.Fatal(told(problems))
	}
	return r
}

// find gives what a report says of a quantity.
func (r *Report) find(t testing.TB, name string) *Judged {
	t.Helper()
	for i := range r.Quantities {
		if r.Quantities[i].Quantity.Name == name {
			return &r.Quantities[i]
		}
	}
	t.Fatalf("no quantity is named %s", name)
	return nil
}

func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance*math.Abs(want) }

// told writes problems as a test shows them.
func told(problems []sheets.Problem) string {
	var b strings.Builder
	for _, p := range problems {
		fmt.Fprintf(&b, "%v\n", p)
	}
	return b.String()
}
