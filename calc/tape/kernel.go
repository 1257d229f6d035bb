package tape

import "math"

// Arithmetic carries both on, so a block needs no further bookkeeping; what
// happened is found out afterwards, in the rare case that shows one of them.
var (
	Missing = math.Float64frombits(0x7FF8_0000_0000_0A11) // of an open quantity
	Failed  = math.Float64frombits(0x7FF8_0000_0000_0BAD) // of an operation that has no result
	Absent  = math.Float64frombits(0x7FF8_0000_0000_0A5A) // of an input that is nothing in this case
)

// IsAbsent reports whether an input is nothing in this case. A result is not asked, since
// the operations keep whichever value comes first.
func IsAbsent(x float64) bool { return math.Float64bits(x) == math.Float64bits(Absent) }

// IsMissing reports whether a value is open, as against in error.
func IsMissing(x float64) bool { return math.Float64bits(x) == math.Float64bits(Missing) }

// Usable reports whether x is a finite number.
func Usable(x float64) bool { return x-x == 0 }

// firstBad gives the first of two operands that is not a number, and Failed if
// both are numbers.
func firstBad(a, b float64) float64 {
	switch {
	case a != a:
		return a
	case b != b:
		return b
	}
	return Failed
}

// Divide is a/b that never hides a zero or infinite divisor.
func Divide(a, b float64) float64 {
	if b == 0 || !Usable(b) {
		return firstBad(a, b)
	}
	return a / b
}

// decide turns a comparison into 1 or 0, unless one side is no finite number.
func decide(a, b float64, holds bool) float64 {
	if !Usable(a) || !Usable(b) {
		return firstBad(a, b)
	}
	if holds {
		return 1
	}
	return 0
}

func lesser(a, b float64) float64 {
	if !Usable(a) || !Usable(b) {
		return firstBad(a, b)
	}
	return min(a, b)
}

func greater(a, b float64) float64 {
	if !Usable(a) || !Usable(b) {
		return firstBad(a, b)
	}
	return max(a, b)
}

// power is a^b that is never infinite and takes no root of a negative number.
func power(a, b float64) float64 {
	if !Usable(a) || !Usable(b) {
		return firstBad(a, b)
	}
	if y := math.Pow(a, b); Usable(y) {
		return y
	}
	return Failed
}

// both and either are settled by one operand that is false, or true, whatever
// the other one is, and be it missing or failed.
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
func (d *Details) lookUp(key float64) float64 {
	if key != key {
		return key
	}
	if i := int(key); i < len(d.Rows) && d.Rows[i] >= 0 {
		return d.Cells[d.Rows[i]]
	}
	return Failed
}

// apply computes a function of several arguments, or one of its derivatives,
// unless an argument is no finite number. d has room for the derivatives.
func (m *Details) apply(code Opcode, x, d []float64) float64 {
	for _, v := range x {
		if !Usable(v) {
			return firstBad(v, v)
		}
	}
	y := m.Fn.Eval(x)
	if code == opPartial {
		m.Fn.Slopes(x, y, d)
		return d[m.index]
	}
	if math.IsInf(y, 0) {
		return Failed
	}
	return y
}

// applyMany is apply of a function that takes many cases at once.
func (m *Details) applyMany(x [][]float64, out []float64, around bool) {
	y := make([]float64, len(out)) // since out may be where an argument stands
	many := m.Fn.Many
	if around && m.Fn.Near != nil {
		many = m.Fn.Near
	}
	many(x, y)
	for i := range y {
		if math.IsInf(y[i], 0) {
			y[i] = Failed
		}
		for _, arg := range x {
			if v := arg[i]; !Usable(v) {
				y[i] = firstBad(v, v)
				break
			}
		}
	}
	copy(out, y)
}

// folding is the memory in which operations on constants are computed.
type folding struct {
	values []float64
	kernel kernel
	extra  extra
	memory memory
}

// evaluate computes one operation from the values of its operands, given in
// the order of Operands.
func (t *Tape) evaluate(o *Op, x []float64) float64 {
	t.fold.kernel, t.fold.extra = kernel{code: o.Code, out: Register(len(x))}, extra{k: o.k, more: t.More(o)}
	k, own := &t.fold.kernel, &t.fold.extra
	next := Register(0)
	if own.more != nil {
		for range own.more.Args {
			own.args = append(own.args, next)
			next++
		}
	}
	for i, r := range [...]Register{o.A, o.B, o.C, o.D} {
		if r != None {
			*[...]*Register{&k.a, &k.b, &k.c, &k.d}[i] = next
			next++
		}
	}
	m := &t.fold.memory
	*m = memory{values: append(append(m.values[:0], x...), 0), size: 1}
	m.run(k, own, 1)
	return m.values[len(x)]
}

// kernel is an operation with the places of its result and its operands in the
// memory of a worker. Places are the same for all workers of a program. It holds no
// pointer, as an operation of a tape does not.
type kernel struct {
	out, a, b, c, d Register // numbers of blocks
	extra           int32    // the place of what it needs beside, 0 for nothing
	code            Opcode
}

// extra is what the rarer operations need.
type extra struct {
	k    float64
	more *Details
	args []Register // numbers of blocks
}

// memory is what operations work in: blocks of so many cases, one after another.
type memory struct {
	values []float64
	size   int
	around bool // see Program.Around

	x, partials []float64   // room for one case of a call
	args        [][]float64 // and for a block of one
}

// block is the first n cases of a block.
func (m *memory) block(number Register, n int) []float64 {
	at := int(number) * m.size
	return m.values[at : at+n : at+n]
}

// call makes room for one case of a call.
func (m *memory) call(args int) (x, partials []float64) {
	if len(m.x) < args {
		m.x, m.partials = make([]float64, args), make([]float64, args)
	}
	return m.x[:args], m.partials[:args]
}

// blocks are the first n cases of several blocks.
func (m *memory) blocks(numbers []Register, n int) [][]float64 {
	m.args = m.args[:0]
	for _, number := range numbers {
		m.args = append(m.args, m.block(number, n))
	}
	return m.args
}

// one computes a single case of an operation, if it is one of the commonest: where there
// is no second case, to cut blocks takes longer than to compute.
func (m *memory) one(k *kernel) bool {
	v, size, x := m.values, m.size, 0.0
	switch k.code {
	case OpAdd:
		x = v[int(k.a)*size] + v[int(k.b)*size]
	case OpSub:
		x = v[int(k.a)*size] - v[int(k.b)*size]
	case OpMul:
		x = v[int(k.a)*size] * v[int(k.b)*size]
	case opMulAdd:
		x = v[int(k.a)*size]*v[int(k.b)*size] + v[int(k.c)*size]*v[int(k.d)*size]
	case OpDiv:
		x = Divide(v[int(k.a)*size], v[int(k.b)*size])
	case OpNeg:
		x = 0 - v[int(k.a)*size]
	case opSquare:
		x = v[int(k.a)*size] * v[int(k.a)*size]
	default:
		return false
	}
	if x != x { // which of two operands that are no numbers comes through, the blocks settle
		return false
	}
	v[int(k.out)*size] = x
	return true
}

// run computes the first n cases of the block of an operation, with what it needs
// beside.
func (m *memory) run(k *kernel, with *extra, n int) {
	if n == 1 && m.one(k) {
		return
	}
	out := m.block(k.out, n)
	switch k.code {
	case opConst, OpInput:
		for i := range out {
			out[i] = with.k
		}
	case OpAdd:
		a, b := m.block(k.a, n), m.block(k.b, n)
		for i := range out {
			out[i] = a[i] + b[i]
		}
	case OpSub:
		a, b := m.block(k.a, n), m.block(k.b, n)
		for i := range out {
			out[i] = a[i] - b[i]
		}
	case OpMul:
		a, b := m.block(k.a, n), m.block(k.b, n)
		for i := range out {
			out[i] = a[i] * b[i]
		}
	case opMulAdd:
		a, b, c, d := m.block(k.a, n), m.block(k.b, n), m.block(k.c, n), m.block(k.d, n)
		for i := range out {
			out[i] = a[i]*b[i] + c[i]*d[i]
		}
	case OpDiv:
		a, b := m.block(k.a, n), m.block(k.b, n)
		for i := range out {
			x := b[i]
			q := a[i] / x
			if x == 0 || x-x != 0 {
				q = firstBad(a[i], x)
			}
			out[i] = q
		}
	case OpNeg:
		a := m.block(k.a, n)
		for i := range out {
			out[i] = 0 - a[i] // -a would turn the sign bit of Missing too
		}
	case opSquare:
		a := m.block(k.a, n)
		for i := range out {
			out[i] = a[i] * a[i]
		}
	case OpPower:
		a := m.block(k.a, n)
		if with.k == 3 {
			for i := range out {
				out[i] = a[i] * a[i] * a[i]
			}
			return
		}
		for i := range out {
			out[i] = power(a[i], with.k)
		}
	case OpSelect:
		a, b, c := m.block(k.a, n), m.block(k.b, n), m.block(k.c, n)
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
	case OpNot:
		a := m.block(k.a, n)
		for i := range out {
			out[i] = 1 - a[i]
		}
	case OpUnary:
		a, f := m.block(k.a, n), with.more.Fn.Unary
		for i := range out {
			x := a[i]
			if x == x { // not every function keeps Missing
				x = f(x)
			}
			out[i] = x
		}
	case opSlope:
		a, b, f := m.block(k.a, n), m.block(k.b, n), with.more.Fn.Slope
		for i := range out {
			out[i] = f(a[i], b[i])
		}
	case OpLookup:
		a := m.block(k.a, n)
		for i := range out {
			out[i] = with.more.lookUp(a[i])
		}
	case opNorm:
		norm(m.blocks(with.args, n), out)
	case OpCall, opPartial:
		args := m.blocks(with.args, n)
		if k.code == OpCall && with.more.Fn.Many != nil && n > 1 {
			with.more.applyMany(args, out, m.around)
			return
		}
		x, partials := m.call(len(args))
		for i := range out {
			for j, arg := range args {
				x[j] = arg[i]
			}
			out[i] = with.more.apply(k.code, x, partials)
		}
	default:
		pairwise(k.code, m.block(k.a, n), m.block(k.b, n), out)
	}
}

// norm adds squares and takes the root. Spreads are far from the range where
// squares overflow, so no scaling is done.
func norm(args [][]float64, out []float64) {
	first := args[0][:len(out)]
	for i := range out {
		out[i] = first[i] * first[i]
	}
	for _, arg := range args[1:] {
		arg = arg[:len(out)]
		for i := range out {
			out[i] += arg[i] * arg[i]
		}
	}
	for i := range out {
		out[i] = math.Sqrt(out[i])
	}
}

// pairwise runs the operations of two operands that are rarer in a model.
func pairwise(code Opcode, a, b, out []float64) {
	a, b = a[:len(out)], b[:len(out)]
	switch code {
	case OpMin:
		for i := range out {
			out[i] = lesser(a[i], b[i])
		}
	case OpMax:
		for i := range out {
			out[i] = greater(a[i], b[i])
		}
	case OpPow:
		for i := range out {
			out[i] = power(a[i], b[i])
		}
	case OpLess:
		for i := range out {
			out[i] = decide(a[i], b[i], a[i] < b[i])
		}
	case OpLessEq:
		for i := range out {
			out[i] = decide(a[i], b[i], a[i] <= b[i])
		}
	case OpEqual:
		for i := range out {
			out[i] = decide(a[i], b[i], a[i] == b[i])
		}
	case OpUnequal:
		for i := range out {
			out[i] = decide(a[i], b[i], a[i] != b[i])
		}
	case OpAlike:
		for i := range out {
			out[i] = 0
			if a[i] == b[i] {
				out[i] = 1
			}
		}
	case OpAnd:
		for i := range out {
			out[i] = both(a[i], b[i])
		}
	case OpOr:
		for i := range out {
			out[i] = either(a[i], b[i])
		}
	default:
		panic("tape: operation without a kernel")
	}
}
