package tape

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// slopeOf finds the derivative of a register by an input in a differentiated
// tape, 0 if there is no term of it. The seed of the input must be 1.
func (s *Spreads) slopeOf(values []float64, r, input Register) float64 {
	for _, term := range s.Terms[r] {
		if term.Input == input {
			return values[term.Part]
		}
	}
	return 0
}

// seedsOf gives each input a spread of 1, so that its terms are derivatives.
func seedsOf(t *Tape, inputs []Register) map[Register]Register {
	seeds := map[Register]Register{}
	for _, r := range inputs {
		seeds[r] = t.Constant(1)
	}
	return seeds
}

// arrangements are ways to feed three numbers to an operation: as they are,
// mixed so that its operands have inputs in common, all the same one, and one
// beside constants.
var arrangements = []func(t *Tape, x []Register) []Register{
	func(t *Tape, x []Register) []Register { return x },
	func(t *Tape, x []Register) []Register {
		return []Register{t.Mul(x[0], x[1]), t.Binary(OpAdd, x[1], x[2]), t.Binary(OpSub, x[2], x[0])}
	},
	func(t *Tape, x []Register) []Register { return []Register{x[1], x[1], x[1]} },
	func(t *Tape, x []Register) []Register { return []Register{x[0], t.Constant(1.5), t.Constant(0.25)} },
	func(t *Tape, x []Register) []Register { return []Register{t.Constant(1.5), x[0], t.Constant(0.25)} },
	func(t *Tape, x []Register) []Register { return []Register{t.Constant(1.5), t.Constant(0.25), x[0]} },
}

// TestDerivatives holds the derivatives of every operation against central
// differences, by each input and for each arrangement of its operands.
func TestDerivatives(t *testing.T) {
	points := [][3]float64{{1.3, 2.1, 0.7}, {2.1, 1.3, 4.2}, {-1.3, 2.1, -0.7}, {0.4, -2.5, 1.1}}
	flat := []string{"<", "<=", "==", "!=", "alike", "and", "or", "not", "look up"}
	// by differentiating, and not differentiated again
	made := []string{"norm of 3", "a*b + c*a", "slope of sqrt", "moment by y"}
	for _, op := range builders {
		if slices.Contains(made, op.name) {
			continue
		}
		compared := 0
		for k, arrange := range arrangements {
			for _, point := range points {
				tape := New()
				var inputs []Register
				for _, v := range point {
					inputs = append(inputs, tape.Input(v))
				}
				operands := slices.Clone(arrange(tape, inputs))
				switch op.name {
				case "?:":
					operands[0] = tape.Binary(OpLess, inputs[0], inputs[1])
				case "look up":
					operands[0] = tape.Input(1)
				}
				r := op.build(tape, operands)
				more := tape.Extend()
				s := Differentiate(more, seedsOf(more, inputs), []Register{r})
				values := s.Once(nil)
				if !Usable(values[r]) {
					continue
				}
				if slices.Contains(flat, op.name) {
					compared++
					if len(s.Terms[r]) > 0 {
						t.Errorf("%s has a derivative", op.name)
					}
					continue
				}
				for i, input := range inputs {
					const h = 1e-5
					above := tape.Once(map[Register]float64{input: point[i] + h})[r]
					below := tape.Once(map[Register]float64{input: point[i] - h})[r]
					want := (above - below) / (2 * h)
					if got := s.slopeOf(values, r, input); math.Abs(got-want) > 1e-7*(1+math.Abs(want)) {
						t.Errorf("%s at %v, arrangement %d: derivative by number %d is %v, want %v", op.name, point, k,
							i, got, want)
					}
					compared++
				}
			}
		}
		if compared < len(points) {
			t.Errorf("%s was compared %d times", op.name, compared)
		}
	}
}

// TestTermsAreSparse: there is a term for each input that a result depends on
// and that has a spread, and for no other.
func TestTermsAreSparse(t *testing.T) {
	tape := New()
	a, b, c := tape.Input(2), tape.Input(3), tape.Input(5)
	sum := tape.Binary(OpAdd, a, b)
	product := tape.Mul(sum, c)
	chosen := tape.Choose(tape.Binary(OpLess, c, a), b, sum)
	square := tape.Power(c, 2)
	t2 := tape.Extend()
	s := Differentiate(t2, map[Register]Register{a: t2.Constant(0.1), c: t2.Constant(0.2), b: t2.Constant(0)},
		[]Register{product, chosen, None})
	for _, test := range []struct {
		what string
		of   Register
		want []Register
	}{
		{"a given", a, []Register{a}},
		{"a given with the spread 0", b, nil},
		{"a sum", sum, []Register{a}},
		{"a product", product, []Register{a, c}},
		{"a choice, whose condition does not count", chosen, []Register{a}},
		{"what no root needs", square, nil},
	} {
		var got []Register
		for _, term := range s.Terms[test.of] {
			got = append(got, term.Input)
		}
		if !slices.Equal(got, test.want) {
			t.Errorf("%s has terms of %v, want %v", test.what, got, test.want)
		}
	}
	if r := s.Spread(b); r != None {
		t.Errorf("a given without a spread has one in register %d", r)
	}
	if r := s.Spread(None); r != None {
		t.Errorf("nothing has a spread in register %d", r)
	}
	values := s.Extend().Once(nil)
	if got := values[s.Terms[product][0].Part]; math.Abs(got-5*0.1) > 1e-15 {
		t.Errorf("the spread of a moves the product by %v, want 0.5", got)
	}
	if n := len(Differentiate(tape.Extend(), nil, []Register{product}).Ops); n != len(tape.Ops) {
		t.Errorf("without a spread %d operations were added", n-len(tape.Ops))
	}
}

// TestSpreadOfSharedInputs: an input that comes in twice counts once.
func TestSpreadOfSharedInputs(t *testing.T) {
	for _, test := range []struct {
		what  string
		build func(t *Tape, a, b Register) Register
		want  float64
	}{
		{"a + b", func(t *Tape, a, b Register) Register { return t.Binary(OpAdd, a, b) }, 0.5},
		{"a - b", func(t *Tape, a, b Register) Register { return t.Binary(OpSub, a, b) }, 0.5},
		{"a + a", func(t *Tape, a, b Register) Register { return t.Binary(OpAdd, a, a) }, 0.6},
		{"a - a", func(t *Tape, a, b Register) Register { return t.Binary(OpSub, a, a) }, 0},
		{"(a + b) - b", func(t *Tape, a, b Register) Register { return t.Binary(OpSub, t.Binary(OpAdd, a, b), b) },
			0.3},
		{"a/a", func(t *Tape, a, b Register) Register { return t.Binary(OpDiv, a, a) }, 0},
		{"-b", func(t *Tape, a, b Register) Register { return t.One(OpNeg, b) }, 0.4},
	} {
		tape := New()
		a, b := tape.Input(2), tape.Input(7)
		r := test.build(tape, a, b)
		more := tape.Extend()
		s := Differentiate(more, map[Register]Register{a: more.Constant(0.3), b: more.Constant(0.4)}, []Register{r})
		spread := s.Spread(r)
		if got := more.Once(nil)[spread]; math.Abs(got-test.want) > 1e-15 {
			t.Errorf("%s has the spread %v, want %v", test.what, got, test.want)
		}
	}
}

// complexOps are the operations that can be differentiated in numbers with a
// tiny imaginary part: it comes out as the derivative, without cancellation
// (complex-step derivative, Squire and Trapp 1998, from memory).
var complexOps = map[string]func(x []complex128) complex128{
	"+":        func(x []complex128) complex128 { return x[0] + x[1] },
	"-":        func(x []complex128) complex128 { return x[0] - x[1] },
	"*":        func(x []complex128) complex128 { return x[0] * x[1] },
	"/":        func(x []complex128) complex128 { return x[0] / x[1] },
	"negative": func(x []complex128) complex128 { return -x[0] },
	"^2":       func(x []complex128) complex128 { return x[0] * x[0] },
	"^3":       func(x []complex128) complex128 { return x[0] * x[0] * x[0] },
	"^-1":      func(x []complex128) complex128 { return 1 / x[0] },
	"^0.5":     func(x []complex128) complex128 { return cmplx.Sqrt(x[0]) },
	"^2.5":     func(x []complex128) complex128 { return x[0] * x[0] * cmplx.Sqrt(x[0]) },
	"^-2":      func(x []complex128) complex128 { return 1 / (x[0] * x[0]) },
	"^":        func(x []complex128) complex128 { return cmplx.Exp(x[1] * cmplx.Log(x[0])) },
	"sqrt":     func(x []complex128) complex128 { return cmplx.Sqrt(x[0]) },
	"ln":       func(x []complex128) complex128 { return cmplx.Log(x[0]) },
	"moment":   func(x []complex128) complex128 { return x[0]*x[1]*x[1] + x[2] },
	"quotient": func(x []complex128) complex128 { return x[0] / x[1] },
	"abs": func(x []complex128) complex128 {
		if real(x[0]) < 0 {
			return -x[0]
		}
		return x[0]
	},
	"min": func(x []complex128) complex128 {
		if real(x[0]) <= real(x[1]) {
			return x[0]
		}
		return x[1]
	},
	"max": func(x []complex128) complex128 {
		if real(x[0]) >= real(x[1]) {
			return x[0]
		}
		return x[1]
	},
}

// tiny is the imaginary part of an input: so small that its square is nothing.
const tiny = 1e-150

// TestDerivativesOfAnyTape holds the derivatives of long random tapes against
// those of complex numbers. Operations that leave the range in which rounding
// is small are passed over.
func TestDerivativesOfAnyTape(t *testing.T) {
	var smooth []int
	for k, op := range builders {
		if complexOps[op.name] != nil {
			smooth = append(smooth, k)
		}
	}
	if len(smooth) != len(complexOps) {
		t.Fatalf("%d of %d operations are known", len(smooth), len(complexOps))
	}
	rapid.Check(t, func(t *rapid.T) {
		tape := New()
		var made, inputs []Register
		var values [][]complex128 // of each result, by the input that has the imaginary part
		n := rapid.IntRange(1, 4).Draw(t, "inputs")
		for i := range n {
			v := rapid.Float64Range(0.5, 2).Draw(t, "input")
			inputs = append(inputs, tape.Input(v))
			x := make([]complex128, n)
			for k := range x {
				x[k] = complex(v, 0)
			}
			x[i] = complex(v, tiny)
			values = append(values, x)
		}
		made = slices.Clone(inputs)
		for range rapid.IntRange(1, 25).Draw(t, "operations") {
			op := builders[rapid.SampledFrom(smooth).Draw(t, "operation")]
			var operands []Register
			var from []int
			for range op.operands {
				k := len(made) - 1 - rapid.IntRange(0, min(len(made)-1, 5)).Draw(t, "operand")
				operands, from = append(operands, made[k]), append(from, k)
			}
			result := make([]complex128, n)
			inRange := true
			for i := range result {
				x := make([]complex128, len(from))
				for j, k := range from {
					x[j] = values[k][i]
				}
				y := complexOps[op.name](x)
				result[i] = y
				size := math.Abs(real(y))
				inRange = inRange && size > 1e-2 && size < 1e3 && math.Abs(imag(y)) < 1e3*tiny
				switch op.name {
				case "^0.5", "^2.5", "^", "sqrt", "ln":
					inRange = inRange && real(x[0]) > 0
				case "min", "max": // at the corner either side is right
					inRange = inRange && math.Abs(real(x[0])-real(x[1])) > 1e-6
				}
			}
			if !inRange {
				continue
			}
			made = append(made, op.build(tape, operands))
			values = append(values, result)
		}
		root, want := made[len(made)-1], values[len(made)-1]
		more := tape.Extend()
		seeds, total := map[Register]Register{}, 0.0
		for i, r := range inputs {
			seeds[r] = more.Constant(float64(i+1) / 8)
			total += math.Pow(imag(want[i])/tiny*float64(i+1)/8, 2)
		}
		s := Differentiate(more, seeds, []Register{root})
		spread := s.Spread(root)
		got := more.Once(nil)
		if math.Abs(got[root]-real(want[0])) > 1e-9*math.Abs(real(want[0])) {
			t.Fatalf("the value is %v, want %v", got[root], real(want[0]))
		}
		for i, input := range inputs {
			slope, exact := s.slopeOf(got, root, input)*8/float64(i+1), imag(want[i])/tiny
			if math.Abs(slope-exact) > 1e-6*(1+math.Abs(exact)) {
				t.Fatalf("the derivative by input %d is %v, want %v", i, slope, exact)
			}
		}
		if spread == None {
			if total > 0 {
				t.Fatalf("there is no spread, want %v", math.Sqrt(total))
			}
		} else if math.Abs(got[spread]-math.Sqrt(total)) > 1e-6*(1+math.Sqrt(total)) {
			t.Fatalf("the spread is %v, want %v", got[spread], math.Sqrt(total))
		}
	})
}

// TestKinks gives operations with a corner, the distance from it, and the
// spread of that distance.
func TestKinks(t *testing.T) {
	stairs := &Callee{Name: "stairs", Eval: func(x []float64) float64 { return math.Floor(x[0]) * x[1] },
		Slopes: func(x []float64, _ float64, d []float64) { d[0], d[1] = 0, math.Floor(x[0]) },
		Corner: func(x float64) float64 { return math.Abs(x - math.Round(x)) }}
	const a, b = 2.25, 7.5 // with the spreads 0.3 and 0.4
	for _, test := range []struct {
		what          string
		build         func(t *Tape, a, b, bare Register) Register
		reach, spread float64 // NaN where no corner is expected
	}{
		{"min(a, b)", func(t *Tape, a, b, bare Register) Register { return t.Binary(OpMin, a, b) }, b - a, 0.5},
		{"max(b, a)", func(t *Tape, a, b, bare Register) Register { return t.Binary(OpMax, b, a) }, b - a, 0.5},
		{"a < bare", func(t *Tape, a, b, bare Register) Register { return t.Binary(OpLess, a, bare) }, a - 1, 0.3},
		{"bare <= b", func(t *Tape, a, b, bare Register) Register { return t.Binary(OpLessEq, bare, b) }, b - 1, 0.4},
		{"min(a, a + b)", func(t *Tape, a, b, bare Register) Register {
			return t.Binary(OpMin, a,
				t.Binary(OpAdd, a, b))
		}, b, 0.4},
		{"abs(-a)", func(t *Tape, a, b, bare Register) Register { return t.Unary(Absolute, t.One(OpNeg, a)) }, a, 0.3},
		{"stairs(a, b)", func(t *Tape, a, b, bare Register) Register { return t.Call(stairs, []Register{a, b}) }, 0.25,
			0.3},
		{"stairs(bare, b)", func(t *Tape, a, b, bare Register) Register { return t.Call(stairs, []Register{bare, b}) },
			math.NaN(), 0},
		{"min(bare, 3)", func(t *Tape, a, b, bare Register) Register { return t.Binary(OpMin, bare, t.Constant(3)) },
			math.NaN(), 0},
		{"sqrt(a)", func(t *Tape, a, b, bare Register) Register { return t.Unary(SquareRoot, a) }, math.NaN(), 0},
		{"a == b", func(t *Tape, a, b, bare Register) Register { return t.Binary(OpEqual, a, b) }, b - a, 0.5},
		{"a + b", func(t *Tape, a, b, bare Register) Register { return t.Binary(OpAdd, a, b) }, math.NaN(), 0},
	} {
		tape := New()
		ra, rb, bare := tape.Input(a), tape.Input(b), tape.Input(1)
		r := test.build(tape, ra, rb, bare)
		more := tape.Extend()
		s := Differentiate(more, map[Register]Register{ra: more.Constant(0.3), rb: more.Constant(0.4)}, []Register{r})
		kinks := s.Kinks()
		if math.IsNaN(test.reach) {
			if len(kinks) > 0 {
				t.Errorf("%s has a corner", test.what)
			}
			continue
		}
		if len(kinks) != 1 || kinks[0].At != r {
			t.Errorf("%s has the corners %v, want one at register %d", test.what, kinks, r)
			continue
		}
		values := more.Once(nil)
		if got := kinks[0].Reach(more, values[kinks[0].Distance]); math.Abs(got-test.reach) > 1e-12 {
			t.Errorf("%s is %v from its corner, want %v", test.what, got, test.reach)
		}
		if got := values[kinks[0].Spread]; math.Abs(got-test.spread) > 1e-12 {
			t.Errorf("%s: the spread of the distance is %v, want %v", test.what, got, test.spread)
		}
	}
}
