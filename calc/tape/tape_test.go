package tape

import (
	"slices"
	"testing"
)

// TestConstants: equal numbers share a register, and an operation of constants
// is computed on the spot.
func TestConstants(t *testing.T) {
	tape := New()
	three := tape.Constant(3)
	if again := tape.Constant(3); again != three || len(tape.Ops) != 1 {
		t.Errorf("a second 3 is register %d of %d", again, len(tape.Ops))
	}
	if !tape.Is(three, 3) || tape.Is(three, 2) || tape.Is(tape.Input(3), 3) {
		t.Error("only the constant 3 is the constant 3")
	}
	six := tape.Binary(OpAdd, three, three)
	if !tape.Is(six, 6) {
		t.Errorf("3 + 3 is not folded: %+v", tape.Ops[six])
	}
	before := len(tape.Ops)
	if r := tape.Mul(six, tape.Constant(0.5)); r != three {
		t.Errorf("6 × 0.5 is register %d, not that of 3", r)
	}
	if grown := len(tape.Ops) - before; grown != 1 { // the 0.5
		t.Errorf("the tape grew by %d operations", grown)
	}
}

// TestNotFolded: what a run may replace, look up or fail at stays an operation.
func TestNotFolded(t *testing.T) {
	tape := New()
	given, zero := tape.Input(3), tape.Constant(0)
	for _, test := range []struct {
		what string
		made Register
	}{
		{"a given", given},
		{"a sum with a given", tape.Binary(OpAdd, given, zero)},
		{"a look-up", tape.LookUp(column, zero)},
		{"a division by zero", tape.Binary(OpDiv, zero, zero)},
		{"a product that is too large", tape.Binary(OpMul, tape.Constant(1e200), tape.Constant(1e201))},
	} {
		if tape.Ops[test.made].Code == opConst {
			t.Errorf("%s became the constant %v", test.what, tape.Ops[test.made].k)
		}
	}
}

// TestShortcuts: factors of 1 and exponents of 1 cost no operation.
func TestShortcuts(t *testing.T) {
	tape := New()
	x, one := tape.Input(5), tape.Constant(1)
	n := len(tape.Ops)
	for what, r := range map[string]Register{"1·x": tape.Mul(one, x), "x·1": tape.Mul(x, one),
		"x^1": tape.Power(x, 1)} {
		if r != x {
			t.Errorf("%s is register %d, want x itself", what, r)
		}
	}
	if len(tape.Ops) != n {
		t.Errorf("%d operations were added", len(tape.Ops)-n)
	}
	for _, test := range []struct {
		p    float64
		code Opcode
	}{{2, opSquare}, {-1, OpDiv}, {0.5, OpUnary}, {3, OpPower}, {1.5, OpPower}} {
		if got := tape.Ops[tape.Power(x, test.p)].Code; got != test.code {
			t.Errorf("x^%v is operation %d, want %d", test.p, got, test.code)
		}
	}
	if got := tape.Ops[tape.Norm([]Register{x})]; got.Code != OpUnary || tape.More(&got).Fn != Absolute {
		t.Errorf("the norm of one number is %+v, want its absolute value", got)
	}
}

// TestExtend: what is added to an extension does not show in the tape it
// starts with, nor the other way round.
func TestExtend(t *testing.T) {
	tape := New()
	tape.At = 4
	x := tape.Input(2)
	more, other := tape.Extend(), tape.Extend()
	more.At, other.At = 7, 9
	doubled := more.Mul(x, more.Constant(2))
	tripled := other.Mul(x, other.Constant(3))
	if len(tape.Ops) != 1 || len(tape.Marks) != 1 {
		t.Fatalf("the tape grew to %d operations", len(tape.Ops))
	}
	if a, b := more.Once(nil)[doubled], other.Once(nil)[tripled]; a != 4 || b != 6 {
		t.Errorf("the extensions compute %v and %v, want 4 and 6", a, b)
	}
	if !slices.Equal(more.Marks, []int32{4, 7, 7}) || !slices.Equal(other.Marks, []int32{4, 9, 9}) {
		t.Errorf("the marks are %v and %v", more.Marks, other.Marks)
	}
	if _, shared := tape.consts[0]; shared || tape.Constant(2) != 1 {
		t.Error("a constant of an extension is known to the tape")
	}
}

// TestNeededAndReached follows operations up and down.
func TestNeededAndReached(t *testing.T) {
	tape := New()
	a, b, c := tape.Input(1), tape.Input(2), tape.Input(3)
	sum := tape.Binary(OpAdd, a, b)
	call := tape.Call(moment, []Register{sum, c, c})
	other := tape.One(OpNeg, b)
	chosen := tape.Choose(other, call, a)
	marked := func(marks []bool) (list []Register) {
		for r, yes := range marks {
			if yes {
				list = append(list, Register(r))
			}
		}
		return list
	}
	for _, test := range []struct {
		what string
		got  []bool
		want []Register
	}{
		{"needed for the sum", tape.Needed([]Register{sum}), []Register{a, b, sum}},
		{"needed for the call", tape.Needed([]Register{call}), []Register{a, b, c, sum, call}},
		{"needed for the choice", tape.Needed([]Register{chosen}), []Register{a, b, c, sum, call, other, chosen}},
		{"needed for nothing", tape.Needed([]Register{None}), nil},
		{"needed for two", tape.Needed([]Register{other, None, a}), []Register{a, b, other}},
		{"reached from a", tape.Reached([]Register{a}), []Register{a, sum, call, chosen}},
		{"reached from b", tape.Reached([]Register{b}), []Register{b, sum, call, other, chosen}},
		{"reached from c", tape.Reached([]Register{c}), []Register{c, call, chosen}},
		{"reached from nothing", tape.Reached(nil), nil},
	} {
		if got := marked(test.got); !slices.Equal(got, test.want) {
			t.Errorf("%s: registers %v, want %v", test.what, got, test.want)
		}
	}
}

// TestBent tells straight lines from what may bend: second differences are nothing along the former.
func TestBent(t *testing.T) {
	tape := New()
	a, b, still := tape.Input(1), tape.Input(2), tape.Input(3)
	sum := tape.Binary(OpAdd, a, tape.One(OpNeg, b))
	share := tape.Binary(OpDiv, tape.Binary(OpMul, still, sum), still)
	product := tape.Binary(OpMul, a, b)
	for _, test := range []struct {
		what string
		at   Register
		want bool
	}{
		{"an input", a, false},
		{"nothing", None, false},
		{"what stays", tape.Binary(OpMul, still, still), false},
		{"a sum", sum, false},
		{"a difference", tape.Binary(OpSub, share, a), false},
		{"a share of a sum", share, false},
		{"a product", product, true},
		{"a sum of products", tape.Binary(OpAdd, a, tape.Binary(OpMul, still, product)), true},
		{"a quotient", tape.Binary(OpDiv, still, a), true},
		{"a choice", tape.Choose(still, a, b), true},
		{"a call", tape.Call(moment, []Register{still, sum, still}), true},
		{"a call of what stays", tape.Call(moment, []Register{still, still, still}), false},
		{"the smaller", tape.Binary(OpMin, a, still), true},
	} {
		if got := tape.Bent([]Register{a, b})(test.at); got != test.want {
			t.Errorf("%s: bent %v, want %v", test.what, got, test.want)
		}
	}
	if tape.Bent([]Register{product})(product) {
		t.Error("what the run replaces is an input, whatever it is otherwise")
	}
}

// TestRerun computes only what was appended.
func TestRerun(t *testing.T) {
	tape := New()
	x := tape.Input(3)
	square := tape.Power(x, 2)
	values := tape.Once(map[Register]float64{x: 5})
	more := tape.Extend()
	sum := more.Binary(OpAdd, x, square)
	values = append(values, make([]float64, len(more.Ops)-len(values))...)
	more.rerun(values, len(tape.Ops), nil)
	if values[sum] != 30 {
		t.Errorf("x + x² is %v where x was set to 5, want 30", values[sum])
	}
	more.rerun(values, int(square), map[Register]float64{square: 1})
	if values[x] != 5 || values[square] != 1 || values[sum] != 6 {
		t.Errorf("with x² set to 1 the values are %v", values)
	}
}
