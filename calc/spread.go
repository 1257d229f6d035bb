package calc

// spreads differentiates a tape: it appends, to an extension of the tape, the
// operations that compute how far each input's spread moves each result.
// JCGM 100 (GUM) 5.1.2: u_c² = Σ (∂f/∂x_i · u_i)². Every seed is a whole
// spread, so the sums are spreads with the same coverage factor as the inputs.
//
// Derivatives are carried forward and sparse: a register has a term for each
// input that it depends on and that has a spread, and for no other. As they
// are operations like any other, they are planned, run in blocks and split
// over the cores by the same code as the values.
type spreads struct {
	*tape
	terms [][]term // by register of the original tape
}

// term is what one input's spread contributes to a register.
type term struct {
	input register // of the given or the looked-up cell
	part  register // ∂register/∂input × spread of the input
}

// differentiate appends derivatives to t, which must be an extension that
// nothing else uses. seeds gives the spread of
// each given and each looked-up cell that has one.
func differentiate(t *tape, seeds map[register]register, roots []register) *spreads {
	s := &spreads{tape: t, terms: make([][]term, len(t.ops))}
	if len(seeds) == 0 {
		return s
	}
	needed := t.needed(roots)
	for i := range s.terms { // the tape grows meanwhile; only its original part counts
		if needed[i] {
			t.at = t.marks[i]
			s.terms[i] = s.rule(register(i), seeds)
		}
	}
	return s
}

// spread appends the root of the sum of squares of a register's terms; none
// if no input with a spread reaches it.
func (s *spreads) spread(r register) register {
	if r == none || len(s.terms[r]) == 0 {
		return none
	}
	parts := make([]register, len(s.terms[r]))
	for i, t := range s.terms[r] {
		parts[i] = t.part
	}
	return s.norm(parts)
}

// rule is the derivative of one operation.
func (s *spreads) rule(r register, seeds map[register]register) []term {
	if seed, ok := seeds[r]; ok {
		if s.is(seed, 0) {
			return nil
		}
		return []term{{r, seed}}
	}
	o := s.ops[r]
	terms := func(r register) []term {
		if r == none {
			return nil
		}
		return s.terms[r]
	}
	a, b := terms(o.a), terms(o.b)
	same := func(d register) register { return d }
	minus := func(d register) register { return s.one(opNeg, d) }
	times := func(k register) func(register) register {
		return func(d register) register { return s.mul(k, d) }
	}
	switch o.code {
	case opAdd:
		return merge(a, b, same, same, func(da, db register) register { return s.binary(opAdd, da, db) })
	case opSub:
		return merge(a, b, same, minus, func(da, db register) register { return s.binary(opSub, da, db) })
	case opMul:
		return merge(a, b, times(o.b), times(o.a), func(da, db register) register {
			return s.add(op{code: opMulAdd, a: da, b: o.b, c: db, d: o.a})
		})
	case opDiv:
		if len(b) == 0 {
			return merge(a, nil, func(d register) register { return s.binary(opDiv, d, o.b) }, nil, nil)
		}
		// (da - q·db)/b, with 1/b computed once for all inputs.
		inverse := s.binary(opDiv, s.constant(1), o.b)
		back := s.one(opNeg, s.mul(r, inverse))
		return merge(a, b, times(inverse), times(back), func(da, db register) register {
			return s.tape.add(op{code: opMulAdd, a: da, b: inverse, c: db, d: back})
		})
	case opNeg:
		return merge(a, nil, minus, nil, nil)
	case opSquare, opPower, opUnary:
		if len(a) == 0 {
			return nil
		}
		return merge(a, nil, times(s.slope(r, o)), nil, nil)
	case opPow:
		return s.powTerms(r, o, a, b)
	case opMin, opMax:
		first := s.binary(opLessEq, o.a, o.b)
		if o.code == opMax {
			first = s.binary(opLessEq, o.b, o.a)
		}
		return s.either(first, a, b)
	case opSelect:
		return s.either(o.a, b, terms(o.c))
	case opCall:
		return s.callTerms(o)
	}
	return nil
}

// slope appends the derivative of an operation of one operand.
func (s *spreads) slope(r register, o op) register {
	switch o.code {
	case opSquare:
		return s.mul(s.constant(2), o.a)
	case opPower:
		return s.mul(s.constant(o.k), s.power(o.a, o.k-1))
	}
	return s.add(op{code: opSlope, a: o.a, b: r, c: none, d: none, more: o.more})
}

// powTerms differentiates a^b, whose exponent may vary too.
func (s *spreads) powTerms(r register, o op, a, b []term) []term {
	var byBase, byExponent register
	if len(a) > 0 {
		less := s.binary(opSub, o.b, s.constant(1))
		byBase = s.mul(o.b, s.binary(opPow, o.a, less))
	}
	if len(b) > 0 {
		byExponent = s.mul(r, s.unary(naturalLog, o.a))
	}
	return merge(a, b,
		func(d register) register { return s.mul(byBase, d) },
		func(d register) register { return s.mul(byExponent, d) },
		func(da, db register) register {
			return s.add(op{code: opMulAdd, a: da, b: byBase, c: db, d: byExponent})
		})
}

// either takes the terms of the branch that the condition takes.
func (s *spreads) either(cond register, a, b []term) []term {
	zero := s.constant(0)
	return merge(a, b,
		func(d register) register { return s.choose(cond, d, zero) },
		func(d register) register { return s.choose(cond, zero, d) },
		func(da, db register) register { return s.choose(cond, da, db) })
}

// callTerms adds up the contributions of a function's arguments.
func (s *spreads) callTerms(o op) []term {
	var sum []term
	for i, arg := range o.more.args {
		if len(s.terms[arg]) == 0 {
			continue
		}
		more := *o.more
		more.index = i
		partial := s.add(op{code: opPartial, a: none, b: none, c: none, d: none, more: &more})
		sum = merge(sum, s.terms[arg],
			func(d register) register { return d },
			func(d register) register { return s.mul(partial, d) },
			func(d, da register) register { return s.binary(opAdd, d, s.mul(partial, da)) })
	}
	return sum
}

// merge joins two lists of terms, both in the order of their inputs.
func merge(a, b []term, onlyA, onlyB func(register) register, both func(da, db register) register) []term {
	joined := make([]term, 0, max(len(a), len(b)))
	for len(a) > 0 || len(b) > 0 {
		switch {
		case len(b) == 0 || len(a) > 0 && a[0].input < b[0].input:
			joined = append(joined, term{a[0].input, onlyA(a[0].part)})
			a = a[1:]
		case len(a) == 0 || b[0].input < a[0].input:
			joined = append(joined, term{b[0].input, onlyB(b[0].part)})
			b = b[1:]
		default:
			joined = append(joined, term{a[0].input, both(a[0].part, b[0].part)})
			a, b = a[1:], b[1:]
		}
	}
	return joined
}
