package calc

import "math"

// register names the result of one operation of a tape: the operation's index.
type register int32

// none stands where an operation has no further operand.
const none register = -1

// opcode says what an operation does. Every operation yields one float64 per
// case; a truth value is 1 or 0, a text is its index in the model's list.
type opcode uint8

const (
	opConst   opcode = iota // k
	opInput                 // a given: k, or what the run puts in its place
	opAdd                   // a + b
	opSub                   // a - b
	opMul                   // a × b
	opDiv                   // a / b
	opNeg                   // -a
	opSquare                // a²
	opPower                 // a to the constant power k
	opPow                   // a to the power b
	opMin                   // smaller of a and b
	opMax                   // larger of a and b
	opLess                  // a < b
	opLessEq                // a ≤ b
	opEqual                 // a = b
	opUnequal               // a ≠ b
	opAnd                   // a and b
	opOr                    // a or b
	opNot                   // not a
	opSelect                // a ? b : c
	opUnary                 // function of a
	opSlope                 // the function's derivative at a, where it is b
	opCall                  // function of several
	opPartial               // the function's derivative by its argument number index
	opLookup                // cell of a column, by the text a
	opMulAdd                // a × b + c × d
	opNorm                  // square root of the sum of squares of args
)

// op is one operation.
type op struct {
	code       opcode
	a, b, c, d register
	k          float64
	more       *details // of the rarer operations
}

// details holds what only calls, look-ups and norms need.
type details struct {
	fn    *callee
	args  []register
	index int // of opPartial
	rows  []int32
	cells []float64
}

// tape is the model as a flat list of operations, each after the ones it
// uses. It only ever grows, so registers stay valid.
type tape struct {
	ops    []op
	marks  []int32 // of each operation: what its owner noted of where it comes from
	at     int32   // the mark of the operations being added
	consts map[uint64]register
}

func newTape() *tape { return &tape{consts: map[uint64]register{}} }

// extend returns a tape that starts with the operations of t. What is added
// to one does not show in the other.
func (t *tape) extend() *tape {
	more := &tape{ops: t.ops[:len(t.ops):len(t.ops)], marks: t.marks[:len(t.marks):len(t.marks)],
		consts: make(map[uint64]register, len(t.consts))}
	for k, r := range t.consts {
		more.consts[k] = r
	}
	return more
}

// add appends an operation. One whose operands are all constants is computed
// on the spot, so that `20*MPa` costs nothing at run time.
func (t *tape) add(o op) register {
	if t.foldable(&o) {
		if v := evaluate(&o, t.constantsOf(&o)); !math.IsNaN(v) && !math.IsInf(v, 0) {
			return t.constant(v)
		}
	}
	t.ops = append(t.ops, o)
	t.marks = append(t.marks, t.at)
	return register(len(t.ops) - 1)
}

func (t *tape) foldable(o *op) bool {
	if o.code == opConst || o.code == opInput || o.code == opLookup {
		return false
	}
	found := false
	for _, r := range o.operands(make([]register, 0, 8)) {
		if t.ops[r].code != opConst {
			return false
		}
		found = true
	}
	return found
}

func (t *tape) constantsOf(o *op) []float64 {
	var v []float64
	for _, r := range o.operands(nil) {
		v = append(v, t.ops[r].k)
	}
	return v
}

// constant gives the register of a number; equal numbers share one.
func (t *tape) constant(v float64) register {
	key := math.Float64bits(v)
	if r, ok := t.consts[key]; ok {
		return r
	}
	t.ops = append(t.ops, op{code: opConst, a: none, b: none, c: none, d: none, k: v})
	t.marks = append(t.marks, t.at)
	r := register(len(t.ops) - 1)
	t.consts[key] = r
	return r
}

// input adds a given with its value in the notebook.
func (t *tape) input(v float64) register {
	return t.add(op{code: opInput, a: none, b: none, c: none, d: none, k: v})
}

func (t *tape) one(code opcode, a register) register {
	return t.add(op{code: code, a: a, b: none, c: none, d: none})
}

func (t *tape) binary(code opcode, a, b register) register {
	return t.add(op{code: code, a: a, b: b, c: none, d: none})
}

// mul multiplies, and leaves out a factor of 1.
func (t *tape) mul(a, b register) register {
	switch {
	case t.is(a, 1):
		return b
	case t.is(b, 1):
		return a
	}
	return t.binary(opMul, a, b)
}

func (t *tape) choose(cond, a, b register) register {
	return t.add(op{code: opSelect, a: cond, b: a, c: b, d: none})
}

// power raises to a constant exponent.
func (t *tape) power(a register, p float64) register {
	switch p {
	case 1:
		return a
	case 2:
		return t.one(opSquare, a)
	case -1:
		return t.binary(opDiv, t.constant(1), a)
	case 0.5:
		return t.unary(squareRoot, a)
	}
	return t.add(op{code: opPower, a: a, b: none, c: none, d: none, k: p})
}

func (t *tape) unary(fn *callee, a register) register {
	return t.add(op{code: opUnary, a: a, b: none, c: none, d: none, more: &details{fn: fn}})
}

func (t *tape) call(fn *callee, args []register) register {
	return t.add(op{code: opCall, a: none, b: none, c: none, d: none, more: &details{fn: fn, args: args}})
}

// norm is the square root of the sum of squares.
func (t *tape) norm(args []register) register {
	if len(args) == 1 {
		return t.unary(absolute, args[0])
	}
	return t.add(op{code: opNorm, a: none, b: none, c: none, d: none, more: &details{args: args}})
}

// is reports whether r is the constant v.
func (t *tape) is(r register, v float64) bool {
	return t.ops[r].code == opConst && t.ops[r].k == v
}

// operands appends the registers that an operation reads to list.
func (o *op) operands(list []register) []register {
	if o.more != nil {
		list = append(list, o.more.args...)
	}
	for _, r := range [4]register{o.a, o.b, o.c, o.d} {
		if r != none {
			list = append(list, r)
		}
	}
	return list
}

// needed marks every operation that the roots depend on.
func (t *tape) needed(roots []register) []bool {
	marks := make([]bool, len(t.ops))
	for _, r := range roots {
		if r != none {
			marks[r] = true
		}
	}
	var list []register
	for i := len(t.ops) - 1; i >= 0; i-- {
		if !marks[i] {
			continue
		}
		list = t.ops[i].operands(list[:0])
		for _, r := range list {
			marks[r] = true
		}
	}
	return marks
}
