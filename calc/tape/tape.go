package tape

import (
	"maps"
	"math"
	"slices"
)

// Register names the result of one operation of a tape: the operation's index.
type Register int32

// None stands where an operation has no further operand.
const None Register = -1

// Opcode is what an operation does. Every operation yields one float64 per
// case; a truth value is 1 or 0, a text is its index in the model's list.
type Opcode uint8

const (
	opConst   Opcode = iota // k
	OpInput                 // a given: k, or what the run puts in its place
	OpAdd                   // a + b
	OpSub                   // a - b
	OpMul                   // a × b
	OpDiv                   // a / b
	OpNeg                   // -a
	opSquare                // a²
	OpPower                 // a to the constant power k
	OpPow                   // a to the power b
	OpMin                   // smaller of a and b
	OpMax                   // larger of a and b
	OpLess                  // a < b
	OpLessEq                // a ≤ b
	OpEqual                 // a = b
	OpUnequal               // a ≠ b
	OpAlike                 // a = b, and 0 where one of them is no number
	OpAnd                   // a and b
	OpOr                    // a or b
	OpNot                   // not a
	OpSelect                // a ? b : c
	OpUnary                 // function of a
	opSlope                 // the function's derivative at a, where it is b
	OpCall                  // function of several
	opPartial               // the function's derivative by its argument number index
	OpLookup                // cell of a column, by the text a
	opMulAdd                // a × b + c × d
	opNorm                  // square root of the sum of squares of args
)

// Op is one operation. It holds no pointer, since tapes are long: derivatives are
// ten times the model, and what the collector of garbage need not look at costs less.
type Op struct {
	k          float64
	A, B, C, D Register
	more       int32 // of the rarer operations, their place in the tape's details; 0 for none
	Code       Opcode
}

// Details holds what only calls, look-ups and norms need.
type Details struct {
	Fn    *Callee
	Args  []Register
	index int // of opPartial
	Rows  []int32
	Cells []float64
}

// Tape is the model as a flat list of operations, each after the ones it
// uses. It only ever grows, so registers stay valid.
type Tape struct {
	Ops    []Op
	Marks  []int32       // of each operation: what its owner noted of where it comes from
	At     int32         // the mark of the operations being added
	Ties   *Correlations // of the errors of inputs; nil for none
	more   []*Details    // number 0 is nil
	consts map[uint64]Register
	alone  map[*Callee]int32 // of functions of one number: the details that all their operations share
	fold   folding
}

// New makes an empty tape.
func New() *Tape {
	return &Tape{more: []*Details{nil}, consts: map[uint64]Register{}, alone: map[*Callee]int32{}}
}

// Extend returns a tape that starts with the operations of t. What is added
// to one does not show in the other.
func (t *Tape) Extend() *Tape {
	return &Tape{Ops: slices.Clip(t.Ops), Marks: slices.Clip(t.Marks), Ties: t.Ties, more: slices.Clip(t.more),
		consts: maps.Clone(t.consts), alone: maps.Clone(t.alone)}
}

// Add appends an operation with up to four operands. One whose operands are
// all constants is computed on the spot, so that `24*MPa` costs nothing at run
// time.
func (t *Tape) Add(o Op, operands ...Register) Register {
	all := [4]Register{None, None, None, None}
	copy(all[:], operands)
	o.A, o.B, o.C, o.D = all[0], all[1], all[2], all[3]
	if t.foldable(&o) {
		x := t.constantsOf(&o)
		v := t.evaluate(&o, x)
		// A product that underflows is kept, so that its owner can warn of it.
		underflow := v == 0 && (o.Code == OpMul || o.Code == OpDiv) && x[0] != 0 && x[1] != 0
		if !math.IsNaN(v) && !math.IsInf(v, 0) && !underflow {
			return t.Constant(v)
		}
	}
	if n := len(t.Ops); n == cap(t.Ops) { // append would grow by quarters
		t.Reserve(max(leastGrowth, min(n, max(manyOperations, n/2))))
	}
	t.Ops = append(t.Ops, o)
	t.Marks = append(t.Marks, t.At)
	return Register(len(t.Ops) - 1)
}

// Reserve makes room for so many operations, so that they need not be moved as they
// become more.
func (t *Tape) Reserve(n int) {
	t.Ops, t.Marks = slices.Grow(t.Ops, n), slices.Grow(t.Marks, n)
}

// leastGrowth is how many operations there is room for at first.
const leastGrowth = 64

// manyOperations is from how many on a tape is no more doubled.
const manyOperations = 1 << 16

// detailed appends an operation with details of its own.
func (t *Tape) detailed(code Opcode, details *Details, operands ...Register) Register {
	t.more = append(t.more, details)
	return t.Add(Op{Code: code, more: int32(len(t.more) - 1)}, operands...)
}

// More is what an operation has beside its operands; nil for most.
func (t *Tape) More(o *Op) *Details { return t.more[o.more] }

func (t *Tape) foldable(o *Op) bool {
	if o.Code == opConst || o.Code == OpInput || o.Code == OpLookup || o.A != None && !t.IsConstant(o.A) {
		return false
	}
	found := false
	for _, r := range t.Operands(o, make([]Register, 0, 8)) {
		if !t.IsConstant(r) {
			return false
		}
		found = true
	}
	return found
}

// constantsOf gives the values of operands that are constants, until the next
// operation is added.
func (t *Tape) constantsOf(o *Op) []float64 {
	t.fold.values = t.fold.values[:0]
	for _, r := range t.Operands(o, make([]Register, 0, 8)) {
		t.fold.values = append(t.fold.values, t.Ops[r].k)
	}
	return t.fold.values
}

// Constant gives the register of a number; equal numbers share one.
func (t *Tape) Constant(v float64) Register {
	key := math.Float64bits(v)
	if r, ok := t.consts[key]; ok {
		return r
	}
	r := t.Add(Op{Code: opConst, k: v})
	t.consts[key] = r
	return r
}

// Input adds a given with its value in the notebook.
//
//go:noinline
func (t *Tape) Input(v float64) Register {
	return t.Add(Op{Code: OpInput, k: v})
}

// Set gives an input another value in the base case.
func (t *Tape) Set(r Register, v float64) { t.Ops[r].k = v }

// One adds an operation of one operand.
//
//go:noinline
func (t *Tape) One(code Opcode, a Register) Register {
	return t.Add(Op{Code: code}, a)
}

// Fold joins a list, of one at least, with one operation, the two halves first.
// So an operation stands between few others even in a list of thousands, whose
// derivatives would otherwise grow with the square of its length.
func (t *Tape) Fold(code Opcode, list []Register) Register {
	if len(list) == 1 {
		return list[0]
	}
	half := (len(list) + 1) / 2
	return t.Binary(code, t.Fold(code, list[:half]), t.Fold(code, list[half:]))
}

// Mean is the mean of a list, of one at least.
func (t *Tape) Mean(list []Register) Register {
	return t.Binary(OpDiv, t.Fold(OpAdd, list), t.Constant(float64(len(list))))
}

// Binary adds an operation of two operands.
//
//go:noinline
func (t *Tape) Binary(code Opcode, a, b Register) Register {
	return t.Add(Op{Code: code}, a, b)
}

// Mul multiplies, and leaves out a factor of 1.
func (t *Tape) Mul(a, b Register) Register {
	switch {
	case t.Is(a, 1):
		return b
	case t.Is(b, 1):
		return a
	}
	return t.Binary(OpMul, a, b)
}

// Choose adds cond ? a : b.
//
//go:noinline
func (t *Tape) Choose(cond, a, b Register) Register {
	return t.Add(Op{Code: OpSelect}, cond, a, b)
}

// Chosen is Choose, and adds nothing where the condition is known or both arms are one.
func (t *Tape) Chosen(cond, a, b Register) Register {
	switch {
	case a == b || t.Is(cond, 1):
		return a
	case t.Is(cond, 0):
		return b
	}
	return t.Choose(cond, a, b)
}

// Power raises to a constant exponent.
func (t *Tape) Power(a Register, p float64) Register {
	switch p {
	case 1:
		return a
	case 2:
		return t.One(opSquare, a)
	case -1:
		return t.Binary(OpDiv, t.Constant(1), a)
	case 0.5:
		return t.Unary(SquareRoot, a)
	}
	return t.Add(Op{Code: OpPower, k: p}, a)
}

// Unary adds a function of one number.
func (t *Tape) Unary(fn *Callee, a Register) Register {
	details, known := t.alone[fn]
	if !known {
		details = int32(len(t.more))
		t.more, t.alone[fn] = append(t.more, &Details{Fn: fn}), details
	}
	return t.Add(Op{Code: OpUnary, more: details}, a)
}

// Call adds a function of several numbers.
func (t *Tape) Call(fn *Callee, args []Register) Register {
	return t.detailed(OpCall, &Details{Fn: fn, Args: args})
}

// LookUp adds the cell of a column in the row of a text.
func (t *Tape) LookUp(column *Details, text Register) Register {
	return t.detailed(OpLookup, column, text)
}

// Norm is the square root of the sum of squares.
func (t *Tape) Norm(args []Register) Register {
	if len(args) == 1 {
		return t.Unary(Absolute, args[0])
	}
	return t.detailed(opNorm, &Details{Args: args})
}

// IsConstant reports whether r is a constant.
func (t *Tape) IsConstant(r Register) bool { return t.Ops[r].Code == opConst }

// Value is the number of a constant.
func (t *Tape) Value(r Register) float64 { return t.Ops[r].k }

// Is reports whether r is the constant v.
func (t *Tape) Is(r Register, v float64) bool {
	return t.Ops[r].Code == opConst && t.Ops[r].k == v
}

// Operands appends the registers that an operation reads to list.
//
//go:noinline
func (t *Tape) Operands(o *Op, list []Register) []Register {
	if o.more != 0 {
		list = append(list, t.more[o.more].Args...)
	}
	for _, r := range [4]Register{o.A, o.B, o.C, o.D} {
		if r != None {
			list = append(list, r)
		}
	}
	return list
}

// Needed marks every operation that the roots depend on.
func (t *Tape) Needed(roots []Register) []bool {
	marks := make([]bool, len(t.Ops))
	for _, r := range roots {
		if r != None {
			marks[r] = true
		}
	}
	for i := len(t.Ops) - 1; i >= 0; i-- {
		if !marks[i] {
			continue
		}
		o := &t.Ops[i]
		for _, r := range [4]Register{o.A, o.B, o.C, o.D} {
			if r != None {
				marks[r] = true
			}
		}
		if o.more != 0 {
			for _, r := range t.more[o.more].Args {
				marks[r] = true
			}
		}
	}
	return marks
}

// Reached marks every operation that depends on one of the inputs.
//
//go:noinline
func (t *Tape) Reached(inputs []Register) []bool { return t.ReachedPast(inputs, nil) }

// ReachedPast is Reached, where some registers are known to stay as they are
// although their operands vary.
func (t *Tape) ReachedPast(inputs []Register, still map[Register]bool) []bool {
	marks := make([]bool, 1+len(t.Ops)) // with room for None in front
	first := Register(len(t.Ops))
	for _, r := range inputs {
		marks[1+r], first = true, min(first, r)
	}
	for r := first; int(r) < len(t.Ops); r++ {
		o := &t.Ops[r]
		reads := marks[1+o.A] || marks[1+o.B] || marks[1+o.C] || marks[1+o.D]
		if o.more != 0 && !reads {
			for _, a := range t.more[o.more].Args {
				reads = reads || marks[1+a]
			}
		}
		if reads && !marks[1+r] {
			marks[1+r] = !still[r]
		}
	}
	return marks[1:]
}

// Bent returns whether an operation is no straight line in the inputs, as far as can be
// told without running it: sums are straight, and so are multiples by what stays as it is.
func (t *Tape) Bent(inputs []Register) func(Register) bool {
	const (
		still = iota
		straight
		bent
	)
	marks := make([]uint8, 1+len(t.Ops)) // with room for None in front
	first := Register(len(t.Ops))
	for _, r := range inputs {
		marks[1+r], first = straight, min(first, r)
	}
	for r := first; int(r) < len(t.Ops); r++ {
		if marks[1+r] != still { // an input, whatever its operation says
			continue
		}
		o := &t.Ops[r]
		a, b := marks[1+o.A], marks[1+o.B]
		most := max(a, b, marks[1+o.C], marks[1+o.D])
		if o.more != 0 {
			for _, arg := range t.more[o.more].Args {
				most = max(most, marks[1+arg])
			}
		}
		switch {
		case most == still, o.Code == OpAdd, o.Code == OpSub, o.Code == OpNeg, o.Code == OpMul && min(a, b) == still,
			o.Code == OpDiv && b == still:
			marks[1+r] = most
		default:
			marks[1+r] = bent
		}
	}
	return func(r Register) bool { return marks[1+r] == bent }
}
