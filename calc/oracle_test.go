package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/expr-lang/expr"

	"rambook/calc/function"
	"rambook/sheets"
	"rambook/units"
)

// generator writes random expressions that are right in their dimensions.
type generator struct {
	*rand.Rand
	smooth bool // no steps and corners, for derivatives
}

// variables are the givens that random expressions use, with their SI values.
var variables = []struct {
	name, unit string
	dim        units.Dimension
	value      float64
}{
	{"p1", "Pa", units.Pressure, 1.7}, {"p2", "Pa", units.Pressure, 0.6},
	{"l1", "m", units.Length, 2.3}, {"l2", "m", units.Length, 0.8},
	{"t1", "s", units.Time, 1.9}, {"n1", "", units.Plain, 1.3}, {"n2", "", units.Plain, 0.7},
}

func pick[T any](g generator, list ...T) T { return list[g.IntN(len(list))] }

// number writes an expression of the given dimension.
func (g generator) number(d units.Dimension, depth int) string {
	if depth <= 0 {
		return g.leaf(d)
	}
	a := func(d units.Dimension) string { return g.number(d, depth-1-g.IntN(2)) }
	choices := 9
	if g.smooth {
		choices = 7
	}
	switch g.IntN(choices) {
	case 0:
		return "(" + a(d) + " + " + a(d) + ")"
	case 1:
		return "(" + a(d) + " - " + a(d) + ")"
	case 2:
		return a(d) + "*" + a(units.Plain)
	case 3:
		return a(d) + "/(1.5 + (" + a(units.Plain) + ")^2)"
	case 4:
		other := pick(g, units.Length, units.Time, units.Pressure)
		product, err := d.Mul(other)
		if err != nil {
			return g.leaf(d)
		}
		return "(" + a(product) + ")/(" + g.leaf(other) + ")"
	case 5:
		if d == units.Plain {
			return pick(g, "sin(rad*("+a(d)+"))", "exp(-("+a(d)+")^2)", "sqrt(1 + ("+a(d)+")^2)", "atan("+a(d)+")/rad",
				"ln(2 + ("+a(d)+")^2)")
		}
		return "-" + a(d)
	case 6:
		return "(let q = " + a(d) + "; q + " + g.leaf(units.Plain) + "*q)"
	case 7:
		return pick(g, "min", "max") + "(" + a(d) + ", " + a(d) + ")"
	}
	other := pick(g, units.Length, units.Time, units.Plain)
	return "((" + a(other) + pick(g, " < ", " <= ", " > ", " >= ") + a(other) + ") ? (" + a(d) + ") : (" + a(d) + "))"
}

// leaf writes a variable, a number with a unit or a product that has the dimension.
func (g generator) leaf(d units.Dimension) string {
	var fit []string
	for _, v := range variables {
		if v.dim == d {
			fit = append(fit, v.name)
		}
	}
	if len(fit) > 0 && g.IntN(3) > 0 {
		return pick(g, fit...)
	}
	text := fmt.Sprintf("%.3g", 0.2+2*g.Float64())
	for i, base := range []string{"m", "kg", "s", "A", "K", "mol", "cd", "rad"} {
		if d[i] != 0 {
			text += fmt.Sprintf("*%s^(%d/6)", base, d[i])
		}
	}
	return text
}

// oracleText rewrites our tree for the oracle, which knows no units and no `let`
// inside brackets.
func oracleText(n *node, largest *[]string) string {
	switch n.kind {
	case numberNode:
		return fmt.Sprintf("%.17g", n.number) + floatMark(n.number)
	case boundNode:
		return oracleText(n.let.args[0], largest)
	case quantityNode:
		return n.name
	case symbolNode: // a unit; in SI each of those used is 1
		return "1.0"
	case unaryNode:
		return "(" + n.name + " " + oracleText(n.args[0], largest) + ")"
	case binaryNode:
		s := "(" + oracleText(n.args[0], largest) + " " + n.name + " " + oracleText(n.args[1], largest) + ")"
		if strings.Contains("+-*/^", n.name) {
			*largest = append(*largest, s)
		}
		return s
	case choiceNode:
		return "(" + oracleText(n.args[0], largest) + " ? " + oracleText(n.args[1], largest) + " : " +
			oracleText(n.args[2], largest) + ")"
	case letNode:
		return oracleText(n.args[1], largest)
	case callNode:
		var args []string
		for _, a := range n.args {
			args = append(args, oracleText(a, largest))
		}
		return n.name + "(" + strings.Join(args, ", ") + ")"
	}
	panic("no such node in a random expression")
}

func floatMark(v float64) string {
	if v == math.Trunc(v) && math.Abs(v) < 1e15 {
		return ".0"
	}
	return ""
}

// TestOracle compares the tape with the parser's own virtual machine on
// 10,000 random expressions that are right in their dimensions. In SI units
// every unit symbol used is 1, so both must give the same number, to 1e-12 of
// the largest intermediate value.
func TestOracle(t *testing.T) {
	g := generator{rand.New(rand.NewPCG(1, 2)), false}
	env := map[string]any{}
	rows := "name,entry,unit\n"
	for _, v := range variables {
		env[v.name] = v.value
		rows += fmt.Sprintf("%s,%v,%s\n", v.name, v.value, v.unit)
	}
	options := []expr.Option{expr.Env(env)}
	for _, name := range []string{"sin", "exp", "sqrt", "atan", "ln"} {
		f := function.Named(name).Unary
		options = append(options, expr.Function(name, func(x ...any) (any, error) { return f(x[0].(float64)), nil },
			new(func(float64) float64)))
	}
	const count = 10_000
	var sheet strings.Builder
	sheet.WriteString("name,entry,unit\n")
	texts := make([]string, count)
	for i := range texts {
		d := pick(g, variables...)
		texts[i] = g.number(d.dim, 4)
		fmt.Fprintf(&sheet, "e%d,\"=%s\",%s\n", i, texts[i], d.unit)
	}
	m := compiled(t, "v.csv", rows, "e.csv", sheet.String())
	r, problems := m.Check(CheckOptions{})
	if r == nil {
		t.Fatal(told(problems))
	}
	for i, text := range texts {
		q := m.Quantity(fmt.Sprintf("e%d", i))
		var parts []string
		full := oracleText(q.entry.formula.tree(), &parts)
		program, err := expr.Compile(full, options...)
		if err != nil {
			t.Fatalf("%s: %v", text, err)
		}
		out, err := expr.Run(program, env)
		if err != nil {
			t.Fatalf("%s: %v", text, err)
		}
		want, got := out.(float64), r.Quantities[q.index].Value
		if math.Abs(got-want) <= 1e-12*math.Abs(want) {
			continue
		}
		size := math.Abs(want)
		for _, part := range parts {
			if p, err := expr.Eval(part, env); err == nil {
				if v, ok := p.(float64); ok {
					size = math.Max(size, math.Abs(v))
				}
			}
		}
		if math.Abs(got-want) > 1e-12*size {
			t.Errorf("%s: the tape gives %v, the oracle %v", text, got, want)
		}
	}
}

// FuzzFormula checks that no text takes the parser, the checker or the tape
// down, and that what is accepted gives a number, an open value or an error,
// with a derivation unless it is an error.
func FuzzFormula(f *testing.F) {
	for _, s := range []string{"7/2", "20*MPa", "setting*area", "let p = 2*setting; p*area",
		`mode == "gravity" ? 1 : 2`,
		"interp(curve.pressure, curve.flow, 15*MPa)", "materials[grade].strength", "5//2", "a=b", "1e400", "((((",
		"1 < ratio < 3 ? 1 : 0",
		"max(curve.flow)", "x", "−3", "mm²", "::min(1)", "b'x'", "not true", "1..3", "#", ".x", "t_oil + rise", "today",
		"nothing", "0/0", "ratio/(ratio - ratio)",
		"1 < (1 < (1 < (1 < (1 < ratio < 2) < 2) < 2) < 2) < 2 ? 1 : 0"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, expression string) {
		if strings.ContainsAny(expression, "\x00\r\n") {
			return
		}
		cell := `"=` + strings.ReplaceAll(expression, `"`, `""`) + `"`
		var book sheets.Notebook
		for _, part := range [][2]string{{"base.csv", base}, {"curve.csv", curves}, {"materials.csv", materials},
			{"x.csv", "name,entry,unit\nx," + cell + ",\n"}} {
			s, problems := sheets.Read(part[0], []byte(part[1]))
			if s == nil || len(problems) > 0 {
				return
			}
			book.Sheets = append(book.Sheets, s)
		}
		m, problems := Compile(&book, Options{})
		if m == nil {
			if len(problems) == 0 {
				t.Fatal("refused without a problem")
			}
			for _, p := range problems {
				if n := len([]rune(p.Text)); p.From < 0 || p.To < p.From || p.To > n {
					t.Fatalf("span %d to %d of %q", p.From, p.To, p.Text)
				}
			}
			return
		}
		r, problems := m.Check(CheckOptions{})
		if r == nil {
			if len(problems) == 0 {
				t.Fatal("failed without a problem")
			}
			return
		}
		j := r.find(t, "x")
		if !Has(j.Value) && len(j.Needs) == 0 && j.Error == "" {
			t.Fatalf("no value, and nothing is open or wrong: %+v", j)
		}
		d, problems := m.Explain("x", func(v float64, u units.Unit, _ bool) string { return fmt.Sprint(v, u.Symbol) })
		switch {
		case j.Error != "":
			if d != nil || len(problems) == 0 {
				t.Fatalf("a derivation of what is an error: %+v", j)
			}
		case d == nil || d.Steps[0].Filled == "":
			t.Fatalf("no derivation: %s", told(problems))
		}
	})
}
