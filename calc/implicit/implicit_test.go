package implicit

import (
	"math"
	"sync"
	"testing"

	"rambook/calc/tape"
)

// circle is x² + y² = r², y = k·x for x, y > 0: x = r/√(1+k²).
func circle() *System {
	t := tape.New()
	x, y, r, k := t.Input(0), t.Input(0), t.Input(0), t.Input(0)
	sum := t.Binary(tape.OpAdd, t.Power(x, 2), t.Power(y, 2))
	return New(t, []tape.Register{x, y}, []tape.Register{r, k},
		[][2]tape.Register{{sum, t.Power(r, 2)}, {y, t.Mul(k, x)}}, []float64{0, 0}, []float64{100, 100})
}

// TestCircle holds two unknowns and their slopes to the closed form, over cases
// far apart and from several goroutines at once.
func TestCircle(t *testing.T) {
	s := circle()
	var wait sync.WaitGroup
	for worker := range 4 {
		wait.Go(func() {
			for i := range 500 {
				r, k := 1+float64(i%37)*2, 0.1+float64((i*7+worker)%23)/7
				got := s.Solve([]float64{r, k})
				x := r / math.Sqrt(1+k*k)
				if got.X == nil || len(got.Others) > 0 || math.Abs(got.X[0]-x) > 1e-11*r ||
					math.Abs(got.X[1]-k*x) > 1e-11*r {
					t.Errorf("r %v, k %v: got %v, others %v, expected %v", r, k, got.X, got.Others, x)
					return
				}
				byR, byK := 1/math.Sqrt(1+k*k), -r*k/math.Pow(1+k*k, 1.5)
				slopes := s.Slopes(got)[0]
				if math.Abs(slopes[0]-byR) > 1e-9 || math.Abs(slopes[1]-byK) > 1e-9*r {
					t.Errorf("r %v, k %v: slopes %v, expected %v and %v", r, k, slopes, byR, byK)
					return
				}
			}
		})
	}
	wait.Wait()
}

// cubic is x³ - 3x = c: three solutions for |c| < 2, one beyond.
func cubic() *System {
	t := tape.New()
	x, c := t.Input(0), t.Input(0)
	return New(t, []tape.Register{x}, []tape.Register{c},
		[][2]tape.Register{{t.Binary(tape.OpSub, t.Power(x, 3), t.Mul(t.Constant(3), x)), c}}, []float64{-4},
		[]float64{4})
}

// TestCubic tells one solution from three and from none.
func TestCubic(t *testing.T) {
	for _, test := range []struct {
		c      float64
		others int
		x      float64
	}{{10, 0, 2.6128878647}, {0, 2, math.NaN()}, {-1.5, 2, math.NaN()}, {60, -1, math.NaN()}, {-5, 0, -2.2790187862}} {
		got := cubic().Solve([]float64{test.c})
		switch {
		case test.others < 0:
			if got.X != nil || got.Best == nil || math.Abs(got.Best[0]-4) > 1e-6 {
				t.Errorf("c %v: got %v, nearest %v, expected none, nearest 4", test.c, got.X, got.Best)
			}
		case len(got.Others) != test.others || test.others == 0 && math.Abs(got.X[0]-test.x) > 1e-9:
			t.Errorf("c %v: got %v and %v, expected %v", test.c, got.X, got.Others, test.x)
		}
	}
	if got := cubic().Solve([]float64{tape.Missing}); got.X != nil {
		t.Errorf("an argument that is missing gives %v", got.X)
	}
}

// TestRemembered solves more cases than are kept: one that was solved lately is
// not solved again, and memory stays bounded.
func TestRemembered(t *testing.T) {
	s := circle()
	again := s.Solve([]float64{1, 1})
	if s.Solve([]float64{1, 1}) != again {
		t.Error("a case that is known is solved again")
	}
	for i := range 2 * remembered {
		s.Solve([]float64{1 + float64(i)/1000, 1})
	}
	if len(s.known) > remembered || len(s.order) != remembered {
		t.Errorf("%d solutions are kept, in a ring of %d; at most %d", len(s.known), len(s.order), remembered)
	}
}
