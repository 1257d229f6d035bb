package units

import (
	"fmt"
	"math/big"
	"os"
	"slices"
	"strings"
	"testing"
	"unicode"
)

// An exact is the value of a definition: a rational number times a power of
// pi, in base units.
type exact struct {
	value *big.Rat
	pi    int
	dim   Dimension
}

func (x exact) times(y exact, power int) exact {
	for range max(power, -power) {
		factor, pi, dim := new(big.Rat).Set(y.value), y.pi, y.dim
		if power < 0 {
			factor, pi, dim = factor.Inv(factor), -pi, Dimension{}
			dim, _ = dim.Div(y.dim)
		}
		product, err := x.dim.Mul(dim)
		if err != nil {
			panic(err)
		}
		x = exact{new(big.Rat).Mul(x.value, factor), x.pi + pi, product}
	}
	return x
}

// A definitionReader works out definitions such as "0.45359237 kg × 9.80665
// m/s² / (25.4 mm)²": from left to right, where two factors side by side are
// multiplied, and every unit in it by its own definition.
type definitionReader struct {
	rest  string
	depth int
}

func (d *definitionReader) product() exact {
	x := exact{value: big.NewRat(1, 1)}
	sign := 1
	for {
		d.rest = strings.TrimLeft(d.rest, " ")
		switch {
		case d.rest == "" || d.rest[0] == ')':
			return x
		case strings.HasPrefix(d.rest, "×"):
			d.rest = d.rest[len("×"):]
		case d.rest[0] == '/':
			d.rest, sign = d.rest[1:], -1
		default:
			f := d.factor()
			x = x.times(f, sign*d.power())
			sign = 1
		}
	}
}

func (d *definitionReader) factor() exact {
	switch r := []rune(d.rest)[0]; {
	case r == '(':
		d.rest = d.rest[1:]
		x := d.product()
		d.rest = strings.TrimPrefix(d.rest, ")")
		return x
	case r == 'π':
		d.rest = d.rest[len("π"):]
		return exact{value: big.NewRat(1, 1), pi: 1}
	case unicode.IsDigit(r):
		n := len(d.rest) - len(strings.TrimLeft(d.rest, "0123456789."))
		v, ok := new(big.Rat).SetString(d.rest[:n])
		if !ok {
			panic("number " + d.rest)
		}
		d.rest = d.rest[n:]
		return exact{value: v}
	}
	n := strings.IndexFunc(d.rest, func(r rune) bool { return !isSymbolPart(r) && r != '°' })
	if n < 0 {
		n = len(d.rest)
	}
	name := d.rest[:n]
	d.rest = d.rest[n:]
	return definitionOf(name, d.depth+1)
}

func (d *definitionReader) power() int {
	var digits strings.Builder
	for _, r := range d.rest {
		c := superscript(r)
		if c == 0 {
			break
		}
		digits.WriteByte(c)
		d.rest = strings.TrimPrefix(d.rest, string(r))
	}
	if digits.Len() == 0 {
		return 1
	}
	var n int
	if _, err := fmt.Sscanf(digits.String(), "%d", &n); err != nil {
		panic(err)
	}
	return n
}

// definitionOf works out what a symbol stands for from the definitions alone.
func definitionOf(name string, depth int) exact {
	s, ok := index()[name]
	if !ok || depth > 10 {
		panic("no definition of " + name)
	}
	if s.definition == baseUnit {
		for _, b := range baseSymbols {
			if b.symbol == name {
				x := exact{value: big.NewRat(1, 1)}
				x.dim[b.place] = one
				return x
			}
		}
		panic(name + " is no base unit")
	}
	d := &definitionReader{rest: s.definition, depth: depth}
	x := d.product()
	if d.rest != "" {
		panic("left over in the definition of " + name + ": " + d.rest)
	}
	return x
}

func TestFactorsAgreeWithDefinitions(t *testing.T) {
	for _, s := range symbols() {
		if s.kind != Ordinary {
			continue // their definitions are sentences; TestPoints has them
		}
		x := definitionOf(s.symbol, 0)
		if x.dim != s.dim {
			t.Errorf("%s: %q has the dimension %s, the table says %s", s.symbol, s.definition, x.dim, s.dim)
		}
		if x.pi*one != s.pi {
			t.Errorf("%s: %q has pi to the power %d, the table says %d/6", s.symbol, s.definition, x.pi, s.pi)
		}
		den := new(big.Rat).SetFloat64(s.term.den)
		num, _ := new(big.Rat).Mul(x.value, den).Float64()
		if num != s.term.num {
			t.Errorf("%s: %q gives %v/%v, the table says %v/%v", s.symbol, s.definition, num, s.term.den, s.term.num,
				s.term.den)
		}
	}
}

// The reader of definitions must be able to fail, or the test above is void.
func TestDefinitionReader(t *testing.T) {
	tests := []struct {
		definition string
		value      *big.Rat
		pi         int
		dim        Dimension
	}{
		{"12 × 25.4 mm", big.NewRat(381, 1250), 0, Length},
		{"1 N/m²", big.NewRat(1, 1), 0, Pressure},
		{"2 × π rad / 3", big.NewRat(2, 3), 1, Angle},
		{"(5/9) K", big.NewRat(5, 9), 0, Temperature},
		{"10⁻³ m", big.NewRat(1, 1000), 0, Length},
		{"8 / (2 cm)³", big.NewRat(1000000, 1), 0, Dimension{baseLength: -3 * one}},
	}
	for _, test := range tests {
		d := &definitionReader{rest: test.definition}
		x := d.product()
		if d.rest != "" || x.value.Cmp(test.value) != 0 || x.pi != test.pi || x.dim != test.dim {
			t.Errorf("%q = %s × π^%d %s, want %s × π^%d %s", test.definition, x.value, x.pi, x.dim, test.value, test.pi,
				test.dim)
		}
	}
}

func TestTableIsSound(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range symbols() {
		if seen[s.symbol] {
			t.Errorf("%s is listed twice", s.symbol)
		}
		seen[s.symbol] = true
		if s.row.name == "" || s.definition == "" || s.source == "" {
			t.Errorf("%s lacks a name, a definition or a source", s.symbol)
		}
		if _, ok := Ambiguous(s.symbol); ok {
			t.Errorf("%s is a unit and an ambiguous name", s.symbol)
		}
	}
	for _, a := range ambiguous {
		for _, c := range a.choices {
			if _, ok := Lookup(c); !ok {
				t.Errorf("%s: the choice %s is no unit", a.symbol, c)
			}
		}
	}
	if choices, ok := Ambiguous("psi"); ok {
		t.Errorf("psi is ambiguous: %v", choices)
	}
}

func TestLookup(t *testing.T) {
	for _, known := range []string{"m", "mm2", "mm3", "in2", "in3", "inch", "inch2", "ft3", "µm", "μm", "µm2", "thou2",
		"tonne", "rpm", "ppm", "Btu_IT", "mH2O"} {
		u, ok := Lookup(known)
		if !ok {
			t.Errorf("Lookup(%q) finds nothing", known)
		}
		if parsed, err := Parse(known); err != nil || parsed != u || u.Symbol != known {
			t.Errorf("Lookup(%q) = %v, Parse gives %v, %v", known, u, parsed, err)
		}
	}
	for _, unknown := range []string{"", "in", "%", "degC", "degF", "°C", "°", "date", "text", "ton", "s2", "kg3", "L2",
		"A1", "L1", "m4", "mm²", "N*m", " m"} {
		if u, ok := Lookup(unknown); ok {
			t.Errorf("Lookup(%q) = %v, want nothing", unknown, u)
		}
	}
}

func TestReserved(t *testing.T) {
	tests := []struct{ name, meaning string }{
		{"h", "the unit hour"},
		{"mm2", "the unit square millimetre"},
		{"in", "the unit inch"},
		{"degC", "the unit degree Celsius"},
		{"ton", "a trade name of several units, `tonne`, `uston`, `ukton`, `tonnef`, `ustonf` or `uktonf`"},
		{"pi", "the constant pi"},
		{"g_n", "the constant g_n"},
		{"A1", ""}, {"L1", ""}, {"p", ""}, {"date", ""}, {"text", ""}, {"force", ""}, {"gpm", ""}, {"%", ""},
	}
	for _, test := range tests {
		meaning, ok := Reserved(test.name)
		if meaning != test.meaning || ok != (test.meaning != "") {
			t.Errorf("Reserved(%q) = %q, %v; want %q", test.name, meaning, ok, test.meaning)
		}
	}
}

// A new reserved name breaks notebooks that use it for a quantity, so the
// list is kept in a file and every change of it is seen. UPDATE=1 writes it.
func TestReservedNamesGolden(t *testing.T) {
	names := ReservedNames()
	if len(slices.Compact(slices.Clone(names))) != len(names) {
		t.Errorf("a name is reserved twice: %q", names)
	}
	for _, name := range names {
		if _, ok := Reserved(name); !ok {
			t.Errorf("%s is listed but not reserved", name)
		}
		if !isWord(name) {
			t.Errorf("%s is no word", name)
		}
	}
	const file = "testdata/reserved.txt"
	got := strings.Join(names, "\n") + "\n"
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(file, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("the reserved names differ from %s; if that is meant, run: UPDATE=1 go test ./units", file)
	}
}

func TestSymbols(t *testing.T) {
	all := Symbols()
	for i, s := range all {
		if i > 0 {
			p := all[i-1]
			if p.Quantity > s.Quantity || p.Quantity == s.Quantity && p.Unit.DiffToSI(1) > s.Unit.DiffToSI(1) {
				t.Errorf("%s stands before %s", p.Name, s.Name)
			}
		}
		for _, name := range append(s.Also, s.Name) {
			if _, ok := index()[name]; !ok {
				t.Errorf("%s is no symbol", name)
			}
		}
		if _, ok := Lookup(s.Name); ok != s.InFormulas {
			t.Errorf("%s: InFormulas is %v", s.Name, s.InFormulas)
		}
	}
	i := slices.IndexFunc(all, func(s Symbol) bool { return s.Name == "psi" })
	psi := all[i]
	if psi.Quantity != "pressure" || psi.Meaning != "pound-force per square inch" ||
		psi.Source != "NIST SP 811 (2008), B.8" {
		t.Errorf("psi is %+v", psi)
	}
	i = slices.IndexFunc(all, func(s Symbol) bool { return s.Name == "t" })
	if !slices.Equal(all[i].Also, []string{"tonne"}) {
		t.Errorf("t is also written %q", all[i].Also)
	}
}

func BenchmarkIndex(b *testing.B) {
	for b.Loop() {
		buildIndex(buildSymbols())
	}
}

// TestDifference names the units in which differences are told.
func TestDifference(t *testing.T) {
	for _, test := range []struct{ unit, want string }{
		{"degC", "K"}, {"°C", "K"}, {"degF", "degR"}, {"date", "d"},
		{"K", "K"}, {"MPa", "MPa"}, {"%", "%"}, {"", ""}, {"text", "text"},
	} {
		u, err := Parse(test.unit)
		if err != nil {
			t.Fatal(err)
		}
		d := u.Difference()
		if d.Symbol != test.want || u.Kind != Date && d.DiffToSI(3) != u.DiffToSI(3) || u.Kind == Date &&
			d.ToSI(1) != Day {
			t.Errorf("differences in %q are told in %q, want %q", test.unit, d.Symbol, test.want)
		}
	}
}
