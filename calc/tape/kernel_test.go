package tape

import (
	"fmt"
	"math"
	"slices"
	"testing"
)

var infinite = math.Inf(1)

// anyNaN is the expected result where an operation yields a NaN of its own:
// it is as good as Failed, and must not be taken for Missing.
var anyNaN = math.NaN()

// oneOfThem is the expected result where a sum or a product carries on one of
// its operands: which, is up to the compiler.
var oneOfThem = math.Float64frombits(0x7FF8_0000_0000_0E17)

// same reports whether a result is what was expected, bit for bit where it is
// Missing or Failed.
func same(got, want float64) bool {
	switch {
	case math.Float64bits(want) == math.Float64bits(oneOfThem):
		return same(got, Missing) || same(got, Failed)
	case math.Float64bits(want) == math.Float64bits(anyNaN):
		return got != got && !IsMissing(got)
	case want != want:
		return math.Float64bits(got) == math.Float64bits(want)
	}
	return got == want
}

// shown writes a value so that the two that are no numbers can be told apart.
func shown(x float64) string {
	switch math.Float64bits(x) {
	case math.Float64bits(Missing):
		return "missing"
	case math.Float64bits(Failed):
		return "failed"
	}
	return fmt.Sprint(x)
}

// Functions of the tests, with their derivatives.
var (
	constant7 = &Callee{Name: "seven", Unary: func(float64) float64 { return 7 },
		Slope: func(x, y float64) float64 { return 0 }}
	// moment is x·y² + z.
	moment = &Callee{Name: "moment",
		Eval:   func(x []float64) float64 { return x[0]*x[1]*x[1] + x[2] },
		Slopes: func(x []float64, _ float64, d []float64) { d[0], d[1], d[2] = x[1]*x[1], 2*x[0]*x[1], 1 }}
	quotient = &Callee{Name: "quotient",
		Eval:   func(x []float64) float64 { return x[0] / x[1] },
		Slopes: func(x []float64, y float64, d []float64) { d[0], d[1] = 1/x[1], -y/x[1] }}
)

// column is what a look-up of the tests reads: of the texts 0 to 3 the third
// has no row, and the row of the last is blank.
var column = &Details{Rows: []int32{1, 0, -1, 2}, Cells: []float64{10, 20, Missing}}

// builders make every operation that a tape can have, by the name that the
// tables use. An operation takes as many of the operands as it needs.
var builders = []struct {
	name     string
	operands int
	build    func(t *Tape, x []Register) Register
}{
	{"+", 2, func(t *Tape, x []Register) Register { return t.Binary(OpAdd, x[0], x[1]) }},
	{"-", 2, func(t *Tape, x []Register) Register { return t.Binary(OpSub, x[0], x[1]) }},
	{"*", 2, func(t *Tape, x []Register) Register { return t.Mul(x[0], x[1]) }},
	{"/", 2, func(t *Tape, x []Register) Register { return t.Binary(OpDiv, x[0], x[1]) }},
	{"negative", 1, func(t *Tape, x []Register) Register { return t.One(OpNeg, x[0]) }},
	{"^1", 1, func(t *Tape, x []Register) Register { return t.Power(x[0], 1) }},
	{"^2", 1, func(t *Tape, x []Register) Register { return t.Power(x[0], 2) }},
	{"^3", 1, func(t *Tape, x []Register) Register { return t.Power(x[0], 3) }},
	{"^-1", 1, func(t *Tape, x []Register) Register { return t.Power(x[0], -1) }},
	{"^0.5", 1, func(t *Tape, x []Register) Register { return t.Power(x[0], 0.5) }},
	{"^2.5", 1, func(t *Tape, x []Register) Register { return t.Power(x[0], 2.5) }},
	{"^-2", 1, func(t *Tape, x []Register) Register { return t.Power(x[0], -2) }},
	{"^0", 1, func(t *Tape, x []Register) Register { return t.Power(x[0], 0) }},
	{"^", 2, func(t *Tape, x []Register) Register { return t.Binary(OpPow, x[0], x[1]) }},
	{"min", 2, func(t *Tape, x []Register) Register { return t.Binary(OpMin, x[0], x[1]) }},
	{"max", 2, func(t *Tape, x []Register) Register { return t.Binary(OpMax, x[0], x[1]) }},
	{"<", 2, func(t *Tape, x []Register) Register { return t.Binary(OpLess, x[0], x[1]) }},
	{"<=", 2, func(t *Tape, x []Register) Register { return t.Binary(OpLessEq, x[0], x[1]) }},
	{"==", 2, func(t *Tape, x []Register) Register { return t.Binary(OpEqual, x[0], x[1]) }},
	{"!=", 2, func(t *Tape, x []Register) Register { return t.Binary(OpUnequal, x[0], x[1]) }},
	{"alike", 2, func(t *Tape, x []Register) Register { return t.Binary(OpAlike, x[0], x[1]) }},
	{"and", 2, func(t *Tape, x []Register) Register { return t.Binary(OpAnd, x[0], x[1]) }},
	{"or", 2, func(t *Tape, x []Register) Register { return t.Binary(OpOr, x[0], x[1]) }},
	{"not", 1, func(t *Tape, x []Register) Register { return t.One(OpNot, x[0]) }},
	{"?:", 3, func(t *Tape, x []Register) Register { return t.Choose(x[0], x[1], x[2]) }},
	{"abs", 1, func(t *Tape, x []Register) Register { return t.Unary(Absolute, x[0]) }},
	{"sqrt", 1, func(t *Tape, x []Register) Register { return t.Unary(SquareRoot, x[0]) }},
	{"ln", 1, func(t *Tape, x []Register) Register { return t.Unary(NaturalLog, x[0]) }},
	{"seven", 1, func(t *Tape, x []Register) Register { return t.Unary(constant7, x[0]) }},
	{"moment", 3, func(t *Tape, x []Register) Register { return t.Call(moment, slices.Clone(x[:3])) }},
	{"quotient", 2, func(t *Tape, x []Register) Register { return t.Call(quotient, slices.Clone(x[:2])) }},
	{"look up", 1, func(t *Tape, x []Register) Register {
		return t.LookUp(column, x[0])
	}},
	{"norm of 1", 1, func(t *Tape, x []Register) Register { return t.Norm(slices.Clone(x[:1])) }},
	{"norm of 3", 3, func(t *Tape, x []Register) Register { return t.Norm(slices.Clone(x[:3])) }},
	{"a*b + c*a", 3, func(t *Tape, x []Register) Register {
		return t.Add(Op{Code: opMulAdd}, x[0], x[1], x[2], x[0])
	}},
	{"slope of sqrt", 2, func(t *Tape, x []Register) Register {
		return t.detailed(opSlope, &Details{Fn: SquareRoot}, x[0], x[1])
	}},
	{"moment by y", 3, func(t *Tape, x []Register) Register {
		return t.detailed(opPartial, &Details{Fn: moment, Args: slices.Clone(x[:3]), index: 1})
	}},
}

// kernelTests give operands, and the result behind them.
var kernelTests = []struct {
	name  string
	cases [][]float64
}{
	{"+", [][]float64{{1, 2, 3}, {-1, 1, 0}, {Missing, 1, Missing}, {1, Missing, Missing}, {Failed, 1, Failed},
		{1, Failed, Failed},
		{Missing, Failed, oneOfThem}, {Failed, Missing, oneOfThem}, {Missing, Missing, Missing},
		{infinite, 1, infinite}, {infinite, -infinite, anyNaN},
		{math.MaxFloat64, math.MaxFloat64, infinite}}},
	{"-", [][]float64{{1, 2, -1}, {2, 1, 1}, {Missing, 1, Missing}, {1, Missing, Missing}, {Failed, Missing, Failed},
		{Missing, Failed, Missing},
		{infinite, infinite, anyNaN}, {1, infinite, -infinite}}},
	{"*", [][]float64{{3, -2, -6}, {1, 5, 5}, {5, 1, 5}, {0, infinite, anyNaN}, {0, Missing, Missing},
		{Missing, 0, Missing}, {0, Failed, Failed},
		{Failed, Missing, oneOfThem}, {1e200, 1e200, infinite}, {1e-200, 1e-200, 0}}},
	{"/", [][]float64{{1, 4, 0.25}, {4, 1, 4}, {0, 3, 0}, {1, 0, Failed}, {1, math.Copysign(0, -1), Failed},
		{0, 0, Failed}, {1, infinite, Failed}, {1, -infinite, Failed},
		{infinite, 2, infinite}, {infinite, infinite, Failed}, {Missing, 0, Missing}, {Failed, 0, Failed},
		{1, Missing, Missing},
		{1, Failed, Failed}, {Missing, Failed, Missing}, {Failed, Missing, Failed}, {1e300, 1e-300, infinite}}},
	{"negative", [][]float64{{2, -2}, {-2, 2}, {0, 0}, {infinite, -infinite}, {Missing, Missing}, {Failed, Failed}}},
	{"^1", [][]float64{{-3, -3}, {Missing, Missing}}},
	{"^2", [][]float64{{3, 9}, {-3, 9}, {Missing, Missing}, {Failed, Failed}, {1e200, infinite}}},
	{"^3", [][]float64{{2, 8}, {-2, -8}, {0, 0}, {Missing, Missing}, {Failed, Failed}, {1e200, infinite}}},
	{"^-1", [][]float64{{4, 0.25}, {0, Failed}, {infinite, Failed}, {Missing, Missing}}},
	{"^0.5", [][]float64{{9, 3}, {0, 0}, {-1, anyNaN}, {Missing, Missing}, {Failed, Failed}}},
	{"^2.5", [][]float64{{4, 32}, {0, 0}, {-1, Failed}, {1e200, Failed}, {infinite, Failed}, {Missing, Missing},
		{Failed, Failed}}},
	{"^-2", [][]float64{{2, 0.25}, {-2, 0.25}, {0, Failed}, {infinite, Failed}}},
	{"^0", [][]float64{{2, 1}, {0, 1}, {infinite, Failed}, {Missing, Missing}, {Failed, Failed}}},
	{"^", [][]float64{{2, 3, 8}, {-2, 3, -8}, {4, -0.5, 0.5}, {-8, 1. / 3, Failed}, {0, -1, Failed}, {0, 0, 1},
		{2, 1e6, Failed}, {1, infinite, Failed},
		{infinite, 0, Failed}, {Missing, 0, Missing}, {0, Missing, Missing}, {1, Failed, Failed},
		{Failed, Missing, Failed}, {Missing, Failed, Missing}}},
	{"min", [][]float64{{1, 2, 1}, {2, 1, 1}, {-1, -1, -1}, {Missing, 1, Missing}, {1, Missing, Missing},
		{Failed, Missing, Failed}, {Missing, Failed, Missing},
		{infinite, 1, Failed}, {1, -infinite, Failed}, {infinite, Missing, Missing}}},
	{"max", [][]float64{{1, 2, 2}, {2, 1, 2}, {-1, -1, -1}, {Missing, 1, Missing}, {1, Missing, Missing},
		{Failed, Missing, Failed}, {Missing, Failed, Missing},
		{-infinite, 1, Failed}, {1, infinite, Failed}, {infinite, Missing, Missing}}},
	{"<", [][]float64{{1, 2, 1}, {2, 1, 0}, {1, 1, 0}, {Missing, 1, Missing}, {1, Failed, Failed},
		{1, infinite, Failed}, {-infinite, 1, Failed}}},
	{"<=", [][]float64{{1, 2, 1}, {2, 1, 0}, {1, 1, 1}, {1, Missing, Missing}, {Failed, Missing, Failed},
		{1, infinite, Failed}}},
	{"==", [][]float64{{1, 1, 1}, {1, 2, 0}, {0, math.Copysign(0, -1), 1}, {Missing, Missing, Missing},
		{Failed, 1, Failed}, {infinite, infinite, Failed}}},
	{"!=", [][]float64{{1, 1, 0}, {1, 2, 1}, {Missing, 1, Missing}, {1, Missing, Missing},
		{infinite, infinite, Failed}}},
	{"alike", [][]float64{{1, 1, 1}, {1, 2, 0}, {Missing, 1, 0}, {1, Failed, 0}, {Missing, Missing, 0}}},
	{"and", [][]float64{{1, 1, 1}, {1, 0, 0}, {0, 1, 0}, {0, 0, 0}, {0, Missing, 0}, {Missing, 0, 0}, {0, Failed, 0},
		{Failed, 0, 0},
		{1, Missing, Missing}, {Missing, 1, Missing}, {1, Failed, Failed}, {Missing, Missing, Missing},
		{Missing, Failed, Missing}, {Failed, Missing, Failed}}},
	{"or", [][]float64{{1, 1, 1}, {1, 0, 1}, {0, 1, 1}, {0, 0, 0}, {1, Missing, 1}, {Missing, 1, 1}, {1, Failed, 1},
		{Failed, 1, 1},
		{0, Missing, Missing}, {Missing, 0, Missing}, {Failed, 0, Failed}, {Missing, Missing, Missing},
		{Missing, Failed, Missing}, {Failed, Missing, Failed}}},
	{"not", [][]float64{{1, 0}, {0, 1}, {Missing, Missing}, {Failed, Failed}}},
	{"?:", [][]float64{{1, 2, 3, 2}, {0, 2, 3, 3}, {1, 2, Missing, 2}, {1, 2, Failed, 2}, {0, Missing, 3, 3},
		{0, Failed, 3, 3}, {1, Missing, 3, Missing},
		{0, 2, Failed, Failed}, {Missing, 2, 3, Missing}, {Failed, 2, 3, Failed}, {Missing, 2, 2, Missing}}},
	{"abs", [][]float64{{-2, 2}, {2, 2}, {0, 0}, {Missing, Missing}, {Failed, Failed}}},
	{"sqrt", [][]float64{{4, 2}, {0, 0}, {-4, anyNaN}, {Missing, Missing}, {Failed, Failed}}},
	{"ln", [][]float64{{1, 0}, {math.E, 1}, {0, Failed}, {-1, anyNaN}, {infinite, Failed}, {Missing, Missing},
		{Failed, Failed}}},
	{"seven", [][]float64{{1, 7}, {Missing, Missing}, {Failed, Failed}}},
	{"moment", [][]float64{{2, 3, 4, 22}, {Missing, 3, 4, Missing}, {2, Missing, Failed, Missing},
		{2, Failed, Missing, Failed}, {2, 3, infinite, Failed},
		{1e200, 1e200, 0, Failed}}},
	{"quotient", [][]float64{{1, 4, 0.25}, {1, 0, Failed}, {0, 0, anyNaN}, {0, infinite, Failed}, {Failed, 1, Failed}}},
	{"look up", [][]float64{{0, 20}, {1, 10}, {2, Failed}, {3, Missing}, {4, Failed}, {Missing, Missing},
		{Failed, Failed}}},
	{"norm of 1", [][]float64{{-3, 3}, {Missing, Missing}, {Failed, Failed}}},
	{"norm of 3", [][]float64{{2, 3, 6, 7}, {-2, 3, -6, 7}, {0, 0, 0, 0}, {Missing, 3, 6, Missing},
		{2, 3, Failed, Failed}}},
	{"a*b + c*a", [][]float64{{2, 3, 4, 14}, {Missing, 3, 4, Missing}, {2, 3, Failed, Failed}}},
	{"slope of sqrt", [][]float64{{4, 2, 0.25}, {4, Missing, Missing}}},
	{"moment by y", [][]float64{{2, 3, 4, 12}, {Missing, 3, 4, Missing}, {2, 3, infinite, Failed}}},
}

// TestKernels runs every operation on the operands of its table: for one case,
// with the operands put in the place of others, on all cases of the table as a
// block, and folded on the spot where the operands are constants.
func TestKernels(t *testing.T) {
	var met [opNorm + 1]bool
	for k, test := range kernelTests {
		op := builders[k]
		if op.name != test.name {
			t.Fatalf("table %d is of %q, but the operation is %q", k, test.name, op.name)
		}
		changed := New()
		var inputs []Register
		for range op.operands {
			inputs = append(inputs, changed.Input(1))
		}
		result := op.build(changed, inputs)
		for _, o := range changed.Ops {
			met[o.Code] = true
		}
		var block [][]float64
		for _, c := range test.cases {
			if len(c) != op.operands+1 {
				t.Fatalf("%s takes %d operands, the table gives %v", test.name, op.operands, c)
			}
			x, want := c[:op.operands], c[op.operands]
			set := map[Register]float64{}
			for i, r := range inputs {
				set[r] = x[i]
			}
			if got := runOne(op.build, x); !same(got, want) {
				t.Errorf("%s of %s is %s, want %s", test.name, all(x), shown(got), shown(want))
			}
			if got := changed.Once(set)[result]; !same(got, want) {
				t.Errorf("%s of %s is %s when put in place of others, want %s", test.name, all(x), shown(got),
					shown(want))
			}
			folded := New()
			var constants []Register
			for _, v := range x {
				constants = append(constants, folded.Constant(v))
			}
			r := op.build(folded, constants)
			if got := folded.Once(nil)[r]; !same(got, want) {
				t.Errorf("%s of constants %s is %s, want %s", test.name, all(x), shown(got), shown(want))
			}
			// A look-up is never folded, nor is what underflows, so that it can be warned of.
			kept := test.name == "look up" || want == 0 && (test.name == "*" || test.name == "/") && x[0] != 0 &&
				x[1] != 0
			if computed := folded.Ops[r].Code != opConst; Usable(want) && computed != kept {
				t.Errorf("%s of constants %s is not folded as it should be", test.name, all(x))
			}
			block = append(block, x)
		}
		w := NewProgram(changed, inputs, []Register{result}, changed.Once(nil)).NewWorker(BlockSize)
		b := w.Run(0, len(block), func(b *Block) {
			for i, in := range b.In {
				for j := range in {
					in[j] = block[j][i]
				}
			}
		})
		for j, c := range test.cases {
			if want := c[op.operands]; !same(b.Out[0][j], want) {
				t.Errorf("%s of %s is %s in a block, want %s", test.name, all(c[:op.operands]), shown(b.Out[0][j]),
					shown(want))
			}
		}
	}
	met[opConst] = true // by folding
	for code, yes := range met {
		if !yes {
			t.Errorf("no table is of operation number %d", code)
		}
	}
}

// runOne computes an operation of inputs for one case.
func runOne(build func(*Tape, []Register) Register, x []float64) float64 {
	tape := New()
	var inputs []Register
	for _, v := range x {
		inputs = append(inputs, tape.Input(v))
	}
	r := build(tape, inputs)
	return tape.Once(nil)[r]
}

func all(x []float64) string {
	var list []string
	for _, v := range x {
		list = append(list, shown(v))
	}
	return fmt.Sprint(list)
}

// TestDivide holds the division that other packages use against the tape's.
func TestDivide(t *testing.T) {
	for _, test := range kernelTests {
		if test.name != "/" {
			continue
		}
		for _, c := range test.cases {
			if got := Divide(c[0], c[1]); !same(got, c[2]) {
				t.Errorf("%s by %s is %s, want %s", shown(c[0]), shown(c[1]), shown(got), shown(c[2]))
			}
		}
	}
}

func TestSign(t *testing.T) {
	for _, test := range [][2]float64{{3, 1}, {-0.5, -1}, {0, 0}, {infinite, 1}, {-infinite, -1}, {Missing, Missing},
		{Failed, Failed}} {
		if got := Sign(test[0]); !same(got, test[1]) {
			t.Errorf("the sign of %s is %s, want %s", shown(test[0]), shown(got), shown(test[1]))
		}
	}
}

// TestMissingIsNotFailed: the two are told apart, and neither is a number.
func TestMissingIsNotFailed(t *testing.T) {
	if !IsMissing(Missing) || IsMissing(Failed) || IsMissing(math.NaN()) || IsMissing(0) {
		t.Error("only Missing is missing")
	}
	for _, x := range []float64{Missing, Failed, math.NaN(), infinite, -infinite} {
		if Usable(x) {
			t.Errorf("%s is said to be usable", shown(x))
		}
	}
	for _, x := range []float64{0, -1, math.MaxFloat64, math.SmallestNonzeroFloat64} {
		if !Usable(x) {
			t.Errorf("%v is said not to be usable", x)
		}
	}
}

// TestComplaints: the three functions that the tape has itself say why they
// have no result, or never lack one.
func TestComplaints(t *testing.T) {
	for _, test := range []struct {
		fn   *Callee
		want string
	}{
		{SquareRoot, "square root of a negative number"},
		{NaturalLog, "logarithm of a number that is not above 0"},
	} {
		if got := test.fn.Complaint([]float64{-1}); got != test.want {
			t.Errorf("%s complains %q, want %q", test.fn.Name, got, test.want)
		}
	}
}

func TestOperationWithoutKernel(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("an operation without a kernel was run")
		}
	}()
	tape := New()
	a := tape.Input(1)
	tape.Binary(opNorm+1, a, a)
	tape.Once(nil)
}
