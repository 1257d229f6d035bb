package root

import (
	"math"
	"testing"

	"rambook/calc/tape"
)

// onBlocks makes a function of one x search-able.
func onBlocks(left, right func(float64) float64) func(x, l, r []float64) {
	return func(x, l, r []float64) {
		for i := range x {
			l[i], r[i] = left(x[i]), right(x[i])
		}
	}
}

func constantly(v float64) func(float64) float64 { return func(float64) float64 { return v } }

func TestFindRoots(t *testing.T) {
	step := func(at, below, above float64) func(float64) float64 {
		return func(x float64) float64 {
			if x < at {
				return below
			}
			return above
		}
	}
	for _, test := range []struct {
		name    string
		left    func(float64) float64
		right   float64
		lo, hi  float64
		roots   []Root
		jumps   []float64
		loosely bool // known to the square root of the precision only
	}{
		{name: "line", left: func(x float64) float64 { return 3 * x }, right: 2, lo: 0, hi: 1,
			roots: []Root{{From: 2.0 / 3, To: 2.0 / 3}}},
		{name: "line at a grid point", left: func(x float64) float64 { return x }, right: 0.5, lo: 0, hi: 1,
			roots: []Root{{From: 0.5, To: 0.5}}},
		{name: "root at the start", left: func(x float64) float64 { return x }, right: 2, lo: 2, hi: 3,
			roots: []Root{{From: 2, To: 2}}},
		{name: "root at the end", left: func(x float64) float64 { return x * x }, right: 9, lo: 2, hi: 3,
			roots: []Root{{From: 3, To: 3}}},
		{name: "touch at the start", left: func(x float64) float64 { return (x - 2) * (x - 2) }, lo: 2, hi: 3,
			roots: []Root{{From: 2, To: 2, Touch: true}}},
		{name: "touch at the end", left: func(x float64) float64 { return math.Abs(x - 3) }, lo: 2, hi: 3,
			roots: []Root{{From: 3, To: 3, Touch: true}}},
		{name: "none", left: func(x float64) float64 { return x*x + 1 }, right: 0.999, lo: -2, hi: 2},
		{name: "never close", left: constantly(5), right: 4, lo: 0, hi: 1},
		{name: "parabola", left: func(x float64) float64 { return x * x }, right: 2, lo: -3, hi: 3,
			roots: []Root{{From: -math.Sqrt2, To: -math.Sqrt2}, {From: math.Sqrt2, To: math.Sqrt2}}},
		{name: "root at zero", left: math.Sin, right: 0, lo: -1, hi: 1.5, roots: []Root{{}}},
		{name: "small root of a wide range", left: func(x float64) float64 { return math.Log(x) },
			right: math.Log(1e-7), lo: 1e-9, hi: 1e9, roots: []Root{{From: 1e-7, To: 1e-7}}},
		{name: "negative decades", left: func(x float64) float64 { return math.Log(-x) }, right: math.Log(2e-4),
			lo: -1e5, hi: -1e-5, roots: []Root{{From: -2e-4, To: -2e-4}}},
		{name: "two close together", left: func(x float64) float64 { return (x - 1) * (x - 1.00002) }, lo: 0, hi: 2.3,
			roots: []Root{{From: 1, To: 1}, {From: 1.00002, To: 1.00002}}},
		{name: "two close, one on the grid", left: func(x float64) float64 { return (x - 1) * (x - 1.0001) }, lo: 0,
			hi: 2, roots: []Root{{From: 1, To: 1}, {From: 1.0001, To: 1.0001}}},
		{name: "three in a cell", left: func(x float64) float64 { return (x - 1) * (x - 1.00002) * (x - 1.00007) },
			lo: 0, hi: 2.3,
			roots: []Root{{From: 1, To: 1}, {From: 1.00002, To: 1.00002}, {From: 1.00007, To: 1.00007}}},
		{name: "touch", left: func(x float64) float64 { return (x - 0.7) * (x - 0.7) }, lo: 0, hi: 1,
			roots: []Root{{From: 0.7, To: 0.7, Touch: true}}},
		{name: "touch from below", left: func(x float64) float64 { return 4*x - x*x }, right: 4, lo: 0.1, hi: 5,
			roots: []Root{{From: 2, To: 2, Touch: true}}, loosely: true},
		{name: "touch in rounding", left: func(x float64) float64 { return x*x - 2*math.Pi*x + 100 },
			right: 100 - math.Pi*math.Pi, lo: 0.1, hi: 9, roots: []Root{{From: math.Pi, To: math.Pi, Touch: true}},
			loosely: true},
		{name: "touch at zero", left: math.Cos, right: 1, lo: -1, hi: 1.1, roots: []Root{{Touch: true}}, loosely: true},
		{name: "corner", left: func(x float64) float64 { return math.Abs(x - 0.3) }, lo: 0, hi: 1,
			roots: []Root{{From: 0.3, To: 0.3, Touch: true}}},
		{name: "near miss of a corner", left: func(x float64) float64 { return math.Abs(x-0.3) + 1e-9 }, lo: 0, hi: 1},
		{name: "near miss of a parabola", left: func(x float64) float64 { return (x-0.3)*(x-0.3) + 1e-13 }, lo: 0,
			hi: 1},
		{name: "near miss of a large value", left: func(x float64) float64 { return (x-0.3)*(x-0.3) + 1e6 },
			right: 1e6 - 1e-6, lo: 0, hi: 1},
		{name: "triple", left: func(x float64) float64 { return math.Pow(x-0.7, 3) }, lo: 0, hi: 1,
			roots: []Root{{From: 0.7, To: 0.7}}},
		{name: "cube root", left: func(x float64) float64 { return math.Cbrt(x - 0.7) }, lo: 0, hi: 1,
			roots: []Root{{From: 0.7, To: 0.7}}},
		{name: "jump", left: step(0.7, -1, 2), lo: 0, hi: 1, jumps: []float64{0.7}},
		{name: "small jump", left: func(x float64) float64 { return x + step(0.7, 0, 1e-6)(x) }, right: 0.7 + 5e-7,
			lo: 0, hi: 1, jumps: []float64{0.7}},
		{name: "jump onto the value", left: step(0.7, -1, 0), lo: 0, hi: 1,
			roots: []Root{{From: 0.7, To: 1, Touch: true}}},
		{name: "jump and root", left: func(x float64) float64 { return step(0.7, x-0.5, x-1.1)(x) }, lo: 0, hi: 2,
			roots: []Root{{From: 0.5, To: 0.5}, {From: 1.1, To: 1.1}}, jumps: []float64{0.7}},
		{name: "stairs", left: math.Floor, right: 2.5, lo: 0, hi: 5, jumps: []float64{3}},
		{name: "plateau", left: func(x float64) float64 { return math.Min(x, 3) }, right: 3, lo: 0, hi: 5,
			roots: []Root{{From: 3, To: 5, Touch: true}}},
		{name: "pole", left: func(x float64) float64 { return 1 / (x - 0.7) }, lo: 0, hi: 1},
		{name: "pole on the grid", left: func(x float64) float64 { return tape.Divide(1, x-0.5) }, lo: 0, hi: 1},
		{name: "tangents", left: math.Tan, right: 1, lo: 0.1, hi: 7,
			roots: []Root{{From: math.Pi / 4, To: math.Pi / 4}, {From: 5 * math.Pi / 4, To: 5 * math.Pi / 4}}},
		{name: "starts at its root", left: func(x float64) float64 { return math.Sqrt(x - 2) }, lo: 0, hi: 5,
			roots: []Root{{From: 2, To: 2}}},
		{name: "root beside the edge", left: func(x float64) float64 { return math.Sqrt(x-2) - 1e-4 }, lo: 0, hi: 5,
			roots: []Root{{From: 2 + 1e-8, To: 2 + 1e-8}}},
		{name: "nothing to compute", left: constantly(math.NaN()), lo: 0, hi: 1},
		{name: "gap inside a cell", left: func(x float64) float64 {
			if x > 0.70001 && x < 0.70002 {
				return math.NaN()
			}
			return step(0.7, -1, 1)(x) + x - 0.70001
		}, lo: 0, hi: 1, jumps: []float64{0.7}},
		{name: "many", left: func(x float64) float64 { return math.Sin(math.Pi * x) }, lo: 0.5, hi: 40.5,
			roots: wholes(1, 40)},
	} {
		t.Run(test.name, func(t *testing.T) {
			found := Find(test.lo, test.hi, onBlocks(test.left, constantly(test.right)))
			tolerance := 1e-10
			if test.loosely {
				tolerance = 1e-7
			}
			near := func(got, want float64) bool {
				return math.Abs(got-want) <= tolerance*math.Max(math.Abs(want), 1e-3)
			}
			if len(found.Roots) != len(test.roots) {
				t.Fatalf("found %v, want %v", found.Roots, test.roots)
			}
			for i, r := range found.Roots {
				if want := test.roots[i]; !near(r.From, want.From) || !near(r.To, want.To) || r.Touch != want.Touch {
					t.Errorf("root %d is %v, want %v", i, r, want)
				}
			}
			if len(found.Jumps) != len(test.jumps) {
				t.Fatalf("jumps at %v, want %v", found.Jumps, test.jumps)
			}
			for i, x := range found.Jumps {
				if !near(x, test.jumps[i]) {
					t.Errorf("jump at %v, want %v", x, test.jumps[i])
				}
			}
		})
	}
}

func wholes(from, to int) []Root {
	var list []Root
	for i := from; i <= to; i++ {
		list = append(list, Root{From: float64(i), To: float64(i)})
	}
	return list
}
