package calc

import "math"

// kink is an operation with a corner, and the distance from it.
type kink struct {
	at       register // the operation
	distance register // 0 at the corner
	spread   register // of the distance
}

// kinks appends the distances of all corners that a value with a spread can
// reach. The operations of spreads and limits are not looked at.
func (s *spreads) kinks() []kink {
	var list []kink
	add := func(at, distance register, terms []term) {
		if len(terms) == 0 {
			return
		}
		parts := make([]register, len(terms))
		for i, t := range terms {
			parts[i] = t.part
		}
		list = append(list, kink{at, distance, s.norm(parts)})
	}
	for i := range s.terms {
		r, o := register(i), s.ops[i]
		switch o.code {
		case opMin, opMax, opLess, opLessEq:
			a, b := s.terms[o.a], s.terms[o.b]
			add(r, s.binary(opSub, o.a, o.b), merge(a, b,
				func(d register) register { return d },
				func(d register) register { return s.one(opNeg, d) },
				func(da, db register) register { return s.binary(opSub, da, db) }))
		case opUnary, opCall:
			if o.more.fn.corner == nil {
				continue
			}
			x := o.a
			if o.code == opCall {
				x = o.more.args[0]
			}
			add(r, x, s.terms[x])
		}
	}
	return list
}

// reach is the distance from a value to the corner.
func (k kink) reach(o *op, x float64) float64 {
	if o.code == opUnary || o.code == opCall {
		return o.more.fn.corner(x)
	}
	return math.Abs(x)
}
