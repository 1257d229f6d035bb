package implicit

import (
	"math"
	"testing"

	"rambook/calc/tape"
)

// kepler is E - e·sin E = M: one solution for 0 < e < 1, the gap rises all the
// way (Kepler's equation).
func kepler() *System {
	sine := &tape.Callee{Name: "sin", Unary: math.Sin, Slope: func(x, y float64) float64 { return math.Cos(x) }}
	t := tape.New()
	x, e, m := t.Input(0), t.Input(0), t.Input(0)
	return New(t, []tape.Register{x}, []tape.Register{e, m},
		[][2]tape.Register{{t.Binary(tape.OpSub, x, t.Mul(e, t.Unary(sine, x))), m}}, []float64{0},
		[]float64{2 * math.Pi})
}

// TestMany holds blocks of cases to the equation itself, those that are bent so
// much that Newton's method leads away included, and beside what is missing.
func TestMany(t *testing.T) {
	s := kepler()
	for block := range 8 {
		args := [][]float64{make([]float64, tape.BlockSize), make([]float64, tape.BlockSize)}
		for i := range tape.BlockSize {
			args[0][i] = math.Mod(0.03+float64(i*31+block*7)/97, 0.999)
			args[1][i] = 2 * math.Pi * (float64(i) + 0.5) / tape.BlockSize
		}
		args[0][17], args[1][40] = tape.Missing, math.Inf(1)
		x := make([]float64, tape.BlockSize)
		s.Many(args, x)
		for i := range x {
			if i == 17 || i == 40 {
				continue // the tape takes care of what is missing
			}
			e, m := args[0][i], args[1][i]
			if off := x[i] - e*math.Sin(x[i]) - m; !(math.Abs(off) < 1e-14*(1+math.Abs(m))) {
				t.Errorf("block %d: e %v, M %v: got %v, off by %g", block, e, m, x[i], off)
			}
		}
	}
}

// TestBeyond finds no solution where the sides rise all the way and do not meet
// in the range, and says where they come closest.
func TestBeyond(t *testing.T) {
	for _, m := range []float64{-0.5, 7, 700} {
		got := kepler().Solve([]float64{0.3, m})
		if end := math.Min(math.Max(m, 0), 2*math.Pi); got.X != nil || math.Abs(got.Best[0]-end) > 1e-6 && m < 100 {
			t.Errorf("M %v: got %v, nearest %v", m, got.X, got.Best)
		}
		x := []float64{0, 0}
		if kepler().Many([][]float64{{0.3, 0.3}, {1, m}}, x); !tape.Usable(x[0]) || tape.Usable(x[1]) {
			t.Errorf("M 1 and %v: got %v", m, x)
		}
	}
}

// TestManyTellsTwo finds no value for the cases of a block that have several or none.
func TestManyTellsTwo(t *testing.T) {
	for _, cases := range [][]float64{{10, 0, -1.5, 60, -5}, {0, 10, 60}, {60, 10, -5}, {-5, 10, 3, 2.5, 1.9}} {
		x := make([]float64, len(cases))
		cubic().Many([][]float64{cases}, x)
		for i, c := range cases {
			one := math.Abs(c) > 2 && math.Abs(c) < 52
			if one != tape.Usable(x[i]) || one && math.Abs(x[i]*x[i]*x[i]-3*x[i]-c) > 1e-12*math.Abs(c) {
				t.Errorf("%v: case %d: got %v", cases, i, x[i])
			}
		}
	}
}

// TestNear: samples are solved like cases, and however many there are, the cases after
// them are looked over. Those had been spent on the samples of the first.
func TestNear(t *testing.T) {
	s := cubic()
	samples, x := make([]float64, tape.BlockSize), make([]float64, tape.BlockSize)
	for block := range 4 {
		for i := range samples {
			samples[i] = 10 + float64(block*tape.BlockSize+i)/1000
		}
		s.Near([][]float64{samples}, x)
		for i, c := range samples {
			if off := x[i]*x[i]*x[i] - 3*x[i] - c; !(math.Abs(off) < 1e-12*c) {
				t.Errorf("sample %v: got %v", c, x[i])
			}
		}
	}
	s.Many([][]float64{{10, 11, 1.5, 12}}, x[:4])
	for i, one := range []bool{true, true, false, true} {
		if tape.Usable(x[i]) != one {
			t.Errorf("case %d: got %v; has one solution: %v", i, x[i], one)
		}
	}
}
