package tape

import "math"

// Kink is an operation with a corner, and the distance from it.
type Kink struct {
	At       Register // the operation
	Distance Register // 0 at the corner
	Spread   Register // of the distance
}

// Kinks appends the distances of all corners that a value with a spread can
// reach. The operations of spreads and limits are not looked at.
func (s *Spreads) Kinks() []Kink {
	var list []Kink
	add := func(at, distance Register, terms []term) {
		if len(terms) == 0 {
			return
		}
		parts := make([]Register, len(terms))
		for i, t := range terms {
			parts[i] = t.Part
		}
		list = append(list, Kink{at, distance, s.Norm(parts)})
	}
	for i := range s.Terms {
		r, o := Register(i), s.Ops[i]
		switch o.Code {
		case OpMin, OpMax, OpLess, OpLessEq, OpEqual, OpUnequal: // two numbers are equal at their corner only
			a, b := s.Terms[o.A], s.Terms[o.B]
			add(r, s.Binary(OpSub, o.A, o.B), s.merge(a, b,
				func(d Register) Register { return d },
				func(d Register) Register { return s.One(OpNeg, d) },
				func(da, db Register) Register { return s.Binary(OpSub, da, db) }))
		case OpUnary, OpCall:
			if s.More(&o).Fn.Corner == nil {
				continue
			}
			x := o.A
			if o.Code == OpCall {
				x = s.More(&o).Args[0]
			}
			add(r, x, s.Terms[x])
		}
	}
	return list
}

// Reach is the distance from a value to the corner.
func (k Kink) Reach(t *Tape, x float64) float64 {
	if o := &t.Ops[k.At]; o.Code == OpUnary || o.Code == OpCall {
		return t.More(o).Fn.Corner(x)
	}
	return math.Abs(x)
}
