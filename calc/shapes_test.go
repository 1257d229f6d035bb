package calc

import (
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"rambook/sheets"
)

// TestShapes is FuzzShapes for texts that are put together of the pieces of formulas.
func TestShapes(t *testing.T) {
	pieces := strings.Fields(`a bore x e E i in not and or true nil let max sum duty materials pi MPa a1 _b 1
		2 0 10 007 1.5 0.25
		.5 1. 12.5 1e5 1.e- a.e+ 1e-3 1.5e+3 2E 1e 0x1f 1_0 9007199254740993 + - * / ^ ** ( ( ) ) , . .. [ ] ? :
		< <= == != ! && = "S1" ;`)
	g := rand.New(rand.NewPCG(1, 2))
	shapes.Lock()
	shapes.known = nil // other tests may have filled it
	shapes.Unlock()
	shaped := 0
	for range 30_000 {
		text := ""
		for range 1 + g.IntN(9) {
			text += pieces[g.IntN(len(pieces))] + []string{"", "", " "}[g.IntN(3)]
		}
		want, fault := parseAnew(text)
		got, other := parseFormula(text)
		if !reflect.DeepEqual(fault, other) || !reflect.DeepEqual(want, got) {
			t.Errorf("%q is parsed as another tree, with %v in place of %v", text, other, fault)
		}
		var m mould
		if m.take(text) && fault == nil {
			shaped++
		}
	}
	if shaped < 300 {
		t.Errorf("%d of the texts have a shape", shaped)
	}
}

// FuzzShapes holds the tree that is made of a formula's shape to the one that the
// parser makes of the formula itself.
func FuzzShapes(f *testing.F) {
	for _, text := range []string{
		"", "a", "b + c*2", "-(bore^2 - rod^2)*pi/4", "a<b<c", "not a and b or c", "in", "x in y", "let a = b; a*2",
		"max(a, b)", "max (a, b)", "duty.pressure", "duty . pressure", "sum(duty.pressure*duty.time)",
		`materials["S235"].strength`, "materials[grade].strength", "materials [ grade ] . strength", "a ? b : c",
		"a ?: b", "a ?? b", "a?.b", "1e5*a", "1.e5", "1.a", ".5*a", "24MPa", "a b", "a..b", "a**b", "a//b", "a/*b",
		"a[1:b]", "[a, b]", "true", "nil == a", "a matches b", "startsWith", "if a", "else", "a && !b", "a & b",
		"_a + a_", "0x1f*a", "1_000", "a(b)(c)", "all(a, b)", "map", "map(a, b)", "filter(a, x)", "count", "len(a)",
		"get(a, b)", "now()", "a.b.c", "()", "a , b", "1.5*a - 0.25", "007", "0.5", "00.5", "1.", "1..5", "1.5.2",
		"1.5e3", "1e300*1e-300", "1.5e-3 + 2", ".5e-3", "x.e-5", "A.e+1e+0", "1.e-3*a", "2E+3", "0x1e-5", "1e-x",
		"1.a", "2^10", "9007199254740993",
		"123456789012345", "0", "x[1].y", "x[12.5].y", "a1.5", "1 2", "a , b", "a = b", "!a", "not in", "a not in b",
		"a\tb", "a−b", "$env",
		"#", "a | abs(b)", `grade == "S235" ? a : b`, `"a" == b`, `"a`, `a"`, `"" == a`, `"a\"b" == c`, `"ä" == a`,
		`'a' == b`, `"a" "b"`, `" a " == b`, `a + "x" + b`, "`a` == b",
	} {
		f.Add(text)
	}
	for _, name := range sheets.StarterNames() {
		book, _ := sheets.Starter(name)
		for _, s := range book.Sheets {
			for _, row := range s.Rows {
				f.Add(row.Entry.Text)
			}
		}
	}
	f.Fuzz(func(t *testing.T, text string) {
		want, fault := parseAnew(text)
		for range 2 { // as of a new shape, and of one that is known
			got, other := parseFormula(text)
			if !reflect.DeepEqual(fault, other) || !reflect.DeepEqual(want, got) {
				t.Fatalf("%q is parsed as another tree, with %v in place of %v", text, other, fault)
			}
		}
		if known, _ := parse(text); known.shaped && fault != nil {
			t.Fatalf("%q has a shape that is known, and %v", text, fault)
		}
	})
}

// TestParsedAgain compiles notebooks that share the texts of formulas and not what
// the names in them mean: a tree that is kept must be nobody's.
func TestParsedAgain(t *testing.T) {
	for _, test := range []struct {
		givens string
		want   float64
	}{
		{"name,entry,unit\nsize,2,mm\nother,3,mm\n", 36},
		{"name,entry,unit\nsize,5,mm\nother,7,mm\nmore,1,mm\n", 210},
		{"name,entry,unit\nmore,1,mm\nother,1,cm\nsize,4,mm\n", 240},
		{"name,entry,unit\nsize,2,mm\nother,3,mm\n", 36},
	} {
		m := compiled(t, "a.csv", test.givens, "x.csv", "name,entry,unit\n"+
			"x,\"let s = size; max(s*other, 0*mm^2)*6\",mm^2\nagain,\"let s = size; max(s*other, 0*mm^2)*6\",mm^2\n")
		r, problems := m.Check(CheckOptions{})
		if len(problems) > 0 {
			t.Fatal(told(problems))
		}
		for _, name := range []string{"x", "again"} {
			if got := r.Of(name).Value; got < test.want-1e-9 || got > test.want+1e-9 {
				t.Errorf("%s is %g, expected %g", name, got, test.want)
			}
		}
	}
}
