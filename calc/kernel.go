package calc

import "math"

// Two values that are no numbers travel through the operations like any
// other: missing is the value of an open quantity, failed that of an
// operation that has no result. Arithmetic carries the first of them on, so
// a block needs no further bookkeeping; trace finds out afterwards what
// happened in the rare case that shows one.
var (
	missing = math.Float64frombits(0x7FF8_0000_0000_0A11)
	failed  = math.Float64frombits(0x7FF8_0000_0000_0BAD)
)

// isMissing reports whether a value is open, as against in error.
func isMissing(x float64) bool { return math.Float64bits(x) == math.Float64bits(missing) }

// usable reports whether x is a finite number.
func usable(x float64) bool { return x-x == 0 }

// firstBad gives the one of two operands that is not a number, and failed if
// both are numbers.
func firstBad(a, b float64) float64 {
	switch {
	case a != a:
		return a
	case b != b:
		return b
	}
	return failed
}

// divide is a/b that never hides a zero or infinite divisor.
func divide(a, b float64) float64 {
	if b == 0 || !usable(b) {
		return firstBad(a, b)
	}
	return a / b
}

// decide turns a comparison into 1 or 0, unless one side is no finite number.
func decide(a, b float64, holds bool) float64 {
	if !usable(a) || !usable(b) {
		return firstBad(a, b)
	}
	if holds {
		return 1
	}
	return 0
}

func lesser(a, b float64) float64 {
	if !usable(a) || !usable(b) {
		return firstBad(a, b)
	}
	return min(a, b)
}

func greater(a, b float64) float64 {
	if !usable(a) || !usable(b) {
		return firstBad(a, b)
	}
	return max(a, b)
}

// power is a^b that is never infinite and takes no root of a negative number.
func power(a, b float64) float64 {
	if !usable(a) || !usable(b) {
		return firstBad(a, b)
	}
	if y := math.Pow(a, b); usable(y) {
		return y
	}
	return failed
}

// both and either look at the second operand only if the first does not
// settle the matter.
func both(a, b float64) float64 {
	switch {
	case a == 0 || b == 0:
		return 0
	case a != a || b != b:
		return firstBad(a, b)
	}
	return 1
}

func either(a, b float64) float64 {
	switch {
	case a == 1 || b == 1:
		return 1
	case a != a || b != b:
		return firstBad(a, b)
	}
	return 0
}

// lookUp finds the cell of a column for a text; a text without a row fails.
func (d *details) lookUp(key float64) float64 {
	if key != key {
		return key
	}
	if i := int(key); i < len(d.rows) && d.rows[i] >= 0 {
		return d.cells[d.rows[i]]
	}
	return failed
}

// apply computes a function of several arguments, or one of its derivatives.
// d has room for the derivatives.
func (m *details) apply(code opcode, x, d []float64) float64 {
	for _, v := range x {
		if !usable(v) {
			return firstBad(v, v)
		}
	}
	y := m.fn.eval(x)
	if code == opPartial {
		m.fn.slopes(x, y, d)
		return d[m.index]
	}
	if math.IsInf(y, 0) {
		return failed
	}
	return y
}

// evaluate computes one operation from the values of its operands, given in
// the order of op.operands.
func evaluate(o *op, x []float64) float64 {
	values := append(x, 0)
	at := register(0)
	next := func(r register) register {
		if r == none {
			return none
		}
		at++
		return at - 1
	}
	renamed := *o
	if o.more != nil {
		more := *o.more
		more.args = nil
		for _, r := range o.more.args {
			more.args = append(more.args, next(r))
		}
		renamed.more = &more
	}
	renamed.a, renamed.b, renamed.c, renamed.d = next(o.a), next(o.b), next(o.c), next(o.d)
	var k kernel
	k.bind(&renamed, func(r register) []float64 { return values[r : r+1] }, values[len(x):])
	k.run(1)
	return values[len(x)]
}

// nothing stands for the operands that an operation does not have.
var nothing = make([]float64, 1)

// kernel is an operation bound to the blocks of float64 it works on.
type kernel struct {
	*op
	out, a, b, c, d []float64
	args            [][]float64
	x, partials     []float64 // room for one case of a call
}

// bind sets an operation to work on blocks: out is where its result goes, and
// block finds the results of its operands.
func (k *kernel) bind(o *op, block func(register) []float64, out []float64) {
	k.op, k.out = o, out
	k.a, k.b, k.c, k.d = nothing, nothing, nothing, nothing
	for _, operand := range [4]struct {
		r  register
		at *[]float64
	}{{o.a, &k.a}, {o.b, &k.b}, {o.c, &k.c}, {o.d, &k.d}} {
		if operand.r != none {
			*operand.at = block(operand.r)
		}
	}
	if o.more == nil || o.more.args == nil {
		return
	}
	n := len(o.more.args)
	k.args = make([][]float64, n)
	k.x, k.partials = make([]float64, n), make([]float64, n)
	for i, r := range o.more.args {
		k.args[i] = block(r)
	}
}

// run computes the first n cases of the block.
func (k *kernel) run(n int) {
	out := k.out[:n]
	switch k.code {
	case opConst, opInput:
		for i := range out {
			out[i] = k.k
		}
	case opAdd:
		a, b := k.a[:n], k.b[:n]
		for i := range out {
			out[i] = a[i] + b[i]
		}
	case opSub:
		a, b := k.a[:n], k.b[:n]
		for i := range out {
			out[i] = a[i] - b[i]
		}
	case opMul:
		a, b := k.a[:n], k.b[:n]
		for i := range out {
			out[i] = a[i] * b[i]
		}
	case opMulAdd:
		a, b, c, d := k.a[:n], k.b[:n], k.c[:n], k.d[:n]
		for i := range out {
			out[i] = a[i]*b[i] + c[i]*d[i]
		}
	case opDiv:
		a, b := k.a[:n], k.b[:n]
		for i := range out {
			x := b[i]
			q := a[i] / x
			if x == 0 || x-x != 0 {
				q = firstBad(a[i], x)
			}
			out[i] = q
		}
	case opNeg:
		a := k.a[:n]
		for i := range out {
			out[i] = -a[i]
		}
	case opSquare:
		a := k.a[:n]
		for i := range out {
			out[i] = a[i] * a[i]
		}
	case opPower:
		a := k.a[:n]
		if k.k == 3 {
			for i := range out {
				out[i] = a[i] * a[i] * a[i]
			}
			return
		}
		for i := range out {
			out[i] = power(a[i], k.k)
		}
	case opSelect:
		a, b, c := k.a[:n], k.b[:n], k.c[:n]
		for i := range out {
			switch a[i] {
			case 1:
				out[i] = b[i]
			case 0:
				out[i] = c[i]
			default:
				out[i] = a[i]
			}
		}
	case opNot:
		a := k.a[:n]
		for i := range out {
			out[i] = 1 - a[i]
		}
	case opUnary:
		a, f := k.a[:n], k.more.fn.unary
		for i := range out {
			out[i] = f(a[i])
		}
	case opSlope:
		a, b, f := k.a[:n], k.b[:n], k.more.fn.slope
		for i := range out {
			out[i] = f(a[i], b[i])
		}
	case opLookup:
		a := k.a[:n]
		for i := range out {
			out[i] = k.more.lookUp(a[i])
		}
	case opNorm:
		k.norm(out)
	case opCall, opPartial:
		for i := range out {
			for j, arg := range k.args {
				k.x[j] = arg[i]
			}
			out[i] = k.more.apply(k.code, k.x, k.partials)
		}
	default:
		k.compare(out)
	}
}

// norm adds squares and takes the root. Spreads are far from the range where
// squares overflow, so no scaling is done.
func (k *kernel) norm(out []float64) {
	first := k.args[0][:len(out)]
	for i := range out {
		out[i] = first[i] * first[i]
	}
	for _, arg := range k.args[1:] {
		arg = arg[:len(out)]
		for i := range out {
			out[i] += arg[i] * arg[i]
		}
	}
	for i := range out {
		out[i] = math.Sqrt(out[i])
	}
}

// compare runs the operations of two operands that are rarer in a model.
func (k *kernel) compare(out []float64) {
	a, b := k.a[:len(out)], k.b[:len(out)]
	switch k.code {
	case opMin:
		for i := range out {
			out[i] = lesser(a[i], b[i])
		}
	case opMax:
		for i := range out {
			out[i] = greater(a[i], b[i])
		}
	case opPow:
		for i := range out {
			out[i] = power(a[i], b[i])
		}
	case opLess:
		for i := range out {
			out[i] = decide(a[i], b[i], a[i] < b[i])
		}
	case opLessEq:
		for i := range out {
			out[i] = decide(a[i], b[i], a[i] <= b[i])
		}
	case opEqual:
		for i := range out {
			out[i] = decide(a[i], b[i], a[i] == b[i])
		}
	case opUnequal:
		for i := range out {
			out[i] = decide(a[i], b[i], a[i] != b[i])
		}
	case opAnd:
		for i := range out {
			out[i] = both(a[i], b[i])
		}
	case opOr:
		for i := range out {
			out[i] = either(a[i], b[i])
		}
	default:
		panic("calc: operation without a kernel")
	}
}
