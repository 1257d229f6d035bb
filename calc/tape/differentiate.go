package tape

import (
	"math/bits"
	"slices"
)

// Spreads differentiates a tape: it appends, to an extension of the tape, the
// operations that compute how far each input's spread moves each result.
// JCGM 100 (GUM) 5.1.2: u_c² = Σ (∂f/∂x_i · u_i)². Every seed is a whole
// spread, so the sums are spreads with the same coverage factor as the inputs.
//
// Derivatives are carried forward and sparse: a register has a term for each
// input that it depends on and that has a spread, and for no other. As they
// are operations like any other, they are planned, run in blocks and split
// over the cores by the same code as the values.
type Spreads struct {
	*Tape
	Terms [][]term // by register of the original tape
	room  []term   // for the next of them
}

// term is what one input's spread contributes to a register.
type term struct {
	Input Register // of the given or the looked-up cell
	Part  Register // ∂register/∂input × spread of the input
}

// Differentiate appends derivatives to t, which must be an extension that
// nothing else uses. seeds gives the spread of each given and each looked-up
// cell that has one.
func Differentiate(t *Tape, seeds map[Register]Register, roots []Register) *Spreads {
	s := &Spreads{Tape: t, Terms: make([][]term, len(t.Ops))}
	if len(seeds) == 0 {
		return s
	}
	needed := t.Needed(roots)
	spreads := slices.Repeat([]Register{None}, len(t.Ops))
	for r, spread := range seeds {
		spreads[r] = spread
	}
	s.makeRoom(needed, spreads, len(seeds), len(roots))
	for i := range s.Terms { // the tape grows meanwhile; only its original part counts
		if needed[i] {
			t.At = t.Marks[i]
			s.Terms[i] = s.rule(Register(i), spreads[i])
		}
	}
	return s
}

// mostSeeds is up to how many inputs it is worth to count terms beforehand.
const mostSeeds = 1024

// makeRoom makes room for what there will be: mostly ten times as many operations
// as there are, so that to grow by and by takes as much memory again. An operation
// has a term at most for each input that it depends on.
func (s *Spreads) makeRoom(needed []bool, spreads []Register, seeds, roots int) {
	if seeds > mostSeeds {
		return
	}
	words := (seeds + 63) / 64
	sets := make([]uint64, words*len(spreads)) // of the inputs that each register depends on
	number, terms, more := 0, 0, roots
	var operands []Register
	for i, spread := range spreads {
		set := sets[words*i:][:words]
		switch {
		case !needed[i]:
			continue
		case spread != None:
			set[number/64] |= 1 << (number % 64)
			number++
		default:
			operands = s.Operands(&s.Ops[i], operands[:0])
			for _, r := range operands {
				for w, bits := range sets[words*int(r):][:words] {
					set[w] |= bits
				}
			}
		}
		own := 0
		for _, w := range set {
			own += bits.OnesCount64(w)
		}
		terms += own
		switch o := &s.Ops[i]; {
		case spread != None:
		case o.Code == OpAdd: // of what only one side depends on the derivative is there
			for w := range set {
				more += bits.OnesCount64(sets[words*int(o.A)+w] & sets[words*int(o.B)+w])
			}
		case o.Code == OpMul:
			more += own
		case o.Code == OpDiv || o.Code == OpPow: // and what all terms are multiplied with
			more += own + 3
		default: // and the slope of a function
			more += own + 1
		}
	}
	s.Reserve(more)
	s.room = make([]term, 0, terms)
}

// Spread appends the root of the sum of squares of a register's terms; None
// if no input with a spread reaches it.
//
//go:noinline
func (s *Spreads) Spread(r Register) Register {
	if r == None || len(s.Terms[r]) == 0 {
		return None
	}
	return s.Joint(s.Terms[r])
}

// Joint appends the length of what inputs contribute to a result: the root of
// the sum of squares of contributions that are independent of each other.
func (s *Spreads) Joint(terms []term) Register {
	parts := make([]Register, len(terms))
	for i, t := range s.Independent(terms) {
		parts[i] = t.Part
	}
	return s.Norm(parts)
}

// Independent appends contributions that are independent of each other to those
// of inputs whose errors are correlated: Lᵀ·parts, with L·Lᵀ the correlations,
// so that their squares add up to Σ Σ p_i r_ij p_j (JCGM 100, 5.2.2). Each
// stands in the place of an input; without correlations nothing changes.
func (s *Spreads) Independent(terms []term) []term {
	inputs := make([]Register, len(terms))
	for i, t := range terms {
		inputs[i] = t.Input
	}
	l, _ := s.Ties.Root(inputs)
	if l == nil {
		return terms
	}
	own := make([]term, len(terms))
	for k := range terms {
		sum := s.Mul(s.Constant(l.At(k, k)), terms[k].Part)
		for i := k + 1; i < len(terms); i++ {
			if x := l.At(i, k); x != 0 {
				sum = s.Binary(OpAdd, sum, s.Mul(s.Constant(x), terms[i].Part))
			}
		}
		own[k] = term{terms[k].Input, sum}
	}
	return own
}

// rule is the derivative of one operation, of which spread is the spread if it is an
// input that has one, else None.
func (s *Spreads) rule(r, spread Register) []term {
	if spread != None {
		if s.Is(spread, 0) {
			return nil
		}
		return []term{{r, spread}}
	}
	o := s.Ops[r]
	terms := func(r Register) []term {
		if r == None {
			return nil
		}
		return s.Terms[r]
	}
	a, b := terms(o.A), terms(o.B)
	same := func(d Register) Register { return d }
	minus := func(d Register) Register { return s.One(OpNeg, d) }
	times := func(k Register) func(Register) Register {
		return func(d Register) Register { return s.Mul(k, d) }
	}
	switch o.Code {
	case OpAdd:
		return s.merge(a, b, same, same, func(da, db Register) Register { return s.Binary(OpAdd, da, db) })
	case OpSub:
		return s.merge(a, b, same, minus, func(da, db Register) Register { return s.Binary(OpSub, da, db) })
	case OpMul:
		return s.merge(a, b, times(o.B), times(o.A), func(da, db Register) Register {
			return s.Add(Op{Code: opMulAdd}, da, o.B, db, o.A)
		})
	case OpDiv:
		if len(b) == 0 {
			return s.merge(a, nil, func(d Register) Register { return s.Binary(OpDiv, d, o.B) }, nil, nil)
		}
		// (da - q·db)/b, with 1/b computed once for all inputs.
		inverse := s.Binary(OpDiv, s.Constant(1), o.B)
		back := s.One(OpNeg, s.Mul(r, inverse))
		return s.merge(a, b, times(inverse), times(back), func(da, db Register) Register {
			return s.Add(Op{Code: opMulAdd}, da, inverse, db, back)
		})
	case OpNeg:
		return s.merge(a, nil, minus, nil, nil)
	case opSquare, OpPower, OpUnary:
		if len(a) == 0 || o.Code == OpPower && o.k == 0 {
			return nil // a to the power 0 is 1 whatever a is, where the rule has 0 · 1/0
		}
		return s.merge(a, nil, times(s.slope(r, o)), nil, nil)
	case OpPow:
		return s.powTerms(r, o, a, b)
	case OpMin, OpMax:
		first := s.Binary(OpLessEq, o.A, o.B)
		if o.Code == OpMax {
			first = s.Binary(OpLessEq, o.B, o.A)
		}
		return s.either(first, a, b)
	case OpSelect:
		return s.either(o.A, b, terms(o.C))
	case OpCall:
		return s.callTerms(o)
	}
	return nil
}

// slope appends the derivative of an operation of one operand.
func (s *Spreads) slope(r Register, o Op) Register {
	switch o.Code {
	case opSquare:
		return s.Mul(s.Constant(2), o.A)
	case OpPower:
		return s.Mul(s.Constant(o.k), s.Power(o.A, o.k-1))
	}
	return s.Add(Op{Code: opSlope, more: o.more}, o.A, r)
}

// powTerms differentiates a^b, whose exponent may vary too.
func (s *Spreads) powTerms(r Register, o Op, a, b []term) []term {
	var byBase, byExponent Register
	if s.Is(o.B, 0) {
		return nil // as of a literal exponent 0
	}
	if len(a) > 0 {
		less := s.Binary(OpSub, o.B, s.Constant(1))
		byBase = s.Mul(o.B, s.Binary(OpPow, o.A, less))
	}
	if len(b) > 0 {
		byExponent = s.Mul(r, s.Unary(NaturalLog, o.A))
	}
	return s.merge(a, b,
		func(d Register) Register { return s.Mul(byBase, d) },
		func(d Register) Register { return s.Mul(byExponent, d) },
		func(da, db Register) Register {
			return s.Add(Op{Code: opMulAdd}, da, byBase, db, byExponent)
		})
}

// either takes the terms of the branch that the condition takes.
func (s *Spreads) either(cond Register, a, b []term) []term {
	zero := s.Constant(0)
	return s.merge(a, b,
		func(d Register) Register { return s.Choose(cond, d, zero) },
		func(d Register) Register { return s.Choose(cond, zero, d) },
		func(da, db Register) Register { return s.Choose(cond, da, db) })
}

// callTerms adds up the contributions of a function's arguments.
func (s *Spreads) callTerms(o Op) []term {
	var sum []term
	call := s.More(&o)
	for i, arg := range call.Args {
		if len(s.Terms[arg]) == 0 {
			continue
		}
		one := *call
		one.index = i
		partial := s.detailed(opPartial, &one)
		sum = s.merge(sum, s.Terms[arg],
			func(d Register) Register { return d },
			func(d Register) Register { return s.Mul(partial, d) },
			func(d, da Register) Register { return s.Binary(OpAdd, d, s.Mul(partial, da)) })
	}
	return sum
}

// merge joins two lists of terms, both in the order of their inputs.
func (s *Spreads) merge(a, b []term, onlyA, onlyB func(Register) Register, both func(da, db Register) Register) []term {
	if n := len(a) + len(b); cap(s.room)-len(s.room) < n {
		s.room = make([]term, 0, max(n, BlockSize))
	}
	joined := s.room[len(s.room):]
	for len(a) > 0 || len(b) > 0 {
		switch {
		case len(b) == 0 || len(a) > 0 && a[0].Input < b[0].Input:
			joined = append(joined, term{a[0].Input, onlyA(a[0].Part)})
			a = a[1:]
		case len(a) == 0 || b[0].Input < a[0].Input:
			joined = append(joined, term{b[0].Input, onlyB(b[0].Part)})
			b = b[1:]
		default:
			joined = append(joined, term{a[0].Input, both(a[0].Part, b[0].Part)})
			a, b = a[1:], b[1:]
		}
	}
	s.room = s.room[:len(s.room)+len(joined)]
	return slices.Clip(joined)
}
